"""On a block of 200 ha nothing a person does keeps the window from turning its event loop for long.

`python -m tests.desk.test_event_loop` prints the table of all steps, with `--profile` what the long ones
spend their time on.
"""

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
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import shapely
from PySide6.QtCore import QEventLoop, QPoint, Qt, QTimer
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layoutdesk import Block, Exclusion, Project, RowRules, Site, SiteFrame
from layoutdesk.session.reshaping import ShapeId
from tests.desk.hands import (
    CTRL,
    LEFT,
    MIDDLE,
    PLAIN,
    at_rest,
    let_go,
    move_hand,
    on_ring,
    pixel_of,
    press_grip,
    rest,
    turn_to,
    wheel,
)

LIMIT_MS = 50.0
"""A window that stands still for longer feels stuck to the hand. [ms]"""
_BEAT_MS = 4
_LATE_S = 0.030
_BETWEEN_MS = 12
"""From the end of one event of a hand to the next. [ms]"""
_REFERENCE_MS = 20.0
"""What `calibration_ms` takes on the machine the limit was set on. [ms]"""

Key = Qt.Key


def site_of_200_ha() -> Project:
    """1,400 m by 1,450 m, rows 2.4 m and vines 1.5 m apart, four exclusions."""
    outline = shapely.Polygon([(-700, -725), (700, -705), (690, 725), (-690, 715)])
    kinds = (("pole", shapely.Point(120, 80)), ("well", shapely.Point(-300, -210)))
    exclusions = [Exclusion(shape, 5.0, kind) for kind, shape in kinds]
    exclusions.append(Exclusion(shapely.Point(-250, 310).buffer(45), 8.0, "pond"))
    exclusions.append(Exclusion(shapely.LineString([(-700, 60), (720, -40)]), 6.0, "overhead line"))
    site = Site(SiteFrame(-34.5, 138.9, 120.0), "EPSG:32754", "EPSG:32754")
    rules = RowRules(bearing_deg=12.0, row_spacing_m=2.4, vine_spacing_m=1.5)
    return Project("Two hundred", site, (Block("B1", outline, rules),), tuple(exclusions))


# the watch


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


# the session: every step is a name and events of a hand, each sent in a turn of the loop of its own

Event = Callable[[], object]


@dataclass
class Session:
    """A scripted session at a window; `steps` gives a name and the events of each."""

    window: object
    folder: Path
    seconds_of_export: float = 2.0
    events: deque = field(default_factory=deque)

    def act(self, name: str) -> Event:
        return lambda: self.window.actions_by_id[name].trigger()

    def wheels(self, notches: int, times: int, x=620, y=360) -> list[Event]:
        return [lambda: wheel(self.window.canvas, QPoint(x, y), notches)] * times

    def drag(self, start: QPoint, by, times=8, button=LEFT) -> list[Event]:
        canvas = self.window.canvas
        moves = [
            lambda k=k: move_hand(self.window, start + QPoint(by[0] * k, by[1] * k), button)
            for k in range(1, times + 1)
        ]
        end = start + QPoint(by[0] * times, by[1] * times)
        return [
            lambda: QTest.mousePress(canvas, button, PLAIN, start),
            *moves,
            lambda: QTest.mouseRelease(canvas, button, PLAIN, end),
        ]

    def hover(self, times=10) -> list[Event]:
        canvas = self.window.canvas
        return [
            lambda k=k: QTest.mouseMove(canvas, QPoint(430 + 37 * k, 150 + 31 * k))
            for k in range(times)
        ]

    def typed(self, rule: str, text: str) -> list[Event]:
        value = self.window.paragraph.fields[rule]
        keys = [lambda c=c: QTest.keyClick(value, c) for c in text]
        focus = lambda: value.setFocus(Qt.FocusReason.TabFocusReason)  # noqa: E731
        return [focus, *keys, lambda: QTest.keyClick(value, Key.Key_Tab)]

    def scrub(self, rule: str, times=10) -> list[Event]:
        value = self.window.paragraph.fields[rule]
        at = QPoint(10, 8)

        def move(k):
            from PySide6.QtCore import QEvent, QPointF
            from PySide6.QtGui import QMouseEvent

            to = QPointF(at + QPoint(7 * k + 1, 0))
            none = Qt.MouseButton.NoButton
            event = QMouseEvent(
                QEvent.Type.MouseMove, to, QPointF(value.mapToGlobal(to.toPoint())), none, LEFT, PLAIN
            )
            QApplication.sendEvent(value, event)

        return [
            lambda: QTest.mousePress(value, LEFT, PLAIN, at),
            *[lambda k=k: move(k) for k in range(1, times + 1)],
            lambda: QTest.mouseRelease(value, LEFT, PLAIN, at + QPoint(7 * times + 1, 0)),
        ]

    def key(self, key, times=1, modifiers=PLAIN) -> list[Event]:
        return [lambda: QTest.keyClick(self.window.canvas, key, modifiers)] * times

    def ring(self) -> list[Event]:
        turns = [lambda k=k: turn_to(self.window, 20 + 1.7 * k) for k in range(10)]
        return [lambda: press_grip(self.window), *turns, lambda: let_go(self.window)]

    def corner(self) -> list[Event]:
        window = self.window
        outline = shapely.get_coordinates(window.document.project.blocks[0].outline)
        at = pixel_of(window, *outline[1].tolist())
        return self.drag(at, (-3, 2))

    def steps(self) -> Iterator[tuple[str, list[Event]]]:
        """Names and events; made one after another, so that each sees what the last one left."""
        w, act = self.window, self.act
        yield "open the project", [lambda: w.show_project(site_of_200_ha())]
        yield "hover over the plan", self.hover()
        yield "scrub the bearing", self.scrub("bearing_deg")
        yield "turn the bearing ring", self.ring()
        yield "type the row spacing", self.typed("row_spacing_m", "2.6")
        yield "type the vine spacing", self.typed("vine_spacing_m", "1.4")
        yield "type what is refused", self.typed("row_spacing_m", "wide")
        yield "put it back", [lambda: QTest.keyClick(w.focusWidget(), Key.Key_Escape)]
        yield "undo a rule", [act("undo"), act("undo")]
        yield "redo a rule", [act("redo"), act("redo")]
        yield "zoom in", self.wheels(1, 16)
        yield "pan near", self.drag(QPoint(620, 360), (9, 6), button=MIDDLE)
        yield "pan by key", self.key(Key.Key_Left, 5)
        yield "zoom out", self.wheels(-1, 16)
        yield "pan far", self.drag(QPoint(620, 360), (9, 6), button=MIDDLE)
        yield "show all", [act("fit")]
        yield "click a row", [
            lambda: QTest.mouseClick(w.canvas, LEFT, PLAIN, QPoint(560, 420)),
        ]
        yield "click another with Ctrl", [
            lambda: QTest.mouseClick(w.canvas, LEFT, CTRL, QPoint(660, 300)),
        ]
        yield "leave rows out", [act("leave-out")]
        yield "undo rows left out", [act("undo")]
        yield "redo rows left out", [act("redo")]
        yield "select all rows", [act("select-all")]
        yield "copy as a table", [act("copy-table")]
        yield "leave all out", [act("leave-out")]
        yield "undo leaving all out", [act("undo")]
        yield "select all again", [act("select-all")]
        yield "zoom with all selected", [*self.wheels(1, 4), act("fit")]
        yield "select nothing", [act("select-none")]
        yield "next edge", [act("next-edge"), act("next-edge")]
        yield "ground stage", [act("stage-ground")]
        yield "take the block", [lambda: w.ground.tool.hold(ShapeId("block", "B1"))]
        yield "drag a corner", self.corner()
        yield "nudge a corner", self.key(Key.Key_Left, 4)
        yield "undo the corner", [act("undo")]
        yield "measure", [act("measure"), *self.hover(8), *self.clicks(3), *self.key(Key.Key_Escape)]
        yield "draw a pole", [act("draw-exclusion-point"), *self.hover(4), *self.clicks(1)]
        yield "rows stage", [act("stage-rows")]
        yield "lamp", [act("theme-lamp")]
        yield "paper", [act("theme-paper")]
        yield "feet", [act("unit-ft")]
        yield "metres", [act("unit-m")]
        yield "hide and show the strip", [act("panel-strip"), act("panel-strip")]
        yield "resize the window", [lambda: w.resize(1500, 900), lambda: w.resize(1280, 800)]
        yield "find an action", [act("find"), lambda: QTest.keyClick(w.focusWidget(), Key.Key_Escape)]
        yield "hand-off stage with its preview", [act("stage-handoff")]
        folder = w.handoff_card.folder
        yield "name the folder", [
            lambda: folder.setText(str(self.folder)[:-2]),
            lambda: folder.setText(str(self.folder)),
        ]
        yield "save", [lambda: w.filing.save_to(self.folder.with_suffix(".gpkg"))]
        yield "scrub while it is written", [
            act("stage-rows"),
            lambda: w.filing.save_to(self.folder.with_suffix(".gpkg")),
            *self.scrub("bearing_deg"),
        ]
        yield "write the set", [
            act("stage-handoff"),
            lambda: QTest.mouseClick(w.handoff_card.write, LEFT),
        ]

    def clicks(self, times: int) -> list[Event]:
        canvas = self.window.canvas
        return [
            lambda k=k: QTest.mouseClick(canvas, LEFT, PLAIN, QPoint(500 + 61 * k, 250 + 47 * k))
            for k in range(times)
        ]


def watched(session: Session, *, profiled=frozenset(), say=None) -> list[Held]:
    """Go through a session in a turning loop; what each step held it up."""
    window, found = session.window, []
    with LoopWatch() as watch:
        for name, events in session.steps():
            held = watch.begin(name)
            profile = cProfile.Profile() if name in profiled else None
            _turn(window, deque(events), session.seconds_of_export, profile)
            watch.beat()
            if profile is not None:
                held.profile = _told(profile)
            found.append(held)
            if say is not None:
                say(held)
    return found


def _turn(window, events: deque, export_s: float, profile) -> None:
    """Run a loop that sends the events one by one, and ends when the window is at rest."""
    loop, failed, began = QEventLoop(), [], time.monotonic()

    def go_on() -> None:
        try:
            if events:
                events.popleft()()
            elif window.filing.task is not None and time.monotonic() - began > export_s:
                window.filing.cancel()
            elif at_rest(window) and not window.canvas._rest.isActive():
                loop.quit()
                return
            assert time.monotonic() - began < 60, "the window does not come to rest"
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


def _told(profile: cProfile.Profile, lines: int = 34) -> str:
    out = io.StringIO()
    pstats.Stats(profile, stream=out).strip_dirs().sort_stats("cumulative").print_stats(
        r"^(?!test_event|.*exec_)", lines
    )
    return "\n".join(line for line in out.getvalue().splitlines()[5:] if line.strip())
