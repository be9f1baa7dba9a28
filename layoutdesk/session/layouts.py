"""Layouts as requests and answers, so that a window can ask and never wait."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import shapely

from ..core.model import Finding, InputProblem, Project, RowPlan
from .tally import Tally, tally_of

if TYPE_CHECKING:
    from ..formats.terrain import TerrainRead

_QUICK_STEP_M = 0.1
"""The best place of row 1 while a hand still moves. [m]"""


@dataclass(frozen=True, eq=False)
class LayoutRequest:
    """Lay out `project`; `settled` asks for findings and the ground that is kept clear too.

    `path` is the project's own file, where it has one.
    """

    revision: int
    project: Project
    settled: bool = True
    path: Path | None = None


@dataclass(frozen=True, eq=False)
class LayoutAnswer:
    """Plans of all blocks for one revision; what is dear only where the request was `settled`.

    Attributes
    ----------
    plans : tuple of RowPlan
        One a block, in the project's order.
    tally : Tally
        All blocks together; its plantable area is None unless settled.
    block_tallies : tuple of Tally
        One a block, in the same order.
    findings, strips, kept_clear
        Empty unless settled.
    path : Path or None
        The project's own file, as it was when heights were looked for.
    terrain : TerrainRead or None
        The ground, where the request was settled and its heights could be read.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    tally: Tally
    settled: bool
    block_tallies: tuple[Tally, ...] = ()
    findings: tuple[Finding, ...] = ()
    strips: tuple[shapely.Geometry, ...] = ()
    kept_clear: shapely.Geometry | None = None
    path: Path | None = None
    terrain: TerrainRead | None = None

    def answers(self, project: Project, path: Path | None) -> bool:
        """Whether it is of that project, with heights from where its file is now."""
        return self.project == project and (project.terrain is None or self.path == path)


class Layouter:
    """Answers layout requests; blocks that did not change keep the plan they had."""

    def __init__(self):
        self._last: LayoutAnswer | None = None
        self._checked: tuple[bool, ...] = ()

    def answer(self, request: LayoutRequest) -> LayoutAnswer:
        """Lay the project of a request.

        Raises
        ------
        InputProblem
            Where a block's rules contradict each other.
        """
        # Loaded with the first answer, on its thread: the window's first picture needs none of it.
        from ..core.layout.clearances import clear_strips, kept_clear_by, plantable_area
        from ..core.layout.rows import BEST_STEP_M, lay_rows

        project, settled, last = request.project, request.settled, self._last
        known = {}
        if last is not None and last.project.exclusions is project.exclusions:
            strips = last.strips or (None,) * len(last.plans)
            known = {
                id(p.block): (p, checked, s)
                for p, checked, s in zip(last.plans, self._checked, strips, strict=True)
            }
        plans, strips, every_checked = [], [], []
        for block in project.blocks:
            plan, checked, strip = known.get(id(block), (None, False, None))
            if plan is None or (settled and not checked):
                try:
                    plan = lay_rows(
                        block,
                        block.rules,
                        project.exclusions,
                        check=settled,
                        best_step_m=BEST_STEP_M if settled else _QUICK_STEP_M,
                    )
                except ValueError as problem:
                    raise InputProblem(
                        f"Block {block.name} cannot be laid out: {problem}."
                    ) from None
                strip, checked = None, settled
            plans.append(plan)
            every_checked.append(checked)
            if settled:
                strips.append(clear_strips(block, block.rules, 12) if strip is None else strip)
        plans = tuple(plans)
        if not settled:
            each = tuple(tally_of((p,)) for p in plans)
            answer = LayoutAnswer(
                request.revision, project, plans, tally_of(plans), False, each, path=request.path
            )
        else:
            areas = [
                plantable_area(b, b.rules, project.exclusions, 12).area for b in project.blocks
            ]
            terrain, findings = _ground_and_findings(request, plans)
            answer = LayoutAnswer(
                request.revision,
                project,
                plans,
                tally_of(plans, sum(areas)),
                True,
                tuple(tally_of((p,), area) for p, area in zip(plans, areas, strict=True)),
                findings,
                tuple(strips),
                kept_clear_by(project.exclusions, 12) if project.exclusions else None,
                request.path,
                terrain,
            )
        self._last, self._checked = answer, tuple(every_checked)
        return answer


def _ground_and_findings(request: LayoutRequest, plans):
    """The ground, and all there is to say of a settled layout on it."""
    from .stakeout import project_findings

    terrain, unread = None, ()
    if request.project.terrain is not None:
        from .terrain import terrain_or_finding

        terrain, unread = terrain_or_finding(request.project, request.path)
    return terrain, (*unread, *project_findings(request.project, plans, terrain))
