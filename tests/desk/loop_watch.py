"""Watching the GUI thread: how long its event loop stood still while a step of a session was done."""

from __future__ import annotations

import cProfile
import io
import pstats
import statistics
import sys
import threading
import time
import traceback
from collections import deque
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PySide6.QtCore import QEventLoop, Qt, QTimer

from tests.desk.hands import at_rest, notices

REFERENCE_MS = 5.5
"""What `calibration_ms` takes on the machine that limits are set on. [ms]"""
_BEAT_MS = 4
"""Between two beats of the watch. [ms]"""
_LATE_S = 0.030
"""From then on it is looked what the loop is kept by. [s]"""
_BETWEEN_MS = 12
"""From the end of one event of a hand to the next. [ms]"""
_WORK_S = 0.5
"""So long work with files goes on at the end of a step that is to be called off. [s]"""

Event = Callable[[], object]


@dataclass
class Step:
    """Something a person does.

    Attributes
    ----------
    name : str
    events : list of functions
        Events of a hand; each comes in a turn of the loop of its own.
    so : function
        Whether what should come of it has, when the window is at rest again.
    call_off : bool
        Work with files that the step began is called off after a while.
    """

    name: str
    events: list[Event]
    so: Callable[[], object]
    call_off: bool = False


@dataclass
class Held:
    """How long the loop did not turn, at worst, while a step was done.

    Attributes
    ----------
    cpu_ms : float
        Processor time of the GUI thread between two beats. [ms]
    wall_ms : float
        The same by the clock; waiting for other threads and programs is in it. [ms]
    stack : str
        Where the GUI thread was while the longest hold by the clock went on.
    """

    step: str
    cpu_ms: float = 0.0
    wall_ms: float = 0.0
    stack: str = ""
    profile: str = ""


class LoopWatch:
    """A timer that beats while the loop turns, and a thread that looks where it is when it does not."""

    def __init__(self):
        self.held = Held("")
        self._gui = threading.get_ident()
        self._beat = time.perf_counter(), time.thread_time()
        self._sampled: tuple[float, str] = (0.0, "")
        self._timer = QTimer()
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(_BEAT_MS)
        self._timer.timeout.connect(self.beat)
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._look, name="loop watch", daemon=True)

    def __enter__(self):
        self._beat = time.perf_counter(), time.thread_time()
        self._timer.start()
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._timer.stop()
        self._stop.set()
        self._thread.join()

    def begin(self, step: str) -> Held:
        """Count for another step from now on."""
        self.beat()
        self.held = Held(step)
        return self.held

    def beat(self) -> None:
        wall, cpu = time.perf_counter(), time.thread_time()
        held, (wall0, cpu0) = self.held, self._beat
        held.cpu_ms = max(held.cpu_ms, 1e3 * (cpu - cpu0))
        if 1e3 * (wall - wall0) > held.wall_ms:
            held.wall_ms = 1e3 * (wall - wall0)
            if self._sampled[0] == wall0:
                held.stack = self._sampled[1]
        self._beat = time.perf_counter(), time.thread_time()

    def _look(self) -> None:
        while not self._stop.wait(0.010):
            began = self._beat[0]
            if time.perf_counter() - began > _LATE_S:
                frame = sys._current_frames().get(self._gui)
                if frame is not None:
                    self._sampled = (began, _own_lines(frame))


def _own_lines(frame) -> str:
    """The last lines of a stack, our own package's and what they called."""
    lines = [
        f"{Path(f.filename).name}:{f.lineno} {f.name}"
        for f in traceback.extract_stack(frame)
        if "layoutdesk" in f.filename
    ]
    return " > ".join(lines[-6:])


def calibration_ms() -> float:
    """Processor time of a fixed piece of work like that of the window. [ms]"""
    times = []
    for _ in range(5):
        began = time.thread_time()
        total = 0
        for i in range(120_000):
            total += i % 7
        xy = np.arange(600_000, dtype=float).reshape(-1, 2)
        total += int((xy * 1.5 + 2.0).astype(np.int32)[:, 0].sum() % 7)
        times.append(1e3 * (time.thread_time() - began))
    return statistics.median(times)


def watched(window, steps: Iterator[Step], profiled=frozenset()) -> Iterator[Held]:
    """Go through the steps of a session in a turning loop; what each of them held it up."""
    with LoopWatch() as watch:
        for step in steps:
            held = watch.begin(step.name)
            profile = cProfile.Profile() if step.name in profiled else None
            _turn(window, step, profile)
            watch.beat()
            if not step.so():
                said = window.work.text(), *notices(window)
                raise AssertionError(f"{step.name}: nothing came of it; the window says {said}")
            held.profile = _told(profile) if profile is not None else ""
            yield held


def _turn(window, step: Step, profile) -> None:
    """Run a loop that sends the events one by one, and ends when the window is at rest."""
    loop, failed, began, work_began = QEventLoop(), [], time.monotonic(), None
    events = deque(step.events)

    def go_on() -> None:
        nonlocal work_began
        took = time.monotonic() - began
        try:
            if events:
                events.popleft()()
            elif step.call_off and window.filing.task is not None:
                work_began = time.monotonic() if work_began is None else work_began
                if time.monotonic() - work_began > _WORK_S:
                    window.filing.cancel()
            elif at_rest(window) and not window.canvas._rest.isActive():
                loop.quit()
                return
            assert took < 20, "the window does not come to rest"
        except BaseException as problem:
            failed.append(problem)
            loop.quit()
            return
        timer.start(_BETWEEN_MS)

    timer = QTimer()
    timer.setSingleShot(True)
    timer.timeout.connect(go_on)
    timer.start(0)
    if profile is not None:
        profile.enable()
    loop.exec()
    if profile is not None:
        profile.disable()
    if failed:
        raise failed[0]


def _told(profile: cProfile.Profile) -> str:
    out = io.StringIO()
    stats = pstats.Stats(profile, stream=out).strip_dirs().sort_stats("cumulative")
    stats.print_stats(r"^(?!loop_watch|test_event|<frozen|<string)", 24)
    return "\n".join(line for line in out.getvalue().splitlines()[5:] if line.strip())
