"""Rows whose ends stand where they were measured: beside their lines, at places of their own."""

from __future__ import annotations

import numpy as np
import shapely

from ..geometry.along_parallels import places_at
from ..geometry.axes import RowAxes
from ..geometry.scanline import Pieces
from ..model import Block, Finding, RowPlan, RowRules
from ..model.rowplan import Course
from .clearances import plantable_area
from .overrides import LEAST_LEFT_M, Spots

STAKED = "end staked"
OUTSIDE_M = 0.1
"""A measured end may stand so far outside what is plantable without a word. [m]"""
NARROWER = 0.1
"""Neighbouring rows may stand nearer by this share of their spacing without a word."""


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
    which = [i for i, o in enumerate(block.overrides) if o.what == STAKED]
    if not which:
        return pieces, None, set()
    start, end, unfit, taken = pieces.start_m.copy(), pieces.end_m.copy(), set(), {}
    order = np.argsort(pieces.line, kind="stable")
    begins = np.searchsorted(pieces.line[order], np.arange(len(across_m) + 1))
    for i in which:
        line, along = int(spots.line[i]), spots.along_m[i]
        mine = order[begins[line] : begins[line + 1]] if line >= 0 else ()
        if not len(mine):
            unfit.add(i)
            continue
        away = np.abs(np.stack([start[mine], end[mine]]) - along)
        side, piece = np.unravel_index(np.argmin(away), away.shape)
        at = int(mine[piece])
        new = (along, end[at]) if side == 0 else (start[at], along)
        others = np.delete(mine, piece)
        if (
            new[1] - new[0] < LEAST_LEFT_M
            or ((start[others] < new[1]) & (end[others] > new[0])).any()
        ):
            unfit.add(i)
            continue
        start[at], end[at] = new
        if (at, side) in taken:
            unfit.add(taken[at, side])  # measured again since
        taken[at, side] = i
    if not taken:
        return pieces, None, unfit
    ends = _laid_ends(pieces.line, start, end, rules, across_m, course)
    for (at, side), i in taken.items():
        ends[at, side] = block.overrides[i].x_m, block.overrides[i].y_m
    if course is None:
        touched = np.unique([at for at, _ in taken])
        end[touched] = start[touched] + np.hypot(*(ends[touched, 1] - ends[touched, 0]).T)
    return Pieces(pieces.line, start, end), ends, unfit


def _laid_ends(line, start, end, rules: RowRules, across_m, course: Course | None) -> np.ndarray:
    if course is not None:
        sides = [places_at(course.lines, line, along) for along in (start, end)]
    else:
        axes, across = RowAxes(rules.bearing_deg), across_m[line]
        sides = [axes.to_plane(np.column_stack([along, across])) for along in (start, end)]
    return np.stack(sides, axis=1)


def staked_findings(plan: RowPlan, exclusions=()) -> list[Finding]:
    """Measured ends outside what is plantable, and rows that stand too near to each other."""
    if plan.measured_ends_m is None:
        return []
    return [*_outside(plan, exclusions), *_too_near(plan)]


def _outside(plan: RowPlan, exclusions):
    area = plantable_area(plan.block, plan.rules, exclusions)
    used = [
        o
        for i, o in enumerate(plan.block.overrides)
        if o.what == STAKED and i not in set(plan.unfit)
    ]
    points = shapely.points([(o.x_m, o.y_m) for o in used])
    far = shapely.distance(points, area)
    beyond = np.flatnonzero(far > OUTSIDE_M)
    if len(beyond):
        worst = used[int(beyond[np.argmax(far[beyond])])]
        ends = (
            "1 measured row end stands"
            if len(beyond) == 1
            else f"{len(beyond)} measured row ends stand"
        )
        yield Finding(
            "staked-outside",
            f"{ends} outside the plantable area of {plan.block.name}, the farthest by {far.max():.2f} m: see "
            "that machines can turn there and nothing is in the way.",
            plan.block.name,
            (worst.x_m, worst.y_m),
        )


def _too_near(plan: RowPlan):
    if plan.course is not None:
        return
    s, spacing = plan.segments, plan.rules.row_spacing_m
    across = plan.axes.to_axes(plan.measured_ends_m.reshape(-1, 2))[:, 1].reshape(-1, 2)
    lines, first = np.unique(s.line, return_index=True)
    last = np.append(first[1:], len(s.line)) - 1
    if plan.rules.number_from != "left":
        order = np.argsort(s.line, kind="stable")
        lines, at = np.unique(s.line[order], return_index=True)
        first, last = order[at], order[np.append(at[1:], len(order)) - 1]
    sides = np.column_stack([across[first, 0], across[last, 1]])
    next_to = np.diff(lines) == 1
    gap = np.diff(sides, axis=0)[next_to]
    near = np.flatnonzero((gap < (1 - NARROWER) * spacing).any(axis=1))
    if len(near):
        worst = int(near[np.argmin(gap[near].min(axis=1))])
        line = int(lines[:-1][next_to][worst])
        numbers = plan.number_of_line(line), plan.number_of_line(line + 1)
        x, y = plan.measured_ends_m[first[:-1][next_to][worst], 0].tolist()
        yield Finding(
            "staked-outside",
            f"Rows {numbers[0]} and {numbers[1]} of {plan.block.name} stand {gap[worst].min():.2f} m apart by their "
            f"measured ends, planned are {spacing:.2f} m: see that machines pass.",
            plan.block.name,
            (x, y),
        )
