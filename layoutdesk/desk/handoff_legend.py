"""What the marks over the plan mean on the hand-off stage, and how much longer arrows are drawn than they are."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QFontMetrics, QPainter

from .cards import Card
from .handoff_painting import paint_sign
from .look import SANS, Theme, typeface

_EDGE_PX, _TOP_PX, _LINE_PX = 18, 10, 19
_SIGN_PX = 26


class HandOffLegend(Card):
    """A sentence, and a sign with its words a line."""

    def __init__(self, theme: Theme, parent=None):
        super().__init__(parent)
        self.setAccessibleName("What the marks mean")
        self.theme, self._layer, self.said = theme, None, ""
        self.hide()

    def show_layer(self, layer, said: str, theme: Theme) -> None:
        """Explain a PointsLayer or an ArrowLayer as it is said in the view; None for nothing."""
        self._layer, self.said, self.theme = layer, said, theme
        words = "" if layer is None else "; ".join((said, *(w for _, w in layer.signs)))
        self.setAccessibleDescription(words)
        self.setToolTip(words.replace("; ", "\n"))
        self.update()

    def wanted_height(self, width: int) -> int:
        """How high it has to be to say all of it; 0 where there is nothing to say."""
        if self._layer is None:
            return 0
        said = self._said_box(width).height()
        return round(2 * _TOP_PX + said + 4 + _LINE_PX * self._lines(width))

    def _said_box(self, width: int) -> QRectF:
        metrics = QFontMetrics(typeface(SANS, 12))
        room = QRectF(_EDGE_PX, _TOP_PX, width - 2 * _EDGE_PX, 400).toRect()
        return QRectF(metrics.boundingRect(room, Qt.TextFlag.TextWordWrap, self.said))

    def _places(self, width: int):
        """(line, left) of every sign: side by side while there is room."""
        metrics = QFontMetrics(typeface(SANS, 12))
        line, left = 0, _EDGE_PX
        for _, words in self._layer.signs:
            wide = _SIGN_PX + metrics.horizontalAdvance(words) + 16
            if left > _EDGE_PX and left + wide > width - _EDGE_PX + 16:
                line, left = line + 1, _EDGE_PX
            yield line, left
            left += wide

    def _lines(self, width: int) -> int:
        return max((line + 1 for line, _ in self._places(width)), default=0)

    def paintEvent(self, event):
        super().paintEvent(event)
        if self._layer is None:
            return
        painter = QPainter(self)
        painter.setFont(typeface(SANS, 12))
        painter.setPen(self.theme["ink"])
        said = self._said_box(self.width())
        painter.drawText(said.adjusted(0, 0, 2, 2), Qt.TextFlag.TextWordWrap, self.said)
        low = said.bottom() + 4
        for (sign, words), (line, left) in zip(
            self._layer.signs, self._places(self.width()), strict=True
        ):
            y = low + line * _LINE_PX
            paint_sign(painter, QRectF(left, y, 18, _LINE_PX), sign, self.theme)
            painter.setPen(self.theme["ink"])
            box = QRectF(left + _SIGN_PX, y, self.width() - left - _SIGN_PX, _LINE_PX)
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, words)
        painter.end()
