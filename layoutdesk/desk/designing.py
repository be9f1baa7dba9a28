"""Designing the drip system off the GUI thread: what a hand waits for first, the rest when it rests."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from ..core.model import InputProblem, Project
from .background import Asked, same_plans

# What designs is imported on the worker's thread: the first picture waits for none of it.


@dataclass(frozen=True, eq=False)
class Wanted:
    """A drip system that is asked for; in haste while a hand still moves."""

    revision: int
    project: Project
    plans: tuple
    path: Path | None
    haste: bool = False

    def same(self, other: Wanted | None) -> bool:
        """Whether the other asks for the same drip system."""
        return (
            other is not None
            and self.project is other.project
            and self.path == other.path
            and same_plans(self, other)
        )


@dataclass(frozen=True, eq=False)
class Designed:
    """An answer, with what there is to draw of it, and the heights it was designed on."""

    answer: object
    layer: object
    terrain: object
    haste: bool


class Designer:
    """Answers what is wanted, keeping what did not change."""

    def __init__(self):
        self._designer = None

    def answer(self, wanted: Wanted) -> Designed:
        from ..session.water_drawing import water_drawing
        from ..session.water_places import rings_of
        from ..session.watering import WaterDesigner, WaterRequest
        from .water_painting import WaterLayer

        if self._designer is None:
            self._designer = WaterDesigner()
        terrain = terrain_where_read(wanted)
        surface = terrain.surface if terrain is not None else None
        answer = self._designer.answer(
            WaterRequest(wanted.revision, wanted.project, wanted.plans, surface, wanted.haste)
        )
        layer = WaterLayer(water_drawing(answer), rings_of(answer))
        return Designed(answer, layer, terrain, wanted.haste)


def terrain_where_read(wanted):
    """The heights of a project that is asked for; None where it has none or they cannot be read."""
    from ..session.terrain import terrain_of

    try:
        return terrain_of(wanted.project, wanted.path)
    except InputProblem:
        return None  # a finding of the layout says so


class Designing(Asked):
    """The drip system of the document's project; `newest` is a Designed, of an earlier state until another comes."""

    sorry = "The drip system could not be worked out."

    def wanted(self, *, haste: bool = False) -> Wanted | None:
        """The project as it is now with its newest rows; None while these are still being laid."""
        rows = self.rows_of_document()
        if rows is None:
            return None
        document, laid = rows
        return Wanted(document.revision, document.project, laid.plans, document.path, haste)

    def follow(self) -> None:
        """Have the project designed as it is now, unless it is or is being."""
        wanted = self.wanted()
        if wanted is None or wanted.same(self._asked):
            return
        self.problem = ""
        self._ask(replace(wanted, haste=self.newest is not None))

    def _ask(self, wanted: Wanted) -> None:
        self._submit(wanted, lambda: Designer().answer, "water")

    def settle(self) -> None:
        """No hand moves any more: have all that was left out in haste."""
        newest, wanted = self.newest, self.wanted()
        if wanted is not None and newest is not None and newest.haste and wanted.same(self._asked):
            self._ask(wanted)

    @property
    def is_done(self) -> bool:
        """Whether the newest answer is all there is to say of the project as it is."""
        newest, wanted = self.newest, self.wanted()
        return (
            newest is not None
            and wanted is not None
            and not newest.haste
            and newest.answer.project is wanted.project
            and wanted.same(self._asked)
        )
