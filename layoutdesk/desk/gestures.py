"""What a hand does on the plan: one object from press to release."""

from __future__ import annotations

import math
from typing import Protocol

import numpy as np
from PySide6.QtCore import QPointF, Qt


class Gesture(Protocol):
    """From a press to its release."""

    moved: bool

    def move(self, at: QPointF, modifiers) -> None: ...

    def end(self) -> None: ...


class PanGesture:
    """The plan follows the hand."""

    _SLACK_PX = 4.0

    def __init__(self, canvas, at: QPointF):
        self.canvas, self._from, self._view, self.moved = canvas, at, canvas.view, False

    def move(self, at: QPointF, modifiers) -> None:
        away = at - self._from
        if not self.moved and abs(away.x()) + abs(away.y()) < self._SLACK_PX:
            return
        self.moved = True
        self.canvas.setCursor(Qt.CursorShape.ClosedHandCursor)
        self.canvas.look_at(self._view.panned(away.x(), away.y()))

    def end(self) -> None:
        if self.canvas.tool is None:
            self.canvas.unsetCursor()
        else:
            self.canvas.setCursor(Qt.CursorShape.CrossCursor)


class BearingGesture:
    """The rows turn under the hand: to 0.1°, with Shift to 5°, with Ctrl to 0.01°."""

    def __init__(self, canvas):
        self.canvas, self._before, self.moved = canvas, canvas.handle[2], False

    def move(self, at: QPointF, modifiers) -> None:
        x, y, _ = self.canvas.handle
        px, py = self.canvas.view.to_pixels(np.array([x, y])).tolist()
        if math.hypot(at.x() - px, at.y() - py) < 6:
            return
        bearing = math.degrees(math.atan2(at.x() - px, py - at.y()))
        step = 0.1
        if modifiers & Qt.KeyboardModifier.ShiftModifier:
            step = 5.0
        elif modifiers & Qt.KeyboardModifier.ControlModifier:
            step = 0.01
        self.moved = True
        self.canvas.bearing_turned.emit(round(round(bearing / step) * step, 2) % 360)

    def end(self) -> None:
        if self.moved:
            self.canvas.bearing_settled.emit()

    def cancel(self) -> None:
        """Put the bearing back to what it was."""
        self.canvas.bearing_turned.emit(self._before)
        self.canvas.bearing_settled.emit()
