"""Cards that ask inside the window: a title, a sentence, fields, and what is wrong with an entry."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import (
    QApplication,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ..core.model import InputProblem
from ..session.wording import window_words
from .cards import Card
from .look import SERIF, typeface

CARD_PX, _WIDE_CARD_PX = 520, 720
_OFFERS, _OFFERS_IN_PAIRS = 7, 5
"""So many suggestions show at once; the rest scrolls."""
_IN_PAIRS = 5
"""So many fields and more stand in pairs, or the card is higher than a small window."""


@dataclass(frozen=True)
class Field:
    """One thing to be typed.

    Attributes
    ----------
    name : str
        Names its text in the answer.
    label : str
        Above the field.
    text, hint : str
        What stands in it at first, and what an empty field says.
    offers : function of the typed text to (text taken, line shown) pairs, optional
        Suggestions listed under the field.
    asked : bool
        Shown from the start; others show when the problem they settle has come up.
    """

    name: str
    label: str
    text: str = ""
    hint: str = ""
    offers: Callable[[str], list[tuple[str, str]]] | None = None
    asked: bool = True


class Unfit(InputProblem):
    """An input problem of one field of a card."""

    def __init__(self, problem: object, field: str):
        super().__init__(str(problem))
        self.field = field


class FloatingCard(Card):
    """A card in the middle of the plan that takes the keyboard and gives it back."""

    def __init__(self, parent: QWidget):
        super().__init__(parent)
        self._be_wide(CARD_PX)
        self._before: QWidget | None = None
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(30, 24, 30, 24)
        self._layout.setSpacing(10)
        self.title = QLabel()
        self.title.setFont(typeface(SERIF, 22, strong=True))
        self.sentence = QLabel()
        self.sentence.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        for label in (self.title, self.sentence):
            label.setTextFormat(Qt.TextFormat.PlainText)
            label.setWordWrap(True)
            self._layout.addWidget(label)
        self.hide()
        parent.installEventFilter(self)

    def _be_wide(self, most_px: int) -> None:
        self.setFixedWidth(min(most_px, max(self.parentWidget().width() - 40, 320)))

    def _say(self, title: str, sentence: str) -> None:
        self.title.setText(title)
        self.title.setVisible(bool(title))
        self.sentence.setText(sentence)
        self.sentence.setVisible(bool(sentence))
        self.setAccessibleName(title or sentence)
        self.setAccessibleDescription(sentence)

    def _come_up(self, first: QWidget) -> None:
        held = QApplication.focusWidget()
        if held is not None and not self.isAncestorOf(held):
            self._before = held
        self.show()
        self._settle()
        self.raise_()
        first.setFocus(Qt.FocusReason.OtherFocusReason)
        QAccessible.updateAccessibility(QAccessibleEvent(self, QAccessible.Event.Alert))

    def _settle(self) -> None:
        """Into the middle, as high as its words need at its width."""
        self._layout.activate()
        room = self.parentWidget().size()
        self.resize(self.width(), self._layout.totalHeightForWidth(self.width()))
        left, top = (room.width() - self.width()) // 2, (room.height() - self.height()) // 2
        self.move(max(left, 0), max(top, 12))

    def _go(self) -> None:
        self.hide()
        before, self._before = self._before, None
        try:
            if before is not None and before.isVisible():
                before.setFocus(Qt.FocusReason.OtherFocusReason)
            else:
                self.parentWidget().setFocus(Qt.FocusReason.OtherFocusReason)
        except RuntimeError:  # what had the keyboard is gone
            self.parentWidget().setFocus(Qt.FocusReason.OtherFocusReason)

    def eventFilter(self, watched, event):
        resized = event.type() == QEvent.Type.Resize and watched is self.parentWidget()
        if resized and self.isVisible():
            self._settle()
        return super().eventFilter(watched, event)

    # what lies beside the words of a card is not for the plan below
    def mousePressEvent(self, event):
        event.accept()

    def wheelEvent(self, event):
        event.accept()


class _FieldRows(QWidget):
    """A label, a field, its suggestions, and what is wrong with it."""

    entered = Signal()

    def __init__(self, field: Field, offers_at_most: int = _OFFERS):
        super().__init__()
        self.field, self._at_most = field, offers_at_most
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(4)
        label = QLabel(field.label)
        self.line = QLineEdit(field.text)
        self.line.setPlaceholderText(field.hint)
        self.line.setAccessibleName(field.label)
        label.setBuddy(self.line)
        self.line.returnPressed.connect(self.entered)
        layout.addWidget(label)
        layout.addWidget(self.line)
        self.problem = QLabel()
        self.problem.setObjectName("problem")
        self.problem.setTextFormat(Qt.TextFormat.PlainText)
        self.problem.setWordWrap(True)
        self.problem.hide()
        layout.addWidget(self.problem)
        self.offers: QListWidget | None = None
        if field.offers is not None:
            self.offers = QListWidget()
            self.offers.setAccessibleName(f"Suggestions for {field.label}")
            self.offers.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
            sideways = self.offers.horizontalScrollBar()
            sideways.valueChanged.connect(
                lambda _: sideways.setValue(0)
            )  # or words lose their head
            self.offers.itemClicked.connect(self._take_item)
            self.offers.itemActivated.connect(self._enter_item)
            self.line.textEdited.connect(self._list)
            self.line.installEventFilter(self)
            layout.addWidget(self.offers)
            self._list("")

    def _list(self, text: str) -> None:
        self.offers.clear()
        for taken, shown in self.field.offers(text):
            item = QListWidgetItem(shown)
            item.setData(Qt.ItemDataRole.UserRole, taken)
            self.offers.addItem(item)
        n = self.offers.count()
        row = self.offers.sizeHintForRow(0) if n else 0
        self.offers.setFixedHeight(max(min(n, self._at_most) * row + 12, 1))
        self.offers.setVisible(n > 0)

    def _take_item(self, item) -> None:
        self.line.setText(item.data(Qt.ItemDataRole.UserRole))

    def _enter_item(self, item) -> None:
        self._take_item(item)
        self.entered.emit()

    def eventFilter(self, watched, event):
        down = event.type() == QEvent.Type.KeyPress and event.key() == Qt.Key.Key_Down
        if watched is self.line and down and self.offers.count():
            self.offers.setFocus(Qt.FocusReason.OtherFocusReason)
            self.offers.setCurrentRow(0)
            return True
        return super().eventFilter(watched, event)

    def complain(self, text: str) -> None:
        self.problem.setText(text)
        self.problem.setVisible(bool(text))
        self.line.setAccessibleDescription(text)


class AskCard(FloatingCard):
    """Asks for one or more values; what cannot be taken is said under its field, and stays there.

    The window can be used while it is open. Escape and "Leave it" change nothing.
    """

    def __init__(self, parent: QWidget):
        super().__init__(parent)
        self.fields: dict[str, _FieldRows] = {}
        self._take: Callable[[dict[str, str]], None] | None = None
        self._rows = QGridLayout()
        self._rows.setHorizontalSpacing(18)
        self._rows.setVerticalSpacing(10)
        self._layout.addLayout(self._rows)
        line = QHBoxLayout()
        self.primary, self.leave_button = QPushButton(), QPushButton("Leave it")
        self.primary.setObjectName("primary")
        self.primary.clicked.connect(self._taken)
        self.leave_button.clicked.connect(self.leave)
        line.addWidget(self.primary)
        line.addWidget(self.leave_button)
        line.addStretch(1)
        self._layout.addSpacing(4)
        self._layout.addLayout(line)

    def ask(
        self,
        title: str,
        sentence: str,
        fields: tuple[Field, ...],
        primary: str,
        take: Callable[[dict[str, str]], None],
    ) -> None:
        """Ask; `take` has the texts by field name and raises InputProblem (or Unfit, which names
        its field) where they cannot be taken. A question that was open is left."""
        self._say(title, sentence)
        for rows in self.fields.values():
            rows.hide()
            rows.deleteLater()
        self.fields, self._take = {}, take
        in_pairs = sum(field.asked for field in fields) >= _IN_PAIRS
        self._be_wide(_WIDE_CARD_PX if in_pairs else CARD_PX)
        for i, field in enumerate(fields):
            rows = _FieldRows(field, _OFFERS_IN_PAIRS if in_pairs else _OFFERS)
            self.fields[field.name] = rows
            rows.entered.connect(self._taken)
            if rows.offers is not None:
                rows.line.textEdited.connect(lambda _: self._settle())
            across = 2 if not in_pairs or (i == len(fields) - 1 and i % 2 == 0) else 1
            at = divmod(i, 2) if in_pairs else (i, 0)
            self._rows.addWidget(rows, *at, 1, across, Qt.AlignmentFlag.AlignTop)
            rows.setVisible(field.asked)
        self.primary.setText(primary)
        lines = [r.line for r in self.fields.values()]
        for before, after in zip(lines, [*lines[1:], self.primary], strict=True):
            rows = next(r for r in self.fields.values() if r.line is before)
            if rows.offers is not None:
                QWidget.setTabOrder(before, rows.offers)
                before = rows.offers
            QWidget.setTabOrder(before, after)
        QWidget.setTabOrder(self.primary, self.leave_button)
        first = next(r.line for r in self.fields.values() if r.field.asked)
        first.selectAll()  # the others are by Tab
        self._come_up(first)

    def texts(self) -> dict[str, str]:
        """What stands in the fields, by name."""
        return {name: rows.line.text() for name, rows in self.fields.items()}

    def problem_text(self) -> str:
        """What is said to be wrong; empty where nothing is."""
        return " ".join(r.problem.text() for r in self.fields.values() if not r.problem.isHidden())

    def _taken(self) -> None:
        for rows in self.fields.values():
            rows.complain("")
        try:
            self._take(self.texts())
        except InputProblem as problem:
            name = getattr(problem, "field", next(iter(self.fields)))
            rows = self.fields[name]
            rows.complain(window_words(str(problem)))
            rows.show()
            self._settle()
            rows.line.setFocus(Qt.FocusReason.OtherFocusReason)
            rows.line.selectAll()
            QAccessible.updateAccessibility(QAccessibleEvent(rows.problem, QAccessible.Event.Alert))
        else:
            if self.isVisible():
                self._go()

    def leave(self) -> None:
        """Close the question; nothing is changed."""
        if not self.isHidden():
            self._go()

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.leave()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            # fields and lists pass Enter on after they have taken it
            if self.leave_button.hasFocus():
                self.leave()
            elif self.primary.hasFocus():
                self._taken()
        else:
            super().keyPressEvent(event)
