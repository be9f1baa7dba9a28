"""Fitting places onto places when some of them are far off: a similarity that single points cannot pull.

Places are complex numbers, easting + i northing, so that a turn and a scale are one factor:
target = factor * source + shift.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

KEPT_SIGMAS = 3.5
"""Points farther off than so many standard deviations do not count in a fit: 0.2 % of honest ones (Rayleigh)."""
ROUNDS = 8
_QUARTILE = math.sqrt(-2 * math.log(0.75))
"""A quarter of all distances are shorter than so many standard deviations of an axis (Rayleigh distribution)."""
_WHOLE = 1.0 / math.sqrt(1 - KEPT_SIGMAS**2 / 2 / math.expm1(KEPT_SIGMAS**2 / 2))
"""By what the spread of points nearer than KEPT_SIGMAS is less than that of all (Rayleigh, cut off)."""
STRAY_AREA_M2 = 25.0
"""Where a stray point may be. Common practice."""
EXPECTED_WEIGHT = 5
"""An expected standard deviation counts as much as so many measured points. Common practice."""


@dataclass(frozen=True, eq=False)
class Kept:
    """Which points agree with one similarity.

    Attributes
    ----------
    factor, shift : complex
        Of the similarity. [-, m]
    is_kept : bool array, shape (n,)
    sigma_m : float
        Standard deviation of each axis, by the points kept. [m]
    """

    factor: complex
    shift: complex
    is_kept: np.ndarray
    sigma_m: float

    @property
    def cautious_m(self) -> float:
        """A standard deviation that the true one seldom exceeds, however few points told it. [m]

        One and a half standard errors and more: that of a standard deviation is its 1/sqrt(2 f), with f degrees of
        freedom.
        """
        free = max(2 * int(self.is_kept.sum()) - 4, 0) + 2 * EXPECTED_WEIGHT
        return self.sigma_m * (1 + 1.1 / math.sqrt(free))

    @property
    def share(self) -> float:
        return float(self.is_kept.mean())


def kept(source: np.ndarray, target: np.ndarray, noise_m: float, most_m: float) -> Kept:
    """The points that agree with the similarity most of them agree with.

    From two beginnings: all as it is, and the median of turns, scales and shifts over pairs of points far from each
    other, which up to a quarter of points anywhere cannot pull away. The likelier one is taken.

    Parameters
    ----------
    source, target : complex array, shape (n,)
        About a place near by, at least two. [m]
    noise_m, most_m : float
        Expected standard deviation of an axis, and the most it is believed to be. [m]
    """
    settled = (
        _settled(source, target, factor, shift, noise_m, most_m)
        for factor, shift in _beginnings(source, target)
    )
    return min(settled, key=lambda one: _unlikely(one, source, target))


def _unlikely(one: Kept, source, target) -> float:
    """-2 log likelihood where so many points are honest, and the others anywhere in some metres."""
    n, count = len(source), int(one.is_kept.sum())
    off = np.abs(target - one.factor * source - one.shift)[one.is_kept]
    variance = one.sigma_m**2
    honest = min(max(count, 0.5), n - 0.5) / n
    return (
        float((off**2).sum()) / variance
        + 2 * count * (math.log(2 * math.pi * variance) - math.log(honest))
        + 2 * (n - count) * (math.log(STRAY_AREA_M2) - math.log(1 - honest))
    )


def _beginnings(source, target):
    yield 1.0 + 0.0j, 0.0j
    n = len(source)
    centred = source - source.mean()
    axis = np.exp(0.5j * np.angle((centred**2).sum()))
    order = np.argsort((centred * axis.conjugate()).real, kind="stable")
    half = n // 2
    one, other = order[:half], order[n - half :]
    apart = source[other] - source[one]
    far = np.abs(apart) > 0
    if far.any():
        ratio = (target[other] - target[one])[far] / apart[far]
        factor = complex(np.median(ratio.real), np.median(ratio.imag))
        left = target - factor * source
        yield factor, complex(np.median(left.real), np.median(left.imag))


def _settled(source, target, factor, shift, noise_m, most_m) -> Kept:
    quarter = len(source) // 4
    off = np.abs(target - factor * source - shift)
    sigma = max(np.partition(off, quarter)[quarter] / _QUARTILE, noise_m)
    is_kept = off <= KEPT_SIGMAS * sigma
    for _ in range(ROUNDS):
        count = int(is_kept.sum())
        if count < 2:
            break
        s, t = source[is_kept], target[is_kept]
        s_middle, t_middle = s.mean(), t.mean()
        s, t = s - s_middle, t - t_middle
        spread = float((s.real**2 + s.imag**2).sum())
        if spread > 0 and count > 2:
            factor = complex((t * s.conj()).sum() / spread)
        shift = complex(t_middle - factor * s_middle)
        left = target - factor * source - shift
        squared = left.real**2 + left.imag**2
        free = max(2 * count - 4, 0)
        told = _WHOLE**2 * float(squared[is_kept].sum())
        expected = 2 * EXPECTED_WEIGHT
        sigma = math.sqrt((told + expected * noise_m**2) / (free + expected))
        sigma = min(max(sigma, noise_m / 2), most_m)
        now = squared <= (KEPT_SIGMAS * sigma) ** 2
        if (now == is_kept).all():
            break
        is_kept = now
    return Kept(factor, shift, is_kept, float(sigma))
