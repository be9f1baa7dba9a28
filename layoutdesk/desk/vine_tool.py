"""A hand that points at vines, by pointer or keyboard, and is told of them."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPen

from ..session.vine_places import Vine, first_vine, next_vine, place_of_vine, vine_at
from .sketch import paint_figures
from .tools import Tool

_STEPS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, 1),
    Qt.Key.Key_Down: (0, -1),
}
_LEAST_REACH_PX = 10.0
_RING_PX = 8.0
_LINE_CHARS, _LEAST_CHARS, _CHAR_PX = 36, 16, 8.5
_MARGIN_PX = 14


class VineTool(Tool):
    """Points at vines; subclasses say what is told of one and what a click or Enter does with it.

    Shift and the arrow keys walk from vine to vine, along the row and over to the next one. Escape
    lets go.
    """

    def __init__(self, window):
        self.window = window
        self.vine: Vine | None = None
        self.by_key = False

    @property
    def plans(self):
        """Rows as they are on show; none while nothing can be told of them."""
        raise NotImplementedError

    def told_of(self, vine: Vine) -> str:
        """What is told of a vine."""
        raise NotImplementedError

    def take(self, vine: Vine | None) -> None:
        """A click or Enter on a vine, or a click beside all of them."""
        raise NotImplementedError

    def let_go(self) -> bool:
        """Put down what was taken; whether there was anything."""
        return False

    def point_at(self, vine: Vine | None, *, by_key: bool = False) -> None:
        """Tell of a vine, or of none."""
        self.by_key = by_key and vine is not None
        if vine != self.vine:
            self.vine = vine
            self.window.canvas.setAccessibleDescription(self.said())
            self.window.canvas.update()

    def said(self) -> str:
        """What is told of the vine pointed at."""
        if self.vine is None or not self.plans or self.vine[0] >= len(self.plans):
            return ""
        return self.told_of(self.vine)

    def hover(self, x, y):
        reach = max(_LEAST_REACH_PX / self.window.canvas.view.scale, 0.5)
        self.point_at(vine_at(self.plans, x, y, reach))

    def leave(self):
        if not self.by_key:
            self.point_at(None)

    def click(self, x, y, modifiers):
        self.hover(x, y)
        self.take(self.vine)

    def key(self, event):
        key, shift = event.key(), Qt.KeyboardModifier.ShiftModifier
        if key in _STEPS and event.modifiers() & shift and self.plans:
            along, rows = _STEPS[key]
            vine = self.vine and next_vine(self.plans, self.vine, along, rows)
            self.point_at(vine or first_vine(self.plans), by_key=True)
            if self.vine is not None:
                self.window.canvas.reveal(*place_of_vine(self.plans, self.vine))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.vine is not None:
            self.take(self.vine)
        elif key == Qt.Key.Key_Escape:
            pointed = self.vine is not None
            self.point_at(None)
            return self.let_go() or pointed
        else:
            return False
        return True

    def forget(self) -> None:
        self.vine, self.by_key = None, False

    def paint(self, painter, view, theme) -> None:
        text = self.said()
        if not text or self.window.canvas.tool is not None:
            return
        place = np.array(place_of_vine(self.plans, self.vine))
        at = QPointF(*view.to_pixels(place).tolist())
        if not QRectF(0, 0, view.width, view.height).contains(at):
            return
        ring_vine(painter, at, theme)
        left, _, right, bottom = self.window.canvas.margins
        free = view.width - right + _MARGIN_PX, view.height - bottom + _MARGIN_PX, left - _MARGIN_PX
        most = int((free[0] - free[2]) / _CHAR_PX)
        told = folded(text, min(max(most, _LEAST_CHARS), _LINE_CHARS))
        paint_figures(painter, at, told, theme, *free)


def ring_vine(painter, at: QPointF, theme, radius_px: float = _RING_PX) -> None:
    """A ring round what is pointed at or in hand."""
    painter.setBrush(Qt.BrushStyle.NoBrush)
    for colour, width in ((theme["block"], 4.2), (theme["accent"], 2.0)):
        painter.setPen(QPen(colour, width))
        painter.drawEllipse(at, radius_px, radius_px)


def folded(text: str, most: int = _LINE_CHARS) -> list[str]:
    """Words as several short lines: each part for itself, parted where its words are.

    Examples
    --------
    >>> folded("B1-R012A-V034: 1.98 L/h at 1.21 bar, 99 % of the mean of its block; set 3")
    ['B1-R012A-V034: 1.98 L/h at 1.21 bar,', '99 % of the mean of its block', 'set 3']
    """
    lines = []
    for part in text.split("; "):
        lines.append("")
        for word in part.split(" "):
            if lines[-1] and len(lines[-1]) + 1 + len(word) > most:
                lines.append("")
            lines[-1] += f" {word}" if lines[-1] else word
    return lines
