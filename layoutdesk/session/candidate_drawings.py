"""Small plans: what there is to draw of each candidate."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np

from ..core.layout.clearances import clear_strips, kept_clear_by
from ..core.layout.looking import segments_within
from ..core.model import Project, RowPlan
from .drawing import Drawing, drawing_of
from .layouts import LayoutAnswer
from .tally import tally_of

_QUAD_SEGS = 8
"""Corners of a quarter circle in a small plan."""


_ROWS_APART_PX = 4.0
_MARKS_WITHIN_M = 120.0
"""Posts are told apart in a small plan where it shows no more than so much ground. [m]"""


@dataclass(frozen=True, eq=False)
class SmallDrawing(Drawing):
    """A drawing with one row in `every` so many, and without posts until little ground is shown.

    Where all rows were drawn they would run together, and the way they run could not be seen.
    """

    every: int = 1

    def thinned(self, scale: float) -> SmallDrawing:
        """For a scale in pixels a metre."""
        every = int(np.ceil(_ROWS_APART_PX / (super().row_spacing_m * scale)))
        return replace(self, every=max(every, 1))

    @property
    def row_spacing_m(self) -> float:
        return super().row_spacing_m * self.every

    def rows_within(self, bounds_m) -> np.ndarray:
        if self.every == 1:
            return super().rows_within(bounds_m)
        places = []
        for p, plan in enumerate(self.answer.plans):
            which = segments_within(plan, bounds_m)
            kept = which[plan.segments.line[which] % self.every == self.every // 2]
            places += [(p, s) for s in kept.tolist()]
        return self.row_lines(places)

    def marks_within(self, kind: str, bounds_m) -> np.ndarray:
        x0, y0, x1, y1 = bounds_m
        if min(x1 - x0, y1 - y0) > _MARKS_WITHIN_M:
            return np.empty((0, 2))
        return super().marks_within(kind, bounds_m)


class CandidateDrawings:
    """Makes the drawing of each candidate's plans; those that did not change keep theirs."""

    def __init__(self):
        self._known: dict[tuple[int, ...], tuple[tuple[RowPlan, ...], Drawing]] = {}
        self._kept_clear: tuple = ((), None)

    def of(self, project: Project, results) -> tuple[Drawing | None, ...]:
        """One a result, in order; None where it could not be laid."""
        if self._kept_clear[0] is not project.exclusions:
            exclusions = project.exclusions
            self._kept_clear = (
                exclusions,
                kept_clear_by(exclusions, _QUAD_SEGS) if exclusions else None,
            )
            self._known = {}
        fresh = {}
        for result in results:
            if result.plans:
                key = tuple(map(id, result.plans))
                known = self._known.get(key)
                fresh[key] = known or (result.plans, self._drawn(project, result.plans))
        self._known = fresh  # with the plans, so that no identity is given out again
        return tuple(fresh[tuple(map(id, r.plans))][1] if r.plans else None for r in results)

    def _drawn(self, project: Project, plans: tuple[RowPlan, ...]) -> Drawing:
        blocks = tuple(p.block for p in plans)
        strips = tuple(clear_strips(p.block, p.rules, _QUAD_SEGS) for p in plans)
        alone = replace(project, blocks=blocks, study=None)
        tallies = tuple(tally_of((p,)) for p in plans)
        drawing = drawing_of(
            LayoutAnswer(
                0,
                alone,
                plans,
                tally_of(plans),
                True,
                tallies,
                strips=strips,
                kept_clear=self._kept_clear[1],
            )
        )
        return SmallDrawing(**{f.name: getattr(drawing, f.name) for f in fields(drawing)})
