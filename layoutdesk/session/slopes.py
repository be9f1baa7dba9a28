"""How steep a row is, in words, with the caution where it is steep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.model import RowPlan, Study
from ..core.terrain.surface import Surface
from .specification import shown_length
from .stakeout import SLOPE_CAUTION


@dataclass(frozen=True)
class SlopeSaid:
    """Grades of one row in words; `caution` is empty where it is not steep."""

    words: str
    caution: str = ""


def slope_said(
    plan: RowPlan, segment: int, surface: Surface, study: Study | None = None, unit: str = "m"
) -> SlopeSaid:
    """How one segment rises along its bearing, and how the ground tilts across it.

    Parameters
    ----------
    study : Study, optional
        Says over which lengths grades are told, and from where they are steep; the usual ones else.
    unit : str
        Of lengths in the words.
    """
    from ..core.terrain.grades import row_grades

    study = study or Study()
    grades = row_grades(
        plan.part(segment, segment + 1), surface, study.machine_length_m, study.machine_width_m
    )
    if not len(grades.weight_m):
        return SlopeSaid("Heights are not known here.")
    mean, steepest = float(grades.mean_pct[0]), float(grades.steepest_pct[0])
    tilt = float(grades.across_pct[np.argmax(np.abs(grades.across_pct))])
    machine = (study.machine_length_m, study.machine_width_m)
    over = [shown_length(m, unit, 1).replace(" ", "\u00a0") for m in machine]
    words = (
        f"{_along(mean)}{steepest:.1f}\u00a0% at the steepest over {over[0]}. "
        f"Side tilt up to {abs(tilt):.1f}\u00a0% over {over[1]}{_side(tilt)}."
    )
    if grades.unknown_m > 0:
        words += f" Heights are not known for {shown_length(grades.unknown_m, unit, 1)} of it."
    steep = steepest > study.grade_along_pct or abs(tilt) > study.grade_across_pct
    return SlopeSaid(words, SLOPE_CAUTION if steep else "")


_LEVEL_PCT = 0.05
_WINDS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


def ground_said(surface: Surface, x_m: float, y_m: float, unit: str = "m") -> str:
    """Height, slope and aspect of the ground at a place, in words; empty where nothing is known.

    The aspect is where the ground falls to.
    """
    at = np.array([[x_m, y_m]])
    z = float(surface.heights_m(at)[0])
    if np.isnan(z):
        return ""
    height = f"ground {shown_length(z, unit, 1)}"
    east, north = surface.gradients(at)[0].tolist()
    slope_pct = 100 * float(np.hypot(east, north))
    if np.isnan(slope_pct) or slope_pct < _LEVEL_PCT:
        return height
    aspect_deg = float(np.degrees(np.arctan2(-east, -north))) % 360
    wind = _WINDS[round(aspect_deg / 45) % 8]
    return f"{height}, falls {slope_pct:.1f}\u00a0% to {wind}"


def _along(mean_pct: float) -> str:
    """What a row does from its start end to its far end, up to where the steepest is told."""
    if np.isnan(mean_pct):
        return "Along: "
    if abs(mean_pct) < 0.05:
        return "Ends at one height, "
    return (
        f"{'Rises' if mean_pct > 0 else 'Falls'} {abs(mean_pct):.1f}\u00a0% from start to far end, "
    )


def _side(tilt_pct: float) -> str:
    if abs(tilt_pct) < 0.05:
        return ""
    return f", the {'right' if tilt_pct > 0 else 'left'} side higher"
