"""Measures over all bearings: curves to read, and to click for a candidate."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QAction, QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QMenu, QPushButton, QWidget

from ..session.compare_lines import Column, Curve
from ..session.specification import shown_bearing
from .cards import Card, paint_focus_ring
from .look import SANS, SERIF, Theme, typeface
from .painting import polygon_from

_TOP_PX, _FOOT_PX, _RIGHT_PX, _LINE_PX = 38, 24, 24, 19
LEAST_PX = 140
_NAME_PX, _NAME_MOST_PX = 14, 150
"""From one line of names of candidates to the other, and the width of one. [px]"""
_SPANS_FROM_PX = 280
"""A legend this wide has room for the span of each curve. [px]"""
_STYLES = (
    ("row", Qt.PenStyle.SolidLine),
    ("caution", Qt.PenStyle.DashLine),
    ("water", Qt.PenStyle.DotLine),
    ("ink", Qt.PenStyle.DashDotLine),
    ("better", Qt.PenStyle.DashDotDotLine),
    ("soft_ink", Qt.PenStyle.SolidLine),
)
"""Each curve has a colour and a kind of line of its own."""
MOST_CURVES = len(_STYLES)
_STEPS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


def known_runs(values: np.ndarray) -> list[slice]:
    """Where figures are known one after another: over what is not known no line is drawn.

    Examples
    --------
    >>> known_runs(np.array([1.0, np.nan, 2.0, 3.0]))
    [slice(0, 1, None), slice(2, 4, None)]
    """
    turns = np.flatnonzero(np.diff(np.isfinite(values), prepend=False, append=False))
    return [slice(a, b) for a, b in turns.reshape(-1, 2).tolist()]


class BearingCurves(Card):
    """Curves from 0° to 180°, each between its own lowest and highest figure, which stand beside it.

    Signals
    -------
    wanted : float
        Bearing at which a candidate is wanted. [deg]
    chosen : str, bool
        A curve is to be drawn, or no longer.
    """

    wanted = Signal(float)
    chosen = Signal(str, bool)

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_NoMousePropagation, False)
        self.theme = theme
        self.left_px = 270
        self.stale = False
        self._curves: tuple[Curve, ...] = ()
        self._bearings = np.empty(0)
        self._style_of: dict[str, int] = {}
        self._marks: list[tuple[float, str, bool]] = []
        self._hover: int | None = None
        self._cursor: int | None = None
        self._says = ""
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setAccessibleName("Measures over all bearings")
        self.setMinimumHeight(LEAST_PX)
        self.setToolTip(
            "Click where a candidate is wanted. Left and Right move the cursor by 1°, with Shift by "
            "10°, Home and End to the ends; Enter adds a candidate there."
        )
        self.choice = QPushButton("Which curves…", self)
        self.choice.setObjectName("quiet")
        self.choice.setFont(typeface(SANS, 12))
        self.choice.clicked.connect(self._offer)
        self._known: tuple[tuple[str, str], ...] = ()

    # what is shown

    def show_curves(
        self,
        bearings_deg: np.ndarray,
        curves: tuple[Curve, ...],
        known: tuple[tuple[str, str], ...],
        *,
        stale: bool = False,
        says: str = "",
    ) -> None:
        """Show curves; `known` are names and headings of all there are, `says` stands for none."""
        self._bearings, self._curves, self._known = bearings_deg, curves, known
        self.stale, self._says = stale, says
        self._keep_styles()
        legend = 30 + len(curves) * _LINE_PX + self.choice.sizeHint().height() + 12
        self.setMinimumHeight(max(legend, LEAST_PX))
        n = len(bearings_deg)
        self._cursor = None if self._cursor is None or not n else min(self._cursor, n - 1)
        self._hover = None if self._hover is None or not n else min(self._hover, n - 1)
        self.choice.setVisible(bool(known))
        self._tell()
        self.update()

    def _keep_styles(self) -> None:
        """A curve keeps its colour and line as long as it is drawn."""
        names = [c.name for c in self._curves]
        kept = {n: s for n, s in self._style_of.items() if n in names}
        free = [s for s in range(MOST_CURVES) if s not in kept.values()]
        fresh = [n for n in names if n not in kept]
        self._style_of = {**kept, **dict(zip(fresh, free, strict=False))}

    def _styled(self):
        """Each curve with the role of its colour and its kind of line."""
        for curve in self._curves:
            yield curve, *_STYLES[self._style_of[curve.name]]

    def mark(self, columns: tuple[Column, ...], base: int) -> None:
        """Mark the bearings of candidates."""
        self._marks = [
            (b % 180.0, c.title if len(c.bearings_deg) == 1 else shown_bearing(b), i == base)
            for i, c in enumerate(columns)
            for b in c.bearings_deg
        ]
        self.update()

    def wear(self, theme: Theme) -> None:
        self.theme = theme
        self.update()

    def read_at(self) -> tuple[str, dict[str, str]] | None:
        """The bearing read at, and the figure of each curve there; None where none is."""
        i = self._hover if self._hover is not None else self._cursor
        if i is None or not len(self._bearings):
            return None
        return shown_bearing(float(self._bearings[i])), {c.name: c.text_at(i) for c in self._curves}

    # places

    def _band(self) -> QRectF:
        return QRectF(
            self.left_px,
            _TOP_PX,
            max(self.width() - self.left_px - _RIGHT_PX, 20),
            max(self.height() - _TOP_PX - _FOOT_PX, 20),
        )

    def x_of(self, bearing_deg: float) -> float:
        """Where a bearing stands. [px]"""
        band = self._band()
        return band.left() + bearing_deg / 180.0 * band.width()

    def _index_at(self, x: float) -> int | None:
        band = self._band()
        if not len(self._bearings) or not band.left() - 6 <= x <= band.right() + 6:
            return None
        bearing = (x - band.left()) / band.width() * 180.0
        return int(np.argmin(np.abs(self._bearings - bearing)))

    # hand and keyboard

    def mouseMoveEvent(self, event):
        self._hover = self._index_at(event.position().x())
        shapes = Qt.CursorShape
        self.setCursor(shapes.ArrowCursor if self._hover is None else shapes.CrossCursor)
        self.update()

    def mousePressEvent(self, event):
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        event.accept()

    def wheelEvent(self, event):
        event.ignore()  # the stage scrolls, where it is low

    def mouseReleaseEvent(self, event):
        event.accept()
        i = self._index_at(event.position().x())
        inside = QRectF(self.rect()).contains(event.position())
        if event.button() == Qt.MouseButton.LeftButton and i is not None and inside:
            self.wanted.emit(float(self._bearings[i]))

    def leaveEvent(self, event):
        super().leaveEvent(event)
        self._hover = None
        self.update()

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride:
            ours = (Qt.Key.Key_Home, Qt.Key.Key_End, *_STEPS, *_ENTER)
            ctrl = event.modifiers() & Qt.KeyboardModifier.ControlModifier
            if event.key() in ours and not ctrl:
                event.accept()  # Home is "Show all" elsewhere
                return True
        return super().event(event)

    def keyPressEvent(self, event):
        key, n = event.key(), len(self._bearings)
        if not n or not self.hasFocus():
            super().keyPressEvent(event)
        elif key in _STEPS:
            far = 10 if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
            at = 0 if self._cursor is None else (self._cursor + far * _STEPS[key]) % n
            self._go_to(at)
        elif key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self._go_to(0 if key == Qt.Key.Key_Home else n - 1)
        elif key in _ENTER:
            if self._cursor is not None:
                self.wanted.emit(float(self._bearings[self._cursor]))
        elif key == Qt.Key.Key_Escape and self._cursor is not None:
            self._cursor = None
            self._tell()
            self.update()
        else:
            super().keyPressEvent(event)

    def _go_to(self, i: int) -> None:
        self._cursor, self._hover = i, None
        self._tell()
        self.update()

    def _tell(self) -> None:
        """Have what is read at the cursor read aloud too."""
        told = self.read_at()
        text = self._says
        if told is not None:
            figures = [f"{c.heading} {told[1][c.name]}" for c in self._curves]
            text = ", ".join([f"At {told[0]}", *figures])
        self.setAccessibleDescription(text)

    def focusInEvent(self, event):
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self.update()

    def _offer(self) -> None:
        """The curves that can be drawn, with those that are ticked."""
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        drawn = {c.name for c in self._curves}
        for name, heading in self._known:
            action = QAction(heading, menu)
            action.setCheckable(True)
            action.setChecked(name in drawn)
            action.setEnabled(name in drawn or len(drawn) < MOST_CURVES)
            action.triggered.connect(lambda on, n=name: self.chosen.emit(n, on))
            menu.addAction(action)
        menu.popup(self.choice.mapToGlobal(self.choice.rect().topLeft()))

    # painting

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self.choice.adjustSize()
        self.choice.move(10, self.height() - self.choice.height() - 8)

    def paintEvent(self, event):
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        band = self._band()
        if self._says:
            painter.setPen(self.theme["soft_ink"])
            painter.setFont(typeface(SANS, 13))
            painter.drawText(band, Qt.AlignmentFlag.AlignCenter, self._says)
        self._paint_axis(painter, band)
        self._paint_marks(painter, band)
        self._paint_curves(painter, band)
        self._paint_legend(painter, band)
        if self.hasFocus():
            paint_focus_ring(painter, self, self.theme, 9)
        painter.end()

    def _paint_axis(self, painter, band) -> None:
        theme = self.theme
        painter.setPen(QPen(theme["hairline"], 1))
        for y in (band.top(), band.bottom()):
            painter.drawLine(QLineF(band.left(), y, band.right(), y))
        painter.setFont(typeface(SANS, 11))
        step = 15 if band.width() > 700 else 30
        for bearing in range(0, 181, step):
            x = self.x_of(bearing)
            painter.setPen(QPen(theme["hairline"], 1))
            painter.drawLine(QLineF(x, band.bottom(), x, band.bottom() + 4))
            painter.setPen(theme["soft_ink"])
            box = QRectF(x - 24, band.bottom() + 4, 48, 15)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, f"{bearing % 180:03d}°")

    def _paint_marks(self, painter, band) -> None:
        """A line and a name at each candidate; names have two lines, and where both are taken none."""
        font = typeface(SANS, 12, strong=True)
        metrics = QFontMetrics(font)
        painter.setFont(font)
        taken: tuple[list, list] = ([], [])
        named: set[tuple[int, str]] = set()  # others at one bearing need not say it again
        for bearing, title, is_base in sorted(self._marks, key=lambda m: not m[2]):
            x = self.x_of(bearing)
            said = (round(x), title) in named
            named.add((round(x), title))
            style = Qt.PenStyle.SolidLine if is_base else Qt.PenStyle.DashLine
            painter.setPen(QPen(self.theme["accent"], 1.6 if is_base else 1.2, style))
            painter.drawLine(QLineF(x, band.top() - 5, x, band.bottom() + 3))
            title = metrics.elidedText(title, Qt.TextElideMode.ElideRight, _NAME_MOST_PX)
            wide = metrics.horizontalAdvance(title)
            left = min(max(x - wide / 2, band.left() - 16), band.right() + 16 - wide)
            for level, line in enumerate(taken if not said else ()):
                if not any(left < b + 6 and a < left + wide + 6 for a, b in line):
                    line.append((left, left + wide))
                    y = band.top() - 8 - level * _NAME_PX
                    painter.drawText(QPointF(left, y), title)
                    break

    def _paint_curves(self, painter, band) -> None:
        if not len(self._bearings):
            return
        x = band.left() + self._bearings / 180.0 * band.width()
        for curve, role, style in self._styled():
            y = band.bottom() - curve.share * band.height()
            pen = QPen(self.theme["soft_ink" if self.stale else role], 1.8, style)
            pen.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
            painter.setPen(pen)
            painter.setBrush(Qt.BrushStyle.NoBrush)
            for run in known_runs(curve.share):
                painter.drawPolyline(polygon_from(np.column_stack([x[run], y[run]])))
        i = self._hover if self._hover is not None else self._cursor
        if i is None:
            return
        painter.setPen(QPen(self.theme["ink"], 1))
        painter.drawLine(QLineF(x[i], band.top() - 5, x[i], band.bottom() + 3))
        for curve, role, _ in self._styled():
            if np.isfinite(curve.share[i]):
                painter.setPen(QPen(self.theme["panel"], 1.5))
                painter.setBrush(self.theme[role])
                at = QPointF(x[i], band.bottom() - curve.share[i] * band.height())
                painter.drawEllipse(at, 4.0, 4.0)

    def _paint_legend(self, painter, band) -> None:
        """Line, name, and figures: at the foot and the top of the picture, and where it is read."""
        theme, told = self.theme, self.read_at()
        head = QRectF(14, 6, self.left_px - 28, 20)
        painter.setFont(typeface(SERIF, 14, strong=True))
        painter.setPen(theme["ink"])
        middle = Qt.AlignmentFlag.AlignVCenter
        right = Qt.AlignmentFlag.AlignRight | middle
        painter.drawText(head, middle, "Over all bearings")
        painter.setFont(typeface(SANS, 12, strong=told is not None))
        painter.setPen(theme["ink" if told else "soft_ink"])
        spans = not told and self.left_px >= _SPANS_FROM_PX
        if self._curves and (told or spans):
            painter.drawText(head, right, f"at {told[0]}" if told else "lowest – highest, span")
        y = head.bottom() + 3
        small, figure = typeface(SANS, 12), typeface(SANS, 12, strong=told is not None)
        for curve, role, style in self._styled():
            line = QRectF(14, y, self.left_px - 28, _LINE_PX - 1)
            painter.setPen(QPen(theme[role], 2.0, style))
            painter.drawLine(
                QLineF(line.left(), line.center().y(), line.left() + 24, line.center().y())
            )
            text = told[1][curve.name] if told else f"{curve.lowest} – {curve.highest}"
            room = line.width() - 40 - QFontMetrics(figure).horizontalAdvance(text)
            span = f",  {curve.span}"
            with_span = room - QFontMetrics(figure).horizontalAdvance(span)
            if spans and QFontMetrics(small).horizontalAdvance(curve.heading) <= with_span:
                text, room = text + span, with_span
            painter.setFont(figure)
            painter.setPen(theme["ink"])
            painter.drawText(line, right, text)
            painter.setFont(small)
            name = QFontMetrics(small).elidedText(
                curve.heading, Qt.TextElideMode.ElideRight, int(room)
            )
            painter.drawText(line.adjusted(32, 0, 0, 0), middle, name)
            y += _LINE_PX
