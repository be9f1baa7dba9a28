"""What the marks of drip water on the plan mean: the ramp with its shares, pipes by width."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPen, QPixmap

from .cards import Card
from .look import SANS, Theme, typeface
from .water_painting import main_pen, paint_source_sign, pipe_px, ramp_colours

_EDGE_PX, _BAND_PX, _LINE_PX = 18, 14, 20
HIGH_PX = 132


class RampLegend(Card):
    """Painted: one strip of the ramp, the widths of pipes, and the signs."""

    def __init__(self, theme: Theme, parent=None):
        super().__init__(parent)
        self.theme, self._layer = theme, None
        self._pipe_words: tuple[str, ...] = ()
        self._made_for: tuple = ()
        self._picture = QPixmap()
        self.setAccessibleName("What the colours mean")
        self.hide()

    def show_layer(self, layer, pipe_words: tuple[str, ...], theme: Theme) -> None:
        """Explain a WaterLayer; `pipe_words` name its diameters from the thinnest."""
        self._layer, self._pipe_words, self.theme = layer, pipe_words, theme
        if layer is not None:
            words = ", ".join(step.label for step in layer.drawing.ramp)
            self.setAccessibleDescription(f"Flow of a vine, of the mean of its block: {words}")
            self.setToolTip(
                "Flow of each vine, of the mean of its block. Vines that get less than is usual are "
                "hollow from near by; the worst stretches are ringed."
            )
        self.update()

    def paintEvent(self, event):
        super().paintEvent(event)
        if self._layer is None:
            return
        ratio = self.devicePixelRatioF()
        dry = self._layer.has_dry
        ramp = self._layer.drawing.ramp
        made_for = (self.theme, ramp, self._pipe_words, dry, self.size(), ratio)
        if made_for != self._made_for:
            self._made_for, self._picture = made_for, self._painted(ratio)
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._picture)
        painter.end()

    def _painted(self, ratio: float) -> QPixmap:
        """Kept: the plan behind is painted anew far more often."""
        picture = QPixmap(self.size() * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._paint_ramp(painter)
        self._paint_pipes(painter)
        self._paint_signs(painter)
        painter.end()
        return picture

    def _write(self, painter, box: QRectF, text: str, role="ink", side=Qt.AlignmentFlag.AlignLeft):
        painter.setPen(self.theme[role])
        painter.drawText(box, side | Qt.AlignmentFlag.AlignVCenter, text)

    def _paint_ramp(self, painter) -> None:
        ramp, theme = self._layer.drawing.ramp, self.theme
        wide = self.width() - 2 * _EDGE_PX
        painter.setFont(typeface(SANS, 12, strong=True))
        self._write(painter, QRectF(_EDGE_PX, 8, wide, 18), "Flow of a vine, of its block’s mean")
        each = wide / len(ramp)
        font = typeface(SANS, 11)
        painter.setFont(font)
        metrics = QFontMetrics(font)
        for i, (step, colour) in enumerate(zip(ramp, ramp_colours(theme, ramp)[:-1], strict=True)):
            box = QRectF(_EDGE_PX + i * each, 31, each - 2, _BAND_PX)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(colour)
            painter.drawRoundedRect(box, 3, 3)
            if i < self._layer.usual:  # hollow, as the marks are from near by
                painter.setBrush(theme["panel"])
                painter.drawEllipse(box.center(), 2.6, 2.6)
            if i:
                text = f"{step.low_pct:g}"
                at = QRectF(0, 46, metrics.horizontalAdvance(text) + 2, 16)
                at.moveCenter(QPointF(box.left() - 1, 54))
                self._write(painter, at, text, "soft_ink", Qt.AlignmentFlag.AlignHCenter)
        last = QRectF(_EDGE_PX, 46, wide, 16)
        self._write(painter, last, "%", "soft_ink", Qt.AlignmentFlag.AlignRight)

    def _paint_pipes(self, painter) -> None:
        theme, sizes = self.theme, self._layer.sizes_mm
        font = typeface(SANS, 11)
        painter.setFont(font)
        metrics, x, y = QFontMetrics(font), float(_EDGE_PX), 76.0
        for mm, words in zip(sizes, self._pipe_words, strict=True):
            wide = metrics.horizontalAdvance(words)
            if x + 21 + wide > self.width() - _EDGE_PX:
                self._write(painter, QRectF(x, y - 9, 20, 18), "…", "soft_ink")
                break
            pen = QPen(theme["water"], pipe_px(sizes, mm))
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            painter.setPen(pen)
            painter.drawLine(QPointF(x, y), QPointF(x + 16, y))
            self._write(painter, QRectF(x + 21, y - 9, wide + 4, 18), words)
            x += 21 + wide + 11

    def _paint_signs(self, painter) -> None:
        theme, y, x = self.theme, 104.0, float(_EDGE_PX)
        font = typeface(SANS, 11)
        painter.setFont(font)
        metrics = QFontMetrics(font)

        def words(text: str, left: float) -> float:
            wide = metrics.horizontalAdvance(text)
            self._write(painter, QRectF(left, y - 9, wide + 4, 18), text)
            return left + wide + 13

        pen = main_pen(theme)
        pen.setDashPattern([2.0, 1.2])
        painter.setPen(pen)
        painter.drawLine(QPointF(x, y), QPointF(x + 22, y))
        x = words("main", x + 26)
        painter.setPen(QPen(theme["water"], 2.0))
        painter.setBrush(theme["panel"])
        painter.drawEllipse(QPointF(x + 7, y), 7.0, 7.0)
        x = words("valve of a set", x + 19)
        paint_source_sign(painter, QPointF(x + 7, y), theme, 7.0)
        x = words("source", x + 18)
        painter.setPen(QPen(theme["caution"], 1.8))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRoundedRect(QRectF(x, y - 6, 24, 12), 6, 6)
        x = words("worst", x + 29)
        if self._layer.has_dry:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme["ink"])
            painter.drawEllipse(QPointF(x + 3, y), 4.0, 4.0)
            words("dry", x + 10)
