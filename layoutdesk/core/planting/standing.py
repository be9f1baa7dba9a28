"""What stands at every vine position by the register, and what is told of one."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from weakref import WeakValueDictionary

import numpy as np

from ..model.planting import CHECKS, Lot
from ..model.register import EVENTS, STATES, WHAT, Events, Register
from .matching import Matching, matching
from .on_record import places_of_row
from .recording import recorded

__all__ = [
    "Matching", "Standing", "Told", "history", "matching", "places_by", "recorded", "standing",
]  # fmt: skip


@dataclass(frozen=True, eq=False)
class Standing:
    """State of every vine position of a register; arrays are one entry a position of `register.stand`.

    Attributes
    ----------
    state : uint8 array
        Of STATES.
    lot : int16 array
        Of `register.lots`: what stands there, or stood there last; -1 for nothing.
    planted : int32 array
        Ordinal of the day the present plant was planted, 0 for none and where nobody said.
    changed : int32 array
        Ordinal of the day of the last event, 0 for none.
    cause : int16 array
        Of `register.words`, for dead and missing ones.
    times_planted : uint8 array
        Plants that stood there one after the other.
    faults : uint16 array
        What was wrong when last checked and has not been reworked since.
    checked : bool array
        Whether it was inspected since it was planted and reworked last.
    order : int array
        Events of the register that count, position by position, in the order they count in.
    """

    register: Register
    state: np.ndarray
    lot: np.ndarray
    planted: np.ndarray
    changed: np.ndarray
    cause: np.ndarray
    times_planted: np.ndarray
    faults: np.ndarray
    checked: np.ndarray
    order: np.ndarray


_KNOWN: WeakValueDictionary[tuple[str, int | None], Standing] = WeakValueDictionary()
"""States that somebody holds, so that window and file do not work out the same twice."""


def standing(register: Register) -> Standing:
    """The state now.

    Events of a position count by their day, of one day those of `checked` and `reworked` behind the
    others, else by the order they were recorded in. An event of no known day comes right behind what was
    recorded of the position before it. `void` takes away what was *recorded* before it, whatever its day.

    - `planted` and `replanted` set lot and day, and what was checked before is told of another plant;
    - `replanted`, and `planted` after a loss, is one plant more; `planted` again without a loss puts the
      one that stands there right;
    - `missing` and `dead` keep the lot that stood there; `alive` takes them back;
    - `reworked` takes faults away and asks for another inspection.
    """
    mark = register.mark, register.broken_at
    known = _KNOWN.get(mark)
    if known is None:
        known = _KNOWN[mark] = _worked_out(register)
    return known


def _worked_out(register: Register) -> Standing:
    events, n = register.events, len(register.stand)
    order, place, day = _in_order(events, n)
    what = events.what[order]

    def last(which) -> tuple[np.ndarray, np.ndarray]:
        """Positions that have such an event, and the last of each, in `order`."""
        at = np.flatnonzero(which)
        ends = np.flatnonzero(np.diff(place[at], append=-1))
        return place[at[ends]], at[ends]

    changed = np.zeros(n, np.int32)
    ends = np.flatnonzero(np.diff(place, append=-1))
    changed[place[ends]] = day[ends]
    lot, planted = np.full(n, -1, np.int16), np.zeros(n, np.int32)
    where, at = last(what <= WHAT["replanted"])
    lot[where], planted[where] = events.lot[order[at]], events.day[order[at]]

    begun, renewed = plantings(place, what)
    times = np.bincount(place[begun], minlength=n)
    again = np.zeros(n, bool)
    again[place[renewed]] = True

    state, cause = np.zeros(n, np.uint8), np.full(n, -1, np.int16)
    where, at = last(what <= WHAT["dead"])
    state[where] = np.where(
        is_loss(what[at]),
        np.where(what[at] == WHAT["dead"], STATES.index("dead"), STATES.index("missing")),
        np.where(again[where], STATES.index("replanted"), STATES.index("planted")),
    )
    cause[where] = np.where(is_loss(what[at]), events.cause[order[at]], -1)

    checked, faults = np.zeros(n, bool), np.zeros(n, np.uint16)
    where, at = last(
        (what <= WHAT["replanted"]) | (what == WHAT["checked"]) | (what == WHAT["reworked"])
    )
    checked[where] = what[at] == WHAT["checked"]
    faults[where] = np.where(checked[where], events.faults[order[at]], 0)
    return Standing(
        register, state, lot, planted, changed, cause,
        np.minimum(times, 255).astype(np.uint8), faults, checked, order,
    )  # fmt: skip


def is_loss(what: np.ndarray) -> np.ndarray:
    """Which events tell that a plant is gone."""
    return (what == WHAT["missing"]) | (what == WHAT["dead"])


def plantings(place: np.ndarray, what: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Which events begin a plant, and which of them one that follows another, both masks.

    Events are those that count, position by position, in order.
    """
    begun, renewed = np.zeros(len(place), bool), np.zeros(len(place), bool)
    at = np.flatnonzero(what <= WHAT["dead"])
    if not len(at):
        return begun, renewed
    p, w = place[at], what[at]
    plants = w <= WHAT["replanted"]
    before = np.cumsum(plants) - plants
    starts = np.flatnonzero(np.diff(p, prepend=-1))
    before -= np.repeat(before[starts], np.diff(starts, append=len(p)))
    # A piece of row that begins has nothing before it: what was lost there stood elsewhere.
    after_loss = np.concatenate([[False], is_loss(w[:-1])]) & (before > 0)
    again = (w == WHAT["replanted"]) | ((w == WHAT["planted"]) & after_loss)
    renewed[at] = again
    begun[at] = again | (plants & (before == 0))
    return begun, renewed


def _in_order(events: Events, n_places: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Events that count, position by position in order; their positions; the days they count at."""
    place, day, late = events.place, events.day, events.what >= WHAT["checked"]
    voids, kept = np.flatnonzero(events.what == WHAT["void"]), None
    if len(voids):
        last = np.full(n_places, -1)
        last[place[voids]] = voids
        kept = np.flatnonzero(np.arange(len(place)) >= last[place])
        place, day, late = place[kept], day[kept], late[kept]
    unknown = day == 0
    if unknown.any():
        day, late = _days_settled(place, day, n_places), late | unknown
    order, place, day = _sorted_by(place, day, late)
    return order if kept is None else kept[order], place, day


def _days_settled(place: np.ndarray, day: np.ndarray, n_places: int) -> np.ndarray:
    """Days with those that nobody said at the latest day recorded of the position before."""
    open_ones = np.zeros(n_places, bool)
    open_ones[place[day == 0]] = True
    some = np.flatnonzero(open_ones[place])
    some = some[np.argsort(place[some], kind="stable")]
    # Positions lie further apart than days, so that no day is carried into the next position.
    latest = np.maximum.accumulate((place[some].astype(np.int64) << 22) + day[some])
    settled = day.copy()
    settled[some] = np.where(day[some] == 0, latest & (2**22 - 1), day[some])
    return settled


def _sorted_by(place: np.ndarray, day: np.ndarray, late: np.ndarray):
    """The order by position, day, and `late`, ties as they are; and positions and days in that order."""
    n = len(place)
    if not n:
        return np.empty(0, np.int64), place, day
    base = int(day.min(initial=2**22, where=day > 0)) - 1
    bits, width = int(n).bit_length(), max(int(day.max()) - base, 1).bit_length() + 1
    if int(place.max()).bit_length() + width + bits > 62:
        order = np.lexsort((late, day, place))
        return order, place[order], day[order]
    # Whole numbers sort ten times as fast as they are argsorted stably; the order is in their last bits.
    key = place.astype(np.int64) << width
    key |= np.where(day > 0, day - base, 0) << 1
    key |= late
    key <<= bits
    key |= np.arange(n)
    key.sort()
    order = key & ((1 << bits) - 1)
    key >>= bits + 1
    from_base = (key & ((1 << (width - 1)) - 1)).astype(np.int32)
    key >>= width - 1
    return order, key.astype(np.int32), np.where(from_base > 0, from_base + base, 0)


def places_by(
    now: Standing,
    *,
    lot: str | None = None,
    row: str | None = None,
    state: str | None = None,
    cause: str | None = None,
) -> np.ndarray:
    """Positions that are all of what is asked for, rising.

    Parameters
    ----------
    now : Standing
    lot : str, optional
        What stands there or stood there last, by name.
    row : str, optional
        A row or segment, such as B1-R012 or B1-R012A.
    state : str, optional
        Of STATES.
    cause : str, optional
        Of losses.
    """
    places = None if row is None else places_of_row(now.register, row)
    for values, code in (
        (now.lot, lot and _number(lot, [known.name for known in now.register.lots])),
        (now.cause, cause and _number(cause, now.register.words)),
        (now.state, state and STATES.index(state)),
    ):
        if code is not None:
            here = values if places is None else values[places]
            fits = np.flatnonzero(here == code)
            places = fits if places is None else places[fits]
    return np.arange(len(now.state)) if places is None else places


def _number(name: str, names) -> int:
    wanted = name.strip().casefold()
    return next((i for i, known in enumerate(names) if known.casefold() == wanted), -2)


@dataclass(frozen=True)
class Told:
    """One event of a vine's history, in plain values."""

    day: datetime.date | None
    event: str
    lot: Lot | None
    cause: str
    faults: tuple[str, ...]
    recorded: str
    by: str
    source: str
    note: str


def history(register: Register, place: int) -> tuple[Told, ...]:
    """Everything on record for a position, in the order it was recorded."""
    events, names = tuple(EVENTS), tuple(CHECKS)
    told = []
    for batch in register.batches:
        e = batch.events
        for i in np.flatnonzero(e.place == place).tolist():
            day, lot, cause = int(e.day[i]), int(e.lot[i]), int(e.cause[i])
            told.append(
                Told(
                    datetime.date.fromordinal(day) if day else None,
                    events[e.what[i]],
                    register.lots[lot] if lot >= 0 else None,
                    register.words[cause] if cause >= 0 else "",
                    tuple(name for bit, name in enumerate(names) if int(e.faults[i]) >> bit & 1),
                    batch.recorded,
                    batch.by,
                    batch.source,
                    batch.note,
                )
            )
    return tuple(told)
