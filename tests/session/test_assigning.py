"""Assigning plants and lots: filling, swaps, what goes before what, and what stays on record."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.layout.numbering import segment_letter
from layoutdesk.core.model import InputProblem, Part, Plant
from layoutdesk.core.planting.assigned import vines_of_parts
from layoutdesk.session.assigning import (
    filled_from,
    parts_of_selection,
    parts_text,
    vines_of_text,
    with_assignment,
    with_lot_on,
    with_swap,
    without_assignment,
)
from layoutdesk.session.planted import PlantingCounter, PlantingRequest
from tests.core.planting.planted_rows import N_VINES, PLACES, PLANS
from tests.session.planted_project import LOTS, PROJECT, RED, TODAY, WHITE, lots_at


def test_the_lot_says_the_plant_and_later_assignments_go_before():
    project = with_assignment(PROJECT, (Part("B1"),), RED, "27-a")
    assert project.planting.assignments[0].plant == WHITE
    assert project.planting.assignments[0].lot == "27-A"
    project = with_assignment(project, (Part("B1", 2, 3),), RED, "27-B", "trial")
    for place, lot in zip(PLACES, lots_at(project), strict=True):
        expected = "" if place[0] != "B1" else "27-B" if place[1] in (2, 3) else "27-A"
        assert lot == expected


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda: with_assignment(PROJECT, (Part("B1"),), RED, "28-Q"), "There is no lot '28-Q'"),
        (lambda: with_assignment(PROJECT, (), RED), "No row and no vine"),
        (lambda: with_assignment(PROJECT, (Part("B1"),), Plant(" ")), "needs a variety"),
        (lambda: with_assignment(PROJECT, (Part("B1"),), RED, use="hedge"), "'hedge' is no use"),
        (lambda: with_lot_on(PROJECT, frozenset(), "27-A"), "No row is selected"),
    ],
)
def test_an_assignment_that_cannot_be_is_refused(change, said):
    with pytest.raises(InputProblem, match=re.escape(said)):
        change()


def test_selected_rows_take_the_lot_and_no_others():
    selection = frozenset({("B1", 3, 0), ("B1", 4, 0), ("B1", 4, 1), ("Old Mill", 2, 0)})
    for plans in (None, PLANS):
        project = with_lot_on(PROJECT, selection, "27-A", plans)
        for place, lot in zip(PLACES, lots_at(project), strict=True):
            key = place[0], place[1], ord(place[2]) - 65
            assert (lot == "27-A") == (key in selection)
    hit = vines_of_parts(PLANS, parts_of_selection(selection, PLANS))
    assert {PLACES[v][:3] for v in hit} == {(b, r, segment_letter(k)) for b, r, k in selection}


@pytest.fixture
def swapped():
    project = with_assignment(PROJECT, (Part("B1"),), WHITE, "27-A")
    project = with_assignment(project, (Part("B1", every_vine=9),), RED, "27-B", "pollinator")
    vines = vines_of_text(project, PLANS, "B1-R003A-V001..V012")
    return with_swap(project, PLANS, vines, "27-C", " tray dropped ", TODAY), vines


def test_a_swap_keeps_what_was_planned_and_what_vines_are_for(swapped):
    project, vines = swapped
    before, after = project.planting.assignments[:2], project.planting.assignments[2:]
    assert [a.lot for a in before] == ["27-A", "27-B"]
    assert {(a.lot, a.reason, a.day) for a in after} == {("27-C", "tray dropped", TODAY)}
    assert sorted(a.use for a in after) == ["crop", "pollinator"]
    lots = lots_at(project)
    assert {lots[v] for v in vines} == {"27-C"}
    assert sum(lot == "27-C" for lot in lots) == 12


def test_a_plan_made_after_a_swap_does_not_take_the_swap_back(swapped):
    project, vines = swapped
    project = with_assignment(project, (Part("B1"),), RED, "27-B")
    lots = lots_at(project)
    assert {lots[v] for v in vines} == {"27-C"}
    assert sum(lot == "27-B" for lot in lots) == sum(p[0] == "B1" for p in PLACES) - 12


def test_neither_a_swap_nor_what_was_planned_under_it_is_taken_back(swapped):
    project, _ = swapped
    with pytest.raises(InputProblem, match="A swap stays on record"):
        without_assignment(project, 2)
    with pytest.raises(InputProblem, match="stays on record as what was planned"):
        without_assignment(project, 0)
    more = with_assignment(project, (Part("Old Mill"),), WHITE)
    i = next(i for i, a in enumerate(more.planting.assignments) if a.parts[0].block == "Old Mill")
    assert without_assignment(more, i).planting.assignments == project.planting.assignments


@pytest.mark.parametrize(
    ("text", "lot", "reason", "said"),
    [
        ("B1 row 3", "27-C", "  ", "A swap needs its reason"),
        ("B1 row 3", "27-Q", "dropped", "There is no lot '27-Q'"),
        ("Old Mill row 3", "27-C", "dropped", "Nothing is assigned there"),
        ("B1 row 4", "27-A", "dropped", "is assigned there already"),
    ],
)
def test_a_swap_that_says_nothing_is_refused(text, lot, reason, said):
    project = with_assignment(PROJECT, (Part("B1"),), WHITE, "27-A")
    with pytest.raises(InputProblem, match=re.escape(said)):
        with_swap(project, PLANS, vines_of_text(project, PLANS, text), lot, reason, TODAY)


@pytest.mark.parametrize("order", ["rows", "back and forth"])
def test_a_lot_is_filled_in_until_its_plants_are_used_up_and_the_next_goes_on_from_there(order):
    project = filled_from(PROJECT, PLANS, "27-B", "B1-R002A-V003", order)
    lots = np.array(lots_at(project))
    assert (lots == "27-B").sum() == 80  # 90 came, 10 were rejected
    assert set(lots[: PLACES.index(("B1", 2, "A", 3))]) == {""}
    with pytest.raises(InputProblem, match="Nothing of lot 27-B is left"):
        filled_from(project, PLANS, "27-B", "B1-R002A-V003", order)
    project = filled_from(project, PLANS, "27-A", "B1-R001A-V001", order)
    both = np.array(lots_at(project))
    assert ((both == "27-B") == (lots == "27-B")).all()
    assert (both == "27-A").sum() == min(600, N_VINES - 80)


def test_filling_splits_a_row_at_the_vine_where_the_lot_ends():
    small = replace(LOTS[1], delivered=7, rejected=0)
    project = replace(PROJECT, planting=PROJECT.planting.with_lot(small))
    project = filled_from(project, PLANS, "27-B", "B1-R001A-V004")
    assert parts_text(project.planting.assignments[0].parts) == "B1-R001A-V004..V010"


def test_filling_passes_other_plants_over_and_keeps_what_vines_are_for():
    project = with_assignment(PROJECT, (Part("B1", 2, 2),), RED, "27-B")
    project = with_assignment(project, (Part("B1", 1, 1),), WHITE, use="buffer")
    project = filled_from(project, PLANS, "27-A", "B1-R001A-V001")
    told = {(a.use, a.lot) for a in project.planting.assignments}
    assert {("buffer", "27-A"), ("crop", "27-A"), ("crop", "27-B")} <= told
    lots = lots_at(project)
    assert {lot for place, lot in zip(PLACES, lots, strict=True) if place[:2] == ("B1", 2)} == {
        "27-B"
    }


def test_filling_goes_on_with_vines_that_are_of_the_lot_already_left_alone():
    project = with_assignment(PROJECT, (Part("B1", 1, 1),), RED, "27-B")
    assert 0 < lots_at(project).count("27-B") < 80
    project = filled_from(project, PLANS, "27-B", "B1-R001A-V001")
    lots = np.array(lots_at(project))
    assert (lots == "27-B").sum() == 80
    assert (lots[:80] == "27-B").all()


@pytest.mark.parametrize(
    ("lot", "code", "order", "said"),
    [
        ("27-A", "B1-R001A-V999", "rows", "No vine stands at"),
        ("27-A", "B1-R001A-V001", "zigzag", "'zigzag' is no way of filling"),
        ("27-D", "B1-R001A-V001", "rows", "Nobody said how many plants lot 27-D has"),
    ],
)
def test_filling_that_cannot_be_is_refused(lot, code, order, said):
    bare = replace(LOTS[0], name="27-D", ordered=0, delivered=0)
    project = replace(PROJECT, planting=PROJECT.planting.with_lot(bare))
    with pytest.raises(InputProblem, match=re.escape(said)):
        filled_from(project, PLANS, lot, code, order)


def test_no_vine_is_free_where_another_lot_stands():
    project = with_assignment(PROJECT, (Part("B1"), Part("Old Mill")), WHITE, "27-A")
    with pytest.raises(InputProblem, match="is free for lot 27-C"):
        filled_from(project, PLANS, "27-C", "B1-R001A-V001")


def test_a_layout_that_moved_under_assignments_is_answered_and_told():
    project = with_assignment(PROJECT, (Part("B1", 1, 14),), WHITE, "27-A")
    fewer = PLANS[1:]
    answer = PlantingCounter().answer(PlantingRequest(1, project, fewer, TODAY))
    assert "assignment-unfit" in {f.code for f in answer.findings}
