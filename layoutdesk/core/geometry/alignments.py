"""Lines that lie exactly along a region's rim, or touch its corners and circles, settled by one rule."""

from __future__ import annotations

import numpy as np

from .scanline import FLAT_RUN_M, RIM_M, TOUCH_M, Pieces, Region, clip_lines, close_together

_FLAT_LEAN = 2 * RIM_M / FLAT_RUN_M
"""Rims that lean more, across over along, are not followed for FLAT_RUN_M within RIM_M. [1]"""


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
    pieces = clip_lines(across_m, region, 2 * RIM_M)
    critical = _critical_across(region)
    near = np.searchsorted(critical, across_m - RIM_M) < np.searchsorted(
        critical, across_m + RIM_M, "right"
    )
    which = np.flatnonzero(near)
    if not len(which):
        return pieces
    here = near[pieces.line]
    own = pieces.taken(here)
    for around in _beside(across_m, which, region):
        own = _on_the_rim(own, _union(own, around))
    own = _merged(own.line, own.start_m, own.end_m, 2 * RIM_M)
    pieces = pieces.taken(~here)
    at = np.searchsorted(pieces.line, own.line)
    fields = ("line", "start_m", "end_m")
    return Pieces(*(np.insert(getattr(pieces, f), at, getattr(own, f)) for f in fields))


def _critical_across(region: Region) -> np.ndarray:
    """Across positions where the region's shape along a line can change abruptly, sorted."""
    (ua, va), (ub, vb) = region.inside.start_m.T, region.inside.end_m.T
    rise = vb - va
    flat = np.abs(rise) <= _FLAT_LEAN * np.abs(ub - ua)
    corners = [va[flat], vb[flat]]
    arcs = region.arcs
    for end in (arcs.from_m, arcs.to_m):
        corners.append(end[np.abs(end - arcs.across_m) > np.abs(arcs.radius_m) - RIM_M])
    if region.rim_width_m is not None:
        for end in (region.rim.start_m[:, 1], region.rim.end_m[:, 1]):
            corners += [end - region.rim_width_m, end + region.rim_width_m]
    return np.sort(np.concatenate(corners))


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


def _union(a: Pieces, b: Pieces) -> Pieces:
    line, start, end = (np.r_[getattr(a, f), getattr(b, f)] for f in ("line", "start_m", "end_m"))
    order = np.lexsort((start, line))
    return _merged(line[order], start[order], end[order])


def _merged(line, start, end, gap_m: float = TOUCH_M) -> Pieces:
    """Sorted intervals, those no more than `gap_m` apart joined, those without length gone."""
    if not len(line):
        return Pieces(line, start, end)
    joined = close_together(line, start, _running_end(line, end), gap_m)
    return joined.taken(joined.length_m > TOUCH_M)


def _running_end(line, end):
    """Greatest end so far on the same line; intervals are sorted by start."""
    if not np.any((end[1:] < end[:-1]) & (line[1:] == line[:-1])):
        return end
    out = end.copy()
    for i in range(1, len(out)):
        if line[i] == line[i - 1] and out[i] < out[i - 1]:
            out[i] = out[i - 1]
    return out
