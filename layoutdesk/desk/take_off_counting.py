"""Counting a take-off off the GUI thread: rows at once, the drip system's parts behind them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..core.model import Project
from .background import Asked

# What counts is imported on the worker's thread: the first picture waits for none of it.


@dataclass(frozen=True, eq=False)
class Wanted:
    """A take-off that is asked for; `parts_too` has the drip system designed where it is not yet.

    `terrain` is a TerrainRead, or None where the project has no heights.
    """

    revision: int
    project: Project
    plans: tuple
    terrain: object = None
    parts_too: bool = True

    @property
    def surface(self):
        return None if self.terrain is None else self.terrain.surface

    def same(self, other: Wanted | None) -> bool:
        """Whether the other asks for the same take-off."""
        return other is not None and self.project is other.project and _same_rows(self, other)


def _same_rows(a: Wanted, b: Wanted) -> bool:
    return (
        len(a.plans) == len(b.plans)
        and all(p is q for p, q in zip(a.plans, b.plans, strict=True))
        and a.surface is b.surface
    )


@dataclass(frozen=True, eq=False)
class Counted:
    """A take-off, where its heights come from, what is to be told beside it, and if all is in it."""

    answer: object
    statement: str
    notes: tuple[str, ...]
    is_whole: bool


class Counter:
    """Answers take-offs; the drip system's parts are kept while rows, heights and water are the same."""

    def __init__(self):
        self._taken = None
        self._designed: Wanted | None = None
        self._parts: tuple = ()
        self._notes: tuple[str, ...] = ()

    def answer(self, wanted: Wanted) -> Counted:
        from ..session.taking_off import TakeOffCounter, TakeOffRequest

        if self._taken is None:
            self._taken = TakeOffCounter()
        if wanted.parts_too and not self._is_designed(wanted):
            self._design(wanted)
        request = TakeOffRequest(
            wanted.revision, wanted.project, wanted.plans, wanted.surface, self._parts
        )
        statement = "" if wanted.terrain is None else wanted.terrain.statement
        return Counted(
            self._taken.answer(request), statement, self._notes, self._is_designed(wanted)
        )

    def _is_designed(self, wanted: Wanted) -> bool:
        known = self._designed
        return (
            known is not None
            and known.project.water == wanted.project.water
            and _same_rows(known, wanted)
        )

    def _design(self, wanted: Wanted) -> None:
        from ..session.asked_take_off import water_parts_of

        parts, self._notes = water_parts_of(wanted.project, wanted.plans, wanted.surface)
        self._parts, self._designed = tuple(parts), wanted


class Counting(Asked):
    """What is counted of the document's project; `newest` is a Counted, those overtaken are dropped."""

    def wanted(self) -> Wanted | None:
        """The project as it is now with its newest rows; None while these are still being laid.

        While a hand moves, heights are those that were read before.
        """
        w = self.window
        document, answer = w.document, w.answer
        if document is None or answer is None:
            return None
        project = document.project
        before = answer.project
        if before.blocks != project.blocks or before.exclusions != project.exclusions:
            return None
        terrain = None
        if project.terrain is not None:
            terrain = answer.terrain if answer.settled else w.terrain.read
            if terrain is None and not answer.settled:
                return None
        return Wanted(document.revision, project, answer.plans, terrain)

    def follow(self) -> None:
        """Have the project counted as it is now, unless it is or is being."""
        wanted = self.wanted()
        if wanted is None or wanted.same(self._asked):
            return
        self.problem = ""
        self._ask(wanted, parts_too=False)

    def _ask(self, wanted: Wanted, *, parts_too: bool) -> None:
        asked = replace(wanted, parts_too=parts_too)
        self._submit(asked, lambda: Counter().answer, "materials")

    def _take(self, wanted: Wanted, counted: Counted | None, problem) -> None:
        if wanted is not self._asked or self.window.document is None:
            return  # overtaken, or of a project that was left
        if problem is not None:
            self._say(problem)
            return
        self.newest = counted
        if not counted.is_whole:
            self._ask(wanted, parts_too=True)
        self.came.emit()

    @property
    def is_done(self) -> bool:
        """Whether what is counted is the project as it is, with all parts."""
        wanted = self.wanted()
        return (
            self.newest is not None
            and self.newest.is_whole
            and wanted is not None
            and wanted.same(self._asked)
            and self.newest.answer.project is wanted.project
        )
