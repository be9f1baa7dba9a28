"""The hand on the plan at the planting stage: vines are told and taken in hand, rows are selected."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, Qt

from ..session.vine_places import place_of_vine
from .gestures import BoxGesture
from .vine_tool import VineTool, ring_vine


class PlantingTool(VineTool):
    """Points at vines; a click, or Enter, takes one in hand. With Ctrl its row is selected too.

    Shift and a drag select rows in a box.
    """

    def __init__(self, window, work):
        super().__init__(window)
        self.work = work
        self.held = None

    @property
    def plans(self):
        answer = self.work.answer
        return answer.plans if answer is not None and self.work.holds else ()

    def told_of(self, vine):
        return self.work.told_of(vine)

    def press(self, at, modifiers):
        if modifiers & Qt.KeyboardModifier.ShiftModifier:
            return BoxGesture(self.window.canvas, at, self.window.selecting.take_area)
        return None

    def click(self, x, y, modifiers):
        self.hover(x, y)
        if modifiers & Qt.KeyboardModifier.ControlModifier and self.vine is not None:
            plan, vine = self.vine
            segment = int(self.plans[plan].vines.segment[vine])
            self.window.selecting.toggle((plan, segment))
            return
        self.take(self.vine)

    def take(self, vine):
        self.held = vine
        self.work.show_held()
        self.window.canvas.update()

    def let_go(self):
        held = self.held is not None or bool(self.window.selecting.selection)
        self.window.selecting.clear()
        self.take(None)
        return held

    def forget(self):
        super().forget()
        self.held = None

    def _has_held(self) -> bool:
        plans = self.plans
        if self.held is None or self.held[0] >= len(plans):
            return False
        return self.held[1] < plans[self.held[0]].n_vines

    def paint(self, painter, view, theme):
        if self._has_held():
            place = np.array(place_of_vine(self.plans, self.held))
            ring_vine(painter, QPointF(*view.to_pixels(place).tolist()), theme, 10.0)
        super().paint(painter, view, theme)
