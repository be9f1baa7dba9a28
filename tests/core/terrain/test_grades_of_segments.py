"""Grades of single segments: which way they point, how densely they are sampled, what is not known."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Guide, RowRules
from layoutdesk.core.terrain.grades import mean_gradient, row_grades
from layoutdesk.core.terrain.relief import slope_and_aspect
from layoutdesk.core.terrain.surface import surface_of_points
from tests.core.terrain.test_surface import bumpy, grid, plane

BOX = shapely.box(30, 30, 260, 170)


def test_the_same_rows_walked_the_other_way_have_the_opposite_grades():
    # Ten row spacings of width between the side margins: both ways the same lines are rows.
    outline = shapely.box(100, 30, 100 + 24 + 2 * 3, 170)
    surface = grid(bumpy)
    there, back = (
        row_grades(lay_rows(Block("B1", outline), RowRules(bearing_deg=b)), surface)
        for b in (0.0, 180.0)
    )
    assert len(there.mean_pct) == 11
    for name in ("along_pct", "across_pct"):
        turned = -getattr(back, name)[::-1]
        assert getattr(there, name) == pytest.approx(turned, abs=1e-6)
        assert np.ptp(getattr(there, name)) > 5
    assert there.mean_pct == pytest.approx(-back.mean_pct[::-1], abs=1e-6)
    assert there.ground_length_m == pytest.approx(back.ground_length_m[::-1], abs=1e-6)


def test_rows_round_a_cone_tilt_and_do_not_climb():
    # A cone that falls 15 % outwards; rows are circles about its top, walked with it at the right.
    turn = np.radians(np.arange(180.0, 271.0, 3.0))
    guide = np.column_stack([200 + 120 * np.cos(turn[::-1]), 200 + 120 * np.sin(turn[::-1])])
    surface = grid(lambda x, y: 100 - 0.15 * np.hypot(x - 200, y - 200), 250, 250, 1.0)
    block = Block(
        "B1", shapely.box(60, 60, 190, 190), RowRules(), guide=Guide(tuple(map(tuple, guide)))
    )
    grades = row_grades(lay_rows(block), surface)
    assert len(grades.along_pct) > 1000
    assert grades.along_pct == pytest.approx(0.0, abs=0.6)  # guide lines of chords, cells of 1 m
    assert grades.across_pct == pytest.approx(15.0, abs=0.3)


def test_samples_stand_no_farther_apart_than_the_machine_is_long():
    plan = lay_rows(Block("B1", BOX), RowRules())
    coarse = grid(plane, columns=10, rows=10, cell=30.0)
    grades = row_grades(plan, coarse, machine_length_m=4.0)
    assert grades.weight_m.max() <= 4.0
    assert grades.weight_m.min() > 3.0
    per = np.bincount(grades.segment, grades.weight_m)
    assert per == pytest.approx(plan.segments.length_m)


def test_a_segment_without_heights_is_not_called_level():
    surface = grid(plane, hole=(slice(None), slice(0, 20)))
    plan = lay_rows(Block("B1", BOX), RowRules())
    grades = row_grades(plan, surface)
    x = plan.segment_ends_m[:, 0, 0]
    unknown, half_known = x < 102.5, x < 102.5 + 0.75  # the left wheels are still over nothing
    assert 0 < unknown.sum() < half_known.sum() < len(x)
    assert (np.isnan(grades.mean_pct) == unknown).all()
    assert (np.isnan(grades.height_range_m) == unknown).all()
    assert (np.isnan(grades.steepest_pct) == half_known).all()
    length = plan.segments.length_m
    assert grades.ground_length_m[unknown] == pytest.approx(length[unknown])
    assert grades.unknown_m == pytest.approx(length[half_known].sum())


def test_marks_have_the_heights_of_the_ground_and_none_beyond_it():
    plan = lay_rows(Block("B1", BOX), RowRules())
    z = grid(plane).heights_m(plan.vines.xy_m)
    assert z == pytest.approx(plane(*plan.vines.xy_m.T), abs=1e-9)
    assert np.isnan(grid(plane).heights_m(np.array([[-500.0, 0.0]]))).all()


def test_a_small_block_on_coarse_heights_still_has_a_slope():
    coarse = grid(plane, columns=6, rows=6, cell=90.0)
    small = shapely.box(200, 200, 240, 230)
    assert mean_gradient(coarse, small) == pytest.approx((0.10, 0.05), abs=1e-9)
    triangles = surface_of_points(np.array([[0, 0, 0], [900, 0, 90], [0, 900, 45.0]]))
    assert mean_gradient(triangles, small) == pytest.approx((0.10, 0.05), abs=1e-9)


def test_level_ground_falls_nowhere():
    slope, aspect = slope_and_aspect(np.full((4, 5), 7.0), 2.0)
    assert (slope == 0).all()
    assert np.isnan(aspect).all()
