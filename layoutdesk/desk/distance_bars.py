"""Distances counted: a bar for each reach of them, to be read by pointer or arrow keys."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QRectF, Qt
from PySide6.QtGui import QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QWidget

from ..session.tally import grouped
from .cards import paint_focus_ring
from .look import SANS, Theme, typeface
from .painting import _mixed

HIGH_PX = 118
_TOP_PX, _FOOT_PX, _EDGE_PX = 22, 20, 6
_STEPS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
_ENDS = (Qt.Key.Key_Home, Qt.Key.Key_End)


class DistanceBars(QWidget):
    """A bar for each reach of distances; those beyond tolerance are hatched and of the colour of caution."""

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.theme, self.bars = theme, ()
        self._hover: int | None = None
        self._held: int | None = None
        self.setFixedHeight(HIGH_PX)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Points by their distance from the plan")
        self.setToolTip("Point at a bar, or walk by Left and Right, Home and End")
        self.hide()

    def show_bars(self, bars: tuple, theme: Theme) -> None:
        """Show bars with a `label`, a `count` and whether they are `is_off`; without any it is not shown."""
        self.bars, self.theme = tuple(bars), theme
        self._hover = None
        if self._held is not None and self._held >= len(self.bars):
            self._held = None
        self.setVisible(bool(self.bars))
        self._say()

    @property
    def told(self) -> str:
        """The bar pointed at or in hand, in words; all of them where there is none."""
        at = self._hover if self._hover is not None else self._held
        if at is not None:
            bar = self.bars[at]
            beyond = ", beyond tolerance" if bar.is_off else ""
            return f"{bar.label}: {_points(bar.count)}{beyond}"
        off = sum(bar.count for bar in self.bars if bar.is_off)
        beyond = " (hatched: beyond tolerance)" if off else ""
        return f"Distance from plan to ground{beyond}"

    def hold(self, at: int | None) -> None:
        """Take a bar in hand."""
        self._held = at
        self._say()

    def _say(self) -> None:
        self.setAccessibleDescription(self.told if self.bars else "")
        self.update()

    # painting

    def _band(self) -> QRectF:
        wide = self.width() - 2 * _EDGE_PX
        return QRectF(_EDGE_PX, _TOP_PX, wide, self.height() - _TOP_PX - _FOOT_PX)

    def _wide(self) -> float:
        return self._band().width() / max(len(self.bars), 1)

    def paintEvent(self, event):
        painter = QPainter(self)
        if self.bars:
            self._paint_bars(painter)
        if self.hasFocus():
            paint_focus_ring(painter, self, self.theme, 6)
        painter.end()

    def _paint_bars(self, painter) -> None:
        band, wide, theme = self._band(), self._wide(), self.theme
        font = typeface(SANS, 11)
        painter.setFont(font)
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.setPen(theme["soft_ink"])
        painter.drawText(QRectF(band.left(), 2, band.width(), _TOP_PX - 4), middle, self.told)
        painter.setPen(QPen(theme["hairline"], 1))
        painter.drawLine(band.bottomLeft(), band.bottomRight())
        most = max(bar.count for bar in self.bars)
        at = self._hover if self._hover is not None else self._held
        painter.setPen(Qt.PenStyle.NoPen)
        for i, bar in enumerate(self.bars):
            left = band.left() + i * wide
            if i == at:
                painter.fillRect(
                    QRectF(left, band.top(), wide, band.height()),
                    _mixed(theme["hairline"], theme["panel"], 0.8),
                )
            if not bar.count:
                continue
            tall = max(bar.count / most * band.height(), 2.0)
            box = QRectF(left + 1, band.bottom() - tall, max(wide - 2, 1.5), tall)
            role = theme["caution" if bar.is_off else "row"]
            painter.fillRect(box, role)
            if bar.is_off:
                painter.setBrush(Qt.BrushStyle.BDiagPattern)
                painter.fillRect(box, _hatch(theme))
        self._paint_labels(painter, QFontMetrics(font))

    def _paint_labels(self, painter, metrics) -> None:
        """Where bars begin and what the last one holds, as many as have room."""
        band, wide, last = self._band(), self._wide(), -1e9
        painter.setPen(self.theme["soft_ink"])
        box = QRectF(0, band.bottom() + 3, 0, _FOOT_PX - 3)
        final = self.bars[-1].label
        keep = self.width() - _EDGE_PX - metrics.horizontalAdvance(final)
        for i, bar in enumerate(self.bars):
            is_last = i == len(self.bars) - 1
            x = keep if is_last else band.left() + i * wide
            tall = metrics.horizontalAdvance(bar.label)
            if x < last or (not is_last and x + tall + 8 > keep):
                continue
            box.setLeft(x)
            box.setWidth(tall + 2)
            painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, bar.label)
            last = x + tall + 8

    # pointer and keyboard

    def _at(self, x: float) -> int | None:
        if not self.bars:
            return None
        at = int((x - self._band().left()) // self._wide())
        return at if 0 <= at < len(self.bars) else None

    def mouseMoveEvent(self, event):
        at = self._at(event.position().x())
        if at != self._hover:
            self._hover = at
            self._say()

    def leaveEvent(self, event):
        super().leaveEvent(event)
        self._hover = None
        self._say()

    def mousePressEvent(self, event):
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self.hold(self._at(event.position().x()))
        event.accept()

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and event.key() in (*_STEPS, *_ENDS):
            event.accept()  # Home is "Show all" elsewhere
            return True
        return super().event(event)

    def keyPressEvent(self, event):
        n, key = len(self.bars), event.key()
        if not n or key not in (*_STEPS, *_ENDS, Qt.Key.Key_Escape):
            super().keyPressEvent(event)
            return
        self._hover = None
        if key == Qt.Key.Key_Escape:
            self.hold(None)
        elif key in _ENDS:
            self.hold(0 if key == Qt.Key.Key_Home else n - 1)
        else:
            begin = -1 if _STEPS[key] > 0 else n
            at = begin if self._held is None else self._held
            self.hold(min(max(at + _STEPS[key], 0), n - 1))

    def focusInEvent(self, event):
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self.update()


def _hatch(theme: Theme):
    from PySide6.QtGui import QBrush

    return QBrush(theme["panel"], Qt.BrushStyle.BDiagPattern)


def _points(n: int) -> str:
    return "1 point" if n == 1 else f"{grouped(n)} points"
