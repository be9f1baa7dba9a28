"""Lots and plant tags from tables, whatever spreadsheet they went through."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from ...core.model import InputProblem, Lot, Plant, Tag
from ...core.model.planting import GROWN
from .day_cells import NO_DAY, UNREAD, read_days
from .form_cells import cells_of_text
from .form_words import is_yes, whole_of
from .table import bare

_LOT_NAMES = {
    "name": "name lot lotname lotnumber lotno",
    "variety": "variety cultivar scion",
    "clone": "clone clonenumber",
    "rootstock": "rootstock stock",
    "nursery": "nursery supplier from",
    "grown": "grown howgrown kind form",
    "grafted": "grafted graftdate dateofgrafting dategrafted",
    "potted": "potted pottingdate dateofpotting datepotted",
    "came": "came deliverydate datedelivered dateofdelivery arrived",
    "tray": "tray traysize bundle pertray plantspertray plantsinatray",
    "ordered": "ordered plantsordered",
    "delivered": "delivered plantsdelivered",
    "rejected": "rejected plantsrejected",
    "references": "references certificates tests certificate reference",
    "attachments": "attachments photos scans files",
    "tags_recorded": "tagsrecorded alltagsrecorded tags",
}
_TAG_NAMES = {
    "lot": "lot lotname name lotnumber",
    "text": "text tag asread tagtext",
    **{key: _LOT_NAMES[key] for key in ("variety", "clone", "rootstock", "grafted", "potted")},
    "plants": "plants count number howmany",
    "recorded": "recorded date dateread day",
    "by": "by readby recordedby who",
}
LOT_COLUMNS, TAG_COLUMNS = tuple(_LOT_NAMES), tuple(_TAG_NAMES)
"""Names of columns as they are written; others that say the same are read too."""
_DAYS = ("grafted", "potted", "came", "recorded")
_COUNTS = ("tray", "ordered", "delivered", "rejected", "plants")
_POTTED = ("potted", "pot", "potted green-growing", "green", "container")
_BARE = ("bare root", "bareroot", "bare-root", "dormant", "dormant bare-root")


@dataclass(frozen=True)
class LotTable:
    """Lots of a table, and a sentence about every line that was not taken."""

    lots: tuple[Lot, ...]
    problems: tuple[str, ...]


@dataclass(frozen=True)
class TagTable:
    """Tags of a table, and a sentence about every line that was not taken."""

    tags: tuple[Tag, ...]
    problems: tuple[str, ...]


class _Lines:
    """Cells of a table by meaning, line by line."""

    def __init__(self, path, names: dict[str, str], needed: tuple[str, ...], what: str):
        path = Path(path)
        self.name = path.name
        meaning = {word: key for key, words in names.items() for word in words.split()}
        found = cells_of_text(path, lambda header: sum(bare(c) in meaning for c in header))
        at: dict[str, int] = {}
        for i, cell in enumerate(found.header):
            key = meaning.get(bare(cell))
            if key is not None:
                at.setdefault(key, i)
        missing = [key for key in needed if key not in at]
        if missing:
            raise InputProblem(
                f"{self.name} has no column {missing[0]!r}: a table of {what} has columns such as "
                f"{', '.join(names)}."
            )
        self.line, self.why, self.at = found.line.tolist(), found.why, at
        self.rows = found.rows
        self.days = {
            key: read_days([row[at[key]] for row in found.rows]) for key in _DAYS if key in at
        }

    def texts(self, i: int) -> dict[str, str]:
        row = self.rows[i]
        return {key: row[column].strip() for key, column in self.at.items()}

    def values(self, i: int) -> dict:
        """Values of a line; ValueError says what is wrong with it."""
        if i in self.why:
            raise ValueError(self.why[i])
        said: dict = {}
        for key, text in self.texts(i).items():
            if key in _DAYS:
                said[key] = self._day(key, i, text)
            elif key in _COUNTS:
                if not text and key != "plants":
                    continue
                number = whole_of(text.replace(" ", "").replace("\u202f", "")) if text else 1
                if number < 0:
                    raise ValueError(f"{key}: {text!r} is no whole number")
                said[key] = number
            else:
                said[key] = text
        return said

    def _day(self, key: str, i: int, text: str) -> datetime.date | None:
        ordinal = int(self.days[key].ordinal[i])
        if ordinal == UNREAD:
            raise ValueError(f"{key}: {self.days[key].why.get(text, f'{text!r} is no day')}")
        return None if ordinal == NO_DAY else datetime.date.fromordinal(ordinal)

    def problem(self, i: int, why) -> str:
        return f"{self.name}, line {self.line[i]}: {why}; the line was not taken."


def read_lots(path) -> LotTable:
    """Lots of a CSV table; columns are known by their names, in any order.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or has no columns of name and variety.
    """
    lines = _Lines(path, _LOT_NAMES, ("name", "variety"), "lots")
    lots: dict[str, Lot] = {}
    problems = []
    for i, row in enumerate(lines.rows):
        if not any(cell.strip() for cell in row):
            continue
        try:
            lot = _lot(lines.values(i))
            if lot.name.casefold() in lots:
                raise ValueError(f"there is a lot {lot.name} in an earlier line")
            lots[lot.name.casefold()] = lot
        except ValueError as why:
            problems.append(lines.problem(i, why))
    return LotTable(tuple(lots.values()), tuple(problems))


def _lot(said: dict) -> Lot:
    if not said["name"] or not said["variety"]:
        raise ValueError("it has no name or no variety")
    plant = Plant(said.pop("variety"), said.pop("clone", ""), said.pop("rootstock", ""))
    grown = said.pop("grown", "").casefold()
    if grown and grown not in (*_POTTED, *_BARE):
        raise ValueError(f"grown: {grown!r} is neither {GROWN[0]} nor {GROWN[1]}")
    said["grown"] = GROWN[grown in _BARE]
    files = said.pop("attachments", "")
    said["attachments"] = tuple(f.strip() for f in files.split(";") if f.strip())
    yes = said.pop("tags_recorded", "")
    recorded = is_yes(yes) if yes else False
    if recorded is None:
        raise ValueError(f"tags_recorded: {yes!r} is neither yes nor no")
    return Lot(plant=plant, tags_recorded=recorded, **said)


def read_tags(path, lots: tuple[str, ...]) -> TagTable:
    """Tags of a CSV table, of lots whose names are given.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or has no column of lots.
    """
    lines = _Lines(path, _TAG_NAMES, ("lot",), "tags")
    known = {name.casefold(): name for name in lots}
    tags, problems = [], []
    for i, row in enumerate(lines.rows):
        if not any(cell.strip() for cell in row):
            continue
        try:
            said = lines.values(i)
            lot = known.get(said["lot"].casefold())
            if lot is None:
                raise ValueError(f"there is no lot {said['lot']!r}")
            if not any(
                said.get(k) for k in ("text", "variety", "clone", "rootstock", "grafted", "potted")
            ):
                raise ValueError("it says nothing of the tag")
            tags.append(Tag(**said | {"lot": lot}))
        except ValueError as why:
            problems.append(lines.problem(i, why))
    return TagTable(tuple(tags), tuple(problems))
