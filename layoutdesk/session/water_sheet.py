"""How the plans of an irrigation sheet lie on paper: the whole site, then single blocks where that helps."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.water.design import WaterDesign
from ..formats.pdf_pen import MARGIN_MM
from ..formats.water_pdf import HEAD_MM
from ..formats.water_pdf_legend import LEGEND_MM
from ..formats.water_pdf_plan import PlanPage
from .sheet import Box, Paper, SheetScale, fitting_scale, paper_named, sheet_bar

_INSET_MM = 7.0
"""Kept round what is drawn inside the frame, for valves and words. [mm]"""
_FOOT_MM = 6.0
_MUCH_LARGER = 1.6
"""The larger paper is taken where it shows the site so many times as large."""
_CLOSEST_ROWS_MM = 0.6
"""Drip lines nearer than this run together in print."""
_READABLE_MM = 1.0
"""Blocks have plans of their own where rows of the whole site's are nearer than this."""
_BLOCKS_AT_MOST = 24
_ONE_IN = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


def plan_pages(plans, design: WaterDesign, unit: str = "m") -> tuple[PlanPage, ...]:
    """The whole site, and every block by itself where the whole shows rows too close to be read.

    Parameters
    ----------
    plans : sequence of RowPlan
    design : WaterDesign
    unit : str
        "m" for scales 1 : N on A4 or A3; "ft" or "usft" for feet an inch on Letter or Tabloid.
    """
    if not plans:
        return ()
    everything = tuple(range(len(plans)))
    pipes = [r.xy_m for s in design.sets for r in (s.main, *s.branches)]
    places = np.vstack([np.array([design.source_xy_m]), *pipes])
    outlines = [p.block.outline for p in plans]
    bounds = _around([*outlines, shapely.multipoints(places)])
    whole = _page("Plan of the whole site", bounds, everything, plans, unit)
    if len(plans) == 1 or whole.spacing_mm >= _READABLE_MM:
        return (whole,)
    pages = [whole]
    for b in everything[:_BLOCKS_AT_MOST]:
        own = [r.xy_m for s in design.sets if s.block == b for r in s.branches]
        points = [shapely.multipoints(np.vstack(own))] if own else []
        bounds = _around([outlines[b], *points])
        pages.append(_page(f"Plan of block {plans[b].block.name}", bounds, (b,), plans, unit))
    return tuple(pages)


def _around(shapes) -> tuple[float, float, float, float]:
    return tuple(shapely.total_bounds(shapes).tolist())


def _page(title: str, bounds, blocks, plans, unit: str) -> PlanPage:
    small, large = ("A4", "A3") if unit == "m" else ("Letter", "Tabloid")
    best, other = (_lying(name, bounds, unit) for name in (small, large))
    if best[1].ratio >= _MUCH_LARGER * other[1].ratio * (1 - 1e-9):
        best = other
    paper, scale = best
    x0, y0, x1, y1 = bounds
    frame = _frame(paper)
    spacing = min(plans[b].rules.row_spacing_m for b in blocks)
    bar = sheet_bar(scale, unit, 50.0)
    on_paper = float(scale.on_paper_mm(spacing))
    return PlanPage(
        title,
        paper.name,
        paper.width_mm,
        paper.height_mm,
        (frame.x_mm, frame.y_mm, frame.width_mm, frame.height_mm),
        scale.ratio,
        scale.words,
        bar.label,
        bar.length_mm,
        ((x0 + x1) / 2, (y0 + y1) / 2),
        tuple(blocks),
        next((k for k in _ONE_IN if k * on_paper >= _CLOSEST_ROWS_MM), _ONE_IN[-1]),
        on_paper,
    )


def _frame(paper: Paper) -> Box:
    """Where the plan lies: under the head, over legend and foot."""
    top = MARGIN_MM + HEAD_MM
    high = paper.height_mm - MARGIN_MM - _FOOT_MM - LEGEND_MM - top
    return Box(MARGIN_MM, top, paper.width_mm - 2 * MARGIN_MM, high)


def _lying(name: str, bounds, unit: str) -> tuple[Paper, SheetScale]:
    """A paper turned the way that shows the bounds larger."""
    x0, y0, x1, y1 = bounds
    ways = []
    for landscape in (True, False):
        paper = paper_named(name, landscape)
        frame = _frame(paper)
        room = Box(0, 0, frame.width_mm - 2 * _INSET_MM, frame.height_mm - 2 * _INSET_MM)
        ways.append((paper, fitting_scale(x1 - x0, y1 - y0, room, unit)))
    return min(ways, key=lambda way: way[1].ratio)
