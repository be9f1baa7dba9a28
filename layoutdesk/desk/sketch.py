"""Setting places on the plan one after another: clicked, snapped, or typed."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout

from ..core.model import InputProblem
from ..session.measuring import measured
from ..session.specification import shown_bearing, shown_length
from ..session.units import area_unit
from .cards import Card
from .look import SANS, typeface
from .tools import Tool

REACH_PX = 9.0
"""A place nearer than this to something is taken to be on it. [px]"""

_MOST_PLACES = {"point": 1, "box": 2, "pair": 2}


class Snapper:
    """Snaps places to what is on the plan; its targets are made once a project."""

    def __init__(self, window):
        self.window = window
        self.on = True
        self._made_for = None
        self._targets = None

    def _ready(self):
        from ..session.snapping import SnapTargets

        answer, project = self.window.answer, self.window.document.project
        plans = answer.plans if answer is not None and answer.settled else ()
        key = (project, answer if plans else None)
        if self._made_for is None or any(
            a is not b for a, b in zip(key, self._made_for, strict=True)
        ):
            self._targets = SnapTargets.of(project, plans)
            self._made_for = key
        return self._targets

    def targets(self, leave_out=None):
        """What can be snapped to, without one corner and its edges, or one shape."""
        ready = self._ready()
        return ready.without(*leave_out) if leave_out else ready

    def at(self, x: float, y: float, *, anchor=None, chain=(), targets=None):
        """The place under the hand, snapped; as it is while Alt is held or snapping is off."""
        from PySide6.QtGui import QGuiApplication

        from ..session.snapping import Snapped, snap

        held = QGuiApplication.keyboardModifiers() & Qt.KeyboardModifier.AltModifier
        if not self.on or held:
            return Snapped(x, y)
        reach = REACH_PX / self.window.canvas.view.scale
        step = float(self.window.settings.value("grid_step", 0.0) or 0.0)
        grid = self._grid(step) if step > 0 else None
        return snap(targets or self._ready(), x, y, reach, anchor=anchor, chain=chain, grid=grid)

    def _grid(self, step: float):
        from ..session.snapping import GridSteps
        from ..session.typed_places import survey_transforms

        return GridSteps(step, (0.0, 0.0), *survey_transforms(self.window.document.project))


class SketchTool(Tool):
    """Collects places for a point, a pair, a box, a line or an area, then gives them to `finish`.

    Enter, a double click or the last place once more ends a line or an area, Backspace takes a place
    back, Escape leaves.
    """

    cursor = Qt.CursorShape.CrossCursor
    points = True

    def __init__(self, window, what: str, shape: str, finish: Callable[[list], None] | None):
        self.window, self.what, self.shape, self.finish = window, what, shape, finish
        self.places: list[tuple[float, float]] = []
        self.snapped = None

    @property
    def pointer(self) -> tuple[float, float] | None:
        return (self.snapped.x_m, self.snapped.y_m) if self.snapped is not None else None

    def _snap(self, x: float, y: float):
        anchor = self.places[-1] if self.places else None
        return self.window.snapper.at(x, y, anchor=anchor, chain=tuple(self.places))

    def hover(self, x, y):
        self.snapped = self._snap(x, y)
        self.window.canvas.update()

    def leave(self):
        self.snapped = None
        self.window.canvas.update()

    def click(self, x, y, modifiers):
        snapped = self._snap(x, y)
        place = (snapped.x_m, snapped.y_m)
        if self.places and place == self.places[-1]:
            self.end()
        else:
            self.add(place)

    def add(self, place: tuple[float, float]) -> None:
        """One more place; ends where there are enough, or an area comes back to its first."""
        closes = self.shape == "area" and len(self.places) > 2 and place == self.places[0]
        if self.places and place == self.places[-1]:
            return
        if not closes:
            self.places.append(place)
        self.window.canvas.update()
        if closes or len(self.places) == _MOST_PLACES.get(self.shape, 0):
            self.end()

    def type(self, text: str) -> None:
        """A place as typed: a length and bearing from the last one, or survey coordinates."""
        from ..session.typed_places import survey_transforms, typed_place

        window = self.window
        place = typed_place(
            text,
            anchor=self.places[-1] if self.places else None,
            unit=window.unit,
            from_survey=survey_transforms(window.document.project)[1],
            true_from=window.rules.true_from,
            grid_unit=window.survey.people_unit,
        )
        self.add(place)
        window.canvas.reveal(*place)

    def double_click(self, x, y):
        self.end()

    def end(self) -> None:
        """Give the places away; too few of them, or a refusal, keep the sketch in hand."""
        least = {"line": 2, "area": 3, "pair": 2, "box": 2, "point": 1}[self.shape]
        if self.finish is None:
            return
        if len(self.places) < least:
            self.window.sketch_bar.refuse(f"At least {least} places are needed: set another one.")
            return
        places = list(self.places)
        try:
            self.finish(places)
        except InputProblem as problem:
            if self.shape in ("point", "pair", "box"):
                self.places = self.places[:-1]
            self.window.sketch_bar.refuse(str(problem))
            return
        if self.window.canvas.tool is self:
            self.window.take_tool(None)

    def key(self, event):
        key = event.key()
        if key == Qt.Key.Key_Escape:
            self.window.take_tool(None)
        elif key == Qt.Key.Key_Backspace:
            if self.places:
                self.places.pop()
                self.window.canvas.update()
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.window.canvas.cross is None:
            self.end()
        elif event.text().strip() and event.text().isprintable():
            self.window.sketch_bar.begin_typing(event.text())
        else:
            return False
        return True

    def lines(self) -> list[str]:
        """The figures as told beside the last place."""
        chain = self.places + ([self.pointer] if self.pointer and self.places else [])
        told, unit = [], self.window.unit
        if self.shape != "box":
            m = measured(chain)
            if m.leg_m is not None:
                told.append(shown_length(m.leg_m, unit))
                if m.bearing_deg is not None:
                    grid = self.window.survey.norths.grid(m.bearing_deg)
                    told.append(f"{shown_bearing(m.bearing_deg)} true, {shown_bearing(grid)} grid")
                if len(chain) > 2:
                    told.append(f"{shown_length(m.length_m, unit)} in all")
            if m.area_m2 is not None and (self.shape == "area" or self.finish is None):
                size, name = area_unit(unit)
                told.append(f"{m.area_m2 / size:.4f} {name} inside")
        if self.snapped is not None and self.snapped.words:
            told.append(self.snapped.words)
        return told

    def paint(self, painter: QPainter, view, theme) -> None:
        chain = self.places + ([self.pointer] if self.pointer else [])
        if not chain:
            return
        if self.snapped is not None and self.snapped.guide:
            ends = [QPointF(*view.to_pixels(np.array(p)).tolist()) for p in self.snapped.guide]
            painter.setPen(QPen(theme["accent"], 1.0, Qt.PenStyle.DashLine))
            painter.drawLine(*ends)
        px = [QPointF(*view.to_pixels(np.array(p)).tolist()) for p in chain]
        for width, colour in ((4.5, theme["block"]), (2.0, theme["accent"])):
            painter.setPen(QPen(colour, width))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            if self.shape == "box" and len(px) == 2:
                painter.drawRect(QRectF(px[0], px[1]))
            elif self.shape == "area" and len(px) > 2:
                painter.drawPolygon(px)
            else:
                painter.drawPolyline(px)
        painter.setBrush(theme["accent"])
        painter.setPen(QPen(theme["block"], 1.5))
        for point in px:
            painter.drawEllipse(point, 4.5, 4.5)
        told = self.lines()
        if told:
            bar = self.window.sketch_bar
            low = bar.y() - 6 if bar.isVisible() else view.height
            right = view.width - self.window.canvas.margins[2] + 18
            paint_figures(painter, px[-1], told, theme, right, low)


def paint_figures(
    painter, at: QPointF, told: list[str], theme, right: float, low: float, left: float = 0.0
) -> None:
    """Lines of text in a small box beside a place, between `left` and `right`, above `low`. [px]"""
    font = typeface(SANS, 13, strong=True)
    metrics = QFontMetrics(font)
    width = max(metrics.horizontalAdvance(t) for t in told) + 22
    height = len(told) * (metrics.height() + 2) + 14
    x = at.x() + 16 if at.x() + 16 + width < right else at.x() - 16 - width
    x = max(x, min(left, right - width))
    y = min(max(at.y() + 14, 4), low - height - 4)
    painter.setPen(QPen(theme["hairline"], 1))
    painter.setBrush(theme["panel"])
    painter.drawRoundedRect(QRectF(x, y, width, height), 8, 8)
    painter.setFont(font)
    painter.setPen(theme["ink"])
    for i, text in enumerate(told):
        base = y + 8 + metrics.ascent() + i * (metrics.height() + 2)
        painter.drawText(QPointF(x + 11, base), text)


class SketchBar(Card):
    """Says what the places in hand are for; one can be typed into it."""

    typed = Signal(str)
    done = Signal()
    left = Signal()

    def __init__(self, parent=None):
        super().__init__(parent)
        self.setAccessibleName("Places on the plan")
        column = QVBoxLayout(self)
        column.setContentsMargins(16, 10, 12, 10)
        column.setSpacing(6)
        line = QHBoxLayout()
        line.setSpacing(10)
        self.words = QLabel()
        self.words.setObjectName("heading")
        self.field = QLineEdit()
        self.field.setPlaceholderText("25.4 018.5, or E … N …")
        self.field.setAccessibleName("A place: length and bearing, or survey coordinates")
        self.field.setMinimumWidth(270)
        self.field.returnPressed.connect(self._entered)
        self.end_button, leave = QPushButton("Done"), QPushButton("Leave")
        self.end_button.setObjectName("primary")
        self.end_button.clicked.connect(self.done)
        leave.clicked.connect(self.left)
        for widget in (self.words, self.field, self.end_button, leave):
            line.addWidget(widget)
        column.addLayout(line)
        self.refusal = QLabel()
        self.refusal.setObjectName("notice")
        self.refusal.setWordWrap(True)
        self.refusal.hide()
        column.addWidget(self.refusal)
        self.hide()

    def show_tool(self, tool: SketchTool) -> None:
        """Show what a tool wants."""
        self.words.setText(tool.what)
        self.end_button.setVisible(tool.shape in ("line", "area") and tool.finish is not None)
        self.field.clear()
        self.refuse("")
        self.show()
        self.raise_()

    def refuse(self, sentence: str) -> None:
        """Say why something was not taken; an empty sentence takes it back."""
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))
        self.adjustSize()

    def begin_typing(self, text: str) -> None:
        self.field.setFocus()
        self.field.setText(text)
        self.field.deselect()
        self.field.setCursorPosition(len(text))

    def _entered(self) -> None:
        if not self.field.text().strip():
            self.done.emit()
            return
        self.typed.emit(self.field.text())

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            super().keyPressEvent(event)
