"""Contours, their heights and the relief, by a painter: on the canvas, small plans and sheets."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QByteArray, QDataStream, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QImage, QPainter, QPainterPath, QPen, QTransform

from ..session.terrain_picture import TerrainPicture
from ..session.view import View
from .look import SANS, Theme, typeface
from .painting import _mixed

_THIN, _STRONG = 0.75, 1.0
"""A pen wider than a device pixel takes ten times as long over a thousand pieces. [px]"""
_HEIGHT_PX = 11
_HEIGHTS_AT_MOST = 60


def relief_image(picture: TerrainPicture) -> QImage | None:
    """The relief as an image of its own."""
    if picture.relief is None:
        return None
    height, width = picture.relief.shape[:2]
    form = QImage.Format.Format_RGBA8888
    image = QImage(picture.relief.tobytes(), width, height, 4 * width, form)
    return image.convertToFormat(QImage.Format.Format_ARGB32_Premultiplied)


def earth(theme: Theme) -> QColor:
    """The colour of contours: earth, apart from the green of rows and the ink of outlines."""
    return _mixed(theme["caution"], theme["soft_ink"], 0.4)


def paint_relief(painter: QPainter, view: View, relief: QImage, bounds_m, rough: bool) -> None:
    x0, y0, x1, y1 = bounds_m
    left, top = view.to_pixels(np.array([x0, y1])).tolist()
    right, bottom = view.to_pixels(np.array([x1, y0])).tolist()
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, not rough)
    painter.drawImage(QRectF(left, top, right - left, bottom - top), relief)


def paint_contours(
    painter: QPainter,
    view: View,
    picture: TerrainPicture,
    theme: Theme,
    *,
    rough: bool = False,
    on_paper: bool = False,
) -> None:
    """Contours, the faint ones first; `on_paper` widths grow with the sheet."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, not rough)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    colour_of_earth, ratio = earth(theme), painter.device().devicePixelRatioF()
    for strong, shade, xy_px, first in picture.lines_px(view):
        colour = _mixed(colour_of_earth, theme["ground"], (0.85 if strong else 0.6) * shade)
        width = _STRONG if strong else _THIN
        pen = QPen(colour, 1.2 * width if on_paper else min(width * ratio, 1.0))
        pen.setCosmetic(not on_paper)
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        painter.drawPath(_path_of(xy_px, first))


_ELEMENT = np.dtype([("kind", ">i4"), ("x", ">f8"), ("y", ">f8")])


def _path_of(xy_px: np.ndarray, first: np.ndarray) -> QPainterPath:
    """Many lines as one path, read from memory in Qt's own form: a call a line takes twice as long."""
    elements = np.empty(len(xy_px), _ELEMENT)
    elements["kind"] = 1  # to be drawn to
    elements["kind"][first[:-1]] = 0  # to be moved to
    elements["x"], elements["y"] = xy_px.T
    count, last = np.array([len(xy_px)], ">i4"), np.array([first[-2], 0], ">i4")
    path = QPainterPath()
    stream = QDataStream(QByteArray(count.tobytes() + elements.tobytes() + last.tobytes()))
    stream >> path
    return path


def paint_heights(
    painter: QPainter,
    view: View,
    picture: TerrainPicture,
    theme: Theme,
    unit: str,
    taken: list[QRectF],
) -> None:
    """Heights along strong contours, readable from below, clear of what is in `taken`."""
    font = typeface(SANS, _HEIGHT_PX)
    metrics = QFontMetrics(font)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    frame = QRectF(0, 0, view.width, view.height)
    ink = _mixed(theme["ink"], earth(theme), 0.35)
    left = _HEIGHTS_AT_MOST
    for places in picture.height_places(view, unit):
        for place in places:
            wide, high = metrics.horizontalAdvance(place.text) + 5.0, _HEIGHT_PX + 3.0
            turned = QTransform().translate(place.x_px, place.y_px).rotate(place.turn_deg)
            box = turned.mapRect(QRectF(-wide / 2, -high / 2, wide, high))
            if not frame.contains(box) or any(box.intersects(other) for other in taken):
                continue
            taken.append(box)
            path = QPainterPath()
            base = metrics.capHeight() / 2
            path.addText(
                QPointF(-metrics.horizontalAdvance(place.text) / 2, base), font, place.text
            )
            path = turned.map(path)
            halo = QPen(theme["block" if place.inside else "ground"], 4.0)
            halo.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.strokePath(path, halo)
            painter.fillPath(path, ink)
            left -= 1
            break
        if not left:
            return
