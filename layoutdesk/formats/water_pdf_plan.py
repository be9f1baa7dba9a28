"""The plan of an irrigation sheet: drip lines by what their vines get, pipes by size, valves, source."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import shapely

from .pdf_ground import PlanGround, box
from .pdf_labels import Labels
from .pdf_pen import Pen
from .water_pdf_legend import DASH, DRY, draw_legend
from .waterset import WaterFiles

_USUAL = 4
"""Step of the ramp that holds the mean; those below it get too little."""
_THIN_MM, _WIDE_MM = 0.25, 1.1
_ROW_SHARE = 0.5
"""Width of a drip line as drawn, of the space between rows."""
_PIPE_MM = (0.45, 1.1)
_MAIN_WIDER_MM = 0.7
_LABELLED_FROM_MM, _MAIN_LABELLED_MM = 6.0, 40.0
"""A pipe this long on paper has its size on it, be it there already."""
_VALVE_MM = 2.1
_BEYOND_MM = 2.4


class WaterDrawing(Protocol):
    """What is drawn, in the site frame. [m]"""

    vine_class: np.ndarray
    ramp: tuple
    submains: tuple[np.ndarray, ...]
    submain_mm: tuple[float, ...]
    mains: tuple[np.ndarray, ...]
    main_mm: tuple[float, ...]
    valves: np.ndarray
    valve_labels: tuple[str, ...]
    source: np.ndarray


@dataclass(frozen=True)
class PlanPage:
    """One plan on a page of its own.

    Attributes
    ----------
    title : str
    paper : str
    width_mm, height_mm : float
        Of the page as it lies.
    frame : (float, float, float, float)
        Left, top, width and height of the plan. [mm]
    ratio : float
        Scale 1 : ratio.
    scale_words, bar_label : str
    bar_mm : float
        A scale bar of round length.
    centre_m : (float, float)
        Site frame place at the middle of the plan.
    blocks : tuple of int
        Those that are drawn.
    one_in : int
        Of so many drip lines that get what is usual one is drawn, where all would run together.
    spacing_mm : float
        Between rows, on the paper.
    """

    title: str
    paper: str
    width_mm: float
    height_mm: float
    frame: tuple[float, float, float, float]
    ratio: float
    scale_words: str
    bar_label: str
    bar_mm: float
    centre_m: tuple[float, float]
    blocks: tuple[int, ...]
    one_in: int
    spacing_mm: float


def draw_water_plan(pen: Pen, water: WaterFiles, page: PlanPage, runs: ShareRuns) -> None:
    """One plan with its legend; `runs` are those of `share_runs`."""
    ground = PlanGround(
        [water.plans[b].block for b in page.blocks],
        water.project.exclusions,
        water.contours,
        page.ratio,
        page.centre_m,
        named=len(water.plans) > 1,
    )
    x, y, wide, high = page.frame
    middle = np.array([x + wide / 2, y + high / 2])
    pen.clipped(x, y, wide, high)
    ground.draw_under(pen, middle)

    def mm(xy_m):
        return ground.mm(xy_m) + middle

    _draw_drip_lines(pen, water, page, mm, runs)
    labels = Labels(pen, page.frame)
    pen_down = [
        _source(pen, water, mm, labels),
        _valves(pen, water, mm, labels),
        _worst(pen, water, mm, labels),
        _pipes(pen, water, page, mm, labels),
        _rows(pen, water, page, mm, labels),
    ]
    for draw in reversed(pen_down):
        draw()
    ground.draw_over(pen, middle)
    labels.draw()
    pen.free()
    pen.area(box(x, y, wide, high), None, "hairline", 0.25)
    draw_legend(pen, water, page)


# drip lines


@dataclass(frozen=True, eq=False)
class ShareRuns:
    """Neighbouring vines of one class in one lateral, k runs.

    Attributes
    ----------
    vines_m : float array, shape (v, 2)
        Plan after plan. [m]
    first, last : int array, shape (k,)
        Vines.
    begin_m, end_m : float array, shape (k, 2)
        Site frame, midway to neighbours of other classes. [m]
    kind, lateral : int array, shape (k,)
    """

    vines_m: np.ndarray
    first: np.ndarray
    last: np.ndarray
    begin_m: np.ndarray
    end_m: np.ndarray
    kind: np.ndarray
    lateral: np.ndarray


def share_runs(water: WaterFiles) -> ShareRuns:
    """Runs of the ramp's classes along all drip lines."""
    plans, vine_lateral = water.plans, water.design.lines.vine_lateral
    kind = water.drawing.vine_class.astype(int)
    xy = np.concatenate([np.empty((0, 2)), *(p.vines.xy_m for p in plans)])
    n = len(xy)
    if not n:
        none = np.empty(0, np.intp)
        return ShareRuns(xy, none, none, xy, xy, none, none)
    before = np.cumsum([0, *(p.n_segments for p in plans)])
    segment = np.concatenate([p.vines.segment + b for p, b in zip(plans, before, strict=False)])
    joined = (np.diff(vine_lateral) == 0) & (np.diff(segment) == 0)
    cut = ~joined | (np.diff(kind) != 0)
    first = np.concatenate([[0], np.flatnonzero(cut) + 1])
    last = np.concatenate([np.flatnonzero(cut), [n - 1]])
    begin, end = xy[first].copy(), xy[last].copy()
    inner = np.flatnonzero(joined[first[1:] - 1]) + 1
    half = (xy[first[inner]] + xy[first[inner] - 1]) / 2
    begin[inner], end[inner - 1] = half, half
    return ShareRuns(xy, first, last, begin, end, kind[first], vine_lateral[first])


def _draw_drip_lines(pen: Pen, water: WaterFiles, page: PlanPage, mm, runs: ShareRuns) -> None:
    """Tubes as thin lines, and on them their vines' shares; what is not usual lies on top."""
    lines = water.design.lines
    shown = np.isin(lines.block, page.blocks)
    drawn = shown & (lines.number % page.one_in == 0)
    straight = np.array([p.course is None for p in water.plans], dtype=bool)[lines.block]
    pen.lines(mm(lines.tail_xy_m[drawn & straight]), "row", 0.12)
    width = float(np.clip(_ROW_SHARE * page.spacing_mm, _THIN_MM, _WIDE_MM))
    visible = drawn[runs.lateral] | (shown[runs.lateral] & (runs.kind != _USUAL))
    even = straight[runs.lateral]
    for k in sorted(set(runs.kind.tolist()), key=lambda k: (k < 0, abs(k - _USUAL))):
        colour = DRY if k < 0 else f"share {k}"
        wide = width if k == _USUAL else max(1.3 * width, 0.35)
        mine = visible & (runs.kind == k)
        ends = np.stack([runs.begin_m[mine & even], runs.end_m[mine & even]], axis=1)
        pen.lines(mm(ends), colour, wide)
        for i in np.flatnonzero(mine & ~even).tolist():
            inner = runs.vines_m[runs.first[i] : runs.last[i] + 1]
            pen.path(mm(np.vstack([runs.begin_m[i], inner, runs.end_m[i]])), colour, wide)


# pipes, valves, source: each keeps room for its words, then gives what draws it


def _pipes(pen: Pen, water: WaterFiles, page: PlanPage, mm, labels: Labels):
    """Mains as wide dashes, so that they show beside submains in the same trench; sizes on both."""
    drawing = water.drawing
    sizes = [*drawing.submain_mm, *drawing.main_mm]
    low, high = min(sizes, default=1.0), max(sizes, default=1.0)

    def width(size: float) -> float:
        share = (size - low) / (high - low) if high > low else 0.5
        return _PIPE_MM[0] + share * (_PIPE_MM[1] - _PIPE_MM[0])

    submains = _near_frame(drawing.submains, drawing.submain_mm, page, mm)
    mains = _near_frame(drawing.mains, drawing.main_mm, page, mm)
    for pipes, colour in ((submains, "water"), (mains, "ink")):
        seen = set()
        for line, size in sorted(pipes, key=lambda pipe: -_long(pipe[0])):
            path = shapely.linestrings(line)
            least = _MAIN_LABELLED_MM if colour == "ink" else _LABELLED_FROM_MM
            if path.length < least and size in seen:
                continue
            places = [
                shapely.get_coordinates(path.interpolate(at, normalized=True))[0]
                for at in (0.5, 0.3, 0.7, 0.15, 0.85)
            ]
            if labels.say(pipe_label(size, water.unit), places, "sans strong", 6.5, colour):
                seen.add(size)

    def draw():
        for line, size in mains:
            pen.path(line, "ink", width(size) + _MAIN_WIDER_MM, dash=DASH)
        for line, size in submains:
            pen.path(line, "water", width(size))

    return draw


def _near_frame(lines, sizes, page: PlanPage, mm) -> list[tuple[np.ndarray, float]]:
    """Pipes that come near the frame, on the paper. [mm]"""
    x, y, wide, high = page.frame
    found = []
    for line, size in zip(map(mm, lines), sizes, strict=True):
        low, top = line.min(axis=0), line.max(axis=0)
        if (low <= (x + wide, y + high)).all() and (top >= (x, y)).all():
            found.append((line, size))
    return found


def _long(line: np.ndarray) -> float:
    return float(np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def pipe_label(outer_mm: float, unit: str) -> str:
    """Outer diameter of a pipe as it stands on the plan.

    >>> pipe_label(63.0, "m"), pipe_label(63.0, "ft")
    ('63 mm', '2.48 in')
    """
    return f"{outer_mm:g} mm" if unit == "m" else f"{outer_mm / 25.4:.2f} in"


def _valves(pen: Pen, water: WaterFiles, mm, labels: Labels):
    drawing = water.drawing
    places = mm(drawing.valves).tolist()
    named = [labels.take(x, y, _VALVE_MM, _VALVE_MM) for x, y in places]

    def draw():
        for (x, y), text, has_name in zip(places, drawing.valve_labels, named, strict=True):
            pen.dot(x, y, _VALVE_MM if has_name else 0.8, "water")
            if has_name:
                pen.dot(x, y, _VALVE_MM - 0.35, "white")
                size = 7.5 if len(text) < 3 else 6.5
                pen.text(x, y + 0.127 * size, text, "sans strong", size, "centre", "water")

    return draw


def _source(pen: Pen, water: WaterFiles, mm, labels: Labels):
    x, y = mm(water.drawing.source).tolist()
    labels.take(x, y, 1.6, 1.6)
    places = [(x, y + 4.2), (x, y - 4.2), (x + 9, y), (x - 9, y)]
    labels.say("Source", places, "sans strong", 7.5, "ink")

    def draw():
        pen.area(box(x - 1.6, y - 1.6, 3.2, 3.2), "white", "ink", 0.5)
        pen.dot(x, y, 0.9, "ink")

    return draw


def _worst(pen: Pen, water: WaterFiles, mm, labels: Labels):
    """The share of the worst stretches beside them."""
    for ends, text in water.worst:
        a, b = mm(ends)
        middle = (a + b) / 2
        places = [middle, a, b, *(middle + d for d in ((0, 5), (0, -5), (8, 0), (-8, 0)))]
        labels.say(text, places, "sans strong", 7.5, "accent")
    return lambda: None


def _rows(pen: Pen, water: WaterFiles, page: PlanPage, mm, labels: Labels):
    """Numbers of the first and the last row of every set, beyond the end away from its inlet."""
    lines = water.design.lines
    for one in water.design.sets:
        if one.block not in page.blocks:
            continue
        for i in dict.fromkeys((int(one.laterals[0]), int(one.laterals[-1]))):
            ends, inlet = mm(lines.tail_xy_m[i]), mm(lines.inlet_xy_m[i])
            far = int(np.linalg.norm(ends - inlet, axis=1).argmax())
            away = ends[far] - ends[1 - far]
            beyond = ends[far] + _BEYOND_MM * away / max(float(np.hypot(*away)), 1e-9)
            labels.say(str(int(lines.number[i])), [beyond], "sans", 6.5, "soft")
    return lambda: None
