"""Cells of a filled form with their lines: encoding, separator and header of text; tables of a GeoPackage."""

from __future__ import annotations

import csv
import io
import re
import sqlite3
import struct
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ...core.model import InputProblem

_SEPARATORS = (",", ";", "\t", "|")
_HEADER_WITHIN = 40
"""Lines of title that may stand before the names of the columns."""
_OTHER_FILES = (
    # (first bytes, what it is)
    (b"PK\x03\x04", "a workbook or archive"),
    (b"\xd0\xcf\x11\xe0", "an old workbook"),
    (b"%PDF", "a PDF"),
)


@dataclass(frozen=True, eq=False)
class FormCells:
    """Cells as text.

    Attributes
    ----------
    header : list of str
    rows : list of list of str
        As many cells each as the header has.
    line : int array, shape (n,)
        Where each begins in the file; number of the feature in a GeoPackage.
    why : mapping of int to str
        What is wrong with the shape of a row.
    places : float array, shape (n, 2), or None
    places_in : str
    remarks : tuple of str
    """

    header: list[str]
    rows: list[list[str]]
    line: np.ndarray
    why: dict[int, str] = field(default_factory=dict)
    places: np.ndarray | None = None
    places_in: str = ""
    remarks: tuple[str, ...] = ()


def cells_of_text(
    path: Path,
    worth: Callable[[list[str]], int],
    what: str = "the form",
    columns: Sequence[str] = ("code", "date", "container_off"),
) -> FormCells:
    """Cells of a CSV file in any habit.

    Parameters
    ----------
    path : Path
    worth : function of a list of str
        How many names of a header are known: it decides the separator and which line is the header.
    what : str
        What should be in it, for refusals.
    columns : sequence of str
        Some of its columns, for the same.

    Raises
    ------
    InputProblem
        Where it is no text, or no line of it names columns.
    """
    text, remarks = _text(path, what)
    lines = re.split(r"\r\n|\r|\n", text)
    best = (0, 0, ",")
    for at, line in enumerate(lines[:_HEADER_WITHIN]):
        for mark in _SEPARATORS:
            known = worth(_split(line, mark))
            if known > best[0]:
                best = known, at, mark
    known, at, mark = best
    if not known:
        raise InputProblem(
            f"{path.name} has no line that names its columns: the first must, with names such as "
            f"{', '.join(columns[:-1])} and {columns[-1]}."
        )
    header = [cell.strip() for cell in _split(lines[at], mark)]
    rows, line, open_quotes = _rows(lines[at + 1 :], at + 2, mark, len(header))
    why = dict.fromkeys(open_quotes, "a quotation mark in it is not closed")
    width = len(header)
    for i, row in enumerate(rows):
        if len(row) > width:
            if any(cell.strip() for cell in row[width:]):
                why.setdefault(
                    i,
                    f"it has {len(row)} cells under {width} names of columns: put cells that hold "
                    f"{_SAID.get(mark, mark)} in quotation marks",
                )
            # nothing of it is thrown away: what is too much stands in the last cell
            row[width - 1 :] = [mark.join(row[width - 1 :]).rstrip(mark + " ")]
        elif len(row) < width:
            row.extend([""] * (width - len(row)))
    return FormCells(header, rows, np.array(line, np.int64), why, remarks=remarks)


_SAID = {",": "a comma", ";": "a semicolon", "\t": "a tab", "|": "a bar"}


def _text(path: Path, what: str) -> tuple[str, tuple[str, ...]]:
    try:
        data = path.read_bytes()
    except OSError as problem:
        reason = problem.strerror or "no access"
        raise InputProblem(f"{path.name} cannot be read ({reason}); check its place.") from None
    for head, kind in _OTHER_FILES:
        if data.startswith(head):
            raise InputProblem(f"{path.name} is {kind}; save its table as CSV and read that.")
    text, remarks = _decoded(data, path.name, what)
    text = text.replace("\0", "")
    if not text.strip("\ufeff \t\r\n;,|"):
        raise InputProblem(f"{path.name} is empty; save {what} again.")
    return text, remarks


def _decoded(data: bytes, name: str, what: str) -> tuple[str, tuple[str, ...]]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace"), ()
    head = data[:4096]
    if head.count(0) * 100 > len(head):
        even, odd = head[::2].count(0), head[1::2].count(0)
        if max(even, odd) < len(head) // 4 or min(even, odd) > max(even, odd) // 8:
            raise _no_text(name, what)
        return data.decode("utf-16-le" if odd > even else "utf-16-be", "replace"), ()
    if len(head.translate(None, _CONTROLS)) * 50 < len(head) * 49:
        raise _no_text(name, what)
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        told = (
            "It is text in an older Windows encoding: check letters with accents in names of lots."
        )
        return data.decode("cp1252", "replace"), (told,)


_CONTROLS = bytes([*range(1, 9), *range(14, 32)])
"""Bytes that no text has, but for a stray one."""


def _no_text(name: str, what: str) -> InputProblem:
    return InputProblem(f"{name} is no text file; save {what} as CSV and read that.")


def _split(line: str, mark: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=mark, skipinitialspace=True), [])
    except csv.Error:
        return line.split(mark)


def _rows(lines: list[str], first_line: int, mark: str, width: int):
    """Rows with their first lines, and which of them have an open quotation mark.

    A quotation mark that somebody forgot would swallow all lines up to the next one. Where a cell
    holds what looks like whole lines, or a row of several lines has not one cell a column, each line is
    read for itself.
    """
    rows, line = [], []
    reader = csv.reader(
        io.StringIO("\n".join(lines), newline=""), delimiter=mark, skipinitialspace=True
    )
    before = 0
    fewest = max((width - 1) // 2, min(width - 1, 2), 1)
    try:
        for row in reader:
            if reader.line_num - before > 1 and (
                len(row) != width
                or any(inner.count(mark) >= fewest for cell in row for inner in cell.split("\n"))
            ):
                return _rows_line_by_line(lines, first_line, mark)
            if any(cell.strip() for cell in row):
                rows.append(row)
                line.append(first_line + before)
            before = reader.line_num
    except csv.Error:
        return _rows_line_by_line(lines, first_line, mark)
    return rows, line, ()


def _rows_line_by_line(lines: list[str], first_line: int, mark: str):
    rows, line, open_quotes = [], [], []
    for number, text in enumerate(lines, first_line):
        is_open = text.count('"') % 2
        row = text.split(mark) if is_open else _split(text, mark)
        if any(cell.strip() for cell in row):
            if is_open:
                open_quotes.append(len(rows))
            rows.append(row)
            line.append(number)
    return rows, line, tuple(open_quotes)


def is_geopackage(path: Path) -> bool:
    """Whether a file is a SQLite database."""
    try:
        with path.open("rb") as file:
            return file.read(16) == b"SQLite format 3\x00"
    except OSError:
        return False


def cells_of_geopackage(path: Path, is_form: Callable[[list[str]], bool]) -> FormCells:
    """Cells of all tables of a GeoPackage that are forms, one after another, and their points.

    Raises
    ------
    InputProblem
        Where it cannot be read, or holds no form.
    """
    try:
        uri = f"{path.resolve().as_uri()}?mode=ro&immutable=1"
        with closing(sqlite3.connect(uri, uri=True)) as db:
            return _cells_of_tables(db, path.name, is_form)
    except sqlite3.Error as problem:
        raise InputProblem(
            f"{path.name} cannot be read as a GeoPackage ({problem}); save it again and read that."
        ) from None


def _cells_of_tables(db, name: str, is_form) -> FormCells:
    tables = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    if "layoutdesk_document" in tables:
        raise InputProblem(f"{name} is a project and no form; choose the form that was filled in.")
    shapes = {}
    if "gpkg_geometry_columns" in tables:
        query = "SELECT table_name, column_name, srs_id FROM gpkg_geometry_columns"
        shapes = {table: (column, srs) for table, column, srs in db.execute(query)}
    found = []
    for table in tables:
        columns = [row[1] for row in db.execute(f"PRAGMA table_info({_quoted(table)})")]
        if not table.startswith(("gpkg_", "rtree_", "sqlite_")) and is_form(columns):
            found.append((table, columns))
    if not found:
        raise InputProblem(
            f"{name} holds no form: a table of it must have a column code, and state or the checks."
        )
    table, columns = found[0]
    geometry, srs = shapes.get(table, ("", None))
    kept = [c for c in columns if c != geometry]
    select = ", ".join(_quoted(c) for c in ([geometry] if geometry else []) + kept)
    data = list(db.execute(f"SELECT rowid, {select} FROM {_quoted(table)} ORDER BY rowid"))
    skip = 2 if geometry else 1
    rows = [[_cell_text(value) for value in row[skip:]] for row in data]
    places = np.array([_point(row[1]) for row in data], float) if geometry and data else None
    crs = _crs(db, srs) if geometry else ""
    if not crs or places is None or np.isnan(places).all():
        places, crs = None, ""
    more = [other for other, _ in found[1:]]
    told = (
        (f"Of its tables {table} is read; {', '.join(more)} are not: save them apart.",)
        if more
        else ()
    )
    line = np.array([row[0] for row in data], np.int64)
    return FormCells(kept, rows, line, {}, places, crs, told)


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'


def _cell_text(value) -> str:
    if value is None:
        return ""
    if isinstance(value, bytes):
        return ""
    if isinstance(value, float) and value == int(value):
        return str(int(value))
    return str(value)


_ENVELOPE_BYTES = {0: 0, 1: 32, 2: 48, 3: 48, 4: 64}


def _point(blob) -> tuple[float, float]:
    """x, y of a point's geometry, nan for anything else (OGC 12-128r18, clause 2.1.3)."""
    nothing = (np.nan, np.nan)
    if not isinstance(blob, bytes) or blob[:2] != b"GP" or len(blob) < 8 or blob[3] & 0x10:
        return nothing
    body = blob[8 + _ENVELOPE_BYTES.get((blob[3] >> 1) & 7, 0) :]
    if len(body) < 21:
        return nothing
    order = "<" if body[0] else ">"
    kind = struct.unpack(f"{order}I", body[1:5])[0]
    return struct.unpack(f"{order}2d", body[5:21]) if kind % 1000 == 1 else nothing


def _crs(db, srs) -> str:
    row = db.execute(
        "SELECT organization, organization_coordsys_id, definition FROM gpkg_spatial_ref_sys "
        "WHERE srs_id = ?",
        (srs,),
    ).fetchone()
    if row is None or row[2] in (None, "", "undefined"):
        return ""
    organisation, number, definition = row
    is_code = re.fullmatch(r"[A-Za-z]+", organisation or "") and organisation.upper() != "NONE"
    return f"{organisation.upper()}:{number}" if is_code else definition
