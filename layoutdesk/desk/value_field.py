"""One value of the specification, changed in place: typed, stepped, scrubbed or chosen."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, Qt, Signal
from PySide6.QtGui import QAction, QFontMetrics, QKeySequence
from PySide6.QtWidgets import (
    QLineEdit,
    QMenu,
    QStyle,
    QStyleOptionFrame,
    QStylePainter,
    QWidget,
)

from ..session.specification import Value, choice_text
from .look import SERIF, typeface

TEXT_PX = 16
_SCRUB_PX = 7
"""A sideways drag of so many pixels is one step. [px]"""
_NOTCH = 120
"""What Qt counts for one notch of a wheel. [1/8 deg]"""

_PAIRED = """
QMenu::item { padding-top: 6px; padding-bottom: 2px; }
QMenu::item:disabled { padding-top: 1px; padding-bottom: 7px; }
"""
"""A meaning stands close under its choice."""


class ChoiceMenu(QMenu):
    """The choices of a value, each with a line on what it does; opens on the one that is so."""

    def __init__(self, value: Value, choose, parent: QWidget):
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setStyleSheet(_PAIRED)
        self.chosen: QAction | None = None
        meanings = value.meanings or ("",) * len(value.choices)
        for choice, meaning in zip(value.choices, meanings, strict=True):
            action = QAction(choice_text(value.rule, choice), self)
            action.setCheckable(True)
            action.triggered.connect(lambda _=False, c=choice: choose(c))
            self.addAction(action)
            if choice == value.chosen:
                action.setChecked(True)
                self.chosen = action
            if meaning:
                line = QAction(meaning, self)
                line.setEnabled(False)
                self.addAction(line)

    def open_below(self, field: QWidget) -> None:
        self.popup(field.mapToGlobal(QPoint(0, field.height() + 2)))
        if self.chosen is not None:
            self.setActiveAction(self.chosen)

    def mouseReleaseEvent(self, event):
        action = self.actionAt(event.position().toPoint())
        if action is not None and not action.isEnabled():  # a meaning belongs to what stands above
            actions = self.actions()
            actions[actions.index(action) - 1].trigger()
            self.close()
            return
        super().mouseReleaseEvent(event)


class ValueField(QLineEdit):
    """Type, step by wheel or arrows, drag sideways; Escape goes back to what was last settled.

    What it wishes it says by the signals of its paragraph. `refusal` is the sentence for which its
    text was not taken, empty as long as nothing is amiss.
    """

    refused = Signal()

    def __init__(self, value: Value, paragraph):
        super().__init__(paragraph)
        self._wishes = paragraph
        self.setObjectName("value")
        self.setFrame(False)
        self.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.setContextMenuPolicy(Qt.ContextMenuPolicy.NoContextMenu)
        self.refusal = ""
        self._refused_text = ""
        self._press: QPoint | None = None
        self._scrubbed = 0
        self._turned, self._wheeled = 0, False
        self.value: Value | None = None
        self.show_value(value)

    # showing

    def show_value(self, value: Value) -> None:
        """Show another value of the same rule; what is being typed is left alone."""
        if value == self.value and self.is_shown:
            return
        if self.refusal and value != self.value:
            self._forget_typing()
        self.value = value
        self.setReadOnly(bool(value.choices))
        shapes = Qt.CursorShape
        self.setCursor(
            shapes.PointingHandCursor
            if value.choices
            else shapes.SizeHorCursor
            if value.step
            else shapes.IBeamCursor
        )
        font = typeface(SERIF, TEXT_PX, strong=True)
        font.setItalic(value.differs)
        self.setFont(font)
        self.setAccessibleName(value.name)
        self.setToolTip(self._tip())
        if not self.isModified():
            self.setText(value.text)
            if self.hasFocus():
                self.selectAll()
            else:
                self.setCursorPosition(0)  # of a long one the beginning is seen

    @property
    def is_shown(self) -> bool:
        """Whether the text is the value's own, and nothing is being typed or was refused."""
        return not self.refusal and not self.isModified() and self.text() == self.value.text

    def _tip(self) -> str:
        value = self.value
        tip = f"{value.name.capitalize()}: type; Escape puts it back"
        if value.choices:
            tip = f"{value.name.capitalize()}: click to choose"
        elif value.step:
            tip = (
                f"{value.name.capitalize()}: type, use the wheel or the arrow keys, or drag sideways; "
                "Escape puts it back"
            )
        if value.differs:
            tip += "".join(f"\n{block}: {text}" for block, text in value.each)
            tip += "" if value.choices else "\nA step shifts each; typing sets all."
        return tip

    def wanted_width(self) -> int:
        """Room for the text shown."""
        return QFontMetrics(self.font()).horizontalAdvance(self.text() or "0") + 6

    def is_cut(self) -> bool:
        """Whether there is no room for all of the text."""
        return self.wanted_width() > self.width()

    def paintEvent(self, event):
        if self.hasFocus() or not self.is_cut():
            super().paintEvent(event)
            return
        option = QStyleOptionFrame()
        self.initStyleOption(option)
        painter = QStylePainter(self)
        painter.drawPrimitive(QStyle.PrimitiveElement.PE_PanelLineEdit, option)
        painter.setPen(option.palette.text().color())
        text = QFontMetrics(self.font()).elidedText(
            self.text(), Qt.TextElideMode.ElideRight, self.width() - 4
        )
        middle = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(self.rect().adjusted(2, 0, -2, 0), middle, text)
        painter.end()

    # taking and refusing

    def commit(self) -> None:
        """Take what was typed; text that is refused stays, for mending."""
        text = self.text()
        if self.refusal and text == self._refused_text:
            return
        typed = self.isModified() and text != self.value.text
        self._forget_typing(keep_text=typed)
        if typed:
            self._wishes.typed.emit(self.value.rule, text)
        if self.refusal:
            self.setModified(True)
        else:
            self.setText(self.value.text)

    def refuse(self, sentence: str) -> None:
        """Mark the text as not taken, for a reason in one sentence."""
        self.refusal, self._refused_text = sentence, self.text()
        self.setAccessibleDescription(sentence)
        self.refused.emit()

    def _forget_typing(self, keep_text: bool = False) -> None:
        self.setModified(False)
        had_refusal, self.refusal = self.refusal, ""
        self.setAccessibleDescription("")
        if not keep_text:
            self.setText(self.value.text)
        if had_refusal:
            self.refused.emit()

    # keyboard

    def event(self, event):
        if event.type() == QEvent.Type.ToolTip:
            self.setToolTip(f"{self.text()}\n{self._tip()}" if self.is_cut() else self._tip())
        if event.type() == QEvent.Type.ShortcutOverride and not self.isModified():
            keys = QKeySequence.StandardKey
            whole = self.selectedText() == self.text()
            if (
                event.matches(keys.Undo)
                or event.matches(keys.Redo)
                or (whole and event.key() in (Qt.Key.Key_Home, Qt.Key.Key_End))
            ):
                event.ignore()  # for the project and the plan, where nothing is being typed
                return False
        return super().event(event)

    def focusInEvent(self, event):
        super().focusInEvent(event)
        self._wishes.began.emit(self.value.rule)
        self._wishes.sight_wanted.emit(self)
        self.selectAll()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        reasons = Qt.FocusReason
        if event.reason() in (reasons.ActiveWindowFocusReason, reasons.PopupFocusReason):
            return  # the person comes back to it
        if self.refusal and self.text() == self._refused_text:
            self._forget_typing()
        else:
            self.commit()
        self._wishes.settled.emit(self.value.rule)
        self.deselect()
        self.setCursorPosition(0)

    def focusNextPrevChild(self, forward: bool) -> bool:
        if not (self.refusal and self.text() == self._refused_text):
            self.commit()
            if self.refusal:
                self.selectAll()
                return True  # stays for mending; a second Tab leaves it
        return super().focusNextPrevChild(forward)

    def keyPressEvent(self, event):
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.value.choices:
                self._offer()
                return
            self.commit()
            self._wishes.settled.emit(self.value.rule)
            self.selectAll()
        elif key == Qt.Key.Key_Escape:
            self._press = None
            self._forget_typing()
            self._wishes.put_back.emit(self.value.rule)
            self.selectAll()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown):
            size = 10 if key in (Qt.Key.Key_PageUp, Qt.Key.Key_PageDown) else 1
            up = key in (Qt.Key.Key_Up, Qt.Key.Key_PageUp)
            self._move(size if up else -size)
        elif key == Qt.Key.Key_Space and self.value.choices:
            self._offer()
        else:
            super().keyPressEvent(event)

    # wheel and hand

    def _move(self, steps: float) -> None:
        if not (self.value.step or self.value.choices):
            return
        self._forget_typing()
        self._wishes.moved.emit(self.value.rule, steps)
        self.setText(self.value.text)
        if self.hasFocus():
            self.selectAll()

    def leaveEvent(self, event):
        super().leaveEvent(event)
        self._turned = 0
        if self._wheeled:
            self._wheeled = False
            self._wishes.settled.emit(self.value.rule)

    def wheelEvent(self, event):
        if not self.hasFocus():  # the card is being scrolled
            event.ignore()
            return
        self._turned += event.angleDelta().y()
        steps = int(self._turned / _NOTCH)
        if steps:
            self._turned -= steps * _NOTCH
            self._wheeled = True
            self._move(steps)
        event.accept()

    def mousePressEvent(self, event):
        if event.button() == Qt.MouseButton.LeftButton:
            self._press, self._scrubbed = event.position().toPoint(), 0
            if not self.hasFocus():
                self.setFocus(Qt.FocusReason.MouseFocusReason)
                event.accept()
                return
        super().mousePressEvent(event)

    def mouseMoveEvent(self, event):
        if self._press is None or self.value.choices or not self.value.step:
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
            self._wishes.settled.emit(self.value.rule)
        elif self._press is not None and self.value.choices:
            self._offer()
        else:
            super().mouseReleaseEvent(event)
            if not self.isModified():
                self.selectAll()
        self._press = None

    def _offer(self) -> None:
        ChoiceMenu(self.value, self._choose, self).open_below(self)

    def _choose(self, choice: str) -> None:
        self._forget_typing()
        self._wishes.chosen.emit(self.value.rule, choice)
        self._wishes.settled.emit(self.value.rule)
        self.setText(self.value.text)
