"""Chains of inlets: which rows one submain line can serve, in row order."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..model import RowPlan
from .design import LateralLines

_ROWS_BETWEEN = 5
"""A submain passes so many row lines without a lateral, such as rows left out."""
_STEP_ROWS, _STEP_LEAST_M = 6.0, 80.0
"""From one inlet to the next row's a submain goes this many row spacings at most, or this far: an outline's
edge at 30° to the rows makes it go 2 of them, one along the rows 20 and more. Common practice. [m]"""


_TIE = 1e-6
"""Shares of flow that differ by less are alike: rounding moves no row into another set."""


def chains(plan: RowPlan, lines: LateralLines, block: int) -> list[np.ndarray]:
    """Laterals of one plan in chains, each in row order.

    Row line by row line every inlet goes on the chain whose last inlet is nearest and near enough. So a
    row that is cut in two by an alley wider than a bridge is served by two chains.

    Returns
    -------
    list of int array
        Indices of laterals.
    """
    mine = np.flatnonzero(lines.block == block)
    if not len(mine):
        return []
    line_of_number = dict(
        zip(plan.segments.number.tolist(), plan.segments.line.tolist(), strict=True)
    )
    line = np.array([line_of_number[n] for n in lines.number[mine].tolist()])
    reach = max(_STEP_ROWS * plan.rules.row_spacing_m, _STEP_LEAST_M)
    open_chains: list[list[int]] = []
    last_line: list[int] = []
    place = lines.inlet_xy_m
    order = np.argsort(line, kind="stable")
    starts = np.flatnonzero(np.diff(line[order], prepend=line[order][0] - 1))
    for group in np.split(order, starts[1:]):
        here = int(line[group[0]])
        waiting = [c for c, at in enumerate(last_line) if 0 < here - at <= _ROWS_BETWEEN]
        inlets = mine[group]
        for lateral, c in _matched(inlets, [open_chains[c][-1] for c in waiting], place, reach):
            if c < 0:
                open_chains.append([lateral])
                last_line.append(here)
            else:
                open_chains[waiting[c]].append(lateral)
                last_line[waiting[c]] = here
    return [np.array(c, dtype=np.intp) for c in open_chains]


def _matched(inlets: np.ndarray, ends: Sequence[int], place: np.ndarray, reach: float):
    """Each inlet with the place in `ends` it goes on from, -1 for none; the nearest pairs first."""
    found = {int(i): -1 for i in inlets}
    if len(inlets) == 1 and len(ends) == 1:
        (i,), (e,) = found, ends
        near = np.hypot(*(place[i] - place[e])) <= reach
        return [(i, 0 if near else -1)]
    if len(ends):
        away = np.linalg.norm(place[inlets][:, None] - place[list(ends)][None], axis=2)
        taken_end: set[int] = set()
        for flat in np.argsort(away, axis=None, kind="stable").tolist():
            i, e = divmod(flat, len(ends))
            if away[i, e] > reach:
                break
            if found[int(inlets[i])] < 0 and e not in taken_end:
                found[int(inlets[i])] = e
                taken_end.add(e)
    return list(found.items())


def running_m(xy_m: np.ndarray, height_m: np.ndarray) -> np.ndarray:
    """How far along a chain each of its inlets stands, over the ground, (k,). [m]"""
    step = np.linalg.norm(np.diff(xy_m, axis=0), axis=1)
    return np.concatenate([[0.0], np.cumsum(np.hypot(step, np.diff(height_m)))])


def divided(flow_l_h: np.ndarray, n_sets: int) -> list[np.ndarray]:
    """Places along a chain in so many runs of nearly the same flow, none of them empty.

    >>> [run.tolist() for run in divided(np.array([1.0, 1.0, 2.0, 2.0]), 2)]
    [[0, 1], [2, 3]]
    """
    count = len(flow_l_h)
    n_sets = min(max(n_sets, 1), count)
    total = float(flow_l_h.sum())
    middle = np.cumsum(flow_l_h) - flow_l_h / 2
    share = middle / total if total > 0 else (np.arange(count) + 0.5) / count
    run = np.minimum((share * n_sets + _TIE).astype(np.intp), n_sets - 1)
    # every run has at least one lateral: the least and greatest index that leave room for the others
    rank = np.arange(count)
    run = np.clip(run, n_sets - (count - rank), rank)
    for i in range(1, count):  # and none is jumped over
        run[i] = min(max(run[i], run[i - 1]), run[i - 1] + 1)
    return [np.flatnonzero(run == k) for k in range(n_sets)]
