"""Which plant stands where: held against a reading vine by vine, and what filling and telling parts keep."""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely

from layoutdesk import lay_rows
from layoutdesk.core.model import Assignment, Block, Lot, Part, Plant, Planting, RowRules
from layoutdesk.core.planting.assigned import (
    assigned,
    filled,
    parts_of_vines,
    vines_of_parts,
)
from tests.core.planting.planted_rows import N_VINES, PLACES, PLANS, is_in, random_part

WHITE, RED, OTHER = Plant("Furmint", "F 5", "5BB"), Plant("Saperavi", "", "SO4"), Plant("Aligoté")
LOTS = (Lot("27-A", WHITE, delivered=300), Lot("27-B", RED, delivered=300), Lot("27-C", OTHER))


def planting(*assignments) -> Planting:
    return Planting(lots=LOTS, assignments=assignments)


@pytest.mark.parametrize("seed", range(60))
def test_every_vine_has_what_the_last_assignment_that_is_about_it_says(seed):
    rng = np.random.default_rng(seed)
    said = []
    for _ in range(int(rng.integers(1, 7))):
        parts = tuple(random_part(rng) for _ in range(int(rng.integers(1, 4))))
        lot = LOTS[int(rng.integers(3))]
        with_lot = rng.random() < 0.6
        said.append(Assignment(parts, lot.plant, lot.name.lower() if with_lot else ""))
    found = assigned(PLANS, planting(*said))
    for vine, place in enumerate(PLACES):
        about = [i for i, a in enumerate(said) if any(is_in(place, part) for part in a.parts)]
        last = about[-1] if about else -1
        assert found.assignment[vine] == last
        plant = found.plants[found.plant[vine]] if found.plant[vine] >= 0 else None
        lot = LOTS[found.lot[vine]].name if found.lot[vine] >= 0 else ""
        assert plant == (said[last].plant if about else None)
        assert lot == (said[last].lot.upper() if about else "")
    hit = {
        (i, k): any(is_in(place, part) for place in PLACES)
        for i, a in enumerate(said)
        for k, part in enumerate(a.parts)
    }
    assert set(found.unfit) == {key for key, any_vine in hit.items() if not any_vine}


def test_a_lot_is_of_its_own_plant_whatever_the_assignment_says():
    found = assigned(PLANS, planting(Assignment((Part("B1"),), RED, "27-A")))
    assert {found.plants[p] for p in found.plant[found.plant >= 0]} == {WHITE}


def test_a_lot_that_is_not_known_leaves_the_plant_and_no_lot():
    found = assigned(PLANS, planting(Assignment((Part("B1"),), RED, "99-Z")))
    assert found.plants[found.plant[0]] == RED
    assert (found.lot == -1).all()


@pytest.mark.parametrize("seed", range(60))
def test_parts_of_vines_are_exactly_these_vines(seed):
    rng = np.random.default_rng(seed)
    chosen = vines_of_parts(PLANS, [random_part(rng) for _ in range(3)])
    if seed % 3 == 0:
        more = rng.choice(N_VINES, int(rng.integers(1, 60)), replace=False)
        chosen = np.union1d(chosen, more)
    parts = parts_of_vines(PLANS, rng.permutation(chosen))
    assert np.array_equal(vines_of_parts(PLANS, parts), chosen)
    hits = np.concatenate([[0], *(vines_of_parts(PLANS, [part]) for part in parts)])[1:]
    assert len(hits) == len(chosen)  # none is told twice


def test_patterns_and_runs_of_rows_are_one_part_each():
    for part in (
        Part("B1", 3, 9),
        Part("B1", 2, 2, "A", 5, 11),
        Part("B1", 10, 12, "A", 3, None, 1, 4),
        Part("B1", 7, 8, "B"),
    ):
        assert parts_of_vines(PLANS, vines_of_parts(PLANS, [part])) == (part,)


@pytest.mark.parametrize("order", ["rows", "back and forth"])
@pytest.mark.parametrize("start", [0, 17, 150, N_VINES - 5])
@pytest.mark.parametrize("most", [1, 40, 333, 10 * N_VINES])
def test_filling_sets_as_many_vines_as_there_are_plants_or_free_vines(order, start, most):
    known = planting(
        Assignment((Part("B1", 2, 14, every_row=3),), RED, "27-B"),
        Assignment((Part("B1", every_vine=9),), OTHER, "", "pollinator"),
    )
    found = assigned(PLANS, known)
    parts = filled(found, "27-A", start, most, order=order)
    chosen = vines_of_parts(PLANS, parts)
    assert (found.plant[chosen] == -1).all()
    free = np.flatnonzero(found.plant == -1)
    rows = np.array([PLACES[v][:2] == PLACES[start][:2] for v in free])
    if order == "rows":
        assert np.array_equal(chosen, free[free >= start][:most])
    else:
        assert len(chosen) == min(most, int((free >= start).sum()))
        assert (chosen >= start).all()
        # The row it begins in is filled along before any other is begun.
        first = free[rows & (free >= start)]
        assert np.isin(first[:most], chosen).all()


def test_back_and_forth_goes_up_one_row_and_down_the_next():
    found = assigned(PLANS, Planting(lots=LOTS))
    in_first = sum(place[:2] == PLACES[0][:2] for place in PLACES)
    chosen = vines_of_parts(PLANS, filled(found, "27-A", 0, in_first + 3, order="back and forth"))
    second = [v for v, place in enumerate(PLACES) if place[:2] == ("B1", PLACES[0][1] + 1)]
    assert np.array_equal(chosen, [*range(in_first), *second[-3:]])


def test_vines_planned_for_the_plant_of_the_lot_are_filled_and_its_own_are_filled_anew():
    known = planting(
        Assignment((Part("B1"),), WHITE), Assignment((Part("B1", 1, 1),), WHITE, "27-A")
    )
    parts = filled(assigned(PLANS, known), "27-A", 0, 25)
    assert np.array_equal(vines_of_parts(PLANS, parts), np.arange(25))


def test_a_million_vines_are_assigned_in_a_moment():
    rules = RowRules(bearing_deg=0.0, row_spacing_m=2.0, vine_spacing_m=1.0)
    plans = (lay_rows(Block("B1", shapely.box(0, 0, 1600, 1300), rules)),)
    assert plans[0].n_vines > 1_000_000
    rows = int(plans[0].segments.number.max())
    parts = [Part("B1", r, min(r + 9, rows)) for r in range(1, rows, 10)]
    known = planting(
        *(Assignment((part,), WHITE, "27-A") for part in parts),
        Assignment((Part("B1", every_vine=9),), RED, "27-B", "pollinator"),
    )
    begun = time.perf_counter()
    found = assigned(plans, known)
    assert time.perf_counter() - begun < 2.0  # measured 0.15 s alone; the machine may be shared
    assert (found.plant >= 0).all()
