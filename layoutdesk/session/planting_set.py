"""A site's planting as it is printed and written for programs."""

from __future__ import annotations

import datetime

from ..core.planting.day_cautions import WORK_CAUTIONS
from ..formats.plantingset import PlantingSet
from .assigning import parts_text
from .day_cards import NO_DAY, NO_VINES
from .planted import PlantingAnswer
from .stakeout import CAUTIONS as STAKE_CAUTIONS
from .stakeout import SLOPE_CAUTION

CAUTIONS = (
    *WORK_CAUTIONS,
    SLOPE_CAUTION,
    STAKE_CAUTIONS[0],
    "Sprays and weedkillers: the label and the law come first. Pressure, backflow and anything mixed into the "
    "water are for a licensed irrigation designer.",
)
"""Printed with every planting."""
_NOTHING_RECORDED = (
    "Nothing is on record yet: record what was planted, or read filled forms, and survival is told."
)


def planting_set(
    answer: PlantingAnswer,
    unit: str = "m",
    day: datetime.date | None = None,
    *,
    notes: tuple[str, ...] = (),
) -> PlantingSet:
    """What planting.json is written from.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    day : datetime.date, optional
        Printed on the files; the project's own where it is left out.
    notes : tuple of str
        What is to be told of files that were read.
    """
    from ..formats.crs import survey_grid
    from ..formats.project_file import plan_mark, revision_of

    project = answer.project
    return PlantingSet(
        project=project,
        plans=answer.plans,
        survey=survey_grid(project.site.frame, project.site.survey_crs),
        unit=unit,
        revision=revision_of(project),
        plan_mark=plan_mark(project),
        day=day or project.day,
        assigned=answer.assigned,
        parts_said=tuple(parts_text(said.parts) for said in answer.assigned.planting.assignments),
        needs=answer.needs,
        uses=answer.uses,
        begins=answer.begins,
        set_of_segment=answer.set_of_segment,
        days=answer.days,
        sample=answer.sample,
        matching=answer.matching,
        standing=answer.standing,
        result=answer.result,
        survival=answer.survival,
        years=answer.years,
        findings=answer.findings,
        notes=tuple(notes),
        missing=missing_of(answer),
        cautions=CAUTIONS,
    )


def missing_of(answer: PlantingAnswer) -> tuple[str, ...]:
    """What cannot be told or planned yet, and what to do."""
    told = []
    if answer.days is None:
        told.append(NO_DAY)
    elif not answer.days.days:
        told.append(NO_VINES)
    if answer.standing is None:
        told.append(_NOTHING_RECORDED)
    return tuple(told)
