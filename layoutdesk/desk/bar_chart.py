"""Segments as bars of their length: where they stand in a card, and how they are painted."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPolygonF
from PySide6.QtWidgets import QWidget

from ..core.layout.numbering import segment_code
from ..session.layouts import LayoutAnswer
from ..session.row_bars import SHORT_SHARE, Place, row_bars
from ..session.tally import grouped, rows_in_words
from ..session.units import unit_label, unit_length_m
from .cards import Card, paint_focus_ring
from .look import SANS, Theme, typeface

_EDGE_PX, _GAP_PX = 20, 12


class BarChart(Card):
    """Bars in row order, block after block, with some of them selected, picked or pointed at."""

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.theme = theme
        self.unit = "m"
        self._answer: LayoutAnswer | None = None
        self._bars = row_bars(None)
        self._chosen = np.empty(0, bool)
        self._pick: int | None = None
        self._hovered: Place | None = None

    @property
    def _length(self) -> np.ndarray:
        return self._bars.length_m

    @property
    def _short(self) -> np.ndarray:
        return self._bars.short

    def _band(self) -> QRectF:
        named = self._answer is not None and len(self._answer.plans) > 1
        return QRectF(
            _EDGE_PX, 32, self.width() - 2 * _EDGE_PX, self.height() - (58 if named else 46)
        )

    def _spacing(self) -> tuple[float, float]:
        """From bar to bar, and between two blocks. [px]"""
        n, blocks = len(self._length), len(np.unique(self._bars.plan))
        band = self._band()
        gap = min(_GAP_PX, 0.2 * band.width() / blocks) if blocks > 1 else 0.0
        return (band.width() - gap * (blocks - 1)) / max(n, 1), gap

    def _left(self) -> np.ndarray:
        """Left rim of every bar. [px]"""
        step, gap = self._spacing()
        part = np.cumsum(np.r_[0, np.diff(self._bars.plan) != 0])[: len(self._bars.plan)]
        return self._band().left() + step * np.arange(len(self._length)) + gap * part

    def _bar_at(self, at: QPointF) -> int | None:
        if not len(self._length):
            return None
        left = self._left()
        i = int(np.searchsorted(left, at.x(), side="right")) - 1
        if i < 0 or at.x() >= left[i] + self._spacing()[0]:
            return None
        return i

    # painting

    def paintEvent(self, event):
        super().paintEvent(event)
        painter = QPainter(self)
        if len(self._length):
            self._paint_bars(painter)
            self._paint_block_names(painter)
        self._paint_words(painter)
        if self.hasFocus():
            paint_focus_ring(painter, self, self.theme, 9)
        painter.end()

    def _paint_bars(self, painter) -> None:
        """All bars by a few calls; where they are narrower than two pixels, one a pixel."""
        band, left, step = self._band(), self._left(), self._spacing()[0]
        hovered = self._bars.bar(self._hovered)
        high = np.maximum(self._length / self._length.max() * band.height(), 1.0)
        role = np.where(self._chosen, 2, np.where(self._short, 1, 0))
        wide = step * 0.82
        if hovered is not None:
            painter.fillRect(
                QRectF(left[hovered] - 1, band.top(), max(wide, 1.0) + 2, band.height()),
                self.theme["hairline"],
            )
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, step >= 2)
        painter.setPen(Qt.PenStyle.NoPen)
        shown, tall = left, high
        if step < 2:
            pixel = np.floor(left).astype(np.intp)
            begin = np.flatnonzero(np.r_[True, np.diff(pixel) != 0])
            shown, wide = pixel[begin].astype(float), 1.0
            tall = np.maximum.reduceat(high, begin)
            role = np.maximum.reduceat(role, begin)
        for number, name in enumerate(("row", "caution", "accent")):
            which = role == number
            if which.any():
                painter.setBrush(self.theme[name])
                painter.drawRects(_rects(shown[which], band.bottom(), wide, tall[which]))
        wide = max(wide, 2.0)
        if hovered is not None and hovered != self._pick:
            top = band.bottom() - high[hovered]
            painter.fillRect(QRectF(left[hovered], top, wide, high[hovered]), self._lighter())
        if self._pick is not None:
            top = band.bottom() - high[self._pick]
            painter.fillRect(
                QRectF(left[self._pick], top, wide, high[self._pick]), self.theme["accent"]
            )
            self._paint_pointer(painter, left[self._pick] + wide / 2, band.bottom() + 2)

    def _paint_pointer(self, painter, x: float, y: float) -> None:
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setBrush(self.theme["accent"])
        painter.drawPolygon(
            QPolygonF([QPointF(x, y), QPointF(x - 4, y + 6), QPointF(x + 4, y + 6)])
        )

    def _lighter(self) -> QColor:
        """The accent half way to the panel."""
        a, b = self.theme["accent"].getRgbF()[:3], self.theme["panel"].getRgbF()[:3]
        return QColor.fromRgbF(*(0.55 * x + 0.45 * y for x, y in zip(a, b, strict=True)))

    def _paint_block_names(self, painter) -> None:
        plans = self._answer.plans
        if len(plans) < 2:
            return
        font = typeface(SANS, 11)
        metrics = QFontMetrics(font)
        painter.setFont(font)
        painter.setPen(self.theme["soft_ink"])
        left, band, step = self._left(), self._band(), self._spacing()[0]
        begins = np.flatnonzero(np.r_[True, np.diff(self._bars.plan) != 0])
        ends = np.r_[begins[1:], len(self._bars.plan)] - 1
        for begin, end in zip(begins.tolist(), ends.tolist(), strict=True):
            name = plans[self._bars.plan[begin]].block.name
            room = left[end] + step - left[begin]
            if metrics.horizontalAdvance(name) <= room:
                box = QRectF(left[begin], band.bottom() + 7, room, 16)
                painter.drawText(box, Qt.AlignmentFlag.AlignCenter, name)

    def _paint_words(self, painter) -> None:
        """The heading at the left, the row in question at the right, the legend where there is room."""
        line = QRectF(_EDGE_PX, 8, self.width() - 2 * _EDGE_PX, 20)
        middle = Qt.AlignmentFlag.AlignVCenter
        font, strong = typeface(SANS, 12), typeface(SANS, 12, strong=True)
        painter.setFont(font)
        painter.setPen(self.theme["soft_ink"])
        if not len(self._length):
            painter.drawText(line, middle, "No rows yet")
            return
        heading = f"Row lengths · {rows_in_words(self._bars.rows, len(self._length))}"
        painter.drawText(line, middle, heading)
        used = QFontMetrics(font).horizontalAdvance(heading) + 22
        told = self._told_now()
        free = line.width() - used - (QFontMetrics(strong).horizontalAdvance(told) + 22)
        legend = f"amber: under {SHORT_SHARE:.0%} of the longest".replace("%", "\u202f%")
        if self._short.any() and QFontMetrics(font).horizontalAdvance(legend) + 15 <= free:
            x = line.left() + used
            painter.fillRect(QRectF(x, line.center().y() - 4, 8, 8), self.theme["caution"])
            painter.drawText(line.adjusted(used + 15, 0, 0, 0), middle, legend)
        painter.setFont(strong)
        held = self._hovered is None or self._hovered == self.picked_place
        painter.setPen(self.theme["accent" if held else "ink"])
        painter.drawText(line, Qt.AlignmentFlag.AlignRight | middle, told)

    def _told_now(self) -> str:
        if self._bars.bar(self._hovered) is not None and self._hovered != self.picked_place:
            return self._told(self._hovered)
        count = int(self._chosen.sum())
        if count > 1:
            return f"{grouped(count)} selected"
        return "" if self._pick is None else self._told(self.picked_place)

    def _told(self, place: Place) -> str:
        plan, s = self._answer.plans[place[0]], place[1]
        g = plan.segments
        size, label = unit_length_m(self.unit), unit_label(self.unit)
        code = segment_code(plan.block.name, int(g.number[s]), int(g.letter[s]))
        vines = int(plan.vines_of_segment[s])
        return f"{code}: {grouped(g.length_m[s] / size, 1)} {label}, {grouped(vines)} vines"


def _rects(left: np.ndarray, bottom: float, wide: float, high: np.ndarray) -> list[QRectF]:
    return [
        QRectF(x, bottom - h, wide, h) for x, h in zip(left.tolist(), high.tolist(), strict=True)
    ]
