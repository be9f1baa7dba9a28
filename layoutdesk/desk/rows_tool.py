"""The tool in hand on the rows stage: picking, selecting, pulling clear strips, moving alleys."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, Qt
from PySide6.QtGui import QPen

from ..session.edges import edge_at, with_edge_width
from ..session.row_edits import with_alley_at, without_alley
from ..session.special_rows import pick
from .gestures import BoxGesture, EditGesture
from .tools import Tool

_REACH_PX = 7.0
_GRIP_PX = 8.0
_MARKS_PX = 7.0
"""Single vines and posts can be picked from so many pixels between vines. [px]"""


class RowsTool(Tool):
    """Click an edge, a row, a post or a vine; Shift and a drag select rows in a box."""

    def __init__(self, window):
        self.window = window
        self.alley: tuple[str, int] | None = None

    # grips

    def _strip_grip(self) -> QPointF | None:
        """Where the clear strip of the edge in hand can be pulled."""
        view = self.window.edges.view
        if view is None:
            return None
        a, b = np.array(view.ends_m)
        step = (b - a) / max(np.hypot(*(b - a)), 1e-9)
        inward = np.array([-step[1], step[0]])
        place = (a + b) / 2 + inward * view.width_m
        return QPointF(*self.window.canvas.view.to_pixels(place).tolist())

    def _alleys(self):
        for block in self.window.document.project.blocks:
            for i, alley in enumerate(block.rules.alleys):
                at = self.window.canvas.view.to_pixels(np.array([alley.x_m, alley.y_m]))
                yield (block.name, i), QPointF(*at.tolist())

    def _alley_at(self, at: QPointF):
        for which, place in self._alleys():
            away = at - place
            if np.hypot(away.x(), away.y()) <= _GRIP_PX + 3:
                return which
        return None

    def _on_strip_grip(self, at: QPointF) -> bool:
        grip = self._strip_grip()
        return grip is not None and np.hypot((at - grip).x(), (at - grip).y()) <= _GRIP_PX + 3

    # what the hand does

    def press(self, at, modifiers):
        window = self.window
        if modifiers & Qt.KeyboardModifier.ShiftModifier:
            return BoxGesture(window.canvas, at, window.selecting.take_area)
        if self._on_strip_grip(at):
            edge = window.edges.view
            a, b = np.array(edge.ends_m)
            step = (b - a) / np.hypot(*(b - a))

            def pulled(x, y):
                off = np.array([x, y]) - a
                width = float(np.clip(step[0] * off[1] - step[1] * off[0], 0.0, 200.0))
                width = round(width / 0.05) * 0.05
                return lambda p: with_edge_width(p, edge, round(width, 4))

            return EditGesture(window, at, "width of an edge", pulled)
        which = self._alley_at(at)
        if which is not None:
            self.alley = which
            window.rows.hold(None)
            return EditGesture(
                window, at, "alley", lambda x, y: lambda p: with_alley_at(p, *which, x, y)
            )
        return None

    def click(self, x, y, modifiers):
        window = self.window
        self.alley = self._alley_at(
            QPointF(*window.canvas.view.to_pixels(np.array([x, y])).tolist())
        )
        reach = _REACH_PX / window.canvas.view.scale
        found = self._picked(x, y, reach)
        on_mark = found is not None and found.kind not in ("row", "left_out")
        if on_mark:  # the edge that was hit wins over a mark that is only near
            reach = min(reach, 0.6 * float(np.hypot(found.place_m[0] - x, found.place_m[1] - y)))
        edge = edge_at(window.document.project, x, y, reach)
        if edge is not None and not modifiers:
            window.rows.hold(None)
            window.edges.hold(edge)
            return
        window.edges.let_go()
        if found is not None and len(window.rules.block_names()) == 1:
            window.rules.choose_block(found.block)  # all blocks stay in scope where they were
        adding = modifiers & (Qt.KeyboardModifier.ControlModifier)
        window.rows.hold(found, adding=bool(adding))

    def _picked(self, x: float, y: float, reach: float):
        answer, scale = self.window.answer, self.window.canvas.view.scale
        best = None
        for plan in answer.plans if answer else ():
            marks = plan.rules.vine_spacing_m * scale >= _MARKS_PX
            found = pick(plan, x, y, reach, marks)
            if found is not None and (best is None or best.kind == "row"):
                best = found
        return best

    def hover(self, x, y):
        at = QPointF(*self.window.canvas.view.to_pixels(np.array([x, y])).tolist())
        if self._on_strip_grip(at) or self._alley_at(at) is not None:
            self.window.canvas.setCursor(Qt.CursorShape.SizeAllCursor)

    def key(self, event):
        key = event.key()
        if key == Qt.Key.Key_Delete and self.alley is not None:
            which, self.alley = self.alley, None
            self.window.document.edit("alley taken away", lambda p: without_alley(p, *which))
        elif key == Qt.Key.Key_Delete:
            self.window.rows.leave_out()
        elif key == Qt.Key.Key_Escape:
            self.alley = None
            self.window.edges.let_go()
            self.window.rows.hold(None)
            self.window.selecting.clear()
        else:
            return False
        return True

    def paint(self, painter, view, theme):
        grip = self._strip_grip()
        for which, at in self._alleys():
            picked = which == self.alley
            painter.setPen(QPen(theme["block"] if picked else theme["accent"], 2.0))
            painter.setBrush(theme["accent"] if picked else theme["block"])
            painter.drawEllipse(at, _GRIP_PX, _GRIP_PX)
        painter.setPen(QPen(theme["block"], 2.0))
        painter.setBrush(theme["accent"])
        if grip is not None:
            painter.drawEllipse(grip, _GRIP_PX, _GRIP_PX)
        picked = self.window.rows.picked
        if picked is not None and picked.kind != "row":
            at = QPointF(*view.to_pixels(np.array(picked.place_m)).tolist())
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(theme["accent"], 2.4))
            painter.drawEllipse(at, 9.0, 9.0)
