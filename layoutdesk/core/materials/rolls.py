"""Wires cut from rolls: which roll each comes from, where it is joined, and how good that is.

A cutting-stock problem in whole millimetres. Rolls are filled with the longest wires first, each
into the fullest roll that still takes it (best fit decreasing); where joins are allowed, wires
are then run over from one roll into the next until no roll too many is opened. Beside the answer
stands a bound that no way of cutting can beat.

Sources: Johnson, Near-optimal bin packing algorithms, MIT 1973 (best fit decreasing); Martello and
Toth, Knapsack Problems, Wiley 1990, chapter 8 (bound L2); both from memory, proofs in the comments.
"""

from __future__ import annotations

from bisect import bisect_left, insort
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

_MM = 1000
_TRIES = 5
"""Numbers of rolls that are tried where joins are allowed."""
LEAST_PIECE_M = 5.0
"""Nobody joins on a shorter piece of wire. [m] Common practice."""
JOIN_M = 0.1
"""Wire that overlaps in one join. [m] Common practice."""


@dataclass(frozen=True, eq=False)
class Cutting:
    """Which pieces come from which roll.

    Attributes
    ----------
    roll_m : float
        Length of a roll. [m]
    n_rolls : int
    sum_bound, size_bound : int
        Fewest rolls by length alone, and by which wires cannot share a roll (L2); each is proven.
    at_most : int
        What this way of cutting never exceeds, by proof.
    piece_cut, piece_roll : int array, shape (p,)
        Which cut each piece is of, in order along it, and which roll it comes from.
    piece_m : float array, shape (p,)
        With the overlap of its join. [m]
    joins : int array, shape (c,)
        In each cut.
    join_m : float
        Overlap of one join. [m]

    Examples
    --------
    >>> cutting = cut_rolls([390.0, 300.0, 300.0], 500.0, joins_allowed=1)
    >>> cutting.n_rolls, cutting.bound, cutting.joins.tolist()
    (2, 2, [0, 1, 0])
    """

    roll_m: float
    n_rolls: int
    sum_bound: int
    size_bound: int
    at_most: int
    piece_cut: np.ndarray
    piece_roll: np.ndarray
    piece_m: np.ndarray
    joins: np.ndarray
    join_m: float

    @property
    def bound(self) -> int:
        """No way of cutting takes fewer rolls."""
        return max(self.sum_bound, self.size_bound)

    @property
    def is_best(self) -> bool:
        """Whether it is proven that fewer rolls cannot do."""
        return self.n_rolls == self.bound

    @property
    def n_joins(self) -> int:
        return int(self.joins.sum())

    @property
    def left_m(self) -> np.ndarray:
        """What is left of every roll, shape (n_rolls,). [m]"""
        used = np.bincount(self.piece_roll, self.piece_m, minlength=self.n_rolls)
        return self.roll_m - used


def cut_rolls(
    cuts_m,
    roll_m: float,
    joins_allowed=0,
    join_m: float = JOIN_M,
    least_piece_m: float = LEAST_PIECE_M,
) -> Cutting:
    """Wires from as few rolls as can be found, none joined more often than allowed.

    Parameters
    ----------
    cuts_m : float array, shape (c,)
        Wires, each longer than 0. [m]
    roll_m : float
        Length of a roll. [m]
    joins_allowed : int, or int array of shape (c,)
        Most joins in each wire.
    join_m, least_piece_m : float
        Overlap of a join; the shortest piece that is joined on. [m]

    Raises
    ------
    ValueError
        For a wire that cannot be made of so few rolls, and for lengths that are no lengths.
    """
    cuts, roll, join, least = _whole_mm(cuts_m, roll_m, join_m, least_piece_m)
    allowed = np.broadcast_to(np.asarray(joins_allowed, dtype=np.int64), cuts.shape)
    needed = _fewest_joins(cuts, roll, join)
    over = np.flatnonzero(needed > allowed)
    if len(over):
        worst = over[np.argmax(cuts[over])]
        raise ValueError(
            f"cuts_m: a wire of {cuts[worst] / _MM:.2f} m needs {needed[worst]} joins from rolls of "
            f"{roll / _MM:.2f} m, and {allowed[worst]} are allowed"
        )
    whole, rest, rest_cut = _whole_rolls(cuts, roll, join, least, needed)
    spare = (allowed - needed)[rest_cut] * (rest >= 2 * least)
    spare = np.where(needed[rest_cut] > 0, 0, spare)
    total = int((cuts + needed * join).sum())
    # Long wires may be divided otherwise than here: only those that stay whole make a size bound.
    single = (allowed == 0) & (cuts <= roll)
    filled = _filled(rest, spare, roll, join, least, -(-total // roll) - len(whole))
    return _as_cutting(
        (roll, join, len(cuts)),
        (-(-total // roll), size_bound(cuts[single], roll)),
        len(whole) + any_fit_at_most(rest, roll),
        (whole, rest_cut, filled),
    )


def joins_needed(cuts_m, roll_m: float, join_m: float = JOIN_M) -> np.ndarray:
    """Joins that wires longer than a roll cannot do without, shape (c,)."""
    cuts, roll, join, _ = _whole_mm(cuts_m, roll_m, join_m, 0.0)
    return _fewest_joins(cuts, roll, join)


def _fewest_joins(cuts, roll: int, join: int) -> np.ndarray:
    # With k joins, cut + k·join must fit into k + 1 rolls.
    return np.maximum(-(-(cuts - join) // (roll - join)) - 1, 0)


def size_bound(cuts, roll: int) -> int:
    """Fewest rolls for wires that stay whole: the bound L2, never under the sum over the roll.

    For any limit a of at most half a roll: wires over roll − a share with none that is a or more;
    those over half a roll share with no other of them; what they leave takes a part of those from
    a to half, and the rest needs rolls of its own. The best over all limits counts.

    Parameters
    ----------
    cuts, roll : int array, int
        In one unit, no wire longer than the roll.
    """
    cuts = np.sort(np.asarray(cuts, dtype=np.int64))
    if not len(cuts):
        return 0
    running = np.concatenate([[0], np.cumsum(cuts)])
    half = np.searchsorted(cuts, roll // 2, side="right")
    limits = np.unique(np.concatenate([[0], cuts[:half]]))
    first = np.searchsorted(cuts, limits)
    alone = np.searchsorted(cuts, roll - limits, side="right")
    halves = alone - half
    room = halves * roll - (running[alone] - running[half])
    small = running[half] - running[first]
    more = np.maximum(-(-(small - room) // roll), 0)
    return int((len(cuts) - half + more).max())


def any_fit_at_most(cuts, roll: int) -> int:
    """Most rolls that longest-first filling opens, by proof.

    With m of the longest to a roll, all rolls but the last are filled over m/(m+1): when the last
    was opened for a piece, either that piece was at most roll/(m+1) and fitted nowhere, or every
    roll held m pieces greater than that.
    """
    if not len(cuts):
        return 0
    m = roll // int(max(cuts))
    return -(-int(sum(cuts)) * (m + 1) // (m * roll))


def _whole_mm(cuts_m, roll_m, join_m, least_piece_m):
    cuts = np.atleast_1d(np.asarray(cuts_m, dtype=float))
    if not (np.isfinite(cuts).all() and (cuts > 0).all()):
        raise ValueError("cuts_m: every wire must be longer than 0")
    roll = int(np.floor(roll_m * _MM + 1e-6))
    join, least = round(join_m * _MM), round(least_piece_m * _MM)
    if not (0 <= 4 * join <= roll and 0 <= 2 * least <= roll):
        raise ValueError(f"roll_m: {roll_m!r} is too short for joins and pieces")
    # A piece that is joined on must be longer than its own overlap.
    return np.ceil(cuts * _MM - 1e-6).astype(np.int64), roll, join, max(least, 2 * join, 1)


def _whole_rolls(cuts, roll, join, least, needed):
    """Wires longer than a roll as whole rolls and a rest: (cut of each whole roll), rests and cuts.

    Where the rest would be shorter than the least piece, one whole roll gives it what it lacks.
    """
    index = np.arange(len(cuts))
    rest = cuts + needed * join - needed * roll
    lacks = np.where(needed > 0, np.maximum(least - rest, 0), 0)
    short = lacks > 0
    whole = np.repeat(index, needed - short)
    return (
        whole,
        np.concatenate([rest + lacks, roll - lacks[short]]),
        np.concatenate([index, index[short]]),
    )


def _filled(rest, spare, roll, join, least, wanted):
    """Pieces as (which rest, roll, length), in as few rolls as found."""
    order = np.argsort(-rest, kind="stable")
    if not spare.any():
        return _best_fit(rest, order, roll).pieces
    # Those that cannot be joined find their rolls first.
    firm_first = order[np.argsort(spare[order] > 0, kind="stable")]
    # Every number of rolls that is tried begins as the fewest do, until those are opened.
    fewest = max(wanted, 1)
    begun = _best_fit(rest, firm_first, roll, fewest, stops=True)
    alike = np.array_equal(order, firm_first)
    packed = _best_fit(rest, order, roll, begun=begun if alike else _NOTHING).pieces
    # Nearly always the first or second number will do; some more are tried by halving.
    low, high, best = fewest, 1 + max((r for _, r, _ in packed), default=-1), packed
    tried = low
    for attempt in range(_TRIES):
        if low >= high:
            break
        placed = _best_fit(rest, firm_first, roll, tried, begun).pieces
        joined = _run_over(placed, spare, roll, join, least, tried)
        if joined is None:
            low = tried + 1
        else:
            high, best = tried, joined
        tried = low if not attempt else (low + high) // 2
    return best


class _Packed(NamedTuple):
    """Pieces that found their rolls so far, what room those have left, and how many are opened."""

    pieces: Sequence[tuple[int, int, int]]
    rooms: Sequence[int]
    opened: int


_NOTHING = _Packed((), (), 0)


def _best_fit(rest, order, roll, n_rolls=None, begun=_NOTHING, stops=False) -> _Packed:
    """Each piece into the fullest roll that takes it; with `n_rolls`, -1 where none does.

    It goes on from what is `begun`; one that `stops` does so at the first piece that finds no roll.
    """
    # Room and roll in one number each: plain numbers sort and search several times faster than pairs.
    bits = len(order).bit_length()
    low = (1 << bits) - 1
    lengths = rest.tolist()
    pieces, rooms, opened = list(begun.pieces), list(begun.rooms), begun.opened
    for i in order[len(pieces) :].tolist():
        length = lengths[i]
        at = bisect_left(rooms, length << bits)
        if at < len(rooms):
            left = rooms.pop(at)
            r = left & low
        elif n_rolls is None or opened < n_rolls:
            left = (roll << bits) | opened
            r = opened
            opened += 1
        elif stops:
            break
        else:
            pieces.append((i, -1, length))
            continue
        pieces.append((i, r, length))
        insort(rooms, left - (length << bits))
    return _Packed(pieces, rooms, opened)


def _run_over(placed, spare, roll, join, least, n_rolls):
    """Pieces of a given number of rolls, those that found none joined in; None where that fails.

    What found no roll is run over the ends of those rolls that have most left: laid end to end,
    their pieces fill one roll after another, and the one at a roll's end goes on in the next. Each
    roll's end costs an overlap and at most two least pieces.
    """
    piece, where, length = np.array(placed, dtype=np.int64).reshape(-1, 3).T
    homeless = where < 0
    if (spare[piece[homeless]] == 0).any():
        return None
    if not homeless.any():
        return placed
    room = roll - np.bincount(where[~homeless], length[~homeless], n_rolls).astype(np.int64)
    emptiest = np.argsort(-room, kind="stable")
    gain = np.cumsum(room[emptiest]) - np.arange(n_rolls) * join
    ready = np.flatnonzero(gain >= length[homeless].sum())
    if not len(ready):
        return None
    enough = int(ready[0]) + 1
    while True:
        within = np.zeros(n_rolls + 1, dtype=bool)  # the last for those without, at -1
        within[emptiest[:enough]] = True
        loose = homeless | (within[where] & (spare[piece] > 0))
        free = room + np.bincount(where[loose & ~homeless], length[loose & ~homeless], n_rolls)
        chosen = [(r, int(free[r])) for r in emptiest[:enough].tolist()]
        # Those without come last among pieces of a length.
        ranked = np.concatenate([np.flatnonzero(loose & ~homeless), np.flatnonzero(homeless)])
        ranked = ranked[np.argsort(-length[ranked], kind="stable")]
        pieces = zip(piece[ranked].tolist(), length[ranked].tolist(), strict=True)
        joined = _end_to_end(pieces, spare, join, least, chosen)
        if joined is not None:
            return [
                p for p, moved in zip(placed, loose.tolist(), strict=True) if not moved
            ] + joined
        if enough == n_rolls:
            return None
        # Short pieces took too much: a few more rolls give what is missing.
        enough = min(n_rolls, 2 * enough)


def _end_to_end(pieces, spare, join, least, chosen):
    """Pieces laid one after another over rolls with so much room each; None if they are too long."""
    found, rolls = [], iter(chosen)
    r, left = -1, 0
    for i, length in pieces:
        joins = 0
        while length:
            if length <= left:
                found.append((i, r, length))
                left -= length
                break
            # Go on in the next roll, so that neither piece is shorter than the least.
            part = min(left, length + join - least)
            if part >= least and joins < spare[i]:
                found.append((i, r, part))
                joins += 1
                length += join - part
            r, left = next(rolls, (-1, 0))
            if r < 0:
                return None
    return found


def _as_cutting(sizes, bounds, at_most, found) -> Cutting:
    (roll, join, n), (by_sum, by_size), (whole, rest_cut, filled) = sizes, bounds, found
    n_whole = len(whole)
    which = np.array([i for i, _, _ in filled], dtype=np.intp)
    piece_cut = np.concatenate([whole, rest_cut[which]]).astype(np.intp)
    piece_roll = np.concatenate(
        [np.arange(n_whole), n_whole + np.array([r for _, r, _ in filled], dtype=np.intp)]
    ).astype(np.intp)
    piece = np.concatenate([np.full(n_whole, roll), np.array([p for _, _, p in filled])])
    used, piece_roll = np.unique(piece_roll, return_inverse=True)
    order = np.argsort(piece_cut, kind="stable")
    return Cutting(
        roll / _MM,
        len(used),
        by_sum,
        by_size,
        at_most,
        piece_cut[order],
        piece_roll[order],
        piece[order] / _MM,
        np.bincount(piece_cut, minlength=n) - 1,
        join / _MM,
    )
