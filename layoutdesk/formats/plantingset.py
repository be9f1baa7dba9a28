"""What planting.json is written from, and what is printed of a site's planting."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..core.model import Finding, Project, RowPlan
from ..core.planting.assigned import Assigned
from ..core.planting.days import DaysPlan
from ..core.planting.needs import LotUse, Need
from ..core.planting.sampling import Sample
from ..core.planting.standing import Matching, Standing
from ..core.planting.survival import Result, Survival
from ..core.planting.years import FirstYears
from .stakeset import SurveyGrid


@dataclass(frozen=True, eq=False)
class PlantingSet:
    """Everything of a site's planting.

    What needs a planting day is None where none is said; what needs a register is None where nothing is
    recorded.

    Attributes
    ----------
    project : Project
    plans : tuple of RowPlan
    survey : SurveyGrid
    unit : str
        Of lengths for people.
    revision, plan_mark : str
    day : datetime.date or None
        Printed on the files.
    assigned : Assigned
    parts_said : tuple of str
        Where each assignment is, as people read it.
    needs : tuple of Need
    uses : tuple of LotUse
    begins : datetime.date or None
    set_of_segment : int array, or None
    days : DaysPlan or None
    sample : Sample
    matching : Matching or None
    standing : Standing or None
    result : Result or None
    survival : Survival or None
    years : FirstYears or None
    findings : tuple of Finding
    notes : tuple of str
        What is to be told of files that were read.
    missing : tuple of str
        What could not be made yet, and what to do.
    cautions : tuple of str
    """

    project: Project
    plans: tuple[RowPlan, ...]
    survey: SurveyGrid
    unit: str
    revision: str
    plan_mark: str
    day: datetime.date | None
    assigned: Assigned
    parts_said: tuple[str, ...]
    needs: tuple[Need, ...]
    uses: tuple[LotUse, ...]
    begins: datetime.date | None
    set_of_segment: np.ndarray | None
    days: DaysPlan | None
    sample: Sample
    matching: Matching | None
    standing: Standing | None
    result: Result | None
    survival: Survival | None
    years: FirstYears | None
    findings: tuple[Finding, ...]
    notes: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
