"""Counting a comparison off the GUI thread: figures first, then curves, those of grades last."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import Signal

from ..core.model import InputProblem, Project
from ..core.model.study import Study
from .background import Asked

# What counts is imported on the worker's thread: the first picture waits for none of it.

FIGURES, SWEEP, GRADES = range(3)
"""What is asked for: candidates alone; counts and sun over all bearings; grades over them too."""


@dataclass(frozen=True, eq=False)
class Wanted:
    """A comparison that is asked for, and how much of it."""

    revision: int
    project: Project
    path: Path | None
    depth: int = GRADES


@dataclass(frozen=True, eq=False)
class Counted:
    """An answer with what there is to draw of each candidate, and the heights it was measured with.

    `said` is why it was measured without the heights the project names.
    """

    answer: object
    drawings: tuple
    terrain: object = None
    depth: int = FIGURES
    said: str = ""


class _Overtaken(Exception):
    """Something newer is asked for."""


class Counter:
    """Answers comparisons, keeping what did not change; `say` has the share that is done."""

    def __init__(self, say=None):
        self.newest: Wanted | None = None  # set by whoever asks, so that others are given up
        self._say = say
        self._comparer = self._drawings = None
        self._graded: tuple = (None, {})

    def answer(self, wanted: Wanted) -> Counted:
        from ..session.candidate_drawings import CandidateDrawings
        from ..session.comparing import Comparer, CompareRequest

        def progress(share: float) -> None:
            if self.newest not in (None, wanted):
                raise _Overtaken
            if self._say is not None:
                self._say(share)

        if self._comparer is None:
            self._comparer, self._drawings = Comparer(), CandidateDrawings()
        terrain, said = _terrain(wanted.project, wanted.path)
        surface = terrain.surface if terrain is not None else None
        swept = wanted.depth >= SWEEP
        # The first figures come while a hand may still move: those of all bearings settle them.
        request = CompareRequest(wanted.revision, wanted.project, surface, swept, haste=not swept)
        answer = self._comparer.answer(request, progress)
        if wanted.depth >= GRADES and surface is not None and answer.sweep is not None:
            curves = self._grades(answer, surface, progress)
            answer = replace(answer, curves={**answer.curves, **curves})
        drawings = self._drawings.of(wanted.project, answer.results)
        return Counted(answer, drawings, terrain, wanted.depth, said)

    def _grades(self, answer, surface, progress) -> dict:
        """Grades over all bearings; dear, so kept while neither ground nor base changes."""
        from ..session.comparing import graded_by, terrain_curves

        project, study = answer.project, answer.study
        base = replace(study.candidates[study.base], bearing_deg=None, name="", note="")
        asked = graded_by(study), study.blocks
        key = (project.blocks, project.exclusions, asked, base, surface)
        known = self._graded[0]
        same = known is not None and all(
            a is b or (i in (2, 3) and a == b)
            for i, (a, b) in enumerate(zip(key, known, strict=True))
        )
        if not same:
            bearings = answer.sweep.bearings_deg
            self._graded = key, terrain_curves(project, surface, bearings, progress)
        return self._graded[1]


def _terrain(project: Project, path: Path | None):
    """The project's heights, or None and why they are not there."""
    if project.terrain is None:
        return None, ""
    from ..session.terrain import terrain_of

    try:
        return terrain_of(project, path), ""
    except InputProblem as problem:
        return None, str(problem)


class Counting(Asked):
    """What is counted of the document's study; answers that were overtaken are dropped.

    Attributes
    ----------
    newest, swept : Counted or None
        The newest figures, and the newest with curves; of an earlier state until others come.
    """

    progressed = Signal(float)

    def __init__(self, window):
        super().__init__(window)
        self.swept: Counted | None = None
        self._counter = Counter(self.progressed.emit)

    def close(self) -> None:
        self._counter.newest = Wanted(0, None, None)  # gives up what is being counted
        super().close()

    def forget(self) -> None:
        super().forget()
        self.swept = None

    def follow(self) -> None:
        """Have the project counted as it is now, unless it is or is being."""
        if self._asked is None or self._asked.project is not self.window.document.project:
            self.problem = ""
            self._ask(FIGURES)

    def wanted(self, depth: int = GRADES) -> Wanted:
        """The project as it is now."""
        document = self.window.document
        return Wanted(document.revision, document.project, document.path, depth)

    def _ask(self, depth: int) -> None:
        wanted = self._counter.newest = self.wanted(depth)
        self._submit(wanted, lambda: self._counter.answer, "compare")

    def _take(self, wanted: Wanted, counted: Counted | None, problem) -> None:
        if wanted is not self._asked or self.window.document is None:
            return  # overtaken, or of a project that was left
        if problem is not None:
            self._say(problem)
            return
        self.newest = counted
        if counted.depth >= SWEEP:
            self.swept = counted
        deepest = GRADES if counted.terrain is not None else SWEEP
        if counted.depth < deepest:
            self._ask(counted.depth + 1)
        self.came.emit()

    @property
    def swept_answer(self):
        """The newest answer with curves, None until there is one."""
        return self.swept.answer if self.swept is not None else None

    @property
    def is_done(self) -> bool:
        """Whether figures and curves are those of the project as it is, to the last."""
        swept = self.swept
        if swept is None or swept.answer.project is not self.window.document.project:
            return False
        return swept.depth >= GRADES or swept.terrain is None


def same_ground(a: Project, b: Project) -> bool:
    """Whether figures of one project hold in the other: only candidates may differ."""
    return a is b or (
        a.blocks is b.blocks
        and a.exclusions is b.exclusions
        and a.terrain == b.terrain
        and measured_by(a.study) == measured_by(b.study)
    )


def measured_by(study: Study | None) -> Study:
    """A study's settings without its candidates."""
    return replace(study or Study(), candidates=(), base=0, chosen=())
