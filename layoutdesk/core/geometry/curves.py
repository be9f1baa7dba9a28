"""Smooth curves through drawn corners, dense enough to be carried as vertices with normals.

Offsets from a curve are positive to the right of travel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

MOST_TURN_DEG = 150.0
"""A line that is not smoothed may turn this much at a corner: the mitre is then 3.9 long. [deg]"""


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


_STEPS_ASIDE = 4


def _on_edge(curve: Curve, xy, at):
    """Share along an edge, offset from it, and its length, for places in the wedge between the rays
    at its two ends; a share outside [0, 1] is of a place outside the wedge. [1], [m], [m]"""
    ray = curve.ray
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
        inside = np.clip(t, 0.0, 1.0)
        across = v / ((1 - inside) * rise[0] + inside * rise[1])
        span = length + across * (lean[1] - lean[0])
        t = np.where(
            span > 1e-9, (u - across * lean[0]) / np.where(span > 1e-9, span, 1), u / length
        )
    return t, across, length


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
    m, station = len(curve.xy_m), curve.station_m
    at = np.clip(np.searchsorted(station, foot, "right") - 1, 0, m - 2)
    vertex = np.where(foot - station[at] < station[at + 1] - foot, at, at + 1)
    # Nearest at a vertex, a point belongs to the edge on its own side of the vertex's normal.
    on_vertex = np.abs(foot - station[vertex]) <= 1e-6
    n = curve.normal[vertex]
    ahead = ((xy - curve.xy_m[vertex]) * np.c_[-n[:, 1], n[:, 0]]).sum(axis=1) >= 0
    at = np.where(on_vertex, np.clip(vertex - ~ahead, 0, m - 2), at)
    t, across, length = _on_edge(curve, xy, at)
    for _ in range(_STEPS_ASIDE):  # of two edges about as near, a place belongs to the one it faces
        aside = np.where((t < 0) & (at > 0), -1, np.where((t > 1) & (at < m - 2), 1, 0))
        tried = _on_edge(curve, xy, at + aside)
        better = (aside != 0) & (np.abs(tried[0] - 0.5) < np.abs(t - 0.5))
        if not better.any():
            break
        at = np.where(better, at + aside, at)
        t, across, length = (
            np.where(better, new, old) for new, old in zip(tried, (t, across, length), strict=True)
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
