"""Parallel lines clipped to a region, all at once and without approximating a curve.

The region is what lies inside some areas, outside others and no nearer to some edges than a
width. The clear strip along one edge is the set of points nearer than its width: a rectangle with
two round ends, convex, so a line meets it in one interval that a closed formula gives. Nothing is
buffered: arcs stay arcs, and the work grows with the number of (edge, line) meetings alone.

Everything here is in row axes: `along` (u) and `across` (v), lines at constant `across`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .axes import RowAxes
from .edges import NO_EDGES, Edges

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
    """Inside `inside`, outside `outside`, no nearer to `rim` than `rim_width_m`, off the strips.

    Closed: points at exactly the width are in. Edges are in row axes.
    """

    inside: Edges
    outside: Edges = NO_EDGES
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
            _mirrored(self.outside),
            _mirrored(self.rim),
            self.rim_width_m,
            strips,
        )


def _mirrored(edges: Edges) -> Edges:
    flip = np.array([1.0, -1.0])
    return Edges(edges.end_m * flip, edges.start_m * flip, edges.ring, edges.index)


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


def _crossings(edges: Edges, lines):
    """Where lines cross edges, half-open in across: (line, along, +1 entering or -1 leaving)."""
    ua, va = edges.start_m.T
    ub, vb = edges.end_m.T
    count, line = _meetings(np.minimum(va, vb), np.maximum(va, vb), lines, closed_low=True)
    ua, va, run, rise = (np.repeat(q, count) for q in (ua, va, ub - ua, vb - va))
    along = ua + (lines[line] - va) / rise * run
    return line, along, np.where(rise > 0, 1, -1)


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


def clip_lines(across_m: np.ndarray, region: Region) -> Pieces:
    """Pieces of the lines at `across_m` (sorted, ascending) that lie in the region.

    By winding number along each line; crossings are half-open across, so a line through a corner
    is counted once, and a touched corner splits nothing. Lines that run along the rim are decided
    by rounding here: `settled_pieces` decides them by rule.
    """
    line_p, along_p, sign_p = _crossings(region.inside, across_m)
    line_x, along_x, sign_x = _crossings(region.outside, across_m)
    width = region.rim_width_m if region.rim_width_m is not None else np.zeros(len(region.rim))
    line_r, low, high = _strip_intervals(region.rim, width, across_m)
    lines, alongs = [line_p, line_x, line_r, line_r], [along_p, along_x, low, high]
    ones = np.ones(len(line_r), dtype=np.intp)
    barred = [np.zeros(len(line_p), np.intp), sign_x, ones, -ones]
    if region.strips is not None and len(region.strips.along_m):
        line_s, middle, half = _strip_crossings(region.strips, across_m)
        ones = np.ones(len(line_s), dtype=np.intp)
        lines += [line_s, line_s]
        alongs += [middle - half, middle + half]
        barred += [ones, -ones]
    line = np.concatenate(lines)
    along = np.concatenate(alongs)
    inside = np.zeros(len(line), dtype=np.intp)
    inside[: len(line_p)] = sign_p
    order = _order(line, along, len(across_m))
    line, along = line[order], along[order]
    clear = (np.cumsum(inside[order]) > 0) & (np.cumsum(np.concatenate(barred)[order]) == 0)
    clear[-1:] = False
    after = np.flatnonzero(clear)
    after = after[along[after + 1] > along[after]]
    return _merged(line[after], along[after], along[after + 1])


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


def _merged(line, start, end, gap_m: float = TOUCH_M) -> Pieces:
    """Sorted intervals, those no more than `gap_m` apart joined, those without length gone."""
    if len(line):
        reach = _running_end(line, end)
        fresh = np.r_[True, (line[1:] != line[:-1]) | (start[1:] - reach[:-1] > gap_m)]
        first = np.flatnonzero(fresh)
        last = np.r_[first[1:] - 1, len(line) - 1]
        line, start, end = line[first], start[first], reach[last]
        long = end - start > TOUCH_M
        line, start, end = line[long], start[long], end[long]
    return Pieces(line, start, end)


def _running_end(line, end):
    """Greatest end so far on the same line; intervals are sorted by start."""
    if not np.any((end[1:] < end[:-1]) & (line[1:] == line[:-1])):
        return end
    out = end.copy()
    for i in range(1, len(out)):
        if line[i] == line[i - 1] and out[i] < out[i - 1]:
            out[i] = out[i - 1]
    return out


def _union(a: Pieces, b: Pieces) -> Pieces:
    line, start, end = (np.r_[getattr(a, f), getattr(b, f)] for f in ("line", "start_m", "end_m"))
    order = np.lexsort((start, line))
    return _merged(line[order], start[order], end[order])


def _critical_across(region: Region) -> np.ndarray:
    """Across positions where the region's shape along a line can change abruptly, sorted."""
    corners = [e.start_m[:, 1] for e in (region.inside, region.outside)]
    if region.rim_width_m is not None:
        for end in (region.rim.start_m[:, 1], region.rim.end_m[:, 1]):
            corners += [end - region.rim_width_m, end + region.rim_width_m]
    return np.sort(np.concatenate(corners))


def settled_pieces(across_m: np.ndarray, region: Region) -> Pieces:
    """Pieces of lines in the closed region, with exact alignments settled by one rule.

    A line is clipped where it lies. Where the region comes within RIM_M of the line, at right
    angles to it, all along a gap or along a further run of more than FLAT_RUN_M, the line counts
    as running on the rim there: the gap is no gap, the run belongs to the piece. So a line along
    an edge is on it whatever rounding says, and a corner or circle just touched splits nothing.
    A gap no longer than twice RIM_M is no gap anywhere.

    This is asked of lines that pass within RIM_M of a place where the region changes across: a
    corner, an end of a straight rim, the side of a round one. A line that crosses a rim in its
    middle is clipped where it crosses, however flat the crossing.
    """
    pieces = clip_lines(across_m, region)
    pieces = _merged(pieces.line, pieces.start_m, pieces.end_m, 2 * RIM_M)
    critical = _critical_across(region)
    near = np.searchsorted(critical, across_m - RIM_M) < np.searchsorted(
        critical, across_m + RIM_M, "right"
    )
    which = np.flatnonzero(near)
    if not len(which):
        return pieces
    for around in _beside(across_m, which, region):
        here = near[pieces.line]
        own = pieces.taken(here)
        mended = _on_the_rim(own, _union(own, around))
        pieces = _union(pieces.taken(~here), mended)
    return _merged(pieces.line, pieces.start_m, pieces.end_m, 2 * RIM_M)


def _beside(across_m, which, region: Region):
    """What lies 1 µm, then RIM_M to either side of some lines, as pieces of these lines.

    The nearer first, so that where only rounding hid the region its ends stay exact.
    """
    reaches = (1e-6, RIM_M)
    sides = np.array([side for reach in reaches for side in (-reach, reach)])
    probes = (across_m[which][:, None] + sides).ravel()
    order = np.argsort(probes, kind="stable")
    found = clip_lines(probes[order], region)
    probe = order[found.line]
    for k in range(len(reaches)):
        mine = probe % len(sides) // 2 == k
        line, start, end = which[probe[mine] // len(sides)], found.start_m[mine], found.end_m[mine]
        sort = np.lexsort((start, line))
        yield _merged(line[sort], start[sort], end[sort])


def _on_the_rim(own: Pieces, reachable: Pieces) -> Pieces:
    """Own pieces with gaps closed and flat runs added where `reachable` covers them."""
    if not len(reachable):
        return reachable
    key = np.searchsorted(reachable.line, own.line, "left")
    # Component of each own piece: the last reachable one on its line that starts no later.
    component = np.empty(len(own), dtype=np.intp)
    for i in range(len(own)):  # only lines on a rim come here, a handful
        j = key[i]
        while (
            j + 1 < len(reachable)
            and reachable.line[j + 1] == own.line[i]
            and reachable.start_m[j + 1] <= own.start_m[i]
        ):
            j += 1
        component[i] = j
    start, end = reachable.start_m.copy(), reachable.end_m.copy()
    holds = np.zeros(len(reachable), dtype=bool)
    if len(own):
        holds[component] = True
        own_start = np.full(len(reachable), np.inf)
        own_end = np.full(len(reachable), -np.inf)
        np.minimum.at(own_start, component, own.start_m)
        np.maximum.at(own_end, component, own.end_m)
        short = holds & (own_start - start <= FLAT_RUN_M)
        start[short] = own_start[short]
        short = holds & (end - own_end <= FLAT_RUN_M)
        end[short] = own_end[short]
    keep = holds | (end - start > FLAT_RUN_M)
    return Pieces(reachable.line[keep], start[keep], end[keep])
