"""How the plans of a comparison lie on paper: which are drawn, in what tiles, at one round scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..formats.compare_pdf import HEAD_MM, ComparePaper, Window
from ..formats.compare_pdf_plans import TILE_HEAD_MM, strip_high_mm
from ..formats.compareset import CompareSet
from .sheet import MARGIN_MM, Box, Paper, SheetScale, fitting_scale, paper_named, sheet_bar

MOST_PLANS = 8
"""More would be too small to be read side by side."""
_OF_MANY = 6
_GAP_MM = 4.0
_INSET_MM = 1.5
_LARGE_FROM = 5
"""Plans from which the larger paper is taken."""
_MUCH_LARGER = 1.6
"""The larger paper is also taken where it shows them so many times as large."""
_APART = 0.2
"""Groups of blocks are drawn nearer together where they take less than this of all the ground."""
_CLOSEST_ROWS_MM = 0.9
"""Rows nearer than this run together in print and on a screen."""
_ONE_IN = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


@dataclass(frozen=True)
class _Ground:
    """Bounds of blocks that are drawn together, x0, y0, x1, y1, and which they are. [m]"""

    bounds_m: tuple[float, float, float, float]
    blocks: tuple[int, ...]

    @property
    def wide_m(self) -> float:
        return self.bounds_m[2] - self.bounds_m[0]

    @property
    def high_m(self) -> float:
        return self.bounds_m[3] - self.bounds_m[1]

    @property
    def centre_m(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.bounds_m
        return (x0 + x1) / 2, (y0 + y1) / 2


@dataclass(frozen=True)
class _Lying:
    """One way the plans may lie on a paper, with windows in so many columns."""

    paper: Paper
    scale: SheetScale
    empty: int
    tiles: tuple[tuple[float, float, float, float], ...]
    strip: tuple[float, float, float, float]
    windows_across: int


def compare_paper(compare: CompareSet, unit: str = "m", name: str = "") -> ComparePaper:
    """The sheet, lying or upright, with the plans in as many rows as show them largest.

    Parameters
    ----------
    compare : CompareSet
    unit : str
        "m" for a scale of 1 : N; "ft" or "usft" for feet an inch, on paper in inches.
    name : str
        Of the paper. Where it is left out: A4 or Letter, and A3 or Tabloid for more than four plans
        or where the small one shows them far smaller.
    """
    shown = shown_candidates(compare)
    blocks = compare.study.blocks_of(compare.project.blocks)
    grounds = grouped_ground([b.outline for b in blocks])
    small, large = ("A4", "A3") if unit == "m" else ("Letter", "Tabloid")
    if name:
        best = _best_lying(name, len(shown), grounds, unit)
    else:
        best, other = (_best_lying(n, len(shown), grounds, unit) for n in (small, large))
        many = len(shown) >= _LARGE_FROM
        if many or best.scale.ratio >= _MUCH_LARGER * other.scale.ratio * (1 - 1e-9):
            best = other
    spacing = min((p.rules.row_spacing_m for i in shown for p in compare.plans[i]), default=0.0)
    bar = sheet_bar(best.scale, unit, 50.0)
    return ComparePaper(
        best.paper.name,
        best.paper.width_mm,
        best.paper.height_mm,
        shown,
        best.tiles,
        best.scale.ratio,
        best.scale.words,
        _windows(grounds, best),
        bar.label,
        bar.length_mm,
        best.strip,
        _one_in(best.scale.on_paper_mm(spacing)),
    )


def _one_in(spacing_mm: float) -> int:
    """Of how many rows one is drawn, so that those drawn stand apart."""
    if not spacing_mm:
        return 1
    return next((k for k in _ONE_IN if k * spacing_mm >= _CLOSEST_ROWS_MM), _ONE_IN[-1])


def _best_lying(name: str, count: int, grounds, unit: str) -> _Lying:
    ways = [
        _lying(paper_named(name, landscape), count, columns, grounds, unit)
        for landscape in (True, False)
        for columns in range(1, count + 1)
    ]
    return min(ways, key=lambda w: (w.scale.ratio, not w.paper.landscape, w.empty))


def _lying(paper: Paper, count: int, columns: int, grounds, unit: str) -> _Lying:
    """Plans in rows of so many, each under its head; the strip in a free place where there is one."""
    rows, empty = -(-count // columns), -count % columns
    left, top = MARGIN_MM, MARGIN_MM + HEAD_MM
    whole_wide = paper.width_mm - 2 * MARGIN_MM
    wide = (whole_wide - (columns - 1) * _GAP_MM) / columns
    free_wide = empty * (wide + _GAP_MM) - _GAP_MM
    in_free_place = free_wide >= _STRIP_FITS_MM
    strip_high = 0.0 if in_free_place else strip_high_mm(whole_wide)
    high = (paper.height_mm - MARGIN_MM - strip_high - top - (rows - 1) * _GAP_MM) / rows
    tiles = tuple(
        (
            left + (i % columns) * (wide + _GAP_MM),
            top + (i // columns) * (high + _GAP_MM) + TILE_HEAD_MM,
            wide,
            high - TILE_HEAD_MM,
        )
        for i in range(count)
    )
    if in_free_place:
        x = left + (columns - empty) * (wide + _GAP_MM)
        strip = (x, tiles[-1][1], free_wide, high - TILE_HEAD_MM)
    else:
        strip = (left, paper.height_mm - MARGIN_MM - strip_high, whole_wide, strip_high)
    room = (wide, high - TILE_HEAD_MM)
    scale, folded = min(
        ((_scale_of(grounds, n, *room, unit), n) for n in range(1, len(grounds) + 1)),
        key=lambda found: found[0].ratio,
    )
    return _Lying(paper, scale, empty, tiles, strip, folded)


_STRIP_FITS_MM = 120.0
"""North arrow, scale bar and scale need so much beside one another."""


def _cells(grounds, columns: int) -> tuple[np.ndarray, np.ndarray]:
    """Widths of columns and heights of rows of windows. [m]"""
    rows = -(-len(grounds) // columns)
    wide, high = np.zeros(columns), np.zeros(rows)
    for i, ground in enumerate(grounds):
        row, column = divmod(i, columns)
        wide[column] = max(wide[column], ground.wide_m)
        high[row] = max(high[row], ground.high_m)
    return wide, high


def _scale_of(grounds, columns: int, wide_mm: float, high_mm: float, unit: str) -> SheetScale:
    wide, high = _cells(grounds, columns)
    room = Box(
        0,
        0,
        max(wide_mm - 2 * _INSET_MM * len(wide), 0.1),
        max(high_mm - 2 * _INSET_MM * len(high), 0.1),
    )
    return fitting_scale(float(wide.sum()), float(high.sum()), room, unit)


def _windows(grounds, lying: _Lying) -> tuple[Window, ...]:
    """Where each piece of ground stands in a plan; what is left over is shared out."""
    _, _, wide_mm, high_mm = lying.tiles[0]
    columns = lying.windows_across
    wide, high = (lying.scale.on_paper_mm(x) for x in _cells(grounds, columns))
    wide = wide + (wide_mm - wide.sum()) / len(wide)
    high = high + (high_mm - high.sum()) / len(high)
    x, y = np.cumsum(wide) - wide, np.cumsum(high) - high
    found = []
    for i, ground in enumerate(grounds):
        row, column = divmod(i, columns)
        place = (x[column], y[row], wide[column], high[row])
        found.append(Window(*map(float, place), ground.centre_m, ground.blocks))
    return tuple(found)


def grouped_ground(outlines) -> tuple[_Ground, ...]:
    """All the ground as one, or groups of near blocks where most of it would be empty.

    Groups stand from north to south, then from west to east.
    """
    bounds = shapely.bounds(np.asarray(outlines, dtype=object))
    whole = _Ground(_around(bounds), tuple(range(len(bounds))))
    near = float(np.median(np.hypot(*(bounds[:, 2:] - bounds[:, :2]).T))) / 2
    joined = shapely.union_all(
        shapely.box(
            bounds[:, 0] - near / 2,
            bounds[:, 1] - near / 2,
            bounds[:, 2] + near / 2,
            bounds[:, 3] + near / 2,
        )
    )
    middles = shapely.points((bounds[:, :2] + bounds[:, 2:]) / 2)
    groups = []
    for part in shapely.get_parts(joined):
        mine = np.flatnonzero(shapely.intersects(part, middles))
        groups.append(_Ground(_around(bounds[mine]), tuple(mine.tolist())))
    taken = sum(g.wide_m * g.high_m for g in groups)
    if len(groups) < 2 or taken > _APART * whole.wide_m * whole.high_m:
        return (whole,)
    return tuple(sorted(groups, key=lambda g: (-g.centre_m[1], g.centre_m[0])))


def _around(bounds) -> tuple[float, float, float, float]:
    low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    return tuple(np.concatenate([low, high]).tolist())


def shown_candidates(compare: CompareSet) -> tuple[int, ...]:
    """Candidates that are drawn: all of a few; of many the base and the best by what was chosen."""
    if len(compare) <= MOST_PLANS:
        return tuple(range(len(compare)))
    picked = [compare.study.base]
    for name in dict.fromkeys(("vines", *compare.study.chosen, *compare.best)):
        best = np.flatnonzero(compare.best.get(name, ()))
        if len(best) and not set(best.tolist()) & set(picked):
            picked.append(int(best[0]))
        if len(picked) == _OF_MANY:
            break
    return tuple(sorted(picked))
