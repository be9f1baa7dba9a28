"""What there is to draw, apart from how: layers of shapes and arrays, each with a role.

The canvas, sheets and thumbnails are back ends of this one description.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import shapely

from ..core.layout.looking import segments_within, vines_within
from .layouts import LayoutAnswer
from .special_rows import left_out_ends_m


@dataclass(frozen=True, eq=False)
class Area:
    """A polygon of a role: "block", "clear", "kept clear", "water", "exclusion"."""

    role: str
    rings_m: tuple[np.ndarray, ...]


@dataclass(frozen=True, eq=False)
class Line:
    """A line of a role: "outline", "exclusion line", "danger line", "guide"."""

    role: str
    xy_m: np.ndarray
    closed: bool


@dataclass(frozen=True, eq=False)
class Spots:
    """Points of a role: "exclusion point", "gap", "alley"."""

    role: str
    xy_m: np.ndarray


@dataclass(frozen=True, eq=False)
class Drawing:
    """Everything of one layout answer, ready for a back end; rows stay in the plans.

    `left_out_m` has both ends of every row that is left out, (k, 2, 2). [m]
    """

    answer: LayoutAnswer
    areas: tuple[Area, ...]
    lines: tuple[Line, ...]
    spots: tuple[Spots, ...]
    left_out_m: np.ndarray = field(default_factory=lambda: np.empty((0, 2, 2)))

    @property
    def bounds_m(self) -> tuple[float, float, float, float]:
        """Of all outlines. [m]"""
        return tuple(shapely.total_bounds([b.outline for b in self.answer.project.blocks]))

    @property
    def row_spacing_m(self) -> float:
        """The least between two rows drawn. [m]"""
        return min((p.rules.row_spacing_m for p in self.answer.plans), default=1.0)

    def rows_within(self, bounds_m) -> np.ndarray:
        """Rows in a window as straight pieces, (n, 2, 2); curved ones are many. [m]"""
        parts = [_pieces(p, segments_within(p, bounds_m)) for p in self.answer.plans]
        return np.concatenate(parts) if parts else np.empty((0, 2, 2))

    def row_lines(self, places) -> np.ndarray:
        """Rows told by plan and segment, as straight pieces, (n, 2, 2). [m]"""
        parts = [np.empty((0, 2, 2))]
        for p, plan in enumerate(self.answer.plans):
            which = [s for q, s in places if q == p and s < plan.n_segments]
            if which:
                parts.append(_pieces(plan, np.array(which)))
        return np.concatenate(parts)

    def vines_within(self, bounds_m) -> np.ndarray:
        """Vines in a window, (n, 2). [m]"""
        parts = [vines_within(p, bounds_m) for p in self.answer.plans]
        return np.concatenate(parts) if parts else np.empty((0, 2))

    def marks_within(self, kind: str, bounds_m) -> np.ndarray:
        """End posts, line posts or anchors in a window, (n, 2). [m]"""
        x0, y0, x1, y1 = bounds_m
        parts = [getattr(p, kind).xy_m for p in self.answer.plans]
        xy = np.concatenate(parts) if parts else np.empty((0, 2))
        seen = (xy[:, 0] >= x0) & (xy[:, 0] <= x1) & (xy[:, 1] >= y0) & (xy[:, 1] <= y1)
        return xy[seen]


def _pieces(plan, which: np.ndarray) -> np.ndarray:
    if plan.course is None:
        return plan.segment_ends_m[which]
    xy, count = plan.paths
    owner = np.repeat(np.arange(len(count)), count)
    joined = (owner[1:] == owner[:-1]) & np.isin(owner[1:], which)
    return np.stack([xy[:-1][joined], xy[1:][joined]], axis=1)


def points_near_other_blocks(
    drawing: Drawing, plan, xy_m: np.ndarray, reach_m: float
) -> np.ndarray:
    """Whether points lie on, or within reach of, the outline of a block other than the plan's."""
    near = np.zeros(len(xy_m), dtype=bool)
    points = shapely.points(xy_m)
    for block in drawing.answer.project.blocks:
        if block is not plan.block:
            near |= shapely.dwithin(block.outline, points, reach_m)
    return near


WATERS = ("pond", "water", "watercourse", "stream", "dam", "lake")
DANGERS = ("overhead line", "buried service")


def _rings(shape) -> list[tuple[np.ndarray, ...]]:
    return [
        tuple(shapely.get_coordinates(ring) for ring in shapely.get_rings(part))
        for part in shapely.get_parts(shape)
        if part.geom_type == "Polygon" and not part.is_empty
    ]


def drawing_of(answer: LayoutAnswer) -> Drawing:
    """The description of a layout answer."""
    areas, lines, spots = [], [], []
    for block in answer.project.blocks:
        rings = tuple(shapely.get_coordinates(r) for r in shapely.get_rings(block.outline))
        areas.append(Area("block", rings))
        lines += [Line("outline", ring, True) for ring in rings]
    for strips in answer.strips:
        areas += [Area("clear", rings) for rings in _rings(strips)]
    if answer.kept_clear is not None:
        areas += [Area("kept clear", rings) for rings in _rings(answer.kept_clear)]
    for exclusion in answer.project.exclusions:
        role = "water" if exclusion.kind in WATERS else "exclusion"
        areas += [Area(role, rings) for rings in _rings(exclusion.shape)]
        for part in shapely.get_parts(exclusion.shape):
            coords = shapely.get_coordinates(part)
            if part.geom_type == "LineString":
                danger = exclusion.kind in DANGERS
                lines.append(Line("danger line" if danger else "exclusion line", coords, False))
            elif part.geom_type == "Point":
                spots.append(Spots("exclusion point", coords))
    for plan in answer.plans:
        if len(plan.gaps_m):
            spots.append(Spots("gap", plan.gaps_m))
        if plan.block.guide is not None:
            guide = plan.course.guide.xy_m[1:-1] if plan.course else plan.block.guide.points_m
            lines.append(Line("guide", np.asarray(guide), False))
        if plan.rules.alleys:
            places = np.array([(a.x_m, a.y_m) for a in plan.rules.alleys])
            spots.append(Spots("alley", places))
    left_out = [left_out_ends_m(plan) for plan in answer.plans]
    left_out_m = np.concatenate([np.empty((0, 2, 2)), *left_out])
    return Drawing(answer, tuple(areas), tuple(lines), tuple(spots), left_out_m)
