"""Edits of lots and of the tag ledger, as typed and as read from tables."""

from __future__ import annotations

import datetime
from dataclasses import replace

from ..core.model import InputProblem, Lot, Plant, Project, Tag
from ..core.model.planting import GROWN
from ..formats.reading.lot_tables import LotTable, TagTable, read_lots, read_tags
from .demand_words import typed_day
from .planted import planting_of
from .wording import listed

_NAME_MOST = 24
_COUNTS = ("tray", "ordered", "delivered", "rejected")
_DAYS = {
    "grafted": "day of grafting",
    "potted": "day of potting",
    "came": "day the lot came",
}
_OF_PLANT = ("variety", "clone", "rootstock")


def with_lot(project: Project, lot: Lot) -> Project:
    """The project with a lot put behind the others, or exchanged for the one of its name."""
    return replace(project, planting=planting_of(project).with_lot(lot))


def _known(project: Project, name: str) -> Lot:
    planting = planting_of(project)
    lot = planting.lot(name)
    if lot is None:
        names = [known.name for known in planting.lots]
        there = (
            f"there {'is' if len(names) == 1 else 'are'} {listed(names)}"
            if names
            else "add it first"
        )
        raise InputProblem(f"There is no lot {name.strip()!r}; {there}.")
    return lot


def _on_record(project: Project, name: str) -> bool:
    register = project.register
    same = name.casefold()
    return register is not None and any(lot.name.casefold() == same for lot in register.lots)


def typed_lot(project: Project, name: str, key: str, text: str, today: datetime.date) -> Project:
    """The project with one thing of a lot as typed.

    Parameters
    ----------
    name : str
        Of the lot.
    key : str
        "name", "variety", "clone", "rootstock", or another field of Lot.
    text : str
        Empty for what is not known.
    today : datetime.date
        Nothing is delivered, grafted or potted after it.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    lot, text = _known(project, name), " ".join(text.split())
    if key == "name":
        return _renamed(project, lot, text)
    if key in _OF_PLANT:
        return _with_plant(project, lot, key, text)
    if key in _DAYS:
        value = typed_day(text, _DAYS[key]) if text else None
        if value is not None and value > today:
            what = _DAYS[key]
            raise InputProblem(
                f"{what[:1].upper()}{what[1:]}: {value.isoformat()} is still to come."
            )
    elif key in _COUNTS:
        value = _count(key, text)
    elif key == "attachments":
        value = tuple(part.strip() for part in text.split(";") if part.strip())
    elif key == "grown":
        value = text.casefold() or GROWN[0]
    else:
        value = text
    changes = {key: value}
    if key == "delivered" and value < lot.rejected:
        changes["rejected"] = value
    try:
        changed = replace(lot, **changes)
    except ValueError as problem:
        told = str(problem).partition(": ")[2] or str(problem)
        raise InputProblem(f"{key[:1].upper()}{key[1:]}: {told}.") from None
    if changed.grafted and changed.potted and changed.potted < changed.grafted:
        raise InputProblem("A plant is grafted before it is potted: look at both days.")
    return with_lot(project, changed)


def _count(key: str, text: str) -> int:
    plain = text
    for mark in (" ", "\u202f", "\u00a0", ","):
        plain = plain.replace(mark, "")
    if not plain:
        return 0
    if not plain.isdigit():
        raise InputProblem(f"{key[:1].upper()}{key[1:]}: {text!r} is no whole number of plants.")
    return int(plain)


def _renamed(project: Project, lot: Lot, name: str) -> Project:
    if name == lot.name:
        return project
    if not name or len(name) > _NAME_MOST or ";" in name or ":" in name:
        raise InputProblem(
            f"Name of the lot: one of 1 to {_NAME_MOST} letters and figures, without ; and :, is asked for."
        )
    planting = planting_of(project)
    other = planting.lot(name)
    if other is not None and other is not lot:
        raise InputProblem(f"There is a lot {other.name} already: give this one another name.")
    if _on_record(project, lot.name):
        raise InputProblem(
            f"Lot {lot.name} is on record under its name: it keeps it, so that it is found in years to come."
        )
    same = lot.name.casefold()
    lots = tuple(replace(k, name=name) if k is lot else k for k in planting.lots)
    tags = tuple(replace(t, lot=name) if t.lot.casefold() == same else t for t in planting.tags)
    assignments = tuple(
        replace(a, lot=name) if a.lot.casefold() == same else a for a in planting.assignments
    )
    return replace(
        project, planting=replace(planting, lots=lots, tags=tags, assignments=assignments)
    )


def _with_plant(project: Project, lot: Lot, key: str, text: str) -> Project:
    if key == "variety" and not text:
        raise InputProblem("A lot needs a variety: type it.")
    plant: Plant = replace(lot.plant, **{key: text})
    project = with_lot(project, replace(lot, plant=plant))
    planting, same = planting_of(project), lot.name.casefold()
    assignments = tuple(
        replace(a, plant=plant) if a.lot.casefold() == same else a for a in planting.assignments
    )
    return replace(project, planting=replace(planting, assignments=assignments))


def without_lot(project: Project, name: str) -> Project:
    """The project without a lot and its tags.

    Raises
    ------
    InputProblem
        Where the lot is on record, or assigned.
    """
    lot = _known(project, name)
    if _on_record(project, lot.name):
        raise InputProblem(f"Plants of lot {lot.name} are on record: it stays.")
    planting, same = planting_of(project), lot.name.casefold()
    if any(a.lot.casefold() == same for a in planting.assignments):
        raise InputProblem(f"Lot {lot.name} is assigned to vines: take the assignment back first.")
    lots = tuple(known for known in planting.lots if known is not lot)
    tags = tuple(t for t in planting.tags if t.lot.casefold() != same)
    return replace(project, planting=replace(planting, lots=lots, tags=tags))


def with_tag(project: Project, tag: Tag) -> Project:
    """The project with one more tag in its ledger."""
    lot = _known(project, tag.lot)
    planting = planting_of(project)
    return replace(
        project, planting=replace(planting, tags=(*planting.tags, replace(tag, lot=lot.name)))
    )


def with_struck_tag(project: Project, i: int, reason: str) -> Project:
    """The project with a tag that does not count any more, and why; it stays in the ledger.

    Raises
    ------
    InputProblem
        Where no reason is given.
    """
    if not reason.strip():
        raise InputProblem("A tag is struck with a reason: say why it does not count.")
    planting = planting_of(project)
    tags = list(planting.tags)
    tags[i] = replace(tags[i], struck=reason.strip())
    return replace(project, planting=replace(planting, tags=tuple(tags)))


def with_all_tags_recorded(project: Project, name: str, yes: bool = True) -> Project:
    """The project with all tags of a lot said to be recorded, or not.

    Raises
    ------
    InputProblem
        Where there is no such lot, or nothing of it came.
    """
    lot = _known(project, name)
    if yes and not lot.delivered:
        raise InputProblem(f"Nothing of lot {lot.name} has come yet: say what came first.")
    return with_lot(project, replace(lot, tags_recorded=yes))


def read_lots_csv(path) -> LotTable:
    """Lots of a table; see `formats.reading.lot_tables.read_lots`."""
    return read_lots(path)


def read_tags_csv(path, project: Project) -> TagTable:
    """Tags of a table, of lots that the project has."""
    return read_tags(path, tuple(lot.name for lot in planting_of(project).lots))
