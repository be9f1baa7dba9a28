"""Inspection as people meet it: what is said of the sample, the sheets on paper, forms, and what was found."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import numpy as np
import pdfplumber
import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.core.model.planting import CHECKS, Inspecting
from layoutdesk.core.planting.sampling import SamplePlan, printed_plan
from layoutdesk.formats.reading.field_forms import read_form
from layoutdesk.session.field_forms import (
    inspection_form,
    planted_form,
    vines_to_inspect,
    write_form,
)
from layoutdesk.session.form_merging import merge_forms
from layoutdesk.session.inspection_lines import (
    checked_lot_lines,
    checked_row_lines,
    inspection_sentences,
    rework_lines,
    sampling_text,
)
from layoutdesk.session.inspection_sheets import (
    NOTHING,
    inspection_set,
    write_inspection_sheets,
)
from layoutdesk.session.planted import PlantingCounter, PlantingRequest
from layoutdesk.session.recording import with_checked, with_planted, with_reworked
from tests.session.planted_cases import DAY, LATER, PLANS, PROJECT, SAID, TODAY, WHEN, code

CONTAINER, FIRM = (1 << list(CHECKS).index(item) for item in ("container_off", "firm"))
ALL = np.arange(sum(p.n_vines for p in PLANS))


def asked(project=PROJECT, **inspecting):
    """The site with other wishes of its inspection."""
    planting = replace(project.planting, inspecting=Inspecting(**inspecting))
    return replace(project, planting=planting)


def answer_of(project, plans=PLANS):
    return PlantingCounter().answer(PlantingRequest(1, project, plans, TODAY))


@pytest.fixture(scope="module")
def planted():
    """Lots 27-A and 27-B are planted, and 27-C is to come."""
    answer = answer_of(PROJECT)
    lots = answer.assigned.lot
    return with_planted(PROJECT, PLANS, np.flatnonzero((lots == 0) | (lots == 1)), DAY, **SAID)


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def test_the_sample_is_told_with_what_the_printed_table_takes():
    text = plain(
        sampling_text("A", SamplePlan(1240, 58, 0, 5.0, 95.06), printed_plan(1240, 4.0), 95)
    )
    assert "Look at 58 of 1 240 vines of lot A and accept none that is faulty" in text
    assert "found out with a chance of 95.1 %" in text
    assert "takes 125 and accepts up to 10 faulty vines" in text


def test_a_number_that_accepts_too_much_is_told():
    text = plain(sampling_text("A", SamplePlan(40, 40, 2, 5.0, 0.0), None, 95.0))
    assert "5 % of it are only 2, and 2 faulty are accepted" in text
    assert "found out" not in text


def test_before_anything_is_recorded_lots_wait_to_be_looked_at():
    answer = answer_of(PROJECT)
    lines = checked_lot_lines(answer)
    assert [(n.name, n.faulty, n.flag) for n in lines] == [
        ("27-A", "0", ""), ("27-B", "0", ""), ("27-C", "0", ""), ("no lot said", "0", ""),
    ][: len(lines)]  # fmt: skip
    sizes = [plan.size for plan in answer.sample.plans]
    assert [line.verdict for line in lines] == [f"{n} more to look at" for n in sizes]
    assert checked_row_lines(answer) == rework_lines(answer) == ()


def test_a_sample_that_is_all_right_is_accepted_and_half_of_it_is_not(planted):
    vines = answer_of(planted).sample
    mine = vines.vines[vines.lot == 0]
    half = with_checked(planted, PLANS, mine[: len(mine) // 2], 0, LATER, **SAID)
    line = checked_lot_lines(answer_of(half))[0]
    assert line.size == f"{len(mine) // 2} of {len(mine)}"
    assert line.verdict == f"{len(mine) - len(mine) // 2} more to look at"
    line = checked_lot_lines(answer_of(with_checked(planted, PLANS, mine, 0, LATER, **SAID)))[0]
    assert (line.size, line.verdict, line.flag) == (str(len(mine)), "accepted", "")
    assert line.bounds.startswith("0.0–")


def test_faults_refuse_a_lot_until_all_of_it_was_gone_over(planted):
    sample = answer_of(planted).sample
    mine = sample.vines[sample.lot == 0]
    faults = np.zeros(len(mine), int)
    faults[:2] = CONTAINER, CONTAINER | FIRM
    found = answer_of(with_checked(planted, PLANS, mine, faults, LATER, **SAID))
    line = checked_lot_lines(found)[0]
    assert (line.faulty, line.verdict, line.flag) == (
        "2",
        "not accepted: go over all of it",
        "wrong",
    )
    assert "container off 2" in line.told
    assert "firm in the soil 1" in line.told
    rows = rework_lines(found)
    named = [r for r in rows if r.places]
    told = " ".join(r.told for r in named)
    for v in mine[:2]:
        assert code(v) in told
        assert any(code(v).startswith(r.row) for r in named)
    assert len(rows) > len(named)
    assert any("Go over every vine of lot 27-A" in s for s in inspection_sentences(found))


def test_what_was_put_right_is_looked_at_again(planted):
    sample = answer_of(planted).sample
    mine = sample.vines[sample.lot == 0][:3]
    wrong = with_checked(planted, PLANS, mine, np.array([FIRM, FIRM, 0]), LATER, **SAID)
    assert vines_to_inspect(answer_of(wrong), "again").tolist() == mine[:2].tolist()
    righted = with_reworked(wrong, PLANS, mine[:1], LATER, **SAID)
    answer = answer_of(righted)
    assert vines_to_inspect(answer, "again").tolist() == mine[:2].tolist()
    said = " ".join(map(plain, inspection_sentences(answer)))
    assert "1 vine to put right." in said
    assert "1 vine was put right and waits to be looked at again." in said
    done = with_checked(righted, PLANS, mine[:1], 0, TODAY, **SAID)
    assert vines_to_inspect(answer_of(done), "again").tolist() == mine[1:2].tolist()


# sheets


def page_texts(tmp_path, answer, **more):
    path = tmp_path / "inspection.pdf"
    count = write_inspection_sheets(path, answer, day=DAY, **more)
    with pdfplumber.open(path) as pdf:
        assert len(pdf.pages) == count
        return [(page.extract_text(), page.rects + page.curves) for page in pdf.pages]


def test_every_vine_of_the_sample_stands_once_with_a_box_for_every_check(tmp_path):
    answer = answer_of(asked(tolerated_pct=8.0, inspectors=3))
    pages = page_texts(tmp_path, answer)
    row, seen, boxes = "", [], 0
    for text, shapes in pages:
        for line in text.splitlines():
            found = re.match(r"(?:(.+-R\d{3}[A-Z]) )?(V\d{3}) (27-[ABC]|no lot said)", line)
            if found:
                row = found[1] or row
                seen.append((f"{row}-{found[2]}", found[3]))
        boxes += sum(abs(s["width"] - s["height"]) < 0.01 and 9 < s["width"] < 12 for s in shapes)
    lots = [*answer.sample.lots]
    wanted = {
        code(v): lots[k] or "no lot said"
        for v, k in zip(answer.sample.vines.tolist(), answer.sample.lot.tolist(), strict=True)
    }
    assert len(seen) == len(wanted)
    assert dict(seen) == wanted
    assert boxes == len(seen) * (len(CHECKS) + 1)
    heads = {re.search(r"Inspection sheet (\d) of 3", text)[1] for text, _ in pages}
    assert heads == {"1", "2", "3"}


def test_a_sheet_says_the_band_of_the_graft_union_and_what_is_accepted(tmp_path):
    answer = answer_of(asked(accept=1))
    text = plain("\n".join(t for t, _ in page_texts(tmp_path, answer)))
    assert "Graft union 5.5 to 8 cm (2¼ to 3¼ in) above the soil" in text
    assert "Accepted in each lot's sample: 1 faulty vine." in text
    assert "MIL-STD-105E (1989)" in text
    assert "Signature" in text
    in_feet = plain("\n".join(t for t, _ in page_texts(tmp_path, answer, unit="ft")))
    assert "2¼ to 3¼ in (5.5 to 8 cm)" in in_feet


def test_the_sheet_to_inspect_again_says_what_was_wrong(planted):
    sample = answer_of(planted).sample
    mine = sample.vines[sample.lot == 0][:2]
    wrong = with_checked(planted, PLANS, mine, np.array([FIRM, 0]), LATER, **SAID)
    (sheet,) = inspection_set(answer_of(wrong), which="again").sheets
    assert [(f"{v.row}-{v.vine}", v.known) for v in sheet.vines] == [
        (code(mine[0]), "was not right: firm in the soil")
    ]
    known = {f"{v.row}-{v.vine}": v.known for s in inspection_set(answer_of(wrong)).sheets for v in s.vines}  # fmt: skip
    assert known[code(mine[1])] == "looked at, 2 May 2027"
    late = sample.vines[sample.lot == 2][0]
    assert known[code(late)] == "not planted on record"


def test_with_nothing_to_look_at_the_sheet_says_why(tmp_path):
    ((text, _),) = page_texts(tmp_path, answer_of(PROJECT), which="again")
    assert NOTHING["again"] in text
    bare = replace(PROJECT, blocks=(), planting=None)
    ((text, _),) = page_texts(tmp_path, answer_of(bare, plans=()))
    assert "There are no vines to inspect yet" in text


# forms


def test_forms_hold_the_sample_in_the_order_of_the_sheets():
    answer = answer_of(asked(inspectors=2))
    lines = inspection_form(answer)
    found = [f"{v.row}-{v.vine}" for s in inspection_set(answer).sheets for v in s.vines]
    numbers, letters = lines.number.tolist(), lines.letter.tolist()
    assert len(lines) == len(found) == len(answer.sample)
    for k, told in enumerate(found):
        s = int(lines.segment[k])
        number = f"{lines.block[s]}-R{numbers[s]:03d}{chr(65 + letters[s])}-V{lines.index[k]:03d}"
        assert number == told
    assert lines.people == ("Inspector 1", "Inspector 2")
    assert (np.diff(lines.person) >= 0).all()


def test_rows_are_walked_up_and_down_by_turns():
    lines = planted_form(answer_of(PROJECT), ALL[: PLANS[0].n_vines])
    numbers = lines.number[lines.segment]
    ways = [np.sign(np.diff(lines.index[numbers == n])).sum() > 0 for n in np.unique(numbers)]
    assert ways == [k % 2 == 0 for k in range(len(ways))]
    assert (np.diff(numbers) >= 0).all()


@pytest.mark.parametrize("ending", ["csv", "gpkg"])
def test_a_written_form_names_its_vines_at_their_places(tmp_path, ending):
    answer = answer_of(PROJECT)
    path = tmp_path / f"form.{ending}"
    when = datetime.datetime.fromisoformat(WHEN)
    assert write_form(path, inspection_form(answer), "inspection", when) == len(answer.sample)
    assert write_form(path, inspection_form(answer), "inspection", when) == len(answer.sample)
    found = read_form(path)
    assert set(found.code) == {code(v) for v in answer.sample.vines}
    # The same places by which another revision of the plan is recognised.
    other = replace(PROJECT, name="Slope again")
    merged = merge_forms(other, PLANS, [path], by="Mara", when=WHEN, today=TODAY)
    assert {line.outcome for line in merged.lines if line.line} == {"empty"}


def test_a_form_goes_out_and_comes_back_as_a_verdict(planted, tmp_path):
    answer = answer_of(planted)
    path = tmp_path / "sample.csv"
    write_form(path, inspection_form(answer), "inspection")
    text = path.read_text(encoding="utf-8-sig")
    head, *rows = text.splitlines()
    first = head.split(",").index("date")
    of_a = [row.split(",") for row in rows if ",27-A," in row]
    for k, cells in enumerate(of_a):
        cells[first] = "2027-05-02"
        cells[first + 2 : first + 10] = ["0" if k == 4 else "1", *["1"] * 7]
    path.write_text("\n".join([head, *map(",".join, of_a)]), encoding="utf-8")
    merged = merge_forms(planted, PLANS, [path], by="Mara", when=WHEN, today=TODAY)
    assert merged.counts["taken"] == len(of_a)
    line = checked_lot_lines(answer_of(merged.project))[0]
    assert (line.size, line.faulty, line.flag) == (str(len(of_a)), "1", "wrong")


def test_another_ending_is_refused_in_one_sentence(tmp_path):
    lines = inspection_form(answer_of(PROJECT))
    with pytest.raises(InputProblem, match=r"end its name with \.csv or \.gpkg"):
        write_form(tmp_path / "form.xlsx", lines, "inspection")
    assert not list(tmp_path.iterdir())
