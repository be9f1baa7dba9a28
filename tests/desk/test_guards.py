"""The guards find what they are to find, and the window in tests is not the user's own."""

from __future__ import annotations

import threading

import pytest
from PySide6.QtCore import QTimer, qWarning
from PySide6.QtWidgets import QWidget

from tests.desk.hands import bury


def test_a_thread_left_running_is_named(leftovers):
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait, name="layoutdesk sample work", daemon=True)
    thread.start()
    assert "thread 'layoutdesk sample work'" in leftovers()
    stop.set()
    thread.join()
    assert leftovers() == []


def test_a_running_timer_is_named_with_its_owner(leftovers):
    timer = QTimer()
    timer.start(12_345)
    assert leftovers() == ["timer of 12345 ms that belongs to nobody"]
    timer.stop()
    assert leftovers() == []


def test_a_window_left_open_is_named(leftovers):
    widget = QWidget()
    widget.setObjectName("forgotten")
    assert leftovers() == ["top-level QWidget (forgotten)"]
    bury(widget)
    assert leftovers() == []


def test_a_closed_window_leaves_nothing(desk, leftovers, asked):
    running = [w for w in leftovers() if w.startswith("thread")]
    assert running == ["thread 'layoutdesk layout'"]
    bury(desk)
    assert leftovers() == []
    assert asked.questions == []  # nothing was edited


def test_a_qt_warning_fails_a_test(request, qtlog):
    marker = request.node.get_closest_marker("qt_log_level_fail")
    assert marker is not None
    assert marker.args == ("WARNING",)
    assert qtlog.records == []


@pytest.mark.qt_log_level_fail("CRITICAL")
def test_a_qt_warning_is_seen(qtlog):
    qWarning("a warning on purpose")
    assert [(r.type_name, r.message) for r in qtlog.records] == [
        ("QtWarningMsg", "a warning on purpose")
    ]


def test_settings_are_of_the_test_alone(desk, tmp_path):
    desk.preferences.choose_theme("lamp")
    desk.settings.sync()
    assert "theme=lamp" in (tmp_path / "settings.ini").read_text(encoding="utf-8")
