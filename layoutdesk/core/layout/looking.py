"""Looking into a plan: what lies in a window, what is at a point."""

from __future__ import annotations

import numpy as np

from ..geometry.edges import ring_edges
from ..geometry.scanline import RIM_M
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


def way_out(plan: RowPlan, segments: np.ndarray, end: int, most_m: float):
    """Where rows, run on beyond their ends, leave the outline.

    Parameters
    ----------
    segments : int array, shape (k,)
    end : int
        0 for the start end, 1 for the far end.
    most_m : float
        Farthest that is looked. [m]

    Returns
    -------
    room_m : float array, shape (k,)
        From the end post to the outline; NaN where it is farther than `most_m`. [m]
    place_m, normal : float array, shape (k, 2)
        Where the row leaves, and the outline's direction outward there. [m], [1]
    """
    at = plan.segment_ends_m[segments, end]
    outward = np.array(plan.axes.unit_along) * (1.0 if end else -1.0)
    edges = ring_edges(plan.block.outline)
    step = edges.end_m - edges.start_m
    # at + t outward = start + q step, for every row end and edge
    cross = outward[0] * step[:, 1] - outward[1] * step[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = edges.start_m[None] - at[:, None]
        t = (gap[..., 0] * step[:, 1] - gap[..., 1] * step[:, 0]) / cross
        q = (gap[..., 0] * outward[1] - gap[..., 1] * outward[0]) / cross
    t = np.where((q >= 0) & (q <= 1) & (t >= -RIM_M), t, np.inf)
    nearest = np.argmin(t, axis=1)
    room = t[np.arange(len(at)), nearest]
    room = np.where(room <= most_m, np.maximum(room, 0.0), np.nan)
    along = step[nearest] / np.hypot(*step[nearest].T)[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]])  # the area lies on an edge's left
    return room, at + room[:, None] * outward, normal


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
