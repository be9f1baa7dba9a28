"""Drip water on the plan: vines by their share of the flow, pipes by width, valves, the source."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QColor,
    QFontMetrics,
    QImage,
    QPainter,
    QPainterPath,
    QPainterPathStroker,
    QPen,
    QPolygonF,
)

from ..session.view import View
from .look import SANS, Theme, typeface
from .painting import _dots, _mixed, _splat, polygon_from

if TYPE_CHECKING:
    from ..session.water_drawing import WaterDrawing

_MARKS_AT_MOST = 150_000
"""Of vines that get what is usual, no more than these are drawn at once: they lie on one another."""
_VALVE_PX, _VALVES_NAMED = 9.5, 120
_RING_PX = 15.0
"""Width of the ring round a stretch of vines that get too little or too much. [px]"""
_PIPE_PX = (2.4, 6.6)
"""The thinnest and the widest pipe. [px]"""
_GAP_PX = 26.0
"""Valves nearer than this have no number. [px]"""


class WaterLayer:
    """A drip system ready to be painted: vines that get too little or too much lie on top.

    Parameters
    ----------
    drawing : WaterDrawing
    stretches : sequence of ((2, 2) array, str)
        Vines to be ringed, from the first to the last, and what stands beside them. [m]
    """

    def __init__(self, drawing: WaterDrawing, stretches=()):
        self.drawing, self.stretches = drawing, tuple(stretches)
        self.usual = usual_step(drawing.ramp)
        away = np.abs(drawing.vine_class.astype(np.int8) - np.int8(self.usual))
        away[drawing.vine_class < 0] = len(drawing.ramp)  # those without water above all
        order = np.argsort(away, kind="stable")
        self.n_usual = int(np.count_nonzero(away == 0))
        self.xy_m = drawing.vine_xy_m[order]
        self.step = drawing.vine_class[order].astype(np.intp)
        self.sizes_mm = sorted({float(mm) for mm in (*drawing.submain_mm, *drawing.main_mm)})
        self.has_dry = bool((drawing.vine_class < 0).any())

    def seen(self, view: View) -> tuple[np.ndarray, np.ndarray, int]:
        """Vines in view, the step of each, and how many of the first get what is usual; thinned."""
        x0, y0, x1, y1 = view.bounds_m
        x, y = self.xy_m.T
        inside = (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
        n = int(np.count_nonzero(inside[: self.n_usual]))
        which = np.flatnonzero(inside)
        if n > _MARKS_AT_MOST:
            usual = which[: n : math.ceil(n / _MARKS_AT_MOST)]
            which, n = np.concatenate([usual, which[n:]]), len(usual)
        return self.xy_m[which], self.step[which], n

    def paint_dots(self, image: QImage, view: View, theme: Theme, spacing_px: float) -> None:
        paint_dots(image, view, self, theme, spacing_px)

    def paint_vines(self, painter: QPainter, view: View, theme: Theme, spacing_px: float) -> None:
        paint_vines(painter, view, self, theme, spacing_px)

    def paint_over(self, painter, view: View, theme: Theme, *, rough: bool, taken, room) -> None:
        """Pipes, valves and the rings of the worst stretches."""
        paint_pipes(painter, view, self, theme, rough)
        paint_valves(painter, view, self, theme, taken, room)
        paint_rings(painter, view, self, theme, taken)


def usual_step(ramp) -> int:
    """The step of a ramp that holds 100 %."""
    for i, step in enumerate(ramp):
        low = -math.inf if step.low_pct is None else step.low_pct
        high = math.inf if step.high_pct is None else step.high_pct
        if low <= 100 < high:
            return i
    return len(ramp) // 2


def ramp_colours(theme: Theme, ramp) -> list[QColor]:
    """A colour a step: from warm for little over a quiet grey to blue for much; one more for none.

    The quiet one is lighter (on lamp darker) than both ends, so that steps part for colour-blind
    eyes too; little also shows by its form, see `paint_vines`.
    """
    n, usual = len(ramp), usual_step(ramp)
    quiet = _mixed(theme["soft_ink"], theme["block"], 0.42)
    below = [_mixed(theme["accent"], quiet, _strength(usual - i, usual)) for i in range(usual)]
    above = [
        _mixed(theme["water"], quiet, _strength(i - usual, n - 1 - usual))
        for i in range(usual + 1, n)
    ]
    return [*below, quiet, *above, theme["ink"]]


def _strength(steps: int, of: int) -> float:
    return 1.0 if of < 2 else 0.4 + 0.6 * (steps - 1) / (of - 1)


def paint_dots(image: QImage, view: View, layer: WaterLayer, theme: Theme, spacing_px: float):
    """Vines as square dots straight into the image; those that get too little or too much larger."""
    values = np.array([c.rgba() for c in ramp_colours(theme, layer.drawing.ramp)], np.uint32)
    xy, step, n = layer.seen(view)
    wide = max(spacing_px, 4.5)
    _splat(image, view, xy[:n], values[layer.usual], wide)
    _splat(image, view, xy[n:], values[step[n:]], max(1.5 * spacing_px, 7.0))


def paint_vines(painter: QPainter, view: View, layer: WaterLayer, theme: Theme, spacing_px: float):
    """Vines as round marks: full ones, hollow where they get too little."""
    xy, step, _ = layer.seen(view)
    px = view.to_pixels(xy)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    size = min(max(spacing_px * 0.36, 4.0), 15.0)
    colours, n = ramp_colours(theme, layer.drawing.ramp), len(layer.drawing.ramp)
    for which, colour in enumerate(colours):
        mine = px[step == (which if which < n else -1)]
        if not len(mine):
            continue
        _dots(painter, mine, colour, size, Qt.PenCapStyle.RoundCap)
        if which < layer.usual or which == n:
            _dots(painter, mine, theme["block"], 0.45 * size, Qt.PenCapStyle.RoundCap)


def paint_pipes(painter: QPainter, view: View, layer: WaterLayer, theme: Theme, rough: bool):
    """Mains dashed, submains as wide as they are, over rows and vines."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, not rough)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    drawing = layer.drawing
    for lines, sizes, pen in (
        (drawing.mains, drawing.main_mm, main_pen(theme)),
        (drawing.submains, drawing.submain_mm, _solid(theme["water"])),
    ):
        px = [polygon_from(view.to_pixels(np.asarray(xy, float))) for xy in lines]
        wide = [pipe_px(layer.sizes_mm, mm) for mm in sizes]
        _stroke(painter, list(zip(px, wide, strict=True)), theme, pen)


def _solid(colour: QColor) -> QPen:
    pen = QPen(colour)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen


def main_pen(theme: Theme) -> QPen:
    """How mains are drawn: water, darkened, in dashes."""
    pen = _solid(_mixed(theme["water"], theme["ink"], 0.6))
    pen.setDashPattern([3.0, 1.4])
    pen.setWidthF(3.0)
    return pen


def pipe_px(sizes_mm: list[float], mm: float) -> float:
    """How wide a pipe is drawn, by where its diameter stands among those there are. [px]"""
    low, high = _PIPE_PX
    if len(sizes_mm) < 2:
        return (low + high) / 2
    return low + (high - low) * sizes_mm.index(float(mm)) / (len(sizes_mm) - 1)


def _stroke(painter, lines, theme, pen: QPen) -> None:
    casing = _solid(theme["block"])
    for line, width in lines:
        casing.setWidthF(width + 2.6)
        painter.setPen(casing)
        painter.drawPolyline(line)
    for line, width in lines:
        pen.setWidthF(width)
        painter.setPen(pen)
        painter.drawPolyline(line)


def paint_rings(painter: QPainter, view: View, layer: WaterLayer, theme: Theme, taken):
    """Stretches of vines that get too little or too much: ringed, with their share beside them."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    frame = QRectF(-40, -40, view.width + 80, view.height + 80)
    for ends, text in layer.stretches:
        (x0, y0), (x1, y1) = view.to_pixels(np.asarray(ends, float)).tolist()
        if not frame.intersects(
            QRectF(min(x0, x1), min(y0, y1), 1, 1).united(QRectF(x1, y1, 1, 1))
        ):
            continue
        path = QPainterPath(QPointF(x0, y0))
        path.lineTo(x1 + 0.01, y1)
        stroker = QPainterPathStroker()
        stroker.setWidth(_RING_PX)
        stroker.setCapStyle(Qt.PenCapStyle.RoundCap)
        ring = stroker.createStroke(path).simplified()
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for colour, width in ((theme["block"], 3.6), (theme["caution"], 1.8)):
            painter.setPen(QPen(colour, width))
            painter.drawPath(ring)
        _name(painter, QPointF(x1, y1), QPointF(x1 - x0, y1 - y0), text, theme, taken)


def _name(painter, at: QPointF, along: QPointF, text: str, theme, taken) -> None:
    """Words beyond the end of a ring, or beside it where others stand there already."""
    font = typeface(SANS, 12, strong=True)
    metrics = QFontMetrics(font)
    wide, length = metrics.horizontalAdvance(text), math.hypot(along.x(), along.y()) or 1.0
    out = QPointF(along.x() / length, along.y() / length)
    aside = QPointF(-out.y(), out.x())
    for way in (out, aside, -aside):
        reach = _RING_PX / 2 + 6 + abs(way.x()) * wide / 2 + abs(way.y()) * 7
        box = QRectF(0, 0, wide + 6, 17)
        box.moveCenter(at + way * reach)
        if any(box.intersects(other) for other in taken):
            continue
        taken.append(box)
        path = QPainterPath()
        path.addText(box.left() + 3, box.center().y() + metrics.capHeight() / 2, font, text)
        painter.strokePath(path, QPen(theme["block"], 4.0))
        painter.fillPath(path, theme["caution"])
        return


def paint_valves(
    painter: QPainter, view: View, layer: WaterLayer, theme: Theme, taken, room: QRectF
):
    """Valves with the numbers of their sets, and the source, named on the side where there is room."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    drawing = layer.drawing
    valves = np.asarray(drawing.valves, float).reshape(-1, 2)
    font = typeface(SANS, 11, strong=True)
    painter.setFont(font)
    metrics = QFontMetrics(font)
    named: list[QPointF] = []
    source = QPointF(*view.to_pixels(np.asarray(drawing.source, float)).tolist())
    for (x, y), label in zip(view.to_pixels(valves).tolist(), drawing.valve_labels, strict=True):
        at = QPointF(x, y)
        crowded = any(math.hypot(at.x() - o.x(), at.y() - o.y()) < _GAP_PX for o in named)
        if crowded or len(named) >= _VALVES_NAMED:
            painter.setPen(QPen(theme["water"], 1.6))
            painter.setBrush(theme["panel"])
            painter.drawEllipse(at, 4.0, 4.0)
            continue
        named.append(at)
        wide = max(metrics.horizontalAdvance(label) + 9.0, 2 * _VALVE_PX)
        box = QRectF(x - wide / 2, y - _VALVE_PX, wide, 2 * _VALVE_PX)
        taken.append(box)
        painter.setPen(QPen(theme["water"], 2.0))
        painter.setBrush(theme["panel"])
        painter.drawRoundedRect(box, _VALVE_PX, _VALVE_PX)
        painter.setPen(theme["ink"])
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, label)
    if len(valves):
        _paint_source(painter, source, theme, taken, room)


def _paint_source(painter, at: QPointF, theme, taken, room: QRectF) -> None:
    paint_source_sign(painter, at, theme, 9.0)
    font = typeface(SANS, 12, strong=True)
    wide = QFontMetrics(font).horizontalAdvance("Source")
    left = at.x() + 14 if at.x() + 18 + wide <= room.right() else at.x() - 14 - wide
    taken.append(QRectF(min(left, at.x() - 11) - 2, at.y() - 11, wide + 30, 22))
    path = QPainterPath()
    path.addText(left, at.y() + 4.5, font, "Source")
    painter.strokePath(path, QPen(theme["ground"], 4.0))
    painter.fillPath(path, theme["water"])


def paint_source_sign(painter: QPainter, at: QPointF, theme: Theme, size: float) -> None:
    """A square on its corner, with a point in it."""
    corners = [QPointF(0, -size), QPointF(size, 0), QPointF(0, size), QPointF(-size, 0)]
    painter.setPen(QPen(theme["panel"], 1.8))
    painter.setBrush(theme["water"])
    painter.drawPolygon(QPolygonF([at + c for c in corners]))
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme["panel"])
    painter.drawEllipse(at, 0.25 * size, 0.25 * size)
