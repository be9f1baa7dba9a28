"""Parallel lines clipped to a region, all at once and without approximating a curve.

The region is what lies inside some closed curves of straight pieces and arcs, and no nearer to some
edges than a width. The clear strip along one edge is the set of points nearer than its width: a
rectangle with two round ends, convex, so a line meets it in one interval that a closed formula
gives. Nothing is buffered: arcs stay arcs, and the work grows with the number of meetings alone.

Everything here is in row axes: `along` (u) and `across` (v), lines at constant `across`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .axes import RowAxes
from .edges import NO_EDGES, Edges
from .insets import NO_ARCS, Arcs

TOUCH_M = 1e-9
"""Pieces and gaps no longer than this have no length. [m]"""

RIM_M = 1e-3
"""A line this near to the region's rim counts as on it. [m]"""

FLAT_RUN_M = 0.1
"""A rim followed for less than this within RIM_M does not lengthen a piece. [m]"""


@dataclass(frozen=True, eq=False)
class Strips:
    """Straight strips across the lines, without ends.

    Attributes
    ----------
    along_m : float array, shape (k,)
        Where the middle of each strip meets across = 0. [m]
    slope : float array, shape (k,)
        How far along the middle moves for one metre across. [1]
    half_m : float array, shape (k,)
        Half the strip's extent measured along a line. [m]
    from_m, to_m : float array, shape (k,), or None
        Only lines between these are crossed by each strip; None for all. [m]
    """

    along_m: np.ndarray
    slope: np.ndarray
    half_m: np.ndarray
    from_m: np.ndarray | None = None
    to_m: np.ndarray | None = None


@dataclass(frozen=True, eq=False)
class Region:
    """Inside `inside` and `arcs`, no nearer to `rim` than `rim_width_m`, off the strips.

    Closed: points at exactly the width are in. Edges are in row axes. `inside` and `arcs` together
    are closed curves that run around no point more than once with the area on the left, however
    often against it.
    """

    inside: Edges
    arcs: Arcs = NO_ARCS
    rim: Edges = NO_EDGES
    rim_width_m: np.ndarray | None = None
    strips: Strips | None = None

    def mirrored(self) -> Region:
        """The same region with left and right exchanged, directions kept right."""
        s = self.strips
        strips = s and Strips(
            s.along_m,
            -s.slope,
            s.half_m,
            None if s.to_m is None else -s.to_m,
            None if s.from_m is None else -s.from_m,
        )
        return Region(
            _mirrored(self.inside),
            self.arcs.mirrored(),
            _mirrored(self.rim),
            self.rim_width_m,
            strips,
        )


def _mirrored(edges: Edges) -> Edges:
    flip = np.array([[1.0], [-1.0]])
    return Edges((flip * edges.end_m.T).T, (flip * edges.start_m.T).T, edges.ring, edges.index)


def edges_in_axes(edges: Edges, axes: RowAxes) -> Edges:
    """Edges turned from the plane into row axes."""
    return Edges(axes.to_axes(edges.start_m), axes.to_axes(edges.end_m), edges.ring, edges.index)


@dataclass(frozen=True, eq=False)
class Pieces:
    """Pieces of lines, sorted by line, then along.

    Attributes
    ----------
    line : int array, shape (s,)
        Which line each piece is of.
    start_m, end_m : float array, shape (s,)
        Both ends, along. [m]
    """

    line: np.ndarray
    start_m: np.ndarray
    end_m: np.ndarray

    def __len__(self) -> int:
        return len(self.line)

    def taken(self, which) -> Pieces:
        """Some of the pieces, by mask or indices."""
        return Pieces(self.line[which], self.start_m[which], self.end_m[which])

    @property
    def length_m(self) -> np.ndarray:
        return self.end_m - self.start_m


def _meetings(low, high, lines, closed_low: bool):
    """All (edge, line) pairs with low < line < high, or low <= line where `closed_low`.

    Returns how many lines each edge meets, and these lines, edge after edge.
    """
    first = np.searchsorted(lines, low, "left" if closed_low else "right")
    count = np.maximum(np.searchsorted(lines, high, "left") - first, 0)
    before = np.cumsum(count)
    total = int(before[-1]) if len(before) else 0
    line = np.repeat(first - (before - count), count)
    line += np.arange(total)
    return count, line


def _crossings(start, end, lines):
    """Lines that cross pieces between two across coordinates, half-open.

    Returns the piece and the line of every crossing, and +1 where it enters or -1 where it leaves.
    """
    begin, stop = np.searchsorted(lines, start), np.searchsorted(lines, end)
    met = np.flatnonzero(begin != stop)
    begin, stop = begin[met], stop[met]
    first, count = np.minimum(begin, stop), np.abs(stop - begin)
    line = np.repeat(first - (np.cumsum(count) - count), count)
    line += np.arange(len(line))
    return np.repeat(met, count), line, np.repeat(np.where(stop > begin, 1, -1), count)


def _edge_crossings(edges: Edges, lines):
    """Where lines cross edges: (line, along, +1 entering or -1 leaving)."""
    (ua, va), (ub, vb) = edges.start_m.T, edges.end_m.T
    edge, line, sign = _crossings(va, vb, lines)
    ua, va = ua[edge], va[edge]
    along = lines[line] - va
    along /= vb[edge] - va
    along *= ub[edge] - ua
    along += ua
    return line, along, sign


def _arc_crossings(arcs: Arcs, lines):
    """Where lines cross arcs: (line, along, +1 entering or -1 leaving)."""
    arc, line, sign = _crossings(arcs.from_m, arcs.to_m, lines)
    away, radius = lines[line] - arcs.across_m[arc], arcs.radius_m[arc]
    half = np.sqrt(np.maximum((radius - away) * (radius + away), 0.0))
    return line, arcs.along_m[arc] + np.copysign(half, radius), sign


_LEAST_RISE_M = 1e-300
"""Stands for the rise of an edge along the lines: only its sign matters then."""


def _strip_intervals(edges: Edges, width, lines):
    """Where lines run nearer to edges than `width`: (line, along from, along to), joined by runs.

    The strip is the edge's points, each with a disc about it. Along a line the disc that reaches
    farthest back belongs to the point where the rim is tangent to it, or to the nearer end.
    """
    wide = width > 0
    (ua, va), (ub, vb), w = edges.start_m[wide].T, edges.end_m[wide].T, width[wide]
    run, rise = ub - ua, vb - va
    length = np.hypot(run, rise)
    tangent = w * run * np.where(rise < 0, -1.0, 1.0) / np.where(length > 0, length, 1.0)
    rise = np.where(rise == 0, _LEAST_RISE_M, rise)
    count, line = _meetings(np.minimum(va, vb) - w, np.maximum(va, vb) + w, lines, closed_low=False)
    ua, va, run, rise, tangent, w = (np.repeat(q, count) for q in (ua, va, run, rise, tangent, w))
    away = np.subtract(lines[line], va, out=va)
    w *= w
    with np.errstate(over="ignore"):  # an edge that hardly leans at all
        low = _reach(away, -tangent, run, rise, w, np.subtract)
        high = _reach(away, tangent, run, rise, w, np.add)
    low += ua
    high += ua
    some = high > low
    if not some.all():
        line, low, high = line[some], low[some], high[some]
    order = np.argsort(line.astype(_small(len(lines))), kind="stable")
    return _joined_runs(line[order], low[order], high[order])


def _reach(away, tangent, run, rise, width_sq, beyond):
    """How far along from an edge's start its strip reaches: back with np.subtract, on with np.add."""
    t = np.add(away, tangent)
    t /= rise
    np.minimum(np.maximum(t, 0.0, out=t), 1.0, out=t)
    half = np.multiply(t, rise)
    np.subtract(away, half, out=half)
    half *= half
    np.subtract(width_sq, half, out=half)
    np.sqrt(np.maximum(half, 0.0, out=half), out=half)
    t *= run
    return beyond(t, half, out=t)


def _small(n: int):
    """A type for line numbers that a stable sort goes through by their digits, if they are few."""
    return np.uint16 if n <= 0xFFFF else np.uint32


def _joined_runs(line, low, high):
    """Intervals that follow one another on a line and overlap, as one each: fewer to sort."""
    if len(line) < 2:
        return line, low, high
    apart = (line[1:] != line[:-1]) | (low[1:] > high[:-1]) | (high[1:] < low[:-1])
    first = np.flatnonzero(np.concatenate([[True], apart]))
    return line[first], np.minimum.reduceat(low, first), np.maximum.reduceat(high, first)


def clip_lines(across_m: np.ndarray, region: Region, gap_m: float = TOUCH_M) -> Pieces:
    """Pieces of the lines at `across_m` (sorted, ascending) that lie in the region.

    Gaps no longer than `gap_m` are no gaps.

    By winding number along each line; crossings are half-open across, so a line through a corner
    is counted once, and a touched corner splits nothing. Lines that run along the rim are decided
    by rounding here: `settled_pieces` decides them by rule.
    """
    line_p, along_p, sign_p = _edge_crossings(region.inside, across_m)
    line_a, along_a, sign_a = _arc_crossings(region.arcs, across_m)
    lines, alongs, signs = [line_p, line_a], [along_p, along_a], [sign_p, sign_a]

    def barred(line, low, high):
        ones = np.ones(len(line), dtype=np.intp)
        lines.extend([line, line])
        alongs.extend([low, high])
        signs.extend([-ones, ones])

    if region.rim_width_m is not None and len(region.rim):
        barred(*_strip_intervals(region.rim, region.rim_width_m, across_m))
    if region.strips is not None and len(region.strips.along_m):
        line_s, middle, half = _strip_crossings(region.strips, across_m)
        barred(line_s, middle - half, middle + half)
    line, along = np.concatenate(lines), np.concatenate(alongs)
    order = _order(line, along, len(across_m))
    line, along = line[order], along[order]
    clear = np.cumsum(np.concatenate(signs)[order]) > 0
    clear[-1:] = False
    after = np.flatnonzero(clear)
    line, start, end = line[after], along[after], along[after + 1]
    long = end - start > TOUCH_M
    return close_together(line[long], start[long], end[long], gap_m)


def _strip_crossings(strips: Strips, across_m):
    """Where lines cross strips: (line, middle along, half the extent along)."""
    if strips.from_m is None:
        line = np.repeat(np.arange(len(across_m)), len(strips.along_m))
        strip = np.tile(np.arange(len(strips.along_m)), len(across_m))
    else:
        count, line = _meetings(strips.from_m, strips.to_m, across_m, closed_low=True)
        strip = np.repeat(np.arange(len(count)), count)
    middle = strips.along_m[strip] + across_m[line] * strips.slope[strip]
    return line, middle, strips.half_m[strip]


def _order(line, along, n_lines: int) -> np.ndarray:
    """Order by line, then along; a line number that fits 16 bits is sorted by its digits."""
    order = np.argsort(along)
    return order[np.argsort(line[order].astype(_small(n_lines)), kind="stable")]


def close_together(line, start, end, gap_m: float) -> Pieces:
    """Sorted intervals, none of which overlap, those no more than `gap_m` apart joined."""
    apart = (line[1:] != line[:-1]) | (start[1:] - end[:-1] > gap_m)
    if apart.all():
        return Pieces(line, start, end)
    first = np.concatenate([[True], apart])
    last = np.concatenate([apart, [True]])
    return Pieces(line[first], start[first], end[last])
