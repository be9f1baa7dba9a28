"""Tasks done by other processes, which may die: none is lost, none is done twice."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import sys
import threading
from collections import deque
from collections.abc import Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from typing import Protocol

from ..core.model import InputProblem
from .parcels_work import (
    ParcelSettings,
    PartResult,
    Task,
    joined,
    ready,
    refused_task,
    work_parcels,
)

_DEATHS_AT_START = 3
"""Processes in a row that die before they can do anything: then none will."""

KILLS = "The program broke off twice while it was worked on: look at its outline, or lay it out by itself."


class WorkerDied(Exception):
    """The process that had a task is gone."""


class Crew(Protocol):
    """Processes that take tasks."""

    def free(self) -> bool:
        """Whether one more task can be begun."""

    def begin(self, task: Task): ...

    def ended(self, begun: list) -> set:
        """Those of the begun tasks that are over; waits for one at least."""

    def result(self, begun) -> PartResult:
        """Of a task that is over; WorkerDied where its process is gone."""


@dataclass
class _Job:
    index: int
    task: Task
    place: int = 0
    died: bool = False


def results(crew: Crew, tasks: Iterable[tuple[int, Task]]) -> Iterator[tuple[int, PartResult]]:
    """Each task's result by its number, in the order they are done.

    No more tasks are read than can be begun. A task whose process died is done again, a parcel at a
    time; a parcel at which a process dies once more is refused.
    """
    tasks = iter(tasks)
    again: deque[_Job] = deque()
    begun: dict = {}
    pieces: dict[int, list[PartResult | None]] = {}
    while True:
        while crew.free():
            if again:
                job = again.popleft()
            else:
                number, task = next(tasks, (None, None))
                if task is None:
                    break
                job = _Job(number, task)
            begun[crew.begin(job.task)] = job
        if not begun:
            return
        for future in crew.ended(list(begun)):
            job = begun.pop(future)
            try:
                result = crew.result(future)
            except WorkerDied:
                if not job.died:
                    parts = job.task.alone()
                    pieces[job.index] = [None] * len(parts)
                    again.extend(_Job(job.index, t, k, True) for k, t in enumerate(parts))
                    continue
                result = refused_task(job.task, KILLS)
            if job.died:
                parts = pieces[job.index]
                parts[job.place] = result
                if any(p is None for p in parts):
                    continue
                result = joined(pieces.pop(job.index))
            yield job.index, result


class LocalCrew:
    """Processes of this machine, each in a pool of its own, so that one that dies names its task.

    Use as a context; at its end the processes are gone at once, whatever they were doing. `work` is
    what is done with the settings and a task.
    """

    def __init__(self, settings: ParcelSettings, n_processes: int, work=work_parcels):
        self._settings, self._work = settings, work
        self._context = multiprocessing.get_context(
            "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
        )
        self._members = [_Member(self._context) for _ in range(n_processes)]
        self._of: dict[Future, _Member] = {}
        self._deaths = 0

    def __enter__(self) -> LocalCrew:
        if self._context.get_start_method() == "forkserver":
            self._context.set_forkserver_preload(["layoutdesk.session.parcels_work"])
        return self

    def __exit__(self, *_):
        for member in self._members:
            member.dismiss()

    def free(self) -> bool:
        return any(not m.busy for m in self._members)

    def begin(self, task: Task) -> Future:
        member = next(m for m in self._members if not m.busy)
        future = member.begin(self._work, self._settings, task)
        self._of[future] = member
        return future

    def ended(self, begun: list) -> set:
        return wait(begun, return_when=FIRST_COMPLETED).done

    def result(self, begun: Future) -> PartResult:
        member = self._of.pop(begun)
        member.busy = False
        try:
            result = begun.result()
        except BrokenProcessPool:
            if not member.was_ready:
                self._deaths += 1
                if self._deaths >= _DEATHS_AT_START:
                    raise InputProblem(
                        "The processes that compare parcels cannot be started here: free some memory, "
                        "or give fewer with --processes."
                    ) from None
            member.renew()
            raise WorkerDied from None
        self._deaths = 0
        return result


class _Member:
    """One process, its pool, and the pipe whose end means that it is to go."""

    def __init__(self, context):
        self._context = context
        self.busy = False
        self._pool = self._pipe = self._reader = self._first = None

    @property
    def was_ready(self) -> bool:
        """Whether the process began to take tasks."""
        return self._first is not None and self._first.done() and not self._first.exception()

    def begin(self, work, settings: ParcelSettings, task: Task) -> Future:
        if self._pool is None:
            self._start()
        self.busy = True
        try:
            return self._pool.submit(work, settings, task)
        except BrokenProcessPool:  # it died while it had nothing to do
            self.renew()
            self._start()
            return self._pool.submit(work, settings, task)

    def _start(self) -> None:
        self._reader, self._pipe = self._context.Pipe(duplex=False)
        self._pool = ProcessPoolExecutor(
            1, mp_context=self._context, initializer=_began, initargs=(self._reader,)
        )
        with _deaf_to_interrupts():
            self._first = self._pool.submit(ready)

    def renew(self) -> None:
        self.dismiss()
        self._pool = self._pipe = self._reader = self._first = None

    def dismiss(self) -> None:
        if self._pool is None:
            return
        self._pipe.close()
        self._reader.close()
        self._pool.shutdown(wait=False, cancel_futures=True)


def _began(reader) -> None:
    """In a new process: leave interrupts to the one that commands, and go when it is gone."""
    with contextlib.suppress(ValueError):
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    _keep_memory()
    threading.Thread(target=_go_with, args=(reader,), daemon=True).start()


_TRIM_THRESHOLD, _MMAP_THRESHOLD = -1, -3
"""Names of two settings of the GNU C library's allocator. Source: its malloc.h."""

_KEPT_BYTES = 128 << 20


def _keep_memory() -> None:
    """Have freed arrays used again instead of given back and asked for anew.

    The same few megabytes are needed for every parcel; zeroing fresh pages costs an eighth of the time.
    """
    import ctypes

    with contextlib.suppress(AttributeError, OSError, TypeError):  # other C libraries
        library = ctypes.CDLL(None)
        library.mallopt(_TRIM_THRESHOLD, _KEPT_BYTES)
        library.mallopt(_MMAP_THRESHOLD, _KEPT_BYTES)


def _go_with(reader) -> None:
    with contextlib.suppress(OSError, EOFError):
        reader.poll(None)  # nothing is ever sent: it ends when the other side closes or dies
    sys.stderr.flush()
    os._exit(0)


@contextlib.contextmanager
def _deaf_to_interrupts():
    """Processes begun here never have a moment in which Ctrl+C throws at them."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
