"""Measuring on the plan: places clicked one after another, their figures beside the last."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPen

from ..session.measuring import measured, snapped
from ..session.specification import shown_bearing, shown_length
from ..session.units import unit_length_m
from .look import SANS, typeface

_REACH_PX = 9.0


class MeasureTool:
    """While it is on, clicks set places; the next one follows the pointer. Escape ends it."""

    def __init__(self, window):
        self.window = window
        self.on = False
        self.places: list[tuple[float, float]] = []
        self.pointer: tuple[float, float] | None = None

    def begin(self) -> None:
        """Start anew; a second call ends it."""
        if self.on:
            self.end()
            return
        self.on, self.places, self.pointer = self.window.document is not None, [], None
        if self.on:
            self.window.canvas.setFocus()
            self.window.filing.say(
                "Click from place to place; Backspace takes one back, Escape ends."
            )
        self._show()

    def end(self) -> None:
        self.on, self.places, self.pointer = False, [], None
        self._show()

    def _show(self) -> None:
        self.window.canvas.tool = self if self.on else None
        self.window.canvas.setCursor(
            Qt.CursorShape.CrossCursor if self.on else Qt.CursorShape.ArrowCursor
        )
        self.window.canvas.update()

    def _snapped(self, x: float, y: float) -> tuple[float, float]:
        answer = self.window.answer
        plans = answer.plans if answer else ()
        reach = _REACH_PX / self.window.canvas.view.scale
        return snapped(self.window.document.project, plans, x, y, reach)

    # what the canvas tells

    def click(self, x: float, y: float) -> None:
        self.places.append(self._snapped(x, y))
        self.window.canvas.update()

    def hover(self, x: float, y: float) -> None:
        self.pointer = self._snapped(x, y)
        self.window.canvas.update()

    def key(self, key) -> bool:
        """Whether the key was the tool's."""
        if key == Qt.Key.Key_Escape:
            self.end()
        elif key == Qt.Key.Key_Backspace and self.places:
            self.places.pop()
            self.window.canvas.update()
        else:
            return False
        return True

    def lines(self) -> list[str]:
        """The figures as told beside the last place."""
        chain = self.places + ([self.pointer] if self.pointer and self.places else [])
        m, unit = measured(chain), self.window.unit
        if m.leg_m is None:
            return []
        told = [shown_length(m.leg_m, unit)]
        if m.bearing_deg is not None:
            grid = self.window.survey.norths.grid(m.bearing_deg)
            told.append(f"{shown_bearing(m.bearing_deg)} true, {shown_bearing(grid)} grid")
        if len(chain) > 2:
            told.append(f"{shown_length(m.length_m, unit)} in all")
        if m.area_m2 is not None:
            size, name = (
                (10_000.0, "ha") if unit == "m" else (43_560 * unit_length_m(unit) ** 2, "ac")
            )
            told.append(f"{m.area_m2 / size:.4f} {name} inside")
        return told

    def paint(self, painter: QPainter, view, theme) -> None:
        chain = self.places + ([self.pointer] if self.pointer else [])
        if not chain:
            return
        px = [QPointF(*view.to_pixels(np.array(p)).tolist()) for p in chain]
        for width, colour in ((4.5, theme["block"]), (2.0, theme["accent"])):
            painter.setPen(QPen(colour, width))
            painter.drawPolyline(px)
        painter.setBrush(theme["accent"])
        painter.setPen(QPen(theme["block"], 1.5))
        for point in px:
            painter.drawEllipse(point, 4.5, 4.5)
        told = self.lines()
        if told:
            self._paint_figures(painter, px[-1], told, view, theme)

    def _paint_figures(self, painter, at: QPointF, told: list[str], view, theme) -> None:
        font = typeface(SANS, 13, strong=True)
        metrics = QFontMetrics(font)
        width = max(metrics.horizontalAdvance(t) for t in told) + 22
        height = len(told) * (metrics.height() + 2) + 14
        x = at.x() + 16 if at.x() + 16 + width < view.width else at.x() - 16 - width
        y = min(max(at.y() + 14, 4), view.height - height - 4)
        painter.setPen(QPen(theme["hairline"], 1))
        painter.setBrush(theme["panel"])
        painter.drawRoundedRect(QRectF(x, y, width, height), 8, 8)
        painter.setFont(font)
        painter.setPen(theme["ink"])
        for i, text in enumerate(told):
            base = y + 8 + metrics.ascent() + i * (metrics.height() + 2)
            painter.drawText(QPointF(x + 11, base), text)
