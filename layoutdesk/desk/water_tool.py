"""The hand on the plan at the water stage: a vine is pointed at, by pointer or keyboard, and told."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPen

from ..session.edges import edge_at
from ..session.water_places import Vine, first_vine, next_vine, place_of_vine, vine_at
from .painting import polygon_from
from .sketch import REACH_PX, SketchTool, paint_figures
from .tools import Tool
from .water_painting import paint_valves

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


class WaterTool(Tool):
    """Points at vines; a click, or Enter, takes the set that waters one in hand.

    Shift and the arrow keys walk from vine to vine, along the row and over to the next one. Escape
    lets go.
    """

    def __init__(self, window, work):
        self.window, self.work = window, work
        self.vine: Vine | None = None
        self.by_key = False

    @property
    def plans(self):
        answer = self.work.answer
        return answer.plans if answer is not None and self.work.holds else ()

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
        from ..session.water_lines import said_at

        return said_at(self.work.answer, *self.vine, self.window.unit)

    def hover(self, x, y):
        reach = max(_LEAST_REACH_PX / self.window.canvas.view.scale, 0.5)
        self.point_at(vine_at(self.plans, x, y, reach))

    def leave(self):
        if not self.by_key:
            self.point_at(None)

    def click(self, x, y, modifiers):
        self.hover(x, y)
        self.work.hold_set_of(self.vine)

    def key(self, event):
        key, shift = event.key(), Qt.KeyboardModifier.ShiftModifier
        if key in _STEPS and event.modifiers() & shift and self.plans:
            along, rows = _STEPS[key]
            vine = self.vine and next_vine(self.plans, self.vine, along, rows)
            self.point_at(vine or first_vine(self.plans), by_key=True)
            if self.vine is not None:
                self.window.canvas.reveal(*place_of_vine(self.plans, self.vine))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.vine is not None:
            self.work.hold_set_of(self.vine)
        elif key == Qt.Key.Key_Escape and (self.vine is not None or self.work.held is not None):
            self.point_at(None)
            self.work.hold_set(None)
        else:
            return False
        return True

    def forget(self) -> None:
        self.vine, self.by_key = None, False

    def paint(self, painter, view, theme) -> None:
        self._paint_set(painter, view, theme)
        text = self.said()
        if not text or self.window.canvas.tool is not None:
            return
        place = np.array(place_of_vine(self.plans, self.vine))
        at = QPointF(*view.to_pixels(place).tolist())
        if not QRectF(0, 0, view.width, view.height).contains(at):
            return
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((theme["block"], 4.2), (theme["accent"], 2.0)):
            painter.setPen(QPen(colour, width))
            painter.drawEllipse(at, _RING_PX, _RING_PX)
        left, _, right, bottom = self.window.canvas.margins
        free = view.width - right + _MARGIN_PX, view.height - bottom + _MARGIN_PX, left - _MARGIN_PX
        most = int((free[0] - free[2]) / _CHAR_PX)
        told = folded(text, min(max(most, _LEAST_CHARS), _LINE_CHARS))
        paint_figures(painter, at, told, theme, *free)

    def _paint_set(self, painter, view, theme) -> None:
        """A line round the rows of the set in hand: their vines keep their colours."""
        painter.setBrush(Qt.BrushStyle.NoBrush)
        rings = [polygon_from(view.to_pixels(ring)) for ring in self.work.rings_of_held()]
        for colour, width in ((theme["block"], 5.0), (theme["accent"], 2.4)):
            pen = QPen(colour, width)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.setPen(pen)
            for ring in rings:
                painter.drawPolygon(ring)
        if rings and self.window.canvas.water is not None:  # their numbers stay readable
            canvas = self.window.canvas
            paint_valves(painter, view, canvas.water, theme, [], canvas.free_room())


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


class EdgeTool(SketchTool):
    """Has an edge of an outline picked: clicked, or by the keyboard's pointer and Enter."""

    def __init__(self, window, what: str, finish):
        super().__init__(window, what, "point", lambda places: finish(self._edge_at(*places[0])))

    def _edge_at(self, x, y):
        reach = 3 * REACH_PX / self.window.canvas.view.scale
        return edge_at(self.window.document.project, x, y, reach)

    def hover(self, x, y):
        super().hover(x, y)
        edge = self._edge_at(*self.pointer)
        self.window.canvas.mark_edge(edge.ends_m if edge is not None else None)

    def leave(self):
        super().leave()
        self.window.canvas.mark_edge(None)
