"""Corner lists in CSV: which columns are which, angles in any dialect, one polygon or several."""

from __future__ import annotations

import re
from itertools import groupby
from operator import itemgetter
from pathlib import Path

import numpy as np

from layoutdesk.core.model.findings import Finding, InputProblem

from .angles import degrees_of
from .attributes import clearance_of
from .reference import metres_of_unit
from .shapes import Piece, Source, counted
from .table import Table, read_table


def read_corners(path: Path, shown: str, *, areas_wanted: bool) -> Source:
    """Polygons from rows of corners, or for exclusions a point from each row.

    A column such as `block` or `part` groups rows; so do blank lines between rings that each close
    on themselves. Grouped exclusions of one row are points, of two lines, of more areas.

    Raises
    ------
    InputProblem
        When no two columns of coordinates can be told, or a row's numbers cannot be read.
    """
    source = Source("CSV", rings_close_themselves=True)
    table = read_table(path, shown, most_rows=2 if _is_large(path) and areas_wanted else None)
    if table.cut:
        xy = _long_ring(path, table)
        if xy is not None:
            _assume(source, table, coordinate_columns(table, shown, source)[1])
            source.pieces.append(Piece("area", [xy], where=f"lines {table.line[0]} and on"))
            return source
        table = read_table(path, shown)
    if not table.rows:
        return source
    columns, geographic = coordinate_columns(table, shown, source)
    xy, geographic = coordinates(table, columns, geographic, shown)
    if table.old_encoding:
        text = "It is not UTF-8 and was read as Windows-1252; check accented names."
        source.findings.append(Finding("text-decoded", text, where=shown))
    _assume(source, table, geographic)
    if "height" in table.meaning and areas_wanted and _has_heights(table):
        text = "Heights of the corners are not used; load a terrain model for slopes."
        source.findings.append(Finding("height-dropped", text, where=shown))
    _group(table, xy, source, areas_wanted)
    return source


LARGE_BYTES = 2_000_000
"""Above this a plain list of corners is read in one go, without a cell being looked at. [bytes]"""


def _is_large(path: Path) -> bool:
    return path.stat().st_size > LARGE_BYTES


def _long_ring(path: Path, table: Table) -> np.ndarray | None:
    """Corners of a large, plain, single-ring list with a header; None when it is not as plain."""
    at = table.meaning
    keys = ("lon", "lat") if "lon" in at and "lat" in at else ("x", "y")
    if table.decimal_comma or "part" in at or not all(k in at for k in keys):
        return None
    data = path.read_bytes()
    if b"\n\n" in data or b"\r\n\r\n" in data:  # blank lines may part rings
        return None
    try:
        return np.loadtxt(
            path,
            delimiter=None if table.separator == " " else table.separator,
            usecols=[at[k] for k in keys],
            skiprows=table.line[0] - 1,
            encoding="utf-8-sig",
            ndmin=2,
        )
    except ValueError:
        return None


def _assume(source: Source, table: Table, geographic: str) -> None:
    """Set what the columns' names say of datum and unit."""
    if geographic:
        import pyproj

        # An assumption, kept apart from what a file says, so that --crs goes before it quietly.
        source.assumed_crs = pyproj.CRS.from_epsg(4326)
    elif table.unit:
        source.unit_m = metres_of_unit(table.unit)


def coordinate_columns(table: Table, shown, source) -> tuple[tuple[int, int], str]:
    """(x column, y column) and "named" for longitude and latitude, else ""."""
    at = table.meaning
    if "lon" in at and "lat" in at:
        return (at["lon"], at["lat"]), "named"
    if "x" in at and "y" in at:
        return (at["x"], at["y"]), ""
    if at:
        have = ", ".join(sorted(at))
        raise InputProblem(
            f"{shown} has a header but no pair of coordinate columns in it (recognised: {have}); "
            "name them easting and northing, or lat and lon."
        )
    numeric = [
        column
        for column in range(max(map(len, table.rows[:50])))
        if all(
            _angle(row[column]) is not None
            for row in table.rows[:50]
            if column < len(row) and row[column]
        )
    ]
    if len(numeric) > 2 and numeric[0] == 0 and _counts_up(table.rows):
        numeric = numeric[1:]
    if len(numeric) < 2:
        raise InputProblem(
            f"{shown} has no two columns of coordinates (line {table.line[0]}); "
            "give it a header such as easting,northing or lat,lon."
        )
    first, second = numeric[:2]
    sides = [(degrees_of(row[c]) or (0, ""))[1] for row in table.rows[:1] for c in numeric[:2]]
    if sides == ["lat", "lon"]:
        return (second, first), "letters"
    if sides == ["lon", "lat"]:
        return (first, second), "letters"
    text = (
        f"It has no column names known here: column {first + 1} was taken as easting (or longitude) and "
        f"column {second + 1} as northing (or latitude)."
    )
    source.findings.append(Finding("columns-assumed", text, where=shown))
    return (first, second), ""


def _counts_up(rows) -> bool:
    """Whether the first column only numbers the points."""
    numbers = [row[0] for row in rows[:50]]
    if not all(re.fullmatch(r"\d{1,6}", n) for n in numbers):
        return False
    return len(numbers) > 1 and all(np.diff([int(n) for n in numbers]) == 1)


def _angle(cell: str):
    try:
        return float(cell.replace(",", ".")), ""
    except ValueError:
        return degrees_of(cell)


def coordinates(table: Table, columns, geographic, shown) -> tuple[np.ndarray, str]:
    """Numbers of every row, shape (n, 2); NaN where a cell is empty or says so."""
    short = [i for i, row in enumerate(table.rows) if len(row) <= max(columns)]
    if short:
        raise InputProblem(
            f"{shown} lacks a coordinate in line {table.line[short[0]]}; "
            f"each corner needs both ({counted(len(short), 'such line')})."
        )
    out = np.empty((len(table.rows), 2))
    axes = []
    for axis, column in enumerate(columns):
        cells = list(map(itemgetter(column), table.rows))
        values = plain_numbers(cells)
        side = ""
        if values is None:
            values, side = _angles(cells, table, shown, ("lon", "lat")[axis])
        axes.append(side)
        out[:, axis] = values
    if any(axes) and not geographic:
        if axes == ["lat", "lon"]:  # named x and y but lettered: the letters are certain
            out = out[:, ::-1]
        geographic = "named"
    return out, "named" if geographic else ""


def plain_numbers(cells) -> np.ndarray | None:
    """A column of plain numbers, converted as one array; None if any is not."""
    words = np.array(cells, dtype=str)
    words = np.where(words == "", "nan", np.char.replace(words, ",", "."))
    try:
        return words.astype(float)
    except ValueError:
        return None


def _angles(cells, table: Table, shown, wanted) -> tuple[np.ndarray, str]:
    values = np.empty(len(cells))
    sides = set()
    for row, cell in enumerate(cells):
        if cell.lower() in ("", "nan", "null", "none", "-", "n/a", "na", "#n/a", "inf", "-inf"):
            values[row] = np.nan
            continue
        read = _angle(cell)
        if read is None:
            raise InputProblem(
                f"{shown} has {cell!r} in line {table.line[row]}, which is no coordinate; write a "
                "number, or degrees like 34°30'15.5\"S."
            )
        values[row], side = read
        sides.add(side)
    sides.discard("")
    if len(sides) > 1:
        raise InputProblem(
            f"{shown} mixes N/S and E/W letters in one column; put latitude and longitude in "
            "columns of their own."
        )
    side = sides.pop() if sides else wanted
    if side != wanted and ("lat" in table.meaning and "lon" in table.meaning):
        raise InputProblem(
            f"{shown} has N/S letters in its longitude or E/W in its latitude column: latitude and "
            "longitude look swapped; mend the header."
        )
    return values, side


def _has_heights(table: Table) -> bool:
    column = table.meaning["height"]
    heights = {row[column] for row in table.rows if len(row) > column} - {""}
    return any(set(h) - set("+-0.,") for h in heights)  # a column of zeros loses nothing


def _group(table: Table, xy, source: Source, areas_wanted: bool) -> None:
    """Fill the source's pieces from rows."""

    def cell(row, meaning):
        column = table.meaning.get(meaning)
        return (
            table.rows[row][column] if column is not None and column < len(table.rows[row]) else ""
        )

    n = len(xy)
    if "part" in table.meaning:
        names = [cell(row, "part") for row in range(n)]
        order: dict[str, list[int]] = {}
        for row, name in enumerate(names):
            order.setdefault(name, []).append(row)
        groups = list(order.items())
    elif areas_wanted:
        groups = [("", rows) for rows in _split_at_blanks(table, xy)]
        names = {cell(row, "name") for row in range(n)} if "name" in table.meaning else set()
        if len(names) == 1 and len(groups) == 1:  # one name on every row is the outline's
            groups = [(names.pop(), groups[0][1])]
    else:
        groups = [("", [row]) for row in range(n)]

    for name, rows in groups:
        ring = xy[rows[0] : rows[-1] + 1] if rows[-1] - rows[0] + 1 == len(rows) else xy[rows]
        form = "area" if areas_wanted or len(rows) > 2 else ("line" if len(rows) == 2 else "point")
        lines = [table.line[rows[0]], table.line[rows[-1]]]
        where = f"line {lines[0]}" if len(rows) == 1 else f"lines {lines[0]} to {lines[1]}"
        where = f"{name}, {where}" if name else where
        clearance_m, trouble = clearance_of(cell(rows[0], "clearance"))
        if trouble:
            source.findings.append(Finding("clearance-unread", trouble, where=where))
        kind = cell(rows[0], "kind") if not areas_wanted else ""
        shown_name = name or ("" if areas_wanted else cell(rows[0], "name"))
        source.pieces.append(Piece(form, [ring], shown_name, kind, clearance_m, where))


def _split_at_blanks(table: Table, xy) -> list[list[int]]:
    """Rows by ring: split at blank lines only if every ring so made repeats its first corner."""
    number = np.cumsum(table.blank_before)
    rings = [[i for i, _ in g] for _, g in groupby(enumerate(number), key=itemgetter(1))]
    if len(rings) > 1 and all(len(r) > 3 and (xy[r[0]] == xy[r[-1]]).all() for r in rings):
        return rings
    return [list(range(len(xy)))]
