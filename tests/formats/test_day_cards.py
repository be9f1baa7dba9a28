"""Day cards, read back from the pages: a true scale, every row with its trays, depth, band and what a day waits for."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pdfplumber
import pytest

from layoutdesk.core.model.planting import Crew
from layoutdesk.formats.pdf_pen import COLOURS
from layoutdesk.session.day_cards import NO_DAY, day_card_set, day_cards, write_day_cards
from layoutdesk.session.day_words import lots_of_day, run_code
from tests.session.planted_site import BLOCKS, LOTS, MONDAY, answered

PT = 72 / 25.4


def pages_of(tmp_path, answer, unit="m"):
    path = tmp_path / "day-cards.pdf"
    count = write_day_cards(path, answer, unit, MONDAY)
    with pdfplumber.open(path) as pdf:
        assert len(pdf.pages) == count
        return [(p.extract_text(), p.lines + p.curves, p.chars) for p in pdf.pages]


def rgb(role: str) -> tuple[float, ...]:
    text = COLOURS[role]
    return tuple(int(text[i : i + 2], 16) / 255 for i in (1, 3, 5))


def strokes_mm(marks, role: str) -> list[float]:
    """Lengths of the strong strokes of a colour. [mm]"""
    found = []
    for mark in marks:
        colour = mark.get("stroking_color")
        strong = abs(mark["linewidth"] - 0.9 * PT) < 0.01
        if strong and colour and np.allclose(colour, rgb(role), atol=0.003):
            (x0, y0), (x1, y1) = mark["pts"][0], mark["pts"][-1]
            found.append(float(np.hypot(x1 - x0, y1 - y0)) / PT)
    return found


@pytest.mark.parametrize(("unit", "pattern"), [("m", r"1 : (\d+)"), ("ft", r"\(1 : (\d+)\)")])
def test_rows_on_the_plan_are_as_long_as_on_the_ground_by_the_printed_scale(
    tmp_path, unit, pattern
):
    answer = answered()
    text, marks, _ = pages_of(tmp_path, answer, unit)[1]
    ratio = float(re.search(pattern, text)[1])
    wanted = []
    for run in answer.days.days[0].runs:
        if run.lot == 0:
            plan = answer.plans[run.plan]
            step = plan.segments.vine_step_m[run.segment]
            wanted.append((run.last - run.first) * step * 1000 / ratio)
    drawn = [d for d in strokes_mm(marks, "accent") if d > 0.1]  # dots are curves that close
    legend = [d for d in drawn if abs(d - 9.0) < 1e-3]
    assert len(legend) == 1
    rows = sorted(d for d in drawn if d not in legend)
    assert rows == pytest.approx(sorted(wanted), rel=1e-3)


def test_every_row_of_every_day_stands_on_its_card_with_its_trays(tmp_path):
    answer = answered()
    texts = [text for text, _, _ in pages_of(tmp_path, answer)]
    for day in answer.days.days:
        card = "\n".join(t for t in texts if f"\nDay {day.number} of {len(answer.days.days)}:" in t)
        for run in day.runs:
            code = run_code(answer.plans, run)
            found = re.findall(
                rf"{code} ([\d–]+(?: by 9)?) {run.vines} \w ((?:\d+|rest)), (\w+)", card
            )
            assert found, (day.number, code, run.vines)
            assert {f[1] for f in found} & {f"{run.trays}" if run.trays else "rest"}
        for one in lots_of_day(answer.assigned, day):
            assert f"{one.trays} {'bundle' if one.is_bare_root else 'tray'}" in card.replace(
                "\u00a0", " "
            )


def test_a_card_says_how_deep_how_high_and_how_firm_and_what_is_looked_at(tmp_path):
    texts = pages_of(tmp_path, answered())
    card = re.sub(r"\s+", " ", " ".join(t for t, _, _ in texts if "Day 1 of" in t))
    for words in (
        "about 40 cm (15¾ in) deep",
        "Hold the graft union 5.5 to 8 cm (2¼ to 3¼ in) above the soil",
        "Firm with the foot on both sides",
        "take the plant out of its container whole",
        "then take it off",
        "Each vine gets 9.5 L (2.5 gal) at once",
        "Container off",
        "Graft union 5.5 to 8 cm",
        "Drip tube inside and dripping",
        "Heat: water, shade and rest",
        "buried services are located",
        "Above 32 °C (90 °F)",
        "Signature",
        "Run sets 1",
        "on Sunday 4 April 2027, the day before",
    ):
        assert words in card, words
    feet = " ".join(t for t, _, _ in pages_of(tmp_path, answered(), "ft"))
    assert "15¾ in (40 cm) deep" in re.sub(r"\s+", " ", feet)


def test_what_a_day_waits_for_stands_on_its_card_and_before_all_cards(tmp_path):
    lots = (replace(LOTS[0], delivered=700), replace(LOTS[1], tags_recorded=False))
    answer = answered(lots=lots)
    texts = [re.sub(r"\s+", " ", t) for t, _, _ in pages_of(tmp_path, answer)]
    short = next(d for d in answer.days.days if any("runs out after 700" in w for w in d.waits))
    assert "runs out after 700 of" in texts[0]
    card = " ".join(t for t in texts if f"Day {short.number} of" in t)
    assert "Waits: Lot 27-A runs out after 700 of" in card
    assert "tags of lot 27-P are not all recorded" in texts[0]


def test_pages_count_themselves_carry_the_plan_mark_and_embed_their_type(tmp_path):
    from layoutdesk.formats.project_file import plan_mark

    answer = answered()
    pages = pages_of(tmp_path, answer)
    for number, (text, _, chars) in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in text
        assert f"Plan {plan_mark(answer.project)}, 2027-04-05" in text
        assert "Two Gums, süd" in text
        assert all(re.match(r"[A-Z]{6}\+", c["fontname"]) for c in chars)  # embedded, in part
        assert min(c["size"] for c in chars) >= 6.4
    assert len(pages) <= 1 + 2 * len(answer.days.days)


def test_text_stays_on_the_page_and_lines_do_not_run_into_one_another(tmp_path):
    long = "Lot of a very long name that goes on and on, delivered in three parts by a nursery far away"
    lots = (replace(LOTS[0], name=long), LOTS[1])
    name = "A site with a name so long that it takes two lines on every page of the cards, at least on upright paper"
    answer = answered(lots=lots)
    answer = replace(answer, project=replace(answer.project, name=name))
    for _, _, chars in pages_of(tmp_path, answer):
        assert min(c["x0"] for c in chars) >= 11.9 * PT
        assert max(c["x1"] for c in chars) <= (210 - 11.9) * PT
        feet = {round(c["bottom"], 1) for c in chars}
        assert max(feet) <= (297 - 10) * PT


def test_without_a_day_or_a_vine_one_page_says_what_is_missing(tmp_path):
    pages = pages_of(tmp_path, replace(answered(), days=None))
    assert len(pages) == 1
    assert NO_DAY.split(":")[0] in pages[0][0]
    assert day_cards(replace(answered(), days=None)) == ()
    done = replace(answered().days, days=(), vines=0)
    assert day_card_set(replace(answered(), days=done)).missing.startswith("There is no vine left")


def test_the_same_plan_is_the_same_file(tmp_path):
    first, second = tmp_path / "a.pdf", tmp_path / "b.pdf"
    for path in (first, second):
        write_day_cards(path, answered(), "m", MONDAY)
    assert first.read_bytes() == second.read_bytes()


def test_a_day_of_one_short_row_is_drawn_no_larger_than_it_should(tmp_path):
    answer = answered(crew=Crew(people=1, hours_a_day=0.5), blocks=BLOCKS[1:])
    pictures = [c.picture for c in day_cards(answer)]
    assert {p.ratio >= 250 for p in pictures} == {True}
