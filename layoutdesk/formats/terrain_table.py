"""Heights from a table of points: CSV and its many dialects."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from ..core.model import InputProblem
from .terrain import UNITS_M, Said, unit_of_text
from .terrain_points import Points, refuse_level

_FIRST_ROWS = 50
_UNIT = r"(us[- _]?ft|ft[- _]?us|ft|foot|feet|m|metres?|meters?)"
_UNIT_BEHIND = re.compile(rf"(?:[(\[]\s*{_UNIT}\s*[)\]]|[ _]{_UNIT})\s*$", re.IGNORECASE)


def read_table_points(path: Path) -> Points:
    """The points of a table; a large plain one is read in one go.

    Raises
    ------
    InputProblem
        Where there are no columns of coordinates and heights, or a cell is no number.
    """
    from .reading.corners import LARGE_BYTES, coordinate_columns
    from .reading.shapes import Source
    from .reading.table import read_table

    name, source = path.name, Source("CSV")
    large = path.stat().st_size > LARGE_BYTES
    table = read_table(path, name, most_rows=_FIRST_ROWS if large else None)
    if not table.rows:
        raise InputProblem(f"{name} has a header and no points: export them again.")
    columns, geographic = coordinate_columns(table, name, source)
    at, unit = _height_column(table, columns, name)
    xyz = _in_one_go(path, table, (*columns, at)) if table.cut else None
    if xyz is None:
        if table.cut:
            table = read_table(path, name)
        xyz, geographic = _cell_by_cell(table, columns, at, geographic, name)
    refuse_level(xyz[np.isfinite(xyz).all(axis=1)], name)
    plan_unit = unit_of_text(table.unit)
    return Points(
        Said("points", unit or plan_unit),
        xyz,
        geographic=bool(geographic),
        unit_m=UNITS_M[plan_unit] if plan_unit else None,
        findings=list(source.findings),
    )


def _in_one_go(path: Path, table, columns) -> np.ndarray | None:
    """All rows of a plain table; None where it is not as plain."""
    if table.decimal_comma or table.old_encoding:
        return None
    try:
        return np.loadtxt(
            path,
            delimiter=None if table.separator == " " else table.separator,
            usecols=columns,
            skiprows=table.line[0] - 1,
            encoding="utf-8-sig",
            ndmin=2,
        )
    except ValueError:
        return None


def _cell_by_cell(table, columns, at: int, geographic, name: str):
    from .reading.corners import coordinates, plain_numbers

    xy, geographic = coordinates(table, columns, geographic, name)
    cells = [row[at] if at < len(row) else "" for row in table.rows]
    z = plain_numbers(cells)
    if z is None:
        wrong = next(i for i, c in enumerate(cells) if plain_numbers([c]) is None)
        raise InputProblem(
            f"{name}, line {table.line[wrong]}: {cells[wrong]!r} is no height; mend it or take the "
            "line out."
        )
    return np.column_stack([xy, z]), geographic


def _height_column(table, columns, name: str) -> tuple[int, str | None]:
    """Number of the column of heights, and their unit where its name says so."""
    from .reading.table import NAMES, bare

    known = NAMES["height"].split()
    for column, cell in enumerate(table.header):
        found = _UNIT_BEHIND.search(cell)
        plain = cell[: found.start()] if found else cell
        if bare(plain) in known or bare(cell) in known:
            return column, unit_of_text(found[1] or found[2]) if found else None
    if not table.meaning:  # without names, the first numeric column behind both coordinates
        first = table.rows[:_FIRST_ROWS]
        for column in range(max(columns) + 1, max(map(len, first))):
            cells = [row[column] for row in first if column < len(row)]
            if cells and all(_is_number(c) for c in cells):
                return column, None
    raise InputProblem(
        f"{name} has no column of heights: name one height, elevation or z in its header."
    )


def _is_number(cell: str) -> bool:
    try:
        float(cell.replace(",", "."))
    except ValueError:
        return False
    return True
