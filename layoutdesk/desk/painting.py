"""The canvas as a back end of the drawing: arrays to pixels, with a level of detail for each scale."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import (
    QBrush,
    QColor,
    QFontMetrics,
    QImage,
    QPainter,
    QPainterPath,
    QPen,
    QPolygonF,
)
from shiboken6 import VoidPtr

from ..core.layout.looking import way_out
from ..session.drawing import Drawing, points_near_other_blocks
from ..session.view import View
from .look import SANS, Theme, typeface

ROWS_ALONE_PX = 2.5
"""Under so many pixels between vines rows are drawn without vines. [px]"""
ROUND_MARKS_PX = 9.0
"""From so many pixels between vines they are round marks, below they are dots. [px]"""
ROUGH_MARKS_PX = 24.0
"""The same while a hand moves. [px]"""
_ANTIALIASED_PX = 450_000.0
"""Rows are drawn smoothly while they come to no more than so many device pixels. [px]"""
_LABELS_AT_MOST = 90
_OUTLINE_REACH_M = 60.0
_DOTTED_AT_MOST = 80
"""More rows left out than these are thin lines: dots are dear."""
_USUAL_PX = 1.6e6
"""Pixels of the picture the limits above are for; a larger one has fewer marks to each vine."""


def polygon_from(xy_px: np.ndarray) -> QPolygonF:
    """A Qt polygon from (n, 2) pixels, filled by one copy."""
    polygon = QPolygonF()
    polygon.resize(len(xy_px))
    if len(xy_px):
        memory = VoidPtr(polygon.data(), 16 * len(xy_px), True)
        np.frombuffer(memory, dtype=np.float64).reshape(-1, 2)[:] = xy_px
    return polygon


def _path(rings_px) -> QPainterPath:
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.OddEvenFill)
    for ring in rings_px:
        path.addPolygon(polygon_from(ring))
        path.closeSubpath()
    return path


def _pen(colour: QColor, width: float = 1.0, style=Qt.PenStyle.SolidLine) -> QPen:
    pen = QPen(colour, width, style)
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen


def _mixed(colour: QColor, ground: QColor, share: float) -> QColor:
    """A colour thinned with what lies under it; opaque, so cheaper to draw than a see-through one."""
    a, b = colour.getRgbF()[:3], ground.getRgbF()[:3]
    return QColor.fromRgbF(*(x * share + y * (1 - share) for x, y in zip(a, b, strict=True)))


def paint_plan(
    image: QImage,
    view: View,
    drawing: Drawing | None,
    theme: Theme,
    *,
    rough: bool = False,
    kept_free: tuple[QRectF, ...] = (),
    backdrop=None,
    terrain=None,
    layer=None,
    overlay=None,
    unit: str = "m",
    room: QRectF | None = None,
) -> None:
    """Paint the plan into an image whose device pixel ratio is set; logical pixels match the view.

    `rough` leaves out smooth edges on rows and marks, for a hand that still moves. No label is put
    into the rectangles `kept_free`. `backdrop` is (picture, bounds, opacity), put under all;
    `terrain` (TerrainPicture, its relief as an image or None), put on the ground; their heights in
    `unit`; `layer` (a WaterLayer, a PlantingLayer) has vines coloured by what is known of them, whatever
    the scale, and what lies over them; `overlay` (a PointsLayer, an ArrowLayer) is put over all lines. `room`
    is what cards leave free.
    """
    image.fill(theme["ground"])
    if drawing is None:
        return
    room = room or QRectF(0, 0, view.width, view.height)
    painter = QPainter(image)
    over = backdrop is not None
    if over:
        _paint_backdrop(painter, view, backdrop)
    _paint_areas(painter, view, drawing, theme, rough, see_through=over)
    if terrain is not None:
        from .terrain_painting import paint_contours, paint_heights, paint_relief

        picture, relief = terrain
        if relief is not None:
            paint_relief(painter, view, relief, picture.bounds_m, rough)
        paint_contours(painter, view, picture, theme, rough=rough)
    ratio, faint = image.devicePixelRatio(), layer is not None
    _paint_rows(painter, view, drawing, theme, rough, ratio, over, faint)
    spacing_px = _least_vine_spacing_m(drawing) * view.scale
    larger = max(1.0, float(np.sqrt(view.width * view.height / _USUAL_PX)))
    as_dots = spacing_px < (ROUGH_MARKS_PX if rough else ROUND_MARKS_PX * larger)
    if as_dots and (layer is not None or spacing_px >= ROWS_ALONE_PX * min(larger, 1.6)):
        painter.end()
        if layer is not None:
            layer.paint_dots(image, view, theme, spacing_px)
        else:
            vines = drawing.vines_within(view.bounds_m)
            _splat(image, view, vines, np.uint32(theme["row"].rgba()), spacing_px)
        painter = QPainter(image)
    _paint_posts(painter, view, drawing, theme)
    if layer is not None and not as_dots:
        layer.paint_vines(painter, view, theme, spacing_px)
    elif not as_dots:
        _paint_vines(painter, view, drawing, theme, spacing_px)
    _paint_lines(painter, view, drawing, theme, rough)
    taken = list(kept_free)
    if layer is not None:
        layer.paint_over(painter, view, theme, rough=rough, taken=taken, room=room)
    if overlay is not None:
        overlay.paint_over(painter, view, theme, rough=rough, taken=taken, room=room)
    _paint_labels(painter, view, drawing, theme, rough, taken)
    if terrain is not None and not rough:
        paint_heights(painter, view, terrain[0], theme, unit, taken)
    painter.end()


def _least_vine_spacing_m(drawing: Drawing) -> float:
    return min((p.rules.vine_spacing_m for p in drawing.answer.plans), default=1.0)


def _paint_backdrop(painter, view, backdrop) -> None:
    picture, (x0, y0, x1, y1), opacity = backdrop
    left, top = view.to_pixels(np.array([x0, y1])).tolist()
    right, bottom = view.to_pixels(np.array([x1, y0])).tolist()
    painter.setOpacity(opacity)
    painter.setRenderHint(QPainter.RenderHint.SmoothPixmapTransform, True)
    painter.drawImage(QRectF(left, top, right - left, bottom - top), picture)
    painter.setOpacity(1.0)


def _paint_areas(painter, view, drawing, theme, rough, see_through=False) -> None:
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, not rough)
    painter.setPen(Qt.PenStyle.NoPen)
    styles = {
        "block": [] if see_through else [QBrush(theme["block"])],
        "clear": [QBrush(theme["hatch"], Qt.BrushStyle.BDiagPattern)],
        "kept clear": [
            QBrush(theme["block"]),
            QBrush(theme["hatch"], Qt.BrushStyle.FDiagPattern),
        ],
        "water": [QBrush(theme["water_fill"])],
        "exclusion": [QBrush(theme["hairline"])],
    }
    for area in drawing.areas:
        path = _path([view.to_pixels(r) for r in area.rings_m])
        for brush in styles[area.role]:
            painter.fillPath(path, brush)
        if area.role in ("water", "exclusion"):
            edge = theme["water" if area.role == "water" else "soft_ink"]
            painter.strokePath(path, _pen(edge, 0.0 if rough else 1.2))


def _paint_rows(painter, view, drawing, theme, rough, ratio: float, over: bool, faint=False):
    """Rows as lines; `faint` where vines on them have colours of their own."""
    ends = view.to_pixels(drawing.rows_within(view.bounds_m)).reshape(-1, 4)
    if not len(ends):
        return
    spacing = drawing.row_spacing_m * view.scale
    across = float(np.hypot(view.width, view.height))
    seen = np.minimum(np.hypot(*(ends[:, 2:] - ends[:, :2]).T), across).sum()
    smooth = bool(not rough and seen * ratio * ratio <= _ANTIALIASED_PX)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, smooth)
    # Close rows are to read as a tone, not a block; over a picture they need all their strength.
    strength = 1.0 if over else min(1.0, max(0.35, spacing / 5))
    strength *= 0.4 if faint else 1.0
    colour = _mixed(theme["row"], theme["block"], strength)
    painter.setPen(_pen(colour, 0.0 if rough else 1.0 if spacing < 24 else 1.4))
    painter.drawLines(polygon_from(ends.reshape(-1, 2)))


def _splat(image: QImage, view: View, xy_m: np.ndarray, value, spacing_px: float) -> None:
    """Vines as square dots, straight into the image's memory.

    `value` is Qt's number of a colour, one for all or one each: the last on a place stays.
    """
    at, seen = _splat_places(image, view, xy_m, spacing_px)
    _splat_at(image, at, value[seen] if np.ndim(value) else value, spacing_px)


def _splat_size(image: QImage, spacing_px: float) -> int:
    return int(np.clip(round(0.35 * spacing_px * image.devicePixelRatio()), 1, 7))


def _splat_places(image: QImage, view: View, xy_m: np.ndarray, spacing_px: float):
    """Where dots begin in the image's memory, and which of the vines have one."""
    px = (view.to_pixels(xy_m) * image.devicePixelRatio()).astype(np.int32)
    size = _splat_size(image, spacing_px)
    x, y = px[:, 0] - size // 2, px[:, 1] - size // 2
    seen = (x >= 0) & (x < image.width() - size) & (y >= 0) & (y < image.height() - size)
    return y[seen].astype(np.int64) * (image.bytesPerLine() // 4) + x[seen], seen


def _splat_at(image: QImage, at: np.ndarray, value, spacing_px: float) -> None:
    pixels = np.frombuffer(image.bits(), dtype=np.uint32)
    size = _splat_size(image, spacing_px)
    for down in range(size):
        for right in range(size):
            pixels[at + down * (image.bytesPerLine() // 4) + right] = value


def _dots(painter, xy_px, colour, width, cap) -> None:
    pen = QPen(colour, width)
    pen.setCapStyle(cap)
    painter.setPen(pen)
    painter.drawPoints(polygon_from(xy_px))


def _paint_vines(painter, view, drawing, theme, spacing_px) -> None:
    vines = view.to_pixels(drawing.vines_within(view.bounds_m))
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    size = min(max(spacing_px * 0.3, 3.0), 13.0)
    _dots(painter, vines, theme["row"], size, Qt.PenCapStyle.RoundCap)


def _paint_posts(painter, view, drawing, theme) -> None:
    if view.scale < 0.35:
        return
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    size = min(max(view.scale * 0.55, 2.0), 9.0)
    square = Qt.PenCapStyle.SquareCap
    if view.scale >= 2.5:
        posts = view.to_pixels(drawing.marks_within("line_posts", view.bounds_m))
        _dots(painter, posts, theme["soft_ink"], size * 0.7, square)
    ends = view.to_pixels(drawing.marks_within("end_posts", view.bounds_m))
    _dots(painter, ends, theme["ink"], size, square)
    if view.scale >= 2.5:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        anchors = view.to_pixels(drawing.marks_within("anchors", view.bounds_m))
        _dots(painter, anchors, theme["caution"], size * 0.9, Qt.PenCapStyle.RoundCap)


def _paint_lines(painter, view, drawing, theme, rough) -> None:
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, not rough)
    painter.setBrush(Qt.BrushStyle.NoBrush)
    out = view.to_pixels(drawing.left_out_m)
    if len(out):
        few = len(out) <= _DOTTED_AT_MOST and not rough
        style = Qt.PenStyle.DotLine if few else Qt.PenStyle.SolidLine
        painter.setPen(_pen(theme["soft_ink" if few else "hairline"], 0.0, style))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.drawLines(polygon_from(out.reshape(-1, 2)))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, not rough)
    styles = {
        "outline": _pen(theme["ink"], 1.7),
        "exclusion line": _pen(theme["soft_ink"], 1.4),
        "danger line": _pen(theme["caution"], 1.6, Qt.PenStyle.DashLine),
        "guide": _pen(theme["accent"], 1.6, Qt.PenStyle.DashDotLine),
    }
    for line in drawing.lines:
        painter.setPen(styles[line.role])
        points = polygon_from(view.to_pixels(line.xy_m))
        if line.closed:
            painter.drawPolygon(points)
        else:
            painter.drawPolyline(points)
    for spots in drawing.spots:
        xy = view.to_pixels(spots.xy_m)
        if spots.role == "gap":
            if view.scale >= 2.5:
                _dots(painter, xy, theme["soft_ink"], 7.0, Qt.PenCapStyle.RoundCap)
                _dots(painter, xy, theme["block"], 4.5, Qt.PenCapStyle.RoundCap)
            continue
        if spots.role == "alley":
            _dots(painter, xy, theme["accent"], 9.0, Qt.PenCapStyle.SquareCap)
            _dots(painter, xy, theme["block"], 5.0, Qt.PenCapStyle.SquareCap)
            continue
        _dots(painter, xy, theme["soft_ink"], 9.0, Qt.PenCapStyle.RoundCap)
        _dots(painter, xy, theme["block"], 4.5, Qt.PenCapStyle.RoundCap)


def _label_places(view: View, drawing: Drawing, plan):
    """Row numbers with room for them, and where their middles go: (numbers, (n, 2) pixels), per end.

    Past the outline while what lies between is a narrow strip, inside it once there is room.
    """
    s = plan.segments
    spacing_px = plan.rules.row_spacing_m * view.scale
    stride = next((k for k in (1, 2, 5, 10, 20, 50, 100, 200, 500) if k * spacing_px >= 30), 1000)
    wanted = (s.number % stride == 0) | (s.number == s.number[0]) | (s.number == s.number[-1])
    first, last = s.letter == 0, np.r_[s.line[1:] != s.line[:-1], True]
    for end, outermost in ((0, first), (1, last)):
        which = np.flatnonzero(outermost & wanted)
        ends = view.to_pixels(plan.segment_ends_m[which, end])
        near = (np.abs(ends - (view.width / 2, view.height / 2)) < (view.width, view.height)).all(
            axis=1
        )
        which, ends = which[near], ends[near]
        room, place, normal = way_out(plan, which, end, _OUTLINE_REACH_M)
        room_px = room * view.scale
        outside = room_px < 44
        anchor_px = plan.rules.anchor_m * view.scale
        inward = np.where(np.isnan(room_px), 22.0, np.minimum(room_px / 2, 44.0))
        inward = np.where(np.abs(inward - anchor_px) < 16, anchor_px + 20, inward)
        inside_at = ends + inward[:, None] * plan.outward[which, end] * (1, -1)
        outside_at = view.to_pixels(place) + 14 * normal * (1, -1)
        at = np.where(outside[:, None], outside_at, inside_at)
        free = ~_near_another(view, drawing, plan, at)
        yield s.number[which][free], at[free]


def _near_another(view: View, drawing: Drawing, plan, at_px) -> np.ndarray:
    """Whether labels would lie on or close to the ground of another block."""
    x = view.x_m + (at_px[:, 0] - view.width / 2) / view.scale
    y = view.y_m - (at_px[:, 1] - view.height / 2) / view.scale
    return points_near_other_blocks(drawing, plan, np.column_stack([x, y]), 16 / view.scale)


def _paint_labels(painter, view, drawing, theme, rough, taken) -> None:
    """Row numbers clear of both row ends, as many as have room; a rough picture has no halos.

    What is put down is added to `taken`.
    """
    font = typeface(SANS, 12, strong=True)
    metrics = QFontMetrics(font)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setFont(font)
    painter.setPen(theme["ink"])
    halo = QPen(theme["ground"], 4.0)
    halo.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    frame = QRectF(0, 0, view.width, view.height)
    for plan in drawing.answer.plans:
        if not len(plan.segments):
            continue
        for numbers, places in _label_places(view, drawing, plan):
            for number, (x, y) in zip(numbers.tolist(), places.tolist(), strict=True):
                text = str(number)
                width = metrics.horizontalAdvance(text)
                box = QRectF(x - width / 2 - 3, y - 8, width + 6, 16)
                if not frame.contains(box) or any(box.intersects(other) for other in taken):
                    continue
                if len(taken) >= _LABELS_AT_MOST:
                    return
                taken.append(box)
                at = QPointF(x - width / 2, y + metrics.ascent() / 2 - 1)
                if rough:
                    painter.drawText(at, text)
                    continue
                path = QPainterPath()
                path.addText(at, font, text)
                painter.strokePath(path, halo)
                painter.fillPath(path, theme["ink"])
