"""How many vines of a lot to look at, which ones, and what the result says."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..model.planting import Inspecting
from .drawing_lots import drawn
from .printed_table import TableRow, printed_aql, printed_plan

__all__ = [
    "Sample", "SamplePlan", "TableRow", "accept_chance", "drawn", "least_faulty", "printed_plan",
    "sample_plan", "sampled", "share_bounds",
]  # fmt: skip

_HAIR = 1e-9
"""Of chances and shares: rounding is to ask for no vine more."""


@dataclass(frozen=True)
class SamplePlan:
    """Look at `size` of `lot_size` vines; up to `accept` faulty ones are accepted.

    `found_out_pct` is the chance that a lot with `tolerated_pct` faulty vines is *not* accepted, with
    `least_faulty` of them in it. It is 0 where as many are accepted even when every vine is looked at. [%]
    """

    lot_size: int
    size: int
    accept: int
    tolerated_pct: float
    found_out_pct: float

    @property
    def is_all(self) -> bool:
        """Whether every vine of the lot is looked at."""
        return self.size == self.lot_size


def accept_chance(lot_size: int | None, faulty: float, size: int, accept: int) -> float:
    """Chance that a lot is accepted, its vines drawn at random and every faulty one seen.

    Hypergeometric for a lot with `faulty` vines in it; binomial, with `faulty` the share, where `lot_size`
    is None: for lots so large that what is drawn changes nothing.

    Examples
    --------
    >>> round(accept_chance(1_000, 25, 80, 5), 5), round(accept_chance(None, 0.01, 500, 3), 4)
    (0.9888, 0.2636)

    Raises
    ------
    ValueError
        Where more is faulty or drawn than there is.
    """
    from scipy import stats

    if size < 0 or accept < 0:
        raise ValueError(f"size, accept: {size}, {accept} are not both 0 or more")
    if lot_size is None:
        if not 0 <= faulty <= 1:
            raise ValueError(f"faulty: {faulty} is no share of 0 to 1")
        return float(stats.binom.cdf(accept, size, faulty))
    if not (0 <= faulty <= lot_size and size <= lot_size) or faulty != int(faulty):
        raise ValueError(f"faulty, size: {faulty}, {size} do not fit a lot of {lot_size}")
    if min(int(faulty), size) <= accept:
        return 1.0
    return float(np.clip(stats.hypergeom.cdf(accept, lot_size, int(faulty), size), 0.0, 1.0))


def least_faulty(lot_size: int, tolerated_pct: float) -> int:
    """The fewest faulty vines that make up the tolerated share of a lot: rounded up, one at least.

    Examples
    --------
    >>> least_faulty(1_000, 5.0), least_faulty(1_001, 5.0), least_faulty(10, 5.0)
    (50, 51, 1)
    """
    return max(1, math.ceil(lot_size * tolerated_pct / 100 - _HAIR))


@lru_cache(maxsize=4096)
def sample_plan(
    lot_size: int, tolerated_pct: float, confidence_pct: float, accept: int = 0
) -> SamplePlan:
    """The smallest sample that finds a lot out with the confidence asked for.

    A lot with the tolerated share of faulty vines, their number rounded up (`least_faulty`), is accepted
    with a chance of 100 % less the confidence, at most; one with more of them with less. The whole lot is
    looked at where no smaller sample does that.

    The chance of accepting falls with every vine that is drawn in addition, for a faulty vine that was
    seen stays seen; so the size is found by halving.

    Examples
    --------
    >>> sample_plan(1_240, 5.0, 95.0).size, sample_plan(10, 5.0, 95.0).size
    (58, 10)
    """
    if lot_size < 0:
        raise ValueError(f"lot_size: {lot_size} is below 0")
    if not (0 < tolerated_pct <= 100 and 0 < confidence_pct < 100):
        raise ValueError(f"tolerated_pct, confidence_pct: {tolerated_pct}, {confidence_pct}")
    if lot_size == 0:
        return SamplePlan(0, 0, accept, tolerated_pct, 0.0)
    faulty = least_faulty(lot_size, tolerated_pct)
    most = 1 - confidence_pct / 100 + _HAIR
    low, high = 0, lot_size
    while high - low > 1:
        middle = (low + high) // 2
        if accept_chance(lot_size, faulty, middle, accept) <= most:
            high = middle
        else:
            low = middle
    found_out = 1 - accept_chance(lot_size, faulty, high, accept)
    return SamplePlan(lot_size, high, accept, tolerated_pct, 100 * found_out)


def share_bounds(faulty: int, size: int, confidence_pct: float = 95.0) -> tuple[float, float]:
    """Clopper–Pearson bounds of a share. [%]

    The share is within them with the confidence at least, whatever it is; nothing is known of it where
    nothing was looked at. They hold for vines drawn at random from many, and are wide for a sample that
    is much of its lot.

    Source: C. J. Clopper and E. S. Pearson, Biometrika 26 (1934), 404–413.

    Examples
    --------
    >>> [round(b, 2) for b in share_bounds(7, 125)], share_bounds(0, 0)
    ([2.28, 11.2], (0.0, 100.0))
    """
    from scipy.special import betaincinv

    if not 0 <= faulty <= size:
        raise ValueError(f"faulty: {faulty} of {size}")
    if not 0 < confidence_pct < 100:
        raise ValueError(f"confidence_pct: {confidence_pct} is not between 0 and 100")
    if size == 0:
        return 0.0, 100.0
    tail = (1 - confidence_pct / 100) / 2
    low = betaincinv(faulty, size - faulty + 1, tail) if faulty else 0.0
    high = betaincinv(faulty + 1, size - faulty, 1 - tail) if faulty < size else 1.0
    return 100 * float(low), 100 * float(high)


@dataclass(frozen=True, eq=False)
class Sample:
    """Vines to inspect, lot by lot.

    Attributes
    ----------
    lots : tuple of str
        Names of the lots that are sampled; "" for vines whose lot nobody said.
    plans : tuple of SamplePlan
        One a lot.
    printed : tuple of TableRow or None
        What the printed table gives for the same lot in its largest column that is no more than the
        tolerated share; None where it has none.
    vines : int array, rising
        Vines to look at, counted as in `Assigned`.
    sheet : int array
        Inspector of each, 0 first; every inspector has whole segments, as even as segments allow.
    lot : int array
        Of `lots`, for each of the vines.
    """

    lots: tuple[str, ...]
    plans: tuple[SamplePlan, ...]
    printed: tuple[TableRow | None, ...]
    vines: np.ndarray
    sheet: np.ndarray
    lot: np.ndarray

    def __len__(self) -> int:
        return len(self.vines)


def sampled(
    lot: np.ndarray, names: Sequence[str], segment: np.ndarray, inspecting: Inspecting
) -> Sample:
    """The sample of a site.

    Vines of a lot are drawn with the seed alone: lots that are added later change nothing for those that
    are there.

    Parameters
    ----------
    lot : int array, shape (n,)
        Index of `names` for each vine: what was planted where that is on record, else what is assigned;
        -1 for none, -2 where nothing is to be inspected.
    names : sequence of str
    segment : int array, shape (n,)
    inspecting : Inspecting
    """
    # Vines of no lot are group 0, so that the number of a lot's group never changes.
    group = np.asarray(lot).astype(np.int32) + 1
    counts = np.bincount(group[group >= 0], minlength=len(names) + 1)
    asked = inspecting.tolerated_pct, inspecting.confidence_pct, inspecting.accept
    plans = [sample_plan(int(count), *asked) for count in counts]
    vines = drawn(group, segment, [plan.size for plan in plans], inspecting.seed)
    order = [g for g in (*range(1, len(counts)), 0) if counts[g]]
    number = np.full(len(counts), -1)
    number[order] = np.arange(len(order))
    aql = printed_aql(inspecting.tolerated_pct)
    printed = [None if aql is None else printed_plan(int(counts[g]), aql) for g in order]
    return Sample(
        tuple(names[g - 1] if g else "" for g in order),
        tuple(plans[g] for g in order),
        tuple(printed),
        vines,
        _sheets(np.asarray(segment)[vines], inspecting.inspectors),
        number[group[vines]],
    )


def _sheets(segment: np.ndarray, inspectors: int) -> np.ndarray:
    """Inspector of each vine: neighbouring segments, parted where the vines are most even."""
    if not len(segment):
        return np.empty(0, np.int64)
    _, which, counts = np.unique(segment, return_inverse=True, return_counts=True)
    # A segment goes to the inspector in whose share the middle of its vines lies.
    middle = 2 * (np.cumsum(counts) - counts) + counts
    sheet = middle * inspectors // (2 * len(segment))
    return sheet[which.reshape(-1)]
