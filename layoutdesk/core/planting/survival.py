"""Inspection and survival told by lot, row and cause, and what is to be planted again."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from ..model.planting import CHECKS
from ..model.register import STATES, WHAT
from .on_record import row_codes
from .sampling import share_bounds
from .standing import Standing, is_loss, plantings


@dataclass(frozen=True)
class Tally:
    """Of a lot, a row or the site: how many were looked at, how many were faulty (or failed), with bounds.

    `share_pct` is faulty of looked at; `low_pct`, `high_pct` its Clopper–Pearson bounds at 95 %. `items` tells
    faults by item of CHECKS, or losses by cause. The name of a lot nobody said is empty.
    """

    name: str
    size: int
    faulty: int
    share_pct: float
    low_pct: float
    high_pct: float
    items: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Rework:
    """A row to go over again: faults found in it, or more than its lot may have.

    `places` are the vines with faults that nobody has put right; none where the whole row is to be gone over
    for its lot.
    """

    row: str
    why: str
    places: tuple[int, ...]


@dataclass(frozen=True)
class Result:
    """What inspection found since vines were planted.

    `accepted` tells of every lot on record whether it is; None while too few of its vines were looked at.
    """

    by_lot: tuple[Tally, ...]
    by_row: tuple[Tally, ...]
    rework: tuple[Rework, ...]
    accepted: tuple[tuple[str, bool | None], ...]


@dataclass(frozen=True)
class ReplantLine:
    """Positions to plant again with what stood there, by the plant's lot."""

    lot: str
    plant: str
    places: np.ndarray
    order: int


@dataclass(frozen=True)
class Survival:
    """Plants that were set and those that were lost.

    Tallies count plants: a vine that died and was planted again is a loss of the lot that stood there
    first, and what stands there now is a plant of its own lot. Where losses are on record but no planting,
    the plant is one of a lot nobody said.

    `replacement_pct` is 100·A/(B·C) as published: A dead or missing now, B vines a row, C rows counted.
    With B the mean over the rows, as here, B·C is all positions counted: those that were ever planted. [%]

    Sources: grape establishment guides of university extension services give the formula for rows of equal
    length; the guide's name is not known here (from memory).
    """

    site: Tally
    by_lot: tuple[Tally, ...]
    by_row: tuple[Tally, ...]
    by_cause: tuple[tuple[str, int], ...]
    replacement_pct: float
    replant: tuple[ReplantLine, ...]

    @property
    def causes(self) -> tuple[Tally, ...]:
        """Of all plants, how many each cause took, with bounds; the one that took most first."""
        return tuple(_tally(cause, self.site.size, n, ()) for cause, n in self.by_cause)


def inspection_result(now: Standing, accept: int, sizes: Mapping[str, int] | None = None) -> Result:
    """Of all vines that were inspected since they were planted.

    A vine counts as faulty that was found so once, though it was put right since: that is what its lot
    is judged by. A lot with more faulty vines than are accepted is so no more when every vine of it that
    stands has been looked at and put right.

    Parameters
    ----------
    now : Standing
    accept : int
        Faulty vines that are accepted in a lot.
    sizes : mapping of str to int, optional
        Vines of each lot, by name, that must be looked at before it can be accepted; one where left out.
    """
    looked, found = _inspected(now)
    at = np.flatnonzero(looked)
    faulty, items = found[at] > 0, _by_check(found[at])
    lots = ["", *(lot.name for lot in now.register.lots)]
    by_lot = _tallies(now.lot[at] + 1, lots, faulty, items)
    row, rows = _rows_of(now)
    by_row = _tallies(row[at], rows, faulty, items)
    accepted = _accepted(now, looked, {t.name: t for t in by_lot}, accept, sizes or {})
    refused = [name for name, yes in accepted if yes is False]
    return Result(by_lot, by_row, _to_rework(now, looked, row, rows, refused), accepted)


def _inspected(now: Standing) -> tuple[np.ndarray, np.ndarray]:
    """Which positions were inspected since they were planted, and all that was ever wrong there."""
    events, n = now.register.events, len(now.state)
    place, what = events.place[now.order], events.what[now.order]
    planted = np.full(n, -1, np.int64)
    at = np.flatnonzero(what <= WHAT["replanted"])
    planted[place[at]] = at
    at = np.flatnonzero(what == WHAT["checked"])
    at = at[at > planted[place[at]]]
    looked, found = np.zeros(n, bool), np.zeros(n, np.uint16)
    looked[place[at]] = True
    faults = events.faults[now.order[at]]
    for bit in range(len(CHECKS)):
        once = np.zeros(n, bool)
        once[place[at[(faults >> bit) & 1 > 0]]] = True
        found |= (once << bit).astype(np.uint16)
    return looked, found


def _by_check(faults: np.ndarray) -> dict[str, np.ndarray]:
    return {item: (faults >> bit) & 1 > 0 for bit, item in enumerate(CHECKS)}


def _rows_of(now: Standing) -> tuple[np.ndarray, tuple[str, ...]]:
    """Row of every position, and codes of rows."""
    row_of_piece, codes = row_codes(now.register)
    return np.repeat(row_of_piece, now.register.stand.count), codes


@cache
def _bounds(faulty: int, size: int) -> tuple[float, float]:
    return share_bounds(faulty, size)


def _tally(name: str, size: int, faulty: int, items) -> Tally:
    low, high = _bounds(faulty, size) if size else (0.0, 100.0)
    share = 100 * faulty / size if size else 0.0
    return Tally(name, size, faulty, share, low, high, tuple(items))


def _tallies(
    group: np.ndarray, names, faulty: np.ndarray, items: dict[str, np.ndarray]
) -> tuple[Tally, ...]:
    """A tally of each group that has members, in the order of the groups; `items` by their masks."""
    n = len(names)
    size = np.bincount(group, minlength=n)
    bad = np.bincount(group[faulty], minlength=n)
    each = {item: np.bincount(group[mask], minlength=n) for item, mask in items.items()}
    return tuple(
        _tally(
            names[g],
            int(size[g]),
            int(bad[g]),
            ((item, int(counts[g])) for item, counts in each.items() if counts[g]),
        )
        for g in np.flatnonzero(size).tolist()
    )


def _standing_now(now: Standing) -> np.ndarray:
    return (now.state == STATES.index("planted")) | (now.state == STATES.index("replanted"))


def _accepted(now: Standing, looked, tallies, accept: int, sizes):
    stands = _standing_now(now)
    unseen = stands & (~looked | (now.faults > 0) | ~now.checked)
    waiting = np.bincount(now.lot[unseen] + 1, minlength=len(now.register.lots) + 1)
    said: list[tuple[str, bool | None]] = []
    for number, lot in enumerate(now.register.lots, 1):
        tally = tallies.get(lot.name)
        if tally is None:
            said.append((lot.name, None))
        elif tally.faulty > accept:
            said.append((lot.name, not waiting[number]))
        else:
            enough = not waiting[number] or tally.size >= sizes.get(lot.name, 1)
            said.append((lot.name, True if enough else None))
    return tuple(said)


def _to_rework(now: Standing, looked, row, rows, refused) -> tuple[Rework, ...]:
    stands = _standing_now(now)
    wrong = np.flatnonzero(stands & (now.faults > 0))
    why: dict[int, list[str]] = {}
    places: dict[int, np.ndarray] = {}
    for r, mine in _grouped(row[wrong], wrong):
        items = _by_check(now.faults[mine])
        told = [f"{CHECKS[item]} {int(m.sum())}" for item, m in items.items() if m.any()]
        n = len(mine)
        why[r] = [f"{n} faulty vine{'s' if n > 1 else ''}; not right: {', '.join(told)}"]
        places[r] = mine
    for number, lot in enumerate(now.register.lots):
        if lot.name in refused:
            unseen = stands & ~looked & (now.lot == number)
            for r in np.unique(row[unseen]).tolist():
                why.setdefault(r, []).append(f"lot {lot.name} is not accepted: go over all of it")
    return tuple(
        Rework(rows[r], "; ".join(why[r]), tuple(places[r].tolist()) if r in places else ())
        for r in sorted(why)
    )


def _grouped(group: np.ndarray, values: np.ndarray):
    """Values of each group, in order of the groups."""
    if not len(group):
        return ()
    order = np.argsort(group, kind="stable")
    found, starts = np.unique(group[order], return_index=True)
    return zip(found.tolist(), np.split(values[order], starts[1:]), strict=True)


def survival(now: Standing, spares_pct: float = 0.0) -> Survival:
    """Of all plants that were ever set, and what is to be planted again.

    Parameters
    ----------
    now : Standing
    spares_pct : float
        Ordered beyond the positions to plant again, rounded up. [%]
    """
    place, lot, lost, cause = _plants(now)
    words = (*now.register.words, "not known")
    unknown = next(i for i, word in enumerate(words) if word.casefold() == "not known")
    cause = np.where(lost, np.where(cause >= 0, cause, unknown), -1)
    causes = {word: cause == i for i, word in enumerate(words[: max(unknown + 1, len(words) - 1)])}
    totals = [(word, int(mask.sum())) for word, mask in causes.items()]
    by_cause = tuple(sorted((t for t in totals if t[1]), key=lambda t: -t[1]))
    row, rows = _rows_of(now)
    lots = ["", *(known.name for known in now.register.lots)]
    gone = (now.state == STATES.index("missing")) | (now.state == STATES.index("dead"))
    positions = len(np.unique(place))
    return Survival(
        _tally("", len(place), int(lost.sum()), by_cause),
        _tallies(lot + 1, lots, lost, causes),
        _tallies(row[place], rows, lost, causes),
        by_cause,
        100 * int(gone.sum()) / positions if positions else 0.0,
        tuple(_replant(now, np.flatnonzero(gone), spares_pct)),
    )


def _plants(now: Standing):
    """Every plant that was ever set: its position, its lot, whether it was lost, and the cause, -1 for none."""
    events = now.register.events
    place, what = events.place[now.order], events.what[now.order]
    begun, _ = plantings(place, what)
    planted = np.zeros(len(now.state), bool)
    planted[place[begun]] = True
    sets = what <= WHAT["dead"]
    at = np.flatnonzero(sets & ~planted[place])
    begun[at[np.diff(place[at], prepend=-1) != 0]] = (
        True  # stood there before anything was recorded
    )
    starts = np.flatnonzero(begun)
    plant = np.cumsum(begun) - 1
    # What is recorded of a position before its first plant is told of none.
    of_one = (plant >= 0) & (place[starts[plant]] == place if len(starts) else False)
    n = len(starts)
    lot, cause, lost = np.full(n, -1, np.int64), np.full(n, -1, np.int64), np.zeros(n, bool)
    at = np.flatnonzero(of_one & (what <= WHAT["replanted"]))
    lot[plant[at]] = events.lot[now.order[at]]
    at = np.flatnonzero(of_one & sets)
    lost[plant[at]] = is_loss(what[at])
    cause[plant[at]] = np.where(is_loss(what[at]), events.cause[now.order[at]], -1)
    followed = np.zeros(n, bool)
    followed[:-1] = place[starts[1:]] == place[starts[:-1]]
    return place[starts], lot, lost | followed, cause


def _replant(now: Standing, gone: np.ndarray, spares_pct: float):
    for lot, places in _grouped(now.lot[gone].astype(np.int64), gone):
        known = now.register.lots[lot] if lot >= 0 else None
        order = math.ceil(len(places) * (1 + spares_pct / 100) - 1e-9)
        yield ReplantLine(
            known.name if known else "", str(known.plant) if known else "", places, order
        )
