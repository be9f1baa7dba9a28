"""The map of an as-staked check: the plan, and an arrow from plan to ground at every point that is shown."""

from __future__ import annotations

import numpy as np

from .pdf_ground import PlanGround, box, draw_label, draw_north_and_scale
from .pdf_pen import Pen
from .stakedset import StakedMap, StakedSet

LEGEND_MM = 26.0
_HEAD_MM, _HEAD_WIDE_MM = 1.5, 0.55
_SHORT_MM = 0.35
"""An arrow that would be shorter is a dot."""
_ROWS_FROM_MM = 0.45
"""Rows nearer than this run together in print and are left out."""


def draw_staked_map(pen: Pen, staked: StakedSet) -> None:
    """Outlines, rows, arrows, and how they are read."""
    page = staked.map
    ground = PlanGround(
        [plan.block for plan in staked.plans],
        staked.project.exclusions,
        (),
        page.ratio,
        page.centre_m,
        named=len(staked.plans) > 1,
    )
    x, y, wide, high = page.frame
    middle = np.array([x + wide / 2, y + high / 2])
    pen.clipped(x, y, wide, high)
    ground.draw_under(pen, middle)
    for plan in staked.plans:
        if plan.rules.row_spacing_m * 1000.0 / page.ratio >= _ROWS_FROM_MM:
            xy, count = plan.paths
            starts = np.concatenate([[0], np.cumsum(count)[:-1]])
            steps = np.ones(len(xy), bool)
            steps[starts + count - 1] = False
            first = np.flatnonzero(steps)
            ends = np.stack([ground.mm(xy[first]), ground.mm(xy[first + 1])], axis=1)
            pen.lines(ends + middle, "hairline", 0.15)
    ground.draw_over(pen, middle)
    _draw_arrows(pen, page, ground.mm(page.at_m) + middle)
    pen.free()
    pen.area(box(x, y, wide, high), None, "hairline", 0.25)
    _draw_legend(pen, page)


def _draw_arrows(pen: Pen, page: StakedMap, begin: np.ndarray) -> None:
    step = page.step_m * (1.0, -1.0) * (page.times * 1000.0 / page.ratio)
    for amiss, colour in ((False, "row"), (True, "accent")):
        which = page.amiss == amiss
        _draw_some(pen, begin[which], step[which], colour, filled=amiss)
    for text, at, along in zip(page.label, begin.tolist(), step.tolist(), strict=True):
        if text:
            below = 2.2 if along[1] > 0 else -1.6
            place = np.array([at[0] + along[0], at[1] + along[1] + below])
            draw_label(pen, text, place, "sans", 6.5, "ink")


def _draw_some(pen: Pen, begin, step, colour: str, *, filled: bool) -> None:
    """Shafts as one path, heads filled for what is beyond tolerance and open for what is within."""
    length = np.hypot(*step.T)
    long = length > _SHORT_MM
    for x, y in begin[~long].tolist():
        pen.dot(x, y, 0.3, colour)
    begin, step, length = begin[long], step[long], length[long]
    if not len(begin):
        return
    unit = step / length[:, None]
    left = unit @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    head = np.minimum(_HEAD_MM, 0.6 * length)[:, None]
    tip = begin + step
    wings = [tip - head * unit + side * _HEAD_WIDE_MM / _HEAD_MM * head * left for side in (1, -1)]
    width = 0.35 if filled else 0.2
    pen.lines(np.stack([begin, tip], axis=1), colour, width)
    if filled:
        for corners in np.stack([tip, *wings], axis=1).tolist():
            pen.area([corners], colour)
        return
    for wing in wings:
        pen.lines(np.stack([tip, wing], axis=1), colour, width)


def _draw_legend(pen: Pen, page: StakedMap) -> None:
    x0, y, wide, high = page.frame
    top = y + high + 1.0
    draw_north_and_scale(pen, x0, top, page.bar_label, page.bar_mm, page.scale_words)
    line = top + 17.5
    x = x0
    for amiss, words in ((True, "beyond tolerance"), (False, "within tolerance")):
        begin, step = np.array([[x, line - 1.0]]), np.array([[page.sample_mm, 0.0]])
        _draw_some(pen, begin, step, "accent" if amiss else "row", filled=amiss)
        x += page.sample_mm + 2
        text = f"{page.sample_label}, {words}"
        pen.text(x, line, text, "sans", 7.5)
        x += pen.width_of_mm(text, "sans", 7.5) + 7
    lines = pen.broken(f"{page.said}.", "sans", 7.5, wide)
    pen.text_lines(x0, line + 4.5, lines, "sans", 7.5, 3.3, "soft")
