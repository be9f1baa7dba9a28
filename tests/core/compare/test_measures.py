"""Measures of rows that can be counted by hand, and what must not change them."""

from __future__ import annotations

import warnings
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
import shapely

from layoutdesk.core.compare.catalogue import MEASURES
from layoutdesk.core.compare.measures import measures_of, percentile_by_weight
from layoutdesk.core.compare.sweep import SWEPT, plans_at, sweep
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import (
    Alley,
    Block,
    Candidate,
    EdgeWidth,
    Exclusion,
    Guide,
    Prices,
    RowRules,
    Study,
)
from tests.zoo import ZOO, random_outline, turned

BOX = shapely.box(0, 0, 60, 100)
RULES = RowRules(row_spacing_m=2.5, headland_m=10, side_margin_m=5)
STUDY = Study()


def measured(outline=BOX, rules=RULES, exclusions=(), study=STUDY, **more):
    block = Block("B1", outline, rules, **more)
    return measures_of([lay_rows(block, exclusions=exclusions)], study)


def approx(wanted):
    return pytest.approx(wanted, rel=1e-9, abs=1e-6)


def test_a_rectangle_by_hand():
    # 50 m between the side margins are 20 spacings and 21 rows, of 100 - 2 x 10 m.
    # 1 m + 52 x 1.5 m + 0.5 m fit into 80 m: 53 vines a row, a line post every 4 of 52 spaces.
    # Between rows the machine goes one spacing.
    assert measured() == approx(
        {
            "vines": 21 * 53,
            "rows": 21,
            "segments": 21,
            "row_length_m": 1680,
            "mean_row_m": 80,
            "shortest_row_m": 80,
            "longest_row_m": 80,
            "short_rows": 0,
            "end_posts": 42,
            "line_posts": 21 * 13,
            "planted_share_pct": 100 * 1680 * 2.5 / 6000,
            "headland_share_pct": 20,
            "turns": 20,
            "travel_m": 1680 + 20 * 2.5,
            "idle_share_pct": 100 * 50 / 1730,
        }
    )


def test_a_pond_that_cuts_rows_by_hand():
    # Seven rows, at 22.5 to 37.5 m, are cut: 30 m below, 30 m above, 20 m of way between.
    # 1 m + 19 x 1.5 m + 0.5 m make 30 m: 20 vines and 4 line posts a piece.
    pond = Exclusion(shapely.box(21, 40, 39, 60))
    assert measured(exclusions=(pond,)) == approx(
        {
            "vines": 14 * 53 + 14 * 20,
            "rows": 21,
            "segments": 28,
            "row_length_m": 14 * 80 + 14 * 30,
            "mean_row_m": 1540 / 28,
            "shortest_row_m": 30,
            "longest_row_m": 80,
            "short_rows": 14,
            "end_posts": 56,
            "line_posts": 14 * 13 + 14 * 4,
            "planted_share_pct": 100 * 1540 * 2.5 / 6000,
            "headland_share_pct": 20,
            "turns": 27,
            "travel_m": 1540 + 20 * 2.5 + 7 * 20,
            "idle_share_pct": 100 * 190 / 1730,
        }
    )


def test_a_row_as_long_as_the_limit_is_not_short():
    for limit, short in ((80.0, 0), (80.01, 21)):
        assert measured(study=Study(short_row_m=limit))["short_rows"] == short


def two_blocks():
    """21 rows of 80 m, and beside them 21 rows of 40 m the other way, 2 m apart."""
    one = Block("B1", BOX, RULES)
    rules = RowRules(bearing_deg=90, row_spacing_m=2, headland_m=10, side_margin_m=5)
    return [lay_rows(b) for b in (one, Block("B2", shapely.box(100, 0, 160, 50), rules))]


def test_blocks_together_add_up_and_share_the_whole():
    # 40 m: 1 m + 25 x 1.5 m + 0.5 m make 39 m, 26 vines and 6 line posts.
    # Lines inside the outlines, of which 20 m each are headland: 25 of 100 m and 25 of 60 m.
    found = measures_of(two_blocks(), STUDY)
    assert found == approx(
        {
            "vines": 21 * 53 + 21 * 26,
            "rows": 42,
            "segments": 42,
            "row_length_m": 1680 + 840,
            "mean_row_m": 60,
            "shortest_row_m": 40,
            "longest_row_m": 80,
            "short_rows": 21,
            "end_posts": 84,
            "line_posts": 21 * 13 + 21 * 6,
            "planted_share_pct": 100 * (1680 * 2.5 + 840 * 2) / (6000 + 3000),
            "headland_share_pct": 100 * 25 * (20 + 20) / (25 * (100 + 60)),
            "turns": 40,
            "travel_m": 1680 + 840 + 20 * 2.5 + 20 * 2,
            "idle_share_pct": 100 * 90 / (2520 + 90),
        }
    )
    assert measures_of(two_blocks()[::-1], STUDY) == approx(found)


def test_the_headland_of_an_edge_with_a_width_of_its_own_counts_with_that():
    top = next(i for i, (a, b) in enumerate(_steps(BOX)) if a[1] == b[1] == 100)
    side = next(i for i, (a, b) in enumerate(_steps(BOX)) if a[0] == b[0] == 60)
    share = "headland_share_pct"
    assert measured(edge_widths=(EdgeWidth(0, top, 25.0),))[share] == approx(35)
    assert measured(edge_widths=(EdgeWidth(0, top, 0.0),))[share] == approx(10)
    assert measured(edge_widths=(EdgeWidth(0, side, 25.0),))[share] == approx(20)


def _steps(polygon):
    return list(pairwise(polygon.exterior.coords))


def test_a_side_margin_is_no_headland():
    slim = replace(RULES, headland_m=0.0, side_margin_m=20.0)
    assert measured(rules=slim)["headland_share_pct"] == approx(0)


def test_where_headlands_take_all_the_share_is_all():
    found = measured(shapely.box(0, 0, 60, 18))
    assert found["headland_share_pct"] == approx(100)
    assert found["vines"] == 0


@pytest.mark.parametrize("name", ["hole", "comb", "spiral", "star", "L", "needle"])
@pytest.mark.parametrize("bearing", [17.0, 63.0, 118.5])
def test_the_headland_share_is_what_lines_cut_by_polygons_give(name, bearing):
    # The same by shapely: row lines cut by the outline, and by the end edges grown to circles
    # of so many corners that 0.1 mm is missing.
    outline = ZOO[name]
    rules = replace(RULES, bearing_deg=bearing, headland_m=4, side_margin_m=1, min_row_m=2)
    plan = lay_rows(Block("B1", outline, rules))
    found = measures_of([plan], STUDY)["headland_share_pct"]
    strips = []
    for ring in (outline.exterior, *outline.interiors):
        for (x0, y0), (x1, y1) in _steps(shapely.Polygon(ring)):
            turn = (np.degrees(np.arctan2(x1 - x0, y1 - y0)) - bearing) % 180
            if 30 <= turn <= 150:
                strips.append(shapely.LineString([(x0, y0), (x1, y1)]).buffer(4, quad_segs=200))
    headland = shapely.union_all(strips)
    left = plan.extent_across_m[0] + plan.first_row_m
    far = 2 * max(np.abs(outline.bounds))
    across = left + 2.5 * np.arange(np.floor((-far - left) / 2.5), (far - left) / 2.5 + 1)
    ends = np.stack([np.stack([np.full(len(across), s * far), across], axis=1) for s in (-1, 1)], 1)
    lines = shapely.intersection(shapely.linestrings(plan.axes.to_plane(ends)), outline)
    wanted = (
        shapely.length(shapely.intersection(lines, headland)).sum() / shapely.length(lines).sum()
    )
    assert 0.5 < found < 100
    assert found == pytest.approx(100 * wanted, abs=0.01)


def test_curved_rows_that_hardly_bend_have_the_headland_of_straight_ones():
    guide = Guide(((30.0, -20.0), (30.4, 50.0), (30.0, 120.0)))
    curved, straight = measured(guide=guide), measured()
    assert curved["headland_share_pct"] == pytest.approx(straight["headland_share_pct"], abs=0.01)
    assert curved["travel_m"] == pytest.approx(straight["travel_m"], rel=0.05)


@pytest.mark.parametrize("name", sorted(ZOO))
def test_a_sweep_and_the_measures_tell_the_same(name):
    blocks = [Block("B1", ZOO[name], RowRules(headland_m=3, side_margin_m=1.5))]
    pond = (Exclusion(shapely.Point(25, 40), 6.0),)
    bearings = [0.0, 41.0, 90.0]
    swept = sweep(blocks, pond, None, bearings, short_row_m=30.0)
    for k, bearing in enumerate(bearings):
        plans = plans_at(blocks, pond, Candidate(bearing_deg=bearing), check=False)
        found = measures_of(plans, Study(short_row_m=30.0))
        assert {n: found[n] for n in SWEPT} == pytest.approx(
            {n: swept.values[n][k] for n in SWEPT}, rel=1e-9, abs=1e-5
        )


@pytest.mark.parametrize("seed", range(12))
def test_a_block_turned_with_its_bearing_has_the_same_measures(seed):
    rng = np.random.default_rng(seed)
    outline, angle = random_outline(rng), float(rng.uniform(0, 360))
    shape = shapely.box(-9, -6, 8, 7)
    rules = replace(RULES, bearing_deg=float(rng.uniform(0, 360)), min_row_m=3.3, headland_m=5)
    study = Study(wind_from_deg=200.0)
    turned_study = Study(wind_from_deg=(200.0 + angle) % 360)
    there = measured(outline, rules, (Exclusion(shape, 1.5),), study)
    back = replace(rules, bearing_deg=rules.bearing_deg + angle)
    pond = Exclusion(turned(shape, angle), 1.5)
    assert measured(turned(outline, angle), back, (pond,), turned_study) == pytest.approx(
        there, rel=1e-6, abs=1e-6
    )
    assert there["wind_angle_deg"] > 0


@pytest.mark.parametrize("bearing", [0.0, 18.0, 90.0, 211.7])
def test_rows_that_lie_on_edges_turn_as_well(bearing):
    # Row lines run along both sides of the outline and of the notch in it.
    notched = shapely.difference(BOX, shapely.box(20, 70, 40, 100))
    rules = replace(RULES, side_margin_m=2.5)
    found = measured(turned(notched, bearing), replace(rules, bearing_deg=bearing))
    assert found == pytest.approx(measured(notched, rules), rel=1e-6)


def test_the_angle_to_the_wind_is_a_mean_over_the_length_of_rows():
    # 1680 m at 20 degrees to a wind from 200, 840 m at 70.
    found = measures_of(two_blocks(), Study(wind_from_deg=200.0))
    assert found["wind_angle_deg"] == approx((1680 * 20 + 840 * 70) / 2520)
    for wind in (0, 180, 360):
        assert measured(study=Study(wind_from_deg=wind))["wind_angle_deg"] == approx(0)
    assert measured(study=Study(wind_from_deg=270))["wind_angle_deg"] == approx(90)


def test_curved_rows_meet_the_wind_from_end_to_end_of_their_guide_line():
    guide = Guide(((0.0, 40.0), (30.0, 55.0), (60.0, 40.0)))
    found = measured(study=Study(wind_from_deg=60), guide=guide)
    assert found["wind_angle_deg"] == approx(30)


def test_posts_cost_what_the_prices_say():
    prices = Prices(end_assembly=38.5, line_post=6.25)
    assert measured(study=Study(prices=prices))["posts_cost"] == approx(42 * 38.5 + 273 * 6.25)
    free = Prices(end_assembly=0.0, line_post=0.0)
    assert measured(study=Study(prices=free))["posts_cost"] == 0


@pytest.mark.parametrize("prices", [Prices(end_assembly=38.5), Prices(line_post=6.25)])
def test_half_a_price_list_gives_no_cost(prices):
    assert "posts_cost" not in measured(study=Study(prices=prices))


def test_only_what_can_be_known_is_told():
    found = measured()
    assert set(found) == {name for name, m in MEASURES.items() if not m.needs}
    assert list(found) == [name for name in MEASURES if name in found]


@pytest.mark.parametrize(
    "outline",
    [shapely.box(0, 0, 5, 5), shapely.box(0, 0, 60, 30), None],
    ids=["no ground left", "all rows too short", "no block"],
)
def test_a_plan_without_a_vine_is_counted_without_a_warning(outline):
    study = Study(wind_from_deg=30, prices=Prices(end_assembly=1.0, line_post=1.0))
    plans = [] if outline is None else [lay_rows(Block("B1", outline, RULES))]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = measures_of(plans, study)
    assert np.isfinite(list(found.values())).all()
    nothing = ("vines", "rows", "segments", "row_length_m", "end_posts", "turns", "travel_m")
    assert [found[name] for name in nothing] == [0] * len(nothing)
    assert "wind_angle_deg" not in found


def test_a_plan_without_a_vine_beside_another_changes_sums_only():
    empty = lay_rows(Block("B2", shapely.box(100, 0, 105, 20), RULES))
    study = Study(wind_from_deg=30)
    alone, both = (
        measures_of([lay_rows(Block("B1", BOX, RULES)), *e], study) for e in ([], [empty])
    )
    changed = {name for name in alone if both[name] != approx(alone[name])}
    assert changed == {"planted_share_pct", "headland_share_pct"}


def test_alleys_take_no_ground_from_the_headland():
    cut = replace(RULES, alleys=(Alley(30.0, 50.0, 6.0),))
    found = measured(rules=cut)
    assert found["headland_share_pct"] == approx(20)
    assert found["row_length_m"] == approx(21 * 74)


def test_a_percentile_is_of_metres_and_not_of_samples():
    grades, metres = np.array([20.0, 1.0, 2.0]), np.array([4.0, 60.0, 36.0])
    assert percentile_by_weight(grades, metres, 0.95) == 2.0
    assert percentile_by_weight(grades, metres, 0.96) == 2.0
    assert percentile_by_weight(grades, metres, 0.97) == 20.0
    assert percentile_by_weight(grades, np.ones(3), 0.95) == 20.0
    assert percentile_by_weight(grades, metres, 0.6) == 1.0
