"""Work off the GUI thread, answered in it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

from ..core.model import InputProblem
from ..session.jobs import NewestWins


class Answers(QObject):
    """A newest-wins worker whose answers arrive as a signal in the GUI thread."""

    answered = Signal(object, object, object)

    def __init__(self, work: Callable[[Any], Any], parent: QObject, name: str):
        super().__init__(parent)
        self.worker = NewestWins(work, self.answered.emit, name=name)

    def submit(self, request: Any) -> None:
        self.worker.submit(request)

    def close(self) -> None:
        self.worker.close()


class Asked(QObject):
    """What is asked of the document's project; subclasses say what is wanted and take what comes.

    Attributes
    ----------
    newest : object or None
        The newest answer, of an earlier state until another comes; its `answer` is the session's.
    problem : str
        Why there is none; empty where nothing is amiss.
    """

    came = Signal()
    sorry = "This could not be counted."

    def __init__(self, window):
        super().__init__(window)
        self.window = window
        self.newest: Any = None
        self.problem = ""
        self._asked: Any = None
        self._answers: Answers | None = None

    def close(self) -> None:
        if self._answers is not None:
            self._answers.close()
            self._answers = None

    def forget(self) -> None:
        """Put down everything of the project that is left."""
        self.newest = self._asked = None
        self.problem = ""

    def _submit(self, wanted, work: Callable[[], Callable[[Any], Any]], name: str) -> None:
        """Ask for something; what works is made with the first."""
        if self._answers is None:
            self._answers = Answers(work(), self.window, name)
            self._answers.answered.connect(self._take)
        self._asked = wanted
        self._answers.submit(wanted)

    def _take(self, wanted, answer, problem) -> None:
        """Take an answer; one that is overtaken is shown until the next, as it is nearer than what is shown."""
        if self.window.document is None or self._asked is None:
            return
        overtaken = wanted is not self._asked and not wanted.same(self._asked)
        if overtaken and (
            problem is not None or wanted.revision < self.window.document.first_revision
        ):
            return
        if problem is not None:
            self._say(problem)
            return
        self.newest = answer
        self.came.emit()

    def _say(self, problem: BaseException) -> None:
        """Tell why there is no answer; our own mistakes go on being raised."""
        said = isinstance(problem, InputProblem)
        self.problem = str(problem) if said else self.sorry
        self.came.emit()
        if not said:
            raise problem

    def rows_of_document(self):
        """The document with its newest rows, (document, layout answer); None while they are being laid."""
        document, laid = self.window.document, self.window.answer
        if document is None or laid is None:
            return None
        project, before = document.project, laid.project
        same = len(before.blocks) == len(project.blocks) and all(
            a is b for a, b in zip(before.blocks, project.blocks, strict=True)
        )
        if not same or before.exclusions != project.exclusions:
            return None
        return document, laid

    @property
    def holds_for_the_rows(self) -> bool:
        """Whether the newest answer is of the rows on show."""
        laid = self.window.answer
        return self.newest is not None and laid is not None and same_plans(laid, self.answer)

    @property
    def answer(self):
        """The newest answer, None until there is one."""
        return None if self.newest is None else self.newest.answer

    @property
    def is_done(self) -> bool:
        """Whether the newest answer is all there is to say of the project as it is."""
        raise NotImplementedError

    @property
    def is_going_on(self) -> bool:
        """Whether something of the project as it is is still to come."""
        return not self.problem and not self.is_done


def same_plans(one, other) -> bool:
    """Whether two requests or answers are of the very same plans."""
    return len(one.plans) == len(other.plans) and all(
        a is b for a, b in zip(one.plans, other.plans, strict=True)
    )


class Cancelled(Exception):
    """The user called the work off."""


class Task(QObject):
    """One piece of work with progress and cancel; its end arrives in the GUI thread."""

    progressed = Signal(float, str)
    finished = Signal(object, object)

    def __init__(
        self, work: Callable[[Callable[[float, str], None]], Any], parent: QObject, name: str
    ):
        super().__init__(parent)
        self._work = work
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run, name=f"layoutdesk {name}", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def cancel(self) -> None:
        """Ask the work to stop at its next step."""
        self._stop.set()

    def wait(self, timeout_s: float = 60.0) -> None:
        self._thread.join(timeout_s)

    def _say(self, share: float, what: str) -> None:
        if self._stop.is_set():
            raise Cancelled
        self.progressed.emit(share, what)

    def _run(self) -> None:
        try:
            result, problem = self._work(self._say), None
        except Exception as raised:
            result, problem = None, raised
        self.finished.emit(result, problem)
