"""The findings beside the plan: what, how grave, and a way to the place."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QGuiApplication, QKeySequence, QPainter
from PySide6.QtWidgets import (
    QAbstractButton,
    QFrame,
    QHBoxLayout,
    QLabel,
    QScrollArea,
    QSizePolicy,
    QVBoxLayout,
    QWidget,
)

from ..core.model import Finding
from ..session.specification import shown_length
from ..session.wording import window_words
from .cards import Card, paint_focus_ring
from .look import Theme

_SIGNS = {"wrong": "■", "caution": "▲", "note": "●"}
_ORDER = ("wrong", "caution", "note")
_STEPS = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}
_ENDS = {Qt.Key.Key_Home: 0, Qt.Key.Key_End: -1}
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)


class _Line(QAbstractButton):
    """A sign and words that are one thing to press, with a ring where the keyboard is."""

    walked = Signal(object, int)

    def __init__(self, sign: str, colour: str, words: str, theme: Theme):
        super().__init__()
        self.theme, self.words = theme, words
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        # as wide as the list, whatever the words would like
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)
        line = QHBoxLayout(self)
        line.setContentsMargins(6, 4, 6, 4)
        line.setSpacing(8)
        self.sign, self.label = QLabel(sign), QLabel(words)
        self.sign.setStyleSheet(f"color: {colour}")
        self.sign.setFixedWidth(13)
        self.label.setWordWrap(True)
        self.label.setTextFormat(Qt.TextFormat.PlainText)
        for part in (self.sign, self.label):
            part.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        line.addWidget(self.sign, 0, Qt.AlignmentFlag.AlignTop)
        line.addWidget(self.label, 1)

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and (
            event.key() in _ENDS or event.matches(QKeySequence.StandardKey.Copy)
        ):
            event.accept()  # Home is "Show all" elsewhere
            return True
        return super().event(event)

    def keyPressEvent(self, event):
        key = event.key()
        if event.matches(QKeySequence.StandardKey.Copy):
            QGuiApplication.clipboard().setText(self.words)
        elif key in _ENTER:
            self.click()
        elif key in _STEPS:
            self.walked.emit(self, _STEPS[key])
        elif key in _ENDS:
            self.walked.emit(None, _ENDS[key])
        else:
            super().keyPressEvent(event)

    def enterEvent(self, event):
        super().enterEvent(event)
        self.update()

    def leaveEvent(self, event):
        super().leaveEvent(event)
        self.update()

    def paintEvent(self, event):
        painter = QPainter(self)
        clickable = self.cursor().shape() == Qt.CursorShape.PointingHandCursor
        if self.underMouse() and clickable:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(self.theme["ground"])
            painter.drawRoundedRect(self.rect(), 6, 6)
        if self.hasFocus():
            paint_focus_ring(painter, self, self.theme, 6)
        painter.end()


class FindingsCard(Card):
    """What the program found, the worst first; a click or Enter on one goes to its place.

    Up and Down walk from one to the next. Notes about no place in particular are folded into one
    line at the end.
    """

    wanted = Signal(float, float)
    height_changed = Signal()
    AT_MOST = 60
    """Findings that are listed; the rest is counted."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Findings")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(12, 14, 8, 12)
        self.heading = QLabel("Findings")
        self.heading.setObjectName("heading")
        self.heading.setContentsMargins(6, 0, 0, 0)
        outer.addWidget(self.heading)
        self.area = QScrollArea()
        self.area.setWidgetResizable(True)
        self.area.setFrameShape(QFrame.Shape.NoFrame)
        self.area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer.addWidget(self.area, 1)
        self._shown: tuple | None = None
        self._body = QWidget()
        self._folded: QWidget | None = None
        self.area.setWidget(self._body)
        self.lines: list[_Line] = []
        self.fold: _Line | None = None
        self._open = False

    def show_findings(self, findings: tuple[Finding, ...], unit: str, theme: Theme) -> None:
        """List findings; costs nothing where they are those that are shown."""
        if (findings, unit, theme) == self._shown:
            return
        held = next((i for i, line in enumerate(self.lines) if line.hasFocus()), None)
        self._shown = (findings, unit, theme)
        self.heading.setText(f"Findings · {len(findings)}" if findings else "Nothing found amiss")
        about_files = [f for f in findings if f.severity == "note" and f.place is None]
        mattering = [f for f in findings if f.severity != "note" or f.place is not None]
        mattering.sort(key=lambda f: (_ORDER.index(f.severity), f.place is None))
        body = self._body = QWidget()
        layout = QVBoxLayout(body)
        layout.setContentsMargins(0, 2, 6, 0)
        layout.setSpacing(2)
        self.lines, self.fold, self._folded = [], None, None
        for finding in mattering[: self.AT_MOST]:
            layout.addWidget(self._line(finding, unit, theme))
        if len(mattering) > self.AT_MOST:
            more = QLabel(f"and {len(mattering) - self.AT_MOST} more")
            more.setContentsMargins(27, 4, 6, 4)
            layout.addWidget(more)
        if about_files:
            layout.addWidget(self._fold_line(len(about_files), bool(mattering), theme))
            self._folded = QWidget()
            inside = QVBoxLayout(self._folded)
            inside.setContentsMargins(0, 0, 0, 0)
            inside.setSpacing(2)
            for finding in about_files[: self.AT_MOST]:
                inside.addWidget(self._line(finding, unit, theme))
            layout.addWidget(self._folded)
            self._folded.setVisible(self._open)
        layout.addStretch(1)
        for line in self.lines:
            line.walked.connect(self._walk)
            line.pressed.connect(lambda line=line: self._hold(line))
        if self.lines:
            self.lines[0].setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.area.setWidget(body)
        if held is not None and self.lines:  # the list was made anew under the keyboard
            self._hold(self._reachable()[min(held, len(self._reachable()) - 1)])

    def wanted_height(self) -> int:
        """Room in which no finding has to be scrolled to."""
        inside = self._body.layout()
        width = self.width() - 12 - 8 - 8
        return 52 + (inside.heightForWidth(width) if inside is not None else 0)

    def _line(self, finding: Finding, unit: str, theme: Theme) -> _Line:
        colours = {"wrong": theme.accent, "caution": theme.caution, "note": theme.soft_ink}
        message = window_words(finding.told(lambda m: shown_length(m, unit)))
        line = _Line(_SIGNS[finding.severity], colours[finding.severity], message, theme)
        line.setAccessibleName(f"{finding.severity}: {message}")
        line.setToolTip(finding.severity.capitalize())
        if finding.place is not None:
            line.setCursor(Qt.CursorShape.PointingHandCursor)
            line.setToolTip(f"{finding.severity.capitalize()}: click or Enter goes there")
            line.setAccessibleDescription("Goes to its place")
            line.clicked.connect(lambda _=False, at=finding.place: self.wanted.emit(*at))
        self.lines.append(line)
        return line

    def _fold_line(self, count: int, after_others: bool, theme: Theme) -> _Line:
        words = f"{count} note{'s' * (count != 1)}"
        fold = _Line("", theme.soft_ink, f"and {words}" if after_others else words, theme)
        fold.setCursor(Qt.CursorShape.PointingHandCursor)
        fold.clicked.connect(self._turn_fold)
        self.fold = fold
        self.lines.append(fold)
        self._say_fold()
        return fold

    def _say_fold(self) -> None:
        self.fold.sign.setText("▾" if self._open else "▸")
        self.fold.setAccessibleName(f"{self.fold.words}, {'open' if self._open else 'folded'}")
        self.fold.setToolTip(f"Click or Enter {'folds' if self._open else 'opens'} them")

    def _turn_fold(self) -> None:
        self._open = not self._open
        self._folded.setVisible(self._open)
        self._say_fold()
        self.height_changed.emit()

    def _reachable(self) -> list[_Line]:
        return [n for n in self.lines if self._open or n.parentWidget() is not self._folded]

    def _walk(self, line: _Line | None, step: int) -> None:
        lines = self._reachable()
        at = step if line is None else lines.index(line) + step
        self._hold(lines[at if line is None else min(max(at, 0), len(lines) - 1)])

    def _hold(self, line: _Line) -> None:
        """Put the keyboard on a line; Tab comes back to it."""
        for other in self.lines:
            other.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        line.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        line.setFocus(Qt.FocusReason.OtherFocusReason)
        self.area.ensureWidgetVisible(line, 0, 4)
