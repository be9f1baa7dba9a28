"""Vines drawn at random, so that anybody who knows the seed draws the same."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

_GAMMA = 0x9E3779B97F4A7C15
_BITS = 0xFFFFFFFFFFFFFFFF
_STEPS = ((30, 0xBF58476D1CE4E5B9), (27, 0x94D049BB133111EB), (31, 1))
"""Of SplitMix64. Source: G. L. Steele, D. Lea, C. H. Flood, Fast splittable pseudorandom number generators,
OOPSLA 2014, with the constants of its authors' Java 8 library (java.util.SplittableRandom)."""
_OF_SEGMENTS = 0x5345474D454E5453
"""Sets the numbers that segments are drawn by apart from those of vines."""


def mixed(state: np.ndarray) -> np.ndarray:
    """64 bits that look random, from states that may be in a row; the finisher of SplitMix64.

    The numbers of a generator that was seeded with s are those of s + γ, s + 2γ …
    """
    z = np.asarray(state, np.uint64)
    for shift, factor in _STEPS:
        z = (z ^ (z >> np.uint64(shift))) * np.uint64(factor)
    return z


def numbers_of(seed: int, counter: np.ndarray) -> np.ndarray:
    """The numbers at places of the sequence that a SplitMix64 generator gives for a seed, 0 the first."""
    at = np.asarray(counter).astype(np.uint64) + np.uint64(1)
    return mixed(np.uint64(seed & _BITS) + at * np.uint64(_GAMMA))


def _seed_of(*parts: int) -> int:
    """One seed from several numbers, their order counting."""
    seed = 0
    for part in parts:
        seed = int(numbers_of(seed ^ (part & _BITS), np.zeros(1, np.int64))[0])
    return seed


def drawn(group: np.ndarray, segment: np.ndarray, sizes: Sequence[int], seed: int) -> np.ndarray:
    """Vines drawn at random from each group (lot), spread over segments in proportion to their vines.

    Every vine of a group has the same chance. Of a segment its share is drawn, rounded down or up, and of
    neighbouring segments together their share but for one or two: what is rounded is settled between
    neighbours by lot (ordered pivotal sampling), so that short rows are drawn from too, and no rhythm of
    rows can agree with the rhythm of the sample. Within a segment vines are drawn at random. The
    hypergeometric law is that of drawing without regard to rows: drawn like this, faults that come in rows
    are found rather more often, and others as often.

    Source: J.-C. Deville and Y. Tillé, Unequal probability sampling without replacement through a splitting
    method, Biometrika 85 (1998), 89–101 (the pivotal method; from memory).

    Parameters
    ----------
    group : int array, shape (n,)
        Which group each vine is of, -1 for none.
    segment : int array, shape (n,)
    sizes : sequence of int
        How many of each group; all of one that has no more.
    seed : int

    Returns
    -------
    int array, rising
        Which of the n; the same for the same arguments on every machine and in every version to come.

    Examples
    --------
    >>> drawn(np.zeros(12, int), np.repeat([0, 1, 2], 4), [3], seed=1).tolist()
    [2, 7, 9]
    """
    group, segment = np.asarray(group), np.asarray(segment)
    if group.shape != segment.shape:
        raise ValueError(f"segment: {segment.shape} for {group.shape} vines")
    order = np.argsort(group, kind="stable")
    starts = np.searchsorted(group[order], np.arange(len(sizes) + 1))
    chosen = [np.empty(0, np.int64)]
    for g, size in enumerate(sizes):
        members = order[starts[g] : starts[g + 1]]
        if size >= len(members):
            chosen.append(members)
        elif size > 0:
            chosen.append(_drawn_of(members, segment[members], int(size), _seed_of(seed, g)))
    return np.sort(np.concatenate(chosen))


def _drawn_of(members: np.ndarray, segment: np.ndarray, size: int, seed: int) -> np.ndarray:
    found, which, counts = np.unique(segment, return_inverse=True, return_counts=True)
    which = which.reshape(-1)
    share = _shares(found, counts, size, _seed_of(seed, _OF_SEGMENTS))
    kept = np.flatnonzero(share[which] > 0)
    members, which = members[kept], which[kept]
    order = np.lexsort((numbers_of(seed, members), which))
    of_segment = which[order]
    begins = np.flatnonzero(np.diff(of_segment, prepend=-1))
    rank = np.arange(len(order)) - np.repeat(begins, np.diff(begins, append=len(order)))
    return members[order[rank < share[of_segment]]]


def _shares(found: np.ndarray, counts: np.ndarray, size: int, seed: int) -> np.ndarray:
    """Vines to draw of each segment, in whole numbers all the way: each its share rounded down or up."""
    total = int(counts.sum())
    share, rest = np.divmod(counts.astype(np.int64) * size, total)
    numbers = numbers_of(seed, found).tolist()
    carrier, held = -1, 0
    for i, own in enumerate(rest.tolist()):
        if not own:
            continue
        if not held:
            carrier, held = i, own
            continue
        both = held + own
        if both < total:
            # One of the two goes on with the chance of both, in proportion to its own.
            if numbers[i] * both < own << 64:
                carrier = i
            held = both
            continue
        # One of the two is drawn, the other goes on with what is left of their chances.
        if numbers[i] * (2 * total - both) < (total - own) << 64:
            share[carrier] += 1
            carrier = i
        else:
            share[i] += 1
        held = both - total
    return share
