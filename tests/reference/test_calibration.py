"""Fits of a calibration against printed worked examples and against independent programs."""

from __future__ import annotations

import math

import numpy as np
import pytest

from layoutdesk.core.staking.fitting import height_fit, plan_fit


def test_adjustment_computations_conformal_example():
    """Three control points and four more, printed in an adjustment textbook.

    C. D. Ghilani, P. R. Wolf: Adjustment Computations: Spatial Data Analysis, 4th ed., Wiley, 2006, chapter 18,
    "Two-dimensional conformal coordinate transformation", the chapter's example: comparator coordinates of
    an image [mm] to eastings and northings. Coordinates and results as re-typed in public course
    solutions of the example; the book's X = a x - b y + Te, Y = b x + a y + Tn turns the other way round.
    """
    source = [[121.622, -128.066], [141.228, 187.718], [175.802, 135.728]]
    target = [[1049422.40, 51089.20], [1049413.95, 49659.30], [1049244.95, 49884.95]]
    fit = plan_fit(source, target, "shift, turn and scale")
    a, b = fit.matrix[0, 0], -fit.matrix[0, 1]
    assert (a, b) == (pytest.approx(-4.51249, abs=5e-6), pytest.approx(-0.25371, abs=5e-6))
    assert fit.matrix[:, 2] == pytest.approx([1050003.715, 50542.131], abs=5e-4)
    assert -fit.turn_deg % 360 == pytest.approx(183 + 13 / 60 + 5.0 / 3600, abs=0.05 / 3600)
    assert fit.scale == pytest.approx(4.51962, abs=5e-6)  # this and the turn: from memory
    others = [[174.148, -120.262], [513.520, -192.130], [754.444, -67.706], [972.788, 120.994]]
    printed = [
        [1049187.361, 51040.629],
        [1047637.713, 51278.829],
        [1046582.113, 50656.241],
        [1045644.713, 49749.336],
    ]
    assert fit.moved(others) == pytest.approx(np.array(printed), abs=1.5e-3)  # printed to 1e-3


_CATALONIA = (-129.549, -208.185, 1.0000015504, 1.56504)
"""Shift [m], scale and turn [arc seconds] of EPSG transformation 5166, ED50 to ETRS89 in UTM zone 31N."""


def test_the_printed_example_of_a_similarity_is_met_and_its_turn_is_clockwise():
    """IOGP Publication 373-7-2 (Geomatics Guidance Note 7 part 2), section "Similarity transformation" (EPSG method
    9621), its example: 300,000 m E, 4,500,000 m N becomes 299,905.060 m E, 4,499,796.515 m N."""
    e0, n0, scale, seconds = _CATALONIA
    turn = math.radians(seconds / 3600)
    c, s = scale * math.cos(turn), scale * math.sin(turn)
    # sources about the example's place, moved by the printed formula
    source = np.array(
        [[300000, 4500000], [310000, 4500000], [300000, 4512000], [305000, 4490000.0]]
    )
    target = np.column_stack(
        [e0 + c * source[:, 0] + s * source[:, 1], n0 - s * source[:, 0] + c * source[:, 1]]
    )
    assert target[0] == pytest.approx([299905.060, 4499796.515], abs=5e-4)
    fit = plan_fit(source, target, "shift, turn and scale")
    assert fit.moved([[300000, 4500000]])[0] == pytest.approx([299905.060, 4499796.515], abs=6e-4)
    assert fit.turn_deg * 3600 == pytest.approx(seconds, abs=1e-5)
    assert fit.scale == pytest.approx(scale, abs=1e-10)


def test_a_similarity_is_what_proj_makes_of_its_parameters():
    """PROJ's own two-dimensional Helmert step, which turns as EPSG method 9621 does."""
    from pyproj import Transformer

    e0, n0, scale, seconds = _CATALONIA
    step = Transformer.from_pipeline(f"+proj=helmert +x={e0} +y={n0} +s={scale!r} +theta={seconds}")
    assert step.transform(300000, 4500000) == pytest.approx((299905.060, 4499796.515), abs=6e-4)
    rng = np.random.default_rng(1)
    source = rng.uniform([260000, 4500000], [520000, 4750000], (12, 2))
    target = np.column_stack(step.transform(*source.T))
    fit = plan_fit(source, target, "shift, turn and scale")
    assert fit.worst_m < 1e-7
    assert fit.turn_deg * 3600 == pytest.approx(seconds, abs=1e-6)
    assert fit.scale == pytest.approx(scale, abs=1e-11)


@pytest.mark.parametrize("seed", range(6))
def test_fits_are_those_of_a_general_solver(seed):
    """SciPy's least_squares on the same residuals, from a start of its own."""
    from scipy.optimize import least_squares

    rng = np.random.default_rng(seed)
    source = rng.uniform(-400, 400, (5, 2)) + [650_000, 6_180_000]
    turn, middle = math.radians(rng.uniform(-10, 10)), source.mean(axis=0)
    turned = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    target = (source - middle) @ turned.T * (1 + rng.normal(0, 2e-4)) + middle + [3.0, -2.0]
    target += rng.normal(0, 0.02, source.shape)
    weight = rng.uniform(0.5, 3, 5)
    free = {"shift": 2, "shift and turn": 3, "shift, turn and scale": 4}
    for moves, n in free.items():

        def off(p, n=n):
            t, scale = (p[2] if n > 2 else 0.0), (p[3] if n > 3 else 1.0)
            c, s = scale * math.cos(t), scale * math.sin(t)
            e, north = (source - middle).T
            moved = np.column_stack([c * e + s * north + p[0], c * north - s * e + p[1]])
            return (np.sqrt(weight)[:, None] * (target - middle - moved)).ravel()

        tight = {"xtol": 1e-15, "ftol": 1e-15, "gtol": 1e-15, "jac": "3-point"}
        found = least_squares(off, [0.0, 0.0, turn, 1.0][:n], **tight)
        fit = plan_fit(source, target, moves, weight)
        assert fit.residual_m.ravel() * np.repeat(np.sqrt(weight), 2) == pytest.approx(
            off(found.x), abs=1e-6
        )
        assert fit.rms_m == pytest.approx(
            math.sqrt((off(found.x) ** 2).sum() / weight.sum()), rel=1e-9
        )


def test_a_plane_of_heights_is_that_of_a_general_solver():
    from scipy.optimize import least_squares

    rng = np.random.default_rng(8)
    at = rng.uniform(-300, 300, (6, 2))
    known = rng.uniform(90, 120, 6)
    measured = known + 0.4 + at @ [2e-4, -1e-4] + rng.normal(0, 0.01, 6)
    found = least_squares(lambda p: measured - known - p[0] - at @ p[1:], np.zeros(3))
    fit = height_fit(at, known, measured, "plane")
    assert fit.added_m(at) == pytest.approx(found.x[0] + at @ found.x[1:], abs=1e-8)
