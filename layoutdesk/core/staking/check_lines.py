"""Lines between named row ends that a tape or a total station can check: along rows, along headlands, across."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .lines import PlanLines
from .points import code_tail

CHECK_KINDS = (
    "diagonal",
    "other diagonal",
    "first row",
    "last row",
    "start ends",
    "far ends",
)
"""What is checked, the most telling first. Two diagonals tell a skewed and a wrongly scaled block, and with their
bearings a turned one."""
LONG_SHARE = 0.5
"""First and last row are the outermost of this share of the longest row at least: stubs in a corner of the block
would make all lines lie alike."""
MOST_LINES = 10
"""So many lines are an hour's work for two people (common practice); every block has one at least."""


@dataclass(frozen=True)
class CheckLine:
    """A straight line between two end posts.

    Attributes
    ----------
    kind : str
        Of CHECK_KINDS.
    block : str
    codes : (str, str)
        Of the two end posts, such as B1-R001A-E1.
    rows : (int, int)
        Numbers of their rows.
    ends_m : ((float, float), (float, float))
        Site frame. [m]
    """

    kind: str
    block: str
    codes: tuple[str, str]
    rows: tuple[int, int]
    ends_m: tuple[tuple[float, float], tuple[float, float]]

    @property
    def ground_m(self) -> float:
        """Length on the ground. [m]"""
        return math.dist(*self.ends_m)

    @property
    def bearing_deg(self) -> float:
        """True bearing from the first to the second. [deg]"""
        return bearing_of(*self.ends_m)


def bearing_of(start, end) -> float:
    """Direction from one (east, north) to another, clockwise from north. [deg]

    Examples
    --------
    >>> bearing_of((0.0, 0.0), (1.0, 1.0)), bearing_of((0.0, 0.0), (-1.0, 0.0))
    (45.0, 270.0)
    """
    return math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360


def check_lines(lines: PlanLines, most: int = MOST_LINES) -> tuple[CheckLine, ...]:
    """Check lines of all blocks with rows among some lines, block after block.

    Parameters
    ----------
    lines : PlanLines
        What is handed off: rows left out of it are not measured to.
    most : int
        Every block has its longer diagonal; others follow, one a block at a time, as far as this allows.
    """
    found = [_of_block(lines, block, which) for block, which in _rows_of_blocks(lines)]
    kept = [1] * len(found)
    room = most - len(found)
    while room > 0 and any(n < len(some) for n, some in zip(kept, found, strict=True)):
        for i, some in enumerate(found):
            if room > 0 and kept[i] < len(some):
                kept[i] += 1
                room -= 1
    return tuple(line for some, n in zip(found, kept, strict=True) for line in some[:n])


def _rows_of_blocks(lines: PlanLines) -> list[tuple[str, np.ndarray]]:
    """Blocks that have rows, and which of the lines are theirs."""
    found: dict[str, list[int]] = {}
    for i in np.flatnonzero(lines.kind == 0).tolist():
        found.setdefault(lines.block[i], []).append(i)
    return [(block, np.array(which)) for block, which in found.items()]


@dataclass(frozen=True, eq=False)
class _RowEnds:
    """Start and far ends of the rows of one block, by number."""

    block: str
    number: np.ndarray
    codes: list[tuple[str, str]]
    xy_m: np.ndarray

    def line(self, kind: str, first: tuple[int, int], second: tuple[int, int]) -> CheckLine:
        """A line between two ends, each told by row and end (0 start, 1 far)."""
        ends = (first, second)
        return CheckLine(
            kind,
            self.block,
            tuple(self.codes[row][end] for row, end in ends),
            tuple(int(self.number[row]) for row, _ in ends),
            tuple(tuple(self.xy_m[row, end].tolist()) for row, end in ends),
        )


def _row_ends(lines: PlanLines, block: str, which: np.ndarray) -> _RowEnds:
    number, first = np.unique(lines.row[which], return_index=True)
    # Segments of a row follow each other from start to far end.
    last = np.append(first[1:], len(which)) - 1
    start, far = which[first], which[last]
    codes = [
        (f"{lines.code[a]}{code_tail('end_post', 1)}", f"{lines.code[b]}{code_tail('end_post', 2)}")
        for a, b in zip(start.tolist(), far.tolist(), strict=True)
    ]
    xy = np.stack([lines.xy_m[lines.first[start]], lines.xy_m[lines.first[far + 1] - 1]], axis=1)
    return _RowEnds(block, number, codes, xy)


def _of_block(lines: PlanLines, block: str, which: np.ndarray) -> list[CheckLine]:
    ends = _row_ends(lines, block, which)
    length = np.hypot(*(ends.xy_m[:, 1] - ends.xy_m[:, 0]).T)
    long = np.flatnonzero(length >= LONG_SHARE * length.max())
    first, last = int(long[0]), int(long[-1])
    if first == last:
        return [ends.line("first row", (first, 0), (first, 1))]
    diagonals = [((first, 0), (last, 1)), ((last, 0), (first, 1))]
    diagonals.sort(key=lambda ways: -math.dist(*(ends.xy_m[way].tolist() for way in ways)))
    return [
        ends.line("diagonal", *diagonals[0]),
        ends.line("other diagonal", *diagonals[1]),
        ends.line("first row", (first, 0), (first, 1)),
        ends.line("last row", (last, 0), (last, 1)),
        ends.line("start ends", (first, 0), (last, 0)),
        ends.line("far ends", (first, 1), (last, 1)),
    ]
