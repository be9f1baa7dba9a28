"""What a bad fit of control points looks like: mixed units, ground for grid, exchanged axes."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..model import Finding
from ..model.handoff import Calibration
from .fitting import PlanFit, plan_fit

FOOT_M, US_SURVEY_FOOT_M = 0.3048, 1200 / 3937
"""Exact. [m] Sources: EPSG units 9002 and 9003; NIST SP 811."""
FEET_APART = US_SURVEY_FOOT_M / FOOT_M - 1
"""By what share a US survey foot is longer than a foot: 2 parts in a million, less than 2e-12 aside."""
_SAME_SCALE, _FINEST_SCALE = 2e-5, 3e-6
"""Scales nearer to each other are alike where two points alone tell them; where many tell them without any noise."""


@dataclass(frozen=True)
class GridFacts:
    """What is to be known of a survey grid to tell what measurements on it look like.

    Attributes
    ----------
    unit_m : float
        [m]
    combined_factor : float
        Grid over ground.
    convergence_deg : float
        Grid north seen from true north, clockwise. [deg]
    """

    unit_m: float = 1.0
    combined_factor: float = 1.0
    convergence_deg: float = 0.0


def small_length(length_m: float, unit_m: float) -> str:
    """A residual in the company of a grid's unit.

    Examples
    --------
    >>> small_length(0.0083, 1.0), small_length(0.274, 1.0), small_length(0.0083, 0.3048)
    ('8 mm', '27.4 cm', '0.027 ft')
    """
    if abs(unit_m / FOOT_M - 1) < 1e-5:
        name = "ft" if abs(unit_m / FOOT_M - 1) < 1e-9 else "US ft"
        return f"{length_m / unit_m:,.{3 if length_m < unit_m else 2}f} {name}"
    if length_m < 0.1:
        return f"{length_m * 1000:.0f} mm"
    return f"{length_m * 100:.1f} cm" if length_m < 1 else f"{length_m:,.2f} m"


def looks_like_misfit(source, target, calibration: Calibration, grid: GridFacts) -> str:
    """What would make points fit that do not: a sentence with a blank before it, or nothing.

    Only what the points can prove is said: a fit that nothing checks proves nothing.
    """
    moves, worst_m = calibration.moves, calibration.worst_m
    swapped = plan_fit(source, target[:, ::-1], moves)
    if swapped.redundancy > 0 and swapped.worst_m <= worst_m and abs(swapped.scale - 1) < 5e-4:
        return " It looks like easting and northing of the measured points exchanged."
    if len(source) < 2:
        return ""
    free = plan_fit(source, target, "shift, turn and scale")
    if free.redundancy > 0 and free.worst_m > worst_m:
        return ""
    like = looks_like_scale(free, source, grid)
    if like:
        return f" With a scale of {_scale_words(free.scale)} they would fit{like}."
    if free.redundancy == 0:
        return ""
    if moves == "shift" and plan_fit(source, target, "shift and turn").worst_m <= worst_m:
        return (
            f" With a turn of {free.turn_deg:+.4f}° they would fit{_like_turn(free, source, grid)}."
        )
    needed = "turn and scale" if moves == "shift" else "scale"
    return f" With a {needed} of {_scale_words(free.scale)} they would fit."


def looks_like_scale(fit: PlanFit, source, grid: GridFacts) -> str:
    """What the scale of a fit is known from: words with a comma before them, or nothing."""
    for scale, words in _FEET_AND_METRES:
        if abs(fit.scale / scale - 1) < 1e-3:
            return words
    error, ground = _scale_error(fit, source), 1 / grid.combined_factor
    if abs(ground - 1) > 3 * error:
        if abs(fit.scale - ground) < error:
            return ", which is one over the combined factor: the measured coordinates look like those on the ground"
        if abs(fit.scale - 1 / ground) < error:
            return ", which is the combined factor: the known coordinates look like those on the ground"
    return ""


_FEET_AND_METRES = (
    (FOOT_M, ", which looks like feet among the known and metres among the measured coordinates"),
    (1 / FOOT_M, ", which looks like metres among the known and feet among the measured coordinates"),
)  # fmt: skip


def _like_turn(fit: PlanFit, source, grid: GridFacts) -> str:
    near_deg = max(1e-3, math.degrees(_scale_error(fit, source)))
    if abs(grid.convergence_deg) < 3 * near_deg:
        return ""
    if abs(fit.turn_deg - grid.convergence_deg) < near_deg:
        return ", which is the convergence: measured from true north, not the grid's"
    return ""


def looks_like_feet_mixed(
    fit: PlanFit, source, worst_m: float, grid: GridFacts
) -> tuple[Finding, ...]:
    """That a shift is what taking one foot for the other does to coordinates of this size.

    Not to be seen in the scale, which 2 parts in a million change by 2 mm in a kilometre.
    """
    away = FEET_APART * np.asarray(source).mean(axis=0)
    near = max(worst_m, 3 * fit.rms_m)
    if np.abs(away).max() < 3 * near:
        return ()
    for sign, said in (
        (1, "US survey feet taken for feet"),
        (-1, "feet taken for US survey feet"),
    ):
        if np.abs(np.asarray(fit.shift_m) - sign * away).max() < near:
            return (
                Finding(
                    "hand-off-unit",
                    f"The calibration shifts by {small_length(math.hypot(*fit.shift_m), grid.unit_m)}, which is "
                    f"what {said} do to coordinates of this size: see which foot the crew's instrument is set "
                    "to before anything is staked.",
                ),
            )
    return ()


def _scale_words(scale: float) -> str:
    return f"{(scale - 1) * 1e6:+,.0f} ppm" if abs(scale - 1) < 0.01 else f"{scale:.5f}"


def _scale_error(fit: PlanFit, source) -> float:
    """Three standard errors of a fitted scale, by its residuals; what is taken for it where nothing checks them."""
    if fit.redundancy == 0:
        return _SAME_SCALE
    spread = float(((source - np.mean(source, axis=0)) ** 2).sum())
    error = 3 * math.sqrt(float((fit.residual_m**2).sum()) / fit.redundancy / spread)
    return max(error, _FINEST_SCALE)
