"""The window's lists of lots, needs, tags and assignments: what each line says, and when it warns."""

from __future__ import annotations

import datetime
from dataclasses import fields, replace

import numpy as np
import pytest

from layoutdesk.core.model import Lot, Part, Plant, Tag, Water
from layoutdesk.session.assigning import vines_of_text, with_assignment, with_swap
from layoutdesk.session.lot_edits import with_struck_tag, with_tag
from layoutdesk.session.lot_lines import assignment_lines, lot_lines, need_lines, tag_lines
from layoutdesk.session.planted import PlantingCounter, PlantingRequest
from tests.core.planting.planted_rows import N_VINES, PLACES, PLANS
from tests.session.planted_project import LOTS, PROJECT, RED, TODAY, WHITE

WHOLE = (Part("B1"), Part("Old Mill"))


def answered(project):
    return PlantingCounter().answer(PlantingRequest(1, project, PLANS, TODAY))


def with_lots(project, *lots: Lot):
    return replace(project, planting=replace(project.planting, lots=lots))


def plain(text: str) -> str:
    return text.replace("\u202f", "").replace("\u00a0", " ")


def test_a_lot_tells_what_is_left_of_it_and_warns_where_plants_are_missing():
    project = with_assignment(PROJECT, WHOLE, WHITE, "27-A")
    short, whole, ordered = lot_lines(answered(project))
    assert (short.name, short.usable, short.vines) == ("27-A", "600", str(N_VINES))
    assert short.left == f"−{N_VINES - 600}"
    assert short.flag == "wrong"
    assert f"{N_VINES - 600} are missing" in plain(short.told)
    assert (whole.usable, whole.left, whole.flag) == ("80", "80", "")
    # Nothing of it came: what is ordered is what is left.
    assert (ordered.usable, ordered.left, ordered.flag) == ("–", "200", "")


def test_a_lot_of_which_nobody_said_how_many_is_not_told_as_missing():
    project = with_assignment(with_lots(PROJECT, Lot("n", RED)), WHOLE, RED, "n")
    (line,) = lot_lines(answered(project))
    assert (line.left, line.flag) == ("–", "")
    assert "is not said" in line.told


@pytest.mark.parametrize(
    ("recorded", "plants", "flag"), [(False, 40, "caution"), (True, 40, ""), (True, 3, "caution")]
)
def test_a_lot_waits_for_its_tags(recorded, plants, flag):
    lot = replace(LOTS[0], delivered=800, tags_recorded=recorded)
    project = with_assignment(with_lots(PROJECT, lot), WHOLE, WHITE, "27-A")
    project = with_tag(project, Tag("27-A", "F5", plants=plants))
    (line,) = lot_lines(answered(project))
    assert line.flag == flag
    assert line.tags == ("all" if recorded else "1")
    assert "about 40 of 800 plants usually carry one" in line.told


def test_a_lot_that_may_be_mixed_is_told_with_what_its_tags_say():
    project = with_tag(PROJECT, Tag("27-A", "SO4!", rootstock="SO4"))
    assert "rootstock SO4 on a tag, 5BB of the lot" in lot_lines(answered(project))[0].told
    assert lot_lines(answered(project))[0].flag == "wrong"
    struck = with_struck_tag(project, 0, "misread")
    assert "mixed" not in lot_lines(answered(struck))[0].told


def test_needs_tell_counts_and_the_last_day_to_order():
    day = datetime.date(2028, 3, 31)
    water = Water()
    project = replace(
        with_assignment(with_lots(PROJECT), WHOLE, WHITE),
        water=replace(water, demand=replace(water.demand, planting=day)),
    )
    project = with_assignment(project, (Part("B1", every_vine=9),), RED, use="pollinator")
    white, red = need_lines(answered(project))
    n = sum(p[0] == "B1" and p[3] % 9 == 1 for p in PLACES)
    wanted = n + -(-n * 2 // 100)
    assert (red.plant, red.wanted, red.short, red.flag) == (str(RED), str(wanted), str(wanted), "caution")  # fmt: skip
    assert f"{n} pollinator" in red.told
    # 16 weeks before 31 March 2028 is 10 December 2027; dormant plants are ordered 16 months before.
    assert white.order_by == "2027-12-10"
    assert "bare roots by 2026-11-30" in white.told
    enough = with_lots(project, Lot("a", WHITE, delivered=900), Lot("b", RED, ordered=90))
    for line in need_lines(answered(enough)):
        assert (line.short, line.order_by, line.flag) == ("0", "", "")


def test_tags_are_listed_newest_first_and_struck_ones_keep_their_reason():
    project = with_tag(PROJECT, Tag("27-A", "F5", "Furmint", plants=30, recorded=TODAY, by="R."))
    project = with_tag(project, Tag("27-B", "S"))
    project = with_tag(project, Tag("27-a", "", clone="F 5"))
    project = with_struck_tag(project, 0, "of last year")
    last, first = tag_lines(answered(project), "27-A")
    assert (last.index, last.text, last.flag) == (2, "clone F 5", "")
    assert (first.index, first.text, first.flag) == (0, "struck: F5", "caution")
    assert (first.plants, first.recorded) == ("30", "2027-03-01 by R.")
    assert "It does not count: of last year." in first.told


def test_assignments_are_listed_in_order_with_the_vines_they_still_hold():
    project = with_assignment(PROJECT, (Part("B1"),), WHITE, "27-A")
    project = with_assignment(project, (Part("B1"),), Plant("Aligoté"), use="trial")
    vines = vines_of_text(project, PLANS, "B1-R003A-V001..V004")
    project = with_swap(project, PLANS, vines, "27-B", "tray dropped", TODAY)
    hidden, held, swap = assignment_lines(answered(project))
    assert (hidden.vines, hidden.flag, hidden.what) == ("0", "caution", "lot 27-A")
    n = sum(p[0] == "B1" for p in PLACES)
    assert (held.vines, held.flag, held.use, held.what) == (str(n - 4), "", "trial", "Aligoté")
    assert (swap.vines, swap.what, swap.parts) == ("4", "swap: lot 27-B", "B1-R003A-V001..V004")
    assert "Swapped on 2027-03-01: tray dropped." in swap.told


def test_every_column_of_every_line_is_text_and_lines_are_told_apart():
    project = with_tag(with_assignment(PROJECT, WHOLE, WHITE, "27-A"), Tag("27-A", "F5"))
    answer = answered(project)
    for lines in (lot_lines(answer), need_lines(answer), tag_lines(answer, "27-A"), assignment_lines(answer)):  # fmt: skip
        assert lines
        assert len({line.key for line in lines}) == len(lines)
        for line in lines:
            values = {f.name: getattr(line, f.name) for f in fields(line) if f.name != "index"}
            assert all(isinstance(v, str) for v in values.values())
            assert line.flag in ("", "caution", "wrong")


def test_lists_of_a_site_without_planting_are_empty():
    answer = answered(replace(PROJECT, planting=None))
    assert lot_lines(answer) == need_lines(answer) == assignment_lines(answer) == ()
    assert tag_lines(answer, "27-A") == ()
    assert np.count_nonzero(answer.assigned.plant >= 0) == 0
