"""What moved all points alike: mistakes with a fixed size against free shifts, turns and scales.

Each candidate is a *base*, a mistake without anything free in it (a foot read as the other about the origin of
coordinates, axes exchanged, …), followed by a *move* of which some things are free: nothing, a shift, a turn, a
scale, or all. Candidates are weighed by their evidence: the likelihood of what was measured, each point honest or,
rarely, anywhere; times how likely a move of that size was beforehand, within what the measurement can tell of it.
That is where a fixed size wins: a turn could have been any, one by the convergence only this.

Evidence is in units of -2 log likelihood, as in the criteria of Schwarz (The Annals of Statistics 6, 1978, "Estimating
the dimension of a model"); widths are kept where that criterion drops them. What is likely beforehand is common
practice, not measured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from .explanations import Facts
from .known_sizes import PRIOR, scale_readings, shift_cost, turn_readings
from .looking_like import FOOT_M, US_SURVEY_FOOT_M
from .robust_fitting import STRAY_AREA_M2, Kept, kept

STRAY_SHARE = 0.02
"""One point in fifty may be anywhere in some metres. Common practice."""
DOUBT = 2.0
"""A mistake must be likelier than honest work by so much more than PRIOR says."""
RIVAL, RIVAL_SIGMAS = 6.0, 1.5
"""Another reading is told as well that is worse by less, or so near to its own size."""
MOST_FITTED = 3000
"""Points that candidates are weighed with; more tell nothing new."""
_MOVES = ("", "shift", "turn", "scale", "turn and scale")
"""Exchanged axes are not turned besides: a mirrored block is more often rows begun at their other ends."""
_LOCAL_M = 1000.0
"""A larger shift says that coordinates of another beginning were staked, not that all was shifted. [m]"""


@dataclass(frozen=True, eq=False)
class Base:
    """A mistake of fixed size: places turned into others.

    Attributes
    ----------
    code : str
        Of EXPLANATIONS; empty for none.
    factor : float
        Of a scale about `about`; 1 where nothing is scaled.
    about : complex
    is_swapped : bool
        Easting and northing exchanged.
    counterpart : int array or None
        For rows numbered wrong: which point stands where each was staked, -1 where that was not measured.
    rows : int
        By how many rows.
    """

    code: str = ""
    factor: float = 1.0
    about: complex = 0j
    is_swapped: bool = False
    counterpart: np.ndarray | None = None
    rows: int = 0

    def moved(self, place: np.ndarray) -> np.ndarray:
        """Complex places, NaN where a counterpart is not known."""
        if self.counterpart is not None:
            there = place[self.counterpart]
            there[self.counterpart < 0] = np.nan
            return there
        if self.is_swapped:
            return 1j * place.conj()
        if self.factor == 1.0:
            return place
        return self.about + self.factor * (place - self.about)


@dataclass(frozen=True)
class Part:
    """One thing a candidate says was done.

    Attributes
    ----------
    code : str
        Of EXPLANATIONS.
    sort : str
        Which of several with that code.
    amount : float
        Turn clockwise [deg], scale less one, length of a shift [m], rows.
    effect_m : float
        At the farthest point. [m]
    rivals : tuple of (str, str)
        Other codes and sorts that explain it nearly as well.
    """

    code: str
    sort: str
    amount: float
    effect_m: float
    rivals: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, eq=False)
class Whole:
    """What moved all points alike.

    Attributes
    ----------
    base : Base
    middle : complex
        About which the move is.
    factor, shift : complex
        target = middle + factor * (base - middle) + shift.
    sigma_m : float
        Standard deviation of each axis. [m]
    unsure : float
        Of turn [radian] and scale.
    parts : tuple of Part
        Empty where the points are where they belong.
    """

    base: Base
    middle: complex
    factor: complex
    shift: complex
    sigma_m: float
    unsure: float
    parts: tuple[Part, ...]

    def moved(self, place: np.ndarray) -> np.ndarray:
        """Where the plan's places were staked, NaN where that is not known."""
        return self.middle + self.factor * (self.base.moved(place) - self.middle) + self.shift


@dataclass(frozen=True, eq=False)
class _Fit:
    """One base with points that agree with it, and what is to be known of its moves."""

    base: Base
    source: np.ndarray
    target: np.ndarray
    known: np.ndarray
    middle: complex
    kept: Kept
    radius_m: float
    farthest_m: float


@dataclass(frozen=True, eq=False)
class _Candidate:
    fit: _Fit
    move: str
    factor: complex
    cost: float
    sigma_m: float
    readings: tuple[tuple[tuple[float, str, str, float], ...], ...]


def whole_moved(
    planned: np.ndarray,
    measured: np.ndarray,
    facts: Facts,
    bases: Sequence[Base] = (),
    most_m: float = math.inf,
) -> Whole:
    """The likeliest of all candidates; one without parts where honest work is as likely.

    Parameters
    ----------
    planned, measured : complex array, shape (m,)
        Pairs in written coordinates. [m]
    facts : Facts
    bases : sequence of Base
        Rows numbered wrong, where that may be.
    most_m : float
        The most the standard deviation is believed to be, for more reasons than `most_noise_m` has. [m]
    """
    chosen = np.arange(len(planned))
    if len(planned) > MOST_FITTED:
        chosen = np.random.default_rng(0).permutation(len(planned))[:MOST_FITTED]
    most_m = min(most_m, most_noise_m(facts))
    fits = _fits(planned, measured, chosen, facts, bases, most_m)
    agreed = [f.kept.cautious_m for f in fits if f.kept.share >= 0.5]
    sigma = min(agreed, default=facts.noise_m)
    clean = _candidates(fits[0], "", sigma, facts)
    best = clean
    for fit in fits:
        for move in _MOVES if not fit.base.is_swapped else _MOVES[:2]:
            candidate = _candidates(fit, move, sigma, facts)
            if candidate is not None and candidate.cost + DOUBT < best.cost + DOUBT * (
                best is not clean
            ):
                best = candidate
    whole = _whole(best, facts)
    off = np.abs(measured - whole.moved(planned))[chosen]
    off = off[np.isfinite(off)]
    if best is clean or (whole.parts and np.mean(off <= 5 * sigma) >= 0.5):
        return whole
    return _whole(clean, facts)


def most_noise_m(facts: Facts) -> float:
    """The most the standard deviation of measurements is believed to be. [m]"""
    return min(30 * facts.noise_m, facts.row_spacing_m / 4)


def _fits(planned, measured, chosen, facts: Facts, rows: Sequence[Base], most_m: float):
    """The bases that may be, honest work first."""
    first = _fit(Base(), planned, measured, chosen, facts, most_m)
    found = [first]
    off = _middle_of(measured[chosen] - planned[chosen])
    is_odd = first.kept.share < 0.6 or not 0.5 < abs(first.kept.factor) < 2
    for base in _fixed_bases(facts):
        left = _middle_of(measured[chosen] - base.moved(planned[chosen]))
        may_be_local = is_odd and (base.is_swapped or not 0.5 < base.factor < 2)
        if may_be_local or (off > facts.tolerance_m and left < 0.3 * off):
            found.append(_fit(base, planned, measured, chosen, facts, most_m))
    for base in rows:
        fit = _fit(base, planned, measured, chosen, facts, most_m)
        if fit is not None:
            found.append(fit)
    return found


def _middle_of(offset: np.ndarray) -> float:
    return math.hypot(float(np.median(offset.real)), float(np.median(offset.imag)))


def _fixed_bases(facts: Facts):
    ratio = FOOT_M / US_SURVEY_FOOT_M
    yield Base("survey-foot", ratio)
    yield Base("survey-foot", 1 / ratio)
    yield Base("axes-swapped", is_swapped=True)
    for foot in (FOOT_M, US_SURVEY_FOOT_M):
        yield Base("feet-as-metres", foot)
        yield Base("feet-as-metres", 1 / foot)
    if abs(facts.combined_factor - 1) > 1e-7:
        abouts = [0j] + [complex(*facts.about_m)] * (facts.coordinates == "ground")
        for about in abouts:
            yield Base("grid-as-ground", facts.combined_factor, about)
            yield Base("grid-as-ground", 1 / facts.combined_factor, about)


def _fit(base: Base, planned, measured, chosen, facts: Facts, most_m: float):
    place = base.moved(planned)[chosen]
    known = np.isfinite(place)
    if known.sum() < max(2, 0.3 * len(chosen)):
        return None
    place = place[known]
    middle = complex(place.mean())
    source, target = place - middle, measured[chosen][known] - middle
    found = kept(source, target, facts.noise_m, most_m)
    use = source[found.is_kept] if found.share >= 0.5 else source
    use = np.abs(use - use.mean())
    return _Fit(
        base, source, target, known, middle, found,
        float(np.sqrt((use**2).mean())), float(use.max()),
    )  # fmt: skip


def _candidates(fit: _Fit, move: str, sigma: float, facts: Facts) -> _Candidate | None:
    use = fit.kept.is_kept if fit.kept.share >= 0.5 else np.ones(len(fit.source), bool)
    n = int(use.sum())
    if move and (n < 2 or (move != "shift" and (n < 3 or fit.radius_m <= 0))):
        return None
    factor = fit.kept.factor
    if "turn" not in move:
        factor = complex(factor.real, 0.0)
    if "scale" not in move:
        factor = factor / abs(factor) if factor else 1.0 + 0j
    if move in ("", "shift"):
        factor = 1.0 + 0j
    if (factor.real <= 0 and "turn" not in move) or not 0.1 < abs(factor) < 10:
        return None
    shift = complex((fit.target[use] - factor * fit.source[use]).mean()) if move else 0j
    left = fit.target - factor * fit.source - shift
    squared = (left.real**2 + left.imag**2) / sigma**2
    stray = STRAY_SHARE * 2 * math.pi * sigma**2 / STRAY_AREA_M2
    misfit = -2 * np.log((1 - STRAY_SHARE) * np.exp(-squared / 2) + stray)
    # what has no counterpart is neither for nor against
    cost = float(misfit.sum()) + 2.0 * int((~fit.known).sum()) + PRIOR[fit.base.code]
    readings = []
    if move:
        unsure = sigma / (math.sqrt(n) * max(fit.radius_m, 1e-9))
        middle_shift = complex(fit.target[use].mean() - fit.source[use].mean())
        if "turn" in move:
            turn = -math.atan2(factor.imag, factor.real)
            readings.append(turn_readings(turn, unsure, fit.radius_m, fit.farthest_m, facts))
        if "scale" in move:
            readings.append(
                scale_readings(abs(factor), unsure, fit.radius_m, fit.farthest_m, facts)
            )
        cost += sum(one[0][0] for one in readings)
        cost += shift_cost(middle_shift, abs(1 - factor) * fit.radius_m, sigma**2 / n)
        if move == "shift":
            cost += PRIOR["shift"]
            most_m = max(3 * facts.tolerance_m, 0.05 * facts.row_spacing_m)
            # rows numbered wrong explain whole rows, not what is left of another shift
            if fit.base.counterpart is not None and abs(middle_shift) > most_m:
                return None
        elif fit.base.counterpart is not None:
            cost += 5.0
    return _Candidate(fit, move, factor, cost, sigma, tuple(readings))


def _whole(best: _Candidate, facts: Facts) -> Whole:
    fit, worth_m = best.fit, facts.tolerance_m / 2
    use = fit.kept.is_kept if fit.kept.share >= 0.5 else np.ones(len(fit.source), bool)
    n = max(int(use.sum()), 1)
    shift = 0j
    if best.move:
        shift = complex((fit.target[use] - best.factor * fit.source[use]).mean())
    parts = [_base_part(fit)] if fit.base.code else []
    readings = list(best.readings)
    if "turn" in best.move:
        turn = -math.atan2(best.factor.imag, best.factor.real)
        effect = 2 * math.sin(abs(turn) / 2) * fit.farthest_m
        parts.append(_read_part(readings.pop(0), math.degrees(turn), effect))
    if "scale" in best.move:
        scale = abs(best.factor) - 1
        parts.append(_read_part(readings.pop(0), scale, abs(scale) * fit.farthest_m))
    if best.move:
        reach = 3 * abs(1 - best.factor) * fit.farthest_m
        is_local = bool(fit.base.code) and abs(shift) > _LOCAL_M
        is_more = abs(shift) > max(reach, 3 * best.sigma_m / math.sqrt(n))
        if not is_local and (best.move == "shift" or is_more):
            parts.append(Part("shift", "", abs(shift), abs(shift)))
    told = [p for p in parts if p.effect_m >= worth_m]
    if not told and parts:
        moved = fit.source * (best.factor - 1) + shift
        if np.abs(moved[use]).max() >= worth_m:
            told = [max(parts, key=lambda p: p.effect_m)]
    return Whole(
        fit.base, fit.middle, complex(best.factor), shift, best.sigma_m,
        best.sigma_m / (math.sqrt(n) * max(fit.radius_m, 1e-9)), tuple(told),
    )  # fmt: skip


def _base_part(fit: _Fit) -> Part:
    base = fit.base
    amount = base.rows if base.counterpart is not None else base.factor - 1
    return Part(base.code, "base", amount, math.inf)


def _read_part(readings, amount: float, effect_m: float) -> Part:
    cost, code, sort, _ = readings[0]
    rivals = tuple(
        (c, s)
        for other, c, s, away in readings[1:]
        if c != code and (other < cost + RIVAL or away < RIVAL_SIGMAS)
    )
    return Part(code, sort, amount, effect_m, rivals)
