"""What measured heights say: all off by the same, or in another unit."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .explanations import Facts
from .looking_like import FOOT_M
from .robust_fitting import KEPT_SIGMAS

FEWEST = 3
"""Heights that say anything."""
HEIGHT_NOISE, HEIGHT_MOST_M = 2.0, 0.5
"""Heights are measured so much worse than places (common practice for satellite receivers: 1.5 to 2), and a plan's
ground is not known better than to decimetres everywhere, so that a spread up to half a metre is believed. [-, m]"""
_QUARTILE = 0.3186
"""A quarter of all normal errors are smaller than so many standard deviations."""
UNIT_COST, SHIFT_COST, SHIFT_SPAN = 9.0, 6.0, 12.0


@dataclass(frozen=True)
class HeightBlunder:
    """One thing that moved all heights.

    Attributes
    ----------
    code : str
        height-shift or height-unit.
    factor : float
        Measured over planned.
    shift_m, sigma_m : float
        [m]
    """

    code: str
    factor: float
    shift_m: float
    sigma_m: float


def height_blunders(planned_m, measured_m, facts: Facts) -> tuple[HeightBlunder, ...]:
    """The likeliest of unit and shift; empty where heights are where they belong.

    What shifts less than half the tolerance, or less than heights scatter, is not told.
    """
    known = np.isfinite(planned_m) & np.isfinite(measured_m)
    planned, measured = planned_m[known], measured_m[known]
    n = len(planned)
    if n < FEWEST:
        return ()
    noise = HEIGHT_NOISE * facts.noise_m
    off = {factor: measured - factor * planned for factor in (1.0, FOOT_M, 1 / FOOT_M)}
    settled = {factor: _settled(left, noise * max(1.0, factor)) for factor, left in off.items()}
    sigma = min((s for _, s, share in settled.values() if share >= 0.5), default=HEIGHT_MOST_M)
    best, cost = (1.0, 0.0), _misfit(off[1.0], sigma)
    for factor, (middle, _, _) in settled.items():
        for shift in (0.0, middle):
            more = UNIT_COST if factor != 1.0 else 0.0
            if shift:
                squared = (shift / sigma) ** 2
                more += SHIFT_COST + math.log(n * (squared + 1)) + 2 * math.log(SHIFT_SPAN)
            its = _misfit(off[factor] - shift, sigma) + more
            if its + 2.0 < cost:
                best, cost = (factor, shift), its
    factor, shift = best
    found = []
    if factor != 1.0:
        found.append(HeightBlunder("height-unit", factor, shift, sigma))
    if abs(shift) >= max(facts.height_tolerance_m / 2, sigma / 2):
        found.append(HeightBlunder("height-shift", factor, shift, sigma))
    return tuple(found)


def _settled(left, noise: float) -> tuple[float, float, float]:
    """Middle and spread of most of them, and the share of those."""
    middle = float(np.median(left))
    away = np.abs(left - middle)
    quarter = len(left) // 4
    sigma = min(max(np.partition(away, quarter)[quarter] / _QUARTILE, noise), HEIGHT_MOST_M)
    for _ in range(4):
        kept = np.abs(left - middle) <= KEPT_SIGMAS * sigma
        if not kept.any():
            return middle, HEIGHT_MOST_M, 0.0
        middle = float(left[kept].mean())
        squared = float(((left[kept] - middle) ** 2).sum())
        sigma = math.sqrt((squared + 5 * noise**2) / (max(kept.sum() - 1, 0) + 5))
        sigma = min(max(sigma, noise / 2), HEIGHT_MOST_M)
    return middle, sigma, float(np.mean(np.abs(left - middle) <= KEPT_SIGMAS * sigma))


def _misfit(left, sigma: float) -> float:
    stray = 0.02 * math.sqrt(2 * math.pi) * sigma / 10.0
    return float(
        (-2 * np.log(0.98 * np.exp(-np.minimum((left / sigma) ** 2, 1400) / 2) + stray)).sum()
    )
