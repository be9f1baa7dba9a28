"""What a person does at the window, and waiting until the window has followed."""

from __future__ import annotations

import math
import time
from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QCoreApplication, QEvent, QEventLoop, QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from layoutdesk.desk.canvas import HANDLE_PX
from layoutdesk.desk.telling import NoticeCard
from layoutdesk.session.samples import samples

LEFT, MIDDLE = Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton
PLAIN, SHIFT, CTRL = (
    Qt.KeyboardModifier.NoModifier,
    Qt.KeyboardModifier.ShiftModifier,
    Qt.KeyboardModifier.ControlModifier,
)


def pump_until(true: Callable[[], bool], what: str, timeout_s: float = 30.0) -> None:
    """Run the event loop until something is so; raises AssertionError that names it otherwise."""
    end = time.monotonic() + timeout_s
    while not true():
        assert time.monotonic() < end, f"waited {timeout_s:g} s in vain until {what}"
        QCoreApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 20)
        time.sleep(0.001)


def at_rest(window) -> bool:
    """Whether the window shows the settled layout of its document and nothing is in hand."""
    answer, document = window.answer, window.document
    if window.filing.task is not None or window._settle_timer.isActive():
        return False
    comparing = getattr(window, "stage", "") == "compare" and document is not None
    if comparing and window.comparing.counting.is_going_on:
        return False
    handing = getattr(window, "stage", "") == "handoff" and document is not None
    if handing and window.handing_off.is_going_on:
        return False
    return document is None or (
        answer is not None and answer.settled and answer.project == document.project
    )


def rest(window) -> None:
    """Wait until the window is at rest and its plan is painted finely."""
    pump_until(lambda: at_rest(window), "the window shows the settled layout")
    QCoreApplication.processEvents()
    pump_until(lambda: not window.canvas._rest.isActive(), "the plan is painted finely")
    QCoreApplication.processEvents()


def filed(window) -> None:
    """Wait until the opening, saving or export in hand has ended."""
    pump_until(lambda: window.filing.task is None, "the work with files has ended")


def follow(window) -> None:
    """Wait until the figures are those of the document, settled or not."""
    pump_until(
        lambda: window.answer is not None and window.answer.project == window.document.project,
        "the figures follow the document",
    )


def sample_named(name: str):
    return next(s for s in samples() if s.name == name)


def open_sample_named(window, name: str) -> None:
    """Open a sample site and wait until all of it is shown."""
    window.filing.open_sample(sample_named(name))
    filed(window)
    rest(window)


def field(window, rule: str):
    """The value of a rule in the paragraph, with the keyboard on it."""
    value = window.paragraph.fields[rule]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    pump_until(value.hasFocus, f"{rule} has the keyboard", 5)
    return value


def type_into(window, rule: str, text: str, end=Qt.Key.Key_Tab) -> None:
    """Type over a value of the paragraph and leave it by a key."""
    value = field(window, rule)
    QTest.keyClicks(value, text)
    QTest.keyClick(value, end)


def pixel_of(window, x_m: float, y_m: float) -> QPoint:
    """The canvas pixel of a place in the site frame."""
    x, y = window.canvas.view.to_pixels(np.array([x_m, y_m])).tolist()
    return QPoint(round(x), round(y))


def on_ring(window, bearing_deg: float) -> QPoint:
    """The canvas pixel of a bearing on the bearing ring."""
    x, y, _ = window.canvas.handle
    px, py = window.canvas.view.to_pixels(np.array([x, y])).tolist()
    a = math.radians(bearing_deg)
    return QPoint(round(px + HANDLE_PX * math.sin(a)), round(py - HANDLE_PX * math.cos(a)))


def press_grip(window) -> None:
    """Press the left button on the grip of the bearing ring."""
    QTest.mousePress(window.canvas, LEFT, PLAIN, on_ring(window, window.canvas.handle[2]))


def move_hand(window, at: QPoint, button=LEFT, modifiers=PLAIN) -> None:
    """Move the pointer over the plan with a button held (QTest's own moves hold none)."""
    from PySide6.QtGui import QMouseEvent

    canvas = window.canvas
    event = QMouseEvent(
        QEvent.Type.MouseMove,
        QPointF(at),
        QPointF(canvas.mapToGlobal(at)),
        Qt.MouseButton.NoButton,
        button,
        modifiers,
    )
    QApplication.sendEvent(canvas, event)


def turn_to(window, bearing_deg: float, modifiers=PLAIN) -> None:
    """Move the held grip round the ring to a bearing."""
    move_hand(window, on_ring(window, bearing_deg), LEFT, modifiers)


def let_go(window, at: QPoint | None = None, button=LEFT) -> None:
    at = at if at is not None else on_ring(window, window.canvas.handle[2])
    QTest.mouseRelease(window.canvas, button, PLAIN, at)


def wheel(widget, at: QPoint, notches: int) -> None:
    """Turn the wheel over a widget; up is positive."""
    event = QWheelEvent(
        QPointF(at),
        QPointF(widget.mapToGlobal(at)),
        QPoint(0, 0),
        QPoint(0, 120 * notches),
        Qt.MouseButton.NoButton,
        PLAIN,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(widget, event)


def notices(window) -> list[str]:
    """Texts of the notices that are open; closes them."""
    boxes = [b for b in window.findChildren(NoticeCard) if b.isVisible()]
    texts = [b.text() for b in boxes]
    for box in boxes:
        box.close()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    return texts


def bury(widget) -> None:
    """Close a window and have Qt delete it now."""
    widget.close()
    widget.deleteLater()
    QApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    QApplication.processEvents()
