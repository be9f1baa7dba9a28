"""Vines on the plan by what is planned or known of them: a colour and a form for every class."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QImage, QPainter, QPen

from ..session.view import View
from .look import Theme
from .painting import _dots, _mixed, _splat_at, _splat_places

if TYPE_CHECKING:
    from ..session.planting_drawing import PlantingDrawing

_MARKS_AT_MOST = 150_000
_LOUD_SHARE, _LOUD_PX = 0.1, 14.0
"""Dots of what is amiss or noted are larger where it is no more than this share, so that they are found."""
_FORMS = ("disc", "square", "ring", "frame")
"""Classes beside each other differ in form as well as in colour."""
_PAPER = ("#2F6B52", "#A33B2B", "#2A6A8E", "#8A5C08", "#74518C", "#3E4A44", "#6B7A1E", "#B0567A")
_LAMP = ("#8FCDB0", "#E8795F", "#6BB2D6", "#E0B04A", "#BFA0DA", "#C9CFC6", "#BFCB6B", "#E59AB8")
"""Kinds that are alike in rank; neighbours differ in lightness and hue for colour-blind eyes."""


class PlantingLayer:
    """A planting drawing ready to be painted; what nothing is said of lies lowest.

    Parameters
    ----------
    drawing : PlantingDrawing
    """

    def __init__(self, drawing: PlantingDrawing):
        self.drawing = drawing
        n = len(drawing.vine_class)
        ranks = [_rank(entry, n) for entry in drawing.legend]
        rank = np.array(ranks or [0], np.int8)[drawing.vine_class]
        order = np.argsort(rank, kind="stable")
        self.n_quiet, self.n_loud = (int(np.count_nonzero(rank == r)) for r in (0, 2))
        self.xy_m, self.kind = drawing.vine_xy_m[order], drawing.vine_class[order].astype(np.intp)
        xy = self.xy_m if len(order) else np.full((1, 2), np.nan)
        self.bounds_m = (*xy.min(axis=0).tolist(), *xy.max(axis=0).tolist())
        self._is_loud = np.array([r == 2 for r in ranks], bool)
        self._dotted: tuple | None = None

    def seen(self, view: View) -> tuple[np.ndarray, np.ndarray]:
        """Vines in view and the class of each; where they are too many, quiet ones are thinned."""
        x0, y0, x1, y1 = view.bounds_m
        left, low, right, high = self.bounds_m
        if x0 <= left and y0 <= low and right <= x1 and high <= y1:
            if self.n_quiet <= _MARKS_AT_MOST:
                return self.xy_m, self.kind
            inside = np.arange(len(self.kind))
        else:
            x, y = self.xy_m.T
            inside = np.flatnonzero((x >= x0) & (x <= x1) & (y >= y0) & (y <= y1))
        n = int(np.searchsorted(inside, self.n_quiet))
        if n > _MARKS_AT_MOST:
            step = math.ceil(n / _MARKS_AT_MOST)
            inside = np.concatenate([inside[:n:step], inside[n:]])
        return self.xy_m[inside], self.kind[inside]

    def paint_dots(self, image: QImage, view: View, theme: Theme, spacing_px: float) -> None:
        """Vines as square dots, straight into the image."""
        spacing_px = max(spacing_px, 4.5)
        wanted = (view, image.size(), image.devicePixelRatio(), spacing_px)
        if self._dotted is None or self._dotted[0] != wanted:
            self._dotted = wanted, self._groups(image, view, spacing_px)
        colours = class_colours(theme, self.drawing.legend)
        values = np.array([c.rgba() for c in colours] or [0], np.uint32)
        for at, kind, wide in self._dotted[1]:
            _splat_at(image, at, values[kind], wide)

    def _groups(self, image: QImage, view: View, spacing_px: float) -> list[tuple]:
        """Where dots begin, the class of each and how wide they are spaced; few and loud ones are larger.

        The same view is often painted again, so these are kept.
        """
        xy, kind = self.seen(view)
        n = len(kind) - int(np.count_nonzero(self._is_loud[kind])) if self.n_loud else len(kind)
        groups = []
        for mine, wide in (
            (slice(n), spacing_px),
            (slice(n, None), max(2.0 * spacing_px, _LOUD_PX)),
        ):
            at, seen = _splat_places(image, view, xy[mine], wide)
            groups.append((at, kind[mine][seen], wide))
        return groups

    def paint_vines(self, painter: QPainter, view: View, theme: Theme, spacing_px: float) -> None:
        """Vines as marks: discs, squares, rings and frames by class."""
        xy, kind = self.seen(view)
        px = view.to_pixels(xy)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        size = min(max(spacing_px * 0.36, 4.0), 15.0)
        legend = self.drawing.legend
        for i, (form, colour) in enumerate(
            zip(class_forms(legend), class_colours(theme, legend), strict=True)
        ):
            paint_marks(painter, px[kind == i], form, colour, theme, size)

    def paint_over(self, painter, view: View, theme: Theme, *, rough: bool, taken, room) -> None:
        """Nothing lies over the vines."""


def _rank(entry, n: int) -> int:
    """How high a class of `n` vines lies: 0 where nothing is said, 2 where it is to be found, else 1."""
    if entry.role == "quiet":
        return 0
    return 2 if entry.role in ("amiss", "noted") and entry.count <= _LOUD_SHARE * n else 1


def class_forms(legend) -> list[str]:
    """The form of each class."""
    forms, plain = [], 0
    for entry in legend:
        if entry.role == "":
            forms.append(_FORMS[plain % len(_FORMS)])
            plain += 1
        else:
            forms.append(
                {"amiss": "ring", "noted": "frame", "quiet": "disc"}.get(entry.role, "disc")
            )
    return forms


def class_colours(theme: Theme, legend) -> list[QColor]:
    """The colour of each class: quiet for what nothing is said of, by rank where there is one."""
    kinds = _PAPER if theme.name == "paper" else _LAMP
    by_role = {
        "quiet": _mixed(theme["soft_ink"], theme["block"], 0.42),
        "good": theme["better"],
        "noted": theme["water"],
        "amiss": theme["accent"],
    }
    colours, plain = [], 0
    for entry in legend:
        if entry.role == "":
            colours.append(QColor(kinds[plain % len(kinds)]))
            plain += 1
        else:
            colours.append(by_role[entry.role])
    return colours


def paint_marks(painter, px: np.ndarray, form: str, colour: QColor, theme: Theme, size) -> None:
    """Marks of one form at pixels."""
    if not len(px):
        return
    caps = Qt.PenCapStyle
    cap = caps.RoundCap if form in ("disc", "ring") else caps.SquareCap
    wide = size if cap == caps.RoundCap else 0.84 * size
    _dots(painter, px, colour, wide, cap)
    if form in ("ring", "frame"):
        _dots(painter, px, theme["block"], 0.48 * wide, cap)


def paint_sign(painter: QPainter, at: QPointF, form: str, colour: QColor, theme: Theme) -> None:
    """One mark, as the legend has it."""
    painter.setPen(Qt.PenStyle.NoPen)
    for scale, fill in ((1.0, colour), (0.48, theme["panel"])):
        if scale < 1 and form not in ("ring", "frame"):
            break
        painter.setBrush(fill)
        half = 5.0 * scale
        if form in ("disc", "ring"):
            painter.drawEllipse(at, half, half)
        else:
            painter.drawRect(QRectF(at.x() - half, at.y() - half, 2 * half, 2 * half))
    painter.setPen(QPen(theme["ink"]))
