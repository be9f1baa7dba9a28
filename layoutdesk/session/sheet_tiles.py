"""How a plan to a true scale is parted into sheets of a paper, and scales as people ask for them."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import numpy as np
import shapely

from ..core.model import InputProblem
from ..formats.pdf_pen import MARGIN_MM
from ..formats.plan_sheet_frame import BAND_MM, STRIP_MM
from .sheet import Box, Paper, SheetScale, fitting_scale
from .units import unit_length_m

SHEETS_AT_MOST = 24
"""Of a plan whose scale nobody asked for; a smaller scale is taken where it would need more."""
ASKED_AT_MOST = 200
"""Of a plan whose scale was asked for."""
OVERLAP_MM = 15.0
"""That neighbouring sheets show alike. [mm]"""
INSET_MM = 11.0
"""Kept round the outlines, for row numbers. [mm]"""
_USUAL = {"m": 500.0, "ft": 40.0}
"""Usual scale: 1 to so many, or feet an inch."""
_LARGEST = {"m": 200.0, "ft": 20.0}
_ALONE = {"m": 1000.0, "ft": 100.0}
"""One sheet is taken rather than several up to this scale, where vines are far enough apart on it."""
_READABLE_MM = 1.2
"""From vine to vine on that sheet, at least. [mm]"""
_GUTTER_MM, _COLUMN_MM = 6.0, (62.0, 88.0)
_COLUMN_SHARE = 0.21
_INCH_M = 0.0254
_WHOLE = ("fit", "one sheet", "whole site")


def sheet_boxes(paper: Paper) -> tuple[Box, Box]:
    """Where the plan's frame and the words beside it lie on a paper that lies."""
    wide = paper.width_mm - 2 * MARGIN_MM
    high = paper.height_mm - 2 * MARGIN_MM
    column = min(max(_COLUMN_SHARE * paper.width_mm, _COLUMN_MM[0]), _COLUMN_MM[1])
    frame = Box(
        MARGIN_MM + BAND_MM,
        MARGIN_MM + BAND_MM,
        wide - column - _GUTTER_MM - 2 * BAND_MM,
        high - 2 * BAND_MM - STRIP_MM,
    )
    return frame, Box(paper.width_mm - MARGIN_MM - column, MARGIN_MM, column, high)


def exact_scale(ratio: float, unit: str = "m") -> SheetScale:
    """A scale 1 : `ratio` in words, round or not.

    Examples
    --------
    >>> exact_scale(500).words, exact_scale(480, "ft").words
    ('1 : 500', '1 in = 40 ft (1 : 480)')
    """
    if unit == "m":
        return SheetScale(ratio, f"1 : {ratio:.10g}")
    feet = ratio * _INCH_M / unit_length_m(unit)
    label = "US ft" if unit == "usft" else "ft"
    return SheetScale(ratio, f"1 in = {feet:.4g} {label} (1 : {ratio:.0f})")


_TO_ONE = re.compile(r"^\s*1\s*[:/]\s*([\d\s.,\u202f\u00a0]+)$")
_FEET = re.compile(
    r"^\s*1?\s*(?:in|inch|\"|″|”|'')\s*(?:=|:|to)\s*([\d.,]+)\s*(?:us\s*)?(?:ft|feet|foot|'|′|’)?\s*$",
    re.IGNORECASE,
)
_FEET_AN_INCH = re.compile(r"^\s*([\d.,]+)\s*(?:us\s*)?(?:ft|feet|')\s*(?:/|an|per|to the)\s*(?:in|inch|\")\s*$", re.IGNORECASE)  # fmt: skip


def typed_scale(text: str, unit: str = "m") -> SheetScale | None:
    """A scale as people ask for it; None for the one at which the whole site fits on a sheet ("fit").

    Raises
    ------
    InputProblem
        Where it is none, or from 1 : 50 to 1 : 50 000 it is not.

    Examples
    --------
    >>> typed_scale("1:750").ratio, typed_scale('1"=50\\'', "ft").ratio, typed_scale("fit")
    (750.0, 600.0, None)
    """
    bare = text.strip()
    if bare.casefold() in _WHOLE:
        return None
    problem = InputProblem(
        f"{bare!r} is no scale of a plan: write it like 1:500 or 1 in = 50 ft, from 1:50 to 1:50000, or fit."
    )
    try:
        found = _TO_ONE.match(bare) or re.match(r"^([\d\s]+)$", bare)
        if found:
            ratio = float(re.sub(r"[\s,\u202f\u00a0]", "", found[1]))
        else:
            feet = _FEET.match(bare) or _FEET_AN_INCH.match(bare)
            if not feet:
                raise problem
            foot = unit if unit in ("ft", "usft") else "ft"
            ratio = float(feet[1].replace(",", ".")) * unit_length_m(foot) / _INCH_M
    except ValueError:
        raise problem from None
    if not 50 * (1 - 1e-9) <= ratio <= 50_000 * (1 + 1e-9):
        raise problem
    return exact_scale(ratio, unit)


@dataclass(frozen=True)
class TileGrid:
    """Sheets of one scale over a site.

    Attributes
    ----------
    scale : SheetScale
    bounds : tuple of (x0, y0, x1, y1)
        Of the sheets that show something, row by row from the north, west before east. [m]
    cells : tuple of (row, column)
        Of each of them.
    said : str
        Why that scale; empty where it was asked for.
    """

    scale: SheetScale
    bounds: tuple[tuple[float, float, float, float], ...]
    cells: tuple[tuple[int, int], ...]
    said: str = ""

    def neighbours(self, at: int) -> dict[str, int]:
        """Numbers, from 1, of the sheets beyond the sides of one."""
        number = {cell: k for k, cell in enumerate(self.cells, 1)}
        row, column = self.cells[at]
        beyond = {"top": (-1, 0), "right": (0, 1), "foot": (1, 0), "left": (0, -1)}
        found = {side: number.get((row + r, column + c)) for side, (r, c) in beyond.items()}
        return {side: k for side, k in found.items() if k is not None}


def tile_grid(
    shapes,
    frame: Box,
    unit: str = "m",
    scale: SheetScale | None = None,
    *,
    whole: bool = False,
    closest_m: float = 1.0,
) -> TileGrid:
    """Sheets that show all shapes.

    Where no scale is asked for, one sheet is taken at the largest round scale at which the site fits, from 1 : 200
    to 1 : 1000 (1 in to 20 to 100 ft), while vines are 1.2 mm apart at least; else 1 : 500 (1 in to 40 ft) on
    several sheets, or a smaller scale where more than SHEETS_AT_MOST would be needed.

    Parameters
    ----------
    shapes : sequence of shapely geometry
        What has to be shown. [m]
    frame : Box
        Of the plan on the paper.
    unit : str
        "m" for 1 : N, "ft" or "usft" for feet an inch.
    scale : SheetScale, optional
        Asked for.
    whole : bool
        The scale at which all of it fits on one sheet.
    closest_m : float
        From vine to vine. [m]

    Raises
    ------
    InputProblem
        Where the scale that was asked for needs more than ASKED_AT_MOST sheets.
    """
    bounds = tuple(shapely.total_bounds(shapes).tolist())
    room = Box(0, 0, frame.width_mm - 2 * INSET_MM, frame.height_mm - 2 * INSET_MM)
    fit = fitting_scale(bounds[2] - bounds[0], bounds[3] - bounds[1], room, unit)
    if scale is not None:
        _hold(bounds, frame, scale)
        grid = _tiles(shapes, bounds, frame, scale)
        if len(grid.bounds) > ASKED_AT_MOST:
            raise _too_many(scale)
        return grid
    if whole:
        return _tiles(shapes, bounds, frame, fit)
    usual, largest, alone = (_ratio(of, unit) for of in (_USUAL, _LARGEST, _ALONE))
    readable = fit.on_paper_mm(closest_m) >= _READABLE_MM and fit.ratio <= alone * (1 + 1e-9)
    if fit.ratio <= usual * (1 + 1e-9) or readable:
        shown = fit if fit.ratio >= largest else exact_scale(largest, unit)
        said = (
            "The largest round scale at which the site fits on this sheet." if shown is fit else ""
        )
        return TileGrid(shown, *_cells(shapes, bounds, frame, shown), said)
    chosen = exact_scale(usual, unit)
    while True:
        if _count(bounds, frame, chosen) <= 20 * SHEETS_AT_MOST:
            grid = _tiles(shapes, bounds, frame, chosen)
            if len(grid.bounds) <= SHEETS_AT_MOST:
                break
        chosen = next_scale(chosen, unit)
    said = ""
    if chosen.ratio > usual * (1 + 1e-9):
        said = (
            f"At {exact_scale(usual, unit).words} it would take more than {SHEETS_AT_MOST} sheets."
        )
    return TileGrid(grid.scale, grid.bounds, grid.cells, said)


def next_scale(scale: SheetScale, unit: str = "m") -> SheetScale:
    """The next smaller round scale.

    Examples
    --------
    >>> next_scale(exact_scale(500)).words, next_scale(exact_scale(480, "ft"), "ft").words
    ('1 : 750', '1 in = 50 ft (1 : 600)')
    """
    return fitting_scale(scale.ratio * 1.001, 0.0, Box(0, 0, 1000, 1000), unit)


def _ratio(of: dict[str, float], unit: str) -> float:
    return of["m"] if unit == "m" else of["ft"] * unit_length_m(unit) / _INCH_M


def _steps_m(frame: Box, scale: SheetScale) -> tuple[float, float]:
    return tuple(
        float(scale.on_ground_m(side - OVERLAP_MM)) for side in (frame.width_mm, frame.height_mm)
    )


def _grid_size(bounds, frame: Box, scale: SheetScale) -> tuple[int, int]:
    """Columns and rows of sheets."""
    need = scale.on_ground_m(2 * INSET_MM - OVERLAP_MM)
    steps = _steps_m(frame, scale)
    spans = bounds[2] - bounds[0], bounds[3] - bounds[1]
    return tuple(
        max(1, math.ceil((span + need) / step - 1e-9))
        for span, step in zip(spans, steps, strict=True)
    )


def _count(bounds, frame: Box, scale: SheetScale) -> int:
    columns, rows = _grid_size(bounds, frame, scale)
    return columns * rows


def _hold(bounds, frame: Box, scale: SheetScale) -> None:
    if _count(bounds, frame, scale) > 50 * ASKED_AT_MOST:
        raise _too_many(scale)


def _too_many(scale: SheetScale) -> InputProblem:
    return InputProblem(
        f"The plan at {scale.words} needs more than {ASKED_AT_MOST} sheets: ask for a smaller scale or larger paper."
    )


def _tiles(shapes, bounds, frame: Box, scale: SheetScale) -> TileGrid:
    return TileGrid(scale, *_cells(shapes, bounds, frame, scale))


def _cells(shapes, bounds, frame: Box, scale: SheetScale):
    """Bounds and cells of the sheets that show something."""
    columns, rows = _grid_size(bounds, frame, scale)
    step_x, step_y = _steps_m(frame, scale)
    wide, high = (float(scale.on_ground_m(side)) for side in (frame.width_mm, frame.height_mm))
    x, y = (bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2
    left = x - ((columns - 1) * step_x + wide) / 2
    top = y + ((rows - 1) * step_y + high) / 2
    tree = shapely.STRtree(shapes)
    inset = float(scale.on_ground_m(OVERLAP_MM / 2))
    found, cells = [], []
    for r in range(rows):
        for c in range(columns):
            x0, y1 = left + c * step_x, top - r * step_y
            box = (x0, y1 - high, x0 + wide, y1)
            # What lies in the overlap alone is shown by the neighbour.
            inner = shapely.box(box[0] + inset, box[1] + inset, box[2] - inset, box[3] - inset)
            if len(tree.query(inner, predicate="intersects")):
                found.append(box)
                cells.append((r, c))
    return tuple(found), tuple(cells)


def centred(bounds, frame: Box, scale: SheetScale) -> tuple[float, float, float, float]:
    """What a frame shows at a scale, with the middle of a site in its middle. [m]"""
    x, y = (bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2
    half = np.array([frame.width_mm, frame.height_mm]) * scale.ratio / 2000
    return float(x - half[0]), float(y - half[1]), float(x + half[0]), float(y + half[1])
