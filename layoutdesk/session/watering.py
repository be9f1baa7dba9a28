"""A site's drip system as requests and answers, so that a window never waits."""

from __future__ import annotations

from dataclasses import dataclass

from ..core.model import Finding, Project, RowPlan
from ..core.terrain.surface import Surface
from ..core.water.design import WaterDesign
from ..core.water.judgement import Judgement
from ..core.water.parts import Part
from ..core.water.run_times import RunTimes


@dataclass(frozen=True, eq=False)
class WaterRequest:
    """Design the drip system of `project` as laid in `plans`."""

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    surface: Surface | None = None


@dataclass(frozen=True, eq=False)
class WaterAnswer:
    """Designed, judged, and run through the first years.

    Attributes
    ----------
    design : WaterDesign
    judgement : Judgement
        Sentences, classes and worst stretches.
    run_times : RunTimes
    parts : tuple of Part
        Pipes and fittings, for the take-off.
    findings : tuple of Finding
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    design: WaterDesign
    judgement: Judgement
    run_times: RunTimes
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]


class WaterDesigner:
    """Answers requests; where laterals lie is kept while plans, heights and inlets are the same."""

    def answer(self, request: WaterRequest) -> WaterAnswer:
        raise NotImplementedError
