"""A layout as arrays: row segments, from which posts and vines are made when they are needed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from ..geometry.axes import RowAxes
from ..geometry.stationing import index_along, points_along
from .findings import Finding
from .ground import Block
from .rules import RowRules


@dataclass(frozen=True, eq=False)
class Segments:
    """Pieces of row, in order of row number, then along the bearing.

    Attributes
    ----------
    line : int array, shape (s,)
        Row line of each segment, 0 the leftmost, whatever the numbering.
    number : int array, shape (s,)
        Row number.
    letter : int array, shape (s,)
        0 for A, 1 for B, … along the row.
    across_m, start_m, end_m : float array, shape (s,)
        Place in row axes: across, and along at both end posts. [m]
    first_vine_m, vine_step_m : float array, shape (s,)
        From the start end post to the first vine, and from vine to vine. [m]
    n_vines : int array, shape (s,)
    """

    line: np.ndarray
    number: np.ndarray
    letter: np.ndarray
    across_m: np.ndarray
    start_m: np.ndarray
    end_m: np.ndarray
    first_vine_m: np.ndarray
    vine_step_m: np.ndarray
    n_vines: np.ndarray

    def __len__(self) -> int:
        return len(self.line)

    @property
    def length_m(self) -> np.ndarray:
        """From end post to end post. [m]"""
        return self.end_m - self.start_m


@dataclass(frozen=True, eq=False)
class Marks:
    """Things of one kind that stand in the block, segment after segment.

    Attributes
    ----------
    kind : str
        "vine", "line_post", "end_post" or "anchor".
    xy_m : float array, shape (n, 2)
        Site frame. [m]
    segment : int array, shape (n,)
        Which segment each is of.
    index : int array, shape (n,)
        1, 2, … from the start end.
    """

    kind: str
    count: np.ndarray
    _place: Callable[[], np.ndarray]

    def __len__(self) -> int:
        return int(self.count.sum())

    @cached_property
    def xy_m(self) -> np.ndarray:
        return self._place()

    @property
    def segment(self) -> np.ndarray:
        return np.repeat(np.arange(len(self.count)), self.count)

    @property
    def index(self) -> np.ndarray:
        return index_along(self.count)


@dataclass(frozen=True, eq=False)
class RowPlan:
    """The rows of one block, a pure function of the block, its rules and the exclusions.

    Attributes
    ----------
    block, rules
        What it was laid from.
    segments : Segments
    dropped : Segments
        Pieces shorter than the least row length, with no vines.
    extent_across_m : (float, float)
        Left and right extreme of the plantable area in row axes. [m]
    first_row_m : float
        Offset of row 1's line from the left extreme as used ("best" resolved). [m]
    """

    block: Block
    rules: RowRules
    segments: Segments
    dropped: Segments
    extent_across_m: tuple[float, float]
    first_row_m: float
    findings: tuple[Finding, ...] = ()

    @property
    def axes(self) -> RowAxes:
        return RowAxes(self.rules.bearing_deg)

    @property
    def n_rows(self) -> int:
        """Row numbers that have at least one segment."""
        return len(np.unique(self.segments.line))

    @property
    def n_segments(self) -> int:
        return len(self.segments)

    @property
    def n_vines(self) -> int:
        return int(self.segments.n_vines.sum())

    @property
    def row_length_m(self) -> float:
        """Sum over all segments, end post to end post. [m]"""
        return float(self.segments.length_m.sum())

    def at(self, along_m: np.ndarray, across_m: np.ndarray) -> np.ndarray:
        """(n, 2) of site frame x, y from row axes. [m]"""
        return self.axes.to_plane(np.column_stack([along_m, across_m]))

    @cached_property
    def segment_ends_m(self) -> np.ndarray:
        """Start and far end post of every segment, shape (s, 2, 2). [m]"""
        s = self.segments
        return np.stack([self.at(s.start_m, s.across_m), self.at(s.end_m, s.across_m)], axis=1)

    # Marks hold arrays and no way back to the plan: what refers to itself is freed late.

    @cached_property
    def vines(self) -> Marks:
        s = self.segments
        return self._marks_along("vine", s.first_vine_m, s.vine_step_m, s.n_vines)

    @cached_property
    def line_posts(self) -> Marks:
        """Midway between two vines, every `line_post_every` vine spaces."""
        s, every = self.segments, self.rules.line_post_every
        count = np.maximum(s.n_vines - 1, 0) // every if every else np.zeros_like(s.n_vines)
        first = s.first_vine_m + (every - 0.5) * s.vine_step_m
        return self._marks_along("line_post", first, s.vine_step_m * every, count)

    @cached_property
    def end_posts(self) -> Marks:
        count = np.full(len(self.segments), 2)
        return Marks("end_post", count, partial(np.reshape, self.segment_ends_m, (-1, 2)))

    @cached_property
    def anchors(self) -> Marks:
        """Beyond both end posts, the start end's first."""
        s, beyond = self.segments, self.rules.anchor_m
        if not beyond:
            return Marks("anchor", np.zeros(len(s), np.intp), partial(np.empty, (0, 2)))
        along = np.column_stack([s.start_m - beyond, s.end_m + beyond]).ravel()
        places = np.column_stack([along, np.repeat(s.across_m, 2)])
        return Marks("anchor", np.full(len(s), 2), partial(self.axes.to_plane, places))

    def marks(self) -> tuple[Marks, ...]:
        """Everything that stands in the block, vines last."""
        return self.end_posts, self.line_posts, self.anchors, self.vines

    def _marks_along(self, kind: str, first_m, step_m, count) -> Marks:
        starts, unit = self.segment_ends_m[:, 0], self.axes.unit_along
        return Marks(kind, count, partial(points_along, starts, unit, first_m, step_m, count))
