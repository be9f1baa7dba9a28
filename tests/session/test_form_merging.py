"""Filled forms merged into the register: what is clear is taken, the rest is told, and nothing is lost."""

from __future__ import annotations

import csv
import datetime
import io
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk import lay_rows
from layoutdesk.core.model import InputProblem
from layoutdesk.core.model.planting import CHECKS
from layoutdesk.core.planting.standing import matching, standing
from layoutdesk.formats.crs import frame_to_wgs84
from layoutdesk.formats.field_form import FormLines, write_inspection_csv, write_planted_csv
from layoutdesk.formats.field_form_gpkg import write_form_gpkg
from layoutdesk.formats.project_file import plan_mark
from layoutdesk.session.form_merging import merge_forms
from layoutdesk.session.recording import (
    vine_history_lines,
    with_checked,
    with_loss,
    with_mistake,
    with_planted,
    with_replanted,
    with_reworked,
)
from tests.session.planted_cases import (
    DAY,
    LATER,
    PLANS,
    PROJECT,
    SAID,
    TODAY,
    WHEN,
    code,
    vines_of_row,
)
from tests.session.test_recording import states

ROW = vines_of_row(2)
MARK = plan_mark(PROJECT)
PLANTED = with_planted(PROJECT, PLANS, ROW, DAY, **SAID)
A, B, C = (code(v) for v in ROW[:3])
NOW = datetime.datetime.fromisoformat(WHEN)


def merged(tmp_path, *texts, project=PROJECT, plans=PLANS, **more):
    """Forms of these texts, merged."""
    paths = []
    for k, text in enumerate(texts, 1):
        paths.append(tmp_path / f"form{k}.csv")
        paths[-1].write_text(text, encoding="utf-8")
    return merge_forms(project, plans, paths, by="Mara", when=WHEN, today=TODAY, **more)


def planted_form(*lines: str, head="code,plan,date,state,lot_planted,cause,note") -> str:
    return "\n".join([head, *(line.replace("MARK", MARK) for line in lines)]) + "\n"


def checked_form(*lines: str) -> str:
    return planted_form(*lines, head="code,plan,date,lot,firm,tag_off,reworked,note")


def outcomes(found) -> list[str]:
    return [line.outcome for line in found.lines if line.line]


def words(found, k=0) -> str:
    return [line for line in found.lines if line.line][k].words


# round trips of our own forms


def form_lines(vines, project=PROJECT, plans=PLANS, lots=("27-A", "27-B")) -> FormLines:
    """Lines of a form for vines of all plans."""
    block = [p.block.name for p in plans for _ in range(p.n_segments)]
    offsets = np.cumsum([0, *(p.n_segments for p in plans)])
    segment = np.concatenate([p.vines.segment + o for p, o in zip(plans, offsets, strict=False)])
    xy = np.concatenate([p.vines.xy_m for p in plans])[vines]
    to_wgs84 = frame_to_wgs84(project.site.frame)[0]
    return FormLines(
        plan_mark(project), tuple(block),
        np.concatenate([p.segments.number for p in plans]),
        np.concatenate([p.segments.letter for p in plans]),
        segment[vines], np.concatenate([p.vines.index for p in plans])[vines],
        np.zeros(len(vines), int), lots, to_wgs84(xy),
    )  # fmt: skip


def filled(path, cells: dict[int, dict[str, str]]):
    """A form as somebody filled it: cells by line and column."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    for i, said in cells.items():
        rows[i].update(said)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys(), delimiter=";")
        writer.writeheader()
        writer.writerows(rows)
    return path


def filled_on_a_phone(path, code: str, cells: dict) -> None:
    """A GeoPackage form as another program saves it."""
    import geopandas

    frame = geopandas.read_file(path)
    for name, value in cells.items():
        frame[name] = frame[name].astype(object)
        frame.loc[frame["code"] == code, name] = value
    path.unlink()
    frame.to_file(path, layer="filled", driver="GPKG")


def test_an_as_planted_form_goes_out_is_filled_and_comes_back(tmp_path):
    path = tmp_path / "rows.csv"
    write_planted_csv(path, form_lines(ROW))
    filled(path, {
        0: {"state": "planted", "date": "5.4.2027"},
        1: {"state": "planted", "date": "5.4.2027", "lot_planted": "27-b", "note": "tray short"},
        3: {"state": "not planted"},
    })  # fmt: skip
    found = merge_forms(PROJECT, PLANS, [path], by="Mara", when=WHEN, today=TODAY)
    assert outcomes(found)[:4] == ["taken", "taken", "empty", "empty"]
    assert set(outcomes(found)[4:]) == {"empty"}
    assert states(found.project, ROW[:4]) == ["planted", "planted", "not planted", "not planted"]
    told = vine_history_lines(found.project, PLANS, int(ROW[1]))[0]
    assert "planted, lot 27-B (Saperavi, on SO4)" in told
    assert "Tray short" in told or "tray short" in told
    assert "tray short" not in vine_history_lines(found.project, PLANS, int(ROW[0]))[0]
    assert found.leftover_csv() == ""


def test_an_inspection_form_goes_out_is_filled_and_comes_back(tmp_path):
    path = tmp_path / "sample.csv"
    write_inspection_csv(path, form_lines(ROW))
    right = dict.fromkeys(CHECKS, "1")
    who = {"inspector": "Ines", "date": "46117"}
    filled(path, {
        0: right | who,
        1: right | who | {"firm": "no"},
        2: {"firm": "maybe"} | who,
    })  # fmt: skip
    found = merge_forms(PLANTED, PLANS, [path], by="Mara", when=WHEN, today=TODAY)
    assert outcomes(found)[:4] == ["clash", "clash", "not read", "empty"]
    # 46117 is 5 April 2026, a year early
    assert "5 April 2026 is before it was planted on record" in words(found)
    filled_again = path.read_text("utf-8").replace("46117", "46482")
    path.write_text(filled_again, "utf-8")
    found = merge_forms(PLANTED, PLANS, [path], by="Mara", when=WHEN, today=TODAY)
    assert outcomes(found)[:4] == ["taken", "taken", "not read", "empty"]
    now, match = standing(found.project.register), matching(found.project.register, PLANS)
    faults = now.faults[match.place[ROW[:3]]].tolist()
    assert faults == [0, 1 << list(CHECKS).index("firm"), 0]
    entry = found.project.register.batches[-1]
    assert (entry.by, entry.source, entry.revision) == ("Ines", "sample.csv", MARK)


@pytest.mark.parametrize("kind", ["inspection", "as_planted"])
def test_a_geopackage_form_goes_out_is_filled_and_comes_back(tmp_path, kind):
    path = tmp_path / "form.gpkg"
    write_form_gpkg(path, form_lines(ROW), kind, NOW)
    said = {"firm": 0} if kind == "inspection" else {"state": "missing", "cause": "Frost"}
    filled_on_a_phone(path, B, {"date": LATER, **said})
    found = merge_forms(PLANTED, PLANS, [path], by="Mara", when=WHEN, today=TODAY)
    assert found.counts["taken"] == 1
    (line,) = (line for line in found.lines if line.outcome == "taken")
    shown = (
        "not right: firm in the soil" if kind == "inspection" else "missing on 2 May 2027, frost"
    )
    assert (line.code, shown in line.words) == (B, True)


# what is taken, and what is not


def test_reading_a_form_twice_changes_nothing(tmp_path):
    text = planted_form(f"{A},MARK,2027-04-05,planted,,,", f"{B},MARK,2027-04-05,planted,27-B,,")
    once = merged(tmp_path, text)
    twice = merged(tmp_path, text, project=once.project)
    assert (outcomes(once), outcomes(twice)) == (["taken"] * 2, ["same"] * 2)
    assert twice.project is once.project
    both = merged(tmp_path, text, text)
    assert outcomes(both) == ["taken", "taken", "same", "same"]
    assert both.project.register.stand.xy_mm.shape == once.project.register.stand.xy_mm.shape
    assert len(both.project.register.events) == 2


def test_lines_that_contradict_each_other_are_both_left(tmp_path):
    found = merged(tmp_path, planted_form(
        f"{A},MARK,2027-04-05,planted,27-A,,",
        f"{B},MARK,2027-04-05,planted,,,",
        f"{A},MARK,2027-04-05,planted,27-B,,",
    ))  # fmt: skip
    assert outcomes(found) == ["clash", "taken", "clash"]
    assert "line 4 of form1.csv says otherwise: planted on 5 April 2027, lot 27-B" in words(found)
    assert "line 2 of form1.csv says otherwise" in words(found, 2)


@pytest.mark.parametrize(
    ("second", "first"),
    [
        ("2027-04-06,planted,,,", "2027-04-05,planted,,,"),
        ("2027-05-02,dead,,frost,", "2027-05-02,missing,,,"),
        ("2027-05-02,alive,,,", "2027-05-02,missing,,,"),
        ("2027-05-02,dead,,frost,", "2027-05-02,dead,,drought,"),
    ],
)
def test_two_states_of_a_vine_on_one_day_and_two_plantings_contradict(tmp_path, second, first):
    project = PROJECT if "planted" in first else PLANTED
    found = merged(
        tmp_path, planted_form(f"{A},MARK,{first}", f"{A},MARK,{second}"), project=project
    )
    assert outcomes(found) == ["clash", "clash"]


def test_inspections_of_one_day_with_two_results_contradict_in_a_form_and_with_the_record(tmp_path):
    one, two = f"{A},MARK,2027-04-06,,1,1,,", f"{A},MARK,2027-04-06,,0,1,,"
    assert outcomes(merged(tmp_path, checked_form(one, two), project=PLANTED)) == ["clash"] * 2
    first = merged(tmp_path, checked_form(two), project=PLANTED)
    later = merged(tmp_path, checked_form(one), project=first.project)
    assert outcomes(later) == ["clash"]
    assert "on record it was inspected on 6 April 2027, not right: firm" in words(later)
    day = datetime.date(2027, 4, 6)
    mended = with_reworked(first.project, PLANS, ROW[:1], day, **SAID)
    assert outcomes(merged(tmp_path, checked_form(one), project=mended)) == ["taken"]


def test_a_form_may_tell_of_planting_loss_replanting_and_inspection_in_any_order(tmp_path):
    found = merged(
        tmp_path,
        checked_form(f"{A},MARK,2027-05-10,27-B,1,1,,", f"{B},MARK,2027-04-05,27-A,0,1,,"),
        planted_form(
            f"{A},MARK,2027-05-09,replanted,27-B,,",
            f"{A},MARK,2027-05-02,dead,,drought,",
            f"{A},MARK,2027-04-05,planted,,,",
            f"{B},MARK,2027-04-05,planted,,,",
        ),
    )
    assert outcomes(found) == ["taken"] * 6
    assert states(found.project, ROW[:2]) == ["replanted", "planted"]
    now, match = standing(found.project.register), matching(found.project.register, PLANS)
    assert now.checked[match.place[ROW[:2]]].all()
    assert [batch.source for batch in found.project.register.batches] == ["form2.csv", "form1.csv"]


def test_what_rests_on_a_line_that_is_not_taken_is_not_taken_either(tmp_path):
    found = merged(
        tmp_path,
        planted_form(f"{A},MARK,2027-04-05,planted,99,,", f"{A},MARK,2027-05-02,missing,,,"),
        checked_form(f"{A},MARK,2027-04-06,,1,1,,"),
    )
    assert outcomes(found) == ["clash", "clash", "clash"]
    assert "there is no lot '99'" in words(found)
    assert "not on record as planted" in words(found, 2)
    assert found.project is PROJECT


LOST = with_loss(PLANTED, PLANS, ROW[:1], "dead", "frost", LATER, **SAID)


@pytest.mark.parametrize(
    ("line", "project", "reason"),
    [
        ("2027-04-06,planted,,,", PLANTED, "on record as planted on 5 April 2027 with lot 27-A"),
        ("2027-06-01,planted,,,", LOST, "on record as dead: write replanted"),
        ("2027-06-01,replanted,,,", PLANTED, "no loss is on record there"),
        ("2027-06-01,missing,,,", PROJECT, "not on record as planted"),
        ("2027-04-04,missing,,,", PLANTED, "4 April 2027 is before it was planted on record"),
        ("2027-06-21,planted,,,", PROJECT, "21 June 2027 is still to come"),
        ("2027-03-31,planted,,,", PROJECT, "lot 27-A came on 1 April 2027"),
        ("2027-04-05,planted,27-C,,", PROJECT, "not all tags of lot 27-C are recorded"),
        (",planted,,,", PROJECT, "no day is said"),
        ("2027-06-01,dead,27-B,,", PLANTED, "it says lot 27-B, and lot 27-A is on record there"),
        (
            "2027-04-06,not planted,,,",
            PLANTED,
            "it says not planted, and it was planted on 5 April 2027",
        ),
    ],
)
def test_what_has_no_sense_by_the_record_clashes_and_says_what_to_do(
    tmp_path, line, project, reason
):
    found = merged(tmp_path, planted_form(f"{A},MARK,{line}", f"{A},MARK,{line}"), project=project)
    assert set(outcomes(found)) == {"clash"}
    assert reason in words(found)
    assert found.project is project


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("B1-R099A-V001,MARK,2027-04-05,planted,,,", "there is no row B1-R099A"),
        ("B1-R002A-V999,MARK,2027-04-05,planted,,,", "there is no vine B1-R002A-V999 on the plan"),
        (
            "B7-R002A-V001,MARK,2027-04-05,planted,,,",
            "there is no block B7: blocks are B1, Old Mill",
        ),
        ("R2,MARK,2027-04-05,planted,,,", "no code of a vine"),
        (f"{A},MARK,31.4.2027,planted,,,", "no day of the calendar"),
        (f"{A},MARK,2027-04-05,sick,,,", "'sick' is no state"),
        (f"{A},MARK,2027-04-05,,,frost,", "a cause and no state"),
        (f"{A},MARK,2027-04-05,,,,loose", "nothing is filled in but a remark"),
    ],
)
def test_what_cannot_be_read_says_so_and_the_rest_is_taken(tmp_path, line, reason):
    found = merged(tmp_path, planted_form(line, f"{B},MARK,2027-04-05,planted,,,"))
    assert outcomes(found) == ["not read", "taken"]
    assert reason in words(found)


def test_wrong_lot_names_of_an_inspection_clash(tmp_path):
    lines = (f"{A},MARK,2027-04-06,27-B,1,1,,", f"{B},MARK,2027-04-06,27-X,1,1,,")
    found = merged(tmp_path, checked_form(*lines), project=PLANTED)
    assert outcomes(found) == ["clash", "clash"]
    assert "it says lot 27-B, and lot 27-A is on record there" in words(found)
    assert "there is no lot '27-X'" in words(found, 1)


def test_a_lot_that_was_assigned_otherwise_since_clashes_unless_the_planted_one_is_said(tmp_path):
    head = "code,plan,date,lot,lot_planted,state"
    lines = (f"{A},MARK,2027-04-05,27-B,,planted", f"{B},MARK,2027-04-05,27-B,27-A,planted")
    found = merged(tmp_path, planted_form(*lines, head=head))
    assert outcomes(found) == ["clash", "taken"]
    assert "the form has lot 27-B assigned, and the plan lot 27-A" in words(found)


def test_tags_that_wait_and_days_that_are_missing_can_be_settled_for_the_run(tmp_path):
    text = "code,plan,state,lot_planted\n" + f"{A},{MARK},planted,27-C\n"
    found = merged(tmp_path, text, although="rain came", day=DAY)
    assert outcomes(found) == ["taken"]
    assert "Although not all tags of lot 27-C are recorded: rain came." in (
        found.project.register.batches[0].note
    )


def test_what_was_taken_back_as_a_mistake_does_not_come_back_by_itself(tmp_path):
    text = planted_form(f"{A},MARK,2027-04-05,planted,,,")
    once = merged(tmp_path, text).project
    back = with_mistake(once, PLANS, ROW[:1], **SAID, note="another row")
    found = merged(tmp_path, text, project=back)
    assert outcomes(found) == ["clash"]
    assert "taken back as a mistake" in words(found)


def test_a_reworked_vine_needs_a_fault_on_record(tmp_path):
    faulty = with_checked(PLANTED, PLANS, ROW[:1], 16, DAY, **SAID)
    lines = (f"{A},MARK,2027-04-06,,,,yes,", f"{B},MARK,2027-04-06,,,,x,")
    found = merged(tmp_path, checked_form(*lines), project=faulty)
    assert outcomes(found) == ["taken", "clash"]


def test_rows_without_a_letter_are_known_where_they_have_one_segment(tmp_path):
    found = merged(
        tmp_path, "block;row;vine;date;state\nb1;2;1;2027-04-05;planted\n;2;2;2027-04-05;planted\n"
    )
    assert outcomes(found) == ["taken", "not read"]
    assert "the block is not said" in words(found, 1)


# other revisions of the plan


def shifted(metres: float):
    """The site with the rows of its first block moved across."""
    block = PROJECT.blocks[0]
    rules = replace(block.rules, first_row_m=metres)
    project = PROJECT.with_block(replace(block, rules=rules))
    return project, (lay_rows(project.blocks[0]), PLANS[1])


def test_a_form_of_another_revision_is_told_once_and_taken_where_vines_stand_as_they_stood(
    tmp_path,
):
    mill = code(vines_of_row(1, 1)[0])
    path = tmp_path / "old.csv"
    every = np.concatenate([ROW[:2], vines_of_row(1, 1)[:2]])
    write_planted_csv(path, form_lines(every, lots=("27-B",)))
    filled(
        path,
        {i: {"state": "planted", "date": "2027-04-05", "lot_planted": "27-B"} for i in range(4)},
    )
    project, plans = shifted(1.2)
    found = merge_forms(project, plans, [path], by="Mara", when=WHEN, today=TODAY)
    assert outcomes(found) == ["clash", "clash", "taken", "taken"]
    assert f"{A} stands 1.2 m away now" in words(found)
    told = [line.words for line in found.lines if line.outcome == "told"]
    assert len(told) == 1
    assert f"another revision of the plan ({MARK}; the plan is {plan_mark(project)} now)" in told[0]
    assert states(found.project, [plans[0].n_vines], plans) == ["planted"]
    assert mill in [line.code for line in found.lines if line.outcome == "taken"]


def test_lines_left_of_another_revision_keep_their_places_so_that_they_are_not_taken_by_code_alone(
    tmp_path,
):
    path = tmp_path / "old.gpkg"
    write_form_gpkg(path, form_lines(ROW[:1]), "as_planted", NOW)
    filled_on_a_phone(path, A, {"date": DAY, "state": "planted"})
    project, plans = shifted(1.2)
    found = merge_forms(project, plans, [path], by="Mara", when=WHEN, today=TODAY)
    assert outcomes(found) == ["clash"]
    again = tmp_path / "left.csv"
    again.write_text(found.leftover_csv(), "utf-8-sig")
    assert outcomes(merge_forms(project, plans, [again], by="Mara", when=WHEN, today=TODAY)) == [
        "clash"
    ]


def test_without_places_the_record_tells_which_codes_mean_another_vine_now(tmp_path):
    block = PROJECT.blocks[0]
    rules = replace(block.rules, number_from="right")
    project = replace(PLANTED.with_block(replace(block, rules=rules)), register=PLANTED.register)
    plans = (lay_rows(project.blocks[0]), PLANS[1])
    turned = {code(v, plans) for v in range(plans[0].n_vines)}
    assert A in turned
    found = merged(
        tmp_path, planted_form(f"{A},MARK,2027-05-02,missing,,,"), project=project, plans=plans
    )
    assert outcomes(found) == ["clash"]
    assert found.project is project


def test_an_old_name_of_a_block_on_record_is_still_known(tmp_path):
    renamed = PLANTED.register.with_batch(
        recorded="", by="", source="rename", renamed=(("B1", "South"),)
    )
    blocks = (replace(PROJECT.blocks[0], name="South"), PROJECT.blocks[1])
    planting = replace(PROJECT.planting, assignments=())
    project = replace(PROJECT, blocks=blocks, register=renamed, planting=planting)
    plans = tuple(lay_rows(b) for b in blocks)
    found = merged(
        tmp_path, planted_form(f"{A},MARK,2027-05-02,missing,,,"), project=project, plans=plans
    )
    assert outcomes(found) == ["taken"]
    assert states(found.project, ROW[:1], plans) == ["missing"]


def test_a_form_that_does_not_say_its_plan_is_taken_by_code_and_told(tmp_path):
    found = merged(tmp_path, f"code,date,state\n{A},2027-04-05,planted\n")
    assert outcomes(found) == ["taken"]
    assert any("does not say which revision" in line.words for line in found.lines)


# nothing lost, nothing half


def test_lines_that_are_left_can_be_corrected_and_read_again(tmp_path):
    found = merged(
        tmp_path,
        planted_form(
            f'{A},MARK,2027-04-31,planted,,,"wet, loose"', f"{B},MARK,2027-04-05,planted,,,"
        ),
        "code;plan;date;Firm;Weather\n" + f"{B};{MARK};2027-04-06;perhaps;windy\n",
    )
    assert outcomes(found) == ["not read", "taken", "not read"]
    rows = list(csv.DictReader(io.StringIO(found.leftover_csv())))
    assert [row["code"] for row in rows] == [A, B]
    assert (rows[0]["note"], rows[1]["Weather"]) == ("wet, loose", "windy")
    assert "write it year first" in rows[0]["problem"]
    corrected = found.leftover_csv().replace("2027-04-31", "2027-04-30").replace("perhaps", "1")
    again = merged(tmp_path, corrected, project=found.project)
    assert outcomes(again) == ["taken", "taken"]
    assert again.leftover_csv() == ""
    assert "Weather: windy" in again.project.register.batches[-1].note


def test_a_file_that_cannot_be_read_stops_the_whole_run(tmp_path):
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(planted_form(f"{A},MARK,2027-04-05,planted,,,"), "utf-8")
    bad.write_bytes(b"PK\x03\x04")
    with pytest.raises(InputProblem, match=r"bad\.csv is a workbook"):
        merge_forms(PROJECT, PLANS, [good, bad], by="Mara", when=WHEN, today=TODAY)


def test_several_inspectors_of_one_form_stay_known_by_vine(tmp_path):
    head = "code,plan,date,inspector,firm"
    text = planted_form(f"{A},MARK,2027-04-06,Ines,1", f"{B},MARK,2027-04-06,Jon,1", head=head)
    project = merged(tmp_path, text, project=PLANTED).project
    assert project.register.batches[-1].by == "Ines, Jon"
    told = vine_history_lines(project, PLANS, int(ROW[1]))[-1]
    assert "by Jon." in told
    assert "by Ines." not in told


def test_every_line_of_every_form_is_told_once_in_order(tmp_path):
    lines = [f"{c},MARK,{d},planted,,," for c in (A, B, "zz", C) for d in ("2027-04-05", "", "x")]
    found = merged(tmp_path, planted_form(*lines), planted_form(*lines[:5]))
    told = [(line.file, line.line) for line in found.lines if line.line]
    assert told == [("form1.csv", k) for k in range(2, 14)] + [
        ("form2.csv", k) for k in range(2, 7)
    ]
    left = sum(line.outcome in ("clash", "not read") for line in found.lines)
    assert left == len(list(csv.reader(io.StringIO(found.leftover_csv())))) - 1


def test_replanting_needs_no_lot_column_where_one_is_assigned(tmp_path):
    found = merged(tmp_path, planted_form(f"{A},MARK,2027-06-01,replanted,,,"), project=LOST)
    by_hand = with_replanted(LOST, PLANS, ROW[:1], datetime.date(2027, 6, 1), **SAID)
    assert outcomes(found) == ["taken"]
    assert states(found.project, ROW[:1]) == states(by_hand, ROW[:1]) == ["replanted"]


@pytest.mark.parametrize("seed", range(12))
def test_any_mixture_of_lines_is_whole_or_untouched_and_settles_when_read_again(tmp_path, seed):
    rng = np.random.default_rng(seed)
    pick = rng.integers
    days = ["2027-04-05", "2027-04-06", "2027-05-02", "6.4.2027", ""]
    kinds = ["planted", "missing", "dead", "replanted", "alive", "not planted", "", "odd"]
    lots = ["", "27-A", "27-B", "27-C", "99"]
    lines = [
        f"{code(ROW[pick(4)])},MARK,{days[pick(5)]},{kinds[pick(8)]},{lots[pick(5)]},,{pick(2) or ''}"
        for _ in range(40)
    ]
    checks = [f"{code(ROW[pick(4)])},MARK,{days[pick(4)]},,{pick(2)},1,," for _ in range(10)]
    texts = planted_form(*lines), checked_form(*checks)
    found = merged(tmp_path, *texts)
    assert len(outcomes(found)) == 50
    assert all(outcomes(found))
    counts = found.counts
    if not counts["taken"]:
        assert found.project is PROJECT
    again = merged(tmp_path, *texts, project=found.project)
    # What was taken is known now; nothing that clashed has come in by reading it again but what
    # only waited for another line of the same run to be settled.
    first, second = outcomes(found), outcomes(again)
    assert all(b == "same" for a, b in zip(first, second, strict=True) if a == "taken")
    assert all(b in ("same", a) or a == "clash" for a, b in zip(first, second, strict=True))


@pytest.mark.parametrize("seed", range(40))
def test_damaged_forms_are_told_line_by_line_or_refused_and_no_line_is_swallowed(tmp_path, seed):
    rng = np.random.default_rng(seed)
    lines = [f"{code(v)},MARK,2027-04-05,planted,,,dry" for v in ROW[:12]]
    text = list(planted_form(*lines))
    for _ in range(int(rng.integers(1, 30))):
        text[int(rng.integers(60, len(text)))] = str(rng.choice(list('",;\t\n1/é\u2028')))
    try:
        found = merged(tmp_path, "".join(text))
    except InputProblem:
        return
    told = {line.line for line in found.lines}
    begun = [k for k, line in enumerate("".join(text).split("\n"), 1) if line[:5] == "B1-R0"]
    assert told >= set(begun)
    again = merged(tmp_path, found.leftover_csv() or "".join(text), project=found.project)
    left = found.counts["clash"] + found.counts["not read"]
    assert sum(again.counts.values()) == (left or sum(found.counts.values()))
