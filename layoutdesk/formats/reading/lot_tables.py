"""Lots and plant tags from tables, whatever spreadsheet they went through."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from ...core.model import InputProblem, Lot, Plant, Tag
from ...core.model.planting import GROWN
from .day_cells import NO_DAY, UNREAD, read_days
from .form_cells import cells_of_text
from .form_words import is_yes
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
    "tags_recorded": "tagsrecorded alltagsrecorded",
}
_TAG_NAMES = {
    "lot": "lot lotname name lotnumber",
    "text": "text tag asread tagtext",
    **{key: _LOT_NAMES[key] for key in ("variety", "clone", "rootstock", "grafted", "potted")},
    "plants": "plants count number howmany tagplants",
    "recorded": "recorded date dateread day tagrecorded",
    "by": "by readby recordedby who tagby",
    "struck": "struck tagstruck whystruck",
}
_KIND = "line"
"""A column that says whether a line is of a lot or of a tag, as in lots.csv."""
LOT_COLUMNS, TAG_COLUMNS = tuple(_LOT_NAMES), tuple(_TAG_NAMES)
"""Names of columns as they are written; others that say the same are read too."""
_DAYS = ("grafted", "potted", "came", "recorded")
_COUNTS = ("tray", "ordered", "delivered", "rejected", "plants")
_GROWN = {
    # as people write it, in lower case and without marks
    **dict.fromkeys(
        ("potted", "pot", "pots", "green", "greengrowing", "container", "pottedgreengrowing"),
        GROWN[0],
    ),
    **dict.fromkeys(
        ("bareroot", "bareroots", "bare", "dormant", "dormantbareroot", "fielddormant"), GROWN[1]
    ),
}
_PLAIN = re.compile(r"\+?(\d{1,9})(?:[.,]0{0,2})?")
_THOUSANDS = re.compile(r"\d{1,3}(?:([.,])\d{3})+")
_ROUND_THOUSANDS = re.compile(r"\d{1,3}[.,]000")


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
        found = cells_of_text(
            path,
            lambda header: sum(bare(c) in meaning for c in header),
            f"the {what}",
            tuple(names)[:3],
        )
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
        self.kind = next((i for i, c in enumerate(found.header) if bare(c) == _KIND), None)
        # One program wrote all days: what a column shows of their order holds for the others.
        self.days = read_days([self._cell(i, key) for i in range(len(self.rows)) for key in _DAYS])
        counts = [row[at[key]] for row in found.rows for key in _COUNTS if key in at]
        self.has_thousands = says_thousands(counts)

    def about(self, what: str) -> list[int]:
        """Lines that are of lots, or of tags, where the table has both; else all."""
        rows = range(len(self.rows))
        if self.kind is None or not {"lot", "tag"} & {bare(r[self.kind]) for r in self.rows}:
            return list(rows)
        return [i for i in rows if bare(self.rows[i][self.kind]) == what]

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
                if text:
                    said[key] = self._plants(key, text)
            else:
                said[key] = text
        return said

    def _cell(self, i: int, key: str) -> str:
        return self.rows[i][self.at[key]] if key in self.at else ""

    def _day(self, key: str, i: int, text: str) -> datetime.date | None:
        ordinal = int(self.days.ordinal[i * len(_DAYS) + _DAYS.index(key)])
        if ordinal == UNREAD:
            raise ValueError(f"{key}: {self.days.why.get(text, f'{text!r} is no day')}")
        return None if ordinal == NO_DAY else datetime.date.fromordinal(ordinal)

    def _plants(self, key: str, text: str) -> int:
        word = _joined(text)
        if _ROUND_THOUSANDS.fullmatch(word) and not self.has_thousands:
            whole = re.sub("[.,]", "", word)
            raise ValueError(
                f"{key}: {text!r} can be {whole} or {re.split('[.,]', word)[0]}: write it without a mark"
            )
        if _THOUSANDS.fullmatch(word):
            return int(re.sub("[.,]", "", word))
        found = _PLAIN.fullmatch(word)
        if not found:
            raise ValueError(f"{key}: {text!r} is no whole number of plants")
        return int(found[1])

    def problem(self, i: int, why) -> str:
        return f"{self.name}, line {self.line[i]}: {why}; the line was not taken."


def says_thousands(cells: Sequence[str]) -> bool:
    """Whether numbers of plants have marks of thousands, as one of them shows that can be nothing else.

    Examples
    --------
    >>> says_thousands(["1.200", "950"]), says_thousands(["1.000", "950"]), says_thousands(["12.000.000"])
    (True, False, True)
    """
    words = [_joined(cell) for cell in cells]
    return any(_THOUSANDS.fullmatch(w) and not _ROUND_THOUSANDS.fullmatch(w) for w in words)


def _joined(text: str) -> str:
    """A number without the blanks and apostrophes that set its thousands apart."""
    return re.sub("[\\s'’]", "", text)


def read_lots(path, known: Sequence[Lot] = ()) -> LotTable:
    """Lots of a CSV table; columns are known by their names, in any order.

    Parameters
    ----------
    path : path
    known : sequence of Lot
        Of a lot that is known, columns that are not there and cells that are empty leave it as it was.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or has no columns of name and variety.
    """
    lines = _Lines(path, _LOT_NAMES, ("name", "variety"), "lots")
    before = {lot.name.casefold(): lot for lot in known}
    lots: dict[str, Lot] = {}
    problems = []
    for i in lines.about("lot"):
        try:
            said = {key: value for key, value in lines.values(i).items() if value not in ("", None)}
            name = said.get("name", "").casefold()
            if name in lots:
                raise ValueError(f"there is a lot {lots[name].name} in an earlier line")
            lots[name] = _lot(said, before.get(name))
        except ValueError as why:
            problems.append(lines.problem(i, why))
    return LotTable(tuple(lots.values()), tuple(problems))


def _lot(said: dict, before: Lot | None) -> Lot:
    if "name" not in said or ("variety" not in said and before is None):
        raise ValueError("it has no name or no variety")
    of_plant = {key: said.pop(key) for key in ("variety", "clone", "rootstock") if key in said}
    said["plant"] = replace(before.plant, **of_plant) if before is not None else Plant(**of_plant)
    if "grown" in said:
        grown = said["grown"]
        said["grown"] = _GROWN.get(bare(grown))
        if said["grown"] is None:
            raise ValueError(f"grown: {grown!r} is neither {GROWN[0]} nor {GROWN[1]}")
    if "attachments" in said:
        files = said["attachments"].replace("|", ";").split(";")
        said["attachments"] = tuple(f.strip() for f in files if f.strip())
    if "tags_recorded" in said:
        yes = said["tags_recorded"]
        said["tags_recorded"] = is_yes(yes)
        if said["tags_recorded"] is None:
            raise ValueError(f"tags_recorded: {yes!r} is neither yes nor no")
    if before is None:
        return Lot(**said)
    return replace(before, **said | {"name": before.name})


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
    for i in lines.about("tag"):
        try:
            said = lines.values(i)
            lot = known.get(" ".join(said["lot"].split()).casefold())
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
