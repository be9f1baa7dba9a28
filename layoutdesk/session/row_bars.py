"""All segments of a site in row order, as the strip of row lengths shows them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .layouts import LayoutAnswer

SHORT_SHARE = 0.25
"""Segments under this share of the longest are told as short."""

Place = tuple[int, int]
"""A segment, told by the index of its plan and its own."""


@dataclass(frozen=True, eq=False)
class RowBars:
    """Arrays over all segments, block after block.

    Attributes
    ----------
    plan, segment : int array, shape (s,)
        Each one's place.
    length_m : float array, shape (s,)
    short : bool array, shape (s,)
    names : int array, shape (3, s)
        Plan, row number and letter, by which a segment is known in another layout of the site.
    rows : int
    """

    plan: np.ndarray
    segment: np.ndarray
    length_m: np.ndarray
    short: np.ndarray
    names: np.ndarray
    rows: int = 0

    def __len__(self) -> int:
        return len(self.plan)

    def place(self, bar: int) -> Place:
        return int(self.plan[bar]), int(self.segment[bar])

    def places(self, which: np.ndarray) -> list[Place]:
        """Places of a mask, in row order."""
        return list(zip(self.plan[which].tolist(), self.segment[which].tolist(), strict=True))

    def bar(self, place: Place | None) -> int | None:
        """Index of a place; None where there is no such segment."""
        if place is None:
            return None
        begin, end = np.searchsorted(self.plan, [place[0], place[0] + 1]).tolist()
        return begin + place[1] if 0 <= place[1] < end - begin else None

    def found_again(self, other: RowBars, which: np.ndarray) -> np.ndarray:
        """Mask of the segments here that have the names of those of another layout."""
        wanted = other.names[:, which]
        if not wanted.size or not len(self):
            return np.zeros(len(self), bool)
        both = np.concatenate([self.names, wanted], axis=1)
        low = both.min(axis=1)
        _, rows, letters = both.max(axis=1) - low + 1
        plan, row, letter = both - low[:, None]
        key = (plan * rows + row) * letters + letter
        return np.isin(key[: len(self)], key[len(self) :])


def row_bars(answer: LayoutAnswer | None) -> RowBars:
    """The bars of a layout; none without one."""
    plans = answer.plans if answer is not None else ()
    counts = [p.n_segments for p in plans]

    def joined(parts, dtype) -> np.ndarray:
        return np.concatenate([np.empty(0, dtype), *parts]).astype(dtype)

    plan = np.repeat(np.arange(len(plans)), counts)
    length_m = joined([p.segments.length_m for p in plans], float)
    numbers = joined([p.segments.number for p in plans], np.int64)
    letters = joined([p.segments.letter for p in plans], np.int64)
    return RowBars(
        plan,
        joined([np.arange(n) for n in counts], np.intp),
        length_m,
        length_m < SHORT_SHARE * length_m.max(initial=0.0),
        np.stack([plan.astype(np.int64), numbers, letters]),
        answer.tally.rows if answer is not None else 0,
    )
