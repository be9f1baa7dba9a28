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
from dataclasses import dataclass

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
    packed = _best_fit(rest, order, roll)
    if not spare.any():
        return packed
    n_whole = 1 + max((r for _, r, _ in packed), default=-1)
    # Those that cannot be joined find their rolls first.
    firm_first = order[np.argsort(spare[order] > 0, kind="stable")]
    # Nearly always the first or second number will do; some more are tried by halving.
    low, high, best = max(wanted, 1), n_whole, packed
    tried = low
    for attempt in range(_TRIES):
        if low >= high:
            break
        joined = _run_over(rest, spare, roll, join, least, firm_first, tried)
        if joined is None:
            low = tried + 1
        else:
            high, best = tried, joined
        tried = low if not attempt else (low + high) // 2
    return best


def _best_fit(rest, order, roll, n_rolls=None):
    """Each piece into the fullest roll that takes it; with `n_rolls`, -1 where none does."""
    rooms: list[tuple[int, int]] = []
    opened, pieces = 0, []
    for i in order.tolist():
        length = int(rest[i])
        at = bisect_left(rooms, (length, -1))
        if at < len(rooms):
            room, r = rooms.pop(at)
        elif n_rolls is None or opened < n_rolls:
            room, r = roll, opened
            opened += 1
        else:
            pieces.append((i, -1, length))
            continue
        pieces.append((i, r, length))
        insort(rooms, (room - length, r))
    return pieces


def _run_over(rest, spare, roll, join, least, order, n_rolls):
    """The same in a given number of rolls, by joins; None where that is not found.

    What found no roll is run over the ends of those rolls that have most left: laid end to end,
    their pieces fill one roll after another, and the one at a roll's end goes on in the next. Each
    roll's end costs an overlap and at most two least pieces.
    """
    placed = _best_fit(rest, order, roll, n_rolls)
    homeless = [(i, length) for i, r, length in placed if r < 0]
    if any(spare[i] == 0 for i, _ in homeless):
        return None
    if not homeless:
        return placed
    room = np.full(n_rolls, roll, dtype=np.int64)
    for _, r, length in placed:
        if r >= 0:
            room[r] -= length
    emptiest = np.argsort(-room, kind="stable")
    lacking = sum(length for _, length in homeless)
    gain = np.cumsum(room[emptiest]) - np.arange(n_rolls) * join
    ready = np.flatnonzero(gain >= lacking)
    if not len(ready):
        return None
    enough = int(ready[0]) + 1
    while True:
        joined = _relaid(placed, spare, (roll, join, least), emptiest[:enough], homeless)
        if joined is not None or enough == n_rolls:
            return joined
        # Short pieces took too much: a few more rolls give what is missing.
        enough = min(n_rolls, 2 * enough)


def _relaid(placed, spare, lengths, chosen, homeless):
    """Pieces of the chosen rolls and those without, end to end over those rolls; None if too long."""
    roll, join, least = lengths
    within = set(chosen.tolist())
    kept = [p for p in placed if p[1] >= 0 and (p[1] not in within or spare[p[0]] == 0)]
    room = dict.fromkeys(within, roll)
    for _, r, length in kept:
        if r in within:
            room[r] -= length
    loose = [(i, ln) for i, r, ln in placed if r in within and spare[i] > 0] + homeless
    rolls = iter(chosen.tolist())
    r, left = -1, 0
    for i, length in sorted(loose, key=lambda p: -p[1]):
        joins = 0
        while length:
            if length <= left:
                kept.append((i, r, length))
                left -= length
                break
            # Go on in the next roll, so that neither piece is shorter than the least.
            part = min(left, length + join - least)
            if part >= least and joins < spare[i]:
                kept.append((i, r, part))
                joins += 1
                length += join - part
            r = next(rolls, -1)
            if r < 0:
                return None
            left = room[r]
    return kept


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
