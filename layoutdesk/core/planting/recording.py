"""One more entry in the register about vines of the plans."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from itertools import chain

import numpy as np

from ..layout.numbering import mark_code
from ..model.findings import InputProblem
from ..model.planting import Lot
from ..model.register import NO_PLACE, WHAT, Events, Register, Stand
from ..model.rowplan import RowPlan
from .matching import Vines, matched


def recorded(
    register: Register | None,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    what: np.ndarray | str,
    day: np.ndarray | datetime.date | None,
    *,
    lots: Sequence[Lot | None] | Lot | None = None,
    causes: Sequence[str] | str = "",
    faults: np.ndarray | int = 0,
    by: str,
    when: str,
    source: str,
    revision: str,
    note: str = "",
) -> Register:
    """The register with one more entry about vines of the plans (counted as in `Assigned`).

    Segments that are not on record yet are put on record with it, whole; of one that has grown, what is
    new. A vine that stands at a position on record is told of at that position, whatever its code is now.

    Parameters
    ----------
    register : Register or None
    plans : sequence of RowPlan
    vines : int array, shape (n,)
    what : str or array of str or int, shape (n,)
        Of EVENTS, or their codes.
    day : datetime.date, int array of ordinals, or None
        0 or None where nobody said.
    lots : Lot or sequence of n
        What was planted; None for none.
    causes : str or sequence of n
        Of losses; empty for none.
    faults : int or int array
        A bit for each item of CHECKS that was wrong.
    by, when, source, revision, note : str
        As in `Batch`; `when` is ISO 8601 with its offset.

    Raises
    ------
    InputProblem
        Where a vine stands where nothing is on record, and its code is on record for another place.
    """
    register = register or Register()
    vines = np.atleast_1d(np.asarray(vines, np.int64))
    every = Vines.of(plans)
    if len(vines) and not (vines.min() >= 0 and vines.max() < len(every.index)):
        raise ValueError(f"vines: 0 to {len(every.index) - 1} are on the plans")
    found, away = matched(register, plans, every)
    place = found.place.astype(np.int64)
    _refuse_moved(plans, every, vines[(place[vines] < 0) & np.isfinite(away[vines])], away)
    stand, new = _put_on_record(plans, every, vines[place[vines] < 0], place, away)
    place[new] += len(register.stand)
    said, lot = _lots_said(register, lots, len(vines))
    words, cause = _causes_said(register, causes, len(vines))
    events = Events(
        place[vines],
        _codes_of(what, len(vines)),
        _days_of(day, len(vines)),
        lot,
        cause,
        np.broadcast_to(faults, len(vines)),
    )
    return register.with_batch(
        events, recorded=when, by=by, source=source, revision=revision, note=note,
        stand=stand, lots=said, words=words,
    )  # fmt: skip


def _refuse_moved(plans, every: Vines, moved: np.ndarray, away: np.ndarray) -> None:
    if not len(moved):
        return
    code = code_of(plans, every, int(moved[0]))
    others = f" and {len(moved) - 1:,} more" if len(moved) > 1 else ""
    stand = "stand" if len(moved) > 1 else "stands"
    raise InputProblem(
        f"{code}{others} {stand} on the plan where nothing is on record, while that code is on record "
        f"{away[moved[0]]:.2f} m away: give the block the rules back that it was planted with, or number "
        "its new rows and vines as no others are."
    )


def code_of(plans: Sequence[RowPlan], every: Vines, vine: int) -> str:
    """Code of a vine of all plans on today's plan."""
    segment, index = int(every.segment[vine]), int(every.index[vine])
    for plan in plans:
        if segment < plan.n_segments:
            s = plan.segments
            return mark_code(
                plan.block.name, int(s.number[segment]), int(s.letter[segment]), "vine", index
            )
        segment -= plan.n_segments
    raise IndexError(f"vine: {vine} is behind the last one")


def _put_on_record(plans, every: Vines, wanted: np.ndarray, place: np.ndarray, away: np.ndarray):
    """The pieces of row that are new, and the vines of them, whose `place` in these pieces is set."""
    if not len(wanted):
        return Stand(), np.empty(0, np.int64)
    of = np.zeros(int(every.segment[-1]) + 1, bool)
    of[every.segment[wanted]] = True
    mine = of[every.segment]
    known = np.zeros(len(of), bool)
    known[every.segment[mine & ((place >= 0) | np.isfinite(away))]] = True
    new = np.flatnonzero(mine & (place < 0) & ~np.isfinite(away))
    segment, index = every.segment[new], every.index[new]
    # A segment that is new goes on record with the places it leaves empty; of others what has come.
    breaks = (np.diff(segment, prepend=-1) != 0) | (
        known[segment] & (np.diff(index, prepend=0) != 1)
    )
    starts = np.flatnonzero(breaks)
    ends = np.append(starts[1:], len(new)) - 1
    of_piece = segment[starts]
    first = np.where(known[of_piece], index[starts], 1)
    by_rules = np.concatenate([plan.segments.n_vines for plan in plans])[of_piece]
    last = np.where(known[of_piece], index[ends], np.maximum(index[ends], by_rules))
    count = last - first + 1
    offsets = np.cumsum(count) - count
    piece = np.cumsum(breaks) - 1
    place[new] = offsets[piece] + index - first[piece]
    xy = np.full((int(count.sum()), 2), NO_PLACE, np.int64)
    xy[place[new]] = np.rint(every.xy_m[new] * 1000)
    names = list(chain.from_iterable([plan.block.name] * plan.n_segments for plan in plans))
    stand = Stand(
        tuple(names[s] for s in of_piece.tolist()),
        np.concatenate([plan.segments.number for plan in plans])[of_piece],
        np.concatenate([plan.segments.letter for plan in plans])[of_piece],
        first,
        count,
        xy,
    )
    return stand, new


def _codes_of(what, n: int) -> np.ndarray:
    if isinstance(what, str):
        return np.full(n, _code_of(what))
    given = np.asarray(what)
    if given.dtype.kind in "iu":
        return given
    kinds, which = np.unique(given.astype(str), return_inverse=True)
    return np.array([_code_of(kind) for kind in kinds], np.int64)[which.reshape(-1)]


def _code_of(event: str) -> int:
    if event not in WHAT:
        raise ValueError(f"what: {event!r} is none of {', '.join(WHAT)}")
    return WHAT[event]


def _days_of(day, n: int) -> np.ndarray:
    if day is None:
        return np.zeros(n, np.int64)
    if isinstance(day, datetime.date):
        return np.full(n, day.toordinal())
    return np.broadcast_to(np.asarray(day), n)


def _lots_said(register: Register, lots, n: int) -> tuple[tuple[Lot, ...], np.ndarray]:
    """Lots that this entry describes, and the number of each event's lot."""
    number = {lot.name.casefold(): i for i, lot in enumerate(register.lots)}
    described = {lot.name.casefold(): lot for lot in register.lots}
    if lots is None or isinstance(lots, Lot):
        each, which = [lots], np.zeros(n, np.intp)
    else:
        seen: dict[int, int] = {}
        each, which = [], np.empty(n, np.intp)
        for i, lot in enumerate(_as_many(lots, n, "lots")):
            if id(lot) not in seen:
                seen[id(lot)] = len(each)
                each.append(lot)
            which[i] = seen[id(lot)]
    said: dict[str, Lot] = {}
    codes = []
    for lot in each:
        if lot is None:
            codes.append(-1)
            continue
        name = lot.name.casefold()
        if described.get(name) != lot:
            said[name] = described[name] = lot
        codes.append(number.setdefault(name, len(number)))
    return tuple(said.values()), np.array(codes, np.int64)[which]


def _causes_said(register: Register, causes, n: int) -> tuple[tuple[str, ...], np.ndarray]:
    """Causes that are new, and the number of each event's cause."""
    number = {word.casefold(): i for i, word in enumerate(register.words)}
    new: list[str] = []

    def code(word: str) -> int:
        word = " ".join(word.split())
        if not word:
            return -1
        if word.casefold() not in number:
            number[word.casefold()] = len(number)
            new.append(word)
        return number[word.casefold()]

    if isinstance(causes, str):
        found = np.full(n, code(causes))
    else:
        found = np.fromiter((code(w) for w in _as_many(causes, n, "causes")), np.int64, n)
    return tuple(new), found


def _as_many(values, n: int, name: str):
    if len(values) != n:
        raise ValueError(f"{name}: {len(values)} for {n} vines")
    return values
