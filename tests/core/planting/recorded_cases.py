"""Registers from a seed, and what they say by a slow and plain way."""

from __future__ import annotations

import datetime

import numpy as np

from layoutdesk.core.model import Lot, Plant, Register
from layoutdesk.core.model.register import EVENTS, Events, Stand

LOTS = (
    Lot("A7", Plant("Saperavi", "9", "5BB")),
    Lot("B2", Plant("Saperavi", "9", "5BB")),
    Lot("C", Plant("Roter Veltliner")),
)
WORDS = ("frost", "machine", "not known")
SAID = {"recorded": "2027-09-01T10:00:00+02:00", "by": "N. N.", "source": "window"}
DAY = datetime.date(2027, 9, 1).toordinal()


def stand_of(segments: int = 3, vines: int = 4) -> Stand:
    """Rows of one block, 2.4 m apart, a vine every 1.5 m."""
    x, y = np.repeat(np.arange(segments), vines) * 2400, np.tile(np.arange(vines), segments) * 1500
    ones = np.ones(segments, int)
    rows = np.arange(1, segments + 1)
    return Stand(("B1",) * segments, rows, 0 * ones, ones, vines * ones, np.column_stack([x, y]))


def events_of(*told: tuple) -> Events:
    """Events from (place, what, day, lot, cause, faults), short ones filled up with nothing."""
    full = [(*t, *(0, DAY, -1, -1, 0)[len(t) - 1 :]) for t in told]
    place, what, *rest = zip(*full, strict=True)
    codes = [tuple(EVENTS).index(w) if isinstance(w, str) else w for w in what]
    return Events(*(np.array(column) for column in (place, codes, *rest)))


def register_of(*told: tuple, stand: Stand | None = None) -> Register:
    """A register with one entry."""
    return Register().with_batch(
        events_of(*told), stand=stand or stand_of(), lots=LOTS, words=WORDS, **SAID
    )


def random_register(seed: int, *, events: int = 60) -> Register:
    """A few entries of random events about twelve positions, days doubled, unknown and out of order."""
    rng = np.random.default_rng(seed)
    register = Register()
    parts = np.sort(rng.integers(0, events, rng.integers(0, 4)))
    for n in np.diff(parts, prepend=0, append=events).tolist():
        first = not register.batches
        day = DAY + rng.integers(0, 12, n)
        told = Events(
            rng.integers(0, 12, n),
            rng.choice(8, n, p=[0.2, 0.15, 0.1, 0.1, 0.15, 0.15, 0.1, 0.05]),
            np.where(rng.random(n) < 0.15, 0, day),
            rng.integers(-1, len(LOTS), n),
            rng.integers(-1, len(WORDS), n),
            rng.integers(0, 8, n) * rng.integers(0, 2, n),
        )
        new = {"stand": stand_of(), "lots": LOTS, "words": WORDS} if first else {}
        register = register.with_batch(told, **new, **SAID)
    return register


def told_of(register: Register, place: int) -> list[dict]:
    """Events of a position that count, in the order they count in."""
    e, told, latest = register.events, [], 0
    for i in range(len(e)):
        if e.place[i] != place:
            continue
        what, day = tuple(EVENTS)[e.what[i]], int(e.day[i])
        if what == "void":
            told, latest = [], 0
        latest = max(latest, day)
        late = what in ("checked", "reworked", "void") or day == 0
        told.append(
            {
                "what": what,
                "when": (day or latest, late, i),
                "day": day,
                "lot": int(e.lot[i]),
                "cause": int(e.cause[i]),
                "faults": int(e.faults[i]),
            }
        )
    return sorted(told, key=lambda t: t["when"])


def slow_plants(register: Register, place: int) -> list[dict]:
    """Plants that stood at a position one after the other: lot, day, whether lost, why, what was found."""
    plants: list[dict] = []
    recorded_planting = False
    for t in told_of(register, place):
        what = t["what"]
        if what in ("planted", "replanted"):
            if not recorded_planting:
                plants = []  # seen before anything was planted: of no plant that is known
            begins = not recorded_planting or what == "replanted" or plants[-1]["lost"]
            if begins:
                for plant in plants[-1:]:
                    plant["lost"] = True
                plants.append({"renewed": recorded_planting or what == "replanted"})
            plants[-1] |= {"lot": t["lot"], "day": t["day"], "lost": False, "cause": -1}
            plants[-1] |= {"looked": False, "open": None, "found": 0}
            recorded_planting = True
        elif what in ("alive", "missing", "dead"):
            if not plants:
                plants.append(
                    {
                        "lot": -1,
                        "day": 0,
                        "renewed": False,
                        "looked": False,
                        "open": None,
                        "found": 0,
                    }
                )
            lost = what != "alive"
            plants[-1] |= {"lost": lost, "cause": t["cause"] if lost else -1, "how": what}
    return plants


def slow_checks(register: Register, place: int) -> tuple[bool, int, bool, int]:
    """Whether it is checked now, faults that are open, whether it ever was since planting, all faults."""
    checked, faults, looked, found = False, 0, False, 0
    for t in told_of(register, place):
        if t["what"] in ("planted", "replanted"):
            checked, faults, looked, found = False, 0, False, 0
        elif t["what"] == "checked":
            checked, faults, looked, found = True, t["faults"], True, found | t["faults"]
        elif t["what"] == "reworked":
            checked, faults = False, 0
    return checked, faults, looked, found
