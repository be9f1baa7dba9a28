"""Fits by least squares: what they find, and what no fit of their kind can better."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.model.handoff import HEIGHT_MOVES, MOVES
from layoutdesk.core.staking.fitting import height_fit, plan_fit, stand_in_one_line

_FAR = np.array([650_000.0, 6_180_000.0])
_PLACES = st.lists(
    st.tuples(st.floats(-500, 500), st.floats(-500, 500)), min_size=3, max_size=8, unique=True
)


def _spread(places) -> np.ndarray:
    xy = np.array(places)
    far = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)) + 1e9 * np.eye(len(xy))
    return xy if far.min() > 1.0 else xy + np.arange(len(xy))[:, None] * [40.0, 7.0]


def _moved(xy, turn_deg, scale, shift):
    t = math.radians(turn_deg)  # clockwise: north turns towards east
    e, n = xy.T
    turned = np.column_stack([e * math.cos(t) + n * math.sin(t), n * math.cos(t) - e * math.sin(t)])
    return scale * turned + shift


@settings(max_examples=60, deadline=None)
@given(
    _PLACES,
    st.floats(-179, 179),
    st.floats(0.999, 1.001),
    st.tuples(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5)),
)
def test_a_shift_turn_and_scale_that_were_made_are_found_again(places, turn, scale, shift):
    source = _spread(places) + _FAR
    target = _moved(source - _FAR, turn, scale, np.array(shift)) + _FAR
    fit = plan_fit(source, target, "shift, turn and scale")
    assert fit.worst_m < 1e-6
    assert (fit.turn_deg - turn + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
    assert fit.scale == pytest.approx(scale, abs=1e-8)
    assert fit.moved(source) == pytest.approx(target, abs=1e-6)
    assert fit.redundancy == 2 * len(source) - 4


@settings(max_examples=60, deadline=None)
@given(_PLACES, st.sampled_from(MOVES), st.integers(0, 10_000))
def test_no_small_change_of_a_fit_makes_its_residuals_smaller(places, moves, seed):
    rng = np.random.default_rng(seed)
    source = _spread(places)
    target = _moved(source, rng.uniform(-30, 30), 1.0, rng.normal(0, 5, 2))
    target += rng.normal(0, 0.5, source.shape)
    weight = rng.uniform(0.2, 5, len(source))
    fit = plan_fit(source, target, moves, weight)

    def cost(turn, scale, shift):
        off = target - _moved(source, turn, scale, shift)
        return float((weight[:, None] * off**2).sum())

    best = cost(fit.turn_deg, fit.scale, fit.matrix[:, 2])
    for _ in range(12):
        turn, scale, shift = fit.turn_deg, fit.scale, fit.matrix[:, 2] + rng.normal(0, 0.01, 2)
        turn += rng.normal(0, 0.01) if moves != "shift" else 0.0
        scale += rng.normal(0, 1e-4) if "scale" in moves else 0.0
        assert cost(turn, scale, shift) >= best - 1e-9 * (1 + best)


def test_freer_fits_leave_no_larger_residuals():
    rng = np.random.default_rng(4)
    source = rng.uniform(-300, 300, (6, 2))
    target = _moved(source, 1.0, 1.0003, np.array([2.0, -3.0])) + rng.normal(0, 0.02, (6, 2))
    rms = [plan_fit(source, target, moves).rms_m for moves in MOVES]
    assert rms[0] > rms[1] > rms[2]


def test_a_fit_is_clockwise_and_keeps_left_and_right():
    fit = plan_fit([[0, 0], [0, 100], [50, 0]], [[0, 0], [100, 0], [0, -50]], "shift and turn")
    assert fit.turn_deg == pytest.approx(90)  # what was north is east now
    mirrored = plan_fit([[0, 0], [0, 100], [50, 0]], [[0, 0], [100, 0], [0, 50]], "shift and turn")
    assert mirrored.worst_m > 30


def test_points_of_large_weight_are_met_more_closely():
    source = np.array([[0, 0], [100, 0], [0, 100], [100, 100]], float)
    target = source + [[0, 0], [0, 0.1], [0, 0], [0, 0]]
    alike = plan_fit(source, target, "shift and turn")
    heavy = plan_fit(source, target, "shift and turn", [1, 50, 1, 1])
    assert np.hypot(*heavy.residual_m[1]) < 0.2 * np.hypot(*alike.residual_m[1])


@pytest.mark.parametrize("moves", MOVES)
def test_too_few_points_or_points_at_one_place_raise(moves):
    with pytest.raises(ValueError, match="points for"):
        plan_fit(np.empty((0, 2)), np.empty((0, 2)), moves)
    if moves != "shift":
        with pytest.raises(ValueError, match="one place"):
            plan_fit([[5, 5], [5, 5]], [[0, 0], [1, 1]], moves)


@settings(max_examples=40, deadline=None)
@given(_PLACES, st.floats(-50, 50), st.floats(-0.004, 0.004), st.floats(-0.004, 0.004))
def test_a_plane_of_heights_is_found_again(places, shift, per_e, per_n):
    at = _spread(places) + _FAR
    if stand_in_one_line(at):
        with pytest.raises(ValueError, match="one line"):
            height_fit(at, np.zeros(len(at)), np.zeros(len(at)), "plane")
        return
    known = 100 + 0.01 * (at[:, 0] - _FAR[0])
    measured = known + shift + (at - _FAR) @ [per_e, per_n]
    fit = height_fit(at, known, measured, "plane")
    assert fit.worst_m < 1e-7
    assert fit.plane[1:] == pytest.approx((per_e, per_n), abs=1e-7)
    assert known + fit.added_m(at) == pytest.approx(measured, abs=1e-7)
    assert fit.redundancy == len(at) - 3


def test_a_shift_of_heights_is_their_mean_difference():
    at = np.array([[0, 0], [10, 0]])
    fit = height_fit(at, [10, 20], [10.1, 20.3], "shift")
    assert fit.plane == pytest.approx((0.2, 0, 0))
    assert fit.residual_m == pytest.approx([-0.1, 0.1])
    assert HEIGHT_MOVES[0] == "none"
    with pytest.raises(ValueError, match="heights"):
        height_fit(at, [10, 20], [10, 20], "none")
