"""The plans of a comparison on one page: every candidate on the same ground at the same scale."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.layout.clearances import kept_clear_by
from .compareset import CompareSet
from .pdf_pen import Pen

TILE_HEAD_MM = 10.0
"""Of a candidate's name and figures over its plan. [mm]"""
STRIP_MM = 14.0
"""Of north arrow, scale bar and scale with words beside them. [mm]"""
TALL_STRIP_MM = 24.0
"""The same with the words below, on paper too narrow to have them beside. [mm]"""
_BESIDE_FROM_MM = 250.0
_CONTOURS_BEYOND_MM = 3.0
"""Contours end so far outside the outlines."""
_WATERS = ("pond", "water", "watercourse", "stream", "dam", "lake")


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
                pen.area(_box(left, top, window.width_mm, window.height_mm), None, "hairline", 0.2)
        if compare.problems[i]:
            lines = pen.broken(compare.problems[i], "sans", 8, wide - 4)
            pen.text_lines(x + 2, y + 5, lines, "sans", 8, 3.6, "accent")
        edge = "accent" if i == compare.study.base else "hairline"
        pen.area(_box(x, y, wide, high), None, edge, 0.25)
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
    """What is the same under every candidate, in millimetres about the middle of a window."""

    def __init__(self, compare: CompareSet, paper, window):
        self._scale = 1000.0 / paper.ratio
        self._centre = np.array(window.centre_m)
        self._every = paper.one_in
        self._of = window.blocks
        project = compare.project
        all_blocks = compare.study.blocks_of(project.blocks)
        blocks = [all_blocks[i] for i in window.blocks]
        self._outlines = [self._rings(b.outline) for b in blocks]
        self._names = [(b.name, _name_place(b.outline)) for b in blocks if len(all_blocks) > 1]
        exclusions = project.exclusions
        clear = kept_clear_by(exclusions, 12) if exclusions else None
        self._contours = self._cut_contours(compare.contours, [b.outline for b in blocks])
        self._heights = self._labelled_heights()
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
                    found.append((float(line[0, 2]), self._mm(xy)))
        return found

    def _labelled_heights(self) -> list[tuple[str, np.ndarray]]:
        """Some of the heights, and where on their longest lines they are written. [mm]"""
        names = [self._mm(place) for _, place in self._names]
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

    def draw(self, pen: Pen, tile, plans) -> None:
        """The ground and one candidate's rows in a window."""
        middle = np.array([tile[0] + tile[2] / 2, tile[1] + tile[3] / 2])

        def moved(rings):
            return [ring + middle for ring in rings]

        for rings in self._clear:
            pen.area(moved(rings), "kept clear")
        for water, part in self._shapes:
            if part.geom_type == "Polygon":
                fill, edge = ("water fill", "water") if water else ("exclusion", "soft")
                pen.area(moved(self._rings(part)), fill, edge, 0.2)
        for _, line in self._contours:
            pen.path(line + middle, "contour", 0.18)
        for i in self._of if plans else ():
            self._draw_rows(pen, plans[i], middle)
        for _, part in self._shapes:
            if part.geom_type in ("LineString", "LinearRing"):
                xy = self._mm(shapely.get_coordinates(part)) + middle
                pen.path(xy, "soft", 0.3, dash=(1.6, 0.9))
            elif part.geom_type == "Point":
                x, y = (self._mm(shapely.get_coordinates(part))[0] + middle).tolist()
                pen.dot(x, y, 0.7, "soft")
        for rings in self._outlines:
            pen.area(moved(rings), None, "ink", 0.3)
        for text, place in self._heights:
            _draw_label(pen, text, place + middle, "sans", 6.5, "contour words")
        for name, place in self._names:
            _draw_label(pen, name, self._mm(place) + middle, "sans strong", 7.5, "ink")

    def _draw_rows(self, pen: Pen, plan, middle) -> None:
        """Rows as lines, so many of them that they do not run together."""
        drawn = plan.segments.line % self._every == 0
        if plan.course is None:
            pen.lines(self._mm(plan.segment_ends_m[drawn]) + middle, "row", _ROW_LINE_MM)
            return
        xy, count = plan.paths
        paths = np.split(self._mm(xy) + middle, np.cumsum(count)[:-1])
        for path, own in zip(paths, drawn.tolist(), strict=True):
            if own and len(path) > 1:
                pen.path(path, "row", _ROW_LINE_MM)


_ROW_LINE_MM = 0.18
_HEIGHTS_NAMED, _NAMED_FROM_MM, _NAMED_AT, _NAMED_APART_MM = 4, 18.0, 0.3, 7.0


def _draw_label(pen: Pen, text: str, place, face: str, size: float, colour: str) -> None:
    """Words on a white ground, their middle at a place."""
    x, y = place.tolist()
    wide, high = pen.width_of_mm(text, face, size), 0.27 * size
    pen.area(_box(x - wide / 2 - 0.6, y - high, wide + 1.2, 2 * high), "white")
    pen.text(x, y + 0.127 * size, text, face, size, "centre", colour)


def _name_place(outline) -> np.ndarray:
    return shapely.get_coordinates(shapely.maximum_inscribed_circle(outline, tolerance=1.0))[0]


def _draw_strip(pen: Pen, compare: CompareSet, paper) -> None:
    """North arrow, scale bar, scale, and what is to be known to read the plans."""
    x0, top, wide, _ = paper.strip
    x, middle = x0 + 3, top + 7.5
    pen.area([[(x, top + 3), (x + 2.2, top + 12), (x, top + 9.6), (x - 2.2, top + 12)]], "ink")
    pen.text(x + 4, middle + 1, "True north", "sans", 7.5)
    x += 4 + pen.width_of_mm("True north", size=7.5) + 7
    half = paper.bar_mm / 2
    pen.area(_box(x, middle - 0.8, half, 1.6), "ink", "ink", 0.2)
    pen.area(_box(x + half, middle - 0.8, half, 1.6), "white", "ink", 0.2)
    pen.text(x + 2 * half + 2, middle + 1, paper.bar_label, "sans", 7.5)
    x += 2 * half + 2 + pen.width_of_mm(paper.bar_label, size=7.5) + 7
    pen.text(x, middle + 1, paper.scale_words, "sans strong", 9)
    x += pen.width_of_mm(paper.scale_words, "sans strong", 9) + 8
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


def _box(x, y, wide, high):
    return [[(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]]
