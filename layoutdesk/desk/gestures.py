"""What a hand does on the plan: one object from press to release."""

from __future__ import annotations

import math
from typing import Protocol

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPen

from ..core.model import InputProblem


class Gesture(Protocol):
    """From a press to its release."""

    moved: bool

    def move(self, at: QPointF, modifiers) -> None: ...

    def end(self) -> None: ...

    def cancel(self) -> None: ...


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
            self.canvas.setCursor(self.canvas.tool.cursor)

    def cancel(self) -> None:
        self.canvas.look_at(self._view)
        self.end()


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


class EditGesture:
    """Something is dragged over the plan: each place is an edit, all of them one step of the history.

    `change(x, y)` gives the edit for a place in the site frame, or None to pass it over; `refuse`
    looks at the end whether what came of it can stay, and raises InputProblem where not.
    """

    _SLACK_PX = 3.0

    def __init__(self, window, at: QPointF, label: str, change, refuse=None):
        self.window, self._from, self._label = window, at, label
        self._change, self._refuse, self.moved = change, refuse, False
        self._merge = f"drag {label}"
        window.document.settle()

    def move(self, at: QPointF, modifiers) -> None:
        away = at - self._from
        if not self.moved and abs(away.x()) + abs(away.y()) < self._SLACK_PX:
            return
        self.moved = True
        edit = self._change(*self.window.canvas.view.to_site(at.x(), at.y()))
        if edit is not None:
            self.window.document.edit(self._label, edit, self._merge)
        self.window.canvas.update()

    def end(self) -> None:
        if not self.moved:
            return
        try:
            if self._refuse is not None:
                self._refuse(self.window.document.project)
        except InputProblem as problem:
            self.window.document.withdraw(self._merge, for_good=True)
            self.window.filing.complain(problem)
        self.window.rules.settle()

    def cancel(self) -> None:
        """Put it back to where it was."""
        self.window.document.withdraw(self._merge, for_good=True)
        self.window.rules.settle()


class BoxGesture:
    """A box is pulled over the plan; `finish` has its two corners in the site frame."""

    _SLACK_PX = 4.0

    def __init__(self, canvas, at: QPointF, finish):
        self.canvas, self._from, self._to, self.moved = canvas, at, at, False
        self._finish = finish

    def move(self, at: QPointF, modifiers) -> None:
        away = at - self._from
        self.moved = self.moved or abs(away.x()) + abs(away.y()) >= self._SLACK_PX
        self._to = at
        self.canvas.update()

    def paint(self, painter, theme) -> None:
        painter.setPen(QPen(theme["accent"], 1.2, Qt.PenStyle.DashLine))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(self._from, self._to))

    def end(self) -> None:
        if self.moved:
            view = self.canvas.view
            self._finish([view.to_site(p.x(), p.y()) for p in (self._from, self._to)])

    def cancel(self) -> None:
        self.canvas.update()
