"""What holds for every control: a name that can be read aloud, and a shortcut of its own."""

from __future__ import annotations

from collections import Counter

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QAbstractButton, QScrollArea, QWidget

from .hands import rest


def controls(window):
    """Everything that can have the keyboard and is to be seen."""
    return [
        w
        for w in window.findChildren(QWidget)
        if w.isVisible()
        and w.focusPolicy() != Qt.FocusPolicy.NoFocus
        and not isinstance(w, QScrollArea)
    ]


@pytest.mark.parametrize("stage", ["ground", "rows", "compare", "handoff"])
def test_every_control_of_a_stage_has_a_name(two_blocks, stage):
    window = two_blocks
    window.show_stage(stage)
    if stage == "ground":
        window.ground.tool.step(1)
    if stage == "rows":
        window.selecting.take_places([(0, 3)])
    rest(window)
    bare = [
        f"{type(w).__name__} {w.objectName()}"
        for w in controls(window)
        if not (w.accessibleName() or (isinstance(w, QAbstractButton) and w.text()))
    ]
    assert bare == []


def test_no_two_actions_share_a_shortcut(window):
    keys = Counter(
        s.toString() for a in window.actions_by_id.values() for s in a.shortcuts() if s.toString()
    )
    assert [k for k, n in keys.items() if n > 1] == []
    assert len(keys) > 25


def test_a_tooltip_tells_the_shortcut(window):
    for action in window.actions_by_id.values():
        keys = action.shortcut().toString(QKeySequence.SequenceFormat.NativeText)
        if keys and action.objectName() not in ("undo", "redo"):
            assert keys in action.toolTip(), action.objectName()


def test_panels_that_are_hidden_stay_hidden_and_a_reset_brings_all_back(desk):
    desk.actions_by_id["panel-strip"].trigger()
    assert not desk.strip.isVisible()
    assert desk.settings.value("panels/strip") == "false"
    low = desk.canvas.margins[3]
    desk.actions_by_id["reset-window"].trigger()
    assert desk.strip.isVisible()
    assert desk.canvas.margins[3] > low
    rest(desk)


def test_the_cursor_is_told_in_the_system_that_was_chosen(desk):
    x, y = desk.document.project.blocks[0].outline.centroid.coords[0]
    desk._show_cursor(x, y)
    assert desk.cursor_label.text().startswith("E ")
    desk.actions_by_id["cursor-wgs84"].trigger()
    desk._show_cursor(x, y)
    latitude = float(desk.cursor_label.text().split("°")[0])
    assert latitude == pytest.approx(desk.document.project.site.frame.latitude_deg, abs=0.01)


def test_a_size_that_would_not_fit_the_screen_is_refused(desk):
    desk.actions_by_id["size-300"].trigger()
    room = desk.screen().availableGeometry()
    fits = room.width() >= 3 * desk.minimumWidth() and room.height() >= 3 * desk.minimumHeight()
    assert (desk.settings.value("size") == "300") == fits
