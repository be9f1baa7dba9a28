"""The hand on the plan at the hand-off stage: rows are selected, and what a list tells of is ringed."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPen

from .gestures import BoxGesture
from .tools import Tool
from .vine_tool import ring_vine

_REACH_PX = 12.0


class HandOffTool(Tool):
    """Rings the places in hand; a click takes the line of the point that is there in hand.

    Shift and a drag select rows in a box.
    """

    def __init__(self, window, work):
        self.window, self.work = window, work
        self.places: tuple[tuple[float, float], ...] = ()

    def ring(self, places: tuple[tuple[float, float], ...]) -> None:
        """Ring a place, both ends of a line with the line, or none. [m]"""
        if places != self.places:
            self.places = places
            self.window.canvas.update()

    def press(self, at, modifiers):
        if modifiers & Qt.KeyboardModifier.ShiftModifier:
            return BoxGesture(self.window.canvas, at, self.window.selecting.take_area)
        return None

    def click(self, x, y, modifiers):
        self.work.hold_at(x, y, _REACH_PX / self.window.canvas.view.scale)

    def key(self, event):
        if event.key() != Qt.Key.Key_Escape:
            return False
        held = bool(self.places) or bool(self.window.selecting.selection)
        self.window.selecting.clear()
        self.work.let_go()
        return held

    def paint(self, painter, view, theme):
        at = [QPointF(*view.to_pixels(np.array(place)).tolist()) for place in self.places]
        if len(at) == 2:
            for colour, width in ((theme["block"], 4.2), (theme["accent"], 2.0)):
                painter.setPen(QPen(colour, width))
                painter.drawLine(*at)
        for place in at:
            ring_vine(painter, place, theme, 11.0)
