"""What the hand-off stage paints over the plan: points that are handed off, arrows, control points."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPainterPath, QPen, QPolygonF

from ..core.model.handoff import POINT_KINDS
from ..session.view import View
from .look import SANS, Theme, typeface
from .painting import _dots, polygon_from

if TYPE_CHECKING:
    from ..session.hand_off_drawing import Arrows

_POINTS_AT_MOST = 30_000
"""More points in view are thinned evenly: they lie on one another."""
_HEAD_PX, _LEAST_PX = 9.0, 3.0
"""Length of an arrow's head; an arrow that is shorter than this is a dot. [px]"""
_HALF_ANGLE_DEG = 24.0
_HEADS_A_PATH = 50
"""A long path of triangles is slow to fill."""
_LABELS_AT_MOST = 40
_ROUND = ("vine", "outline", "exclusion")
"""Kinds that are round marks; posts and anchors are square ones."""


class PointsLayer:
    """Points as marks: squares for posts, discs for the others; control points as triangles with names.

    Parameters
    ----------
    xy_m : float array, shape (n, 2)
    kind : int array, shape (n,)
        Of POINT_KINDS.
    control : sequence of (str, float, float)
        Name and place. [m]
    """

    def __init__(self, xy_m: np.ndarray, kind: np.ndarray, control=()):
        n = len(kind)
        round_kinds = [POINT_KINDS.index(k) for k in _ROUND]
        is_control = kind == POINT_KINDS.index("control")
        is_round = np.isin(kind, round_kinds)
        self.round_m, self.square_m = xy_m[is_round], xy_m[~is_round & ~is_control]
        self.control = tuple(control)
        self.said = "No point is handed off" if not n else "Points that are handed off"
        self.signs = tuple(
            (sign, words)
            for sign, words, there in (
                ("square", "posts and anchors", len(self.square_m)),
                ("disc", "vines and corners", len(self.round_m)),
                ("control", "control points", len(self.control)),
            )
            if there
        )

    def said_in(self, view: View) -> str:
        """What is painted in a view."""
        return self.said

    def paint_over(self, painter, view: View, theme: Theme, *, rough: bool, taken, room) -> None:
        caps = Qt.PenCapStyle
        for xy_m, cap, least_px, role in (
            (self.round_m, caps.RoundCap, 1.0, "row"),  # a tone where they are close
            (self.square_m, caps.SquareCap, 2.0, "accent"),
        ):
            seen = _seen(view, xy_m)
            if len(seen) > _POINTS_AT_MOST:
                seen = seen[:: math.ceil(len(seen) / _POINTS_AT_MOST)]
            size = float(min(max(view.scale * 0.8, least_px), 9.0))
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, size > 4 and not rough)
            _dots(painter, view.to_pixels(seen), theme[role], size, cap)
        paint_control(painter, view, theme, self.control, taken, room)


class ArrowLayer:
    """Arrows over the plan: filled heads and the colour of caution beyond tolerance, open ones within.

    Parameters
    ----------
    arrows : Arrows or None
    control : sequence of (str, float, float)
        Control points to be marked. [m]
    beyond, within : str
        What the two kinds of arrows mean, for the legend.
    """

    def __init__(self, arrows: Arrows | None, control=(), *, beyond: str, within: str):
        self.arrows, self.control = arrows, tuple(control)
        named = {text.split(" ")[0] for text in (arrows.label if arrows is not None else ())}
        self.unlabelled = tuple((n if n not in named else "", x, y) for n, x, y in self.control)
        amiss = arrows.amiss if arrows is not None else np.empty(0, bool)
        self.said = arrows.said if arrows is not None else "Control points by what is known of them"
        signs = (
            ("filled", beyond, amiss.any()),
            ("open", within, len(amiss) and not amiss.all()),
            ("control", "control points", self.control),
        )
        self.signs = tuple((sign, words) for sign, words, there in signs if there)
        self._viewed: tuple[float, Arrows] | None = None

    def arrows_in(self, view: View) -> Arrows:
        """The arrows that are painted in a view."""
        from ..session.hand_off_drawing import in_view

        if self._viewed is None or self._viewed[0] != view.scale:
            self._viewed = view.scale, in_view(self.arrows, view.scale)
        return self._viewed[1]

    def said_in(self, view: View) -> str:
        """What is painted in a view, with the exaggeration of arrows there."""
        return self.said if self.arrows is None else self.arrows_in(view).said

    def paint_over(self, painter, view: View, theme: Theme, *, rough: bool, taken, room) -> None:
        marks: list[QRectF] = []  # words of an arrow may come close to the point it is of
        paint_control(painter, view, theme, self.unlabelled, marks, room)
        self._paint_arrows(painter, view, theme, rough, taken, room)
        taken += marks

    def _paint_arrows(self, painter, view: View, theme: Theme, rough: bool, taken, room) -> None:
        if self.arrows is None or not len(self.arrows.at_m):
            return
        arrows = self.arrows_in(view)
        begin, end = arrow_ends(view, arrows)
        inside = _near_view(view, begin, end)
        order = np.concatenate(
            [np.flatnonzero(inside & ~arrows.amiss), np.flatnonzero(inside & arrows.amiss)]
        )
        n = int(np.count_nonzero(inside & ~arrows.amiss))
        for which, colour, filled in (
            (order[:n], theme["soft_ink"], False),
            (order[n:], theme["caution"], True),
        ):
            paint_arrows(
                painter, begin[which], end[which], colour, theme, filled=filled, rough=rough
            )
        if not rough:
            self._paint_labels(painter, theme, arrows.label, begin, end, order[::-1], taken, room)

    def _paint_labels(self, painter, theme, labels, begin, end, order, taken, room) -> None:
        put = 0
        for i in order.tolist():
            text = labels[i]
            if text and put < _LABELS_AT_MOST:
                right = end[i, 0] >= begin[i, 0]
                put += _label(painter, end[i], text, theme, taken, room, right=right)


def arrow_ends(view: View, arrows: Arrows) -> tuple[np.ndarray, np.ndarray]:
    """(n, 2) each: where arrows begin and end on the canvas. [px]"""
    begin = view.to_pixels(arrows.at_m)
    step = arrows.step_m * (arrows.times * view.scale) * (1.0, -1.0)
    return begin, begin + step


def paint_arrows(painter, begin, end, colour: QColor, theme: Theme, *, filled: bool, rough: bool):
    """Many arrows by a few calls.

    Parameters
    ----------
    begin, end : float array, shape (n, 2)
        [px]
    filled : bool
        Whether heads are filled; else they are two strokes.
    rough : bool
        Thin lines without heads, for a hand that still moves.
    """
    if not len(begin):
        return
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, not rough)
    length = np.hypot(*(end - begin).T)
    short = length < _LEAST_PX
    if short.any():
        _dots(painter, begin[short], colour, 4.0 if filled else 3.0, Qt.PenCapStyle.RoundCap)
    begin, end, length = begin[~short], end[~short], length[~short]
    if not len(begin):
        return
    if rough:
        painter.setPen(QPen(colour, 0.0))
        painter.drawLines(_lines(begin, end))
        return
    if len(begin) <= 2000:  # a rim of the ground's colour parts them from rows and from each other
        painter.setPen(_pen(theme["block"], 4.0))
        painter.drawLines(_lines(begin, end))
    painter.setPen(_pen(colour, 1.8 if filled else 1.4))
    painter.drawLines(_lines(begin, end))
    way = (end - begin) / length[:, None]
    across = way[:, ::-1] * (-1.0, 1.0)
    head = np.minimum(_HEAD_PX, 0.7 * length)[:, None]
    base = end - head * way
    half = head * math.tan(math.radians(_HALF_ANGLE_DEG))
    if not filled:
        for side in (-1.0, 1.0):
            painter.drawLines(_lines(end, base + side * half * across))
        return
    corners = np.stack([end, base + half * across, base - half * across], axis=1)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(colour)
    for first in range(0, len(corners), _HEADS_A_PATH):
        painter.drawPath(_triangles(corners[first : first + _HEADS_A_PATH]))
    painter.setBrush(Qt.BrushStyle.NoBrush)


def _triangles(corners: np.ndarray) -> QPainterPath:
    """(n, 3, 2) corners as one path. [px]"""
    path = QPainterPath()
    path.setFillRule(Qt.FillRule.WindingFill)
    for (ax, ay), (bx, by), (cx, cy) in corners.tolist():
        path.moveTo(ax, ay)
        path.lineTo(bx, by)
        path.lineTo(cx, cy)
        path.closeSubpath()
    return path


def paint_control(painter, view: View, theme: Theme, control, taken, room) -> None:
    """Control points as triangles with their names beside them; an empty name is not written."""
    if not control:
        return
    places = view.to_pixels(np.array([(x, y) for _, x, y in control]))
    for (name, *_), (x, y) in zip(control, places.tolist(), strict=True):
        if not (-20 < x < view.width + 20 and -20 < y < view.height + 20):
            continue
        paint_triangle(painter, QPointF(x, y), theme)
        if name:
            _label(painter, (x, y), name, theme, taken, room, right=True)
        taken.append(QRectF(x - 7, y - 8, 14, 14))


def paint_triangle(painter, at: QPointF, theme: Theme) -> None:
    """The mark of a control point, with a dot where it stands."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    x, y = at.x(), at.y()
    shape = QPolygonF([QPointF(x, y - 8), QPointF(x + 7, y + 5), QPointF(x - 7, y + 5)])
    painter.setBrush(theme["block"])
    painter.setPen(QPen(theme["ink"], 1.6))
    painter.drawPolygon(shape)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme["ink"])
    painter.drawEllipse(at, 1.8, 1.8)


def paint_sign(painter, box: QRectF, sign: str, theme: Theme) -> None:
    """One sign as the legend has it, in a box."""
    left, right, y = box.left() + 1, box.right() - 1, box.center().y()
    if sign in ("filled", "open"):
        ends = np.array([[left, y]]), np.array([[right, y]])
        filled = sign == "filled"
        colour = theme["caution" if filled else "soft_ink"]
        paint_arrows(painter, *ends, colour, theme, filled=filled, rough=False)
    elif sign == "control":
        paint_triangle(painter, QPointF(box.center().x(), y + 1), theme)
    else:
        caps = Qt.PenCapStyle
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        cap = caps.RoundCap if sign == "disc" else caps.SquareCap
        colour = theme["row" if sign == "disc" else "accent"]
        _dots(painter, np.array([[box.center().x(), y]]), colour, 7.0, cap)


def _label(painter, at, text: str, theme: Theme, taken, room: QRectF, *, right: bool) -> bool:
    """A word beside a place, on its other side where the first has no room; whether there was any."""
    font = typeface(SANS, 12, strong=True)
    metrics = QFontMetrics(font)
    wide = metrics.horizontalAdvance(text)
    x, y = float(at[0]), float(at[1])
    for on_right in (right, not right):
        left = x + 10 if on_right else x - 10 - wide
        box = QRectF(left - 2, y - 9, wide + 4, 17)
        if room.contains(box) and not any(box.intersects(other) for other in taken):
            break
    else:
        return False
    taken.append(box)
    path = QPainterPath()
    path.addText(QPointF(left, y + metrics.ascent() / 2 - 2), font, text)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.strokePath(path, _pen(theme["ground"], 4.0))
    painter.fillPath(path, theme["ink"])
    return True


def _pen(colour: QColor, width: float) -> QPen:
    pen = QPen(colour, width)
    pen.setCapStyle(Qt.PenCapStyle.RoundCap)
    pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return pen


def _lines(begin: np.ndarray, end: np.ndarray) -> QPolygonF:
    """Ends of lines, as drawLines takes them."""
    return polygon_from(np.stack([begin, end], axis=1).reshape(-1, 2))


def _seen(view: View, xy_m: np.ndarray) -> np.ndarray:
    x0, y0, x1, y1 = view.bounds_m
    x, y = xy_m.T
    return xy_m[(x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)]


def _near_view(view: View, begin: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Whether any of an arrow can be on the canvas."""
    low, high = np.minimum(begin, end), np.maximum(begin, end)
    room = (view.width, view.height)
    return ((low <= np.add(room, 20)) & (high >= -20)).all(axis=1)
