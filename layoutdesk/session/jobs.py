"""Work off the caller's thread, where the newest request wins."""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from typing import Any


class NewestWins:
    """One worker that answers the newest request and drops those it overtook.

    `work(request)` runs on the worker's thread; `deliver(request, answer, problem)` is called there
    too, with either an answer or the exception. A request that comes while another is being worked
    on waits; a newer one takes its place. With `threaded=False` everything happens in `submit`.
    """

    def __init__(
        self,
        work: Callable[[Any], Any],
        deliver: Callable[[Any, Any, BaseException | None], None],
        *,
        threaded: bool = True,
        name: str = "work",
    ):
        self._work = work
        self._deliver = deliver
        self._threaded = threaded
        self._waiting: Any = None
        self._has_waiting = False
        self._busy = False
        self._closed = False
        self._condition = threading.Condition()
        self._thread = None
        if threaded:
            self._thread = threading.Thread(
                target=self._run, name=f"layoutdesk {name}", daemon=True
            )
            self._thread.start()

    def submit(self, request: Any) -> None:
        """Ask for an answer; an earlier request that still waits is dropped."""
        if not self._threaded:
            self._answer(request)
            return
        with self._condition:
            self._waiting, self._has_waiting = request, True
            self._condition.notify_all()

    def _answer(self, request) -> None:
        try:
            answer, problem = self._work(request), None
        except Exception as raised:
            answer, problem = None, raised
        if not self._closed:
            self._deliver(request, answer, problem)

    def _run(self) -> None:
        while True:
            with self._condition:
                self._busy = False
                self._condition.notify_all()
                while not self._has_waiting and not self._closed:
                    self._condition.wait()
                if self._closed:
                    return
                request, self._waiting, self._has_waiting = self._waiting, None, False
                self._busy = True
            try:
                self._answer(request)
            except Exception:  # the receiver's own trouble: said, and the worker goes on
                raised = (*sys.exc_info(), threading.current_thread())
                threading.excepthook(threading.ExceptHookArgs(raised))

    def wait(self, timeout_s: float = 30.0) -> bool:
        """Until nothing waits or runs; False where that took too long."""
        with self._condition:
            return self._condition.wait_for(
                lambda: not self._busy and not self._has_waiting, timeout_s
            )

    def close(self) -> None:
        """Stop after the request in hand; its answer is not delivered."""
        with self._condition:
            self._closed = True
            self._condition.notify_all()
        if self._thread is not None:
            self._thread.join(timeout=10.0)
