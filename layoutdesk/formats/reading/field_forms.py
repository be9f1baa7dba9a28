"""Filled field forms as columns of one meaning each: CSV in any spreadsheet's habit, and GeoPackage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ...core.model import InputProblem
from ...core.model.planting import CHECKS
from . import day_cells
from .day_cells import DayCells, read_days
from .form_cells import FormCells, cells_of_geopackage, cells_of_text, is_geopackage
from .form_words import (
    CROSSES,
    FORM_STATES,
    NOT_LOOKED_AT,
    RIGHT,
    UNREAD,
    WRONG,
    by_cell,
    check_of,
    degrees_of,
    is_yes,
    letter_of,
    plain,
    state_of,
    vine_named,
    whole_of,
)
from .table import bare

__all__ = [
    "FORM_STATES", "NAMES", "NOT_LOOKED_AT", "RIGHT", "UNREAD", "WRONG", "FormTable", "by_cell", "is_yes", "meanings_of",
    "read_form",
]  # fmt: skip

NAMES = {
    "code": "code vinecode vineid position",
    "block": "block blockname",
    "row": "row rownumber rowno rownr",
    "segment": "segment seg letter segmentletter",
    "vine": "vine vinenumber vineno index idx",
    "lot": "lot lotassigned assignedlot assigned lotname",
    "lot_planted": "lotplanted plantedlot lotset actuallot",
    "plan": "plan planmark mark",
    "day": "date day dateplanted plantingdate dayplanted dateinspected inspectiondate",
    "by": "inspector by recordedby inspectedby plantedby who",
    "state": "state status",
    "cause": "cause causeofloss",
    "reworked": "reworked putright",
    "note": "note notes remark remarks comment comments",
    "lon": "lon long longitude",
    "lat": "lat latitude",
    "problem": "problem whattodo",
    **{
        item: f"{bare(item)} {bare(words)} {bare(item.replace('_in_', '').replace('_at_', ''))}"
        for item, words in CHECKS.items()
    },
}
"""Column names by what they mean, in lower case without blanks, accents, brackets or marks."""
_MEANING = {word: key for key, words in NAMES.items() for word in words.split()}
_SILENT = frozenset(["fid", "ogcfid", "objectid", "globalid", "geom", "geometry", "id", "uuid"])
"""Columns that programs add for themselves: nothing anybody wrote."""


@dataclass(frozen=True, eq=False)
class FormTable:
    """A filled form, n lines; nothing in it was held against a plan.

    Attributes
    ----------
    name : str
        Of the file.
    meanings : frozenset of str
        Keys of `NAMES` that the form has a column for.
    line : int array, shape (n,)
        Line in the file, or number of the feature.
    cells : mapping of str to list of str
        Text of each column by its meaning, blanks around it gone.
    code : list of str
        As it stands, or put together from the columns of block, row, segment and vine.
    block : list of str
    row, letter, vine : int32 array, shape (n,)
        What the code names: row number, 0 for segment A (-1 where it does not say), index of the vine.
        Row and vine are -1 where the code cannot be read.
    days : DayCells
    state : list of str or None
        Of `FORM_STATES`, "" where nothing is said, None where it cannot be read.
    checks : int8 array, shape (n, c)
        For each item of CHECKS: RIGHT, WRONG, NOT_LOOKED_AT, UNREAD.
    note : list of str
        Remarks, and what stands in columns that have no meaning here, with their names.
    why : mapping of int to str
        What of a line cannot be read, in words.
    places : float array, shape (n, 2), or None
        Of points, or columns of longitude and latitude; nan where none is said.
    places_in : str
        Coordinate system of `places`, as a code or WKT.
    header : tuple of str
    rows : list of list of str
        As they stand, to be written out again.
    remarks : tuple of str
        What to know of the file as a whole.
    """

    name: str
    meanings: frozenset[str]
    line: np.ndarray
    cells: dict[str, list[str]]
    code: list[str]
    block: list[str]
    row: np.ndarray
    letter: np.ndarray
    vine: np.ndarray
    days: DayCells
    state: list[str | None]
    checks: np.ndarray
    note: list[str]
    why: dict[int, str]
    places: np.ndarray | None
    places_in: str
    header: tuple[str, ...]
    rows: list[list[str]]
    remarks: tuple[str, ...] = field(default=())

    def __len__(self) -> int:
        return len(self.line)

    @property
    def has_checks(self) -> bool:
        return any(item in self.meanings for item in CHECKS)

    @property
    def has_states(self) -> bool:
        return "state" in self.meanings or "lot_planted" in self.meanings


def read_form(path) -> FormTable:
    """A filled inspection or as-planted form, whatever program it went through.

    Columns are known by their names, in any order, upper and lower case alike; columns without a meaning
    here go into the notes. A line that cannot be read says so in `why` and stops nothing.

    Raises
    ------
    InputProblem
        Where the file cannot be read at all, or has no columns that say which vine and what of it.
    """
    path = Path(path)
    if is_geopackage(path):
        found = cells_of_geopackage(path, lambda names: _is_form(meanings_of(names)))
    else:
        found = cells_of_text(path, lambda names: _worth(meanings_of(names)))
    return _table(path.name, found)


def meanings_of(header: Sequence[str]) -> list[str]:
    """Meaning of each column by its name; empty for those without one, and for a meaning's second column.

    Examples
    --------
    >>> meanings_of(["Code", "Container off (1/0)", "GRAFT UNION", "Remarks", "code"])
    ['code', 'container_off', '', 'note', '']
    """
    taken: list[str] = []
    for name in header:
        meaning = _MEANING.get(bare(name), "")
        taken.append("" if meaning in taken else meaning)
    return taken


def _worth(meanings: list[str]) -> int:
    return sum(map(bool, meanings))


def _names_vines(meanings) -> bool:
    return "code" in meanings or {"row", "vine"} <= set(meanings)


def _is_form(meanings) -> bool:
    says = ("state", "lot_planted", "reworked", *CHECKS)
    return _names_vines(meanings) and any(key in meanings for key in says)


def _table(name: str, found: FormCells) -> FormTable:
    meanings = meanings_of(found.header)
    if not _names_vines(meanings):
        raise InputProblem(
            f"{name} has no column that names vines: its first line must name the columns, one of them "
            "code, or block, row, segment and vine."
        )
    if not _is_form(meanings):
        raise InputProblem(
            f"{name} has no column that says what was seen at a vine: name one state, lot_planted, or "
            f"{next(iter(CHECKS))} and the other checks."
        )
    n, columns = len(found.rows), list(zip(*found.rows, strict=True)) or [()] * len(found.header)
    cells = {
        meaning: list(map(_stripped, column))
        for meaning, column in zip(meanings, columns, strict=True)
        if meaning
    }
    why = dict(found.why)
    code, block, row, letter, vine = _named(cells, n, why)
    days = read_days(cells.get("day", [""] * n))
    _tell(why, cells.get("day", ()), days.ordinal == day_cells.UNREAD, lambda cell: days.why[cell])
    state = by_cell(cells.get("state", [""] * n), state_of)
    for i in (i for i, said in enumerate(state) if said is None):
        words = "planted, replanted, missing, dead, alive or not planted"
        why.setdefault(i, f"{cells['state'][i]!r} is no state: write {words}")
    checks, crosses = _checks(cells, n, why)
    mended = cells.get("reworked", [])
    unread = np.array(by_cell(mended, lambda c: is_yes(c) is None and check_of(c) == UNREAD), bool)
    _tell(why, mended, unread, lambda cell: f"{cell!r} for reworked is no yes: write 1, or nothing")
    places, places_in = found.places, found.places_in
    if places is None and {"lon", "lat"} <= set(cells):
        pairs = [np.array(by_cell(cells[key], degrees_of), float) for key in ("lon", "lat")]
        places, places_in = np.column_stack(pairs), "EPSG:4326"
    return FormTable(
        name, frozenset(filter(None, meanings)), found.line, cells, code, block, row, letter, vine, days,
        state, checks, _notes(found.header, meanings, columns, cells, n), why, places, places_in,
        tuple(found.header), found.rows, (*_remarks(found, meanings, days), *crosses),
    )  # fmt: skip


def _checks(cells, n: int, why: dict[int, str]) -> tuple[np.ndarray, tuple[str, ...]]:
    """Checks of all lines, and how crosses were read."""
    checks = np.full((n, len(CHECKS)), NOT_LOOKED_AT, np.int8)
    crossed = np.zeros((n, len(CHECKS)), bool)
    for k, item in enumerate(CHECKS):
        if item in cells:
            checks[:, k] = by_cell(cells[item], check_of)
            crossed[:, k] = by_cell(cells[item], lambda text: plain(text) in CROSSES)
    told: tuple[str, ...] = ()
    if crossed.any():
        has_right, has_wrong = (checks == RIGHT).any(), (checks == WRONG).any()
        if has_right != has_wrong:
            checks[crossed] = WRONG if has_right else RIGHT
            other, meant = ("yes", "not right") if has_right else ("no", "right")
            told = (f"A cross is read as {meant}: other cells say {other} in another way.",)
    for k, item in enumerate(CHECKS):
        _tell(why, cells.get(item, ()), crossed[:, k] & (checks[:, k] == UNREAD), _cross_words)
        _tell(
            why,
            cells.get(item, ()),
            checks[:, k] == UNREAD,
            lambda cell, item=item: f"{cell!r} for {item} is neither yes nor no: write 1 or 0",
        )
    return checks, told


def _cross_words(cell: str) -> str:
    return f"{cell!r} can be a tick or a cross, and no other line tells which: write 1 for right, 0 for not"


def _stripped(cell: str) -> str:
    """Without blanks around it, and without the mark that keeps spreadsheets from reckoning."""
    cell = cell.strip()
    return cell[1:].strip() if cell[:1] == "'" else cell


def _tell(why: dict[int, str], cells, amiss, words) -> None:
    for i in np.flatnonzero(amiss).tolist():
        why.setdefault(i, words(cells[i]))


def _named(cells, n: int, why: dict[int, str]):
    """Code, block, row, letter and vine of every line; what contradicts itself is told."""
    none = [""] * n
    blocks = cells.get("block", none)
    rows = np.array(by_cell(cells.get("row", none), whole_of), np.int32)
    letters = np.array(by_cell(cells.get("segment", none), letter_of), np.int32)
    vines = np.array(by_cell(cells.get("vine", none), whole_of), np.int32)
    codes = cells.get("code", none)
    places = by_cell(codes, lambda text: vine_named(text) if text else ())
    read = np.array([p if p else ("", -1, -1, -1) for p in places], dtype=object).reshape(n, 4)
    row, letter, vine = (read[:, k].astype(np.int32) for k in (1, 2, 3))
    said = np.array([bool(p) for p in places], bool)
    wrong = np.array([p is None for p in places], bool)
    _tell(
        why,
        codes,
        wrong,
        lambda cell: f"{cell!r} is no code of a vine: write it like B1-R012A-V034",
    )
    # A spreadsheet that sorted one column alone parts codes from what was seen at them.
    apart = said & (((rows >= 0) & (rows != row)) | ((vines >= 0) & (vines != vine)))
    apart |= said & (letters >= 0) & (letter >= 0) & (letters != letter)
    for i in np.flatnonzero(apart).tolist():
        why.setdefault(
            i, f"the code {codes[i]} and the columns of row, segment and vine name two vines"
        )
    block = [p[0] if p else b for p, b in zip(places, blocks, strict=True)]
    bare_line = ~said & ~wrong
    row, vine = np.where(bare_line, rows, row), np.where(bare_line, vines, vine)
    letter = np.where(letter < 0, letters, letter)
    for i in np.flatnonzero(bare_line & ((row < 0) | (vine < 0))).tolist():
        why.setdefault(i, "no vine is named: write its code, like B1-R012A-V034")
    for i in np.flatnonzero(letter == -2).tolist():
        why.setdefault(i, f"{cells['segment'][i]!r} is no letter of a segment")
    code = [c or _put_together(cells, i) for i, c in enumerate(codes)]
    return code, block, row, letter, vine


def _put_together(cells, i: int) -> str:
    parts = [cells[key][i] if key in cells else "" for key in ("block", "row", "segment", "vine")]
    return f"{parts[0]}-R{parts[1]}{parts[2]}-V{parts[3]}" if parts[1] or parts[3] else ""


def _notes(header, meanings, columns, cells, n: int) -> list[str]:
    """Remarks, and the cells of columns without a meaning."""
    parts = [cells["note"]] if "note" in cells else []
    for name, meaning, column in zip(header, meanings, columns, strict=True):
        if meaning or bare(name) in _SILENT:
            continue
        parts.append([f"{name}: {cell.strip()}" if cell.strip() else "" for cell in column])
    if not parts:
        return [""] * n
    return ["; ".join(filter(None, said)) for said in zip(*parts, strict=True)]


def _remarks(found: FormCells, meanings, days: DayCells) -> tuple[str, ...]:
    said = list(found.remarks)
    other = [
        h for h, m in zip(found.header, meanings, strict=True) if not m and bare(h) not in _SILENT
    ]
    other = [name for name in other if name.strip()]
    if other:
        said.append(f"Columns without a meaning here are kept as notes: {', '.join(other)}.")
    missing = [item for item in CHECKS if item not in meanings]
    if missing and len(missing) < len(CHECKS):
        said.append(f"There is no column for {', '.join(missing)}: these were not looked at.")
    if days.order:
        example = "1/4/2027 is 1 April" if days.order == "day first" else "1/4/2027 is 4 January"
        said.append(f"Days are read {days.order}, as other lines show: {example}.")
    return tuple(said)
