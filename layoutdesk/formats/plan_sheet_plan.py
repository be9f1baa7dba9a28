"""What is drawn inside the frame of a plan sheet: ground, alleys, rows with their numbers, vines by plant."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely

from ..core.layout.looking import segments_within
from ..core.layout.numbering import segment_letter
from .pdf_ground import PlanGround, draw_label
from .pdf_pen import Pen
from .plan_sheet_frame import draw_crosses
from .plansheet import PlanSheet, SheetMeasure, SheetTile
from .row_numbers_pdf import HALF_MM, RowEnds, RowNumbers, one_in
from .vine_marks_pdf import (
    LOST_COLOUR,
    QUIET_COLOUR,
    QUIET_FORM,
    colour_of,
    draw_marks,
    form_of,
)
from .vine_runs import VineRuns, vine_runs

VINES_FROM_MM = 0.8
"""Vines nearer than this run together in print: their rows are drawn in the plant's colour and dashes. [mm]"""
_MARK_SHARE, _MARK_MM = 0.62, (0.5, 1.35)
_ROW_MM, _STROKE_MM, _POST_MM, _LINE_MM = 0.12, (0.18, 0.55), 0.9, 0.3
_END_CLEAR_MM, _FRAME_CLEAR_MM, _FARTHEST_MM, _ANCHOR_MM = 1.0, 0.6, 12.0, 0.7
_NAME_PT, _LEAST_NAMED = 9.0, 0.004
_BEYOND_MM = 6.0
"""Rows are looked for so far beyond the frame. [mm]"""
_CLOSEST_ROWS_MM = 0.6


class SheetPlan:
    """Draws tiles of a plan sheet; what all of them need is made once.

    Parameters
    ----------
    pen : Pen
    sheet : PlanSheet
    measure : SheetMeasure
        Scale of these tiles.
    """

    def __init__(self, pen: Pen, sheet: PlanSheet, measure: SheetMeasure):
        self.pen, self.sheet, self.measure = pen, sheet, measure
        self._origin = (sheet.index or sheet.tiles[0]).centre_m
        blocks = [plan.block for plan in sheet.plans]
        self._ground = PlanGround(
            blocks, sheet.exclusions, (), measure.ratio, self._origin, named=False
        )
        self._before = np.cumsum([0, *(plan.n_vines for plan in sheet.plans)])
        self._starts = [np.cumsum(p.vines_of_segment) - p.vines_of_segment for p in sheet.plans]
        self._letters = _letters_of_segments(sheet)
        self._runs: VineRuns | None = None

    @property
    def shows_vines(self) -> bool:
        """Whether vines are far enough apart to be drawn one by one."""
        return self.sheet.vine_mm * self.sheet.measure.ratio / self.measure.ratio >= VINES_FROM_MM

    @property
    def row_mm(self) -> float:
        return self.sheet.row_mm * self.sheet.measure.ratio / self.measure.ratio

    def middle_mm(self, tile: SheetTile) -> np.ndarray:
        """Where the origin of the ground lies on the page of a tile. [mm]"""
        x, y, wide, high = self.sheet.frame
        return np.array([x + wide / 2, y + high / 2]) - self._ground.mm(np.array(tile.centre_m))

    def draw(self, tile: SheetTile) -> None:
        """Everything inside the frame, with rows, vines and numbers."""
        pen, frame = self.pen, self.sheet.frame
        middle = self.middle_mm(tile)
        pen.clipped(*frame)
        self._draw_ground(tile, middle)
        seen = self._seen(tile)
        numbers = RowNumbers(pen, frame)
        names = self._names(tile, middle) if len(self.sheet.plans) > 1 else []
        for x, y, half_wide, half_high, _ in names:
            numbers.keep(x, y, half_wide, half_high)
        self._draw_rows(seen, middle)
        self._draw_vines(tile, seen, middle)
        self._draw_ends(seen, middle)
        self._ground.draw_over(pen, middle)
        for p, which in seen:
            numbers.say(self._ends(p, which, tile, middle))
        numbers.draw()
        for x, y, _, _, name in names:
            draw_label(pen, name, np.array([x, y]), "serif strong", _NAME_PT, "ink")
        pen.free()

    def draw_index(self, tile: SheetTile) -> None:
        """The whole site, rows thin and without vines."""
        pen = self.pen
        middle = self.middle_mm(tile)
        pen.clipped(*self.sheet.frame)
        self._draw_ground(tile, middle)
        every = one_in(self.row_mm * 2.5 / _CLOSEST_ROWS_MM)
        for p, which in self._seen(tile):
            number = self.sheet.plans[p].segments.number[which]
            self._draw_rows(((p, which[number % every == 0]),), middle)
        self._ground.draw_over(pen, middle)
        pen.free()

    def mm(self, xy_m, tile: SheetTile) -> np.ndarray:
        """Places of the site frame on the page of a tile. [mm]"""
        return self._ground.mm(xy_m) + self.middle_mm(tile)

    def names(self, tile: SheetTile):
        """Middles of blocks in sight with room for their names: x, y, half of width and height, name."""
        return self._names(tile, self.middle_mm(tile))

    # the ground

    def _draw_ground(self, tile: SheetTile, middle) -> None:
        self._ground.draw_under(self.pen, middle)
        for shape in self.sheet.alleys:
            for part in shapely.get_parts(shape):
                rings = [
                    self._ground.mm(shapely.get_coordinates(r)) + middle
                    for r in shapely.get_rings(part)
                ]
                self.pen.area(rings, "kept clear", "soft", 0.12, dash=(1.2, 0.8))
        draw_crosses(self.pen, self._ground.mm(tile.crosses_m) + middle, tile.axes)

    def _seen(self, tile: SheetTile):
        """Segments of each plan that may be in the frame."""
        by = _BEYOND_MM * self.measure.ratio / 1000
        x0, y0, x1, y1 = tile.bounds_m
        wider = (x0 - by, y0 - by, x1 + by, y1 + by)
        found = [(p, segments_within(plan, wider)) for p, plan in enumerate(self.sheet.plans)]
        return [(p, which) for p, which in found if len(which)]

    def _names(self, tile: SheetTile, middle):
        """Block names where most of the block is in sight."""
        window = shapely.box(*tile.bounds_m)
        inset = window.buffer(-0.02 * math.sqrt(window.area))
        found = []
        for plan in self.sheet.plans:
            part = shapely.intersection(plan.block.outline, inset)
            parts = [p for p in shapely.get_parts(part) if p.geom_type == "Polygon"]
            if not parts:
                continue
            largest = max(parts, key=lambda p: p.area)
            if largest.area < _LEAST_NAMED * window.area:
                continue
            circle = shapely.maximum_inscribed_circle(
                largest, tolerance=0.02 * math.sqrt(largest.area)
            )
            x, y = (self._ground.mm(shapely.get_coordinates(circle)[0]) + middle).tolist()
            name = plan.block.name
            half = self.pen.width_of_mm(name, "serif strong", _NAME_PT) / 2 + 0.8
            found.append((x, y, half, 0.3 * _NAME_PT, name))
        return found

    # rows and vines

    def _draw_rows(self, seen, middle) -> None:
        for p, which in seen:
            plan = self.sheet.plans[p]
            if plan.course is None:
                ends = plan.segment_ends_m[which]
                self.pen.lines(self._ground.mm(ends) + middle, "row", _ROW_MM)
                continue
            for line in shapely.get_parts(plan.shapes[which]):
                self.pen.path(
                    self._ground.mm(shapely.get_coordinates(line)) + middle, "row", _ROW_MM
                )

    def _draw_vines(self, tile: SheetTile, seen, middle) -> None:
        if not self.shows_vines:
            self._draw_runs(seen, middle)
            return
        vines, xy = self._vines_of(tile, seen)
        size = float(np.clip(_MARK_SHARE * self._vine_mm, *_MARK_MM))
        classes = self.sheet.vine_class[vines]
        at = self._ground.mm(xy) + middle
        for k, mark in enumerate(self.sheet.marks):
            form, colour = (
                (QUIET_FORM, QUIET_COLOUR) if mark.is_quiet else (form_of(k), colour_of(k))
            )
            draw_marks(self.pen, at[classes == k], form, colour, size)
        if self.sheet.lost is not None:
            draw_marks(self.pen, at[self.sheet.lost[vines]], "cross", LOST_COLOUR, 1.9 * size)

    @property
    def _vine_mm(self) -> float:
        return self.sheet.vine_mm * self.sheet.measure.ratio / self.measure.ratio

    def _vines_of(self, tile: SheetTile, seen):
        """Vines in the frame, counted through all plans, and their places."""
        x0, y0, x1, y1 = tile.bounds_m
        numbers, places = [np.empty(0, np.intp)], [np.empty((0, 2))]
        for p, which in seen:
            plan = self.sheet.plans[p]
            count = plan.vines_of_segment[which]
            before = np.cumsum(count) - count
            mine = np.repeat(self._starts[p][which] - before, count) + np.arange(int(count.sum()))
            xy = plan.vines.xy_m[mine]
            inside = ((xy >= (x0, y0)) & (xy <= (x1, y1))).all(axis=1)
            numbers.append(self._before[p] + mine[inside])
            places.append(xy[inside])
        return np.concatenate(numbers), np.concatenate(places)

    def _draw_runs(self, seen, middle) -> None:
        """Neighbouring vines of one plant as strokes, in its colour and dashes."""
        from .day_plan_pdf import MARKS

        if self._runs is None:
            self._runs = vine_runs(self.sheet.plans, self.sheet.vine_class)
        runs, first = self._runs, np.cumsum([0, *(p.n_segments for p in self.sheet.plans)])
        shown = np.zeros(int(first[-1]), bool)
        for p, which in seen:
            shown[first[p] + which] = True
        wide = float(np.clip(0.45 * self.row_mm, *_STROKE_MM))
        for k, mark in enumerate(self.sheet.marks):
            if mark.is_quiet:
                continue
            colour, dash = MARKS[k % len(MARKS)]
            mine = shown[runs.segment] & (runs.kind == k)
            straight = mine & ~runs.is_curved
            ends = np.stack([runs.begin_m[straight], runs.end_m[straight]], axis=1)
            self.pen.lines(self._ground.mm(ends) + middle, colour, wide, dash)
            for i in np.flatnonzero(mine & runs.is_curved).tolist():
                line = runs.path_m(i)
                self.pen.path(self._ground.mm(line) + middle, colour, wide, dash)

    # row ends

    def _draw_ends(self, seen, middle) -> None:
        """End posts as small squares, and lines out to the anchors."""
        for p, which in seen:
            plan = self.sheet.plans[p]
            ends = plan.segment_ends_m[which]
            at = self._ground.mm(ends) + middle
            beyond = plan.rules.anchor_m
            if beyond * 1000 / self.measure.ratio >= _ANCHOR_MM:
                anchors = self._ground.mm(ends + beyond * plan.outward[which]) + middle
                lines = np.stack([at, anchors], axis=2).reshape(-1, 2, 2)
                self.pen.lines(lines, "ink", 0.15)
            size = float(np.clip(0.3 * self.row_mm, 0.35, _POST_MM))
            draw_marks(self.pen, at.reshape(-1, 2), "square", "ink", size)

    def _ends(self, p: int, which: np.ndarray, tile: SheetTile, middle) -> RowEnds:
        """Outer ends of rows in sight, or where the frame cuts them, with what is written there."""
        plan, ratio = self.sheet.plans[p], self.measure.ratio
        s = plan.segments
        every = one_in(self.row_mm)
        window = shapely.box(*tile.bounds_m)
        cut = shapely.intersection(plan.shapes[which], window)
        inside = ~shapely.is_empty(cut) & (shapely.length(cut) * 1000 / ratio > 3.0)
        which, cut = which[inside], cut[inside]
        first_of, last_of = _outer(s.line[which], s.start_m[which])
        several = np.bincount(s.number)[s.number[which]] > 1 if len(which) else np.empty(0, bool)
        numbers = s.number[which]
        rim = {int(numbers.min()), int(numbers.max())} if len(which) else set()
        at, out, gaps, texts, first = [], [], [], [], []
        anchor_mm = plan.rules.anchor_m * 1000 / ratio
        for outer, end in ((first_of, 0), (last_of, 1)):
            for i in outer.tolist():
                number = int(numbers[i])
                if number % every and number not in rim:
                    continue
                segment = int(which[i])
                post = plan.segment_ends_m[segment, end]
                x, y = post
                x0, y0, x1, y1 = tile.bounds_m
                step = plan.outward[segment, end]
                gap = anchor_mm + _END_CLEAR_MM
                if not (x0 < x < x1 and y0 < y < y1):
                    post, step = _cut_end(cut[i], post)
                    gap = _clear_of_frame_mm(post, step, tile.bounds_m)
                at.append(post)
                out.append(step)
                gaps.append(gap)
                letter = segment_letter(int(s.letter[segment])) if several[i] else ""
                plants = self._letters[p][segment]
                texts.append(f"{number}{letter}{' ' + plants if plants else ''}")
                first.append(number in rim or number % (10 * every) == 0)
        if not at:
            return RowEnds(np.empty((0, 2)), np.empty((0, 2)), np.empty(0), [], np.empty(0, bool))
        return RowEnds(
            self._ground.mm(np.array(at)) + middle,
            np.array(out) * (1, -1),
            np.array(gaps),
            texts,
            np.array(first),
        )


def _outer(line: np.ndarray, start_m: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The first and the last segment of every row line, as indices."""
    if not len(line):
        return np.empty(0, np.intp), np.empty(0, np.intp)
    order = np.lexsort((start_m, line))
    turn = np.diff(line[order], prepend=line[order][0] - 1) != 0
    last = np.append(np.flatnonzero(turn)[1:], len(order)) - 1
    return order[turn], order[last]


def _cut_end(cut, post: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where the frame cuts a row, and the step from there into the frame."""
    parts = [shapely.get_coordinates(p) for p in shapely.get_parts(cut)]
    parts = [xy for xy in parts if len(xy) > 1]
    ends = [(xy[k], xy[j]) for xy in parts for k, j in ((0, 1), (-1, -2))]
    at, toward = min(ends, key=lambda pair: float(np.hypot(*(pair[0] - post))))
    step = toward - at
    return at, step / max(float(np.hypot(*step)), 1e-12)


def _clear_of_frame_mm(at: np.ndarray, step: np.ndarray, bounds_m) -> float:
    """From where a row meets the frame to its number, so that no corner of it is beyond. [mm]"""
    x0, y0, x1, y1 = bounds_m
    away = [abs(at[0] - x0), abs(at[0] - x1), abs(at[1] - y0), abs(at[1] - y1)]
    square_on = abs(step[0] if int(np.argmin(away)) < 2 else step[1])
    slant = math.sqrt(max(1.0 - square_on**2, 0.0)) / max(square_on, 1e-6)
    return _FRAME_CLEAR_MM + min(HALF_MM * slant, _FARTHEST_MM)


def _letters_of_segments(sheet: PlanSheet) -> list[list[str]]:
    """Letters of the plants of every segment, plan by plan."""
    counts = np.concatenate([np.empty(0, np.intp), *(p.vines_of_segment for p in sheet.plans)])
    n, k = len(counts), max(len(sheet.marks), 1)
    segment = np.repeat(np.arange(n), counts)
    key = np.unique(segment * k + sheet.vine_class)
    texts = [""] * n
    for s, c in zip((key // k).tolist(), (key % k).tolist(), strict=True):
        letter = sheet.marks[c].letter
        if letter:
            texts[s] = f"{texts[s]} {letter}".strip()
    before = np.cumsum([0, *(p.n_segments for p in sheet.plans)]).tolist()
    return [texts[a:b] for a, b in pairwise(before)]
