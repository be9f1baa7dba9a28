"""Which rows are planted on which day, by which lots, and what must be ready that morning."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..model.findings import Finding
from .assigned import Assigned


@dataclass(frozen=True)
class Run:
    """Neighbouring vines of one segment and one lot that are planted one after the other on a day.

    `plan` and `segment` tell the segment (segment within its plan), `first` and `last` the indices of its
    first and last vine, `vines` how many there are to plant, `lot` the index of `planting.lots` or -1.
    `trays` go to the row end `tray_end` ("start" or "far") that morning.
    """

    plan: int
    segment: int
    first: int
    last: int
    vines: int
    lot: int
    plant: int
    trays: int
    tray_end: str


@dataclass(frozen=True)
class DayPlan:
    """One day of planting.

    `hours` is by task of TASKS, person-hours; `crew_hours` how long the crew works; `sets` are the numbers of
    sets that are wetted on `wet_on`, the day before (an earlier day where that is a day off is not sought: water
    runs on any day). `light_h` is daylight in hours; `waits` says in words what the day waits for.
    """

    number: int
    day: datetime.date
    runs: tuple[Run, ...]
    vines: int
    hours: tuple[tuple[str, float], ...]
    crew_hours: float
    wet_on: datetime.date
    sets: tuple[int, ...]
    light_h: float
    waits: tuple[str, ...]


@dataclass(frozen=True)
class DaysPlan:
    """All days of planting, in order, with what is amiss."""

    days: tuple[DayPlan, ...]
    vines: int
    person_hours: float
    findings: tuple[Finding, ...]


def plan_days(
    found: Assigned,
    begins: datetime.date,
    latitude_deg: float,
    *,
    done: np.ndarray | None = None,
    set_of_segment: np.ndarray | None = None,
    warm_c: tuple[float, ...] = (),
) -> DaysPlan:
    """Share the vines out over working days, row after row.

    Parameters
    ----------
    found : Assigned
    begins : datetime.date
        First day that may be worked on.
    latitude_deg : float
    done : bool array, shape (n,), optional
        Vines that stand already.
    set_of_segment : int array, shape (s,), optional
        Number of the set that waters each segment, over all plans; 0 for none.
    warm_c : tuple of 12 floats, optional
        Mean daily greatest temperature of each month, where known. [°C]
    """
    raise NotImplementedError
