"""Which points are handed off: chosen, ordered and numbered, some at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Exclusion, RowPlan
from ..model.handoff import PointChoice

CHUNK = 65_536
"""Points that are made at a time."""


@dataclass(frozen=True, eq=False)
class Points:
    """Some points, in the order they are handed off.

    Attributes
    ----------
    number : int array, shape (n,)
        Point numbers.
    kind : int8 array, shape (n,)
        Of POINT_KINDS; a row end is told as an end post, which it is.
    owner : int32 array, shape (n,)
        Of the set's `owners`.
    index : int32 array, shape (n,)
        As in the code; 1, 2, … of a corner; 0 of a control point.
    xy_m : float array, shape (n, 2)
        Site frame. [m]
    """

    number: np.ndarray
    kind: np.ndarray
    owner: np.ndarray
    index: np.ndarray
    xy_m: np.ndarray

    def __len__(self) -> int:
        return len(self.number)


@dataclass(frozen=True, eq=False)
class Owners:
    """What points belong to: first all segments over all plans, then outlines, exclusions, control points.

    Attributes
    ----------
    code : tuple of str
        Of the segment (`B1-R012A`), the block, the exclusion, the control point.
    block : tuple of str
        Empty for exclusions and control points.
    row : int array, shape (w,)
        Row number; 0 for what is no segment.
    letter : tuple of str
        Of the segment; empty for what is none.
    n_segments : int
    """

    code: tuple[str, ...]
    block: tuple[str, ...]
    row: np.ndarray
    letter: tuple[str, ...]
    n_segments: int


@dataclass(frozen=True, eq=False)
class PointSet:
    """Chosen points of a site; coordinates are made for some at a time.

    Attributes
    ----------
    owners : Owners
    counts : dict of str to int
        Points of each kind (an end post that was chosen as a row end counts as "end_post").
    passed : tuple of int
        Numbers passed over because control points have them as names.
    """

    plans: tuple[RowPlan, ...]
    exclusions: tuple[Exclusion, ...]
    control: tuple[tuple[str, float, float], ...]
    choice: PointChoice
    owners: Owners
    counts: dict[str, int]
    passed: tuple[int, ...]

    def __len__(self) -> int:
        return sum(self.counts.values())

    def chunks(self, most: int = CHUNK) -> Iterator[Points]:
        """All points, about `most` at a time; the same ones whenever it is asked."""
        raise NotImplementedError

    def all(self) -> Points:
        """All points at once: for what is matched and drawn, not for writing."""
        raise NotImplementedError

    def code(self, owner: int, kind: int, index: int) -> str:
        """Code of one point, such as B1-R012A-V034, B1-C003 (third corner of an outline), Pond-C012."""
        raise NotImplementedError


def point_set(
    plans: Sequence[RowPlan],
    exclusions: Sequence[Exclusion],
    choice: PointChoice,
    *,
    control: Sequence[tuple[str, float, float]] = (),
    segments: np.ndarray | None = None,
    vines: np.ndarray | None = None,
) -> PointSet:
    """The points that are chosen.

    Parameters
    ----------
    plans : sequence of RowPlan
    exclusions : sequence of Exclusion
    choice : PointChoice
        Its `parts` and `day` are resolved by the caller, into the two masks.
    control : sequence of (str, float, float)
        Name and place of control points in the site frame. [m]
    segments : bool array, shape (s,), optional
        Segments over all plans whose posts and anchors are wanted; all where it is left out.
    vines : bool array, shape (v,), optional
        Vines over all plans, in the order of `plan.vines`, that are wanted; all where it is left out.
    """
    raise NotImplementedError
