"""What may be recorded at a vine: one set of rules for the window, the command line and filled forms."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core.model import Lot, Planting, Project, RowPlan
from ..core.model.register import STATES, WHAT
from ..core.planting.standing import Matching, Standing, matching, standing

NOT_PLANTED, PLANTED, MISSING, DEAD, REPLANTED = range(len(STATES))
_STATE_AFTER = {"planted": PLANTED, "replanted": REPLANTED, "missing": MISSING, "dead": DEAD}

FINE = 0
REASONS = (
    # why not, in the order they are looked at; the index is the code
    "",
    "elsewhere",
    "no day",
    "future",
    "no lot",
    "not come",
    "not grafted",
    "tags",
    "stands",
    "gone",
    "never planted",
    "no loss",
    "no plant",
    "too early",
    "nothing wrong",
)
"""Why something cannot be recorded at a vine."""
_CODE = {reason: code for code, reason in enumerate(REASONS)}


@dataclass(eq=False)
class VineStates:
    """What stands at vines of the plans by the register; arrays are one entry a vine and may be advanced.

    Attributes
    ----------
    state : uint8 array
        Of STATES.
    lot : int array
        Of `lots`, -1 for none.
    planted, changed : int32 array
        Ordinals of the day of planting and of the last event, 0 for none.
    faults : uint16 array
    moved : bool array
        Whether the vine's code is on record for another place.
    lots : tuple of Lot
        Those of the project, then those that only the register knows.
    tags_wait : bool array
        Which of `lots` must not be planted before their tags are recorded.
    """

    state: np.ndarray
    lot: np.ndarray
    planted: np.ndarray
    changed: np.ndarray
    faults: np.ndarray
    moved: np.ndarray
    lots: tuple[Lot, ...]
    tags_wait: np.ndarray

    def taken(self, which) -> VineStates:
        """Those of some vines, as copies."""
        names = ("state", "lot", "planted", "changed", "faults", "moved")
        return VineStates(*(getattr(self, n)[which] for n in names), self.lots, self.tags_wait)

    def advance(self, which, what, day, lot, faults) -> None:
        """Let events come true, one for each vine of `which`."""
        for event, after in _STATE_AFTER.items():
            self.state[which[what == WHAT[event]]] = after
        planting = what <= WHAT["replanted"]
        self.lot[which[planting]] = lot[planting]
        self.planted[which[planting]] = day[planting]
        alive = which[(what == WHAT["alive"]) & _in(self.state[which], MISSING, DEAD)]
        self.state[alive] = PLANTED
        settled = planting | (what == WHAT["reworked"])
        self.faults[which[settled]] = 0
        checked = what == WHAT["checked"]
        self.faults[which[checked]] = faults[checked]
        self.changed[which] = np.maximum(self.changed[which], day)


def vine_states(
    project: Project, plans: Sequence[RowPlan], although: str = ""
) -> tuple[VineStates, Matching | None, Standing | None]:
    """States of all vines of the plans, counted as in `Assigned`, and what they were told from.

    `although` is the reason for which lots may be planted before their tags are recorded; empty for none.
    """
    n = sum(plan.n_vines for plan in plans)
    planting = project.planting or Planting()
    match = now = None
    state, lot, moved = np.zeros(n, np.uint8), np.full(n, -1, np.int32), np.zeros(n, bool)
    planted, changed = np.zeros(n, np.int32), np.zeros(n, np.int32)
    faults = np.zeros(n, np.uint16)
    lots = list(planting.lots)
    if project.register is not None and project.register.batches:
        now, match = standing(project.register), matching(project.register, plans)
        number = {known.name.casefold(): i for i, known in enumerate(lots)}
        of_register = []
        for known in project.register.lots:
            of_register.append(number.setdefault(known.name.casefold(), len(lots)))
            if of_register[-1] == len(lots):
                lots.append(known)
        known = np.flatnonzero(match.place >= 0)
        place = match.place[known]
        state[known], faults[known] = now.state[place], now.faults[place]
        planted[known], changed[known] = now.planted[place], now.changed[place]
        lot[known] = np.array([*of_register, -1], np.int32)[now.lot[place]]
        moved[match.moved] = True
    waits = np.array([not (known.tags_recorded or although.strip()) for known in lots], bool)
    return VineStates(state, lot, planted, changed, faults, moved, tuple(lots), waits), match, now


def reasons(
    states: VineStates,
    what: np.ndarray,
    day: np.ndarray,
    lot: np.ndarray,
    today: datetime.date,
) -> np.ndarray:
    """Why each event cannot be recorded, as index of REASONS; FINE where it can.

    Parameters
    ----------
    states : VineStates
        Of the same n vines.
    what, day, lot : int array, shape (n,)
        Event by WHAT, ordinal of its day (0 where nobody said), index of `states.lots` of those that plant.
    today : datetime.date
    """
    plants = what <= WHAT["replanted"]
    stands = _in(states.state, PLANTED, REPLANTED)
    gone = _in(states.state, MISSING, DEAD)
    void = what == WHAT["void"]
    came = np.array([*(_day(known.came) for known in states.lots), 0])[lot]
    grafted = np.array([*(_day(known.grafted) for known in states.lots), 0])[lot]
    waits = np.array([*states.tags_wait, False])[lot]
    first = {
        "elsewhere": states.moved,
        "no day": day == 0,
        "future": day > today.toordinal(),
        "no lot": plants & (lot < 0),
        "not come": plants & (day < came),
        "not grafted": plants & (day < grafted),
        "tags": plants & waits,
        "stands": (what == WHAT["planted"]) & stands,
        "gone": (what == WHAT["planted"]) & gone,
        "never planted": (what != WHAT["planted"]) & ~void & (states.state == NOT_PLANTED),
        "no loss": (what == WHAT["replanted"]) & stands,
        "no plant": ((what == WHAT["checked"]) | (what == WHAT["reworked"])) & gone,
        "too early": ~void & ~plants & (states.planted > 0) & (day < states.planted),
        "nothing wrong": (what == WHAT["reworked"]) & (states.faults == 0),
    }
    # A plant that is set again must come behind the one that was lost.
    first["too early"] |= (what == WHAT["replanted"]) & gone & (day < states.planted)
    found = np.zeros(len(what), np.uint8)
    for reason, amiss in first.items():
        found[(found == FINE) & amiss] = _CODE[reason]
    return found


def _in(values, *codes) -> np.ndarray:
    found = values == codes[0]
    for code in codes[1:]:
        found |= values == code
    return found


def _day(day: datetime.date | None) -> int:
    return day.toordinal() if day is not None else 0
