"""Which plant, and of which lot, is to stand at every vine of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model.planting import Part, Plant, Planting
from ..model.rowplan import RowPlan


@dataclass(frozen=True, eq=False)
class Assigned:
    """Every vine of all plans, one plan after another, in the order of `plan.vines`.

    Attributes
    ----------
    plans : tuple of RowPlan
    planting : Planting
    plants : tuple of Plant
        All that are assigned or delivered, in order of first mention.
    segment : int32 array, shape (n,)
        Segment of each vine, counted through all plans.
    index : int32 array, shape (n,)
        Index of each vine in its segment, as its code has it.
    assignment : int16 array, shape (n,)
        Which of `planting.assignments` holds, -1 for none.
    plant : int16 array, shape (n,)
        Of `plants`, -1 where none is assigned.
    lot : int16 array, shape (n,)
        Of `planting.lots`, -1 where none is said.
    """

    plans: tuple[RowPlan, ...]
    planting: Planting
    plants: tuple[Plant, ...]
    segment: np.ndarray
    index: np.ndarray
    assignment: np.ndarray
    plant: np.ndarray
    lot: np.ndarray


def assigned(plans: Sequence[RowPlan], planting: Planting) -> Assigned:
    """Resolve all assignments; later ones go before earlier ones."""
    raise NotImplementedError


def filled(
    found: Assigned, lot: str, start: int, most: int, *, order: str = "rows"
) -> tuple[Part, ...]:
    """Parts that a lot fills from a vine on, row after row, until `most` vines are reached.

    `start` counts vines as in `Assigned`. Vines that another assignment *with a lot* already holds are
    passed over. "rows" goes through every row in its own direction; "back and forth" turns at row ends.
    """
    raise NotImplementedError
