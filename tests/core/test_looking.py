"""Looking into a plan: nothing seen is left out, and the nearest row is found."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk import Block, Exclusion, RowRules, lay_rows
from layoutdesk.core.layout.looking import (
    segment_at,
    segments_within,
    vines_within,
    way_out,
)
from tests.zoo import ZOO

ROUNDING_M = 1e-9

PLANS = {
    "north": lay_rows(Block("B1", ZOO["L"], RowRules(headland_m=3, side_margin_m=2))),
    "18": lay_rows(
        Block("B1", ZOO["star"], RowRules(bearing_deg=18, headland_m=3, side_margin_m=2))
    ),
    "far": lay_rows(Block("B1", ZOO["far from the origin"], RowRules(bearing_deg=77))),
    "staggered": lay_rows(
        Block(
            "B1", ZOO["annulus"], RowRules(bearing_deg=200, leftover="across", lattice="staggered")
        )
    ),
    "stretch": lay_rows(
        Block("B1", ZOO["U"], RowRules(bearing_deg=271, leftover="stretch", headland_m=3)),
        exclusions=[Exclusion(shapely.Point(30, 30), 4)],
    ),
    "no vines": lay_rows(
        Block("B1", shapely.box(0, 0, 40, 20), RowRules(headland_m=1, first_vine_m=30, min_row_m=5))
    ),
    "no rows": lay_rows(Block("B1", ZOO["tiny"], RowRules())),
}

windows = st.tuples(*[st.floats(-0.3, 1.3)] * 2, *[st.floats(0, 0.8)] * 2)


def window_of(plan, shares):
    x0, y0, x1, y1 = plan.block.outline.bounds
    sx, sy, wide, high = shares
    x, y = x0 + sx * (x1 - x0), y0 + sy * (y1 - y0)
    return x, y, x + wide * (x1 - x0), y + high * (y1 - y0)


def inside(xy, window, by_m):
    x0, y0, x1, y1 = window
    x, y = xy.T
    return (x >= x0 + by_m) & (x <= x1 - by_m) & (y >= y0 + by_m) & (y <= y1 - by_m)


TREES = {name: shapely.STRtree(shapely.points(plan.vines.xy_m)) for name, plan in PLANS.items()}


def indices(name, xy) -> list[int]:
    """Which vines of a plan these are."""
    if not len(xy):
        return []
    (_, which), away = TREES[name].query_nearest(shapely.points(xy), return_distance=True)
    assert away.max() < 1e-7
    return which.tolist()


@pytest.mark.parametrize("name", PLANS)
@given(windows)
def test_every_vine_in_the_window_is_among_those_looked_up(name, shares):
    plan = PLANS[name]
    window = window_of(plan, shares)
    every = plan.vines.xy_m
    # a grid's millions of metres round to nanometres, and the plane is turned twice
    by_m = ROUNDING_M if abs(every).max(initial=0) < 1e4 else 1e-8
    wanted = np.flatnonzero(inside(every, window, by_m))
    found = vines_within(plan, window)
    assert found.shape[1:] == (2,)
    which = indices(name, found)
    assert set(wanted.tolist()) <= set(which)
    assert len(which) == len(set(which)) == len(found)


@pytest.mark.parametrize("name", PLANS)
def test_a_window_over_everything_gives_every_vine(name):
    plan = PLANS[name]
    window = window_of(plan, (-0.1, -0.1, 1.2, 1.2))
    assert np.allclose(vines_within(plan, window), plan.vines.xy_m, rtol=0, atol=1e-8)
    assert segments_within(plan, window).tolist() == list(range(len(plan.segments)))


def test_a_small_window_makes_few_vines():
    plan = PLANS["18"]
    x, y = plan.vines.xy_m[len(plan.vines) // 2]
    found = vines_within(plan, (x - 5, y - 5, x + 5, y + 5))
    assert 0 < len(found) < 80  # the window turned into row axes holds about 50


@pytest.mark.parametrize("name", PLANS)
@given(windows)
def test_every_segment_that_crosses_the_window_is_among_those_looked_up(name, shares):
    plan = PLANS[name]
    window = window_of(plan, shares)
    crossing = shapely.intersects(shapely.linestrings(plan.segment_ends_m), shapely.box(*window))
    assert set(np.flatnonzero(crossing)) <= set(segments_within(plan, window).tolist()) | {
        i  # only touched, to a rounding
        for i in np.flatnonzero(crossing)
        if shapely.intersection(
            shapely.LineString(plan.segment_ends_m[i]), shapely.box(*window)
        ).length
        < 1e-6
    }


@pytest.mark.parametrize("name", ["north", "18", "staggered", "stretch"])
@given(st.floats(-0.2, 1.2), st.floats(-0.2, 1.2), st.floats(0.1, 30))
def test_the_segment_at_a_point_is_the_nearest_within_reach(name, sx, sy, reach):
    plan = PLANS[name]
    x, y, _, _ = window_of(plan, (sx, sy, 0, 0))
    away = shapely.distance(shapely.linestrings(plan.segment_ends_m), shapely.Point(x, y))
    found = segment_at(plan, x, y, reach)
    if found is None:
        assert away.min() > reach - ROUNDING_M
    else:
        assert away[found] <= min(away.min(), reach) + ROUNDING_M


def test_there_is_no_segment_where_there_are_no_rows():
    assert segment_at(PLANS["no rows"], 0.0, 0.0, 1e9) is None


@pytest.mark.parametrize("end", [0, 1])
@pytest.mark.parametrize("name", ["north", "18", "staggered", "stretch"])
def test_the_way_out_of_a_row_ends_on_the_outline(name, end):
    plan = PLANS[name]
    room, place, normal = way_out(plan, np.arange(plan.n_segments), end, 12.0)
    met = np.isfinite(room)
    assert met.any()
    step = np.array(plan.axes.unit_along) * (1 if end else -1)
    at = plan.segment_ends_m[:, end]
    outline = shapely.prepare(plan.block.outline) or plan.block.outline
    rim = shapely.boundary(outline)
    for fraction in (0.1, 0.5, 0.9, 0.999):  # inside all the way there
        way = at[met] + step * room[met, None] * fraction
        assert shapely.intersects_xy(outline, *way.T).all()
    assert shapely.distance(rim, shapely.points(place[met])).max() < 1e-8
    assert np.allclose(place[met], at[met] + step * room[met, None])
    far = at[~met][:, None] + step * np.linspace(0.1, 11.9, 60)[None, :, None]
    assert shapely.intersects_xy(outline, *far.reshape(-1, 2).T).all()  # no outline that near
    assert np.nanmin(room) >= 2.0 - 2e-3  # no clear width is less, and the rim is a millimetre wide
    assert np.allclose(np.hypot(*normal[met].T), 1)
    beside = shapely.distance(rim, shapely.points(place[met] + 1e-3 * normal[met]))
    outside = ~shapely.intersects_xy(outline, *(place[met] + 1e-3 * normal[met]).T)
    assert outside[beside > 9e-4].all()  # outward, where no corner is in the way


def test_the_way_out_is_asked_for_some_row_ends_or_none():
    plan = PLANS["18"]
    every = way_out(plan, np.arange(plan.n_segments), 0, 6.0)[0]
    some = np.array([3, 1])
    assert np.array_equal(way_out(plan, some, 0, 6.0)[0], every[some], equal_nan=True)
    assert len(way_out(plan, np.array([], dtype=int), 0, 6.0)[0]) == 0
