"""Driving along every row once: turns in the headland, and the way there is to go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model import RowPlan


@dataclass(frozen=True)
class Pass:
    """One pass through a block: changes from segment to segment, rows and all the way. [m]"""

    turns: int
    rows_m: float
    travel_m: float


def pass_through(plan: RowPlan) -> Pass:
    """Every segment once, row after row, back and forth; between segments straight on.

    A row is driven in one direction, all its segments one after another; the next row in the
    other. The straight way from where one segment is left to where the next is entered is the
    least a machine can do: its turning circle and what lies in between come on top.
    """
    s = plan.segments
    n = len(s)
    if not n:
        return Pass(0, 0.0, 0.0)
    fresh = np.ones(n, dtype=bool)
    fresh[1:] = s.line[1:] != s.line[:-1]
    row = np.cumsum(fresh) - 1
    backward = row % 2 == 1
    order = np.lexsort((np.where(backward, -s.start_m, s.start_m), row))
    ends = plan.segment_ends_m[order]
    back = backward[order]
    entered = np.where(back[:, None], ends[:, 1], ends[:, 0])
    left = np.where(back[:, None], ends[:, 0], ends[:, 1])
    between = np.hypot(*(entered[1:] - left[:-1]).T).sum()
    rows = float(s.length_m.sum())
    return Pass(n - 1, rows, rows + float(between))
