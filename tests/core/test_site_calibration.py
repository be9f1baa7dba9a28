"""A site calibration: when it stands, when it is refused, and what a bad one is said to look like."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model import ControlPoint
from layoutdesk.core.model.handoff import Calibration
from layoutdesk.core.staking.calibration import calibrate
from layoutdesk.core.staking.looking_like import FOOT_M, US_SURVEY_FOOT_M, GridFacts

_KNOWN = np.array([[0, 0], [600, 40], [560, 480], [-20, 430], [280, 240]], float)
_FAR = np.array([648_400.0, 6_184_300.0])
_BOTH, _ALL = Calibration("shift and turn"), Calibration("shift, turn and scale")
_GRID = GridFacts(1.0, 0.99961, -0.85)


def _points(turn=0.0, scale=1.0, shift=(0.2, -0.1), noise=0.005, n=5, at=_FAR, heights=None):
    rng = np.random.default_rng(3)
    known = _KNOWN[:n]
    t = math.radians(turn)
    turned = known @ np.array([[math.cos(t), -math.sin(t)], [math.sin(t), math.cos(t)]])
    measured = scale * turned + shift + rng.normal(0, noise, known.shape)
    up = [None] * n if heights is None else heights
    return [
        ControlPoint(
            f"K{i + 1}",
            *(k + at).tolist(),
            None if z is None else 100.0,
            *(m + at).tolist(),
            z,
        )
        for i, (k, m, z) in enumerate(zip(known, measured, up, strict=True))
    ]


def _off(points, at, east=0.0, north=0.0):
    p = points[at]
    moved = replace(
        p,
        measured_easting=p.measured_easting + east,
        measured_northing=p.measured_northing + north,
    )
    return [*points[:at], moved, *points[at + 1 :]]


def test_good_control_stands_and_says_what_it_does():
    found = calibrate(_points(turn=0.01), _BOTH, _GRID)
    assert found.stands
    assert not found.findings
    assert found.plan.turn_deg == pytest.approx(0.01, abs=0.002)
    assert found.plan.shift_m == pytest.approx((0.24, -0.15), abs=0.02)
    assert np.hypot(*found.residual_m.T).max() < 0.02


def test_a_wrong_point_is_named_and_what_the_others_fit_within():
    found = calibrate(_off(_points(), 2, north=0.30), _BOTH, _GRID)
    assert "K3 is " in found.refused
    assert "without K3 the others fit within" in found.refused
    assert [f.code for f in found.findings] == ["calibration-refused"]
    left_out = _off(_points(), 2, north=0.30)
    left_out[2] = replace(left_out[2], in_plan=False)
    again = calibrate(left_out, _BOTH, _GRID)
    assert again.stands
    assert np.hypot(*again.residual_m[2]) == pytest.approx(0.30, abs=0.02)  # still told, as a check


def test_a_wrong_one_of_three_is_not_named_where_any_may_be_it():
    triangle = [_points()[i] for i in (0, 1, 3)]
    found = calibrate(_off(triangle, 2, east=0.02, north=0.08), _BOTH, _GRID)
    assert "without K" not in found.refused or "cannot be told" in found.refused
    assert "measure" in found.refused.lower()


@pytest.mark.parametrize(
    ("moves", "n", "words"),
    [
        ("shift", 0, "1 control point is needed"),
        ("shift and turn", 1, "2 control points are needed"),
        ("shift, turn and scale", 1, "there is 1"),
    ],
)
def test_too_few_points_say_how_many(moves, n, words):
    assert words in calibrate(_points(n=n), Calibration(moves), _GRID).refused


def test_two_points_at_one_place_are_named():
    points = _points(n=3)
    points[1] = replace(points[1], easting=points[0].easting, northing=points[0].northing + 0.1)
    refused = calibrate(points, _BOTH, _GRID).refused
    assert refused.startswith("Control points K1 and K2 stand at one place by their known")


def test_ground_measured_for_grid_is_recognised_by_its_scale():
    found = calibrate(_points(scale=1 / _GRID.combined_factor), _BOTH, _GRID)
    assert "the measured coordinates look like those on the ground" in found.refused
    taken = calibrate(_points(scale=1 / _GRID.combined_factor), _ALL, _GRID)
    assert taken.stands
    assert taken.ppm == pytest.approx(390, abs=30)


def test_metres_measured_where_the_grid_has_feet_are_recognised():
    points = _points(scale=FOOT_M, noise=0.001)
    assert "feet among the known and metres" in calibrate(points, _ALL, _GRID).refused
    assert "feet among the known and metres" in calibrate(points, _BOTH, _GRID).refused


def test_exchanged_axes_are_recognised():
    points = [
        replace(p, measured_easting=p.measured_northing, measured_northing=p.measured_easting)
        for p in _points()
    ]
    assert "exchanged" in calibrate(points, _BOTH, _GRID).refused


def test_true_north_for_grid_north_is_recognised_as_the_convergence():
    points = _points(turn=_GRID.convergence_deg, noise=0.002)
    assert "the convergence" in calibrate(points, Calibration("shift"), _GRID).refused
    assert calibrate(points, _BOTH, _GRID).stands


def test_one_foot_for_the_other_is_told_though_the_fit_is_good():
    """2 parts in a million are 1.3 m E and 12.4 m N here, and 1 mm in the lengths between the points."""
    both = np.array([[p.easting, p.northing] for p in _points()])
    scale = US_SURVEY_FOOT_M / FOOT_M
    points = [
        replace(p, measured_easting=m[0], measured_northing=m[1])
        for p, m in zip(_points(), both * scale, strict=True)
    ]
    found = calibrate(points, _BOTH, _GRID)
    assert found.stands
    assert [f.code for f in found.findings] == ["hand-off-unit"]
    assert "US survey feet taken for feet" in found.findings[0].message
    assert not calibrate(_points(shift=(1.3, 12.0)), _BOTH, _GRID).findings  # near, but not it


def test_a_scale_no_two_surveys_differ_by_is_refused():
    found = calibrate(_points(scale=1.0007), _ALL, _GRID)
    assert found.refused.startswith("The control points would stretch lengths by +7")


def test_a_large_turn_stands_only_where_something_checks_it():
    local = {"turn": 62.0, "shift": (1000.0, 5000.0), "noise": 0.002}
    assert calibrate(_points(**local), _BOTH, _GRID).stands
    assert "nothing checks it" in calibrate(_points(**local, n=2), _ALL, _GRID).refused


def test_a_fit_that_nothing_checks_says_so_unless_a_spare_point_does():
    points = _points(n=3)
    assert [f.code for f in calibrate(points[:2], _ALL, _GRID).findings] == [
        "calibration-unchecked"
    ]
    spare = [*points[:2], replace(points[2], in_plan=False)]
    assert not calibrate(spare, _ALL, _GRID).findings


def test_heights_shift_tilt_and_are_refused():
    tilted = [100.0 + 0.5 + 0.0004 * e for e in _KNOWN[:, 0]]
    plane = Calibration("shift and turn", "plane")
    found = calibrate(_points(heights=tilted), plane, _GRID)
    assert found.stands
    assert found.height.plane[1] == pytest.approx(0.0004, abs=1e-6)
    shifted = calibrate(_points(heights=tilted), Calibration("shift", "shift"), _GRID)
    assert "K2 is 12.6 cm off in height" in shifted.refused
    assert "Tilted by 1 in 2,500 they would fit" in shifted.refused
    steep = [100.0 + 0.01 * e for e in _KNOWN[:, 0]]
    assert "tilt heights by 1 in 100" in calibrate(_points(heights=steep), plane, _GRID).refused
    few = calibrate(_points(heights=[100.1, 100.2, None, None, None]), plane, _GRID)
    assert "3 control points are needed" in few.refused


def test_no_plane_of_heights_is_laid_through_points_in_one_line():
    points = [
        replace(p, easting=648_400.0 + 100 * i, northing=6_184_300.0 + 50 * i)
        for i, p in enumerate(_points(heights=[100.0] * 5))
    ]
    points = [replace(p, measured_easting=p.easting, measured_northing=p.northing) for p in points]
    found = calibrate(points, Calibration("shift", "plane"), _GRID)
    assert "in one line" in found.refused


def test_errors_grow_with_the_distance_from_control_as_trials_show():
    """Propagated errors against the scatter of 4,000 fits to the same points with noise of 10 mm."""
    rng = np.random.default_rng(11)
    from layoutdesk.core.staking.fitting import plan_fit

    known, at = _KNOWN[:3], np.array([[200.0, 150.0], [3000.0, 500.0]])
    told = calibrate(_points(n=3, at=np.zeros(2)), _ALL, GridFacts()).spread(at, known)
    ends = np.array(
        [
            plan_fit(
                known, known + rng.normal(0, 0.01, known.shape), "shift, turn and scale"
            ).moved(at)
            for _ in range(4000)
        ]
    )
    assert ends.std(axis=0).mean(axis=1) / 0.01 == pytest.approx(told, rel=0.04)
