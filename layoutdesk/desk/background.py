"""Work off the GUI thread, answered in it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QObject, Signal

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
