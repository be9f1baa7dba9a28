"""Turns, scales and shifts that are known beforehand, and what one that was measured is likely to be.

Costs are -2 log of a likelihood: how likely a value was before anything was measured, times how finely it was measured.
"""

from __future__ import annotations

import math

from .explanations import Facts
from .looking_like import FOOT_M

UNSURE = {"convergence": 0.02, "declination": 0.25, "factor": 1e-5, "foot": 3e-6, "place_m": 0.003}
"""Standard deviations of what is known: a convergence differs over a site and is rounded; magnetic models are good to
some tenths of a degree (World Magnetic Model 2025, NOAA NCEI and British Geological Survey, from memory); a factor
differs by 1 ppm for 6 m of height; the two feet by 2 ppm; receivers drift by some millimetres over a day.
[deg, deg, -, -, m]"""
FARTHEST_UNSURE = 3.0
"""A value farther from what is known than so many standard deviations is another."""
PRIOR = {
    "": 0.0, "survey-foot": 9.0, "feet-as-metres": 9.0, "axes-swapped": 9.0, "grid-as-ground": 9.0,
    "rows-shifted": 8.0, "shift": 5.0, "turn": 9.0, "scale": 9.0,
    "bearing-convergence": 8.0, "bearing-magnetic": 9.0,
}  # fmt: skip
"""-2 log of how often a mistake is met, less that of honest work."""
_SHIFT_SPAN, _TURN_SPAN = 15.0, 12.0
"""Natural logarithm of largest over smallest: shifts of 5 mm to 15 km, turns and scales of 2 ppm to a third."""
_SMALLEST_SHIFT_M = 0.005


def shift_cost(shift: complex, pivot_m: float, variance: float) -> float:
    """A shift of any size, or what a turn or scale about a point of the site does to its middle."""
    squared = abs(shift) ** 2
    likely = 1 / (2 * math.pi * _SHIFT_SPAN * (squared + _SMALLEST_SHIFT_M**2))
    if pivot_m > 0:
        width = pivot_m**2 + variance + UNSURE["place_m"] ** 2
        pivot = math.exp(-min(squared / (2 * width), 700)) / (2 * math.pi * width)
        likely = 0.2 * likely + 0.8 * pivot
    return -2 * math.log(likely * 2 * math.pi * variance)


def turn_readings(turn: float, unsure: float, radius_m: float, farthest_m: float, facts: Facts):
    """What a turn (clockwise, radian) may be, the likeliest first: cost, code, sort, widths away."""
    known = []
    convergence, declination = facts.convergence_deg, facts.declination_deg
    if convergence is not None:
        known.append(("bearing-convergence", "true as grid", convergence, "convergence"))
        known.append(("bearing-convergence", "grid as true", -convergence, "convergence"))
    if declination is not None:
        known.append(("bearing-magnetic", "true by compass", declination, "declination"))
        known.append(("bearing-magnetic", "compass as true", -declination, "declination"))
        if convergence is not None:
            on_grid = declination - convergence
            known.append(("bearing-magnetic", "grid by compass", on_grid, "declination"))
            known.append(("bearing-magnetic", "compass as grid", -on_grid, "declination"))
    drift = UNSURE["place_m"] / radius_m
    readings = []
    for code, sort, deg, what in known:
        expected = math.radians(deg)
        if abs(expected) * farthest_m < facts.tolerance_m / 8:
            continue
        spread = math.radians(UNSURE[what])
        more = 2.0 if "compass as" in sort or "grid by" in sort else 0.0
        cost, away = _near_cost(turn - expected, unsure, math.hypot(spread, drift))
        readings.append((cost + PRIOR[code] + more, code, sort, away))
    readings.append((_free_cost(turn, unsure, drift) + PRIOR["turn"], "turn", "", math.inf))
    return tuple(sorted(readings))


def scale_readings(scale: float, unsure: float, radius_m: float, farthest_m: float, facts: Facts):
    """What a scale may be, the likeliest first: cost, code, sort, widths away."""
    factor = facts.combined_factor
    drift = UNSURE["place_m"] / radius_m
    readings = []
    # either foot: 2 ppm between them is less than a scale is measured to
    known = [
        ("feet-as-metres", "shorter", FOOT_M, "foot"),
        ("feet-as-metres", "longer", 1 / FOOT_M, "foot"),
    ]
    if abs(factor - 1) * farthest_m >= facts.tolerance_m / 8:
        known.append(("grid-as-ground", "factor", factor, "factor"))
        known.append(("grid-as-ground", "one over", 1 / factor, "factor"))
    for code, sort, expected, what in known:
        cost, away = _near_cost(scale - expected, unsure, math.hypot(UNSURE[what], drift))
        readings.append((cost + PRIOR[code], code, sort, away))
    readings.append((_free_cost(scale - 1, unsure, drift) + PRIOR["scale"], "scale", "", math.inf))
    return tuple(sorted(readings))


def _near_cost(off: float, unsure: float, spread: float) -> tuple[float, float]:
    """Of a value that was known to within `spread`, measured to within `unsure`; how many widths it is away."""
    width = math.hypot(unsure, spread)
    away = abs(off) / width
    if away > FARTHEST_UNSURE:
        return math.inf, away
    return away**2 + 2 * math.log(width / unsure), away


def _free_cost(value: float, unsure: float, drift: float) -> float:
    """Of a value that may be of any size."""
    likely = 1 / (2 * _TURN_SPAN * (abs(value) + drift))
    return -2 * math.log(likely * math.sqrt(2 * math.pi) * unsure)
