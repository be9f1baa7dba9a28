"""The ground under a drawn plan: outlines, exclusions, contours, names; north arrow and scale bar."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.layout.clearances import kept_clear_by
from .pdf_pen import Pen

_CONTOURS_BEYOND_MM = 3.0
"""Contours end so far outside the outlines."""
_HEIGHTS_NAMED, _NAMED_FROM_MM, _NAMED_AT, _NAMED_APART_MM = 4, 18.0, 0.3, 7.0
_WATERS = ("pond", "water", "watercourse", "stream", "dam", "lake")


class PlanGround:
    """What lies under rows and pipes, in millimetres about the middle of a window.

    Parameters
    ----------
    blocks : sequence of Block
        Those that are drawn.
    exclusions : sequence of Exclusion
    contours : sequence of float array, shape (n, 3)
        Places [m] with the height in people's unit.
    ratio : float
        Scale 1 : ratio.
    centre_m : (float, float)
        Site frame place at the window's middle.
    named : bool
        Whether blocks have their names on them.
    """

    def __init__(self, blocks, exclusions, contours, ratio: float, centre_m, *, named: bool):
        self._scale = 1000.0 / ratio
        self._centre = np.array(centre_m)
        self._outlines = [self._rings(b.outline) for b in blocks]
        self._names = [(b.name, name_place(b.outline)) for b in blocks if named]
        clear = kept_clear_by(exclusions, 12) if exclusions else None
        self._contours = self._cut_contours(contours, [b.outline for b in blocks])
        self._heights = self._labelled_heights()
        self._clear = [] if clear is None else self._areas(clear)
        self._shapes = [
            (e.kind.lower() in _WATERS, part)
            for e in exclusions
            for part in shapely.get_parts(e.shape)
            if not part.is_empty
        ]

    def mm(self, xy_m) -> np.ndarray:
        """Places of the site frame from the window's middle, right and down. [mm]"""
        return (np.asarray(xy_m)[..., :2] - self._centre) * (self._scale, -self._scale)

    def _rings(self, polygon) -> list[np.ndarray]:
        return [self.mm(shapely.get_coordinates(r)) for r in shapely.get_rings(polygon)]

    def _areas(self, shape) -> list[list[np.ndarray]]:
        parts = shapely.get_parts(shape)
        return [self._rings(p) for p in parts if p.geom_type == "Polygon" and not p.is_empty]

    def _cut_contours(self, contours, outlines) -> list[tuple[float, np.ndarray]]:
        """Heights in people's unit, and lines near the blocks. [mm]"""
        near = shapely.union_all(outlines).buffer(_CONTOURS_BEYOND_MM / self._scale)
        found = []
        for line in contours:
            if len(line) < 2:
                continue
            cut = shapely.line_merge(shapely.intersection(shapely.linestrings(line[:, :2]), near))
            for part in shapely.get_parts(cut):
                xy = shapely.get_coordinates(part)
                if len(xy) > 1:
                    found.append((float(line[0, 2]), self.mm(xy)))
        return found

    def _labelled_heights(self) -> list[tuple[str, np.ndarray]]:
        """Some of the heights, and where on their longest lines they are written. [mm]"""
        names = [self.mm(place) for _, place in self._names]
        heights = sorted({height for height, _ in self._contours})
        every = max(1, -(-len(heights) // _HEIGHTS_NAMED))
        named = []
        for height in heights[every // 2 :: every]:
            lines = [shapely.linestrings(xy) for h, xy in self._contours if h == height]
            longest = max(lines, key=lambda line: line.length)
            if longest.length >= _NAMED_FROM_MM:
                place = longest.interpolate(_NAMED_AT, normalized=True)
                at = np.array([place.x, place.y])
                if all(np.hypot(*(at - name)) > _NAMED_APART_MM for name in names):
                    named.append((f"{height:.6g}", at))
        return named

    def draw_under(self, pen: Pen, middle) -> None:
        """What rows lie on: strips kept clear, exclusions, contours. `middle` is the window's. [mm]"""
        for rings in self._clear:
            pen.area(_moved(rings, middle), "kept clear")
        for water, part in self._shapes:
            if part.geom_type == "Polygon":
                fill, edge = ("water fill", "water") if water else ("exclusion", "soft")
                pen.area(_moved(self._rings(part), middle), fill, edge, 0.2)
        for _, line in self._contours:
            pen.path(line + middle, "contour", 0.18)

    def draw_over(self, pen: Pen, middle) -> None:
        """What lies on rows: lines and points to keep away from, outlines, heights, names."""
        for _, part in self._shapes:
            if part.geom_type in ("LineString", "LinearRing"):
                xy = self.mm(shapely.get_coordinates(part)) + middle
                pen.path(xy, "soft", 0.3, dash=(1.6, 0.9))
            elif part.geom_type == "Point":
                x, y = (self.mm(shapely.get_coordinates(part))[0] + middle).tolist()
                pen.dot(x, y, 0.7, "soft")
        for rings in self._outlines:
            pen.area(_moved(rings, middle), None, "ink", 0.3)
        for text, place in self._heights:
            draw_label(pen, text, place + middle, "sans", 6.5, "contour words")
        for name, place in self._names:
            draw_label(pen, name, self.mm(place) + middle, "sans strong", 7.5, "ink")


def _moved(rings, by):
    return [ring + by for ring in rings]


def draw_label(pen: Pen, text: str, place, face: str, size: float, colour: str) -> None:
    """Words on a white ground, their middle at a place."""
    x, y = place.tolist()
    wide, high = pen.width_of_mm(text, face, size), 0.27 * size
    pen.area(box(x - wide / 2 - 0.6, y - high, wide + 1.2, 2 * high), "white")
    pen.text(x, y + 0.127 * size, text, face, size, "centre", colour)


def name_place(outline) -> np.ndarray:
    """Where a block's name has most room. [m]"""
    return shapely.get_coordinates(shapely.maximum_inscribed_circle(outline, tolerance=1.0))[0]


def draw_north_and_scale(
    pen: Pen, x: float, top: float, bar_label: str, bar_mm: float, scale_words: str
) -> float:
    """North arrow, scale bar and scale side by side; returns where they end. [mm]"""
    middle = top + 7.5
    x += 3
    pen.area([[(x, top + 3), (x + 2.2, top + 12), (x, top + 9.6), (x - 2.2, top + 12)]], "ink")
    pen.text(x + 4, middle + 1, "True north", "sans", 7.5)
    x += 4 + pen.width_of_mm("True north", size=7.5) + 7
    half = bar_mm / 2
    pen.area(box(x, middle - 0.8, half, 1.6), "ink", "ink", 0.2)
    pen.area(box(x + half, middle - 0.8, half, 1.6), "white", "ink", 0.2)
    pen.text(x + 2 * half + 2, middle + 1, bar_label, "sans", 7.5)
    x += 2 * half + 2 + pen.width_of_mm(bar_label, size=7.5) + 7
    pen.text(x, middle + 1, scale_words, "sans strong", 9)
    return x + pen.width_of_mm(scale_words, "sans strong", 9)


def box(x, y, wide, high):
    """A rectangle as rings of an area. [mm]"""
    return [[(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]]
