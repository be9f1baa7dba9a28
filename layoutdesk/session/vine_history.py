"""The history of a vine as sentences."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import numpy as np

from ..core.model import Project, Register, RowPlan
from ..core.model.planting import CHECKS
from ..core.model.register import EVENTS
from ..core.planting.matching import LEAST_REACH_M
from ..core.planting.on_record import codes_on_record, place_on_record
from ..core.planting.standing import Told, history, matching
from .record_words import WINDOW, day_words, note_of_vine
from .vine_places import Vine, code_of_vine, index_of, place_of_vine, vine_of_index
from .wording import listed

_NOTHING = "Nothing is on record here."
_ELSEWHERE = (
    "Nothing is on record here: the code is on record for another place. Nothing can be recorded until the "
    "rows have the numbers they were planted by."
)
_STATE_WORDS = {"checked": "inspected", "reworked": "put right", "alive": "seen alive"}


def vine_history_lines(
    project: Project, plans: Sequence[RowPlan], vine: Vine | int
) -> tuple[str, ...]:
    """Everything on record for a vine of the plans, in the order it was recorded.

    `vine` is told by its plan and its index there, or as vines are counted in `Assigned`.
    """
    register = project.register
    if register is None or not register.batches:
        return (_NOTHING,)
    if isinstance(vine, tuple):
        vine = index_of(plans, vine)
    code = code_of_vine(plans, vine_of_index(plans, vine))
    place = _place_by_code(register, plans, vine, code)
    if place is None:
        match = matching(register, plans)
        place = int(match.place[vine])
        if place < 0:
            return (_ELSEWHERE if vine in match.moved else _NOTHING,)
    then = codes_on_record(register, [place])[0]
    head = (f"On record as {then}.",) if then != code else ()
    told = history_lines(history(register, place), then)
    return (*head, *told) if told else (_NOTHING,)


def _place_by_code(register: Register, plans, vine: int, code: str) -> int | None:
    """The position of a vine whose code and place are on record together; None for all others."""
    place = place_on_record(register, code)
    if place is None:
        return None
    xy = place_of_vine(plans, vine_of_index(plans, vine))
    away = np.hypot(*(register.stand.xy_m([place])[0] - xy))
    return place if away <= LEAST_REACH_M else None


def history_lines(told: Sequence[Told], code: str) -> tuple[str, ...]:
    """Events of one position as sentences; of notes about several vines, what is of this one."""
    return tuple(_told_words(event, code) for event in told)


def _told_words(told: Told, code: str) -> str:
    when = day_words(told.day) or "Day not said"
    what = _STATE_WORDS.get(told.event, told.event)
    if told.event == "void":
        what = EVENTS["void"]
    parts = [f"{when}: {what}"]
    if told.lot is not None and told.event in ("planted", "replanted"):
        nursery = f", {told.lot.nursery}" if told.lot.nursery else ""
        parts[0] += f", lot {told.lot.name} ({told.lot.plant}{nursery})"
    if told.cause:
        parts[0] += f", {told.cause}"
    if told.event == "checked":
        wrong = [CHECKS[item] for item in told.faults]
        parts[0] += f", not right: {listed(wrong)}" if wrong else ", all right"
    note = note_of_vine(told.note, code)
    if note:
        parts.append(note.rstrip("."))
    day = told.recorded[:10]
    who = f" by {told.by}" if told.by else ""
    source = "" if told.source == WINDOW else f" from {told.source}"
    on = f" on {day_words(datetime.date.fromisoformat(day))}" if _is_day(day) else ""
    parts.append(f"recorded{who}{on}{source}")
    return ". ".join(part[:1].upper() + part[1:] for part in parts) + "."


def _is_day(text: str) -> bool:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True
