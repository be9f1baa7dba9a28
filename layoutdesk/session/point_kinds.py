"""The points of a hand-off by kind, as they are listed before they are written."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.model.handoff import POINT_KINDS
from ..core.staking.points import Points, PointSet
from .point_words import KIND_WORDS
from .tally import grouped


@dataclass(frozen=True)
class PointKindLine:
    """One kind of points: how many, and the first of them by number and code."""

    kind: str
    count: str
    first: str
    key: str


def point_kind_lines(chosen: PointSet, points: Points) -> tuple[PointKindLine, ...]:
    """A line a kind there is any point of, in the order they are handed off.

    Parameters
    ----------
    chosen : PointSet
    points : Points
        All of them.
    """
    kinds, first, count = np.unique(points.kind, return_index=True, return_counts=True)
    lines = []
    for i in np.argsort(first).tolist():
        at, name = int(first[i]), POINT_KINDS[kinds[i]]
        code = chosen.code(int(points.owner[at]), int(points.kind[at]), int(points.index[at]))
        lines.append(
            PointKindLine(
                KIND_WORDS[name].capitalize(),
                grouped(int(count[i])),
                f"{points.number[at]}: {code}",
                name,
            )
        )
    return tuple(lines)


def points_sentence(points: Points) -> str:
    """How many points there are, and their numbers.

    Examples
    --------
    >>> none = np.empty(0, int)
    >>> points_sentence(Points(none, none, none, none, np.empty((0, 2))))
    'No point is handed off.'
    """
    n = len(points)
    if not n:
        return "No point is handed off."
    if n == 1:
        return f"1 point, number {points.number[0]}."
    return f"{grouped(n)} points, numbered {points.number.min()} to {points.number.max()}."
