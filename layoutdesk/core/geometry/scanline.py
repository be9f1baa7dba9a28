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
    """

    along_m: np.ndarray
    slope: np.ndarray
    half_m: np.ndarray


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
        strips = self.strips and Strips(self.strips.along_m, -self.strips.slope, self.strips.half_m)
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

    @property
    def length_m(self) -> np.ndarray:
        return self.end_m - self.start_m


def _meetings(low, high, lines, closed_low: bool):
    """All (edge, line) pairs with low < line < high, or low <= line where `closed_low`."""
    first = np.searchsorted(lines, low, "left" if closed_low else "right")
    count = np.maximum(np.searchsorted(lines, high, "left") - first, 0)
    edge = np.repeat(np.arange(len(low)), count)
    line = np.arange(len(edge)) + np.repeat(first - (np.cumsum(count) - count), count)
    return edge, line


def _crossings(edges: Edges, lines):
    """Where lines cross edges, half-open in across: (line, along, +1 entering or -1 leaving)."""
    ua, va = edges.start_m.T
    ub, vb = edges.end_m.T
    edge, line = _meetings(np.minimum(va, vb), np.maximum(va, vb), lines, closed_low=True)
    rise = (vb - va)[edge]
    along = ua[edge] + (lines[line] - va[edge]) / rise * (ub - ua)[edge]
    return line, along, np.where(rise > 0, 1, -1)


def _strip_intervals(edges: Edges, width, lines):
    """Where lines run nearer to edges than `width`: (line, along from, along to)."""
    wide = width > 0
    ua, va = edges.start_m[wide].T
    ub, vb = edges.end_m[wide].T
    w = width[wide]
    edge, line = _meetings(np.minimum(va, vb) - w, np.maximum(va, vb) + w, lines, closed_low=False)
    ua, va, ub, vb, w = (q[edge] for q in (ua, va, ub, vb, w))
    v = lines[line]
    low = np.full(len(v), np.inf)
    high = np.full(len(v), -np.inf)
    for u_centre, v_centre in ((ua, va), (ub, vb)):  # the two round ends
        chord_sq = w * w - (v - v_centre) ** 2
        met = chord_sq >= 0
        half = np.sqrt(np.where(met, chord_sq, 0.0))
        np.minimum(low, u_centre - half, out=low, where=met)
        np.maximum(high, u_centre + half, out=high, where=met)
    rise, run = vb - va, ub - ua
    length = np.hypot(rise, run)
    sloped = rise != 0
    safe_rise = np.where(sloped, rise, 1.0)
    safe_length = np.where(length > 0, length, 1.0)
    for side in (w, -w):  # the two long sides, offset at right angles
        v_off, u_off = side * run / safe_length, -side * rise / safe_length
        with np.errstate(over="ignore", invalid="ignore"):  # an edge that hardly leans at all
            t = (v - va - v_off) / safe_rise
        met = sloped & (t >= 0) & (t <= 1)
        u = ua + u_off + t * run
        np.minimum(low, u, out=low, where=met)
        np.maximum(high, u, out=high, where=met)
    some = high > low
    return line[some], low[some], high[some]


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
        line_s = np.repeat(np.arange(len(across_m)), len(region.strips.along_m))
        middle = (region.strips.along_m + across_m[:, None] * region.strips.slope).ravel()
        half = np.tile(region.strips.half_m, len(across_m))
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


def _order(line, along, n_lines: int) -> np.ndarray:
    """Order by line, then along; a line number that fits 16 bits is sorted by its digits."""
    order = np.argsort(along)
    small = line[order].astype(np.uint16 if n_lines <= 0xFFFF else np.uint32)
    return order[np.argsort(small, kind="stable")]


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
        own = Pieces(pieces.line[here], pieces.start_m[here], pieces.end_m[here])
        mended = _on_the_rim(own, _union(own, around))
        rest = Pieces(pieces.line[~here], pieces.start_m[~here], pieces.end_m[~here])
        pieces = _union(rest, mended)
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


_SEARCH_STEP_M = 0.25
_FAN = 24
_MEETINGS = 6000
_BESIDE_M = 1e-7
_ALONG_LEAN = 0.02


def flat_rims(region: Region, most_lean: float) -> np.ndarray:
    """Across coordinates of straight rims, a metre or longer, that run along the lines. [m]

    `most_lean` is the most they may lean, across over along.
    """
    a, b = region.rim.start_m, region.rim.end_m
    length = np.hypot(*(b - a).T)
    flat = (length >= 1.0) & (np.abs(b[:, 1] - a[:, 1]) <= most_lean * length)
    v, w = np.r_[a[flat, 1], b[flat, 1]], np.tile(region.rim_width_m[flat], 2)
    return np.unique(np.r_[v - w, v + w])


def first_across(region: Region) -> float | None:
    """Leftmost across coordinate of the region, to a nanometre or so; None if it is empty. [m]

    Probed every 0.25 m and beside every rim that runs along the lines; a part of the region that is
    narrower than that and bounded by no such rim may be passed over.
    """
    if not len(region.inside):
        return None
    reach = region.inside.start_m[:, 1]
    position, right = float(reach.min()), float(reach.max())
    critical = np.sort(flat_rims(region, _ALONG_LEAN))
    near_enough = 1e-10 * max(1.0, right - position)
    before, found, fan = position, None, _FAN
    step = min(_SEARCH_STEP_M, (right - position) / 16) or _SEARCH_STEP_M
    while found is None:
        grid = position + step * np.arange(fan)
        here = critical[slice(*np.searchsorted(critical, (position, grid[-1])))]
        probes = np.sort(np.r_[grid, here - _BESIDE_M, here, here + _BESIDE_M])
        pieces = clip_lines(probes, _reaching(region, probes[0], probes[-1]))
        if len(pieces):
            found = float(probes[pieces.line[0]])
            before = float(probes[pieces.line[0] - 1]) if pieces.line[0] else before
        elif position > right:
            return None
        else:
            before = position = float(grid[-1])
            fan = min(2 * fan, 16 * _FAN)
    region = _reaching(region, before, found)
    fan = int(np.clip(_MEETINGS / len(region.rim), 6, 48)) if len(region.rim) else 48
    while found - before > near_enough:
        probes = np.linspace(before, found, fan)
        hit = clip_lines(probes[1:-1], region).line
        index = hit[0] + 1 if len(hit) else fan - 1
        narrower = float(probes[index - 1]), float(probes[index])
        if narrower == (before, found):
            break
        before, found = narrower
    return found


def _reaching(region: Region, low: float, high: float) -> Region:
    """The region with only those edges that lines between `low` and `high` can meet."""

    def picked(edges: Edges, width):
        v = edges.start_m[:, 1], edges.end_m[:, 1]
        met = (np.minimum(*v) - width <= high) & (np.maximum(*v) + width >= low)
        return Edges(edges.start_m[met], edges.end_m[met], edges.ring[met], edges.index[met]), met

    width = region.rim_width_m if region.rim_width_m is not None else np.zeros(len(region.rim))
    rim, met = picked(region.rim, width)
    return Region(
        picked(region.inside, 0.0)[0],
        picked(region.outside, 0.0)[0],
        rim,
        width[met],
        region.strips,
    )


def extent_across(region: Region) -> tuple[float, float] | None:
    """Left and right extreme of the region across the lines; None if it is empty. [m]"""
    left = first_across(region)
    if left is None:
        return None
    right = first_across(region.mirrored())
    return left, -right if right is not None else left
