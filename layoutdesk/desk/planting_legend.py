"""What the marks of vines mean on the planting stage, and the choice of what they are coloured by."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from ..session.planting_drawing import WAYS, legend_words
from .cards import Card
from .look import SANS, Theme, typeface
from .planting_painting import class_colours, class_forms, paint_sign

_LINE_PX, _HEAD_PX, _LINES_AT_MOST = 19, 46, 7


class _Classes(QWidget):
    """Painted: a sign and its words a line."""

    def __init__(self, theme: Theme):
        super().__init__()
        self.theme, self.legend = theme, ()

    def paintEvent(self, event):
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setFont(typeface(SANS, 12))
        metrics = QFontMetrics(painter.font())
        shown = self.legend[:_LINES_AT_MOST]
        forms, colours = class_forms(self.legend), class_colours(self.theme, self.legend)
        for i, (entry, form, colour) in enumerate(zip(shown, forms, colours, strict=False)):
            y = i * _LINE_PX + _LINE_PX / 2
            paint_sign(painter, QPointF(8, y), form, colour, self.theme)
            words = legend_words(entry)
            if i == _LINES_AT_MOST - 1 and len(self.legend) > _LINES_AT_MOST:
                words = f"and {len(self.legend) - i} more"
            room = self.width() - 22
            text = metrics.elidedText(words, Qt.TextElideMode.ElideRight, room)
            painter.setPen(self.theme["ink"])
            box = QRectF(22, y - _LINE_PX / 2, room, _LINE_PX)
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, text)
        painter.end()


class PlantingLegend(Card):
    """A choice of ways, and the classes of the one on show."""

    way_wanted = Signal(str)

    def __init__(self, theme: Theme, parent=None):
        super().__init__(parent)
        self.setAccessibleName("What the marks mean")
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 8, 14, 8)
        column.setSpacing(4)
        line = QHBoxLayout()
        label = QLabel("Vines by")
        self.choice = QComboBox()
        self.choice.setAccessibleName("What vines are coloured by")
        for way, (words, meaning) in WAYS.items():
            self.choice.addItem(words, way)
            self.choice.setItemData(self.choice.count() - 1, meaning, Qt.ItemDataRole.ToolTipRole)
        self.choice.activated.connect(lambda i: self.way_wanted.emit(self.choice.itemData(i)))
        label.setBuddy(self.choice)
        line.addWidget(label)
        line.addWidget(self.choice)
        line.addStretch(1)
        column.addLayout(line)
        self._classes = _Classes(theme)
        column.addWidget(self._classes, 1)
        self.hide()

    def wanted_height(self) -> int:
        lines = min(max(len(self._classes.legend), 1), _LINES_AT_MOST)
        return _HEAD_PX + lines * _LINE_PX + 8

    def show_layer(self, layer, theme: Theme) -> None:
        """Explain a PlantingLayer."""
        drawing = layer.drawing
        self.choice.setCurrentIndex(self.choice.findData(drawing.by))
        self._classes.legend, self._classes.theme = drawing.legend, theme
        words = "; ".join(legend_words(entry) for entry in drawing.legend)
        self.setAccessibleDescription(words)
        self.setToolTip(f"{WAYS[drawing.by][1]}.\n{words.replace('; ', chr(10))}")
        self._classes.update()
