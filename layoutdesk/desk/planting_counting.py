"""Working the planting out off the GUI thread."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from ..core.model import Project
from .background import Asked, same_plans
from .designing import terrain_where_read

# What counts is imported on the worker's thread: the first picture waits for none of it.


@dataclass(frozen=True, eq=False)
class Wanted:
    """The planting of a project as it is laid, drawn in a way."""

    revision: int
    project: Project
    plans: tuple
    path: Path | None
    today: datetime.date
    way: str

    def same(self, other: Wanted | None) -> bool:
        """Whether the other asks for the same."""
        return (
            other is not None
            and self.project is other.project
            and (self.path, self.today, self.way) == (other.path, other.today, other.way)
            and same_plans(self, other)
        )


@dataclass(frozen=True, eq=False)
class Planned:
    """An answer, with what there is to draw of it."""

    answer: object
    layer: object


class Planner:
    """Answers what is wanted, keeping what did not change."""

    def __init__(self):
        self._counter = None

    def answer(self, wanted: Wanted) -> Planned:
        from ..session.planted import PlantingCounter, PlantingRequest
        from ..session.planting_drawing import planting_drawing
        from .planting_painting import PlantingLayer

        if self._counter is None:
            self._counter = PlantingCounter()
        terrain = terrain_where_read(wanted)
        answer = self._counter.answer(
            PlantingRequest(
                wanted.revision,
                wanted.project,
                wanted.plans,
                wanted.today,
                terrain.surface if terrain is not None else None,
                wanted.path.parent if wanted.path is not None else None,
            )
        )
        return Planned(answer, PlantingLayer(planting_drawing(answer, wanted.way)))


class Planning(Asked):
    """The planting of the document's project; `newest` is a Planned, of an earlier state until another comes."""

    sorry = "The planting could not be worked out."

    def __init__(self, window):
        super().__init__(window)
        self.way = "plant"

    def wanted(self) -> Wanted | None:
        """The project as it is now with its newest rows; None while these are still being laid."""
        rows = self.rows_of_document()
        if rows is None:
            return None
        document, laid = rows
        today = datetime.date.today()
        return Wanted(
            document.revision, document.project, laid.plans, document.path, today, self.way
        )

    def follow(self) -> None:
        """Have the project worked out as it is now, unless it is or is being."""
        wanted = self.wanted()
        if wanted is None or wanted.same(self._asked):
            return
        self.problem = ""
        self._submit(wanted, lambda: Planner().answer, "planting")

    @property
    def is_done(self) -> bool:
        """Whether the newest answer is of the project as it is."""
        newest, wanted = self.newest, self.wanted()
        return (
            newest is not None
            and wanted is not None
            and newest.answer.project is wanted.project
            and newest.layer.drawing.by == self.way
            and wanted.same(self._asked)
        )
