"""The specification: a paragraph of plain language whose values are changed in place."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from PySide6.QtCore import QEvent, QPoint, QRect, QSize, Qt, Signal
from PySide6.QtGui import QAction, QFontMetrics, QKeySequence, QPainter
from PySide6.QtWidgets import QLineEdit, QMenu, QSizePolicy, QWidget

from ..session.specification import Paragraph, Value, choice_text
from .look import SERIF, typeface

_TEXT_PX = 16
_SCRUB_PX = 7
"""A sideways drag of so many pixels is one step. [px]"""


class ValueField(QLineEdit):
    """One value of the paragraph: type, step by wheel or arrows, drag sideways, Escape to put it back."""

    began = Signal(str)
    typed = Signal(str, str)
    moved = Signal(str, float)
    chosen = Signal(str, str)
    put_back = Signal(str)
    settled = Signal(str)

    def __init__(self, value: Value, parent: QWidget):
        super().__init__(parent)
        self.setObjectName("value")
        self.setFrame(False)
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setFont(typeface(SERIF, _TEXT_PX, strong=True))
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self._press: QPoint | None = None
        self._scrubbed = 0
        self.show_value(value)

    def show_value(self, value: Value) -> None:
        """Show another value of the same rule; what is being typed is left alone."""
        self.value = value
        self.setReadOnly(bool(value.choices))
        self.setCursor(
            Qt.CursorShape.PointingHandCursor if value.choices else Qt.CursorShape.SizeHorCursor
        )
        self.setAccessibleName(value.name)
        self.setToolTip(
            f"{value.name.capitalize()}: click to choose"
            if value.choices
            else f"{value.name.capitalize()}: type, use the wheel or the arrow keys, or drag sideways; "
            "Escape puts it back"
        )
        if not self.isModified():
            self.setText(value.text)

    def wanted_width(self) -> int:
        """Room for the text shown."""
        return QFontMetrics(self.font()).horizontalAdvance(self.text() or "0") + 6

    def commit(self) -> None:
        """Take what was typed."""
        if self.isModified() and self.text() != self.value.text:
            self.setModified(False)
            self.typed.emit(self.value.rule, self.text())
        self.setModified(False)
        self.setText(self.value.text)

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and not self.isModified():
            keys = QKeySequence.StandardKey
            if event.matches(keys.Undo) or event.matches(keys.Redo):
                event.ignore()  # undo of the project, where nothing is being typed
                return False
        return super().event(event)

    def focusInEvent(self, event):
        super().focusInEvent(event)
        self.began.emit(self.value.rule)
        self.selectAll()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self.commit()
        self.settled.emit(self.value.rule)
        self.deselect()

    def keyPressEvent(self, event):
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.value.choices:
                self._offer()
                return
            self.commit()
            self.settled.emit(self.value.rule)
            self.selectAll()
        elif key == Qt.Key.Key_Escape:
            self.setModified(False)
            self.put_back.emit(self.value.rule)
            self.setText(self.value.text)
            self.selectAll()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            size = 10 if key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown) else 1
            up = key in (Qt.Key.Key_Up, Qt.Key.Key_PageUp)
            self._move(size if up else -size)
        elif key == Qt.Key.Key_Space and self.value.choices:
            self._offer()
        else:
            super().keyPressEvent(event)

    def wheelEvent(self, event):
        if self.hasFocus() and event.angleDelta().y():
            self._move(1 if event.angleDelta().y() > 0 else -1)
            event.accept()
        else:
            event.ignore()

    def _move(self, steps: float) -> None:
        self.setModified(False)
        self.moved.emit(self.value.rule, steps)
        self.setText(self.value.text)
        self.selectAll()

    def mousePressEvent(self, event):
        if event.button() == Qt.MouseButton.LeftButton:
            self._press, self._scrubbed = event.position().toPoint(), 0
            if not self.hasFocus():
                self.setFocus(Qt.FocusReason.MouseFocusReason)
                event.accept()
                return
        super().mousePressEvent(event)

    def mouseMoveEvent(self, event):
        if self._press is None or self.value.choices:
            super().mouseMoveEvent(event)
            return
        away = event.position().toPoint().x() - self._press.x()
        steps = int(away / _SCRUB_PX)
        if steps != self._scrubbed:
            self._move(steps - self._scrubbed)
            self._scrubbed = steps
        event.accept()

    def mouseReleaseEvent(self, event):
        if self._press is not None and self._scrubbed:
            self.settled.emit(self.value.rule)
        elif self._press is not None and self.value.choices:
            self._offer()
        else:
            super().mouseReleaseEvent(event)
            if not self.isModified():
                self.selectAll()
        self._press = None

    def _offer(self) -> None:
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        for choice in self.value.choices:
            action = QAction(choice_text(self.value.rule, choice), menu)
            action.triggered.connect(lambda _=False, c=choice: self._choose(c))
            menu.addAction(action)
        menu.popup(self.mapToGlobal(QPoint(0, self.height() + 2)))

    def _choose(self, choice: str) -> None:
        self.chosen.emit(self.value.rule, choice)
        self.settled.emit(self.value.rule)
        self.setText(self.value.text)


@dataclass
class _Word:
    text: str
    x: int
    baseline: int


class SpecificationParagraph(QWidget):
    """Lays out words and values like text; the values keep their place in the reading."""

    began = Signal(str)
    typed = Signal(str, str)
    moved = Signal(str, float)
    chosen = Signal(str, str)
    put_back = Signal(str)
    settled = Signal(str)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setFont(typeface(SERIF, _TEXT_PX))
        self.fields: dict[str, ValueField] = {}
        self._paragraph: Paragraph = ()
        self._words: list[_Word] = []
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_paragraph(self, paragraph: Paragraph) -> None:
        """Show a paragraph; a value being edited keeps its cursor."""
        self._paragraph = paragraph
        values = [part for sentence in paragraph for part in sentence if isinstance(part, Value)]
        wanted = {v.rule for v in values}
        for rule in [r for r in self.fields if r not in wanted]:
            field = self.fields.pop(rule)
            field.hide()
            field.deleteLater()
        fresh = [v for v in values if v.rule not in self.fields]
        for value in fresh:
            self.fields[value.rule] = self._new_field(value)
        for value in values:
            self.fields[value.rule].show_value(value)
        for before, after in pairwise(values):
            QWidget.setTabOrder(self.fields[before.rule], self.fields[after.rule])
        self._relay()

    def _new_field(self, value: Value) -> ValueField:
        field = ValueField(value, self)
        for signal in ("began", "typed", "moved", "chosen", "put_back", "settled"):
            getattr(field, signal).connect(getattr(self, signal))
        field.textChanged.connect(self._relay)
        field.show()
        return field

    def _relay(self) -> None:
        height = self._arrange(self.width(), place=True)
        self.setMinimumHeight(height)
        self.updateGeometry()
        self.update()

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return self._arrange(width, place=False)

    def sizeHint(self) -> QSize:
        return QSize(300, self.heightForWidth(300))

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._relay()

    def _clusters(self):
        """Runs that may not be broken: lists of (text or Value), each with a space before or not."""
        for sentence in self._paragraph:
            cluster: list[str | Value] = []
            for part in sentence:
                if isinstance(part, Value):
                    cluster.append(part)
                    continue
                pieces = part.split(" ")
                for i, piece in enumerate(pieces):
                    if i and cluster:
                        yield cluster
                        cluster = []
                    if piece:
                        cluster.append(piece)
            if cluster:
                yield cluster
            yield None

    def _arrange(self, width: int, place: bool) -> int:
        metrics = QFontMetrics(self.font())
        line, gap = metrics.height() + 7, metrics.horizontalAdvance(" ")
        x, y, words = 0, 0, []
        for cluster in self._clusters():
            if cluster is None:
                x, y = 0, y + line + 9
                continue
            sizes = [
                self.fields[p.rule].wanted_width()
                if isinstance(p, Value)
                else metrics.horizontalAdvance(p)
                for p in cluster
            ]
            if x and x + gap + sum(sizes) > width:
                x, y = 0, y + line
            x += gap if x else 0
            for part, size in zip(cluster, sizes, strict=True):
                if isinstance(part, Value):
                    if place:
                        self.fields[part.rule].setGeometry(QRect(x, y, size, metrics.height() + 6))
                else:
                    words.append(_Word(part, x, y + 3 + metrics.ascent()))
                x += size
        if place:
            self._words = words
        return max(y - 9, 0)  # the last paragraph's own gap is not wanted

    def paintEvent(self, event):
        painter = QPainter(self)
        painter.setFont(self.font())
        painter.setPen(self.palette().windowText().color())
        for word in self._words:
            painter.drawText(word.x, word.baseline, word.text)
        painter.end()
