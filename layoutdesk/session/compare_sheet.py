"""How the plans of a comparison lie on paper: which are drawn, in what tiles, at one round scale."""

from __future__ import annotations

import numpy as np
import shapely

from ..formats.compare_pdf import HEAD_MM, ComparePaper
from ..formats.compare_pdf_plans import STRIP_MM, TILE_HEAD_MM
from ..formats.compareset import CompareSet
from .sheet import MARGIN_MM, Box, fitting_scale, paper_named, sheet_bar

MOST_PLANS = 8
"""More would be too small to be read side by side."""
_OF_MANY = 6
_GAP_MM = 5.0
_INSET_MM = 2.5
_LARGE_FROM = 5
"""Plans from which the larger paper is taken."""


def compare_paper(compare: CompareSet, unit: str = "m", name: str = "") -> ComparePaper:
    """A lying sheet with the plans in as many rows as show them largest.

    Parameters
    ----------
    compare : CompareSet
    unit : str
        "m" for a scale of 1 : N; "ft" or "usft" for feet an inch.
    name : str
        Of the paper; A4, or A3 for more than four plans, where it is left out.
    """
    shown = shown_candidates(compare)
    paper = paper_named(name or ("A3" if len(shown) >= _LARGE_FROM else "A4"))
    blocks = compare.study.blocks_of(compare.project.blocks)
    x0, y0, x1, y1 = shapely.total_bounds([b.outline for b in blocks]).tolist()
    options = []
    for columns in range(1, len(shown) + 1):
        tiles = _tiles(paper, len(shown), columns)
        _, _, wide, high = tiles[0]
        room = Box(0, 0, wide - 2 * _INSET_MM, high - 2 * _INSET_MM)
        empty = -len(shown) % columns
        options.append((fitting_scale(x1 - x0, y1 - y0, room, unit), empty, tiles))
    scale, _, tiles = min(options, key=lambda o: (o[0].ratio, o[1]))
    bar = sheet_bar(scale, unit, 60.0)
    return ComparePaper(
        paper.name,
        paper.width_mm,
        paper.height_mm,
        shown,
        tiles,
        scale.ratio,
        scale.words,
        ((x0 + x1) / 2, (y0 + y1) / 2),
        bar.label,
        bar.length_mm,
    )


def _tiles(paper, count: int, columns: int) -> tuple[tuple[float, float, float, float], ...]:
    """Plans in rows of so many, each under its head. [mm]"""
    rows = -(-count // columns)
    top = MARGIN_MM + HEAD_MM
    wide = (paper.width_mm - 2 * MARGIN_MM - (columns - 1) * _GAP_MM) / columns
    high = (paper.height_mm - MARGIN_MM - STRIP_MM - top - (rows - 1) * _GAP_MM) / rows
    return tuple(
        (
            MARGIN_MM + (i % columns) * (wide + _GAP_MM),
            top + (i // columns) * (high + _GAP_MM) + TILE_HEAD_MM,
            wide,
            high - TILE_HEAD_MM,
        )
        for i in range(count)
    )


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
