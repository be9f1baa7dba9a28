"""Round the plan of a sheet: the frame with grid ticks and their coordinates, neighbours, north, scale, key map."""

from __future__ import annotations

import numpy as np
import shapely

from .pdf_ground import box, draw_north_and_scale
from .pdf_labels import Labels
from .pdf_pen import Pen
from .plansheet import PlanSheet, SheetMeasure, SheetTile

TICK_MM = 1.8
CROSS_MM = 2.5
"""Half the length of a cross. [mm]"""
BAND_MM = 5.0
"""Of coordinates and neighbours outside the frame, on every side. [mm]"""
STRIP_MM = 12.0
"""Of north, scale bar and scale under it. [mm]"""
_PT = 6.5
_MIDDLE_MM = 15.0
"""Kept free of coordinates about the middle of a side where a neighbour is named. [mm]"""
_WORDS_HALF_MM = 9.0
"""Half of what a coordinate takes along the frame, about. [mm]"""
_THIN = "\u202f"


def draw_crosses(pen: Pen, at_mm: np.ndarray, axes: np.ndarray) -> None:
    """Crosses at round eastings and northings, turned as the grid is."""
    if not len(at_mm):
        return
    steps = axes * (1, -1) * CROSS_MM
    arms = [np.stack([at_mm - step, at_mm + step], axis=1) for step in steps]
    pen.lines(np.concatenate(arms), "soft", 0.15)


def draw_frame(pen: Pen, sheet: PlanSheet, tile: SheetTile, measure: SheetMeasure) -> None:
    """The frame itself, ticks and coordinates along it, and what lies beyond."""
    x, y, wide, high = sheet.frame
    pen.area(box(x, y, wide, high), None, "ink", 0.3)
    _draw_ticks(pen, sheet, tile, measure)
    _draw_neighbours(pen, sheet, tile)
    top = y + high + BAND_MM - 1.5
    after = draw_north_and_scale(pen, x, top, measure.bar_label, measure.bar_mm, measure.words)
    said = f"True to scale where {sheet.paper} is printed at its full size: measure the bar."
    room = x + wide - after - 5
    lines = pen.broken(said, "sans", 7, max(room, 20))
    pen.text_lines(after + 5, top + 8.5 - 1.6 * (len(lines) - 1), lines, "sans", 7, 3.2, "soft")


def _draw_ticks(pen: Pen, sheet: PlanSheet, tile: SheetTile, measure: SheetMeasure) -> None:
    x, y, wide, high = sheet.frame
    middle = np.array([x + wide / 2, y + high / 2])
    at = middle + (tile.ticks.xy_m - tile.centre_m) * (1, -1) * 1000 / measure.ratio
    inward = {"top": (0, 1), "right": (-1, 0), "foot": (0, -1), "left": (1, 0)}
    steps = np.array([inward[side] for side in tile.ticks.side]).reshape(-1, 2)
    pen.lines(np.stack([at, at + TICK_MM * steps], axis=1), "ink", 0.25)
    for (px, py), side, value, is_northing in zip(
        at.tolist(), tile.ticks.side, tile.ticks.value.tolist(), tile.ticks.northing.tolist(), strict=True
    ):  # fmt: skip
        along, length, begin = (py, high, y) if is_northing else (px, wide, x)
        if along - begin < _WORDS_HALF_MM or begin + length - along < _WORDS_HALF_MM:
            continue
        if side in tile.neighbours and abs(along - begin - length / 2) < _MIDDLE_MM:
            continue
        words = f"{'N' if is_northing else 'E'} {value:,.0f}".replace(",", _THIN)
        if value != round(value):
            words = f"{'N' if is_northing else 'E'} {value:,.2f}".replace(",", _THIN)
        if side == "top":
            pen.text(px, y - 1.2, words, "sans", _PT, "centre", "soft")
        elif side == "foot":
            pen.text(px, y + high + 2.8, words, "sans", _PT, "centre", "soft")
        else:
            px = x - 1.9 if side == "left" else x + wide + 1.9
            pen.text_turned(px, py, words, "sans", _PT, 90, "soft")


def _draw_neighbours(pen: Pen, sheet: PlanSheet, tile: SheetTile) -> None:
    """Numbers of the sheets that go on beyond each side, with a head that points there."""
    x, y, wide, high = sheet.frame
    half = wide / 2, high / 2
    places = {
        "top": ((x + half[0], y - 2.0), 0),
        "foot": ((x + half[0], y + high + 2.0), 0),
        "left": ((x - 2.0, y + half[1]), 90),
        "right": ((x + wide + 2.0, y + half[1]), 90),
    }
    for side, number in tile.neighbours.items():
        (px, py), turn = places[side]
        words = f"sheet {number}"
        pen.text_turned(px, py, words, "sans strong", 7.5, turn)
        away = pen.width_of_mm(words, "sans strong", 7.5) / 2 + 2.2
        for sign in (-1, 1):
            place = (px + sign * away, py) if turn == 0 else (px, py + sign * away)
            pen.area([_head(place, side)], "ink")


def _head(place, side: str):
    """A small triangle that points out of a side."""
    x, y = place
    point = {"top": (0, -1), "foot": (0, 1), "left": (-1, 0), "right": (1, 0)}[side]
    ux, uy = point
    return [
        (x + 1.1 * ux, y + 1.1 * uy),
        (x - 0.8 * ux + 0.9 * uy, y - 0.8 * uy + 0.9 * ux),
        (x - 0.8 * ux - 0.9 * uy, y - 0.8 * uy - 0.9 * ux),
    ]


def draw_index_tiles(pen: Pen, sheet: PlanSheet, mm, labels: Labels) -> None:
    """Outlines of all sheets on the index map with their numbers, whose places are kept free of names.

    `mm` places the site frame on the page.
    """
    pen.clipped(*sheet.frame)
    for tile in sheet.tiles:
        corners = mm(_corners(tile))
        pen.area([corners], None, "accent", 0.3, dash=(2.4, 1.2))
    for tile in sheet.tiles:
        x, y = mm(np.array([tile.centre_m]))[0].tolist()
        text = f"{tile.number}"
        half = pen.width_of_mm(text, "sans strong", 12) / 2 + 1.6
        labels.take(x, y, half, 3.0)
        pen.area(box(x - half, y - 3.0, 2 * half, 6.0), "white", "accent", 0.3)
        pen.text(x, y + 1.6, text, "sans strong", 12, "centre", "accent")
    pen.free()


def _corners(tile: SheetTile) -> np.ndarray:
    x0, y0, x1, y1 = tile.bounds_m
    return np.array([(x0, y0), (x1, y0), (x1, y1), (x0, y1)])


def key_map_mm(sheet: PlanSheet, wide: float, most_high: float) -> float:
    """How high the key map is at a width. [mm]"""
    x0, y0, x1, y1 = _key_bounds(sheet)
    return min(most_high, wide * (y1 - y0) / max(x1 - x0, 1e-9))


def _key_bounds(sheet: PlanSheet):
    bounds = np.array([tile.bounds_m for tile in sheet.tiles])
    return (*bounds[:, :2].min(axis=0).tolist(), *bounds[:, 2:].max(axis=0).tolist())


def draw_key_map(pen: Pen, sheet: PlanSheet, tile: SheetTile, x, y, wide, high) -> None:
    """Where a sheet lies among the others, small: outlines of blocks, sheets, this one filled."""
    x0, y0, x1, y1 = _key_bounds(sheet)
    scale = min(wide / (x1 - x0), high / (y1 - y0))

    def mm(xy_m):
        return (np.asarray(xy_m) - (x0, y1)) * (scale, -scale) + (x, y)

    for plan in sheet.plans:
        tolerance = 0.2 / scale
        outline = shapely.simplify(plan.block.outline, tolerance)
        rings = [mm(shapely.get_coordinates(r)) for r in shapely.get_rings(outline)]
        pen.area(rings, "exclusion", "soft", 0.08)
    for other in sheet.tiles:
        pen.area([mm(_corners(other))], None, "hairline", 0.15)
    pen.area([mm(_corners(tile))], None, "accent", 0.35)
    for other in sheet.tiles:
        px, py = mm(np.array([other.centre_m]))[0].tolist()
        face = "sans strong" if other is tile else "sans"
        pen.text(px, py + 0.9, f"{other.number}", face, 6.5, "centre", "ink")
