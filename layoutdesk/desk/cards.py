"""The cards beside the plan: the tally, the findings, the strip of row lengths."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from ..core.layout.numbering import segment_code
from ..core.model import Finding
from ..session.layouts import LayoutAnswer, Tally
from ..session.specification import shown_length
from ..session.units import unit_length_m
from .look import SANS, SERIF, Theme, typeface

_THIN = "\u202f"


def grouped(number: float, decimals: int = 0) -> str:
    """A number with its thousands set apart.

    Examples
    --------
    >>> grouped(23495).replace("\\u202f", " ")
    '23 495'
    """
    return f"{number:,.{decimals}f}".replace(",", _THIN)


class Card(QFrame):
    """A panel on the plan."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setObjectName("card")


class TallyCard(Card):
    """Figures that follow every change, with the difference from the last settled state."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Tally")
        layout = QGridLayout(self)
        layout.setContentsMargins(20, 15, 20, 15)
        layout.setVerticalSpacing(6)
        caption = QLabel("Vines")
        caption.setObjectName("soft")
        layout.addWidget(caption, 0, 0)
        line = QHBoxLayout()
        self.vines = QLabel("–")
        self.vines.setFont(typeface(SERIF, 30, strong=True))
        self.difference = QLabel("")
        self.difference.setFont(typeface(SANS, 13, strong=True))
        line.addWidget(self.vines)
        line.addWidget(self.difference, 1, Qt.AlignmentFlag.AlignBottom)
        self.difference.setContentsMargins(0, 0, 0, 7)
        layout.addLayout(line, 1, 0, 1, 2)
        self.figures: dict[str, QLabel] = {}
        for row, name in enumerate(
            ("Rows", "Row length", "Longest", "End posts", "Plantable"), start=2
        ):
            label = QLabel(name)
            label.setObjectName("soft")
            value = QLabel("–")
            value.setAlignment(Qt.AlignmentFlag.AlignRight)
            value.setAccessibleName(name)
            layout.addWidget(label, row, 0)
            layout.addWidget(value, row, 1)
            self.figures[name] = value

    def show_tally(self, tally: Tally, before: Tally | None, unit: str, theme: Theme) -> None:
        """Show figures; `before` is what the difference is told from."""
        size, label = unit_length_m(unit), {"usft": "US ft"}.get(unit, unit)
        self.vines.setText(grouped(tally.vines))
        change = tally.vines - before.vines if before else 0
        sign = "+" if change > 0 else "−"
        self.difference.setText(f"{sign}{grouped(abs(change))}" if change else "")
        colour = theme.better if change > 0 else theme.worse
        self.difference.setStyleSheet(f"color: {colour}")
        values = {
            "Rows": grouped(tally.rows),
            "Row length": f"{grouped(tally.row_length_m / size)} {label}",
            "Longest": f"{grouped(tally.longest_m / size)} {label}",
            "End posts": grouped(tally.end_posts),
        }
        per, name = (10_000.0, "ha") if unit == "m" else (43_560 * size * size, "ac")
        if tally.planted_m2 is not None:
            values["Plantable"] = (
                f"{tally.planted_m2 / per:.2f} of {tally.outline_m2 / per:.2f} {name}"
            )
        for key, text in values.items():
            self.figures[key].setText(text)


_SIGNS = {"wrong": "■", "caution": "▲", "note": "●"}


class FindingsCard(Card):
    """What the program found; a click goes to the place."""

    wanted = Signal(float, float)
    _AT_MOST = 60

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Findings")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(20, 14, 8, 12)
        self.heading = QLabel("Findings")
        self.heading.setObjectName("heading")
        outer.addWidget(self.heading)
        self.area = QScrollArea()
        self.area.setWidgetResizable(True)
        self.area.setFrameShape(QFrame.Shape.NoFrame)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        outer.addWidget(self.area, 1)
        self._shown: tuple | None = None
        self._body = QWidget()
        self.area.setWidget(self._body)

    def show_findings(self, findings: tuple[Finding, ...], unit: str, theme: Theme) -> None:
        """List findings, the worst first."""
        if (findings, unit, theme) == self._shown:
            return
        self._shown = (findings, unit, theme)
        self.heading.setText(f"Findings · {len(findings)}" if findings else "Nothing found amiss")
        body = self._body = QWidget()
        layout = QVBoxLayout(body)
        layout.setContentsMargins(0, 4, 10, 0)
        layout.setSpacing(9)
        for finding in findings[: self._AT_MOST]:
            layout.addLayout(self._line(finding, unit, theme))
        if len(findings) > self._AT_MOST:
            layout.addWidget(QLabel(f"and {len(findings) - self._AT_MOST} more"))
        layout.addStretch(1)
        self.area.setWidget(body)

    def wanted_height(self) -> int:
        """Room in which no finding has to be scrolled to."""
        inside = self._body.layout()
        width = self.width() - 20 - 8 - 12
        return 52 + (inside.heightForWidth(width) if inside is not None else 0)

    def _line(self, finding: Finding, unit: str, theme: Theme) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(8)
        colour = {"wrong": theme.accent, "caution": theme.caution, "note": theme.soft_ink}
        sign = QLabel(_SIGNS[finding.severity])
        sign.setStyleSheet(f"color: {colour[finding.severity]}")
        sign.setToolTip(finding.severity)
        sign.setFixedWidth(13)
        line.addWidget(sign, 0, Qt.AlignmentFlag.AlignTop)
        words = QVBoxLayout()
        words.setSpacing(1)
        message = finding.told(lambda m: shown_length(m, unit))
        text = QLabel(message)
        text.setWordWrap(True)
        text.setAccessibleName(f"{finding.severity}: {message}")
        text.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        words.addWidget(text)
        if finding.place is not None:
            go = QPushButton("Go there")
            go.setObjectName("quiet")
            go.setAccessibleName(f"Go there: {message}")
            go.clicked.connect(lambda _=False, at=finding.place: self.wanted.emit(*at))
            words.addWidget(go, 0, Qt.AlignmentFlag.AlignLeft)
        line.addLayout(words, 1)
        return line


class RowStrip(Card):
    """Every row as a bar of its length, in row order; linked with the plan both ways."""

    pointed = Signal(object)
    wanted = Signal(object)

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Row lengths")
        self.setToolTip("Left and Right walk from row to row, Enter goes there")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.theme = theme
        self.unit = "m"
        self._answer: LayoutAnswer | None = None
        self._plan = np.empty(0, np.intp)
        self._segment = np.empty(0, np.intp)
        self._length = np.empty(0)
        self._short = np.empty(0, bool)
        self._marked: tuple[int, int] | None = None

    SHORT_SHARE = 0.25
    """Bars under this share of the longest row are marked as short."""

    def show_answer(self, answer: LayoutAnswer) -> None:
        """Show the rows of all blocks, block after block."""
        self._answer = answer
        plans = answer.plans
        counts = [p.n_segments for p in plans]
        self._plan = np.repeat(np.arange(len(plans)), counts)
        self._segment = np.concatenate([np.arange(n) for n in counts] or [np.empty(0, np.intp)])
        self._length = np.concatenate([p.segments.length_m for p in plans] or [np.empty(0)])
        self._short = self._length < self.SHORT_SHARE * self._length.max(initial=0.0)
        self.update()

    def mark(self, place: tuple[int, int] | None) -> None:
        """Light up the bar of a row."""
        if place != self._marked:
            self._marked = place
            self.update()

    def _band(self) -> QRectF:
        return QRectF(20, 30, self.width() - 40, self.height() - 42)

    def mouseMoveEvent(self, event):
        band, n = self._band(), len(self._length)
        at = event.position()
        place = None
        if n and band.left() <= at.x() < band.right():
            i = min(int((at.x() - band.left()) / band.width() * n), n - 1)
            place = int(self._plan[i]), int(self._segment[i])
        self.pointed.emit(place)

    def mousePressEvent(self, event):
        super().mousePressEvent(event)
        if self._marked is not None:
            self.wanted.emit(self._marked)

    def keyPressEvent(self, event):
        n, at, key = len(self._length), self._marked_bar(), event.key()
        steps = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
        ends = {Qt.Key.Key_Home: 0, Qt.Key.Key_End: n - 1}
        if n and key in steps:
            to = 0 if at is None else (at + steps[key]) % n
        elif n and key in ends:
            to = ends[key]
        elif n and at is not None and key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.wanted.emit(self._marked)
            return
        else:
            super().keyPressEvent(event)
            return
        self.pointed.emit((int(self._plan[to]), int(self._segment[to])))

    def _marked_bar(self) -> int | None:
        if self._marked is None:
            return None
        p, s = self._marked
        found = np.flatnonzero((self._plan == p) & (self._segment == s))
        return int(found[0]) if len(found) else None

    def leaveEvent(self, event):
        self.pointed.emit(None)
        super().leaveEvent(event)

    def paintEvent(self, event):
        super().paintEvent(event)
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setFont(typeface(SANS, 12))
        painter.setPen(self.theme["soft_ink"])
        n = len(self._length)
        if not n:
            painter.drawText(20, 21, "No rows yet")
            painter.end()
            return
        painter.drawText(20, 21, f"Row lengths, {n} segments")
        band = self._band()
        step = band.width() / n
        longest = self._length.max()
        if step >= 2:
            for i, length in enumerate(self._length.tolist()):
                high = max(length / longest * band.height(), 1.0)
                painter.fillRect(
                    QRectF(band.left() + i * step, band.bottom() - high, step * 0.82, high),
                    self.theme["caution" if self._short[i] else "row"],
                )
        else:  # one bar a pixel: the longest and whether any is short
            edges = np.linspace(0, n, int(band.width()) + 1).astype(int)[:-1]
            tall = np.maximum.reduceat(self._length, edges) / longest * band.height()
            any_short = np.logical_or.reduceat(self._short, edges)
            for i, (high, short) in enumerate(zip(tall.tolist(), any_short.tolist(), strict=True)):
                painter.fillRect(
                    QRectF(band.left() + i, band.bottom() - high, 1.0, high),
                    self.theme["caution" if short else "row"],
                )
        if self._marked is not None:
            self._paint_marked(painter, band, step, longest)
        painter.end()

    def _paint_marked(self, painter, band, step, longest) -> None:
        p, s = self._marked
        i = self._marked_bar()
        if i is None:
            return
        high = max(self._length[i] / longest * band.height(), 1.0)
        painter.fillRect(
            QRectF(band.left() + i * step, band.bottom() - high, max(step * 0.82, 2.0), high),
            self.theme["accent"],
        )
        plan = self._answer.plans[p]
        g = plan.segments
        size, label = unit_length_m(self.unit), {"usft": "US ft"}.get(self.unit, self.unit)
        code = segment_code(plan.block.name, int(g.number[s]), int(g.letter[s]))
        painter.setFont(typeface(SANS, 12, strong=True))
        painter.setPen(self.theme["accent"])
        painter.drawText(
            QRectF(20, 7, self.width() - 40, 20),
            Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
            f"{code}: {g.length_m[s] / size:.1f} {label}, {g.n_vines[s]} vines",
        )
