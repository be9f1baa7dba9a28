"""The hand on the plan at the water stage: a vine is pointed at, by pointer or keyboard, and told."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QPen

from ..session.edges import edge_at
from .painting import polygon_from
from .sketch import REACH_PX, SketchTool
from .vine_tool import VineTool
from .water_painting import paint_valves


class WaterTool(VineTool):
    """Points at vines; a click, or Enter, takes the set that waters one in hand."""

    def __init__(self, window, work):
        super().__init__(window)
        self.work = work

    @property
    def plans(self):
        answer = self.work.answer
        return answer.plans if answer is not None and self.work.holds else ()

    def told_of(self, vine):
        from ..session.water_lines import said_at

        return said_at(self.work.answer, *vine, self.window.unit)

    def take(self, vine):
        self.work.hold_set_of(vine)

    def let_go(self):
        held = self.work.held is not None
        if held:
            self.work.hold_set(None)
        return held

    def paint(self, painter, view, theme):
        self._paint_set(painter, view, theme)
        super().paint(painter, view, theme)

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
