"""Grades along and across rows: exact on planes, with their signs, and honest where nothing is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Guide, RowRules
from layoutdesk.core.terrain.checks import terrain_findings
from layoutdesk.core.terrain.grades import row_grades
from tests.core.terrain.test_surface import bumpy, grid, plane

BOX = shapely.box(30, 30, 260, 170)


@pytest.mark.parametrize("bearing", [0.0, 33.0, 90.0, 155.0, 213.0])
def test_on_a_plane_every_grade_is_the_plane_s(bearing):
    plan = lay_rows(Block("B1", BOX), RowRules(bearing_deg=bearing))
    grades = row_grades(plan, grid(plane))
    b = math.radians(bearing)
    along = 100 * (0.10 * math.sin(b) + 0.05 * math.cos(b))
    across = 100 * (0.10 * math.cos(b) - 0.05 * math.sin(b))
    assert grades.along_pct == pytest.approx(along, abs=1e-6)
    assert grades.across_pct == pytest.approx(across, abs=1e-6)
    assert grades.mean_pct == pytest.approx(along, abs=1e-6)
    assert grades.steepest_pct == pytest.approx(abs(along), abs=1e-6)
    assert grades.weight_m.sum() == pytest.approx(plan.row_length_m)
    length = plan.segments.length_m
    assert grades.ground_length_m == pytest.approx(length * math.hypot(1, along / 100))
    assert grades.height_range_m == pytest.approx(length * abs(along) / 100)
    assert grades.unknown_m == 0


def test_a_slope_of_a_fifth_makes_a_hundred_metres_101_980():
    # 100 m up a slope of 20 %: sqrt(1 + 0.2²), by definition.
    surface = grid(lambda x, y: 0.2 * y + 0 * x)
    plan = lay_rows(Block("B1", shapely.box(20, 20, 60, 136)), RowRules(side_margin_m=2.0))
    assert plan.segments.length_m == pytest.approx(100.0)
    assert row_grades(plan, surface).ground_length_m == pytest.approx(101.980, abs=5e-4)


def test_walking_the_other_way_turns_the_signs():
    surface = grid(bumpy)
    there = row_grades(lay_rows(Block("B1", BOX), RowRules(bearing_deg=40.0)), surface)
    back = row_grades(lay_rows(Block("B1", BOX), RowRules(bearing_deg=220.0)), surface)
    for name in ("along_pct", "across_pct"):
        a, b = getattr(there, name), getattr(back, name)
        # Row 1 is flush with the other side, so rows differ; the spread of grades does not.
        assert np.percentile(a, [5, 50, 95]) == pytest.approx(
            -np.percentile(b, [95, 50, 5]), abs=0.25
        )


def test_a_grade_is_told_over_the_machine_and_not_over_a_bump():
    def step(x, y):
        return np.where(y > 100, 1.0, 0.0) + 0 * x

    plan = lay_rows(Block("B1", BOX), RowRules())
    surface = grid(step, columns=600, rows=400, cell=0.5)
    short = np.abs(row_grades(plan, surface, machine_length_m=2.0).along_pct).max()
    long = np.abs(row_grades(plan, surface, machine_length_m=8.0).along_pct).max()
    assert short == pytest.approx(50.0, rel=0.01)
    assert long == pytest.approx(12.5, rel=0.01)


def test_rows_over_unknown_ground_are_left_out_and_found():
    surface = grid(plane, hole=(slice(10, 20), slice(10, 30)))
    plan = lay_rows(Block("B1", BOX), RowRules())
    grades = row_grades(plan, surface)
    assert 0 < grades.unknown_m < plan.row_length_m
    assert grades.weight_m.sum() + grades.unknown_m == pytest.approx(plan.row_length_m)
    assert grades.along_pct == pytest.approx(5.0, abs=1e-6)
    (hole,) = terrain_findings((plan,), surface)
    assert hole.code == "terrain-no-data"
    assert hole.lengths_m[0] == pytest.approx(grades.unknown_m, rel=0.1)
    wide = lay_rows(Block("B2", shapely.box(200, 30, 420, 170)), RowRules())
    (outside,) = terrain_findings((wide,), grid(plane))
    assert outside.code == "terrain-outside"
    assert outside.place[0] > 297
    assert terrain_findings((plan,), grid(plane)) == ()


def test_curved_rows_climb_where_they_turn_uphill():
    guide = Guide(((40.0, 40.0), (140.0, 50.0), (250.0, 160.0)))
    plan = lay_rows(Block("B1", BOX, RowRules(), guide=guide))
    grades = row_grades(plan, grid(lambda x, y: 0.1 * y + 0 * x))
    steep = np.abs(grades.along_pct)
    assert steep.min() < 3.0
    assert steep.max() > 6.0
    assert (np.hypot(grades.along_pct, grades.across_pct) == pytest.approx(10.0, abs=0.2)) is True


def test_a_block_without_rows_has_no_grades():
    plan = lay_rows(Block("B1", shapely.box(30, 30, 40, 40)), RowRules())
    grades = row_grades(plan, grid(plane))
    assert len(grades.along_pct) == len(grades.mean_pct) == 0
