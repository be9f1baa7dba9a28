"""The chosen rows of a hand-off, block by block."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.model import RowPlan
from .handoffset import HandOffSet


@dataclass(frozen=True, eq=False)
class BlockRows:
    """The chosen rows of one block.

    Attributes
    ----------
    plan : RowPlan
    segment : int array, shape (s,)
        Which of the plan's segments.
    line : int array, shape (s,)
        Which of the lines of the hand-off.
    owner : int array, shape (s,)
        Which of the owners of its points.
    """

    plan: RowPlan
    segment: np.ndarray
    line: np.ndarray
    owner: np.ndarray

    @property
    def is_straight(self) -> bool:
        return self.plan.course is None


def rows_by_block(hand: HandOffSet) -> list[BlockRows]:
    """The chosen rows of each block, in order; a block of which none is chosen has none."""
    lines, owners = hand.lines, hand.points.owners
    line_of = {lines.code[i]: i for i in np.flatnonzero(lines.kind == 0).tolist()}
    rows, first = [], 0
    for plan in hand.plans:
        codes = owners.code[first : first + plan.n_segments]
        line = np.array([line_of.get(code, -1) for code in codes], dtype=np.intp)
        segment = np.flatnonzero(line >= 0)
        rows.append(BlockRows(plan, segment, line[segment], first + segment))
        first += plan.n_segments
    return rows


def block_of(hand: HandOffSet, owner: int) -> int:
    """Number of the block an owner of points is in; the number of blocks for one that is in no row."""
    ends = np.cumsum([plan.n_segments for plan in hand.plans])
    return int(np.searchsorted(ends, owner, side="right"))
