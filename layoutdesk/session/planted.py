"""A site's planting as requests and answers, so that a window never waits."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..core.model import Finding, Planting, Project, RowPlan
from ..core.planting.assigned import Assigned
from ..core.planting.days import DaysPlan
from ..core.planting.needs import LotUse, Need
from ..core.planting.sampling import Sample
from ..core.planting.standing import Matching, Standing
from ..core.planting.survival import Result, Survival
from ..core.planting.years import FirstYears


def planting_of(project: Project) -> Planting:
    """What a project says of its planting; the usual where it says nothing."""
    return project.planting or Planting()


def begins_of(project: Project) -> datetime.date | None:
    """The day planting begins, where anybody said: the planting day of the project's water."""
    return project.water.demand.planting if project.water is not None else None


@dataclass(frozen=True, eq=False)
class PlantingRequest:
    """Plan and follow the planting of `project` as laid in `plans`.

    `set_of_segment` is the number of the set that waters each segment over all plans, where water is
    designed; `today` is the day that orders and delays are told by.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    today: datetime.date
    set_of_segment: np.ndarray | None = None


@dataclass(frozen=True, eq=False)
class PlantingAnswer:
    """Everything of a site's planting. What needs a planting day is None where none is said; what needs
    a register is None where nothing is recorded."""

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    assigned: Assigned
    needs: tuple[Need, ...]
    uses: tuple[LotUse, ...]
    begins: datetime.date | None
    days: DaysPlan | None
    sample: Sample
    matching: Matching | None
    standing: Standing | None
    result: Result | None
    survival: Survival | None
    years: FirstYears | None
    findings: tuple[Finding, ...]
