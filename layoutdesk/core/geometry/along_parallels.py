"""Parallels clipped to an area, and places along them."""

from __future__ import annotations

import numpy as np
import shapely

from .parallels import APART_M, Lines, fresh, located
from .scanline import FLAT_RUN_M, RIM_M, TOUCH_M, Pieces


def clipped(lines: Lines, area, rim_m: float = RIM_M) -> Pieces:
    """Pieces of every line inside an area, which is closed, by line, then station.

    Ends are exact. Pieces no more than twice `rim_m` apart are one, and so are those between which
    only a corner stands into the line by no more than `rim_m`. A run of more than FLAT_RUN_M along
    the rim, within `rim_m` of it and past a corner of the area, counts as in the area, so a
    line along an edge is on it whatever rounding says; one that crosses an edge is clipped there.

    Parameters
    ----------
    lines : Lines
    area : shapely.Polygon or shapely.MultiPolygon
    rim_m : float
        [m]
    """
    shapes, line, begin = lines.parts()
    length = shapely.length(shapes)
    origin = np.r_[0.0, np.cumsum(length + APART_M)][: len(shapes)]
    start, end = _joined(*_inside(shapes, origin, area), 2 * rim_m)
    corners = shapely.points(np.unique(shapely.get_coordinates(area), axis=0))
    discs = shapely.buffer(shapely.multipoints(corners), 1.1 * rim_m)
    shapely.prepare(discs)  # few lines pass a corner: the quick question first
    passing = np.flatnonzero(shapely.intersects(discs, shapes))
    part, near = shapely.STRtree(corners).query(
        shapes[passing], predicate="dwithin", distance=rim_m
    )
    part = passing[part]
    if len(part):
        place = np.sort(shapely.line_locate_point(shapes[part], corners[near]) + origin[part])
        some = np.unique(part)
        around = _inside(shapes[some], origin[some], shapely.buffer(area, rim_m))
        start, end = _with_runs(start, end, *_joined(*around, 2 * rim_m), place, rim_m)
        start, end = _joined(start, end, 2 * rim_m)
    part = np.searchsorted(origin, start + APART_M / 2, "right") - 1
    low = np.clip(start - origin[part], 0.0, length[part]) + begin[part]
    high = np.clip(end - origin[part], 0.0, length[part]) + begin[part]
    return Pieces(line[part], low, high)


def _inside(shapes, origin, area):
    """What of each shape lies in the area, as running stations from and to."""
    bits, owner = shapely.get_parts(shapely.intersection(shapes, area), return_index=True)
    keep = (shapely.get_type_id(bits) == 1) & (shapely.length(bits) > 0)
    bits, owner = bits[keep], owner[keep]
    start, end, _ = located(bits, shapes[owner])
    return start + origin[owner], end + origin[owner]


def _joined(start, end, gap_m: float):
    """Intervals no more than `gap_m` apart joined, those without length gone, sorted."""
    order = np.argsort(start)
    start, reach = start[order], np.maximum.accumulate(end[order])
    fresh = np.r_[True, start[1:] - reach[:-1] > gap_m][: len(start)]
    last = np.r_[fresh[1:], True][: len(start)]
    start, reach = start[fresh], reach[last]
    long = reach - start > TOUCH_M
    return start[long], reach[long]


def _with_runs(start, end, low, high, corner, rim_m: float):
    """Intervals with the gaps and long runs at corners added that lie in a wider interval."""

    def corners_between(a, b):
        after = np.searchsorted(corner, a - rim_m)
        return np.searchsorted(corner, b + rim_m, "right") - after

    def at_corner(s):
        # A run ends where the area turns away, not where its widened rim does.
        i = np.clip(np.searchsorted(corner, s), 1, max(len(corner) - 1, 1))
        for c in (corner[i - 1], corner[np.minimum(i, len(corner) - 1)]):
            s = np.where(np.abs(s - c) <= 2 * rim_m, c, s)
        return s

    def runs(a, b):
        return (b - a > FLAT_RUN_M) & (corners_between(a, b) > 0)

    wide = np.searchsorted(low, start + TOUCH_M, "right") - 1  # the wider interval of each
    inside = (wide >= 0) & (start < high[wide]) if len(low) else np.zeros(len(start), bool)
    own, owner = np.flatnonzero(inside), wide[inside]
    new = fresh(owner)
    first, last = own[new], own[np.r_[new[1:], True][: len(own)]]
    around = owner[new]
    reach_low, reach_high = at_corner(low), at_corner(high)
    bare = np.setdiff1d(np.arange(len(low)), around)
    bare = bare[runs(low[bare], high[bare])]
    lead, trail = runs(low[around], start[first]), runs(end[last], high[around])
    joined_from = np.where(lead, reach_low[around], start[first])
    joined_to = np.where(trail, reach_high[around], end[last])
    return (
        np.r_[start[~inside], joined_from, reach_low[bare]],
        np.r_[end[~inside], joined_to, reach_high[bare]],
    )


def _checked(lines: Lines, line_index) -> np.ndarray:
    line = np.asarray(line_index, dtype=np.intp)
    if len(line) and not (np.diff(lines.first)[line] > 0).all():
        raise ValueError("line_index: nothing is left of a line that a place is asked on")
    return line


def places_at(lines: Lines, line_index, station_m) -> np.ndarray:
    """Places on lines at stations; beyond its ends a line goes on straight.

    Parameters
    ----------
    lines : Lines
    line_index : int array, shape (n,)
    station_m : float array, shape (n,)
        [m]

    Returns
    -------
    float array, shape (n, 2)
        [m]

    Raises
    ------
    ValueError
        Where nothing was left of a line.

    Examples
    --------
    >>> from layoutdesk.core.geometry.curves import guide_curve
    >>> from layoutdesk.core.geometry.parallels import offset_lines
    >>> lines = offset_lines(guide_curve([(0, 0), (0, 10)]), [-1.0, 2.0])
    >>> places_at(lines, [0, 1, 1], [4.0, 0.0, 12.0]).tolist()
    [[-1.0, 4.0], [2.0, 0.0], [2.0, 12.0]]
    """
    line = _checked(lines, line_index)
    station = np.asarray(station_m, dtype=float)
    on = np.clip(station, 0.0, lines.length_m[line])
    running = on + lines.origin_m[line]
    out = np.empty((len(line), 2))
    for axis in (0, 1) if len(line) else ():
        out[:, axis] = np.interp(running, lines.running_m, lines.xy_m[:, axis])
    beyond = np.flatnonzero(on != station)
    if len(beyond):
        unit = directions_at(lines, line[beyond], on[beyond])
        out[beyond] += unit * (station - on)[beyond, None]
    return out


def directions_at(lines: Lines, line_index, station_m) -> np.ndarray:
    """Unit vectors along travel: of the edge a station lies on, at a vertex of the one after it.

    Same arguments, shape and errors as `places_at`.
    """
    line = _checked(lines, line_index)
    running = np.asarray(station_m, dtype=float) + lines.origin_m[line]
    at = np.searchsorted(lines.running_m, running, "right") - 1
    at = np.clip(at, lines.first[line], lines.first[line + 1] - 2)
    step = lines.xy_m[at + 1] - lines.xy_m[at]
    return step / np.hypot(*step.T)[:, None]
