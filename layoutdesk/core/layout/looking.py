"""Looking into a plan: what lies in a window, what is at a point."""

from __future__ import annotations

import numpy as np
import shapely

from ..geometry.stationing import points_along
from ..model import RowPlan


def _window_in_axes(plan: RowPlan, bounds_m) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = bounds_m
    corners = plan.axes.to_axes(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    (u0, v0), (u1, v1) = corners.min(axis=0), corners.max(axis=0)
    return float(u0), float(v0), float(u1), float(v1)


def segments_within(plan: RowPlan, bounds_m) -> np.ndarray:
    """Segments that may be seen in a window (x0, y0, x1, y1) of the site frame, as indices. [m]"""
    u0, v0, u1, v1 = _window_in_axes(plan, bounds_m)
    s = plan.segments
    return np.flatnonzero(
        (s.across_m >= v0) & (s.across_m <= v1) & (s.end_m >= u0) & (s.start_m <= u1)
    )


def vines_within(plan: RowPlan, bounds_m) -> np.ndarray:
    """Vines that may be seen in a window, (n, 2), without making those of the rest. [m]"""
    which = segments_within(plan, bounds_m)
    if not len(which):
        return np.empty((0, 2))
    u0, _, u1, _ = _window_in_axes(plan, bounds_m)
    s = plan.segments
    first, step = s.start_m[which] + s.first_vine_m[which], s.vine_step_m[which]
    n = s.n_vines[which]
    low = np.clip(np.ceil((u0 - first) / step), 0, n).astype(np.int64)
    high = np.clip(np.floor((u1 - first) / step) + 1, 0, n).astype(np.int64)
    count = np.maximum(high - low, 0)
    start = plan.segment_ends_m[which, 0]
    return points_along(
        start, plan.axes.unit_along, s.first_vine_m[which] + low * step, step, count
    )


def room_beyond_m(plan: RowPlan, segments: np.ndarray, end: int, most_m: float) -> np.ndarray:
    """From row ends outward along the row to the outline, `most_m` where it is farther. [m]

    `end` is 0 for the start end, 1 for the far end.
    """
    at = plan.segment_ends_m[segments, end]
    outward = np.array(plan.axes.unit_along) * (most_m if end else -most_m)
    ways = shapely.linestrings(np.stack([at, at + outward], axis=1))
    met = shapely.intersection(ways, shapely.boundary(plan.block.outline))
    room = shapely.distance(shapely.points(at), met)
    return np.where(np.isfinite(room), room, most_m)


def segment_at(plan: RowPlan, x_m: float, y_m: float, reach_m: float) -> int | None:
    """The segment nearest to a point, None where none is within reach."""
    s = plan.segments
    if not len(s):
        return None
    u, v = plan.axes.to_axes(np.array([x_m, y_m]))
    beside = np.maximum(np.maximum(s.start_m - u, u - s.end_m), 0.0)
    away = np.hypot(beside, s.across_m - v)
    nearest = int(np.argmin(away))
    return nearest if away[nearest] <= reach_m else None
