"""Measures on slopes that are known, and under the sun."""

from __future__ import annotations

import math
import warnings
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.compare.catalogue import MEASURES
from layoutdesk.core.compare.measures import measures_of
from layoutdesk.core.compare.sun import face_sun, sun_path
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Canopy, Exclusion, Guide, Prices, RowRules, Study
from layoutdesk.core.terrain.grades import mean_gradient
from tests.zoo import turned

BOX = shapely.box(0, 0, 60, 100)
RULES = RowRules(row_spacing_m=2.5, headland_m=10, side_margin_m=5)
STUDY = Study(grade_along_pct=6.0, grade_across_pct=6.0)
TERRAIN = {name for name, m in MEASURES.items() if m.needs == "terrain"}
SUN = {name for name, m in MEASURES.items() if m.needs == "sun"}


class Heights:
    """Ground whose height is a formula of x and y, known everywhere it gives a number."""

    spacing_m = 2.0
    bounds_m = (-500.0, -500.0, 500.0, 500.0)

    def __init__(self, formula):
        self.formula = formula

    def heights_m(self, xy_m):
        return self.formula(xy_m[:, 0], xy_m[:, 1])


def plane(grade_pct: float, uphill_deg: float) -> Heights:
    east, north = math.sin(math.radians(uphill_deg)), math.cos(math.radians(uphill_deg))
    return Heights(lambda x, y: 100 + grade_pct / 100 * (east * x + north * y))


def rows_at(bearing_deg: float = 0.0, **more):
    """21 rows of 80 m at any bearing: the box is turned with them."""
    rules = replace(RULES, bearing_deg=bearing_deg)
    return lay_rows(Block("B1", turned(BOX, bearing_deg), rules), **more)


def on_ground(plans, surface, study=STUDY, sun=None):
    found = measures_of(plans if isinstance(plans, list) else [plans], study, surface, sun)
    return {name: value for name, value in found.items() if name in TERRAIN}


@pytest.mark.parametrize("bearing", [0.0, 25.0, 60.0, 105.0, 150.0, 240.0, 331.0])
def test_a_plane_is_climbed_by_the_cosine_and_tilts_by_the_sine(bearing):
    turn = math.radians(bearing - 60.0)
    along, across = abs(10 * math.cos(turn)), abs(10 * math.sin(turn))
    assert on_ground(rows_at(bearing), plane(10.0, 60.0)) == pytest.approx(
        {
            "grade_along_max_pct": along,
            "grade_along_p95_pct": along,
            "grade_across_max_pct": across,
            "grade_across_p95_pct": across,
            "steep_along_m": 1680 if along > 6 else 0,
            "steep_across_m": 1680 if across > 6 else 0,
            "ground_length_m": 1680 * math.hypot(1, along / 100),
            "drop_max_m": 0.8 * along,
            "drop_p95_m": 0.8 * along,
            "height_unknown_m": 0,
        },
        rel=1e-6,
        abs=1e-6,
    )


def test_a_hundred_metres_at_twenty_percent_take_101_980_of_wire():
    # Computed from the definition: 100 times the root of 1.04.
    found = on_ground(rows_at(), plane(20.0, 0.0))
    assert found["ground_length_m"] / 1680 * 100 == pytest.approx(101.980, abs=5e-4)


def steep_right_of(x_m: float) -> Heights:
    return Heights(lambda x, y: np.where(x > x_m, 0.12 * y, 0.02 * y))


@pytest.mark.parametrize("steep_rows", [0, 1, 2, 3])
def test_five_of_a_hundred_metres_may_be_steeper_than_the_percentile(steep_rows):
    # Rows stand at 5, 7.5, ... 55 m: one of 21 is 4.8 % of the length, two are 9.5 %.
    found = on_ground(rows_at(), steep_right_of(56.25 - 2.5 * steep_rows))
    assert found["grade_along_max_pct"] == pytest.approx(12 if steep_rows else 2)
    assert found["grade_along_p95_pct"] == pytest.approx(12 if steep_rows > 1 else 2)
    assert found["steep_along_m"] == pytest.approx(80 * steep_rows)
    assert found["drop_max_m"] == pytest.approx(9.6 if steep_rows else 1.6)
    assert found["drop_p95_m"] == pytest.approx(9.6 if steep_rows > 1 else 1.6)


def test_the_percentile_is_over_metres_where_many_rows_are_short():
    # 21 rows of 80 m on 2 %, and 21 of 3 m on 12 %: a fifth of the places looked at, with heights
    # and axles 20 m apart, but 63 of 1743 m.
    stubs = lay_rows(Block("B2", shapely.box(100, 0, 160, 23), replace(RULES, min_row_m=3.0)))
    assert stubs.segments.length_m == pytest.approx(3)
    surface = steep_right_of(80)
    surface.spacing_m = 20.0
    found = on_ground([rows_at(), stubs], surface, replace(STUDY, machine_length_m=20.0))
    assert found["grade_along_max_pct"] == pytest.approx(12)
    assert found["grade_along_p95_pct"] == pytest.approx(2)
    assert found["steep_along_m"] == pytest.approx(63)
    # Height ranges are over segments: half of these climb 0.36 m, half 1.6 m.
    assert found["drop_max_m"] == found["drop_p95_m"] == pytest.approx(1.6)


def test_both_blocks_count_with_their_metres():
    up = rows_at()  # 1680 m
    rules = RowRules(bearing_deg=90, row_spacing_m=2, headland_m=10, side_margin_m=5)
    along = lay_rows(Block("B2", shapely.box(100, 0, 160, 50), rules))  # 840 m on the contour
    found = on_ground([up, along], plane(10.0, 0.0))
    assert found["steep_along_m"] == pytest.approx(1680)
    assert found["steep_across_m"] == pytest.approx(840)
    assert found["grade_along_p95_pct"] == found["grade_along_max_pct"] == pytest.approx(10)
    assert found["ground_length_m"] == pytest.approx(1680 * math.hypot(1, 0.1) + 840)
    assert found["drop_max_m"] == pytest.approx(8)


def test_where_heights_are_not_known_grades_leave_rows_out():
    # The right wheels of the row at 30 m and all of those beyond it stand on nothing known.
    half = Heights(lambda x, y: np.where(x < 30.5, 0.1 * y, np.nan))
    found = on_ground(rows_at(), half)
    assert found["height_unknown_m"] == pytest.approx(11 * 80)
    assert found["steep_along_m"] == pytest.approx(10 * 80)
    assert found["grade_along_max_pct"] == pytest.approx(10)
    # The row at 30 m itself has heights; the ten beyond are counted in plan.
    assert found["ground_length_m"] == pytest.approx(11 * 80 * math.hypot(1, 0.1) + 10 * 80)


def test_where_no_height_is_known_only_that_is_told():
    nowhere = Heights(lambda x, y: np.full(len(x), np.nan))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert on_ground(rows_at(), nowhere) == pytest.approx({"height_unknown_m": 1680})


def test_a_slope_turned_with_the_block_is_as_steep():
    pond = shapely.box(21, 40, 39, 60)

    def at(turn: float):
        rules = replace(RULES, bearing_deg=turn + 13)
        block = Block("B1", turned(BOX, turn), rules)
        plan = lay_rows(block, exclusions=(Exclusion(turned(pond, turn), 1.0),))
        return on_ground(plan, plane(9.0, turn + 70))

    assert at(123.4) == pytest.approx(at(0.0), rel=1e-6, abs=1e-6)


# Sun ------------------------------------------------------------------------------------------

SKY = sun_path(-34.9, 138.7, STUDY.season, 60.0)


def sun_of(plans, surface=None, study=STUDY):
    found = measures_of(plans, study, surface, SKY)
    return {name: value for name, value in found.items() if name in SUN}


def faces(bearing, spacing, gradient=(0.0, 0.0)):
    found = face_sun(SKY, [bearing], spacing, STUDY.canopy, STUDY.season, gradient)
    return {name: float(value[0]) for name, value in found.items()}


def test_each_block_has_sun_by_its_own_bearing_spacing_and_slope():
    rules = RowRules(bearing_deg=90, row_spacing_m=2, headland_m=10, side_margin_m=5)
    plans = [rows_at(), lay_rows(Block("B2", shapely.box(100, 0, 160, 50), rules))]
    # A roof: the first block falls to the west, the second to the east.
    roof = Heights(lambda x, y: np.where(x < 80, 0.2 * x, 32 - 0.2 * x))
    assert mean_gradient(roof, BOX) == pytest.approx((0.2, 0.0), abs=1e-9)
    for surface, slopes in ((None, [(0, 0), (0, 0)]), (roof, [(0.2, 0), (-0.2, 0)])):
        first, second = faces(0, 2.5, slopes[0]), faces(90, 2.0, slopes[1])
        wanted = {name: (1680 * first[name] + 840 * second[name]) / 2520 for name in SUN}
        assert sun_of(plans, surface) == pytest.approx(wanted)
        assert first != pytest.approx(second, rel=0.01)


def test_rows_walked_the_other_way_have_left_and_right_exchanged():
    there, back = sun_of([rows_at(20.0)]), sun_of([rows_at(200.0)])
    for unit in ("h", "mj_m2"):
        assert there[f"sun_left_{unit}"] == pytest.approx(back[f"sun_right_{unit}"])
        assert there[f"sun_left_{unit}"] != pytest.approx(there[f"sun_right_{unit}"], rel=0.01)
    same = SUN - {f"sun_{side}_{unit}" for side in ("left", "right") for unit in ("h", "mj_m2")}
    assert {n: there[n] for n in same} == pytest.approx({n: back[n] for n in same})


def test_curved_rows_have_the_sun_of_a_line_from_end_to_end_of_their_guide():
    guide = Guide(((0.0, 40.0), (30.0, 55.0), (60.0, 40.0)))
    assert sun_of([lay_rows(Block("B1", BOX, RULES, guide=guide))]) == pytest.approx(faces(90, 2.5))


def test_a_hedge_wider_than_the_rows_are_apart_has_no_sun_measures():
    close = replace(RULES, row_spacing_m=1.0)
    plan = lay_rows(Block("B1", BOX, close))
    assert not sun_of([plan, rows_at()], study=Study(canopy=Canopy(width_m=1.0)))
    assert sun_of([plan, rows_at()], study=Study(canopy=Canopy(width_m=0.9)))


def test_with_everything_known_every_measure_is_told_in_order():
    study = replace(STUDY, wind_from_deg=30.0, prices=Prices(end_assembly=40, line_post=6))
    found = measures_of([rows_at()], study, plane(10, 0), SKY)
    assert list(found) == list(MEASURES)
    assert all(type(value) is float and math.isfinite(value) for value in found.values())


@pytest.mark.parametrize("outline", [shapely.box(0, 0, 5, 5), shapely.box(0, 0, 60, 30)])
def test_ground_and_sun_of_no_rows_are_not_told_and_warn_of_nothing(outline):
    plan = lay_rows(Block("B1", outline, RULES))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = measures_of([plan], STUDY, plane(10, 0), SKY)
        beside = measures_of([plan, rows_at()], STUDY, plane(10, 0), SKY)
    assert not (TERRAIN | SUN) & set(found)
    assert set(beside) >= TERRAIN | SUN
    assert beside["grade_along_max_pct"] == pytest.approx(10)
