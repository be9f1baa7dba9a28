"""Lines that run parallel to a curve: offsets, stations along them, clipping to an area.

A curve is carried as vertices dense enough, with the normal at each; an offset moves every vertex
along its normal, so parallels keep their vertices and their stations are lengths of chords.
Offsets are positive to the right of travel. Stations of a line count from its own start.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from .scanline import FLAT_RUN_M, RIM_M, TOUCH_M, Pieces

MOST_TURN_DEG = 150.0
"""A line may turn less than this at a corner; a mitre is then less than 3.9 long. [deg]"""

_SHORTEST_M = 1e-8  # edges of a parallel; less is lost in running stations of thousands of lines
_APART_M = 1.0  # between the end of one line and the start of the next in running stations


@dataclass(frozen=True, eq=False)
class Curve:
    """A line to run parallel to.

    Attributes
    ----------
    xy_m : float array, shape (m, 2)
        [m]
    normal : float array, shape (m, 2)
        Unit normals, to the right of travel; halfway between both edges at a drawn corner.
    station_m : float array, shape (m,)
        Length from the start. [m]
    curvature : float array, shape (m,)
        Positive where the line turns right; at a joint the stronger of both sides; at a drawn
        corner its turn shared over half of both edges. [1/m]
    mitre : float array, shape (m,)
        How far along the normal a parallel moves for one metre of offset: above 1 at drawn corners.
    """

    xy_m: np.ndarray
    normal: np.ndarray
    station_m: np.ndarray
    curvature: np.ndarray
    mitre: np.ndarray

    @property
    def length_m(self) -> float:
        return float(self.station_m[-1])

    @property
    def ray(self) -> np.ndarray:
        """(m, 2): the step of each vertex for one metre of offset."""
        return self.normal * self.mitre[:, None]


@dataclass(frozen=True, eq=False)
class Lines:
    """Parallels of a curve, all vertices in one array, line after line.

    Attributes
    ----------
    across_m : float array, shape (k,)
        Offset of each line. [m]
    xy_m : float array, shape (N, 2)
        [m]
    first : int array, shape (k + 1,)
        Line i has the vertices first[i] to first[i + 1]; none where nothing of it was left.
    station_m : float array, shape (N,)
        Length along the line from its start; a gap counts as its straight chord. [m]
    part : int array, shape (N,)
        0, 1, … within each line; a new part begins after a gap.
    folded : bool array, shape (k,)
        Whether something was cut out because it came nearer to the curve than the offset.
    """

    across_m: np.ndarray
    xy_m: np.ndarray
    first: np.ndarray
    station_m: np.ndarray
    part: np.ndarray
    folded: np.ndarray

    def __len__(self) -> int:
        return len(self.across_m)

    @property
    def line(self) -> np.ndarray:
        """(N,): the line each vertex is of."""
        return np.repeat(np.arange(len(self)), np.diff(self.first))

    @cached_property
    def length_m(self) -> np.ndarray:
        """(k,): length of each line, gaps included; 0 where nothing was left. [m]"""
        some = np.diff(self.first) > 0
        length = np.zeros(len(self))
        length[some] = self.station_m[self.first[1:][some] - 1]
        return length

    @cached_property
    def origin_m(self) -> np.ndarray:
        """(k,): where each line begins in running stations, which grow through all lines. [m]"""
        return np.r_[0.0, np.cumsum(self.length_m + _APART_M)][: len(self)]

    @cached_property
    def running_m(self) -> np.ndarray:
        """(N,): running station of each vertex, strictly increasing. [m]"""
        return self.station_m + self.origin_m[self.line]

    def parts(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Each part as a LineString, the line it is of, and the station it begins at. [m]"""
        line = self.line
        fresh = _fresh(line, self.part)
        shapes = shapely.linestrings(self.xy_m, indices=np.cumsum(fresh) - 1)
        return shapes, line[fresh], self.station_m[fresh]

    def as_shapes(self) -> np.ndarray:
        """(k,): a LineString, a MultiLineString where there are gaps, or an empty LineString."""
        shapes, line, _ = self.parts()
        out = np.full(len(self), shapely.LineString(), dtype=object)
        count = np.bincount(line, minlength=len(self))
        single = count[line] == 1
        out[line[single]] = shapes[single]
        if not single.all():
            several = np.flatnonzero(count > 1)
            index = np.searchsorted(several, line[~single])
            out[several] = shapely.multilinestrings(shapes[~single], indices=index)
        return out


def guide_curve(points_m, *, smooth=True, chord_m=1e-3, reach_m=300.0) -> Curve:
    """The curve through drawn corners, passing exactly through each.

    Smooth: a clothoid from corner to corner, so that the curvature changes evenly along each and
    hardly jumps between them. Corners on a circle give that circle, two give a straight line.

    Parameters
    ----------
    points_m : float array, shape (n, 2), n >= 2
        Corners in the order of travel; repeated ones count once. [m]
    smooth : bool
        False keeps the straight edges as drawn; parallels then have mitred corners.
    chord_m, reach_m : float
        No chord lies farther than `chord_m` from the curve, nor from its true parallel for
        parallels up to `reach_m` away. [m]

    Raises
    ------
    ValueError
        Fewer than two different points, one that is no number, or a corner where the line turns
        back by MOST_TURN_DEG or more, or more sharply than a smooth curve can follow.

    Examples
    --------
    >>> curve = guide_curve([(0, 100), (100, 0), (0, -100)])
    >>> round(curve.length_m, 2), float(curve.curvature.mean().round(6))
    (314.16, 0.01)
    """
    xy = np.asarray(points_m, dtype=float).reshape(-1, 2)
    if not np.isfinite(xy).all():
        raise ValueError("points_m: a place of the line is no number")
    xy = xy[np.r_[True, np.hypot(*np.diff(xy, axis=0).T) > 1e-6][: len(xy)]]
    if len(xy) < 2:
        raise ValueError("points_m: a line needs two different places or more")
    step = np.diff(xy @ (1, 1j))
    turn = np.angle(step[1:] / step[:-1])  # positive to the left
    sharp = np.flatnonzero(np.abs(turn) >= np.radians(MOST_TURN_DEG))
    if len(sharp):
        raise ValueError(
            f"points_m: the line turns back by {MOST_TURN_DEG:.0f}° or more "
            f"at its corner {sharp[0] + 2}; move or remove that corner"
        )
    return _smooth(xy, step, turn, chord_m, reach_m) if smooth else _as_drawn(xy, step, turn)


def _curve(xy_m, normal, curvature, mitre) -> Curve:
    station = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy_m, axis=0).T))]
    return Curve(xy_m, normal, station, curvature, mitre)


def _as_drawn(xy, step, turn) -> Curve:
    length = np.abs(step)
    half = np.r_[0.0, turn / 2, 0.0]
    along = np.r_[step / length, step[-1] / length[-1]] * np.exp(-1j * half)
    curvature = np.r_[0.0, -turn / ((length[1:] + length[:-1]) / 2), 0.0]
    return _curve(xy, np.c_[along.imag, -along.real], curvature, 1 / np.cos(half))


def _deflections(step, turn):
    """Angles from each chord to the curve's direction at its start and at its end. [rad]

    Those of a cubic that keeps its bending from edge to edge (J. D. Hobby, "Smooth, easy to
    compute interpolating splines", Discrete & Computational Geometry 1, 1986), on lengths of arc
    instead of chord, so that a circle is met exactly; the first and last edge are arcs.
    """
    n = len(step)
    if n == 1:
        return np.zeros(1), np.zeros(1)
    chord = length = np.abs(step)
    after = np.zeros(n + 1)  # from the following chord to the direction at each corner
    turn = np.r_[0.0, turn, 0.0]  # before = after + turn, from the chord before
    i = np.arange(1, n)
    for _ in range(60):
        matrix, right = np.zeros((n + 1, n + 1)), np.zeros(n + 1)
        before_w, after_w = 1 / length[:-1], 1 / length[1:]
        matrix[i, i - 1] = 2 * before_w
        matrix[i, i] = 4 * (before_w + after_w)
        matrix[i, i + 1] = 2 * after_w
        right[i] = -4 * before_w * turn[i] - 2 * after_w * turn[i + 1]
        matrix[0, :2], right[0] = 1, -turn[1]
        matrix[n, -2:], right[n] = 1, -turn[n]
        last, after = after, np.linalg.solve(matrix, right)
        bend = np.clip(np.abs(after[:-1] - after[1:] - turn[1:]) / 2, 1e-9, 2.5)
        length = chord * bend / np.sin(bend)
        if np.abs(after - last).max() < 1e-13:
            break
    return after[:-1], after[1:] + turn[1:]


def _smooth(xy, step, turn, chord_m, reach_m) -> Curve:
    start, end = _deflections(step, turn)
    bow, length = _clothoids(start, end, np.abs(step))
    # Along edge i the direction is chord + start + (end - start - bow) u + bow u², u from 0 to 1.
    bend = np.abs(end - start) + np.abs(bow)  # |curvature| * length at its strongest
    strongest = bend / length
    finest = np.sqrt(8 * chord_m / np.maximum(strongest * (1 + strongest * reach_m), 1e-30))
    count = np.maximum(np.ceil(length / finest), 1).astype(np.intp)
    edge = np.repeat(np.arange(len(step)), count)
    corner = np.r_[0, np.cumsum(count)]
    u = (np.arange(len(edge)) - corner[edge]) / count[edge]
    nodes, weights = np.polynomial.legendre.leggauss(3)
    v = u[:, None] + (nodes + 1) / 2 / count[edge][:, None]
    phase = start[edge, None] + ((end - start - bow)[edge, None] + bow[edge, None] * v) * v
    move = (np.exp(1j * phase) @ weights) / 2 / count[edge]
    move *= length[edge] * (step / np.abs(step))[edge]
    place = np.r_[0, np.cumsum(move)] + complex(*xy[0])
    place[corner] = xy @ (1, 1j)
    angle = start[edge] + ((end - start - bow)[edge] + bow[edge] * u) * u
    along = np.exp(1j * np.r_[angle, end[-1]]) * (step / np.abs(step))[np.r_[edge, edge[-1]]]
    left = ((end - start - bow)[edge] + 2 * bow[edge] * u) / length[edge]
    left = np.r_[left, 0.0]
    leaving = (end - start + bow) / length
    stronger = np.abs(leaving) > np.abs(left[corner[1:]])
    left[corner[1:][stronger]] = leaving[stronger]
    normal = np.c_[along.imag, -along.real]
    return _curve(np.c_[place.real, place.imag], normal, -left, np.ones(len(place)))


def _clothoids(start, end, chord):
    """Second-order term of each clothoid's direction [rad] and its length [m].

    Newton's method on one unknown, from the cubic's value (E. Bertolazzi, M. Frego, "G1 fitting
    with clothoids", Mathematical Methods in the Applied Sciences 38, 2015).
    """
    nodes, weights = np.polynomial.legendre.leggauss(40)
    u, weights = (nodes + 1) / 2, weights / 2
    bow = 3 * (start + end)
    for _ in range(30):
        phase = start[:, None] + ((end - start - bow)[:, None] + bow[:, None] * u) * u
        off = np.sin(phase) @ weights
        bow = bow - off / ((np.cos(phase) * (u * u - u)) @ weights)
    phase = start[:, None] + ((end - start - bow)[:, None] + bow[:, None] * u) * u
    along = np.cos(phase) @ weights
    fails = ~(np.abs(np.sin(phase) @ weights) < 1e-12) | (along < 0.05)
    if fails.any():
        at = int(np.flatnonzero(fails)[0])
        raise ValueError(
            f"points_m: the line turns too sharply between its corners {at + 1} and {at + 2} "
            "to be smoothed; move or remove one of them"
        )
    return bow, chord / along


def least_radius_m(curve: Curve) -> tuple[float, np.ndarray]:
    """Least radius of curvature, infinite for a straight line, and the place of it. [m]

    Examples
    --------
    >>> radius, place = least_radius_m(guide_curve([(0, 100), (100, 0), (0, -100)]))
    >>> round(radius, 6)
    100.0
    """
    at = int(np.argmax(np.abs(curve.curvature)))
    strongest = abs(float(curve.curvature[at]))
    return (1 / strongest if strongest > 1e-12 else np.inf), curve.xy_m[at]


def extended(curve: Curve, by_m: float) -> Curve:
    """The curve with a straight tangent of length `by_m` added at both ends; it may be 0. [m]"""
    if not by_m > 0:
        return curve
    n = curve.normal[[0, -1]]
    reach = np.c_[-n[:, 1], n[:, 0]] * [[-by_m], [by_m]]
    ends = curve.xy_m[[0, -1]] + reach
    return _curve(
        np.r_[ends[:1], curve.xy_m, ends[1:]],
        np.r_[n[:1], curve.normal, n[1:]],
        np.r_[0.0, curve.curvature, 0.0],
        np.r_[1.0, curve.mitre, 1.0],
    )


def offset_lines(curve: Curve, across_m) -> Lines:
    """Parallels of a curve at signed distances, right positive.

    What comes nearer to the curve than its offset is cut out. Where the rest meets again the line
    goes on through a corner; else it has a gap. The mitre of a drawn corner may go with what is cut
    beside it.

    Parameters
    ----------
    curve : Curve
    across_m : float array, shape (k,)
        In any order. [m]
    """
    across = np.atleast_1d(np.asarray(across_m, dtype=float))
    raw = curve.xy_m + across[:, None, None] * curve.ray
    m = len(curve.xy_m)
    slack, folded = _folds(curve, across, raw)
    line, xy = np.repeat(np.flatnonzero(~folded), m), raw[~folded].reshape(-1, 2)
    part = np.zeros(len(line), np.intp)
    if folded.any():
        which = np.flatnonzero(folded)
        owner, whose_part, cut_xy = _trimmed(
            curve, across[which], np.abs(across[which]) - slack[which]
        )
        line, xy, part = np.r_[line, which[owner]], np.r_[xy, cut_xy], np.r_[part, whose_part]
        order = np.argsort(line, kind="stable")
        line, xy, part = line[order], xy[order], part[order]
    step = np.r_[0.0, np.hypot(*np.diff(xy, axis=0).T)][: len(xy)]
    keep = _fresh(line, part) | (step > _SHORTEST_M)
    line, xy, part = line[keep], xy[keep], part[keep]
    group = np.cumsum(_fresh(line, part)) - 1
    keep = (np.bincount(group)[group] > 1) if len(group) else keep
    line, xy, part = line[keep], xy[keep], part[keep]
    run = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))][: len(xy)]
    first = np.searchsorted(line, np.arange(len(across) + 1))
    return Lines(across, xy, first, run - run[first[line]], part, folded)


def _fresh(*keys) -> np.ndarray:
    """Where any of the keys differs from the one before; True at the first."""
    n = len(keys[0])
    return np.r_[True, np.any([k[1:] != k[:-1] for k in keys], axis=0)][:n]


def _folds(curve: Curve, across, raw):
    """Slack for rounding and chords, and which lines fold."""
    edge = np.diff(curve.xy_m, axis=0)
    right = np.c_[edge[:, 1], -edge[:, 0]] / np.hypot(*edge.T)[:, None]
    least = np.minimum((curve.ray[1:] * right).sum(axis=1), (curve.ray[:-1] * right).sum(axis=1))
    slack = np.abs(across) * max(0.0, 1 - float(least.min())) + 1e-6
    folded = _backward_edges(edge, raw).any(axis=1)
    shape = shapely.linestrings(curve.xy_m)
    shapely.prepare(shape)
    for side in (across > 0, across < 0):
        # What comes too near stays too near farther out, so halving finds the first that does.
        order = np.flatnonzero(side)[np.argsort(np.abs(across[side]), kind="stable")]
        low, high = 0, len(order)
        while low < high:
            middle = (low + high) // 2
            i = order[middle]
            if folded[i] or shapely.dwithin(
                shape, shapely.linestrings(raw[i]), abs(across[i]) - slack[i]
            ):
                high = middle
            else:
                low = middle + 1
        folded[order[low:]] = True
    return slack, folded


def _backward_edges(edge, raw):
    """Which edges of each parallel run against those of the curve."""
    return (np.diff(raw, axis=1) * edge).sum(axis=2) < -1e-9 * (edge * edge).sum(axis=1)


def _trimmed(curve: Curve, across, least_m):
    """Folded lines without what runs backwards or comes too near: line, part, xy of vertices."""
    edge = np.diff(curve.xy_m, axis=0)
    edge /= np.hypot(*edge.T)[:, None]
    bent = np.abs(edge[:-1, 0] * edge[1:, 1] - edge[:-1, 1] * edge[1:, 0]) > 1e-9
    # Without the joints of straight runs: a run folded back would lie on the one before it.
    bent = np.r_[True, bent, True]
    raw = curve.xy_m[bent] + across[:, None, None] * curve.ray[bent]
    shapes = shapely.linestrings(raw)
    bits, owner = shapely.get_parts(
        shapely.node(_forward(raw, np.diff(curve.xy_m[bent], axis=0))), return_index=True
    )
    shape = shapely.linestrings(curve.xy_m)
    shapely.prepare(shape)
    bits, owner = _spared(curve, shape, bits, owner, least_m)
    keep = ~shapely.dwithin(shape, bits, (least_m * (1 - _DISC))[owner])
    bits, owner = bits[keep], owner[keep]
    start, _, backward = _located(bits, shapes[owner])
    bits = np.where(backward, shapely.reverse(bits), bits)
    order = np.lexsort((start, owner))
    bits, owner = bits[order], owner[order]
    xy, bit = shapely.get_coordinates(bits, return_index=True)
    head = np.flatnonzero(_fresh(bit))
    tail = np.r_[head[1:], len(xy)] - 1
    gap = np.hypot(*(xy[head[1:]] - xy[tail[:-1]]).T) > 1e-6
    fresh = _fresh(owner)
    count = np.cumsum(np.r_[False, gap][: len(fresh)] & ~fresh)
    part = count - count[np.flatnonzero(fresh)][np.cumsum(fresh) - 1]
    return owner[bit], part[bit], xy


def _forward(raw, edge):
    """The stretches of each parallel that do not run backwards, as a MultiLineString."""
    k, m = raw.shape[:2]
    on = np.zeros((k, m), dtype=bool)  # whether the line goes on from a vertex to the next
    on[:, :-1] = ~_backward_edges(edge, raw)
    on = on.ravel()
    after = np.r_[False, on[:-1]]
    used, run = on | after, np.cumsum(~after) - 1
    runs = shapely.linestrings(
        raw.reshape(-1, 2)[used], indices=np.unique(run[used], False, True)[1]
    )
    line = (np.arange(k * m) // m)[used & ~after]
    out = np.full(k, shapely.MultiLineString(), dtype=object)
    some = np.unique(line)
    out[some] = shapely.multilinestrings(runs, indices=np.searchsorted(some, line))
    return out


_QUARTER = 512
_DISC = 1.5e-6  # by how much of its radius a disc of so many chords a quarter falls short


def _spared(curve: Curve, shape, bits, owner, least_m):
    """Bits without what is too near, where only a stretch of a bit is.

    A parallel has no arc about an end of the curve or about a drawn corner, so a bit may come
    within the least distance of one without crossing another bit there.
    """
    near = shapely.dwithin(shape, bits, least_m[owner])
    if not (curve.mitre > 1 + 1e-9).any():
        ends = shapely.multipoints(curve.xy_m[[0, -1]])
        near &= shapely.dwithin(ends, bits, least_m[owner])
    if not near.any():
        return bits, owner
    lines, which = np.unique(owner[near], return_inverse=True)
    zones = shapely.buffer(shape, least_m[lines], quad_segs=_QUARTER)
    rest, bit = shapely.get_parts(shapely.difference(bits[near], zones[which]), return_index=True)
    long = shapely.length(rest) > FLAT_RUN_M  # less is what lies within the slack
    return np.r_[bits[~near], rest[long]], np.r_[owner[~near], owner[near][bit[long]]]


def _located(bits, lines):
    """Start and end station of each bit on the line it was cut from, and whether it runs backward.

    By the middle of its longest edge, which lies on one place of the line even if the line crosses
    itself at the bit's ends.
    """
    xy, bit = shapely.get_coordinates(bits, return_index=True)
    inner = bit[1:] == bit[:-1]
    step = np.where(inner, np.hypot(*np.diff(xy, axis=0).T), 0.0)
    run = np.r_[0.0, np.cumsum(step)]
    order = np.lexsort((step, bit[:-1]))
    order = order[inner[order]]
    longest = order[np.flatnonzero(np.diff(bit[order], append=-1))]
    head = np.flatnonzero(_fresh(bit))
    tail = np.r_[head[1:], len(xy)] - 1
    a, b = xy[longest], xy[longest + 1]
    quarter, later = (
        shapely.line_locate_point(lines, shapely.points(a + t * (b - a))) for t in (0.25, 0.75)
    )
    backward = later < quarter
    before = run[longest] + step[longest] / 2 - run[head]
    length = run[tail] - run[head]
    start = (quarter + later) / 2 - np.where(backward, length - before, before)
    return start, start + length, backward


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
    origin = np.r_[0.0, np.cumsum(length + _APART_M)][: len(shapes)]
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
    part = np.searchsorted(origin, start + _APART_M / 2, "right") - 1
    low = np.clip(start - origin[part], 0.0, length[part]) + begin[part]
    high = np.clip(end - origin[part], 0.0, length[part]) + begin[part]
    return Pieces(line[part], low, high)


def _inside(shapes, origin, area):
    """What of each shape lies in the area, as running stations from and to."""
    bits, owner = shapely.get_parts(shapely.intersection(shapes, area), return_index=True)
    keep = (shapely.get_type_id(bits) == 1) & (shapely.length(bits) > 0)
    bits, owner = bits[keep], owner[keep]
    start, end, _ = _located(bits, shapes[owner])
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
    new = _fresh(owner)
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


def to_lines(curve: Curve, xy_m) -> tuple[np.ndarray, np.ndarray]:
    """Station on the curve and signed offset, right positive, of the nearest place on it.

    The inverse of `offset_lines`: a place on the parallel at v has the offset v, unless it was cut
    out there; between rays that turn unevenly it is true to the curve's chords (a millimetre).
    Beyond its ends the curve counts as going on straight.

    Parameters
    ----------
    curve : Curve
    xy_m : float array, shape (n, 2)
        [m]

    Returns
    -------
    float array, shape (n,); float array, shape (n,)
        [m]

    Examples
    --------
    >>> to_lines(guide_curve([(0, 0), (0, 10)]), [(3, 4), (-1, 12)])
    (array([ 4., 12.]), array([ 3., -1.]))
    """
    xy = np.asarray(xy_m, dtype=float).reshape(-1, 2)
    beyond_m = 1.0 + np.hypot(*(xy - curve.xy_m[0]).T).max(initial=0.0) + curve.length_m
    curve = extended(curve, beyond_m)
    shape = shapely.linestrings(curve.xy_m)
    foot = shapely.line_locate_point(shape, shapely.points(xy))
    m, station, ray = len(curve.xy_m), curve.station_m, curve.ray
    at = np.clip(np.searchsorted(station, foot, "right") - 1, 0, m - 2)
    vertex = np.where(foot - station[at] < station[at + 1] - foot, at, at + 1)
    # Nearest at a vertex, a point belongs to the edge on its own side of the vertex's normal.
    on_vertex = np.abs(foot - station[vertex]) <= 1e-6
    n = curve.normal[vertex]
    ahead = ((xy - curve.xy_m[vertex]) * np.c_[-n[:, 1], n[:, 0]]).sum(axis=1) >= 0
    at = np.where(on_vertex, np.clip(vertex - ~ahead, 0, m - 2), at)
    edge = curve.xy_m[at + 1] - curve.xy_m[at]
    length = np.hypot(*edge.T)
    along, right = edge / length[:, None], np.c_[edge[:, 1], -edge[:, 0]] / length[:, None]
    off = xy - curve.xy_m[at]
    u, v = (off * along).sum(axis=1), (off * right).sum(axis=1)
    # Rays at both ends of an edge, in axes of the edge; between them they turn evenly.
    lean = [(ray[i] * along).sum(axis=1) for i in (at, at + 1)]
    rise = [(ray[i] * right).sum(axis=1) for i in (at, at + 1)]
    t, across = u / length, v
    for _ in range(4):
        across = v / ((1 - t) * rise[0] + t * rise[1])
        span = length + across * (lean[1] - lean[0])
        t = np.where(
            span > 1e-9, (u - across * lean[0]) / np.where(span > 1e-9, span, 1), u / length
        )
        t = np.clip(t, 0.0, 1.0)
    return station[at] + t * length - beyond_m, across


def extent_across(curve: Curve, area) -> tuple[float, float]:
    """Least and greatest signed offset of an area from the curve. [m]

    Between the rays of two neighbouring vertices the parallels are straight, so the extremes lie
    at corners of the area and where its rim crosses a ray: no sampling, no error but the curve's
    own chords. Only where parallels fold, the greatest offset may lie between two rays, where two
    stretches of the curve are equally near, and be missed by a little.

    Examples
    --------
    >>> extent_across(guide_curve([(0, 0), (0, 10)]), shapely.box(-3, 2, 5, 4))
    (-3.0, 5.0)
    """
    rings = shapely.get_rings(shapely.get_parts(area))
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    along = np.c_[-curve.normal[:, 1], curve.normal[:, 0]]
    level = (curve.xy_m * along).sum(axis=1)
    found = [corners]
    for some in np.array_split(np.arange(len(corners) - 1), len(corners) * len(level) // 2**21 + 1):
        some = some[ring[some] == ring[some + 1]]
        a, b = corners[some] @ along.T - level, corners[some + 1] @ along.T - level
        e, i = np.nonzero((a < 0) != (b < 0))
        t = (a[e, i] / (a[e, i] - b[e, i]))[:, None]
        found.append(corners[some[e]] + t * (corners[some[e] + 1] - corners[some[e]]))
    across = to_lines(curve, np.concatenate(found))[1]
    return float(across.min()), float(across.max())
