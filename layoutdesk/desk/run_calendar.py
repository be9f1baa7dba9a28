"""Run times of a year as bars, a week each, to be read by pointer or arrow keys."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QWidget

from ..session.week_bars import WeekBars, hours_text
from .cards import paint_focus_ring
from .look import SANS, Theme, typeface
from .painting import _mixed

HIGH_PX = 124
_TOP_PX, _FOOT_PX, _EDGE_PX = 22, 20, 6
_STEPS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
_ENDS = (Qt.Key.Key_Home, Qt.Key.Key_End)


class RunCalendar(QWidget):
    """A bar a week; the one in hand is told in words.

    Signals
    -------
    told : str
        The week in hand in words.
    """

    told = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.theme = theme
        self._bars: WeekBars | None = None
        self._hover: int | None = None
        self._held: int | None = None
        self.setFixedHeight(HIGH_PX)
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName("Run times by week")
        self.setToolTip("Point at a week, or walk by Left and Right, Home and End")

    def show_bars(self, bars: WeekBars | None, theme: Theme) -> None:
        """Show a year; the week in hand stays the same one."""
        self._bars, self.theme = bars, theme
        n = len(bars.hours) if bars is not None else 0
        if self._held is not None and self._held >= n:
            self._held = None
        self._hover = None
        self.update()
        self._say()

    @property
    def week(self) -> int | None:
        """The week told: under the pointer, in hand, else the fullest one."""
        if self._bars is None:
            return None
        for week in (self._hover, self._held):
            if week is not None:
                return week
        return self._bars.fullest

    def _say(self) -> None:
        week = self.week
        words = "" if week is None else self._bars.told(week)
        if week is not None and self._hover is None and self._held is None:
            words = f"The fullest week. {words}"
        self.setAccessibleDescription(words)
        self.told.emit(words)

    def hold(self, week: int | None) -> None:
        """Take a week in hand."""
        self._held = week
        self.update()
        self._say()

    # where bars stand

    def _band(self) -> QRectF:
        wide = self.width() - 2 * _EDGE_PX
        return QRectF(_EDGE_PX, _TOP_PX, wide, self.height() - _TOP_PX - _FOOT_PX)

    def left_of(self, week: float) -> float:
        """Left rim of a week's bar. [px]"""
        band = self._band()
        return band.left() + band.width() * week / max(len(self._bars.hours), 1)

    def _week_at(self, x: float) -> int | None:
        if self._bars is None or not len(self._bars.hours):
            return None
        band, n = self._band(), len(self._bars.hours)
        week = int((x - band.left()) / band.width() * n)
        return week if 0 <= week < n else None

    # painting

    def paintEvent(self, event):
        painter = QPainter(self)
        if self._bars is None or not len(self._bars.hours):
            self._write(painter, QRectF(self.rect()), "No run times yet", "soft_ink")
        else:
            self._paint_bars(painter)
        if self.hasFocus():
            paint_focus_ring(painter, self, self.theme, 6)
        painter.end()

    def _paint_bars(self, painter) -> None:
        bars, band, theme = self._bars, self._band(), self.theme
        most = float(bars.hours.max())
        font = typeface(SANS, 11)
        painter.setFont(font)
        metrics = QFontMetrics(font)
        names = QRectF(0, band.bottom() + 3, 0, _FOOT_PX - 3)
        painter.setPen(QPen(theme["hairline"], 1))
        painter.drawLine(QPointF(band.left(), band.bottom()), QPointF(band.right(), band.bottom()))
        last = -1e9
        for week, name in bars.months:
            x = self.left_of(week)
            painter.setPen(QPen(theme["hairline"], 1))
            painter.drawLine(QPointF(x, band.top()), QPointF(x, band.bottom() + 4))
            wide = metrics.horizontalAdvance(name)
            if x + 3 >= last and x + 3 + wide <= self.width():
                names.setLeft(x + 3)
                names.setWidth(wide + 2)
                self._write(painter, names, name, "soft_ink", Qt.AlignmentFlag.AlignLeft)
                last = x + 3 + wide + 6
        high = QRectF(band.left(), 2, band.width(), _TOP_PX - 4)
        told = f"{hours_text(most)} in the fullest week" if most > 0 else "Nothing to water"
        self._write(painter, high, told, "soft_ink", Qt.AlignmentFlag.AlignLeft)
        week = self.week
        wide = self.left_of(1) - self.left_of(0)
        if week is not None:
            box = QRectF(self.left_of(week), band.top(), wide, band.height())
            painter.fillRect(box, _mixed(theme["hairline"], theme["panel"], 0.8))
        painter.setPen(Qt.PenStyle.NoPen)
        for i, hours in enumerate(bars.hours.tolist()):
            if hours <= 0 or most <= 0:
                continue
            tall = max(hours / most * band.height(), 1.5)
            box = QRectF(self.left_of(i) + 0.6, band.bottom() - tall, max(wide - 1.2, 1.5), tall)
            painter.fillRect(box, theme["accent" if i == week else "water"])

    def _write(self, painter, box, text, role, side=Qt.AlignmentFlag.AlignHCenter) -> None:
        painter.setFont(typeface(SANS, 11))
        painter.setPen(self.theme[role])
        painter.drawText(box, side | Qt.AlignmentFlag.AlignVCenter, text)

    # pointer and keyboard

    def mouseMoveEvent(self, event):
        week = self._week_at(event.position().x())
        if week != self._hover:
            self._hover = week
            self.update()
            self._say()

    def leaveEvent(self, event):
        super().leaveEvent(event)
        self._hover = None
        self.update()
        self._say()

    def mousePressEvent(self, event):
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self.hold(self._week_at(event.position().x()))
        event.accept()

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and event.key() in (*_STEPS, *_ENDS):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event):
        n, key = 0 if self._bars is None else len(self._bars.hours), event.key()
        if not n or key not in (*_STEPS, *_ENDS, Qt.Key.Key_Escape):
            super().keyPressEvent(event)
            return
        self._hover = None
        if key == Qt.Key.Key_Escape:
            self.hold(None)
        elif key in _ENDS:
            self.hold(0 if key == Qt.Key.Key_Home else n - 1)
        else:
            self.hold(min(max((self.week or 0) + _STEPS[key], 0), n - 1))

    def focusInEvent(self, event):
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self.update()
