"""Work off the GUI thread: the newest answer is shown, stale ones never, and the window stays awake."""

from __future__ import annotations

import threading
import time
from dataclasses import replace

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QTimer

from layoutdesk.core.model import Block, InputProblem
from layoutdesk.desk.background import Task
from layoutdesk.session.layouts import Layouter, LayoutRequest
from tests.desk.hands import follow, let_go, press_grip, pump_until, rest, turn_to
from tests.zoo import wavy


def test_a_burst_of_edits_ends_with_the_newest_shown(desk):
    for bearing in range(20, 60):
        desk.rules.turn(float(bearing))
    follow(desk)
    rest(desk)
    assert desk.answer.plans[0].rules.bearing_deg == 59
    assert desk.canvas.drawing.answer is desk.answer


def test_a_change_settles_by_itself_when_no_hand_tells_so(desk):
    desk.actions_by_id["unit-ft"].trigger()  # no focus is lost, no button let go
    desk.rules.turn(33.0)
    assert desk._settle_timer.isActive()
    follow(desk)
    pump_until(lambda: desk.answer.settled, "the layout has settled", 10)
    assert desk.answer.plans[0].rules.bearing_deg == 33.0


def test_a_stale_answer_is_dropped(desk):
    old = LayoutRequest(desk.document.revision, desk.document.project)
    desk.rules.turn(45.0)
    rest(desk)
    shown = desk.answer
    desk._take_answer(old, Layouter().answer(old), None)
    assert desk.answer is shown


def test_an_answer_for_the_site_that_was_left_is_dropped(desk, two_block_project):
    old = LayoutRequest(0, two_block_project)
    desk.show_project(replace(desk.document.project, name="Another"))
    desk._take_answer(old, Layouter().answer(old), None)
    assert desk.answer is None
    assert desk.canvas.drawing is None
    rest(desk)
    fitted = desk.canvas.view
    desk.canvas.fit()
    assert desk.canvas.view == fitted


def test_rules_that_contradict_the_ground_are_said_and_work_goes_on(desk, monkeypatch):
    from layoutdesk.core.layout import rows

    lay_rows = rows.lay_rows

    def refuse(*args, **how):
        raise ValueError("rows would cross")

    monkeypatch.setattr(rows, "lay_rows", refuse)
    desk.rules.type("row_spacing_m", "3")
    pump_until(desk.notice.isVisible, "the notice is there", 10)
    assert desk.notice.text() == "Block B1 cannot be laid out: rows would cross."
    monkeypatch.setattr(rows, "lay_rows", lay_rows)
    desk.rules.type("row_spacing_m", "3.2")
    rest(desk)
    assert desk.answer.plans[0].rules.row_spacing_m == 3.2


def finished(task) -> list:
    ends = []
    task.finished.connect(lambda result, problem: ends.append((result, problem)))
    task.start()
    pump_until(lambda: bool(ends), "the task has ended", 10)
    task.wait()
    return ends


def test_a_task_ends_once_with_a_result_or_with_what_went_wrong(desk):
    assert finished(Task(lambda say: 7, desk, "seven")) == [(7, None)]
    problem = InputProblem("It cannot be.")

    def fail(say):
        raise problem

    assert finished(Task(fail, desk, "failing")) == [(None, problem)]


def test_a_task_ends_in_the_gui_thread(desk):
    seen = []
    task = Task(lambda say: threading.get_ident(), desk, "where")
    task.finished.connect(
        lambda result, problem: seen.append((threading.get_ident(), result)),
    )
    task.start()
    pump_until(lambda: bool(seen), "the task has ended", 10)
    task.wait()
    [(told_in, worked_in)] = seen
    assert told_in == threading.get_ident() != worked_in


def test_closing_does_not_wait_for_ever_and_leaves_no_thread(desk, leftovers):
    for bearing in range(90):
        desk.rules.turn(float(bearing))
    desk.document.mark_saved(None, desk.document.project)
    began = time.monotonic()
    desk.close()
    assert time.monotonic() - began < 10
    assert not [t for t in leftovers() if t.startswith("thread")]


@pytest.fixture
def large(window, small_project):
    """The window with a wavy block of 50 ha."""
    outline = wavy(200, np.sqrt(50e4 / np.pi), 7, 0.12)
    assert shapely.area(outline) > 4e5
    block = Block("B1", outline, small_project.blocks[0].rules)
    window.show_project(replace(small_project, blocks=(block,)))
    rest(window)
    assert window.answer.tally.vines > 50_000
    return window


def test_the_window_stays_awake_while_a_large_block_is_turned(large):
    """A heartbeat every 5 ms; the limit is wide, so that a busy machine does not fail it."""
    beats = []
    heart = QTimer(large)
    heart.setInterval(5)
    heart.timeout.connect(lambda: beats.append(time.monotonic()))
    heart.start()
    press_grip(large)
    shown = set()
    for bearing in range(10, 60):
        turn_to(large, float(bearing))
        end = time.monotonic() + 0.012
        pump_until(lambda t=end: time.monotonic() > t, "a moment has passed")
        shown.add(large.answer.plans[0].rules.bearing_deg)
    let_go(large)
    rest(large)
    heart.stop()
    heart.deleteLater()
    longest = max(np.diff(beats))
    print(f"longest wait for the GUI thread {1e3 * longest:.0f} ms")
    assert len(shown) > 5  # rows turned under the hand, not at the end
    assert longest < 1.0  # far above what is aimed at (0.1 s)
