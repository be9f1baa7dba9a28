"""Lines of equal height on plane triangles, exactly."""

from __future__ import annotations

import numpy as np
import shapely


def triangles_in(points_m, triangles, bounds_m) -> np.ndarray:
    """Those of the triangles whose own box meets a box, int (t, 3)."""
    x0, y0, x1, y1 = bounds_m
    xy = points_m[:, :2][triangles]
    near = (xy.max(axis=1) >= (x0, y0)) & (xy.min(axis=1) <= (x1, y1))
    return triangles[near.all(axis=1)]


def triangle_contours(points_m, triangles, levels_m, bounds_m) -> list[tuple[float, np.ndarray]]:
    """Contours of triangles, joined from one triangle to the next, cut to a box.

    A corner exactly at a level counts as above it: a level plain is drawn round and not across, and
    a ridge that only touches a level is not drawn.

    Parameters
    ----------
    points_m : float array, shape (n, 3)
        [m]
    triangles : int array, shape (t, 3)
    levels_m : float array, shape (k,)
        Rising. [m]
    bounds_m : (x0, y0, x1, y1)
        [m]

    Returns
    -------
    list of (height_m, float array (n, 2))
    """
    corners = triangles_in(points_m, triangles, bounds_m)
    z = points_m[:, 2][corners]
    first = np.searchsorted(levels_m, z.min(axis=1), "right")
    count = np.maximum(np.searchsorted(levels_m, z.max(axis=1), "right") - first, 0)
    of = np.repeat(np.arange(len(corners)), count)
    if not len(of):
        return []
    level = first[of] + np.arange(len(of)) - np.repeat(np.cumsum(count) - count, count)
    corners, above = corners[of], z[of] >= levels_m[level, None]
    # The corner that is alone above or below: the line crosses the two sides that meet in it.
    alone = np.where(above.sum(axis=1) == 1, above.argmax(axis=1), above.argmin(axis=1))
    every = np.arange(len(of))
    tip = corners[every, alone]
    ends = [
        _crossing(points_m, tip, corners[every, (alone + k) % 3], levels_m[level]) for k in (1, 2)
    ]
    pieces = np.stack(ends, axis=1)
    real = (pieces[:, 0] != pieces[:, 1]).any(axis=1)
    real &= ~_met_twice(corners, z[of] == levels_m[level, None], above, len(points_m))
    return _joined(pieces[real], level[real], levels_m, bounds_m)


def _crossing(points_m, a, b, level_m) -> np.ndarray:
    """Where sides from a to b are at a level: the same numbers from both triangles of a side."""
    low = np.where(points_m[a, 2] < points_m[b, 2], a, b)
    high = a + b - low
    p, q = points_m[low], points_m[high]
    share = (level_m - p[:, 2]) / (q[:, 2] - p[:, 2])
    at = p[:, :2] + share[:, None] * (q[:, :2] - p[:, :2])
    return np.where((level_m >= q[:, 2])[:, None], q[:, :2], at)


def _met_twice(corners, at_level, above, n_points: int) -> np.ndarray:
    """Pieces along a side at a level with lower ground on both hands: they come from both triangles."""
    along = (at_level.sum(axis=1) == 2) & (above.sum(axis=1) == 2)
    side = np.sort(corners[along][at_level[along]].reshape(-1, 2), axis=1)
    _, which, times = np.unique(side @ (n_points, 1), return_inverse=True, return_counts=True)
    twice = np.zeros(len(corners), dtype=bool)
    twice[along] = times[which] > 1
    return twice


def _joined(pieces, level, levels_m, bounds_m) -> list[tuple[float, np.ndarray]]:
    if not len(pieces):
        return []
    order = np.argsort(level, kind="stable")
    level = level[order]
    present, group = np.unique(level, return_inverse=True)
    merged = shapely.line_merge(
        shapely.multilinestrings(shapely.linestrings(pieces[order]), indices=group)
    )
    lines, owner = shapely.get_parts(merged, return_index=True)
    inside = shapely.clip_by_rect(lines, *bounds_m)
    lines, again = shapely.get_parts(inside, return_index=True)
    owner = owner[again]
    xy, line = shapely.get_coordinates(lines, return_index=True)
    parts = np.split(xy, np.flatnonzero(np.diff(line)) + 1)
    heights = levels_m[present[owner]].tolist()
    return [(h, p) for h, p in zip(heights, parts, strict=True) if len(p) > 1] if len(xy) else []
