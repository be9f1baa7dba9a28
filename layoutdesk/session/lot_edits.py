"""Edits of lots and of the tag ledger, as typed and as read from tables."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ..core.model import InputProblem, Lot, Project, Tag
from ..core.model.planting import GROWN
from ..formats.reading.lot_tables import LotTable, TagTable, read_lots, read_tags
from .assigning import known_lot
from .demand_words import typed_day
from .planted import planting_of
from .quantities import Quantity, typed

_NAME_MOST = 24
_COUNTS = {
    "tray": Quantity("plants in a tray or bundle", "whole", 0, 10_000),
    "ordered": Quantity("plants ordered", "whole", 0, 1e8),
    "delivered": Quantity("plants delivered", "whole", 0, 1e8),
    "rejected": Quantity("plants rejected", "whole", 0, 1e8),
    "plants": Quantity("plants with this tag", "whole", 1, 1e8),
}
_DAYS = {
    "grafted": "day of grafting",
    "potted": "day of potting",
    "came": "day the lot came",
}
_OF_PLANT = ("variety", "clone", "rootstock")


def with_lot(project: Project, lot: Lot) -> Project:
    """The project with a lot put behind the others, or exchanged for the one of its name.

    What is assigned of the lot is of its plant, as it is described now.
    """
    planting, same = planting_of(project).with_lot(lot), lot.name.casefold()
    assignments = tuple(
        replace(a, plant=lot.plant) if a.lot.casefold() == same and a.plant != lot.plant else a
        for a in planting.assignments
    )
    return replace(project, planting=replace(planting, assignments=assignments))


def _on_record(project: Project, name: str) -> bool:
    register = project.register
    same = name.casefold()
    return register is not None and any(lot.name.casefold() == same for lot in register.lots)


def typed_lot(
    project: Project, name: str, key: str, text: str, today: datetime.date | None = None
) -> Project:
    """The project with one thing of a lot as typed.

    Parameters
    ----------
    name : str
        Of the lot.
    key : str
        "name", "variety", "clone", "rootstock", or another field of Lot.
    text : str
        Empty for what is not known.
    today : datetime.date, optional
        No lot came after it; asked for where a day is typed.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    lot, text = known_lot(project, name), " ".join(text.split())
    if key == "name":
        return _renamed(project, lot, text)
    if key in _OF_PLANT:
        if key == "variety" and not text:
            raise InputProblem("A lot needs a variety: type it.")
        return with_lot(project, replace(lot, plant=replace(lot.plant, **{key: text})))
    if key in _DAYS:
        value = typed_day(text, _DAYS[key]) if text else None
    elif key in _COUNTS:
        value = _count(key, text, 0)
    elif key == "attachments":
        value = tuple(part.strip() for part in text.split(";") if part.strip())
    elif key == "grown":
        value = text.casefold() or GROWN[0]
        if value not in GROWN:
            raise InputProblem(f"Way plants were grown: choose one of {', '.join(GROWN)}.")
    elif key in ("nursery", "references"):
        value = text
    else:
        raise ValueError(f"key: {key!r} is nothing of a lot")
    if key in ("delivered", "rejected"):
        delivered, rejected = (
            {"delivered": lot.delivered, "rejected": lot.rejected} | {key: value}
        ).values()
        if rejected > delivered:
            raise InputProblem(
                f"{_COUNTS[key].name.capitalize()}: {rejected:,} rejected of {delivered:,} that were delivered "
                "are too many."
            )
    changed = replace(lot, **{key: value})
    if key in _DAYS:
        _refuse_days(changed, today)
    return with_lot(project, changed)


def refuse_unlikely(lot: Lot, today: datetime.date | None = None) -> None:
    """Hold a lot's name against how parts and swaps are typed, and its days against one another.

    Raises
    ------
    InputProblem
        Where the name has signs that mean something, or a day cannot be.
    """
    _refuse_name(lot.name)
    _refuse_days(lot, today)


def _refuse_days(lot: Lot, today: datetime.date | None) -> None:
    for key in ("potted", "came"):
        day = getattr(lot, key)
        if day and lot.grafted and lot.grafted > day:
            raise InputProblem(
                f"The {_DAYS['grafted']}, {lot.grafted.isoformat()}, is after the {_DAYS[key]}, "
                f"{day.isoformat()}: look at both."
            )
    if lot.came and today is not None and lot.came > today:
        raise InputProblem(f"Day the lot came: {lot.came.isoformat()} is still to come.")


def _count(key: str, text: str, least: int) -> int:
    """Plants as typed, maybe with thousands set apart."""
    plain = text
    for mark in (" ", "\u202f", "\u00a0", "\u2009"):
        plain = plain.replace(mark, "")
    return typed(_COUNTS[key], plain) if plain else least


def _refuse_name(name: str) -> None:
    if not name or len(name) > _NAME_MOST or ";" in name or ":" in name:
        raise InputProblem(
            f"Name of the lot: one of 1 to {_NAME_MOST} letters and figures, without ; and :, is asked for."
        )


def _renamed(project: Project, lot: Lot, name: str) -> Project:
    if name == lot.name:
        return project
    _refuse_name(name)
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


def without_lot(project: Project, name: str) -> Project:
    """The project without a lot.

    Raises
    ------
    InputProblem
        Where the lot is on record, assigned, or known to the tag ledger.
    """
    lot = known_lot(project, name)
    if _on_record(project, lot.name):
        raise InputProblem(f"Plants of lot {lot.name} are on record: it stays.")
    planting, same = planting_of(project), lot.name.casefold()
    if any(a.lot.casefold() == same for a in planting.assignments):
        raise InputProblem(f"Lot {lot.name} is assigned to vines: take the assignment back first.")
    if any(tag.lot.casefold() == same for tag in planting.tags):
        raise InputProblem(f"Tags of lot {lot.name} are in the ledger: it stays.")
    lots = tuple(known for known in planting.lots if known is not lot)
    return replace(project, planting=replace(planting, lots=lots))


def with_tag(project: Project, tag: Tag) -> Project:
    """The project with one more tag in its ledger."""
    lot = known_lot(project, tag.lot)
    planting = planting_of(project)
    return replace(
        project, planting=replace(planting, tags=(*planting.tags, replace(tag, lot=lot.name)))
    )


def typed_tag(project: Project, texts: Mapping[str, str], today: datetime.date) -> Tag:
    """A tag as typed.

    Parameters
    ----------
    project : Project
    texts : mapping of str to str
        By field of Tag; those that are left out are empty. Without a lot it is of the only one there is.
    today : datetime.date
        When it is recorded, where that is not said.

    Raises
    ------
    InputProblem
        Where there is no such lot, nothing is said of the tag, or a day or number cannot be read.
    """
    said = {key: " ".join(text.split()) for key, text in texts.items()}
    lots = planting_of(project).lots
    name = said.get("lot") or (lots[0].name if len(lots) == 1 else "")
    lot = known_lot(project, name)
    days = {key: typed_day(said.get(key, ""), _DAYS[key]) for key in ("grafted", "potted")}
    words = {key: said.get(key, "") for key in ("text", *_OF_PLANT)}
    if not any((*words.values(), *days.values())):
        raise InputProblem("Nothing of the tag is typed: copy what stands on it.")
    return Tag(
        lot=lot.name,
        **words,
        **days,
        plants=_count("plants", said.get("plants", ""), 1),
        recorded=typed_day(said.get("recorded", ""), "day of recording") or today,
        by=said.get("by", ""),
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
    lot = known_lot(project, name)
    if yes and not lot.delivered:
        raise InputProblem(f"Nothing of lot {lot.name} has come yet: say what came first.")
    return with_lot(project, replace(lot, tags_recorded=yes))


def read_lots_csv(
    path, project: Project | None = None, today: datetime.date | None = None
) -> LotTable:
    """Lots of a table; of lots that the project has, what the table does not say stays as it was.

    Parameters
    ----------
    path : path
    project : Project, optional
    today : datetime.date, optional
        No lot came after it.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or has no columns of name and variety.
    """
    known = planting_of(project).lots if project is not None else ()
    found, fit, told = read_lots(path, known), [], []
    for lot in found.lots:
        try:
            refuse_unlikely(lot, today)
        except InputProblem as why:
            told.append(f"{Path(path).name}: lot {lot.name} was not taken. {why}")
        else:
            fit.append(lot)
    if not found.lots and not found.problems:
        told.append(f"{Path(path).name}: there is no lot below its head; nothing was taken.")
    return LotTable(tuple(fit), (*found.problems, *told))


def read_tags_csv(path, project: Project, today: datetime.date | None = None) -> TagTable:
    """Tags of a table, of lots that the project has; those that are in its ledger already are passed over.

    Parameters
    ----------
    path : path
    project : Project
    today : datetime.date, optional
        When they are recorded, where the table does not say.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or has no column of lots.
    """
    planting = planting_of(project)
    found = read_tags(path, tuple(lot.name for lot in planting.lots))
    known, fresh = Counter(map(_as_read, planting.tags)), []
    for tag in found.tags:
        said = _as_read(tag)
        if known[said]:
            known[said] -= 1
        else:
            fresh.append(tag if tag.recorded or today is None else replace(tag, recorded=today))
    passed = len(found.tags) - len(fresh)
    if not found.tags and not found.problems:
        nothing = f"{Path(path).name}: there is no tag below its head; nothing was taken."
        return TagTable((), (nothing,))
    told = (
        f"{Path(path).name}: {passed:,} {'line says' if passed == 1 else 'lines say'} what is in the ledger "
        "already; nothing of it was taken again.",
    )
    return TagTable(tuple(fresh), (*found.problems, *(told if passed else ())))


def _as_read(tag: Tag) -> tuple:
    """What tells a tag from others, whoever read it and when."""
    days = tag.grafted, tag.potted
    return tag.lot.casefold(), tag.text, tag.variety, tag.clone, tag.rootstock, *days, tag.plants


def missing_attachments(project: Project, beside=None) -> tuple[str, ...]:
    """Sentences about photos and scans of lots that are not where the project says; nothing is refused.

    Parameters
    ----------
    project : Project
    beside : path, optional
        Folder of the project's file: short paths are looked for there.
    """
    told = []
    for lot in planting_of(project).lots:
        for text in lot.attachments:
            path = Path(text).expanduser()
            places = [path] if path.is_absolute() or beside is None else [Path(beside) / path]
            if not any(place.exists() for place in places):
                told.append(f"Lot {lot.name}: {text} is not there any more: look where it went.")
    return tuple(told)
