"""The plans of a comparison on one page: every candidate on the same ground at the same scale."""

from __future__ import annotations

import numpy as np

from .compareset import CompareSet
from .pdf_ground import PlanGround, box, draw_north_and_scale
from .pdf_pen import Pen

TILE_HEAD_MM = 10.0
"""Of a candidate's name and figures over its plan. [mm]"""
STRIP_MM = 14.0
"""Of north arrow, scale bar and scale with words beside them. [mm]"""
TALL_STRIP_MM = 24.0
"""The same with the words below, on paper too narrow to have them beside. [mm]"""
_BESIDE_FROM_MM = 250.0


def draw_plans(pen: Pen, compare: CompareSet, paper) -> None:
    """All plans that are shown, and what is needed to read them."""
    grounds = [(window, _Ground(compare, paper, window)) for window in paper.windows]
    for i, tile in zip(paper.shown, paper.tiles, strict=True):
        x, y, wide, high = tile
        _draw_tile_head(pen, compare, i, x, y - TILE_HEAD_MM, wide)
        for window, ground in grounds:
            left, top = x + window.x_mm, y + window.y_mm
            pen.clipped(left, top, window.width_mm, window.height_mm)
            ground.draw(pen, (left, top, window.width_mm, window.height_mm), compare.plans[i])
            pen.free()
            if len(grounds) > 1:
                pen.area(box(left, top, window.width_mm, window.height_mm), None, "hairline", 0.2)
        if compare.problems[i]:
            lines = pen.broken(compare.problems[i], "sans", 8, wide - 4)
            pen.text_lines(x + 2, y + 5, lines, "sans", 8, 3.6, "accent")
        edge = "accent" if i == compare.study.base else "hairline"
        pen.area(box(x, y, wide, high), None, edge, 0.25)
    _draw_strip(pen, compare, paper)


def _draw_tile_head(pen: Pen, compare: CompareSet, i: int, x, y, wide) -> None:
    """Its name, an arrow along its bearing, and what it has and is beaten by in words."""
    pen.text_within(x, y + 4.5, compare.names[i], "serif strong", 12, wide - 16)
    bearing = compare.candidates[i].bearing_deg
    if bearing is not None:
        named = min(pen.width_of_mm(compare.names[i], "serif strong", 12), wide - 16)
        _draw_bearing(pen, x + named + 5.5, y + 3.0, bearing)
    if i == compare.study.base and len(compare) > 1:
        pen.text(x + wide, y + 4.5, "base", "sans", 7, "right", "accent")
    said = []
    if compare.plans[i]:
        vines, rows = (sum(getattr(p, n) for p in compare.plans[i]) for n in ("n_vines", "n_rows"))
        counted = f"{vines:,} vines in {rows:,} rows".replace(",", "\u202f")
        said.append(counted if rows else "No row stands here")
    if compare.beaten[i] >= 0:
        said.append(f"beaten by {compare.names[compare.beaten[i]]}")
    words = "; ".join(said)
    note = compare.candidates[i].note
    words = f"{words}. {note}" if note and words else words or note
    pen.text_within(x, y + 8.5, words, "sans", 7.5, wide, "soft")


def _draw_bearing(pen: Pen, x, y, bearing_deg: float) -> None:
    """An arrow the way the rows run, its middle at a place."""
    turn = np.radians(bearing_deg)
    along = np.array([np.sin(turn), -np.cos(turn)])
    aside = np.array([-along[1], along[0]])
    tip, tail = np.array([x, y]) + 2.4 * along, np.array([x, y]) - 2.4 * along
    neck = tip - 1.7 * along
    pen.path([tail, neck], "row", 0.35)
    pen.area([[tip, neck + 0.75 * aside, neck - 0.75 * aside]], "row")


class _Ground:
    """What is the same under every candidate in a window."""

    def __init__(self, compare: CompareSet, paper, window):
        self._every = paper.one_in
        self._of = window.blocks
        all_blocks = compare.study.blocks_of(compare.project.blocks)
        self._ground = PlanGround(
            [all_blocks[i] for i in window.blocks],
            compare.project.exclusions,
            compare.contours,
            paper.ratio,
            window.centre_m,
            named=len(all_blocks) > 1,
        )

    def draw(self, pen: Pen, tile, plans) -> None:
        """The ground and one candidate's rows in a window."""
        middle = np.array([tile[0] + tile[2] / 2, tile[1] + tile[3] / 2])
        self._ground.draw_under(pen, middle)
        for i in self._of if plans else ():
            self._draw_rows(pen, plans[i], middle)
        self._ground.draw_over(pen, middle)

    def _draw_rows(self, pen: Pen, plan, middle) -> None:
        """Rows as lines, so many of them that they do not run together."""
        drawn = plan.segments.line % self._every == 0
        if plan.course is None:
            pen.lines(self._ground.mm(plan.segment_ends_m[drawn]) + middle, "row", _ROW_LINE_MM)
            return
        xy, count = plan.paths
        paths = np.split(self._ground.mm(xy) + middle, np.cumsum(count)[:-1])
        for path, own in zip(paths, drawn.tolist(), strict=True):
            if own and len(path) > 1:
                pen.path(path, "row", _ROW_LINE_MM)


_ROW_LINE_MM = 0.18


def _draw_strip(pen: Pen, compare: CompareSet, paper) -> None:
    """North arrow, scale bar, scale, and what is to be known to read the plans."""
    x0, top, wide, _ = paper.strip
    middle = top + 7.5
    x = draw_north_and_scale(pen, x0, top, paper.bar_label, paper.bar_mm, paper.scale_words) + 8
    words = " ".join(_strip_words(compare, paper))
    if wide >= _BESIDE_FROM_MM:
        lines = pen.broken(words, "sans", 7.5, x0 + wide - x)
        pen.text_lines(x, middle + 1 - 1.65 * (len(lines) - 1), lines, "sans", 7.5, 3.3, "soft")
    else:
        lines = pen.broken(words, "sans", 7.5, wide)
        pen.text_lines(x0, top + 16, lines, "sans", 7.5, 3.3, "soft")


def _strip_words(compare: CompareSet, paper) -> list[str]:
    words = [compare.differs]
    if paper.one_in > 1:
        words.append(f"One row in {paper.one_in} drawn.")
    if len(paper.windows) > 1:
        words.append("Blocks are drawn nearer to one another than they lie.")
    words.append(compare.contour_words)
    arrows = (
        " Arrows: the way the rows run."
        if any(c.bearing_deg is not None for c in compare.candidates)
        else ""
    )
    words.append(
        f"Lengths on the ground, bearings true; {paper.name} printed at its full size.{arrows}"
    )
    return [w for w in words if w]


def strip_high_mm(wide_mm: float) -> float:
    """How much room the strip under the plans takes on so wide a place. [mm]"""
    return STRIP_MM if wide_mm >= _BESIDE_FROM_MM else TALL_STRIP_MM
