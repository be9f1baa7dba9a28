"""What a person decided for single rows, posts and vines, put into effect on a layout."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..geometry.axes import RowAxes
from ..geometry.curves import to_lines
from ..geometry.scanline import Pieces
from ..geometry.stationing import ALIGN_M
from ..model import Block, RowRules, Segments
from ..model.rowplan import Course, Special

LEAST_LEFT_M = 0.5
"""A moved end leaves at least so much of its row. [m]"""


@dataclass(frozen=True, eq=False)
class Spots:
    """Where the overrides of a block lie among its row lines.

    Attributes
    ----------
    line : int array, shape (n,)
        Row line within half a row spacing, -1 where there is none.
    along_m : float array, shape (n,)
        Along that line. [m]
    """

    line: np.ndarray
    along_m: np.ndarray


def spots_of(block: Block, rules: RowRules, across_m: np.ndarray, course: Course | None) -> Spots:
    """Where the block's overrides lie on row lines at `across_m`."""
    n = len(block.overrides)
    if not n or not len(across_m):
        return Spots(np.full(n, -1), np.zeros(n))
    xy = np.array([(o.x_m, o.y_m) for o in block.overrides])
    if course is None:
        along, across = RowAxes(rules.bearing_deg).to_axes(xy).T
    else:
        across = to_lines(course.guide, xy)[1]
    line = np.rint((across - across_m[0]) / rules.row_spacing_m).astype(np.intp)
    known = (line >= 0) & (line < len(across_m))
    line = np.where(known, line, 0)
    known &= np.abs(across - across_m[line]) <= rules.row_spacing_m / 2 + ALIGN_M
    if course is not None:
        shapes = course.lines.as_shapes()[line]
        known &= ~shapely.is_empty(shapes)
        along = np.nan_to_num(shapely.line_locate_point(shapes, shapely.points(xy)))
    return Spots(np.where(known, line, -1), along)


def with_ends_moved(pieces: Pieces, block: Block, spots: Spots) -> tuple[Pieces, set[int]]:
    """Pieces with the ends that overrides move, and which overrides found none."""
    start, end, unfit = pieces.start_m.copy(), pieces.end_m.copy(), set()
    for i, override in enumerate(block.overrides):
        if override.what != "end moved":
            continue
        along, mine = spots.along_m[i], np.flatnonzero(pieces.line == spots.line[i])
        if not len(mine):
            unfit.add(i)
            continue
        away = np.abs(np.stack([start[mine], end[mine]]) - along)
        which, piece = np.unravel_index(np.argmin(away), away.shape)
        new = (along, end[mine[piece]]) if which == 0 else (start[mine[piece]], along)
        others = np.delete(mine, piece)
        if (
            new[1] - new[0] < LEAST_LEFT_M
            or ((start[others] < new[1]) & (end[others] > new[0])).any()
        ):
            unfit.add(i)
            continue
        start[mine[piece]], end[mine[piece]] = new
    return Pieces(pieces.line, start, end), unfit


def left_out(segments: Segments, block: Block, spots: Spots) -> tuple[np.ndarray, set[int]]:
    """Which segments overrides leave out, shape (s,), and which overrides found none."""
    out, unfit = np.zeros(len(segments), dtype=bool), set()
    for i, override in enumerate(block.overrides):
        if override.what == "row left out":
            here = holding(segments, spots, i)
            if here is None:
                unfit.add(i)
            else:
                out[here] = True
    return out, unfit


def holding(segments: Segments, spots: Spots, i: int) -> int | None:
    """The segment that a spot lies on."""
    along = spots.along_m[i]
    here = (segments.line == spots.line[i]) & (segments.start_m <= along + ALIGN_M)
    here = np.flatnonzero(here & (segments.end_m >= along - ALIGN_M))
    return int(here[0]) if len(here) else None


def special_of(
    segments: Segments, out: np.ndarray, rules: RowRules, block: Block, spots: Spots
) -> tuple[Special, set[int]]:
    """Single vines and posts that overrides touch, and which overrides found none.

    Segments count without those that are left `out`.
    """
    gaps, added, posts, unfit = set(), set(), {}, set()
    place = np.cumsum(~out) - 1
    s, every = segments, rules.line_post_every
    for i, override in enumerate(block.overrides):
        if override.what in ("row left out", "end moved", "end staked"):
            continue
        here = holding(segments, spots, i)
        if here is None:
            unfit.add(i)
            continue
        if out[here]:
            continue  # its row is left out: it waits for it
        along, at, step = spots.along_m[i], int(place[here]), float(s.vine_step_m[here])
        from_first, n = along - s.start_m[here] - s.first_vine_m[here], int(s.n_vines[here])
        if override.what == "vine added":
            added.add((at, float(along)))
            continue
        if override.what == "vine left out":
            index, most = round(from_first / step) + 1, n
        else:
            interval = step * every
            most = max(n - 1, 0) // every if every else 0
            index = round((from_first + step / 2) / interval) if every else 0
        if not 1 <= index <= most:
            unfit.add(i)
        elif override.what == "vine left out":
            gaps.add((at, index))
        else:
            posts[at, index] = float(along)
    gap, more, post = sorted(gaps), sorted(added), sorted(posts)
    special = Special(
        np.array([g[0] for g in gap], np.intp),
        np.array([g[1] for g in gap], np.intp),
        np.array([a[0] for a in more], np.intp),
        np.array([a[1] for a in more], float),
        np.array([p[0] for p in post], np.intp),
        np.array([p[1] for p in post], np.intp),
        np.array([posts[p] for p in post], float),
    )
    return special, unfit
