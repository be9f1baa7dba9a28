"""Events of filled forms: what lines say, which say it twice, and which contradict something."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from ..core.model import Register
from ..core.model.planting import CHECKS
from ..core.model.register import EVENTS, STATES, WHAT
from ..core.planting.standing import Matching, Standing
from .record_rules import FINE, REASONS, VineStates, reasons
from .record_words import day_words
from .wording import listed

EVENT_NAMES = tuple(EVENTS)
_RANK = {event: i for i, event in enumerate(("planted", "missing", "dead", "replanted", "alive", "checked", "reworked"))}  # fmt: skip
_RANK_OF = np.array([_RANK.get(event, len(_RANK)) for event in EVENT_NAMES])
"""Order of what was seen at a vine on one day, by WHAT."""
_ABOUT_THE_PLANT = [WHAT[e] for e in ("planted", "missing", "dead", "alive", "replanted")]


@dataclass(eq=False)
class FormEvents:
    """Events as arrays of one length.

    Attributes
    ----------
    line : int array
        Which line of all forms, one form after another.
    vine : int array
        As counted in `Assigned`.
    what : int array
        Of WHAT.
    day : int array
        Ordinal, 0 where nobody said.
    lot : int array
        Of the lots of `VineStates`: what was planted; -1 for none.
    cause : int array
        Of a list of causes; -1 for none.
    faults : int array
        Bits of CHECKS.
    seen_lot : int array
        Of the same lots: what the line says stands there; -1 where it says nothing.
    """

    line: np.ndarray
    vine: np.ndarray
    what: np.ndarray
    day: np.ndarray
    lot: np.ndarray
    cause: np.ndarray
    faults: np.ndarray
    seen_lot: np.ndarray

    @classmethod
    def of(cls, parts: Sequence[tuple[int, ...]]) -> FormEvents:
        """From one tuple an event, in the order of the attributes."""
        table = np.array(parts, np.int64).reshape(-1, len(fields(cls)))
        return cls(*table.T)

    def __len__(self) -> int:
        return len(self.line)

    def taken(self, which) -> FormEvents:
        return FormEvents(*(getattr(self, f.name)[which] for f in fields(self)))

    @property
    def table(self) -> np.ndarray:
        """What makes an event one and the same, shape (n, 6)."""
        return np.column_stack(
            [self.vine, self.what, self.day, self.lot, self.cause, self.faults]
        ).astype(np.int64)


def first_alike(events: FormEvents) -> np.ndarray:
    """The first event that says the same as each, shape (n,)."""
    if not len(events):
        return np.empty(0, np.int64)
    _, first, of = np.unique(events.table, axis=0, return_index=True, return_inverse=True)
    return first[of.reshape(-1)]


def on_record_already(
    events: FormEvents,
    register: Register | None,
    match: Matching | None,
    now: Standing | None,
    lots: Sequence,
    causes: Sequence[str],
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Events that the register has: those that count, and those that were taken back as a mistake.

    Returns
    -------
    same, taken_back : bool array, shape (n,)
    other_result : int array, shape (n,)
        For inspections, faults that are on record for the same day and were not put right that day; -1 for
        none.
    """
    n = len(events)
    same, back, other = np.zeros(n, bool), np.zeros(n, bool), np.full(n, -1)
    if register is None or now is None or not n or not len(register.events):
        return same, back, other
    place = match.place[events.vine].astype(np.int64)
    wanted = np.zeros(len(register.stand), bool)
    wanted[place[place >= 0]] = True
    at = np.flatnonzero(wanted[register.events.place])
    if not len(at):
        return same, back, other
    known = register.events.taken(at)
    lot_of = {lot.name.casefold(): i for i, lot in enumerate(lots)}
    cause_of = {word.casefold(): i for i, word in enumerate(causes)}
    lot = np.array([*(lot_of[lot.name.casefold()] for lot in register.lots), -1])[known.lot]
    cause = np.array([*(cause_of.get(w.casefold(), -2) for w in register.words), -1])[known.cause]
    table = np.column_stack([known.place, known.what, known.day, lot, cause, known.faults])
    mine = events.table
    mine[:, 0] = place
    every = np.concatenate([table.astype(np.int64), mine])
    _, of = np.unique(every, axis=0, return_inverse=True)
    of = of.reshape(-1)
    counts = np.zeros(len(register.events), bool)
    counts[now.order] = True
    counts = counts[at]
    has = np.zeros(int(of.max()) + 1, bool)
    has[of[: len(at)][counts]] = True
    had = np.zeros_like(has)
    had[of[: len(at)][~counts]] = True
    same = has[of[len(at) :]] & (place >= 0)
    back = had[of[len(at) :]] & (place >= 0) & ~same
    return same, back, _other_results(events, place, known, counts, same)


def _other_results(events, place, known, counts, same) -> np.ndarray:
    """Faults of another inspection of the same vine and day that is on record, -1 for none."""
    found = np.full(len(events), -1)
    mine = np.flatnonzero((events.what == WHAT["checked"]) & ~same & (place >= 0))
    checks = np.flatnonzero(counts & (known.what == WHAT["checked"]))
    if not len(mine) or not len(checks):
        return found
    reworked = np.flatnonzero(counts & (known.what == WHAT["reworked"]))
    key = known.place.astype(np.int64) << 24 | known.day
    last = {k: int(f) for k, f in zip(key[checks].tolist(), known.faults[checks].tolist(), strict=True)}  # fmt: skip
    for k in key[reworked].tolist():
        last.pop(k, None)
    own = place[mine] << 24 | events.day[mine]
    found[mine] = [last.get(k, -1) for k in own.tolist()]
    return found


def contradictions(events: FormEvents) -> np.ndarray:
    """For each event one that says otherwise of the same vine, -1 for none; events alike are no two.

    A vine is planted once; on one day it has one state, and one result of an inspection. A loss and
    planting again may come on one day.
    """
    other = np.full(len(events), -1)
    same_day = np.where(events.what == WHAT["planted"], 0, events.day)
    state = np.isin(events.what, _ABOUT_THE_PLANT)
    first = first_alike(events)
    # planted, and what stands on the day it was planted
    for which, day in (
        (np.flatnonzero(events.what == WHAT["planted"]), same_day),
        (np.flatnonzero(state & (events.what != WHAT["replanted"])), events.day),
        (np.flatnonzero(events.what == WHAT["replanted"]), events.day),
        (np.flatnonzero(events.what == WHAT["checked"]), events.day),
    ):
        _tell_other(other, which, events.vine, day, first)
    return other


def _tell_other(other, which, vine, day, first) -> None:
    if len(which) < 2:
        return
    key = vine[which] << 24 | day[which]
    order = np.argsort(key, kind="stable")
    which, key = which[order], key[order]
    starts = np.flatnonzero(np.diff(key, prepend=-1))
    lead = np.repeat(which[starts], np.diff(starts, append=len(which)))
    differs = first[which] != first[lead]
    # The first one of a group is told of the first that differs from it.
    other[which[differs]] = lead[differs]
    other[lead[differs][::-1]] = which[differs][::-1]
    led = other[lead] >= 0
    alike = led & ~differs & (other[which] < 0)
    other[which[alike]] = other[lead[alike]]


def refused(
    events: FormEvents,
    states: VineStates,
    today: datetime.date,
) -> dict[int, str]:
    """Lines that cannot be recorded, and why; nothing of such a line is taken.

    Events of a vine come true in the order of their days, so that a form can tell of the planting that
    another line's inspection needs. What rests on a refused line is refused with it.
    """
    why: dict[int, str] = {}
    while True:
        kept = ~np.isin(events.line, list(why))
        found = _refused_once(events.taken(kept), states, today)
        if not found:
            return why
        why.update(found)


def _refused_once(events: FormEvents, states: VineStates, today) -> dict[int, str]:
    if not len(events):
        return {}
    vines, of = np.unique(events.vine, return_inverse=True)
    of = of.reshape(-1)
    states = states.taken(vines)
    order = np.lexsort((_RANK_OF[events.what], events.day, of))
    starts = np.flatnonzero(np.diff(of[order], prepend=-1))
    turn = np.arange(len(order)) - np.repeat(starts, np.diff(starts, append=len(order)))
    why: dict[int, str] = {}
    for k in range(int(turn.max()) + 1):
        now = order[turn == k]
        mine, some = of[now], events.taken(now)
        here = states.taken(mine)
        amiss = reasons(here, some.what, some.day, some.lot, today)
        plants = some.what <= WHAT["replanted"]
        other = ~plants & (some.seen_lot >= 0) & (some.seen_lot != here.lot)
        fine = (amiss == FINE) & ~other
        states.advance(
            mine[fine], some.what[fine], some.day[fine], some.lot[fine], some.faults[fine]
        )
        for i in np.flatnonzero(~fine).tolist():
            line = int(some.line[i])
            if amiss[i] != FINE:
                words = _reason_words(REASONS[amiss[i]], some, here, i)
            else:
                words = (
                    f"it says lot {here.lots[some.seen_lot[i]].name}, and lot "
                    f"{here.lots[here.lot[i]].name} is on record there"
                    if here.lot[i] >= 0
                    else f"it says lot {here.lots[some.seen_lot[i]].name}, and no lot is on record there"
                )
            why.setdefault(line, words)
    return why


def _reason_words(reason: str, some: FormEvents, here: VineStates, i: int) -> str:
    day, then = day_words(int(some.day[i])), day_words(int(here.planted[i]))
    lot = here.lots[some.lot[i]] if some.lot[i] >= 0 else None
    name = lot.name if lot is not None else ""
    stands = f" with lot {here.lots[here.lot[i]].name}" if here.lot[i] >= 0 else ""
    state = STATES[here.state[i]]
    return {
        "elsewhere": "the vine's code is on record for another place: give the block the rules back that it "
        "was planted with",
        "no day": "no day is said: write it year first, such as 2027-04-01",
        "future": f"{day} is still to come: correct the day",
        "no lot": "no lot is assigned there: write the lot that was planted",
        "not come": f"lot {name} came on {day_words(lot and lot.came)}, after {day}: correct the day, or the "
        "lot's",
        "not grafted": f"lot {name} was grafted on {day_words(lot and lot.grafted)}, after {day}: correct "
        "the day, or the lot's",
        "tags": f"not all tags of lot {name} are recorded: record them, then read this line again",
        "stands": f"it is on record as {state} on {then or 'a day nobody said'}{stands}: record that as a "
        "mistake first, if it is one",
        "gone": f"it is on record as {state}: write replanted, if it was planted again",
        "never planted": "it is not on record as planted: record the planting, then read this line again",
        "no loss": "no loss is on record there: say first when it was missing or dead",
        "no plant": f"it is on record as {state}: say first what stands there",
        "too early": f"{day} is before it was planted on record, on {then}: correct the day",
        "nothing wrong": "nothing is on record as wrong there",
    }[reason]


def event_words(what: int, day: int, lot: str, cause: str, faults: int) -> str:
    """An event as a line tells it.

    Examples
    --------
    >>> event_words(WHAT["planted"], 739977, "27-A", "", 0)
    'planted on 27 December 2026, lot 27-A'
    """
    words = {"checked": "inspected", "reworked": "put right", "alive": "seen alive"}
    event = EVENT_NAMES[what]
    said = words.get(event, event)
    if day:
        said += f" on {day_words(day)}"
    if lot:
        said += f", lot {lot}"
    if cause:
        said += f", {cause}"
    if event == "checked":
        wrong = [w for bit, w in enumerate(CHECKS.values()) if faults >> bit & 1]
        said += f", not right: {listed(wrong)}" if wrong else ", all right"
    return said
