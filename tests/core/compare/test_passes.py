"""Driving every row once, against a drive segment by segment."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.compare.passes import pass_through
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Alley, Block, Exclusion, Guide, RowRules
from tests.core.random_cases import random_case
from tests.zoo import ZOO

RULES = RowRules(row_spacing_m=2.5, headland_m=10, side_margin_m=5)
BOX = shapely.box(0, 0, 60, 100)


def driven(plan) -> tuple[int, float]:
    """Turns and metres, one row after another."""
    rows: dict[int, list] = {}
    for number, ends in zip(plan.segments.number.tolist(), plan.segment_ends_m, strict=True):
        rows.setdefault(number, []).append(ends.tolist())
    stops = []
    for k, number in enumerate(sorted(rows)):
        row = rows[number]
        stops += [end[::-1] for end in reversed(row)] if k % 2 else row
    path = [place for stop in stops for place in stop]
    return max(len(stops) - 1, 0), sum(map(math.dist, path[1:], path[:-1]))


@pytest.mark.parametrize("seed", range(40))
def test_a_pass_is_what_a_drive_row_by_row_comes_to(seed):
    block, exclusions = random_case(seed)
    plan = lay_rows(block, exclusions=exclusions, check=False)
    turns, travel = driven(plan)
    found = pass_through(plan)
    assert found.turns == turns
    assert found.travel_m == pytest.approx(travel, abs=1e-6)
    assert found.rows_m == pytest.approx(plan.row_length_m)


@pytest.mark.parametrize("name", ["comb", "spiral", "U", "hole", "needle"])
def test_rows_cut_many_times_are_driven_in_order(name):
    block = Block("B1", ZOO[name], RowRules(headland_m=1, side_margin_m=0.5, min_row_m=2))
    for bearing in (0.0, 33.0, 90.0):
        plan = lay_rows(block, replace(block.rules, bearing_deg=bearing), check=False)
        found = pass_through(plan)
        assert found.turns == plan.n_segments - 1 > 2
        assert found.travel_m == pytest.approx(driven(plan)[1])


def test_a_row_cut_in_two_is_driven_through_before_the_next():
    # An alley 6 m wide cuts 21 rows of 80 m; between rows it is one spacing, at either end.
    alley = Alley(30.0, 50.0, 6.0)
    plan = lay_rows(Block("B1", BOX, replace(RULES, alleys=(alley,))))
    found = pass_through(plan)
    assert (found.turns, found.rows_m) == (41, pytest.approx(21 * 74))
    assert found.travel_m == pytest.approx(21 * 80 + 20 * 2.5)


def test_between_rows_that_end_on_a_slant_the_way_is_longer():
    # End edges climb 1 m for each across, so posts of neighbours stand spacing times root 2 apart.
    slanted = shapely.Polygon([(0, 0), (60, 60), (60, 160), (0, 100)])
    # The side margin keeps off the corners, where the headland is round.
    plan = lay_rows(Block("B1", slanted, replace(RULES, row_spacing_m=2.2, side_margin_m=8)))
    found = pass_through(plan)
    assert found.turns == 20
    assert found.travel_m - found.rows_m == pytest.approx(20 * 2.2 * math.sqrt(2))


def test_a_pass_is_as_long_from_either_side():
    pond = Exclusion(shapely.box(21, 40, 39, 60))
    from_left, from_right = (
        pass_through(lay_rows(Block("B1", BOX, replace(RULES, number_from=side)), None, (pond,)))
        for side in ("left", "right")
    )
    assert from_left.turns == from_right.turns == 27
    assert from_left.travel_m == pytest.approx(from_right.travel_m)


def test_curved_rows_are_left_where_they_end():
    guide = Guide(((30.0, -20.0), (35.0, 50.0), (30.0, 120.0)))
    plan = lay_rows(Block("B1", BOX, RULES, guide=guide))
    found = pass_through(plan)
    assert found.turns == plan.n_segments - 1 > 15
    lengths = plan.segments.length_m.sum()
    ends = plan.segment_ends_m
    hops = [
        math.dist(ends[k, 1 - k % 2], ends[k + 1, 1 - k % 2]) for k in range(plan.n_segments - 1)
    ]
    assert found.travel_m == pytest.approx(lengths + sum(hops))


def test_one_row_needs_no_turn_and_no_row_no_drive():
    one = lay_rows(Block("B1", shapely.box(0, 0, 11, 100), RULES))
    assert pass_through(one).turns == 0
    assert pass_through(one).travel_m == pytest.approx(80)
    none = pass_through(lay_rows(Block("B1", shapely.box(0, 0, 8, 15), RULES)))
    assert (none.turns, none.rows_m, none.travel_m) == (0, 0.0, 0.0)
