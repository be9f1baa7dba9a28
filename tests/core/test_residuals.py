"""How far measured points are off: against a way that takes one point at a time, and however the site is turned."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, Guide, PointChoice, RowRules
from layoutdesk.core.model.handoff import POINT_KINDS
from layoutdesk.core.staking.points import point_set
from layoutdesk.core.staking.residuals import directions, figures, histogram, residuals

RULES = RowRules(
    bearing_deg=33.0, row_spacing_m=3.0, vine_spacing_m=1.5, line_post_every=4, anchor_m=1.2
)
POND = Exclusion(shapely.Point(60, 70).buffer(10), 3.0, "Pond", "pond")
EVERYTHING = PointChoice(kinds=POINT_KINDS[1:])


def laid(turn_deg=0.0, shift=(0.0, 0.0)):
    """A plan and its exclusion, turned clockwise about the origin and shifted."""

    def moved(shape):
        return shapely.affinity.translate(
            shapely.affinity.rotate(shape, -turn_deg, origin=(0, 0)), *shift
        )

    block = Block("B1", moved(shapely.box(0, 0, 110, 140)), RULES)
    pond = replace(POND, shape=moved(POND.shape))
    rules = replace(RULES, bearing_deg=(RULES.bearing_deg + turn_deg) % 360)
    return lay_rows(replace(block, rules=rules), rules, [pond]), pond


def test_along_and_across_are_those_of_a_slow_way_point_by_point():
    plan, pond = laid()
    points = point_set([plan], [pond], EVERYTHING).all()
    rng = np.random.default_rng(1)
    measured = points.xy_m + rng.normal(0, 0.5, points.xy_m.shape)
    found = residuals(points.xy_m, measured, directions([plan], points))
    bearing = math.radians(RULES.bearing_deg)
    for i in range(len(points)):
        dx, dy = measured[i] - points.xy_m[i]
        in_row = POINT_KINDS[points.kind[i]] in ("end_post", "line_post", "anchor", "vine")
        b = bearing if in_row else 0.0
        along = dx * math.sin(b) + dy * math.cos(b)
        right = dx * math.cos(b) - dy * math.sin(b)
        assert found.along_m[i] == pytest.approx(along, abs=1e-9)
        assert found.across_m[i] == pytest.approx(right, abs=1e-9)
        assert found.distance_m[i] == pytest.approx(math.hypot(dx, dy), abs=1e-12)


def test_in_a_curved_row_along_is_the_rows_own_direction_there():
    radius = 80.0
    angle = np.radians(np.linspace(180, 90, 60))
    guide = Guide(
        tuple(map(tuple, (radius * np.column_stack([np.cos(angle), np.sin(angle)])).tolist()))
    )
    block = Block("B1", shapely.Point(0, 0).buffer(105).difference(shapely.Point(0, 0).buffer(60)))
    quarter = shapely.box(-110, 0, 0, 110)
    block = replace(block, outline=shapely.intersection(block.outline, quarter), guide=guide)
    rules = replace(RULES, bearing_deg=0.0)
    plan = lay_rows(replace(block, rules=rules), rules, [])
    assert plan.course is not None
    assert plan.n_vines > 500
    points = point_set([plan], [], PointChoice(kinds=("end_post", "anchor", "vine"))).all()
    step = directions([plan], points)
    # Rows are circles about the origin that run clockwise: a quarter turn to the right of outward.
    outward = points.xy_m / np.hypot(*points.xy_m.T)[:, None]
    expected = np.column_stack([outward[:, 1], -outward[:, 0]])
    off_deg = np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", step, expected), -1, 1)))
    # An anchor stands on its end's tangent, 1.2 m out: up to 1.2 m / 63 m = 1.1 degrees.
    is_anchor = points.kind == POINT_KINDS.index("anchor")
    assert off_deg[~is_anchor].max() < 0.8
    assert off_deg[is_anchor].max() < 1.8
    assert np.allclose(np.hypot(*step.T), 1.0)


@settings(max_examples=25, deadline=None)
@given(
    turn_deg=st.floats(-180, 180),
    east=st.floats(-800, 800),
    north=st.floats(-800, 800),
    seed=st.integers(0, 10_000),
)
def test_turning_and_moving_site_and_measurement_together_changes_nothing(
    turn_deg, east, north, seed
):
    plan, _ = laid()
    points = point_set([plan], [], PointChoice(kinds=("end_post", "vine"))).all()
    step = np.random.default_rng(seed).normal(0, 0.3, points.xy_m.shape)
    before = residuals(points.xy_m, points.xy_m + step, directions([plan], points))
    a = math.radians(turn_deg)
    turn = np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])  # clockwise
    bearing = math.radians(plan.rules.bearing_deg + turn_deg)
    direction = np.tile([math.sin(bearing), math.cos(bearing)], (len(points), 1))
    planned = points.xy_m @ turn.T + (east, north)
    after = residuals(planned, (points.xy_m + step) @ turn.T + (east, north), direction)
    assert np.allclose(after.along_m, before.along_m, atol=1e-9)
    assert np.allclose(after.across_m, before.across_m, atol=1e-9)
    assert np.allclose(after.distance_m, before.distance_m, atol=1e-9)


def test_a_plan_that_is_laid_out_turned_has_the_same_residuals():
    plain, pond = laid()
    turned, turned_pond = laid(57.0, (400.0, -120.0))
    for plan, exclusion in ((plain, pond), (turned, turned_pond)):
        points = point_set([plan], [exclusion], PointChoice(kinds=("end_post",))).all()
        step = directions([plan], points)
        right = np.column_stack([step[:, 1], -step[:, 0]])
        found = residuals(points.xy_m, points.xy_m + 0.03 * step - 0.01 * right, step)
        assert np.allclose(found.along_m, 0.03)
        assert np.allclose(found.across_m, -0.01)


def test_bars_hold_every_point_once_and_end_at_round_distances():
    rng = np.random.default_rng(3)
    distance = np.concatenate([np.abs(rng.normal(0, 0.03, 5000)), [2.41], [0.0, 0.03]])
    found = histogram(distance, 0.03)
    assert found.count.sum() == len(distance)
    assert (np.diff(found.edge_m) > 0).all()
    assert found.edge_m[-1] > 2.41
    assert np.isclose(found.edge_m, 0.03).any()  # the tolerance is an edge
    expected, _ = np.histogram(distance, found.edge_m)
    assert found.count.tolist() == expected.tolist()
    assert np.allclose(found.edge_m * 1000, np.round(found.edge_m * 1000))


def test_figures_are_of_what_is_known():
    heights = np.array([[10.0, 10.02], [10.0, np.nan], [10.0, 9.98], [10.0, 10.04]])
    offsets = np.array([[0.03, 0.04], [0.0, 0.0], [0.06, 0.08], [0.0, 0.01]])
    found = residuals(np.zeros((4, 2)), offsets, np.tile([0.0, 1.0], (4, 1)), heights)
    told = figures(found)
    assert told.rms_m == pytest.approx(math.sqrt((0.05**2 + 0.1**2 + 0.01**2) / 4))
    assert told.worst_m == pytest.approx(0.1)
    assert told.most_95_m == pytest.approx(0.1)
    assert told.mean_along_m == pytest.approx(0.0325)
    assert told.mean_across_m == pytest.approx(0.0225)
    assert told.n_heights == 3
    assert told.mean_height_m == pytest.approx(0.04 / 3)
