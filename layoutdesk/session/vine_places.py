"""Vines on the plan: the one under the hand, its neighbours, and where it stands."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..core.layout.looking import segment_at
from ..core.layout.numbering import mark_code
from ..core.model import RowPlan

Vine = tuple[int, int]
"""A vine, told by the index of its plan and its own there, in the order of `plan.vines`."""


def vine_at(plans: Sequence[RowPlan], x_m: float, y_m: float, reach_m: float) -> Vine | None:
    """The vine nearest to a place, None where none is within reach."""
    best, nearest = None, reach_m
    for p, plan in enumerate(plans):
        near = segment_at(plan, x_m, y_m, reach_m)
        if near is None:
            continue
        begin, end = vines_of_segment(plan, near)
        if begin == end:
            continue
        away = np.hypot(*(plan.vines.xy_m[begin:end] - (x_m, y_m)).T)
        i = int(np.argmin(away))
        if away[i] <= nearest:
            best, nearest = (p, begin + i), float(away[i])
    return best


def vines_of_segment(plan: RowPlan, segment: int) -> tuple[int, int]:
    """First vine of a segment, and the one behind its last."""
    stop = np.cumsum(plan.vines_of_segment)
    return int(stop[segment] - plan.vines_of_segment[segment]), int(stop[segment])


def segment_of_vine(plan: RowPlan, vine: int) -> int:
    return int(np.searchsorted(np.cumsum(plan.vines_of_segment), vine, side="right"))


def place_of_vine(plans: Sequence[RowPlan], vine: Vine) -> tuple[float, float]:
    """Where a vine stands in the site frame. [m]"""
    x, y = plans[vine[0]].vines.xy_m[vine[1]].tolist()
    return x, y


def next_vine(plans: Sequence[RowPlan], vine: Vine, along: int, rows: int) -> Vine:
    """The vine so many places on in its row, or beside it so many segments on; within the block."""
    p, v = vine
    plan = plans[p]
    segment = segment_of_vine(plan, v)
    if rows:
        filled = np.flatnonzero(plan.vines_of_segment)
        at = int(np.searchsorted(filled, segment)) + rows
        begin, end = vines_of_segment(plan, int(filled[min(max(at, 0), len(filled) - 1)]))
        away = np.hypot(*(plan.vines.xy_m[begin:end] - plan.vines.xy_m[v]).T)
        return p, begin + int(np.argmin(away))
    begin, end = vines_of_segment(plan, segment)
    return p, min(max(v + along, begin), end - 1)


def first_vine(plans: Sequence[RowPlan]) -> Vine | None:
    """The first vine there is."""
    return next(((p, 0) for p, plan in enumerate(plans) if plan.n_vines), None)


def index_of(plans: Sequence[RowPlan], vine: Vine) -> int:
    """A vine's place among those of all plans."""
    return sum(p.n_vines for p in plans[: vine[0]]) + vine[1]


def vine_of_index(plans: Sequence[RowPlan], index: int) -> Vine:
    """The vine at a place among those of all plans."""
    for p, plan in enumerate(plans):
        if index < plan.n_vines:
            return p, index
        index -= plan.n_vines
    raise IndexError(f"index: {index} is behind the last vine")


def code_of_vine(plans: Sequence[RowPlan], vine: Vine) -> str:
    """The code of a vine, such as B1-R012A-V034."""
    plan = plans[vine[0]]
    s, i = plan.segments, segment_of_vine(plan, vine[1])
    index = int(plan.vines.index[vine[1]])
    return mark_code(plan.block.name, int(s.number[i]), int(s.letter[i]), "vine", index)


def vines_of_segments(plans: Sequence[RowPlan], places) -> np.ndarray:
    """Places among those of all plans of the vines of segments, told by plan and segment; rising."""
    chosen, offset = [np.empty(0, np.intp)], 0
    places = set(places)
    for p, plan in enumerate(plans):
        mine = np.zeros(plan.n_segments, bool)
        mine[[i for q, i in places if q == p]] = True
        chosen.append(offset + np.flatnonzero(np.repeat(mine, plan.vines_of_segment)))
        offset += plan.n_vines
    return np.concatenate(chosen)
