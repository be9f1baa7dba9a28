"""Rows whose ends stand where they were measured: beside their lines, at places of their own."""

from __future__ import annotations

import numpy as np
import shapely

from ..geometry.along_parallels import places_at
from ..geometry.axes import RowAxes
from ..geometry.curves import to_lines
from ..geometry.scanline import Pieces
from ..model import Block, Finding, RowPlan, RowRules, Segments
from ..model.findings import in_wording
from ..model.rowplan import Course
from .clearances import plantable_area
from .overrides import LEAST_LEFT_M, Spots, holding

STAKED = "end staked"
OUTSIDE_M = 0.1
"""A measured end may stand so far outside what is plantable without a word. [m]"""
ASKEW = 0.1
"""Neighbouring rows may stand nearer, or farther apart, by this share of their spacing without a word."""


def with_ends_staked(
    pieces: Pieces,
    block: Block,
    rules: RowRules,
    spots: Spots,
    across_m: np.ndarray,
    course: Course | None,
) -> tuple[Pieces, np.ndarray | None, set[int]]:
    """Pieces between measured ends, where these stand, and which overrides found no end.

    A straight piece runs from one end to the other and is as long as they are apart; a bent one keeps its bend, and
    its ends say where it begins and stops. Stations count from where the start end is beside the row line.

    Parameters
    ----------
    pieces : Pieces
    block : Block
    rules : RowRules
    spots : Spots
        Of the block's overrides.
    across_m : float array, shape (k,)
        Of all row lines. [m]
    course : Course or None

    Returns
    -------
    Pieces, float array of shape (n, 2, 2) or None, set of int
        None where no end of the block was measured.
    """
    which = np.flatnonzero([o.what == STAKED for o in block.overrides])
    if not len(which):
        return pieces, None, set()
    along = spots.along_m[which]
    end_of = _nearest_ends(pieces, spots.line[which], along)
    end_of = _where_rows_remain(pieces, end_of, along)
    taken = np.flatnonzero(end_of >= 0)
    unfit = set(which[end_of < 0].tolist())
    if not len(taken):
        return pieces, None, unfit
    start, end = _stations(pieces, end_of, along)
    ends = _laid_ends(pieces.line, start, end, rules, across_m, course)
    places = [(block.overrides[i].x_m, block.overrides[i].y_m) for i in which[taken].tolist()]
    ends.reshape(-1, 2)[end_of[taken]] = places
    if course is None:
        touched = np.unique(end_of[taken] // 2)
        end[touched] = start[touched] + np.hypot(*(ends[touched, 1] - ends[touched, 0]).T)
    return Pieces(pieces.line, start, end), ends, unfit


def _nearest_ends(pieces: Pieces, line: np.ndarray, along_m: np.ndarray) -> np.ndarray:
    """Which end each measured one is, 2 p at the start of piece p and 2 p + 1 at its far end; -1 for none.

    Of several for one end the last holds, the others were measured before.
    """
    end_of = np.full(len(line), -1)
    stations = np.stack([pieces.start_m, pieces.end_m], axis=1).ravel()
    if not len(stations):
        return end_of
    order = np.lexsort((stations, np.repeat(pieces.line, 2)))
    line_of, stations = np.repeat(pieces.line, 2)[order], stations[order]
    begin, stop = (np.searchsorted(line_of, line, side) for side in ("left", "right"))
    far = 1 + 2 * max(np.abs(stations).max(), np.abs(along_m).max())
    after = np.searchsorted(line_of * far + stations, line * far + along_m)
    some = (line >= 0) & (stop > begin)
    begin, stop, after = begin[some], stop[some], after[some]
    low, high = np.clip(after - 1, begin, stop - 1), np.clip(after, begin, stop - 1)
    away = [np.abs(stations[at] - along_m[some]) for at in (low, high)]
    end_of[some] = order[np.where(away[0] <= away[1], low, high)]
    last = np.full(len(order), -1)
    last[end_of[some]] = np.flatnonzero(some)
    end_of[some & (last[end_of] != np.arange(len(line)))] = -1
    return end_of


def _where_rows_remain(pieces: Pieces, end_of: np.ndarray, along_m: np.ndarray) -> np.ndarray:
    """`end_of` without those that would leave too little of their piece.

    An end is nearer to its own place than to any other's, so pieces never run into each other.
    """
    start, end = _stations(pieces, end_of, along_m)
    short = end - start < LEAST_LEFT_M
    return np.where((end_of >= 0) & short[end_of // 2], -1, end_of)


def _stations(pieces: Pieces, end_of: np.ndarray, along_m: np.ndarray):
    """Start and end of all pieces, where some ends are measured. [m]"""
    stations = np.stack([pieces.start_m, pieces.end_m], axis=1)
    stations.reshape(-1)[end_of[end_of >= 0]] = along_m[end_of >= 0]
    return stations[:, 0].copy(), stations[:, 1].copy()


def _laid_ends(line, start, end, rules: RowRules, across_m, course: Course | None) -> np.ndarray:
    if course is not None:
        sides = [places_at(course.lines, line, along) for along in (start, end)]
    else:
        axes, across = RowAxes(rules.bearing_deg), across_m[line]
        sides = [axes.to_plane(np.column_stack([along, across])) for along in (start, end)]
    return np.stack(sides, axis=1)


def spots_in_rows(
    spots: Spots, block: Block, segments: Segments, ends_m: np.ndarray, course: Course | None
) -> Spots:
    """Spots whose stations count along the rows between measured ends, which are a little longer and askew.

    Parameters
    ----------
    spots : Spots
        With stations along the row lines.
    block : Block
    segments : Segments
    ends_m : float array, shape (s, 2, 2)
        Where the ends of all segments stand. [m]
    course : Course or None
    """
    single = [i for i, o in enumerate(block.overrides) if o.what in _SINGLE]
    held = [(i, holding(segments, spots, i)) for i in single]
    at = np.array([i for i, here in held if here is not None], np.intp)
    here = np.array([h for _, h in held if h is not None], np.intp)
    if not len(at):
        return spots
    xy = np.array([(block.overrides[i].x_m, block.overrides[i].y_m) for i in at.tolist()])
    along, (start, far) = spots.along_m.copy(), ends_m[here].transpose(1, 0, 2)
    begin, length = segments.start_m[here], segments.length_m[here]
    if course is None:
        along[at] = begin + np.einsum("ij,ij->i", xy - start, far - start) / length
        return Spots(spots.line, along)
    line, found = segments.line[here], along[at]
    laid = [places_at(course.lines, line, station) for station in (begin, begin + length)]
    rows = course.lines.as_shapes()[line]
    for _ in range(_ROUNDS):
        share = ((found - begin) / length)[:, None]
        off = (start - laid[0]) * (1 - share) + (far - laid[1]) * share
        found = shapely.line_locate_point(rows, shapely.points(xy - off))
    along[at] = found
    return Spots(spots.line, along)


_SINGLE = ("line post moved", "vine left out", "vine added")
_ROUNDS = 4
"""A bend moves by what its ends are off, and a place along it with that: each round leaves a small share of what
the one before was wrong by."""


def staked_findings(plan: RowPlan, exclusions=()) -> list[Finding]:
    """Measured ends outside what is plantable, and rows that stand too near to each other or too far apart."""
    if plan.measured_ends_m is None:
        return []
    return [*_outside(plan, exclusions), *_misplaced_rows(plan)]


def _outside(plan: RowPlan, exclusions):
    area = plantable_area(plan.block, plan.rules, exclusions)
    unfit = set(plan.unfit)
    used = [o for i, o in enumerate(plan.block.overrides) if o.what == STAKED and i not in unfit]
    points = shapely.points([(o.x_m, o.y_m) for o in used])
    far = shapely.distance(points, area)
    beyond = np.flatnonzero(far > OUTSIDE_M)
    if len(beyond):
        worst = used[int(beyond[np.argmax(far[beyond])])]
        ends = "1 measured row end stands"
        if len(beyond) > 1:
            ends = f"{len(beyond)} measured row ends stand"
        yield Finding(
            "staked-outside",
            wording=f"{ends} outside the plantable area of {in_wording(plan.block.name)}, the farthest by {{}}: "
            "see that machines can turn there and nothing is in the way.",
            lengths_m=(float(far.max()),),
            where=plan.block.name,
            place=(worst.x_m, worst.y_m),
        )


def _misplaced_rows(plan: RowPlan):
    """Where a row's ends stand nearer to the next row, or farther from it, than planned."""
    s, spacing = plan.segments, plan.rules.row_spacing_m
    along = np.stack([s.start_m, s.end_m], axis=1).ravel()
    across = _across_m(plan).ravel()
    order = np.lexsort((along, np.repeat(s.line, 2)))
    line, along, across = np.repeat(s.line, 2)[order], along[order], across[order]
    fresh = np.flatnonzero(np.r_[True, np.diff(line) > 0])
    # of every end the place in the next row beside it, within that row's length
    of_line = np.searchsorted(line[fresh], line)
    after = np.minimum(of_line + 1, len(fresh) - 1)
    first, last = fresh[after], np.r_[fresh[1:], len(line)][after] - 1
    far = 1 + 2 * np.abs(along).max()
    beside = np.interp(
        line[first] * far + np.clip(along, along[first], along[last]), line * far + along, across
    )
    gap = np.where(line[first] == line + 1, beside - across, spacing)
    amiss = np.flatnonzero(np.abs(gap - spacing) > ASKEW * spacing)
    if not len(amiss):
        return
    worst = int(amiss[np.argmin(gap[amiss])])
    if gap[worst] > spacing:
        worst = int(amiss[np.argmax(gap[amiss])])
    numbers = sorted(map(plan.number_of_line, (int(line[worst]), int(line[worst]) + 1)))
    others = len(np.unique(line[amiss])) - 1
    more = {0: "", 1: "; one more pair of rows is off likewise"}.get(
        others, f"; {others} more pairs of rows are off likewise"
    )
    x, y = plan.segment_ends_m.reshape(-1, 2)[order[worst]].tolist()
    yield Finding(
        "staked-spacing",
        wording=f"Rows {numbers[0]} and {numbers[1]} of {in_wording(plan.block.name)} stand {{}} apart by their "
        f"measured ends, planned are {{}}{more}. See that machines pass.",
        lengths_m=(float(gap[worst]), spacing),
        where=plan.block.name,
        place=(x, y),
    )


def _across_m(plan: RowPlan) -> np.ndarray:
    """Offset of the ends of all segments, right positive, from one straight line or the guide line, (s, 2). [m]"""
    if plan.course is None:
        return plan.axes.to_axes(plan.segment_ends_m.reshape(-1, 2))[:, 1].reshape(-1, 2)
    return to_lines(plan.course.guide, plan.segment_ends_m.reshape(-1, 2))[1].reshape(-1, 2)
