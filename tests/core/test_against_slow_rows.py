"""The layout against rows laid one at a time by other code, on random and on awkward outlines."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import Block, RowRules, lay_rows
from layoutdesk.core.layout.clearances import plantable_area
from tests.core.random_cases import aligned_case, aligned_differences, differences, random_case
from tests.core.slow_rows import Turn
from tests.zoo import ZOO, turned

CHUNK = 40


@pytest.mark.parametrize("first_seed", range(0, 400, CHUNK))
def test_random_layouts_agree(first_seed):
    laid, said = 0, []
    for seed in range(first_seed, first_seed + CHUNK):
        apart, n = differences(*random_case(seed))
        laid += n
        said += [f"random_case({seed}): {words}" for words in apart]
    assert not said, "\n".join(said)
    assert laid > 500  # the cases are no empty ones


@pytest.mark.parametrize("first_seed", range(0, 400, 100))
def test_rows_on_corners_edges_and_tangents_agree(first_seed):
    """Cases in which nearly every row lies exactly on something."""
    lines, said = 0, []
    for seed in range(first_seed, first_seed + 100):
        apart, n = aligned_differences(*aligned_case(seed))
        lines += n
        said += [f"aligned_case({seed}): {words}" for words in apart]
    assert not said, "\n".join(said)
    assert lines > 1500


# 0.7 m: rows of whole vine spaces, where a micrometre makes a vine, have tests of their own.
PLAIN = RowRules(min_row_m=0, headland_m=0, side_margin_m=0, last_vine_m=0.7)
USUAL = RowRules(min_row_m=5, headland_m=8, side_margin_m=3, number_from="right")
MIXED = RowRules(
    min_row_m=0, headland_m=4.8, side_margin_m=0, leftover="across", lattice="staggered"
)

BIG = {"huge", "5,000 corners"}


@pytest.mark.parametrize("rules", [PLAIN, USUAL, MIXED], ids=["nothing clear", "usual", "mixed"])
@pytest.mark.parametrize("name", [n for n in ZOO if n not in BIG | {"far from the origin"}])
def test_awkward_outlines_agree(name, rules):
    """Rows along the outline's own edges, at right angles, backwards and askew."""
    for turn, row in ((0, 0), (0, 90), (33, 33), (33, 213), (0, 20)):
        block = Block("B1", turned(ZOO[name], turn), replace(rules, bearing_deg=row))
        # 5 µm: a row that just grazes a round rim ends where a root of the rounding says. 5 mm: an
        # edge that leans 4 µm a metre is left, by a nanometre's rounding, millimetres along.
        said, _ = differences(block, (), close_m=5e-3 if name == "almost parallel" else 5e-6)
        assert not said, (turn, row, said)


@pytest.mark.parametrize("name", ["hole", "comb", "L", "U", "T", "notch on a row", "slit"])
def test_a_bearing_a_hair_off_counts_the_same(name):
    """At 359.9999999° edges of 150 m lean by 0.3 µm: on the rim they are, not beside it."""
    straight = lay_rows(Block("B1", ZOO[name], PLAIN))
    leaning = lay_rows(Block("B1", ZOO[name], replace(PLAIN, bearing_deg=359.9999999)))
    assert leaning.n_rows == straight.n_rows
    assert leaning.n_segments == straight.n_segments
    # A row along a leaning rim may stop short by what "followed for less than this" allows.
    assert np.abs(leaning.end_posts.xy_m - straight.end_posts.xy_m).max() <= 0.1


@pytest.mark.parametrize("name", sorted(BIG))
def test_big_outlines_agree(name):
    said, n = differences(Block("B1", ZOO[name], RowRules(bearing_deg=12, row_spacing_m=20)), ())
    assert not said
    assert n > 10


def test_an_outline_on_grid_coordinates_is_laid_like_one_at_home():
    """Seven figures before the point leave nanometres: counts are the same, places to a millimetre."""
    from shapely.affinity import translate

    rules = RowRules(bearing_deg=33.0, headland_m=0, side_margin_m=0)
    home = turned(shapely.box(0, 0, 24, 150), 33.0)
    here = lay_rows(Block("B1", home, rules))
    there = lay_rows(Block("B1", translate(home, 288_832.04, 6_180_001.32), rules))
    assert (there.n_rows, there.n_vines) == (here.n_rows, here.n_vines)
    moved = here.vines.xy_m + [288_832.04, 6_180_001.32]
    assert np.abs(there.vines.xy_m - moved).max() < 1e-3
    assert np.diff(there.extent_across_m)[0] == pytest.approx(24.0, abs=1e-6)


def stands_right(block, exclusions):
    """Distance of every vine to the plantable area, and of every end post to its rim or an alley's. [m]"""
    rules = block.rules
    plan = lay_rows(block, exclusions=exclusions)
    area = plantable_area(block, rules, exclusions, quad_segs=64)
    shapely.prepare(area)
    vines = shapely.distance(area, shapely.points(plan.vines.xy_m))
    posts = shapely.points(plan.end_posts.xy_m)
    rim = shapely.distance(shapely.boundary(shapely.union_all(shapely.get_parts(area))), posts)
    turn = Turn(rules.bearing_deg)
    u0, _, u1, _ = turn.shape(block.outline).bounds
    avenues = [
        (
            np.array(turn.there(a.x_m, a.y_m)),
            a.width_m,
            90.0 if a.bearing_deg is None else a.bearing_deg - rules.bearing_deg,
        )
        for a in rules.alleys
    ]
    if rules.alley_every_m:
        middles = np.arange(u0 + rules.alley_every_m, u1, rules.alley_every_m)
        avenues += [(np.array([u, 0.0]), rules.alley_width_m, 90.0) for u in middles]
    ends = np.array([turn.there(x, y) for x, y in plan.end_posts.xy_m]).reshape(-1, 2)
    for middle, width, angle in avenues:
        t = np.radians(angle)
        off = np.abs((ends - middle) @ np.array([-np.sin(t), np.cos(t)]))
        rim = np.minimum(rim, np.abs(off - width / 2))
        inside = (
            np.abs(
                (np.array([turn.there(x, y) for x, y in plan.vines.xy_m]).reshape(-1, 2) - middle)
                @ np.array([-np.sin(t), np.cos(t)])
            )
            < width / 2 - 1e-6
        )
        assert not inside.any(), "a vine stands in an alley"
    return vines, rim


CHORD = 1 - np.cos(np.pi / 256)
"""How far a chord of 64 a quarter turn cuts into a circle of radius 1."""


@pytest.mark.parametrize("first_seed", range(1000, 1100, 25))
def test_vines_and_end_posts_stand_where_the_definition_says(first_seed):
    for seed in range(first_seed, first_seed + 25):
        block, exclusions = random_case(seed)
        vines, rim = stands_right(block, exclusions)
        assert vines.max(initial=0) <= 1e-3 + 1e-6, seed
        # 12 m is the widest round join there is in these cases.
        assert rim.max(initial=0) <= 1e-3 + 12 * CHORD, seed
