"""Control points from a table: names, known coordinates, measured ones, in any order of columns and in any unit."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from layoutdesk.core.model.findings import Finding, InputProblem

from .reference import metres_of_unit
from .table import NAMES, Table, bare, read_table

_PARTS = {"easting": NAMES["x"], "northing": NAMES["y"], "elevation": NAMES["height"]}
_PART = {word: part for part, words in _PARTS.items() for word in words.split()}
_NAME = set(f"{NAMES['point']} {NAMES['name']} control controlpoint mark station".split())
_MEASURED = ("measured", "meas", "observed", "obs", "field", "local", "asstaked", "site")
_KNOWN = ("known", "given", "published", "control", "grid", "design")
_DEGREES = {*NAMES["lon"].split(), *NAMES["lat"].split()}
_UNIT = r"(us[-_ ]?(?:survey[-_ ]?)?(?:ft|feet|foot)|ft[-_ ]?us|ft|feet|foot|m|metres?|meters?)"
_UNIT_IN_NAME = re.compile(rf"[(\[]\s*{_UNIT}\s*[)\]]|[_ ]{_UNIT}\s*$", re.IGNORECASE)
_ODD_SPACES = re.compile("[\u00a0\u2007\u2009\u202f'’](?=\\d{3}(?!\\d))")
_NOTHING = ("", "nan", "null", "none", "-", "–", "n/a", "na")
_ORDER = ("easting", "northing", "elevation")


@dataclass(frozen=True)
class ControlRow:
    """One row of a table of control points, in the unit of the grid; None where a cell is empty or missing.

    Attributes
    ----------
    name : str
    line : int
        In the file.
    known, measured : (float or None, float or None, float or None)
        Easting, northing, elevation.
    """

    name: str
    line: int
    known: tuple[float | None, float | None, float | None]
    measured: tuple[float | None, float | None, float | None]


def read_control_table(
    path: Path,
    shown: str,
    grid_unit: str,
    grid_unit_m: float,
    is_near: Callable[[float, float], bool],
) -> tuple[tuple[ControlRow, ...], tuple[Finding, ...]]:
    """Rows of a table of control points and what was assumed of it.

    Columns are told by their header: easting, northing and elevation, with "measured" in the name or without.
    A table without one has a name and then coordinates, whichever way round puts them on the site.

    Parameters
    ----------
    path : path
    shown : str
        The file's name in sentences.
    grid_unit : str
    grid_unit_m : float
        Numbers become of this unit, where a header says that they are of another. [m]
    is_near : function of (easting, northing)
        Whether a place of the grid is near the site.

    Raises
    ------
    InputProblem
        Where columns cannot be told, a cell is no number, or a name is missing or there twice.
    """
    table = read_table(path, shown)
    found: list[Finding] = []
    if table.old_encoding:
        text = "It is not UTF-8 and was read as Windows-1252; check accented names."
        found.append(Finding("text-decoded", text, where=shown))
    if not table.rows:
        raise InputProblem(f"{shown} has a header and no points: export them again.")
    if table.header:
        columns, sizes = _columns(table, shown)
        found += _scaled(sizes, grid_unit, grid_unit_m, shown)
    else:
        columns, told = _guessed(table, shown, is_near)
        sizes = {}
        found.append(told)
    rows, seen = [], {}
    for cells, line in zip(table.rows, table.line, strict=True):
        name = _cell(cells, columns["name"]).strip()
        if not name:
            raise InputProblem(
                f"{shown}, line {line}: a control point has no name: give it a short one."
            )
        if name.casefold() in seen:
            raise InputProblem(
                f"{shown}, line {line}: {name} stands in line {seen[name.casefold()]} already: give each "
                "control point a name of its own."
            )
        seen[name.casefold()] = line

        def three(group: str, cells=cells, line=line):
            return tuple(
                _number(cells, table, shown, line, columns, sizes, (group, part), grid_unit_m)
                for part in _ORDER
            )

        rows.append(ControlRow(name, line, three("known"), three("measured")))
    return tuple(rows), tuple(found)


def _columns(table: Table, shown: str):
    """Column of each of ("known" or "measured", part) and of "name"; metres of a unit in their names."""
    columns, sizes = {}, {}
    for at, title in enumerate(table.header):
        unit = _UNIT_IN_NAME.search(title)
        word = bare(_UNIT_IN_NAME.sub("", title)) or bare(title)
        group, rest = _group(word)
        part = _PART.get(rest)
        if part is None:
            if word in _NAME and "name" not in columns:
                columns["name"] = at
            continue
        if unit and (unit[2] or "").lower() == "m" and (group, part) in columns:
            group, unit = "measured", None  # E, N, E_m, N_m: measured, not metres
        columns.setdefault((group, part), at)
        if unit and columns[group, part] == at:
            sizes[group, part] = unit[1] or unit[2]
    pairs = [g for g in ("known", "measured") if {(g, p) for p in _ORDER[:2]} <= columns.keys()]
    if not pairs:
        if any(bare(title) in _DEGREES for title in table.header):
            raise InputProblem(
                f"{shown} has latitudes and longitudes: control points are needed on the survey grid, as "
                "easting and northing."
            )
        raise InputProblem(
            f"{shown} has no columns of coordinates that are known here: name them easting and northing, "
            "or measured easting and measured northing."
        )
    if "name" not in columns:
        raise InputProblem(f"{shown} has no column of names: name one of its columns point.")
    return columns, sizes


def _group(word: str) -> tuple[str, str]:
    """Whether a column is of known or measured values, and its name without that.

    Examples
    --------
    >>> _group("measuredeasting"), _group("nmeas"), _group("elevation")
    (('measured', 'easting'), ('measured', 'n'), ('known', 'elevation'))
    """
    for group, marks in (("measured", _MEASURED), ("known", _KNOWN)):
        for mark in marks:
            for rest in (word.removeprefix(mark), word.removesuffix(mark)):
                if rest != word and rest in _PART:
                    return group, rest
    return "known", word


def _guessed(table: Table, shown: str, is_near):
    """Columns of a table without a header: a name, two or three coordinates, as many measured ones."""
    width = min(len(cells) for cells in table.rows)
    first = [_plain(_cell(table.rows[0], at), table) for at in range(width)]
    if width < 3 or first[1] is None or first[2] is None:
        raise InputProblem(
            f"{shown} has no header, and no name with two coordinates in line {table.line[0]}: give it a "
            "header such as point,easting,northing,elevation."
        )
    pairs = [(_plain(_cell(c, 1), table), _plain(_cell(c, 2), table)) for c in table.rows]
    pairs = [p for p in pairs if None not in p]
    straight, crossed = (sum(is_near(*p[::step]) for p in pairs) for step in (1, -1))
    if straight == crossed:
        raise InputProblem(
            f"{shown} has no header, and its coordinates lie {'on' if straight else 'far from'} the site either "
            "way round: give it a header such as point,easting,northing,elevation."
        )
    order = _ORDER if straight > crossed else ("northing", "easting", "elevation")
    each = 3 if width in (4, 7) or width > 7 else 2
    columns = {"name": 0}
    for i, part in enumerate(order[:each]):
        columns["known", part] = 1 + i
        if width >= 1 + 2 * each:
            columns["measured", part] = 1 + each + i
    text = (
        f"It has no header: columns were taken as name, {', '.join(order[:each])}"
        f"{', and the same measured' if width >= 1 + 2 * each else ''}."
    )
    return columns, Finding("columns-assumed", text, where=shown)


def _scaled(sizes, grid_unit: str, grid_unit_m: float, shown: str) -> list[Finding]:
    """That numbers were turned into the grid's unit."""
    found = []
    for unit in dict.fromkeys(sizes.values()):
        unit_m = _metres(unit)
        if abs(unit_m / grid_unit_m - 1) > 1e-9:
            found.append(
                Finding(
                    "unit-scaled",
                    f"Its header says {unit} = {unit_m:.9g} m, the survey grid has the {grid_unit} = "
                    f"{grid_unit_m:.9g} m: numbers were turned into that.",
                    where=shown,
                    severity="caution",
                )
            )
    return found


def _metres(unit: str) -> float:
    plain = re.sub(r"[-_ ]|survey", "", unit.lower())
    return metres_of_unit("usft" if plain.startswith("us") or plain.endswith("us") else plain)


def _number(cells, table: Table, shown, line: int, columns, sizes, key, grid_unit_m: float):
    if key not in columns:
        return None
    text = _cell(cells, columns[key])
    if text.strip().lower() in _NOTHING:
        return None
    value = _plain(text, table)
    if value is None:
        raise InputProblem(f"{shown}, line {line}: {text!r} is no {key[1]}: write a plain number.")
    size = _metres(sizes[key]) / grid_unit_m if key in sizes else 1.0
    return value if abs(size - 1) < 1e-9 else value * size


def _cell(cells, at: int) -> str:
    return cells[at] if at < len(cells) else ""


def _plain(text: str, table: Table) -> float | None:
    """A number in the way of the table; None where it is none."""
    bare_text = _ODD_SPACES.sub("", text.strip()).replace("−", "-")
    if table.decimal_comma:
        bare_text = bare_text.replace(",", ".")
    if not re.fullmatch(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", bare_text):
        return None
    return float(bare_text)
