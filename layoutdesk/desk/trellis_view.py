"""A row end from the side, to scale, painted from its drawing; heights lead to their values."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from ..session.trellis_drawing import TrellisDrawing
from .look import SANS, Theme, typeface

_EDGE_PX, _LABEL_GAP_PX = 4, 14
_LINE_PX = 14
"""Heights stand at least so far apart. [px]"""
_LEAST_PX, _MOST_PX = 120, 190
_TEXT_PX = 11

_PENS: dict[str, tuple[str, float]] = {
    # role: (colour, width in px)
    "ground": ("soft_ink", 1.2),
    "vine": ("row", 2.2),
    "stake": ("soft_ink", 1.2),
    "drip line": ("water", 1.6),
    "wire": ("soft_ink", 1.0),
    "fruiting wire": ("ink", 1.4),
    "tie": ("ink", 1.2),
    "brace": ("ink", 3.2),
    "pad": ("ink", 4.0),
    "anchor": ("ink", 2.6),
    "line post": ("ink", 3.2),
    "end post": ("ink", 5.0),
}


class TrellisView(QWidget):
    """Paints the drawing as large as its width allows.

    Signals
    -------
    height_wanted : str
        The value that a clicked height is set by.
    """

    height_wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.theme = theme
        self.drawing: TrellisDrawing | None = None
        self.setMouseTracking(True)
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_drawing(self, drawing: TrellisDrawing) -> None:
        """Show another drawing."""
        self.drawing = drawing
        self.setAccessibleName(drawing.said)
        self.updateGeometry()
        self.update()

    def wear(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    # places

    def _labels_px(self) -> int:
        metrics = QFontMetrics(typeface(SANS, _TEXT_PX))
        texts = [m.text for m in self.drawing.marks] if self.drawing else []
        return max((metrics.horizontalAdvance(t) for t in texts), default=0) + 4

    def _scale(self, width: int) -> float:
        """Pixels of a metre."""
        left, low, right, high = self.drawing.bounds_m
        room = max(width - 2 * _EDGE_PX - _LABEL_GAP_PX - self._labels_px(), 40)
        return min(room / (right - left), (_MOST_PX - 2 * _EDGE_PX) / (high - low))

    def heightForWidth(self, width: int) -> int:
        if self.drawing is None:
            return _LEAST_PX
        _, low, _, high = self.drawing.bounds_m
        tall = round((high - low) * self._scale(width)) + 2 * _EDGE_PX
        labels = len(self.drawing.marks) * _LINE_PX + 2 * _EDGE_PX
        return max(tall, labels)

    def sizeHint(self) -> QSize:
        return QSize(320, self.heightForWidth(320))

    def place(self, x_m: float, y_m: float) -> QPointF:
        """The pixel of a place in the drawing."""
        left, _, _, high = self.drawing.bounds_m
        scale = self._scale(self.width())
        return QPointF(_EDGE_PX + (x_m - left) * scale, _EDGE_PX + (high - y_m) * scale)

    def labels(self) -> list[tuple[QRectF, QPointF, object]]:
        """Where each height is written, where its wire ends, and the height; none cover another."""
        marks = self.drawing.marks if self.drawing else ()
        if not marks:
            return []
        ends = [self.place(self.drawing.bounds_m[2], m.height_m) for m in marks]
        tops = _spread([e.y() - _LINE_PX / 2 for e in ends], _LINE_PX, self.height() - _LINE_PX)
        x, wide = ends[0].x() + _LABEL_GAP_PX, self._labels_px()
        return [
            (QRectF(x, top, wide, _LINE_PX), end, mark)
            for top, end, mark in zip(tops, ends, marks, strict=True)
        ]

    def _mark_at(self, at):
        return next((m for box, _, m in self.labels() if box.contains(at)), None)

    # the hand

    def mouseMoveEvent(self, event):
        mark = self._mark_at(event.position())
        shapes = Qt.CursorShape
        self.setCursor(shapes.PointingHandCursor if mark else shapes.ArrowCursor)
        self.setToolTip("Click to change this height" if mark else "")

    def mousePressEvent(self, event):
        mark = self._mark_at(event.position())
        if mark is not None and event.button() == Qt.MouseButton.LeftButton:
            self.height_wanted.emit(mark.key)
        event.accept()

    # painting

    def paintEvent(self, event):
        if self.drawing is None:
            return
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._paint_ground(painter)
        for stroke in self.drawing.strokes:
            colour, width = _PENS[stroke.role]
            pen = QPen(self.theme[colour], width)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            if stroke.role == "drip line":
                pen.setDashPattern([3.0, 2.0])
            painter.setPen(pen)
            painter.drawPolyline(QPolygonF([self.place(x, y) for x, y in stroke.points_m.tolist()]))
        self._paint_heights(painter)
        painter.end()

    def _paint_ground(self, painter: QPainter) -> None:
        """The earth that posts are driven into."""
        left, low, right, _ = self.drawing.bounds_m
        box = QRectF(self.place(left, 0.0), self.place(right, low))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self.theme["ground"])
        painter.drawRect(box)
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _paint_heights(self, painter: QPainter) -> None:
        painter.setFont(typeface(SANS, _TEXT_PX))
        for box, end, mark in self.labels():
            painter.setPen(QPen(self.theme["hairline"], 1.0))
            bend = QPointF(box.left() - 4, box.center().y())
            painter.drawPolyline(QPolygonF([end, end + QPointF(4, 0), bend]))
            painter.setPen(self.theme["ink"])
            painter.drawText(
                box, Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft, mark.text
            )


def _spread(tops: list[float], apart: float, lowest: float) -> list[float]:
    """Places from the top down, moved as little as it takes to stand apart and inside."""
    placed: list[float] = []
    for top in tops:
        placed.append(max(top, placed[-1] + apart if placed else 0.0))
    floor = lowest
    for i in reversed(range(len(placed))):
        placed[i] = min(placed[i], floor)
        floor = placed[i] - apart
    return placed
