"""What is recorded at vines: each a function from a project to one with one more entry in its register."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..core.model import InputProblem, Lot, Planting, Project, RowPlan
from ..core.model.register import WHAT
from ..core.planting.assigned import assigned
from ..core.planting.standing import recorded
from ..formats.project_file import plan_mark
from .record_rules import REASONS, VineStates, reasons, vine_states
from .record_words import (
    WINDOW,
    although_words,
    cause_named,
    example_words,
    other_lot_words,
    refusal,
)
from .vine_history import vine_history_lines

__all__ = [
    "LOSSES", "known_lot", "today_of", "vine_history_lines", "with_alive", "with_checked", "with_events",
    "with_loss", "with_mistake", "with_planted", "with_replanted", "with_reworked",
]  # fmt: skip

LOSSES = ("missing", "dead")
_NO_LOT = -1


def with_planted(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    day: datetime.date,
    *,
    lot: str | None = None,
    by: str,
    when: str,
    although: str = "",
    note: str = "",
    source: str = WINDOW,
) -> Project:
    """The project with vines on record as planted.

    Parameters
    ----------
    project : Project
    plans : sequence of RowPlan
    vines : int array, shape (n,)
        As vines are counted in `Assigned`.
    day : datetime.date
        When they were planted.
    lot : str, optional
        What was planted; the lot that is assigned to each where it is not said.
    by : str
        Who says so.
    when : str
        Now, ISO 8601 with its offset; no later day than it is recorded.
    although : str
        Why a lot was planted before all of its tags were recorded.
    note : str
    source : str
        "window", or where it came from.

    Raises
    ------
    InputProblem
        Where vines stand on record already or are on record as lost, no lot is said, the day is later
        than today, before the lot came or before it was grafted, or tags are not recorded and no reason
        is given.
    """
    return _with_plants(
        project, plans, vines, "planted", day, lot, by, when, although, note, source
    )


def with_replanted(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    day: datetime.date,
    *,
    lot: str | None = None,
    by: str,
    when: str,
    although: str = "",
    note: str = "",
    source: str = WINDOW,
) -> Project:
    """The project with vines on record as planted again after a loss; as `with_planted`."""
    return _with_plants(
        project, plans, vines, "replanted", day, lot, by, when, although, note, source
    )


def _with_plants(project, plans, vines, event, day, lot, by, when, although, note, source):
    vines = _chosen(vines)
    states, _, _ = vine_states(project, plans, although)
    planting = project.planting or Planting()
    wanted = assigned(plans, planting).lot[vines].astype(np.int32)
    if lot is not None and lot.strip():
        given = known_lot(planting, lot)
        number = np.full(len(vines), planting.lots.index(given), np.int32)
    else:
        number = wanted
    _refuse(states.taken(vines), plans, vines, event, day, number, when)
    each = np.array([*planting.lots, None], dtype=object)[number]
    # What is remarked of a lot stands in the history of its own vines alone: an entry for each.
    for some in _alike_in_remarks(planting.lots, wanted, number):
        said = [
            note.strip(),
            *other_lot_words(planting.lots, wanted[some], number[some]),
            *although_words(planting.lots, number[some], although),
        ]
        project = with_events(
            project, plans, vines[some], event, day,
            lots=each[some].tolist(), by=by, when=when, note=" ".join(filter(None, said)), source=source,
        )  # fmt: skip
    return project


def _alike_in_remarks(lots, wanted: np.ndarray, number: np.ndarray) -> list[np.ndarray]:
    """Vines parted by what there is to remark of their lots; those of which there is nothing first."""
    other = (wanted >= 0) & (wanted != number)
    open_tags = np.array([not lot.tags_recorded for lot in lots] + [False])[number]
    key = np.column_stack([np.where(other, wanted, -1), np.where(other | open_tags, number, -1)])
    _, group = np.unique(key, axis=0, return_inverse=True)
    group = group.reshape(-1)
    return [np.flatnonzero(group == g) for g in range(int(group.max()) + 1)]


def with_loss(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    state: str,
    cause: str,
    day: datetime.date,
    *,
    by: str,
    when: str,
    note: str = "",
    source: str = WINDOW,
) -> Project:
    """The project with vines on record as missing or dead.

    Parameters
    ----------
    state : str
        "missing" or "dead".
    cause : str
        Of CAUSES or in other words; empty where it is not known.

    Raises
    ------
    InputProblem
        Where nothing was planted there by the record, or the day is before that.
    """
    if state not in LOSSES:
        raise ValueError(f"state: {state!r} is none of {', '.join(LOSSES)}")
    return _with_seen(
        project, plans, vines, state, day, by, when, note, source, causes=cause_named(cause, state)
    )


def with_alive(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    day: datetime.date,
    *,
    by: str,
    when: str,
    note: str = "",
    source: str = WINDOW,
) -> Project:
    """The project with vines on record as seen alive, those that were thought lost too."""
    return _with_seen(project, plans, vines, "alive", day, by, when, note, source)


def with_checked(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    faults: np.ndarray | int,
    day: datetime.date,
    *,
    by: str,
    when: str,
    note: str = "",
    source: str = WINDOW,
) -> Project:
    """The project with vines on record as inspected.

    Parameters
    ----------
    faults : int, or int array of shape (n,)
        A bit for each item of CHECKS that was wrong, the first the lowest; 0 where all was right.
    """
    vines = np.atleast_1d(np.asarray(vines, np.int64))
    _, first = np.unique(vines, return_index=True)
    each = np.broadcast_to(faults, len(vines))[first]
    return _with_seen(project, plans, vines, "checked", day, by, when, note, source, faults=each)


def with_reworked(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    day: datetime.date,
    *,
    by: str,
    when: str,
    note: str = "",
    source: str = WINDOW,
) -> Project:
    """The project with vines on record as put right.

    Of the vines only those are, at which something was found wrong: whole rows can be given.

    Raises
    ------
    InputProblem
        Where nothing was wrong at any of them, or the day is before the inspection that found it.
    """
    vines = _chosen(vines)
    states, _, _ = vine_states(project, plans)
    faulty = vines[states.faults[vines] > 0]
    return _with_seen(
        project, plans, faulty if len(faulty) else vines, "reworked", day, by, when, note, source
    )


def with_mistake(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    *,
    by: str,
    when: str,
    note: str = "",
    source: str = WINDOW,
) -> Project:
    """The project with what was recorded at vines so far said to be a mistake.

    It stays in their history and counts no more; what is right can be recorded after it, of any day.

    Raises
    ------
    InputProblem
        Where nothing is on record at some of them, or nobody says why.
    """
    vines = _chosen(vines)
    if not note.strip():
        raise InputProblem("Say what the mistake was: it stays in the history of the vines.")
    _, match, now = vine_states(project, plans)
    empty = vines
    if now is not None:
        told = np.zeros(len(now.state) + 1, bool)
        told[now.register.events.place[now.order]] = True
        empty = vines[~told[match.place[vines]]]
    if len(empty):
        raise InputProblem(
            f"Nothing is on record at {example_words(plans, empty)}: there is no mistake to record."
        )
    return with_events(
        project, plans, vines, "void", today_of(when), by=by, when=when, note=note, source=source
    )


def _with_seen(project, plans, vines, event, day, by, when, note, source, **more):
    vines = _chosen(vines)
    states, _, _ = vine_states(project, plans)
    none = np.full(len(vines), _NO_LOT)
    _refuse(states.taken(vines), plans, vines, event, day, none, when)
    return with_events(
        project, plans, vines, event, day, by=by, when=when, note=note, source=source, **more
    )


def with_events(
    project: Project,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    what: np.ndarray | str,
    day: np.ndarray | datetime.date,
    *,
    by: str,
    when: str,
    note: str = "",
    source: str = WINDOW,
    revision: str = "",
    **more,
) -> Project:
    """The project with one more entry; what may be recorded is settled before.

    Raises
    ------
    InputProblem
        Where nobody says who records it, or a vine's code is on record for another place.
    """
    if not by.strip():
        raise InputProblem("Say who records it: the register keeps that for the life of the vines.")
    register = recorded(
        project.register, plans, vines, what, day,
        by=by.strip(), when=when, source=source,
        revision=revision or plan_mark(project), note=note.strip(), **more,
    )  # fmt: skip
    return replace(project, register=register)


def known_lot(planting: Planting, name: str) -> Lot:
    """The lot of that name.

    Raises
    ------
    InputProblem
        Where the project has none.
    """
    found = planting.lot(name)
    if found is None:
        there = ", ".join(lot.name for lot in planting.lots[:8])
        known = f"there are {there}" if there else "there is none yet"
        raise InputProblem(f"There is no lot {name.strip()!r} ({known}): add it to the lots first.")
    return found


def today_of(when: str) -> datetime.date:
    """The day of a time in ISO 8601, where it was recorded."""
    return datetime.datetime.fromisoformat(when).date()


def _chosen(vines) -> np.ndarray:
    vines = np.unique(np.atleast_1d(np.asarray(vines, np.int64)))
    if not len(vines):
        raise InputProblem("No vine is chosen: name rows or vines that the plan has.")
    return vines


def _refuse(states: VineStates, plans, vines, event: str, day, lot, when: str) -> None:
    n, today = len(vines), today_of(when)
    ordinal = np.full(n, day.toordinal() if day is not None else 0)
    found = reasons(states, np.full(n, WHAT[event]), ordinal, lot, today)
    if not found.any():
        return
    worst = int(found[found > 0].min())
    which = np.flatnonzero(found == worst)
    raise InputProblem(refusal(REASONS[worst], states, plans, vines, which, day, lot))
