"""The plan on screen: a cached picture, and what moves over it."""

from __future__ import annotations

import math
import time
from dataclasses import replace

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, QTimer, Signal
from PySide6.QtGui import QColor, QFontMetrics, QGuiApplication, QImage, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from ..core.layout.looking import segment_at
from ..session.drawing import Drawing
from ..session.specification import shown_bearing
from ..session.units import unit_label, unit_length_m
from ..session.view import View, scale_bar
from .cards import paint_focus_ring
from .gestures import BearingGesture, BoxGesture, Gesture, PanGesture
from .look import SANS, Theme, typeface
from .painting import paint_plan, polygon_from
from .tools import Tool

HANDLE_PX = 104.0
"""Radius of the bearing ring. [px]"""
_GRIP_PX = 9.0
_FRAME_S = 0.010
"""A picture that takes longer is painted roughly until the hand rests; while only the view moves,
the picture there is moves with it. [s]"""
_CROSS_STEPS = {Qt.KeyboardModifier.ControlModifier: 1, Qt.KeyboardModifier.ShiftModifier: 40}
_CROSS_STEP_PX = 8
_MANY_SELECTED = 150
"""More selected rows than these are marked by thin lines."""


class PlanCanvas(QWidget):
    """Shows a drawing; the wheel zooms at the pointer, middle, space or plain drag pans."""

    cursor_moved = Signal(float, float)
    row_pointed = Signal(object)
    bearing_turned = Signal(float)
    bearing_settled = Signal()
    escaped = Signal()
    view_changed = Signal()

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
        self.tool: Tool | None = None
        self.stage_tool: Tool | None = None
        self.selected: tuple[tuple[int, int], ...] = ()
        self.backdrop = None
        self.terrain = None
        self.water = self.planting = self.overlay = None
        self.cross: QPointF | None = None
        self._picture: QImage | None = None
        self._pictured: View | None = None
        self._gesture: Gesture | None = None
        self._space_held = self._by_key = False
        self._held = Qt.MouseButton.NoButton
        self._fitted = True
        self._at_rest = True
        self._fine_cost_s = 0.0
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(120)
        self._rest.timeout.connect(self._paint_finely)
        self._catch_up = QTimer(self)
        self._catch_up.setSingleShot(True)
        self._catch_up.setInterval(45)
        self._catch_up.timeout.connect(self.redraw)

    @property
    def hand(self) -> Tool | None:
        """The tool that takes clicks: one taken up for a while, else the stage's own."""
        return self.tool or self.stage_tool

    def take(self, tool: Tool | None) -> None:
        """Take up a tool, or with None go back to the stage's own."""
        self.tool, self.cross = tool, None
        self.setCursor(tool.cursor if tool is not None else Qt.CursorShape.ArrowCursor)
        self.update()

    def select(self, places) -> None:
        """Mark rows, told by plan and segment, as selected."""
        self.selected = tuple(places)
        self.update()

    def show_backdrop(self, backdrop) -> None:
        """Show a picture under the plan: (QImage, bounds in the site frame, opacity), or None."""
        self.backdrop = backdrop
        self.redraw()

    def show_terrain(self, terrain) -> None:
        """Show heights: (TerrainPicture, its relief as a QImage or None), or None."""
        self.terrain = terrain
        self.redraw()

    def show_water(self, water) -> None:
        """Show a drip system (a WaterLayer) in place of plain vines, or None."""
        if water is not self.water:
            self.water = water
            self.redraw()

    def show_planting(self, planting) -> None:
        """Show vines by what is planned or known of them (a PlantingLayer), or None."""
        if planting is not self.planting:
            self.planting = planting
            self.redraw()

    def show_overlay(self, overlay) -> None:
        """Show points or arrows over the plan (a PointsLayer, an ArrowLayer), or None."""
        if overlay is not self.overlay:
            self.overlay = overlay
            self.redraw()

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
            self.update()
            self.view_changed.emit()

    def fit(self) -> None:
        """Show the whole site in the room the cards leave."""
        if self.drawing is not None:
            x0, y0, x1, y1 = self.drawing.bounds_m
            view = self._view_of(self.drawing.bounds_m, 0.02 * max(x1 - x0, y1 - y0))
            self.look_at(view, fitted=True)

    def refit(self) -> None:
        """Show the whole site again, where it was all shown before."""
        if self._fitted:
            self.fit()

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

    def reveal(self, x_m: float, y_m: float) -> None:
        """Move the plan, if need be, so that a place is in the free room."""
        x, y = self.view.to_pixels(np.array([x_m, y_m])).tolist()
        room = self.free_room()
        if not room.contains(QPointF(x, y)):
            self.look_at(self.view.panned(room.center().x() - x, room.center().y() - y))

    def look_over(self, bounds_m) -> None:
        """Show a part of the plan in the room the cards leave."""
        x0, y0, x1, y1 = bounds_m
        self.look_at(self._view_of(bounds_m, max(0.06 * max(x1 - x0, y1 - y0), 3.0)))

    def _view_of(self, bounds_m, pad_m: float) -> View:
        """The view with a part of the plan, and something round it, in the free room."""
        x0, y0, x1, y1 = bounds_m
        left, top, right, bottom = self.margins
        room = (left + 14, top + 16, right + 14, bottom + 34)  # row numbers, the scale bar
        return self.view.fitted((x0 - pad_m, y0 - pad_m, x1 + pad_m, y1 + pad_m), room)

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
        self._by_key = False
        if self._gesture is not None:  # one hand at a time
            return
        self._held = event.button()
        button, at = event.button(), event.position()
        self.cross = None
        if button == Qt.MouseButton.LeftButton and not self._space_held:
            if self.tool is None and self._on_grip(at):
                self._gesture = BearingGesture(self)
            elif self.hand is not None and self.drawing is not None:
                self._gesture = self.hand.press(at, event.modifiers())
        if self._gesture is None and button in (
            Qt.MouseButton.LeftButton,
            Qt.MouseButton.MiddleButton,
        ):
            self._gesture = PanGesture(self, at)
        event.accept()

    def mouseDoubleClickEvent(self, event):
        if event.button() == Qt.MouseButton.LeftButton and self.hand and self.drawing is not None:
            at = event.position()
            self._held = event.button()
            self.hand.double_click(*self.view.to_site(at.x(), at.y()))
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
            if self.stage_tool is not None and self.drawing is not None:
                self.stage_tool.hover(x, y)
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
        if self.drawing is not None and self.hand is not None:
            x, y = self.view.to_site(at.x(), at.y())
            self.hand.click(x, y, QGuiApplication.keyboardModifiers())

    def leaveEvent(self, event):
        self.point_at(None)
        if self.hand is not None and self.cross is None:
            self.hand.leave()
        super().leaveEvent(event)

    def keyPressEvent(self, event):
        key, step = event.key(), 60
        moves = {
            Qt.Key.Key_Left: (step, 0),
            Qt.Key.Key_Right: (-step, 0),
            Qt.Key.Key_Up: (0, step),
            Qt.Key.Key_Down: (0, -step),
        }
        if key == Qt.Key.Key_Escape and self._gesture is not None:
            gesture, self._gesture = self._gesture, None
            gesture.cancel()
            return
        if self.tool is not None and self.tool.points and key in moves:
            self._move_cross(moves[key], event.modifiers())
            return
        entered = key in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if self.tool is not None and entered and self.cross is not None:
            self._click(self.cross)
            return
        if self.hand is not None and self.drawing is not None and self.hand.key(event):
            return
        if key in moves and not event.modifiers():
            self.look_at(self.view.panned(*moves[key]))
        elif key == Qt.Key.Key_Space and not event.isAutoRepeat():
            self._space_held = True
            self.setCursor(Qt.CursorShape.OpenHandCursor)
        elif key == Qt.Key.Key_Escape:
            self.escaped.emit()
        else:
            super().keyPressEvent(event)

    def _move_cross(self, move: tuple[int, int], modifiers) -> None:
        """The keyboard's pointer, for a tool that sets places."""
        step = next((n for m, n in _CROSS_STEPS.items() if modifiers & m), _CROSS_STEP_PX)
        left, top, right, bottom = self.margins
        if self.cross is None:
            self.cross = QPointF(
                (left + self.width() - right) / 2, (top + self.height() - bottom) / 2
            )
        self.cross -= QPointF(math.copysign(step, move[0]) if move[0] else 0.0, 0.0)
        self.cross -= QPointF(0.0, math.copysign(step, move[1]) if move[1] else 0.0)
        x, y = self.view.to_site(self.cross.x(), self.cross.y())
        self.cursor_moved.emit(x, y)
        self.tool.hover(x, y)
        self.update()

    def focusInEvent(self, event):
        super().focusInEvent(event)
        keys = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason)
        self._by_key = event.reason() in keys and self.drawing is not None
        self.update()

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
        moved = self._picture is not None and self._pictured != self.view
        if moved and self._fine_cost_s <= _FRAME_S:
            self._picture = None
        if self._picture is None or self._picture.size() != size:
            self._catch_up.stop()
            self._picture, moved = self._painted(size, ratio), False
            self._pictured = self.view
        painter = QPainter(self)
        if moved:
            painter.fillRect(self.rect(), self.theme["ground"])
            painter.drawImage(self._where_pictured(), self._picture)
            self._catch_up.start()
        else:
            painter.drawImage(0, 0, self._picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if self.drawing is not None:
            self._paint_selected(painter)
            self._paint_edge(painter)
            self._paint_pointed(painter)
            self._paint_handle(painter)
            self._paint_scale_bar(painter)
            self._paint_north(painter)
            for tool in (self.stage_tool, self.tool):
                if tool is not None:
                    tool.paint(painter, self.view, self.theme)
            if isinstance(self._gesture, BoxGesture):
                self._gesture.paint(painter, self.theme)
            if self.cross is not None:
                self._paint_cross(painter)
        if self.hasFocus() and self._by_key:
            paint_focus_ring(painter, self, self.theme, 0.0)
        painter.end()

    def _where_pictured(self) -> QRectF:
        """Where the picture painted for an earlier view belongs in this one."""
        x0, y1 = self._pictured.to_site(0, 0)
        left, top = self.view.to_pixels(np.array([x0, y1])).tolist()
        by = self.view.scale / self._pictured.scale
        return QRectF(left, top, self._pictured.width * by, self._pictured.height * by)

    def _paint_cross(self, painter) -> None:
        for width, colour in ((3.5, self.theme["block"]), (1.2, self.theme["ink"])):
            painter.setPen(QPen(colour, width))
            painter.drawLine(self.cross - QPointF(14, 0), self.cross + QPointF(14, 0))
            painter.drawLine(self.cross - QPointF(0, 14), self.cross + QPointF(0, 14))

    def _paint_selected(self, painter) -> None:
        if not self.selected:
            return
        lines = self.view.to_pixels(self.drawing.row_lines(self.selected))
        room = (self.view.width, self.view.height)
        lines = lines[((lines.min(axis=1) <= room) & (lines.max(axis=1) >= 0)).all(axis=1)]
        many = len(lines) > _MANY_SELECTED
        pen = QPen(self.theme["accent"], 0.0 if many else 2.4)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, not many)
        painter.drawLines(polygon_from(lines.reshape(-1, 2)))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)

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
            backdrop=self.backdrop,
            terrain=self.terrain,
            layer=self.water or self.planting,
            overlay=self.overlay,
            unit=self.unit,
            room=self.free_room(),
        )
        if rough:
            self._rest.start()
        else:
            self._fine_cost_s = time.perf_counter() - began
        self._at_rest = False
        return picture

    def free_room(self) -> QRectF:
        """What the cards leave free."""
        left, top, right, bottom = self.margins
        return QRectF(left, top, self.width() - left - right, self.height() - top - bottom)

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
        lines = self.view.to_pixels(self.drawing.row_lines([self.pointed]))
        painter.setPen(QPen(self.theme["accent"], 2.4))
        painter.drawLines(polygon_from(lines.reshape(-1, 2)))

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
        label = unit_label(self.unit)
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
