"""The small plan of the hand-off sheet: blocks, rows with their numbers, check lines, control points, both norths."""

from __future__ import annotations

import math

import numpy as np
import shapely

from .handoffsheet import CheckPlan, HandOffSheet
from .pdf_ground import PlanGround, box, draw_label, draw_north_and_scale, name_place
from .pdf_pen import Pen
from .row_numbers_pdf import HALF_MM, RowEnds, RowNumbers, one_in

LEGEND_MM = 26.0
_ROWS_FROM_MM = 0.45
"""Rows nearer than this run together in print and are left out, but for the first and last."""
_SHARES = (0.5, 0.36, 0.64, 0.25, 0.75, 0.15, 0.85)
"""Where along a check line its number may stand."""
_NAME = ("sans strong", 7.0)
_NAME_MOVES_MM = (0.0, 4.5, -4.5, 9.0, -9.0)
_NUMBER_PT, _CLEAR_MM, _LEAST_LETTERS = 7.0, 1.2, 3


def draw_check_plan(pen: Pen, sheet: HandOffSheet) -> None:
    """Draw it inside its frame, and the legend under it."""
    plan = sheet.plan
    ground = PlanGround(sheet.blocks, sheet.exclusions, (), plan.ratio, plan.centre_m, named=False)
    x, y, wide, high = plan.frame
    middle = np.array([x + wide / 2, y + high / 2])
    pen.clipped(x, y, wide, high)
    ground.draw_under(pen, middle)
    if plan.row_mm >= _ROWS_FROM_MM:
        pen.lines(ground.mm(plan.rows_m) + middle, "hairline", 0.15)
    checks = ground.mm(plan.checks_m) + middle
    pen.lines(checks, "accent", 0.3)
    ground.draw_over(pen, middle)
    numbers = RowNumbers(pen, plan.frame)
    taken: list = []
    labels = [_label_place(pen, ends, str(i), taken) for i, ends in enumerate(checks, 1)]
    names = _block_names(pen, sheet, ground, middle, taken)
    _draw_control(pen, plan, ground, middle, taken)
    for kept in taken:
        x0, y0, x1, y1 = kept.bounds
        numbers.keep((x0 + x1) / 2, (y0 + y1) / 2, (x1 - x0) / 2, (y1 - y0) / 2)
    numbers.say(_row_ends(plan, ground, middle))
    numbers.draw()
    for text, at in names:
        draw_label(pen, text, at, *_NAME, "ink")
    for i, at in enumerate(labels, 1):
        draw_label(pen, str(i), at, "sans strong", _NUMBER_PT, "accent")
    for at in np.unique(checks.reshape(-1, 2).round(3), axis=0).tolist():
        pen.dot(*at, 0.5, "accent")
    pen.free()
    pen.area(box(x, y, wide, high), None, "hairline", 0.25)
    _draw_legend(pen, plan)


def _block_names(pen: Pen, sheet: HandOffSheet, ground: PlanGround, middle, taken: list):
    """Names of blocks, cut to the width of their blocks, and places that are taken then.

    What would be cut to a few letters is left out: row ends have the name in their codes.
    """
    if len(sheet.blocks) < 2:
        return []
    found = []
    for block in sheet.blocks:
        x0, _, x1, _ = shapely.bounds(block.outline).tolist()
        room = 0.85 * (x1 - x0) * 1000.0 / sheet.plan.ratio
        text = block.name
        while len(text) > 1 and pen.width_of_mm(text, *_NAME) > room:
            text = f"{text.rstrip('…')[:-1]}…"
        if text != block.name and len(text) <= _LEAST_LETTERS:
            continue
        half = pen.width_of_mm(text, *_NAME) / 2 + 0.6
        at = ground.mm(name_place(block.outline)) + middle
        ways = [at + (0.0, down) for down in _NAME_MOVES_MM]
        rooms = [_around(way, half, 0.3 * _NAME[1]) for way in ways]
        free = [k for k, room in enumerate(rooms) if not any(room.intersects(t) for t in taken)]
        chosen = free[0] if free else 0
        found.append((text, ways[chosen]))
        taken.append(rooms[chosen])
    return found


def _around(at, half_wide: float, half_high: float):
    x, y = np.asarray(at).tolist()
    return shapely.box(x - half_wide, y - half_high, x + half_wide, y + half_high)


def _label_place(pen: Pen, ends, text: str, taken: list):
    """A place on a check line where its number stands over nothing else; it is taken then."""
    half = pen.width_of_mm(text, "sans strong", _NUMBER_PT) / 2 + 0.8
    ways = [ends[0] + share * (ends[1] - ends[0]) for share in _SHARES]
    rooms = [_around(at, half, 0.3 * _NUMBER_PT) for at in ways]
    free = [k for k, room in enumerate(rooms) if not any(room.intersects(t) for t in taken)]
    chosen = free[0] if free else 0
    taken.append(rooms[chosen])
    return ways[chosen]


def _row_ends(plan: CheckPlan, ground: PlanGround, middle) -> RowEnds:
    every = one_in(plan.row_mm)
    numbers = np.array(plan.numbers, dtype=int)
    some = np.flatnonzero(plan.rim | (numbers % every == 0))
    return RowEnds(
        ground.mm(plan.ends_m[some]) + middle,
        plan.out[some] * (1.0, -1.0),
        np.full(len(some), _CLEAR_MM),
        [str(n) for n in numbers[some].tolist()],
        plan.rim[some],
    )


def _draw_control(pen: Pen, plan: CheckPlan, ground: PlanGround, middle, taken: list) -> None:
    """A triangle and a name at every control point in sight."""
    x0, y0, wide, high = plan.frame
    for name, east, north in plan.control:
        x, y = (ground.mm(np.array([east, north])) + middle).tolist()
        if not (x0 < x < x0 + wide and y0 < y < y0 + high):
            continue
        _draw_triangle(pen, x, y)
        half = pen.width_of_mm(name, "sans", _NUMBER_PT) / 2 + 0.8
        beside = 1 if x + 2 * half + 3 < x0 + wide else -1
        at = np.array([x + beside * (half + 1.6), y])
        draw_label(pen, name, at, "sans", _NUMBER_PT, "ink")
        taken += [_around((x, y), 1.6, 1.6), _around(at, half, HALF_MM)]


def _draw_triangle(pen: Pen, x: float, y: float) -> None:
    pen.area([[(x, y - 1.5), (x + 1.3, y + 0.8), (x - 1.3, y + 0.8)]], "white", "ink", 0.35)
    pen.dot(x, y, 0.2, "ink")


def _draw_legend(pen: Pen, plan: CheckPlan) -> None:
    x, y, wide, high = plan.frame
    top = y + high + 1.0
    end = draw_north_and_scale(pen, x, top, plan.bar_label, plan.bar_mm, plan.scale_words)
    turn = math.radians(plan.convergence_deg)
    foot = (end + 9.0, top + 12.0)
    tip = (foot[0] + 9.5 * math.sin(turn), foot[1] - 9.5 * math.cos(turn))
    words = f"Grid north{plan.north_words}"
    if foot[0] + 4 + pen.width_of_mm(words, "sans", 7.5) > x + wide:
        words = "Grid north"
    pen.line(*foot, *tip, "accent", 0.35)
    pen.dot(*tip, 0.5, "accent")
    pen.text(foot[0] + 4, top + 8.5, words, "sans", 7.5)
    line = top + 17.5
    pen.line(x, line - 1, x + 8, line - 1, "accent", 0.3)
    pen.text(x + 10, line, "check line with its number", "sans", 7.5)
    if plan.control:
        at = x + 18 + pen.width_of_mm("check line with its number", "sans", 7.5)
        _draw_triangle(pen, at, line - 0.8)
        pen.text(at + 3, line, "control point", "sans", 7.5)
    pen.text_lines(
        x, line + 4.5, pen.broken(plan.said, "sans", 7.5, wide), "sans", 7.5, 3.3, "soft"
    )
