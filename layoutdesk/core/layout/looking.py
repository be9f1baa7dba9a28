"""Looking into a plan: what lies in a window, what is at a point."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import shapely

from ..geometry.edges import ring_edges
from ..geometry.scanline import RIM_M
from ..geometry.stationing import points_along
from ..model import RowPlan
from ..model.rowplan import Special


def _window_in_axes(plan: RowPlan, bounds_m) -> tuple[float, float, float, float]:
    x0, y0, x1, y1 = bounds_m
    corners = plan.axes.to_axes(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]))
    (u0, v0), (u1, v1) = corners.min(axis=0), corners.max(axis=0)
    return float(u0), float(v0), float(u1), float(v1)


def segments_within(plan: RowPlan, bounds_m) -> np.ndarray:
    """Segments that may be seen in a window (x0, y0, x1, y1) of the site frame, as indices. [m]"""
    if plan.course is not None or plan.measured_ends_m is not None:
        return np.sort(plan.tree.query(shapely.box(*bounds_m)))
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
    if plan.course is not None or plan.measured_ends_m is not None:
        xy = _part(plan, which).vines.xy_m
        x0, y0, x1, y1 = bounds_m
        return xy[(xy[:, 0] >= x0) & (xy[:, 0] <= x1) & (xy[:, 1] >= y0) & (xy[:, 1] <= y1)]
    u0, _, u1, _ = _window_in_axes(plan, bounds_m)
    s = plan.segments
    first, step = s.start_m[which] + s.first_vine_m[which], s.vine_step_m[which]
    n = s.n_vines[which]
    low = np.clip(np.ceil((u0 - first) / step), 0, n).astype(np.int64)
    high = np.clip(np.floor((u1 - first) / step) + 1, 0, n).astype(np.int64)
    count = np.maximum(high - low, 0)
    start = plan.segment_ends_m[which, 0]
    xy = points_along(start, plan.axes.unit_along, s.first_vine_m[which] + low * step, step, count)
    return _with_special(plan, which, low, count, xy)


def _part(plan: RowPlan, which: np.ndarray) -> RowPlan:
    """The plan with some of its segments, those of `which` in order."""
    place = np.full(plan.n_segments, -1)
    place[which] = np.arange(len(which))
    special = {}
    for prefix in ("gap", "added", "post"):
        segment = place[getattr(plan.special, f"{prefix}_segment")]
        for f in fields(plan.special):
            if f.name.startswith(prefix):
                special[f.name] = getattr(plan.special, f.name)[segment >= 0]
        special[f"{prefix}_segment"] = segment[segment >= 0]
    measured = None if plan.measured_ends_m is None else plan.measured_ends_m[which]
    return replace(
        plan,
        segments=plan.segments.taken(which),
        special=Special(**special),
        measured_ends_m=measured,
    )


def _with_special(plan: RowPlan, which, low, count, xy) -> np.ndarray:
    """Vines in a window, less those left out and with those added."""
    special = plan.special
    if not len(special.gap_segment) and not len(special.added_segment):
        return xy
    place = np.full(plan.n_segments, -1)
    place[which] = np.arange(len(which))
    at = place[special.gap_segment]
    index = special.gap_index - 1 - low[at]
    seen = (at >= 0) & (index >= 0) & (index < count[at])
    begin = np.cumsum(count) - count
    xy = np.delete(xy, begin[at[seen]] + index[seen], axis=0)
    more = place[special.added_segment] >= 0
    added = plan.places(special.added_segment[more], special.added_along_m[more])
    return np.concatenate([xy, added])


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
    at, outward = plan.segment_ends_m[segments, end], plan.outward[segments, end]
    edges = ring_edges(plan.block.outline)
    step = edges.end_m - edges.start_m
    # at + t outward = start + q step, for every row end and edge
    x, y = outward[:, :1], outward[:, 1:]
    cross = x * step[:, 1] - y * step[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        gap = edges.start_m[None] - at[:, None]
        t = (gap[..., 0] * step[:, 1] - gap[..., 1] * step[:, 0]) / cross
        q = (gap[..., 0] * y - gap[..., 1] * x) / cross
    t = np.where((q >= 0) & (q <= 1) & (t >= -RIM_M), t, np.inf)
    nearest = np.argmin(t, axis=1)
    room = t[np.arange(len(at)), nearest]
    room = np.where(room <= most_m, np.maximum(room, 0.0), np.nan)
    along = step[nearest] / np.hypot(*step[nearest].T)[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]])  # the area lies on an edge's left
    return room, at + room[:, None] * outward, normal


def segment_at(plan: RowPlan, x_m: float, y_m: float, reach_m: float) -> int | None:
    """The segment nearest to a point, None where none is within reach."""
    if not plan.n_segments:
        return None
    near = plan.tree.query_nearest(shapely.Point(x_m, y_m), max_distance=reach_m, all_matches=False)
    return int(near[0]) if len(near) else None
