"""One small plan: what it shows is in the view it shares with the others."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetrics, QImage, QPainter, QPainterPath, QPen, QPolygonF
from PySide6.QtWidgets import QLabel, QWidget

from ..session.candidate_drawings import SmallDrawing
from ..session.units import unit_label, unit_length_m
from ..session.view import View, scale_bar
from .cards import paint_focus_ring
from .look import SANS, Theme, typeface
from .painting import paint_plan

_NUMBERS_PX = 14.0
"""Rows wider apart than this have their numbers. [px]"""
_PAN_PX = 40
_NAMED = 5
"""Of the measures in which a beaten candidate is better so many are named."""
_NORTH_PX = 30
"""Room kept for the arrow of north beside a mark. [px]"""
_ARROWS = {
    Qt.Key.Key_Left: (_PAN_PX, 0),
    Qt.Key.Key_Right: (-_PAN_PX, 0),
    Qt.Key.Key_Up: (0, _PAN_PX),
    Qt.Key.Key_Down: (0, -_PAN_PX),
}


class PlanPicture(QWidget):
    """The rows of a candidate; hands on it look about in all plans.

    `plans` has the view, the theme and the unit of all.
    """

    def __init__(self, plans, parent: QWidget):
        super().__init__(parent)
        self._plans = plans
        self.drawing: SmallDrawing | None = None
        self.says = ""
        self.is_first = False
        self._picture: QImage | None = None
        self._pictured: View | None = None
        self._drag: QPointF | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumHeight(60)
        self.setToolTip(
            "Wheel zooms all plans, dragging moves them, Home shows all. From afar some rows stand for all."
        )
        self.mark = QLabel(self)
        self.mark.setFont(typeface(SANS, 12, strong=True))
        self.mark.setObjectName("mark")

    def show_mark(self, beaten_by: str, better_in: tuple[str, ...] = ()) -> None:
        """Say in words which candidate beats this one, and whether only in what is ticked."""
        where = " where ticked" if better_in else ""
        self._beaten = f"beaten by {beaten_by}{where}" if beaten_by else ""
        self.mark.setVisible(bool(beaten_by))
        told = f"{beaten_by} is at least as good in every ticked measure, and better in one."
        if better_in:
            others = f", and {len(better_in) - _NAMED} more" if len(better_in) > _NAMED else ""
            told += f" This one is better in others: {', '.join(better_in[:_NAMED])}{others}."
        self.mark.setToolTip(told)
        self._place_mark()

    _beaten = ""

    def _place_mark(self) -> None:
        metrics = QFontMetrics(self.mark.font())
        room = max(self.width() - (_NORTH_PX if self.is_first else 12), 20)
        self.mark.setText(metrics.elidedText(self._beaten, Qt.TextElideMode.ElideRight, room))
        self.mark.adjustSize()
        self.mark.move(max(self.width() - self.mark.width() - 4, 0), 0)

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._place_mark()

    def stand(self, *, first: bool) -> None:
        """Stand first of those in sight, with the arrow of north and the scale, or not."""
        if first != self.is_first:
            self.is_first = first
            self._place_mark()
            self.update()

    def said_mark(self) -> str:
        """The whole of the mark, which may have no room."""
        return self._beaten

    def show_drawing(self, drawing: SmallDrawing | None, says: str) -> None:
        """Show rows, or say why there are none."""
        if drawing is not self.drawing or says != self.says:
            self.drawing, self.says = drawing, says
            self.redraw()

    def redraw(self) -> None:
        self._picture = None
        self.update()

    # hand and keyboard

    def wheelEvent(self, event):
        notches = event.angleDelta().y() / 120
        if notches:
            self._plans.zoom(1.2**notches, event.position())
        event.accept()

    def mousePressEvent(self, event):
        if event.button() in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            self.setFocus(Qt.FocusReason.MouseFocusReason)
            self._drag = event.position()
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        event.accept()

    def mouseMoveEvent(self, event):
        if self._drag is not None:
            away = event.position() - self._drag
            self._drag = event.position()
            self._plans.pan(away.x(), away.y())

    def mouseReleaseEvent(self, event):
        self._drag = None
        self.unsetCursor()
        event.accept()

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and event.key() == Qt.Key.Key_Delete:
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event):
        if event.key() in _ARROWS and not event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._plans.pan(*_ARROWS[event.key()])
        elif event.key() == Qt.Key.Key_Delete:
            self._plans.take_away(self)
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event):
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self.update()

    # painting

    def paintEvent(self, event):
        painter = QPainter(self)
        theme, view = self._plans.theme, self._plans.view
        size = self.size() * self.devicePixelRatioF()
        if self.drawing is None:
            painter.setPen(theme["soft_ink"])
            painter.setFont(typeface(SANS, 13))
            inside = QRectF(self.rect()).adjusted(12, 8, -12, -8)
            flags = Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap
            painter.drawText(inside, flags, self.says)
        else:
            stale = self._picture is None or self._picture.size() != size
            if stale or (self._pictured != view and self._plans.may_paint()):
                self._picture, self._pictured = self._painted(size, view, theme), view
            painter.drawImage(self._where_pictured(view), self._picture)
            if self.is_first:
                _paint_scale(painter, self.rect(), view, theme, self._plans.unit)
                _paint_north(painter, theme)
        if self.hasFocus():
            paint_focus_ring(painter, self, theme, 6)
        painter.end()

    def _painted(self, size, view: View, theme: Theme) -> QImage:
        picture = QImage(size, QImage.Format.Format_RGB32)
        picture.setDevicePixelRatio(self.devicePixelRatioF())
        plans = self.drawing.answer.plans
        spacing = min((p.rules.row_spacing_m for p in plans), default=1.0) * view.scale
        whole = QRectF(0, 0, view.width, view.height)
        began = time.perf_counter()
        paint_plan(
            picture,
            view,
            self.drawing.thinned(view.scale),
            replace(theme, ground=theme.panel),
            kept_free=() if spacing >= _NUMBERS_PX else (whole,),
            terrain=self._plans.terrain,
            unit=self._plans.unit,
        )
        self._plans.note_cost(time.perf_counter() - began)
        return picture

    def _where_pictured(self, view: View) -> QRectF:
        """Where the picture painted for an earlier view belongs in this one."""
        x0, y1 = self._pictured.to_site(0, 0)
        left, top = view.to_pixels(np.array([x0, y1])).tolist()
        by = view.scale / self._pictured.scale
        return QRectF(left, top, self._pictured.width * by, self._pictured.height * by)


def _paint_scale(painter, box, view: View, theme: Theme, unit: str) -> None:
    units, length = scale_bar(view.scale, unit_length_m(unit), 70)
    right, bottom = box.right() - 6, box.bottom() - 5
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    path = QPainterPath()
    path.addText(
        QPointF(right - length, bottom - 5), typeface(SANS, 11), f"{units:g} {unit_label(unit)}"
    )
    painter.strokePath(path, QPen(theme["panel"], 4.0))
    painter.fillPath(path, theme["ink"])
    for width, colour in ((4.0, theme["panel"]), (1.6, theme["ink"])):
        painter.setPen(QPen(colour, width))
        painter.drawLine(QLineF(right - length, bottom, right, bottom))


def _paint_north(painter, theme: Theme) -> None:
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    x, y = 10.0, 5.0
    for width, colour in ((4.0, theme["panel"]), (1.5, theme["ink"])):
        painter.setPen(QPen(colour, width))
        painter.drawLine(QLineF(x, y, x, y + 22))
        painter.drawPolyline(
            QPolygonF([QPointF(x - 4, y + 7), QPointF(x, y), QPointF(x + 4, y + 7)])
        )
