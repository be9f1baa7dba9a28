"""Curves that keep a width inside closed rings: straight pieces and arcs, nothing buffered.

What lies nearer to a ring than a width, on its left, is a rectangle along every edge and a sector
about every corner that turns away. Summed as winding numbers, their boundaries leave one closed
curve: every edge moved by its width, and a join at every corner. So a ring whose inset counts one
holds exactly the points that no rectangle and no sector bars, and a line meets the curve where it
meets the rim and, but for small loops, nowhere else.

Joins, from the end Q of one moved edge to the start P of the next, about the corner C:

- where equal widths turn away from the ring's left, the arc from Q to P;
- where equal widths turn towards it by no more than a right angle and both edges are long enough
  for it, the point X where the moved edges meet: the kite QCPX left out by it is covered twice;
- else the two radii QC and CP; where the widths differ, a disc of the wider about C as well.

Equal widths need no more: the nearest point of the rim is seen from where it bars. Where a narrower
edge shields a wider one, the wider may bar ground behind it, on its right: `reaching_inside`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from .edges import Edges

_LIFT_M = 1e-6
"""How far off its edge what lies on the right of it is looked at. [m]"""


@dataclass(frozen=True, eq=False)
class Rings:
    """Closed rings of edges in the plane, and how they turn at their corners.

    Attributes
    ----------
    start_m, normal : float array, shape (e, 2)
        Where each edge starts [m] and the unit vector to its left [1].
    following : int array, shape (e,)
        The edge that starts where each one ends.
    turns_away : bool array, shape (e,)
        Whether the ring turns right at the end of each edge.
    meet : float array, shape (e, 2)
        From the end of each edge to where it and the following meet, moved by one. [1]
    meet_to_m : float array, shape (e,)
        The greatest width at which they are joined there. [m]
    """

    start_m: np.ndarray
    normal: np.ndarray
    following: np.ndarray
    turns_away: np.ndarray
    meet: np.ndarray
    meet_to_m: np.ndarray

    def __len__(self) -> int:
        return len(self.start_m)


def closed_rings(edges: Edges) -> Rings:
    """Rings of edges, which stand ring after ring, each in its order or against it.

    Examples
    --------
    >>> from layoutdesk.core.geometry.edges import ring_edges
    >>> rings = closed_rings(ring_edges(shapely.box(0, 0, 30, 5)))
    >>> rings.meet_to_m.tolist(), rings.turns_away.tolist()
    ([2.5, 2.5, 2.5, 2.5], [False, False, False, False])
    """
    n = len(edges)
    fresh = np.ones(n + 1, dtype=bool)
    fresh[1:-1] = edges.ring[1:] != edges.ring[:-1]
    first = np.flatnonzero(fresh)
    after, before = np.arange(1, n + 1), np.arange(-1, n - 1)
    after[first[1:] - 1], before[first[:-1]] = first[:-1], first[1:] - 1
    forward = (edges.end_m == edges.start_m[after]).all(axis=1) if n else fresh[:0]
    following = np.where(forward, after, before)
    step = edges.end_m - edges.start_m
    length = np.hypot(step[:, 0], step[:, 1])
    ahead = step / length[:, None]
    (x, y), (next_x, next_y) = ahead.T, ahead[following].T
    sine, cosine = x * next_y - y * next_x, x * next_x + y * next_y
    half_turn = np.maximum(sine, 1e-12) / (1.0 + np.maximum(cosine, 0.0))  # its tangent
    room = np.minimum(length, length[following]) / 2
    meet_to = np.where((sine >= 0) & (cosine >= 0), room / half_turn, 0.0)
    normal = np.column_stack([-y, x])
    meet = (normal + normal[following]) / (1.0 + np.maximum(cosine, 0.0))[:, None]
    return Rings(edges.start_m, normal, following, sine < 0, meet, meet_to)


def reaching_inside(polygon: shapely.Polygon, rings: Rings, width_m: float) -> np.ndarray:
    """Which edges of a polygon have inside of it within `width_m` of them on their right, bool (e,).

    Those cannot do without a clear strip on both sides where widths differ. An edge whose strip is
    only touched may be among them.
    """
    a, b = rings.start_m, rings.start_m[rings.following]
    right, next_right = -rings.normal, -rings.normal[rings.following]
    ahead = np.column_stack([-right[:, 1], right[:, 0]])
    next_ahead = ahead[rings.following]
    # A convex corner's sector is seen through the tangents at its two ends and its middle.
    cosine = np.clip((ahead * next_ahead).sum(axis=1), -1.0, 1.0)
    tangent = np.where(rings.turns_away, 0.0, np.tan(np.arccos(cosine) / 4))[:, None]
    last = np.where(rings.turns_away[:, None], right, next_right)
    back = np.where(rings.turns_away[:, None], 0.0, next_ahead)
    lift = min(_LIFT_M, width_m)
    around = [
        a + lift * right,
        a + width_m * right,
        b + width_m * right,
        b + width_m * (right + tangent * ahead),
        b + width_m * (last - tangent * back),
        b + width_m * last,
        b + lift * last,
    ]
    shapely.prepare(polygon)
    return shapely.intersects(polygon, shapely.linestrings(np.stack(around, axis=1)))


@dataclass(frozen=True, eq=False)
class Arcs:
    """Arcs of circles in row axes, each on one side of its centre along the lines.

    Attributes
    ----------
    along_m, across_m : float array, shape (a,)
        The centres. [m]
    radius_m : float array, shape (a,)
        Negative where the arc lies before its centre, along. [m]
    from_m, to_m : float array, shape (a,)
        Across coordinates of both ends. [m]
    ring : int array, shape (a,)
        Which ring or member each is of.
    """

    along_m: np.ndarray
    across_m: np.ndarray
    radius_m: np.ndarray
    from_m: np.ndarray
    to_m: np.ndarray
    ring: np.ndarray

    def __len__(self) -> int:
        return len(self.ring)

    def taken(self, which) -> Arcs:
        """Some of the arcs, by mask or indices."""
        return Arcs(*(values[which] for values in vars(self).values()))

    def mirrored(self) -> Arcs:
        """With left and right exchanged, directions kept right."""
        return Arcs(
            self.along_m, -self.across_m, self.radius_m, -self.to_m, -self.from_m, self.ring
        )


_NONE = np.empty(0)
NO_ARCS = Arcs(_NONE, _NONE, _NONE, _NONE, _NONE, np.empty(0, dtype=np.intp))


@dataclass(frozen=True, eq=False)
class Insets:
    """Curves inside rings in the row axes of several bearings, in whose order all of them stand.

    Attributes
    ----------
    edges, arcs : Edges, Arcs
        The curves; `ring` is the number of the bearing.
    discs : Edges
        Corners between two widths, as edges of no length.
    disc_m : float array
        The radii of the discs. [m]
    reach_m : float array, shape (k, 2)
        Least and greatest across coordinate of the moved edges. [m]
    """

    edges: Edges
    arcs: Arcs
    discs: Edges
    disc_m: np.ndarray
    reach_m: np.ndarray


def insets(rings: Rings, turn: np.ndarray, offset_m: np.ndarray, width_m: np.ndarray) -> Insets:
    """The curves inside rings in the row axes of several bearings.

    Parameters
    ----------
    turn : float array, shape (k, 2)
        Sine and cosine of each bearing.
    offset_m : float array, shape (k,)
        How far all is moved across. [m]
    width_m : float array, shape (k, e)
        Width to keep along each edge. [m]
    """
    k, n = width_m.shape
    following = rings.following
    before = np.empty_like(following)
    before[following] = np.arange(n)
    s, c = turn[:, :1], turn[:, 1:]
    corner, ends = np.empty((2, k, n)), np.empty((4, k, n))
    normal_u, normal_v = _turned(rings.normal, s, c)
    u, v = _turned(rings.start_m, s, c, out=corner)
    v += offset_m[:, None]
    width_after = np.take(width_m, following, axis=1)
    same = width_m == width_after
    arc = same & rings.turns_away  # of no radius, too: it says where a ring turns back
    meet = same & (width_m <= rings.meet_to_m)
    meet &= ~rings.turns_away
    away, meeting = np.array([normal_u, normal_v]), _turned(rings.meet, s, c)
    away *= width_m
    meeting *= width_m
    np.add(corner, away, out=ends[:2])
    np.copyto(away, meeting, where=meet)
    np.add(np.take(corner, following, axis=2), away, out=ends[2:])
    met = np.take(meet, before, axis=1)
    np.copyto(ends[:2], np.take(ends[2:], before, axis=2), where=met)

    def at(corners):
        """Flat indices of edges, of the edges that follow them, and their members."""
        member, edge = np.nonzero(corners)
        return member * n + edge, member * n + following[edge], member

    reach = np.column_stack([ends[1::2].min(axis=(0, 2)), ends[1::2].max(axis=(0, 2))])
    u, v, width, normal_u, normal_v = (a.ravel() for a in (u, v, width_m, normal_u, normal_v))
    ends = ends.reshape(4, -1)
    start_u, start_v, end_u, end_v = ends
    member = np.repeat(np.arange(k), n)
    i, j, owner = at(arc)
    start, end = (normal_u[i], normal_v[i], end_v[i]), (normal_u[j], normal_v[j], start_v[j])
    arcs = _joining_arcs(u[j], v[j], width[i], start, end, owner)
    i, j, owner = at(~(arc | meet))
    if len(i):
        back = np.array([end_u[i], end_v[i], u[j], v[j]])
        on = np.array([u[j], v[j], start_u[j], start_v[j]])
        after = np.tile((owner + 1) * n, 2)
        radii = np.concatenate([back, on], axis=1)
        ends = np.array([np.insert(*each) for each in zip(ends, [after] * 4, radii, strict=True)])
        member = np.insert(member, after, np.tile(owner, 2))
    edges = Edges(ends[:2].T, ends[2:].T, member, member)
    i, j, owner = at(~same)
    corners = corner.reshape(2, -1)[:, j].T
    discs = Edges(corners, corners, owner, owner)
    return Insets(edges, arcs, discs, np.maximum(width[i], width[j]), reach)


def _turned(vectors, s, c, out=None) -> np.ndarray:
    """Vectors of the plane, (e, 2), in row axes: along and across in (2, k, e)."""
    x, y = vectors.T
    out = np.empty((2, len(s), len(vectors))) if out is None else out
    np.multiply(x, s, out=out[0])
    np.multiply(x, c, out=out[1])
    out[0] += y * c
    out[1] -= y * s
    return out


def _joining_arcs(along, across, width, start, end, member) -> Arcs:
    """Arcs between two normals, each given by its parts and the arc's end, cut where farthest across."""
    (u, v, from_), (next_u, next_v, to) = start, end
    side = np.copysign(width, np.where(u != 0, u, next_u))
    cut = u * next_u < 0
    farthest = v * np.abs(next_u) + next_v * np.abs(u)
    farthest = across + np.copysign(width, farthest)
    arc = np.repeat(np.arange(len(u)), 1 + cut)
    second = np.zeros(len(arc), dtype=bool)
    second[1:] = arc[1:] == arc[:-1]
    return Arcs(
        along[arc],
        across[arc],
        np.where(second, -side[arc], side[arc]),
        np.where(second, farthest[arc], from_[arc]),
        np.where(cut[arc] & ~second, farthest[arc], to[arc]),
        member[arc],
    )
