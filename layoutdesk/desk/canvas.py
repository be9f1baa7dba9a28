"""The plan on screen: a cached picture, and what moves over it."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetrics, QImage, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from ..core.layout.looking import segment_at
from ..session.drawing import Drawing
from ..session.specification import shown_bearing
from ..session.units import unit_length_m
from ..session.view import View, scale_bar
from .gestures import BearingGesture, Gesture, PanGesture
from .look import SANS, Theme, typeface
from .painting import paint_plan

HANDLE_PX = 104.0
"""Radius of the bearing ring. [px]"""
_GRIP_PX = 9.0
_FRAME_S = 0.010
"""A picture that takes longer is painted roughly until the hand rests. [s]"""


class PlanCanvas(QWidget):
    """Shows a drawing; the wheel zooms at the pointer, middle, space or plain drag pans."""

    cursor_moved = Signal(float, float)
    row_pointed = Signal(object)
    bearing_turned = Signal(float)
    bearing_settled = Signal()
    block_clicked = Signal(str)
    place_clicked = Signal(float, float)
    escaped = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Plan")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self.theme = theme
        self.unit = "m"
        self.margins = (0, 0, 0, 0)
        self.view = View(0.0, 0.0, 1.0, 100, 100)
        self.drawing: Drawing | None = None
        self.pointed: tuple[int, int] | None = None
        self.handle: tuple[float, float, float] | None = None
        self.edge_m: tuple | None = None
        self.tool = None
        self._picture: QImage | None = None
        self._gesture: Gesture | None = None
        self._space_held = False
        self._held = Qt.MouseButton.NoButton
        self._fitted = True
        self._at_rest = True
        self._fine_cost_s = 0.0
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(120)
        self._rest.timeout.connect(self._paint_finely)

    def show_drawing(self, drawing: Drawing | None) -> None:
        """Show another layout; the first one of a site is fitted into the window."""
        fresh = self.drawing is None
        self.drawing = drawing
        if self.pointed is not None and drawing is not None:
            plans = drawing.answer.plans
            p, s = self.pointed
            if p >= len(plans) or s >= len(plans[p].segments):
                self.point_at(None)
        if fresh and drawing is not None:
            self.fit()
        self.redraw()

    def wear(self, theme: Theme) -> None:
        self.theme = theme
        self.redraw()

    def redraw(self) -> None:
        """Paint everything anew at the next chance."""
        self._picture = None
        self.update()

    def look_at(self, view: View, *, fitted: bool = False) -> None:
        """Show another part of the plan."""
        if view != self.view:
            self.view = view
            self._fitted = fitted
            self.redraw()

    def fit(self) -> None:
        """Show the whole site in the room the cards leave."""
        if self.drawing is not None:
            x0, y0, x1, y1 = self.drawing.bounds_m
            pad = 0.02 * max(x1 - x0, y1 - y0)
            around = (x0 - pad, y0 - pad, x1 + pad, y1 + pad)
            left, top, right, bottom = self.margins
            room = (left + 14, top + 16, right + 14, bottom + 34)  # row numbers, the scale bar
            self.look_at(self.view.fitted(around, room), fitted=True)

    def go_to(self, x_m: float, y_m: float) -> None:
        """Bring a place to the middle of the free room, near enough to see it well."""
        left, top, right, bottom = self.margins
        scale = max(self.view.scale, 6.0)
        self.look_at(
            replace(
                self.view,
                scale=scale,
                x_m=x_m - (left - right) / 2 / scale,
                y_m=y_m + (top - bottom) / 2 / scale,
            )
        )

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        left, top, right, bottom = self.margins
        middle = QPointF((left + self.width() - right) / 2, (top + self.height() - bottom) / 2)
        at = at or middle
        self.look_at(self.view.zoomed(factor, at.x(), at.y()))

    def point_at(self, place: tuple[int, int] | None) -> None:
        """Light up a row segment, told by plan and segment index."""
        if place != self.pointed:
            self.pointed = place
            self.row_pointed.emit(place)
            self.update()

    def mark_edge(self, ends_m: tuple | None) -> None:
        """Light up an edge of an outline, told by its ends."""
        if ends_m != self.edge_m:
            self.edge_m = ends_m
            self.update()

    def show_handle(self, x_m: float, y_m: float, bearing_deg: float) -> None:
        """Put the bearing ring on a block."""
        self.handle = (x_m, y_m, bearing_deg)
        self.update()

    # events

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self.view = replace(self.view, width=max(self.width(), 1), height=max(self.height(), 1))
        if self._fitted:
            self.fit()
        self.redraw()

    def wheelEvent(self, event):
        notches = event.angleDelta().y() / 120
        if notches:
            self.zoom(1.2**notches, event.position())
        event.accept()

    def _grip(self) -> QPointF | None:
        if self.handle is None:
            return None
        x, y, bearing = self.handle
        middle = self.view.to_pixels(np.array([x, y]))
        a = math.radians(bearing)
        return QPointF(middle[0] + HANDLE_PX * math.sin(a), middle[1] - HANDLE_PX * math.cos(a))

    def _on_grip(self, at: QPointF) -> bool:
        grip = self._grip()
        return grip is not None and QLineF(grip, at).length() <= _GRIP_PX + 5

    def mousePressEvent(self, event):
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        if self._gesture is not None:  # one hand at a time
            return
        self._held = event.button()
        button, at = event.button(), event.position()
        grips = self.tool is None and not self._space_held and self._on_grip(at)
        if button == Qt.MouseButton.LeftButton and grips:
            self._gesture = BearingGesture(self)
        elif button in (Qt.MouseButton.LeftButton, Qt.MouseButton.MiddleButton):
            self._gesture = PanGesture(self, at)
        event.accept()

    def mouseMoveEvent(self, event):
        at = event.position()
        x, y = self.view.to_site(at.x(), at.y())
        self.cursor_moved.emit(x, y)
        if self._gesture is not None:
            self._gesture.move(at, event.modifiers())
            return
        if self.tool is not None:
            self.tool.hover(x, y)
            return
        if self._on_grip(at):
            self.setCursor(Qt.CursorShape.PointingHandCursor)
        else:
            self.unsetCursor()
        self.point_at(self._row_under(x, y))

    def _row_under(self, x: float, y: float) -> tuple[int, int] | None:
        if self.drawing is None:
            return None
        reach = 6.0 / self.view.scale
        for p, plan in enumerate(self.drawing.answer.plans):
            segment = segment_at(plan, x, y, max(reach, 0.5 * plan.rules.row_spacing_m))
            if segment is not None:
                return p, segment
        return None

    def mouseReleaseEvent(self, event):
        if event.button() != self._held:
            return
        gesture, self._gesture = self._gesture, None
        if gesture is not None:
            gesture.end()
            if not gesture.moved and event.button() == Qt.MouseButton.LeftButton:
                self._click(event.position())

    def _click(self, at: QPointF) -> None:
        if self.drawing is None:
            return
        import shapely

        x, y = self.view.to_site(at.x(), at.y())
        if self.tool is not None:
            self.tool.click(x, y)
            return
        self.place_clicked.emit(x, y)
        for block in self.drawing.answer.project.blocks:
            if shapely.intersects_xy(block.outline, x, y):
                self.block_clicked.emit(block.name)
                return

    def leaveEvent(self, event):
        self.point_at(None)
        super().leaveEvent(event)

    def keyPressEvent(self, event):
        key, step = event.key(), 60
        moves = {
            Qt.Key.Key_Left: (step, 0),
            Qt.Key.Key_Right: (-step, 0),
            Qt.Key.Key_Up: (0, step),
            Qt.Key.Key_Down: (0, -step),
        }
        if self.tool is not None and self.tool.key(key):
            return
        if key in moves and not event.modifiers():
            self.look_at(self.view.panned(*moves[key]))
        elif key == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space_held = True
            self.setCursor(Qt.CursorShape.OpenHandCursor)
        elif key == Qt.Key.Key_Escape and isinstance(self._gesture, BearingGesture):
            self._gesture.cancel()
            self._gesture = None
        elif key == Qt.Key.Key_Escape:
            self.escaped.emit()
        else:
            super().keyPressEvent(event)

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self._space_held = False
        self.unsetCursor()

    def keyReleaseEvent(self, event):
        if event.key() == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space_held = False
            self.unsetCursor()
        else:
            super().keyReleaseEvent(event)

    # painting

    def paintEvent(self, event):
        ratio = self.devicePixelRatioF()
        size = self.size() * ratio
        if self._picture is None or self._picture.size() != size:
            self._picture = self._painted(size, ratio)
        painter = QPainter(self)
        painter.drawImage(0, 0, self._picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if self.drawing is not None:
            self._paint_edge(painter)
            self._paint_pointed(painter)
            self._paint_handle(painter)
            self._paint_scale_bar(painter)
            self._paint_north(painter)
            if self.tool is not None:
                self.tool.paint(painter, self.view, self.theme)
        painter.end()

    def _painted(self, size, ratio: float) -> QImage:
        """The plan as a picture; rough where a fine one would keep a moving hand waiting."""
        picture = QImage(size, QImage.Format.Format_RGB32)
        picture.setDevicePixelRatio(ratio)
        rough = not self._at_rest and self._fine_cost_s > _FRAME_S
        began = time.perf_counter()
        paint_plan(
            picture,
            self.view,
            self.drawing,
            self.theme,
            rough=rough,
            kept_free=(self._north_box(), self._scale_box()),
        )
        if rough:
            self._rest.start()
        else:
            self._fine_cost_s = time.perf_counter() - began
        self._at_rest = False
        return picture

    def _north_box(self) -> QRectF:
        return QRectF(self.margins[0] + 8.0, self.margins[1] + 8.0, 44, 72)

    def _scale_box(self) -> QRectF:
        right, bottom = self.width() - self.margins[2] - 20, self.height() - self.margins[3] - 16
        return QRectF(right - 136, bottom - 26, 142, 34)

    def _paint_finely(self) -> None:
        self._at_rest = True
        self.redraw()

    def _paint_edge(self, painter) -> None:
        if self.edge_m is None:
            return
        ends = self.view.to_pixels(np.array(self.edge_m))
        pen = QPen(self.theme["accent"], 4.0)
        pen.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(pen)
        painter.drawLine(QLineF(*ends.ravel().tolist()))

    def _paint_pointed(self, painter) -> None:
        if self.pointed is None:
            return
        p, s = self.pointed
        ends = self.view.to_pixels(self.drawing.answer.plans[p].segment_ends_m[s])
        painter.setPen(QPen(self.theme["accent"], 2.4))
        painter.drawLine(QLineF(*ends.ravel().tolist()))

    def _paint_handle(self, painter) -> None:
        if self.handle is None:
            return
        x, y, bearing = self.handle
        px, py = self.view.to_pixels(np.array([x, y])).tolist()
        grip, accent = self._grip(), self.theme["accent"]
        ring = QColor(accent)
        ring.setAlphaF(0.55)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(QPen(ring, 1.1))
        painter.drawEllipse(QPointF(px, py), HANDLE_PX, HANDLE_PX)
        for tick in range(0, 360, 30):
            a = math.radians(tick)
            inner = HANDLE_PX - (9 if tick % 90 == 0 else 5)
            painter.drawLine(
                QPointF(px + inner * math.sin(a), py - inner * math.cos(a)),
                QPointF(px + HANDLE_PX * math.sin(a), py - HANDLE_PX * math.cos(a)),
            )
        painter.setPen(QPen(accent, 1.6))
        painter.drawLine(QPointF(px, py), grip)
        painter.setPen(QPen(self.theme["block"], 2.0))
        painter.setBrush(accent)
        painter.drawEllipse(grip, _GRIP_PX, _GRIP_PX)
        font = typeface(SANS, 13, strong=True)
        text = shown_bearing(bearing)
        width = QFontMetrics(font).horizontalAdvance(text) + 22
        left = (
            grip.x() + 15
            if grip.x() + 15 + width < self.width() - self.margins[2]
            else grip.x() - 15 - width
        )
        label = QRectF(left, grip.y() - 13, width, 26)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.drawRoundedRect(label, 9, 9)
        painter.setFont(font)
        painter.setPen(self.theme["on_accent"])
        painter.drawText(label, Qt.AlignmentFlag.AlignCenter, text)

    def _paint_scale_bar(self, painter) -> None:
        units, length = scale_bar(self.view.scale, unit_length_m(self.unit), 130)
        label = {"usft": "US ft"}.get(self.unit, self.unit)
        right, bottom = self.width() - self.margins[2] - 20, self.height() - self.margins[3] - 16
        self._haloed(painter, QPointF(right - length, bottom - 9), f"{units:g} {label}")
        for width, colour in ((4.5, self.theme["ground"]), (2.0, self.theme["ink"])):
            painter.setPen(QPen(colour, width))
            painter.drawLine(QLineF(right - length, bottom, right, bottom))

    def _paint_north(self, painter) -> None:
        x, y = self.margins[0] + 28.0, self.margins[1] + 14.0
        for width, colour in ((4.5, self.theme["ground"]), (1.7, self.theme["ink"])):
            painter.setPen(QPen(colour, width))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawLine(QLineF(x, y, x, y + 44))
            painter.drawPolyline(
                QPolygonF([QPointF(x - 7, y + 11), QPointF(x, y), QPointF(x + 7, y + 11)])
            )
        self._haloed(painter, QPointF(x - 12, y + 62), "true")

    def _haloed(self, painter, at: QPointF, text: str) -> None:
        from PySide6.QtGui import QPainterPath

        path = QPainterPath()
        path.addText(at, typeface(SANS, 12, strong=True), text)
        painter.strokePath(path, QPen(self.theme["ground"], 4.0))
        painter.fillPath(path, self.theme["ink"])
