"""Lines of a plan as they are drawn and handed off: rows, outlines, exclusions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Exclusion, RowPlan

LINE_KINDS = ("row", "outline", "exclusion")


@dataclass(frozen=True, eq=False)
class PlanLines:
    """Lines one after another.

    Attributes
    ----------
    kind : int8 array, shape (k,)
        Of LINE_KINDS.
    code : tuple of str
        `B1-R012A`, `B1`, the exclusion's name; a ring or part after the first has ` 2`, ` 3`, … behind.
    block : tuple of str
    row : int array, shape (k,); letter : tuple of str
        Of a row; 0 and empty else.
    closed : bool array, shape (k,)
        Rings; their first place is not repeated at the end.
    first : int array, shape (k + 1,)
        Where each begins in `xy_m`.
    xy_m : float array, shape (n, 2)
        Site frame; a straight row has its two ends. [m]
    """

    kind: np.ndarray
    code: tuple[str, ...]
    block: tuple[str, ...]
    row: np.ndarray
    letter: tuple[str, ...]
    closed: np.ndarray
    first: np.ndarray
    xy_m: np.ndarray

    def __len__(self) -> int:
        return len(self.kind)


def plan_lines(
    plans: Sequence[RowPlan],
    exclusions: Sequence[Exclusion] = (),
    segments: np.ndarray | None = None,
) -> PlanLines:
    """Rows, then outlines, then exclusions (a point is a line of one place).

    Parameters
    ----------
    segments : bool array, shape (s,), optional
        Segments over all plans that are wanted; all where it is left out.
    """
    raise NotImplementedError
