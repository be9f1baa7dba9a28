"""A site's drip system as requests and answers, so that a window never waits."""

from __future__ import annotations

import operator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..core.model import Finding, Project, RowPlan, Water
from ..core.model.findings import by_severity
from ..core.model.water import Climate, Demand, Drip
from ..core.terrain.surface import Surface
from ..core.water.design import LateralLines, WaterDesign
from ..core.water.designing import design_water
from ..core.water.judgement import Judgement, judged, water_findings
from ..core.water.parts import Part, water_parts
from ..core.water.run_times import RunTimes, run_time_findings, run_times
from .water_words import water_of
from .wording import listed


@dataclass(frozen=True, eq=False)
class WaterRequest:
    """Design the drip system of `project` as laid in `plans`.

    In haste nothing is tried out and no part is counted: advice in the sentences, the longest
    permissible drip line and the parts may be left out; all else is as ever.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    surface: Surface | None = None
    haste: bool = False


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
        Pipes and fittings, for the take-off; maybe none in haste.
    findings : tuple of Finding
        Most pressing first.
    haste : bool
        Whether advice and parts may be left out.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    design: WaterDesign
    judgement: Judgement
    run_times: RunTimes
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]
    haste: bool = False


class WaterDesigner:
    """Answers requests; what did not change since the last one is kept.

    Where laterals lie is kept while plans, heights and what places outlets and inlets are the same,
    the design while nothing but demand and climate changes, the judgement while the design does not.
    """

    def __init__(self):
        self._ground: tuple | None = None
        self._lines: tuple[tuple[Drip, ...], LateralLines] | None = None
        self._design: tuple[Water, WaterDesign, bool] | None = None
        self._judged: dict[bool, tuple[Judgement, tuple[Finding, ...]]] = {}
        self._parts: tuple[Part, ...] | None = None

    def answer(self, request: WaterRequest) -> WaterAnswer:
        """Design, judge, and time the drip system of a request."""
        project, plans = request.project, request.plans
        water = water_of(project)
        self._take_ground((*plans, request.surface))
        design = self._designed(water, plans, request)
        if request.haste not in self._judged:
            advised = not request.haste
            self._judged[request.haste] = (
                judged(design, plans, with_advice=advised),
                water_findings(design, plans, with_longest=advised),
            )
        judgement, found = self._judged[request.haste]
        if self._parts is None and not request.haste:
            self._parts = water_parts(design, plans)
        latitude = project.site.frame.latitude_deg
        times = run_times(design, plans, latitude, project.day)
        more = run_time_findings(times, water) if design.sets else ()
        more = (*crossing_findings(design, project), *set_count_findings(design), *more)
        return WaterAnswer(
            request.revision,
            project,
            plans,
            design,
            judgement,
            times,
            self._parts or (),
            by_severity((*found[:-1], *more, *found[-1:])),
            request.haste,
        )

    def _take_ground(self, ground: tuple) -> None:
        """Put down all that is kept of other rows or heights."""
        before = self._ground
        same = before is not None and len(before) == len(ground)
        if not same or not all(map(operator.is_, before, ground)):
            self._lines = self._design = None
        self._ground = ground

    def _designed(
        self, water: Water, plans: tuple[RowPlan, ...], request: WaterRequest
    ) -> WaterDesign:
        """The design; one that kept another's sets is made anew where there is no haste."""
        piped, haste = replace(water, demand=Demand(), climate=Climate()), request.haste
        known = self._design
        if known is None or known[0] != piped or (known[2] and not haste):
            places = tuple(placing(water.drip_of(p.block.name)) for p in plans)
            kept = self._lines is not None and self._lines[0] == places
            lines = self._lines[1] if kept else None
            near = self._design[1] if kept and self._design is not None else None
            design = design_water(plans, water, request.surface, lines, near, keep_sets=haste)
            self._lines = places, design.lines
            self._design = piped, design, near is not None and design.made_of is near.made_of
            self._judged, self._parts = {}, None
        design = self._design[1]
        return design if design.water is water else replace(design, water=water)


def crossing_findings(design: WaterDesign, project: Project) -> tuple[Finding, ...]:
    """Mains and submains that are drawn through an exclusion: pipes know of no pond and no track."""
    if not design.sets or not project.exclusions:
        return ()
    runs = [(s.number, r) for s in design.sets for r in (s.main, *s.branches)]
    lines = shapely.linestrings(
        np.concatenate([r.xy_m for _, r in runs]),
        indices=np.repeat(np.arange(len(runs)), [len(r.xy_m) for _, r in runs]),
    )
    found = []
    for exclusion in project.exclusions:
        hit = np.flatnonzero(shapely.intersects(lines, exclusion.shape))
        if not len(hit):
            continue
        numbers = sorted({runs[i][0] for i in hit.tolist()})
        sets = f"set {numbers[0]}" if len(numbers) == 1 else f"sets {listed(numbers)}"
        what = exclusion.name or exclusion.kind or "an exclusion"
        at = shapely.point_on_surface(shapely.intersection(lines[hit[0]], exclusion.shape))
        found.append(
            Finding(
                "pipe-crosses",
                f"Pipes of {sets} are drawn straight through {what}: lead them round it, or ask whether "
                "they may pass. Ways round are longer and lose more than is reckoned here.",
                what,
                (float(shapely.get_x(at)), float(shapely.get_y(at))),
            )
        )
    return tuple(found)


def set_count_findings(design: WaterDesign) -> tuple[Finding, ...]:
    """Blocks that are watered in another number of sets than was asked for."""
    found = []
    lines = design.lines
    for b, name in enumerate(design.blocks):
        asked = design.water.drip_of(name).sets
        made = sum(s.block == b for s in design.sets)
        if asked is None or not made or asked == made:
            continue
        chains = sum(int(lines.block[c[0]]) == b for c in lines.chains)
        found.append(
            Finding(
                "sets-not-as-asked",
                f"{name}: {asked} set{'s were' if asked > 1 else ' was'} asked for, {made} are made. Its rows take water along "
                f"{chains} submains, and each has a valve of its own; rows are not divided.",
                name,
            )
        )
    return tuple(found)


def placing(drip: Drip) -> Drip:
    """What of a drip system says where outlets and inlets are and how many emitters they feed."""
    return Drip(
        emitters_per_vine=drip.emitters_per_vine,
        inline_m=drip.inline_m,
        fed=drip.fed,
        line_m=drip.line_m if drip.fed == "line" else (),
        bridge_m=drip.bridge_m,
    )
