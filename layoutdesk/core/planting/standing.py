"""What stands at every vine position by the register, and which position is which vine of a plan."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model.planting import Lot
from ..model.register import Register
from ..model.rowplan import RowPlan


@dataclass(frozen=True, eq=False)
class Standing:
    """State of every vine position of a register; arrays are one entry a position of `register.stand`.

    Attributes
    ----------
    state : uint8 array
        Of STATES.
    lot : int16 array
        Of `register.lots`: what stands there, or stood there last; -1 for nothing.
    planted : int32 array
        Ordinal of the day the present plant was planted, 0 for none.
    changed : int32 array
        Ordinal of the day of the last event, 0 for none.
    cause : int16 array
        Of `register.words`, for dead and missing ones.
    times_planted : uint8 array
    faults : uint16 array
        What was wrong when last checked and has not been reworked since.
    checked : bool array
        Whether it was ever inspected since it was planted.
    """

    register: Register
    state: np.ndarray
    lot: np.ndarray
    planted: np.ndarray
    changed: np.ndarray
    cause: np.ndarray
    times_planted: np.ndarray
    faults: np.ndarray
    checked: np.ndarray


def standing(register: Register) -> Standing:
    """The state now. Events count by their day, then by the order they were recorded in."""
    raise NotImplementedError


@dataclass(frozen=True, eq=False)
class Matching:
    """Which position of the register each vine of all plans is.

    Attributes
    ----------
    place : int32 array, shape (n,)
        Position by vine, as vines are counted in `Assigned`; -1 where nothing is on record.
    lost : int32 array
        Positions with a record that no vine of the plans stands at.
    moved : int32 array
        Vines whose code is on record for another place than theirs: nothing may be recorded under it.
    """

    place: np.ndarray
    lost: np.ndarray
    moved: np.ndarray


def matching(register: Register, plans: Sequence[RowPlan]) -> Matching:
    """Match vines to positions by code where place and code agree, else by place, within a quarter of
    the vine spacing."""
    raise NotImplementedError


@dataclass(frozen=True)
class Told:
    """One event of a vine's history, in plain values."""

    day: datetime.date | None
    event: str
    lot: Lot | None
    cause: str
    faults: tuple[str, ...]
    recorded: str
    by: str
    source: str
    note: str


def history(register: Register, place: int) -> tuple[Told, ...]:
    """Everything on record for a position, in the order it was recorded."""
    raise NotImplementedError


def recorded(
    register: Register | None,
    plans: Sequence[RowPlan],
    vines: np.ndarray,
    what: np.ndarray | str,
    day: np.ndarray | datetime.date,
    *,
    lots: Sequence[Lot | None] | Lot | None = None,
    causes: Sequence[str] | str = "",
    faults: np.ndarray | int = 0,
    by: str,
    when: str,
    source: str,
    revision: str,
    note: str = "",
) -> Register:
    """The register with one more entry about vines of the plans (counted as in `Assigned`).

    Segments that are not on record yet are put on record with it, whole.

    Raises
    ------
    InputProblem
        Where a vine's code is on record for another place.
    """
    raise NotImplementedError
