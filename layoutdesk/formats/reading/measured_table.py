"""Measured points from tables of text in any habit: separators, headings, units, columns in any order."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from layoutdesk.core.model import Finding, InputProblem, SiteFrame

from ..handoffset import Placing
from .measured import Draft
from .measured_cells import SAMPLE, cells_of, columns_of, filled_lines, numbers_of
from .reference import metres_of_unit
from .table import NAMES, Table, bare, read_table

_PARTS = {
    "easting": NAMES["x"],
    "northing": NAMES["y"],
    "longitude": NAMES["lon"],
    "latitude": NAMES["lat"],
    "elevation": NAMES["height"] + " level cote quota kote",
    "point": f"{NAMES['point']} {NAMES['name']} pointno pointnr pointnumber ptno ptid pnr pktnr punto numero"
    " stake",
    "description": "description desc descriptor rawdescription fulldescription remark remarks comment note text"
    " beschreibung bemerkung bezeichnung descripcion descrizione feature",
    "code": "code featurecode pointcode codigo codice",
}
_PART = {word: part for part, words in _PARTS.items() for word in words.split()}
_PART |= {"longitude": "longitude", "latitude": "latitude", "number": "point", "name": "point"}
_MEASURED = (
    *("measured", "meas", "observed", "obs", "field", "asstaked", "staked", "asbuilt", "actual"),
    *("surveyed", "survey", "shot", "stakeout"),
)
_PLANNED = ("design", "planned", "plan", "target", "known", "given", "required", "theoretical")
_PLAIN = ("grid", "coordinate", "coord")
_DIFFERENCE = ("delta", "diff", "difference", "error", "cut", "fill", "offset", "deviation")
_UNIT = re.compile(
    r"[(\[ _](us[-_ ]?(?:survey[-_ ]?)?(?:ft|feet|foot)|ft[-_ ]?us|ft|feet|foot|m|metres?|meters?|mm|cm)\s*[)\]]?\s*$",
    re.IGNORECASE,
)
_OF_PLAN = re.compile(r"-r\d+[a-z]+-[vlea]\d+", re.IGNORECASE)
_SKIP = ("", "-", "skip", "none", "x-")
_COLUMN_WORDS = (
    "point, northing, easting, elevation, description, longitude, latitude, or - to pass one over"
)
_NEAR_M = 50_000.0
"""A place nearer to the site than this is on it or beside it; one that is not is told by its size. [m]"""


@dataclass
class _Columns:
    """Which column is what."""

    at: dict[str, int] = field(default_factory=dict)
    unit: str = ""
    said: str = ""

    @property
    def has_grid(self) -> bool:
        return {"easting", "northing"} <= self.at.keys()

    @property
    def has_degrees(self) -> bool:
        return {"longitude", "latitude"} <= self.at.keys()


def read_measured_table(
    path: Path, shown: str, placing: Placing, columns: str = "", frame: SiteFrame | None = None
) -> Draft:
    """Points of a table; its columns as the user says, as its headings say, or as they fit the site.

    Parameters
    ----------
    path : Path
    shown : str
    placing : Placing
        A table without headings is read whichever way round puts its points on the site.
    columns : str
        As the user says.
    frame : SiteFrame, optional
        Without it no degrees are found in a table without headings.

    Raises
    ------
    InputProblem
        Where no columns of coordinates can be told.
    """
    sniffed = read_table(path, shown, SAMPLE)
    draft = Draft("CSV" if sniffed.separator != " " else "text")
    if sniffed.old_encoding:
        text = "It is not UTF-8 and was read as Windows-1252; check accented names."
        draft.findings.append(Finding("text-decoded", text, where=shown))
    lines, numbers = filled_lines(path, sniffed)
    sample = cells_of(lines[:SAMPLE], sniffed.separator)
    head = _header_among(sample)
    first = 0 if head is None else head[0] + 1
    if first >= len(lines):
        raise InputProblem(f"{shown} has a header and no points: export them again.")
    if columns.strip():
        told = _asked(columns)
        told.unit = told.unit or (head[1].unit if head is not None else "")
        told.said = "columns as given"
    elif head is not None:
        told = head[1]
    else:
        told = _guessed(sample, sniffed, placing, frame, shown)
        draft.findings.append(Finding("columns-assumed", told.said, where=shown))
        told.said = "no headings"
    draft.line = numbers[first:]
    last = max(told.at.values())
    ends_in_words = last in (told.at.get("description"), told.at.get("code"))
    _fill(
        draft,
        told,
        columns_of(
            lines[first:],
            sniffed.separator,
            sorted(set(told.at.values())),
            last + 1 if ends_in_words else 0,
        ),
        sniffed.decimal_comma,
    )
    if told.unit and not told.has_degrees:
        draft.unit_m = _metres(told.unit)
    return draft


def _fill(draft: Draft, told: _Columns, cells: dict[int, list[str]], decimal_comma: bool) -> None:
    parts = ("easting", "northing") if told.has_grid else ("longitude", "latitude")
    places = [cells[told.at[part]] for part in parts]
    draft.en = np.column_stack([numbers_of(c, decimal_comma) for c in places])
    bad = np.flatnonzero(~np.isfinite(draft.en).all(axis=1))
    draft.empty = bad[[not (places[0][i].strip() or places[1][i].strip()) for i in bad.tolist()]]
    if "elevation" in told.at:
        draft.height = numbers_of(cells[told.at["elevation"]], decimal_comma)
    else:
        draft.height = np.full(len(draft.line), np.nan)
    draft.name = _stripped(draft, cells, told.at.get("point"))
    draft.description = _stripped(draft, cells, _words_at(cells, told.at))
    if not told.has_grid:
        from ..crs import crs_named

        draft.crs = crs_named("EPSG:4326")
    names = ", ".join(p for p, _ in sorted(told.at.items(), key=lambda item: item[1]))
    draft.said.append(f"{told.said}: {names}" if told.said else f"columns {names}")


def _words_at(cells: dict[int, list[str]], at: dict[str, int]) -> int | None:
    """The column of descriptions, unless a column of codes names points of a plan and it does not."""
    own, code = at.get("description"), at.get("code")
    if own is None or code is None:
        return own if own is not None else code
    of_code, of_own = (
        sum(bool(_OF_PLAN.search(cell)) for cell in cells[k][:SAMPLE]) for k in (code, own)
    )
    return code if of_code > of_own else own


def _stripped(draft: Draft, cells: dict[int, list[str]], at: int | None) -> list[str]:
    if at is None:
        return [""] * len(draft.line)
    return [cell.strip() for cell in cells[at]]


# ------------------------------------------------------------------------------ headings


def _header_among(rows) -> tuple[int, _Columns] | None:
    """The first line that names columns of coordinates, and what it says; words may stand above it."""
    for i, row in enumerate(rows[:40]):
        told = _named(row)
        if told.has_grid or told.has_degrees:
            return i, told
        if sum(np.isfinite(numbers_of(row, False))) >= 2:
            return None
    return None


def _named(row) -> _Columns:
    """Columns by their names: measured before plain before planned ones, differences never."""
    best: dict[str, tuple[int, int]] = {}
    units: dict[int, str] = {}
    for at, title in enumerate(row):
        unit = _UNIT.search(title)
        word = bare(_UNIT.sub("", title)) if unit else bare(title)
        rank, part = _meaning(word)
        if part is None and unit:  # "point_m" and the like: the unit was part of a name
            rank, part = _meaning(bare(title))
        if part is None:
            continue
        if unit:
            units[at] = unit[1]
        if part not in best or rank < best[part][0]:
            best[part] = (rank, at)
    columns = _Columns({part: at for part, (_, at) in best.items()})
    if not columns.has_grid and columns.has_degrees:
        for part in ("easting", "northing"):
            columns.at.pop(part, None)
    for part in ("easting", "northing"):
        columns.unit = columns.unit or units.get(columns.at.get(part, -1), "")
    return columns


def _meaning(word: str) -> tuple[int, str | None]:
    """Rank (0 measured, 1 plain, 2 planned) and part of a heading.

    Examples
    --------
    >>> _meaning("stakednorthing"), _meaning("designe"), _meaning("y"), _meaning("deltanorthing")
    ((0, 'northing'), (2, 'easting'), (1, 'northing'), (1, None))
    """
    if word in _PART:
        return 1, _PART[word]
    if any(mark in word for mark in _DIFFERENCE):
        return 1, None
    for rank, marks in ((0, _MEASURED), (1, _PLAIN), (2, _PLANNED)):
        for mark in marks:
            for rest in (word.removeprefix(mark), word.removesuffix(mark)):
                if rest != word and rest in _PART:
                    return rank, _PART[rest]
    return 1, None


def _asked(columns: str) -> _Columns:
    """Columns as the user says them.

    Raises
    ------
    InputProblem
        For a word that is none, or where coordinates are missing.
    """
    told = _Columns()
    for at, text in enumerate(re.split(r"[,;\t]", columns)):
        unit = _UNIT.search(text)
        word = bare(_UNIT.sub("", text)) if unit else bare(text)
        if text.strip().casefold() in _SKIP:
            continue
        part = _PART.get(word)
        if part is None:
            raise InputProblem(f"{text.strip()!r} is no column known here: use {_COLUMN_WORDS}.")
        if part in told.at:
            raise InputProblem(f"{text.strip()!r} says {part} for the second time: say it once.")
        told.at[part] = at
        if unit and part in ("easting", "northing"):
            told.unit = unit[1]
    if not (told.has_grid or told.has_degrees):
        raise InputProblem(f"{columns.strip()!r} has no easting and northing: use {_COLUMN_WORDS}.")
    return told


def _metres(unit: str) -> float:
    plain = re.sub(r"[-_ ]|survey", "", unit.lower())
    return metres_of_unit("usft" if plain.startswith("us") or plain.endswith("us") else plain)


# ------------------------------------------------------------------------------ no headings


def _guessed(sample, table: Table, placing: Placing, frame, shown: str) -> _Columns:
    """Columns of a table without headings: the pair of numbers that lies on the site, whichever way round."""
    width = max(map(len, sample))
    columns = [[row[at] if len(row) > at else "" for row in sample] for at in range(width)]
    values = [numbers_of(cells, table.decimal_comma) for cells in columns]
    numeric = [np.isfinite(v).mean() >= 0.6 for v in values]
    filled = [any(cell.strip() for cell in cells) for cells in columns]
    pairs = [at for at in range(width - 1) if numeric[at] and numeric[at + 1]]
    if not pairs:
        raise InputProblem(
            f"{shown} has no headings, and no two columns of numbers beside each other: say its columns, such as "
            "point, northing, easting, elevation, description."
        )
    middle = placing.placed(np.zeros((1, 2)))[0]
    scored = []
    for at in pairs:
        one, two = np.nanmedian(values[at]), np.nanmedian(values[at + 1])
        for turned, (easting, northing) in enumerate(((two, one), (one, two))):
            scored.append((_misfit(easting, northing, middle, placing.unit_m), at, bool(turned)))
    misfit, at, is_turned = min(scored)
    if misfit[0] and frame is not None:
        degrees = _as_degrees(values, pairs, frame)
        if degrees is not None:
            return _laid_out(*degrees, numeric, filled, ("latitude", "longitude"), "")
    why = "for so they lie on the site" if not misfit[0] else "for so their size fits best"
    return _laid_out(at, is_turned, numeric, filled, ("northing", "easting"), why)


def _misfit(easting: float, northing: float, middle, unit_m: float) -> tuple[int, float]:
    """How badly a place fits the site: first whether it is far, then how far, or how unlike in size."""
    far_m = float(np.hypot(easting - middle[0], northing - middle[1])) * unit_m
    if far_m < _NEAR_M:
        return 0, far_m
    ratios = np.log(
        np.maximum(np.abs([easting, northing]), 1e-6) / np.maximum(np.abs(middle), 1e-6)
    )
    # A mistaken unit makes both larger alike; that tells a unit from another column.
    return 1, float(abs(ratios[0] - ratios[1]) + 0.1 * np.abs(ratios).sum())


def _as_degrees(values, pairs, frame: SiteFrame):
    for at in pairs:
        one, two = np.nanmedian(values[at]), np.nanmedian(values[at + 1])
        for turned, (latitude, longitude) in enumerate(((one, two), (two, one))):
            near = abs(latitude - frame.latitude_deg) < 0.5
            if near and abs((longitude - frame.longitude_deg + 180) % 360 - 180) < 0.5:
                return at, bool(turned)
    return None


def _laid_out(at: int, is_turned: bool, numeric, filled, pair, why: str) -> _Columns:
    """A name before the coordinates, a height and words behind them."""
    told = _Columns()
    first, second = pair[::-1] if is_turned else pair
    told.at[first], told.at[second] = at, at + 1
    if at > 0:
        told.at["point"] = 0
    behind = [i for i in range(at + 2, len(filled)) if filled[i]]
    height = next((i for i in behind if numeric[i]), None)
    if height is not None:
        told.at["elevation"] = height
    words = next((i for i in behind if i != height and not numeric[i]), None)
    if words is not None:
        told.at["description"] = words
    names = ", ".join(p for p, _ in sorted(told.at.items(), key=lambda item: item[1]))
    told.said = f"It has no headings: columns were taken as {names}{', ' if why else ''}{why}."
    return told
