"""The plans of a comparison on one page: every candidate on the same ground at the same scale."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.layout.clearances import kept_clear_by
from .compare_pdf_pen import MARGIN_MM, Pen
from .compareset import CompareSet

TILE_HEAD_MM = 11.0
"""Of a candidate's name and figures over its plan. [mm]"""
STRIP_MM = 13.0
"""Of north arrow, scale bar and scale under the plans. [mm]"""
_WATERS = ("pond", "water", "watercourse", "stream", "dam", "lake")


def draw_plans(pen: Pen, compare: CompareSet, paper) -> None:
    """All plans that are shown, and what is needed to read them."""
    ground = _Ground(compare, paper)
    for i, tile in zip(paper.shown, paper.tiles, strict=True):
        x, y, wide, high = tile
        _draw_tile_head(pen, compare, i, x, y - TILE_HEAD_MM, wide)
        if compare.problems[i]:
            pen.text_within(x + 2, y + 6, compare.problems[i], "sans", 8, wide - 4, "accent")
        pen.clipped(*tile)
        ground.draw(pen, tile, compare.plans[i])
        pen.free()
        edge = "accent" if i == compare.study.base else "hairline"
        pen.area([[(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]], None, edge, 0.25)
    _draw_strip(pen, compare, paper)


def _draw_tile_head(pen: Pen, compare: CompareSet, i: int, x, y, wide) -> None:
    pen.text_within(x, y + 5, compare.names[i], "serif strong", 12, wide - 12)
    if i == compare.study.base and len(compare) > 1:
        pen.text(x + wide, y + 5, "base", "sans", 7, "right", "accent")
    plans = compare.plans[i]
    if plans:
        vines = sum(p.n_vines for p in plans)
        rows = sum(p.n_rows for p in plans)
        words = f"{vines:,} vines in {rows:,} rows".replace(",", "\u202f")
        note = compare.candidates[i].note
        words = f"{words}. {note}" if note else words
        pen.text_within(x, y + 9, words, "sans", 7.5, wide, "soft")


class _Ground:
    """What is the same under every candidate, in millimetres about the middle of a tile."""

    def __init__(self, compare: CompareSet, paper):
        self._scale = 1000.0 / paper.ratio
        self._centre = np.array(paper.centre_m)
        project = compare.project
        blocks = compare.study.blocks_of(project.blocks)
        self._outlines = [self._rings(b.outline) for b in blocks]
        exclusions = project.exclusions
        clear = kept_clear_by(exclusions, 12) if exclusions else None
        self._contours = [self._mm(line) for line in compare.contours]
        self._clear = [] if clear is None else self._areas(clear)
        self._shapes = [
            (e.kind.lower() in _WATERS, part)
            for e in exclusions
            for part in shapely.get_parts(e.shape)
            if not part.is_empty
        ]

    def _mm(self, xy_m) -> np.ndarray:
        return (np.asarray(xy_m)[..., :2] - self._centre) * (self._scale, -self._scale)

    def _rings(self, polygon) -> list[np.ndarray]:
        return [self._mm(shapely.get_coordinates(r)) for r in shapely.get_rings(polygon)]

    def _areas(self, shape) -> list[list[np.ndarray]]:
        parts = shapely.get_parts(shape)
        return [self._rings(p) for p in parts if p.geom_type == "Polygon" and not p.is_empty]

    def draw(self, pen: Pen, tile, plans) -> None:
        """The ground and one candidate's rows in a tile."""
        middle = np.array([tile[0] + tile[2] / 2, tile[1] + tile[3] / 2])

        def moved(rings):
            return [ring + middle for ring in rings]

        for rings in self._clear:
            pen.area(moved(rings), "kept clear")
        for water, part in self._shapes:
            if part.geom_type == "Polygon":
                fill, edge = ("water fill", "water") if water else ("exclusion", "soft")
                pen.area(moved(self._rings(part)), fill, edge, 0.2)
        for line in self._contours:
            pen.path(line + middle, "contour", 0.15)
        for plan in plans:
            self._draw_rows(pen, plan, middle)
        for _, part in self._shapes:
            if part.geom_type in ("LineString", "LinearRing"):
                xy = self._mm(shapely.get_coordinates(part)) + middle
                pen.path(xy, "soft", 0.3, dash=(1.6, 0.9))
            elif part.geom_type == "Point":
                x, y = (self._mm(shapely.get_coordinates(part))[0] + middle).tolist()
                pen.dot(x, y, 0.7, "soft")
        for rings in self._outlines:
            pen.area(moved(rings), None, "ink", 0.3)

    def _draw_rows(self, pen: Pen, plan, middle) -> None:
        """Every row as a line, thinner where rows are close."""
        width_mm = float(np.clip(0.22 * plan.rules.row_spacing_m * self._scale, 0.03, 0.2))
        if plan.course is None:
            pen.lines(self._mm(plan.segment_ends_m) + middle, "row", width_mm)
            return
        xy, count = plan.paths
        for path in np.split(self._mm(xy) + middle, np.cumsum(count)[:-1]):
            if len(path) > 1:
                pen.path(path, "row", width_mm)


def _draw_strip(pen: Pen, compare: CompareSet, paper) -> None:
    """North arrow, scale bar, scale, and what lengths and bearings are."""
    top = pen.height_mm - MARGIN_MM - STRIP_MM
    x, middle = MARGIN_MM + 3, top + 7.5
    pen.area([[(x, top + 3), (x + 2.2, top + 12), (x, top + 9.6), (x - 2.2, top + 12)]], "ink")
    pen.text(x + 4, middle + 1, "True north", "sans", 7.5)
    x += 4 + pen.width_of_mm("True north", size=7.5) + 7
    half = paper.bar_mm / 2
    pen.area(_box(x, middle - 0.8, half, 1.6), "ink", "ink", 0.2)
    pen.area(_box(x + half, middle - 0.8, half, 1.6), "white", "ink", 0.2)
    pen.text(x + 2 * half + 2, middle + 1, paper.bar_label, "sans", 7.5)
    x += 2 * half + 2 + pen.width_of_mm(paper.bar_label, size=7.5) + 7
    pen.text(x, middle + 1, paper.scale_words, "sans strong", 9)
    x += pen.width_of_mm(paper.scale_words, "sans strong", 9) + 7
    words = (
        f"Lengths on the ground, bearings true; {paper.name} printed at its full size. "
        f"Grid: {compare.survey.name}, combined factor {compare.survey.combined_factor:.6f}."
    )
    if compare.contour_words:
        words = f"{compare.contour_words} {words}"
    pen.text_within(x, middle + 1, words, "sans", 7.5, pen.width_mm - MARGIN_MM - x, "soft")


def _box(x, y, wide, high):
    return [[(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]]
