"""The plan on a sheet: the layers of the canvas in millimetres, north, scale bar and legend."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QFont, QPainter, QPainterPath, QPen

from ..session.drawing import Drawing
from ..session.sheet import STRIP_MM, Box, Sheet
from ..session.view import View
from . import painting
from .look import SANS, SERIF, typeface
from .sheet_text import ON_WHITE, PER_MM, face, lines_of, paint_word
from .terrain_painting import earth, paint_contours, paint_heights

_HATCH = 7.0  # apart, in units


def _view_of(sheet: Sheet) -> View:
    """The plan's frame as a view whose pixels are units of the sheet."""
    box = sheet.plan
    scale = sheet.scale.on_paper_mm(1.0) * PER_MM
    return View(*sheet.centre_m, scale, box.width_mm * PER_MM, box.height_mm * PER_MM)


def _rect(box: Box) -> QRectF:
    return QRectF(
        box.x_mm * PER_MM, box.y_mm * PER_MM, box.width_mm * PER_MM, box.height_mm * PER_MM
    )


def paint_frame(painter: QPainter, sheet: Sheet, drawing: Drawing) -> None:
    """The layers of the canvas, clipped to the plan's frame, and the frame."""
    frame = _rect(sheet.plan)
    view = _view_of(sheet)
    painter.save()
    painter.setClipRect(frame)
    painter.translate(frame.topLeft())
    _paint_areas(painter, view, drawing)
    if sheet.ground is not None:
        paint_contours(painter, view, sheet.ground, ON_WHITE, on_paper=True)
    _paint_rows(painter, view, drawing)
    painting._paint_posts(painter, view, drawing, ON_WHITE)
    painting._paint_lines(painter, view, drawing, ON_WHITE, False)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    taken = _paint_labels(painter, view, drawing, sheet)
    if sheet.ground is not None:
        paint_heights(painter, view, sheet.ground, ON_WHITE, sheet.unit, taken)
    painter.restore()
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(ON_WHITE["soft_ink"], 1.0))
    painter.drawRect(frame)


_FILLS = {"water": ("water_fill", "water"), "exclusion": ("hairline", "soft_ink")}


def _paint_areas(painter: QPainter, view: View, drawing: Drawing) -> None:
    """Areas with hatches drawn as lines: a pattern brush has the device's own pitch."""
    for area in drawing.areas:
        path = painting._path([view.to_pixels(ring) for ring in area.rings_m])
        if area.role == "clear":
            _hatch(painter, path, 1.0)
        elif area.role == "kept clear":
            painter.fillPath(path, ON_WHITE["block"])
            _hatch(painter, path, -1.0)
        elif area.role in _FILLS:
            fill, edge = _FILLS[area.role]
            painter.fillPath(path, ON_WHITE[fill])
            painter.strokePath(path, QPen(ON_WHITE[edge], 1.2))


def _paint_rows(painter: QPainter, view: View, drawing: Drawing) -> None:
    """Every row as a line, thinner where rows are close: paper shows what a screen cannot."""
    ends = view.to_pixels(drawing.rows_within(view.bounds_m))
    spacing = min((p.rules.row_spacing_m for p in drawing.answer.plans), default=1.0) * view.scale
    painter.setPen(QPen(ON_WHITE["row"], min(1.0, 0.25 * spacing)))
    painter.drawLines(painting.polygon_from(ends.reshape(-1, 2)))


def _hatch(painter: QPainter, path: QPainterPath, slope: float) -> None:
    box = path.boundingRect()
    painter.save()
    painter.setClipPath(path, Qt.ClipOperation.IntersectClip)
    painter.setPen(QPen(ON_WHITE["hatch"], 0.7))
    across = np.arange(box.left() - box.height(), box.right() + box.height(), _HATCH)
    lean = slope * box.height() / 2
    lines = np.empty((len(across), 2, 2))
    lines[:, 0] = np.column_stack([across - lean, np.full(len(across), box.bottom())])
    lines[:, 1] = np.column_stack([across + lean, np.full(len(across), box.top())])
    painter.drawLines(painting.polygon_from(lines.reshape(-1, 2)))
    painter.restore()


def _paint_labels(painter: QPainter, view: View, drawing: Drawing, sheet: Sheet) -> list[QRectF]:
    """Block names, and row numbers at both ends of the rows, none over another; where they are."""
    frame = QRectF(0, 0, view.width, view.height)
    taken: list[QRectF] = []

    def put(text: str, x: float, y: float, font: QFont) -> None:
        path = QPainterPath()
        path.addText(QPointF(0, 0), font, text)
        path.translate(QPointF(x, y) - path.boundingRect().center())
        box = path.boundingRect().adjusted(-2.5, -2, 2.5, 2)
        if not frame.contains(box) or any(box.intersects(other) for other in taken):
            return
        taken.append(box)
        painter.strokePath(path, halo)
        painter.fillPath(path, ON_WHITE["ink"])

    halo = QPen(ON_WHITE["ground"], 4.0)
    halo.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    name_font, number_font = typeface(SERIF, 26, strong=True), typeface(SANS, 12, strong=True)
    for name, x_m, y_m in sheet.names:
        put(name, *view.to_pixels(np.array([x_m, y_m])).tolist(), name_font)
    for plan in drawing.answer.plans:
        if plan.n_segments:
            for numbers, places in painting._label_places(view, drawing, plan):
                for number, (x, y) in zip(numbers.tolist(), places.tolist(), strict=True):
                    put(str(number), x, y, number_font)
    return taken


def paint_strip(painter: QPainter, sheet: Sheet, drawing: Drawing) -> None:
    """North arrow, scale bar and legend under the plan."""
    frame, scale = _rect(sheet.plan), sheet.scale.on_paper_mm(1.0) * PER_MM
    top, middle = frame.bottom(), frame.bottom() + 6.5 * PER_MM
    ink = ON_WHITE["ink"]
    x = frame.left() + 3 * PER_MM
    arrow = QPainterPath(QPointF(x, top + 2 * PER_MM))
    for dx, dy in ((2.2, 11.0), (0.0, 8.6), (-2.2, 11.0)):
        arrow.lineTo(x + dx * PER_MM, top + dy * PER_MM)
    arrow.closeSubpath()
    painter.fillPath(arrow, ink)
    font = face(SANS, 13)
    x = paint_word(painter, "True north", x + 4 * PER_MM, middle, font) + 7 * PER_MM
    painter.setPen(QPen(ink, 1.2))
    painter.setBrush(ink)
    half = sheet.bar.length_mm * PER_MM / 2
    painter.drawRect(QRectF(x, middle - 3, half, 6))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(QRectF(x + half, middle - 3, half, 6))
    x = paint_word(painter, sheet.bar.label, x + 2 * half + 2 * PER_MM, middle, font) + 6 * PER_MM
    room = QRectF(x, top + 0.5 * PER_MM, frame.right() - x, (STRIP_MM - 0.5) * PER_MM)
    contours = sheet.ground is not None and bool(sheet.ground.details)
    _paint_legend(painter, room, _legend(drawing, scale, contours))


_SIGNS = (
    ("clear", "clear strip"),
    ("kept clear", "kept clear"),
    ("water", "water"),
    ("exclusion", "exclusion"),
    ("danger line", "line to keep from"),
    ("exclusion line", "line kept clear"),
    ("exclusion point", "point kept clear"),
    ("left out", "left out"),
    ("guide", "guide line"),
)
_SIGN_LINES = {
    "contour": ("caution", 1.0, Qt.PenStyle.SolidLine),  # in its colour of earth
    "row": ("row", 1.2, Qt.PenStyle.SolidLine),
    "danger line": ("caution", 1.6, Qt.PenStyle.DashLine),
    "exclusion line": ("soft_ink", 1.4, Qt.PenStyle.SolidLine),
    "left out": ("soft_ink", 1.2, Qt.PenStyle.DotLine),
    "guide": ("accent", 1.6, Qt.PenStyle.DashDotLine),
}
_SIGN_DOTS = {"end post": "ink", "line post": "soft_ink", "anchor": "caution"}
_ALL_POSTS_FROM = 2.5
"""Units a metre from which the plan's painting shows line posts and anchors."""


def _legend(drawing: Drawing, scale: float, contours: bool = False) -> list[tuple[str, str]]:
    """Signs of what is on the plan, and their words."""
    roles = {part.role for part in (*drawing.areas, *drawing.lines, *drawing.spots)}
    roles |= {"left out"} if len(drawing.left_out_m) else set()
    plans = drawing.answer.plans
    posts = [("end post", "end post")]
    if scale >= _ALL_POSTS_FROM:
        posts += [("line post", "line post")] if any(len(p.line_posts) for p in plans) else []
        posts += [("anchor", "anchor")] if any(len(p.anchors) for p in plans) else []
    heights = [("contour", "contour")] if contours else []
    return [("row", "row"), *posts, *heights, *(sign for sign in _SIGNS if sign[0] in roles)]


def _paint_legend(painter: QPainter, room: QRectF, signs: list[tuple[str, str]]) -> None:
    """What the marks are, in lines; smaller where they would not fit the room."""
    for size in (13, 11, 9, 7):
        font, by = face(SANS, size), size / 13 * PER_MM
        lines = _legend_lines(signs, font, by, room.width())
        step = 4.2 * by
        if step * len(lines) <= room.height():
            break
    y = room.center().y() - step * (len(lines) - 1) / 2
    for line in lines:
        for x, mark, words in line:
            box = QRectF(room.left() + x, y - 1.3 * by, 5.5 * by, 2.6 * by)
            _paint_sign(painter, box, mark)
            paint_word(painter, words, box.right() + 1.5 * by, y, font)
        y += step


def _legend_lines(signs, font: QFont, by: float, wide: float) -> list[list[tuple[float, str, str]]]:
    """Signs with their places from the left, line by line."""
    x, lines = 0.0, [[]]
    for mark, words in signs:
        needs = 7 * by + lines_of(words, font, 1e6)[0].width
        if x + needs > wide and lines[-1]:
            x = 0.0
            lines.append([])
        lines[-1].append((x, mark, words))
        x += needs + 3 * by
    return lines


def _paint_sign(painter: QPainter, box: QRectF, mark: str) -> None:
    path, middle = QPainterPath(), box.center()
    path.addRect(box)
    if mark in ("clear", "kept clear"):
        _hatch(painter, path, 1.0 if mark == "clear" else -1.0)
    elif mark in _FILLS:
        fill, edge = _FILLS[mark]
        painter.fillPath(path, ON_WHITE[fill])
        painter.strokePath(path, QPen(ON_WHITE[edge], 1.0))
    elif mark == "exclusion point":
        painter.setPen(QPen(ON_WHITE["soft_ink"], 2.2))
        painter.drawEllipse(middle, 3.4, 3.4)
    elif mark in _SIGN_DOTS:
        painter.fillRect(
            QRectF(middle.x() - 1.7, middle.y() - 1.7, 3.4, 3.4), ON_WHITE[_SIGN_DOTS[mark]]
        )
    else:
        colour, width, style = _SIGN_LINES[mark]
        ink = earth(ON_WHITE) if mark == "contour" else ON_WHITE[colour]
        painter.setPen(QPen(ink, width, style))
        painter.drawLine(QPointF(box.left(), middle.y()), QPointF(box.right(), middle.y()))
