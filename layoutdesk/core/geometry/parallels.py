"""Lines that run parallel to a curve, all at once, with stations along each.

An offset moves every vertex of the curve along its normal, so parallels keep the curve's vertices
and their stations are lengths of chords. Stations of a line count from its own start.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from .curves import Curve
from .scanline import FLAT_RUN_M

_SHORTEST_M = 1e-8  # edges of a parallel; less is lost in running stations of thousands of lines
APART_M = 1.0
"""Between the end of one line and the start of the next in running stations. [m]"""


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
        return np.r_[0.0, np.cumsum(self.length_m + APART_M)][: len(self)]

    @cached_property
    def running_m(self) -> np.ndarray:
        """(N,): running station of each vertex, strictly increasing. [m]"""
        return self.station_m + self.origin_m[self.line]

    def parts(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Each part as a LineString, the line it is of, and the station it begins at. [m]"""
        line = self.line
        new = fresh(line, self.part)
        shapes = shapely.linestrings(self.xy_m, indices=np.cumsum(new) - 1)
        return shapes, line[new], self.station_m[new]

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
    keep = fresh(line, part) | (step > _SHORTEST_M)
    line, xy, part = line[keep], xy[keep], part[keep]
    group = np.cumsum(fresh(line, part)) - 1
    keep = (np.bincount(group)[group] > 1) if len(group) else keep
    line, xy, part = line[keep], xy[keep], part[keep]
    run = np.r_[0.0, np.cumsum(np.hypot(*np.diff(xy, axis=0).T))][: len(xy)]
    first = np.searchsorted(line, np.arange(len(across) + 1))
    return Lines(across, xy, first, run - run[first[line]], part, folded)


def fresh(*keys) -> np.ndarray:
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
    start, _, backward = located(bits, shapes[owner])
    bits = np.where(backward, shapely.reverse(bits), bits)
    order = np.lexsort((start, owner))
    bits, owner = bits[order], owner[order]
    xy, bit = shapely.get_coordinates(bits, return_index=True)
    head = np.flatnonzero(fresh(bit))
    tail = np.r_[head[1:], len(xy)] - 1
    gap = np.hypot(*(xy[head[1:]] - xy[tail[:-1]]).T) > 1e-6
    new = fresh(owner)
    count = np.cumsum(np.r_[False, gap][: len(new)] & ~new)
    part = count - count[np.flatnonzero(new)][np.cumsum(new) - 1]
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


def located(bits, lines):
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
    head = np.flatnonzero(fresh(bit))
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
