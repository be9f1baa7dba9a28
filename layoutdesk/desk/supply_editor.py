"""One line of the take-off looked at more closely: how it is sold, for how much, under which name."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QGridLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton

FIELDS = (
    # name, label, row, column, columns it takes
    ("name", "Name", 0, 0, 3),
    ("sold_by", "Sold by the", 1, 0, 1),
    ("holds", "Holds", 1, 2, 1),
    ("price", "Price of one", 2, 0, 1),
    ("mass", "Mass of one", 2, 2, 1),
)
"""What can be typed of a supply."""


class SupplyEditor(QFrame):
    """Five fields and what to do with them; what cannot be taken is said below, and stays.

    Signals
    -------
    kept : dict
        The texts by field, to be taken as the user's own.
    given_back
        The catalogue's is to hold again.
    dismissed
    """

    kept = Signal(dict)
    given_back = Signal()
    dismissed = Signal()

    def __init__(self, parent=None):
        super().__init__(parent)
        self.setAccessibleName("How it is sold")
        grid = QGridLayout(self)
        grid.setContentsMargins(15, 6, 15, 2)
        grid.setHorizontalSpacing(8)
        grid.setVerticalSpacing(5)
        self.title = QLabel()
        self.title.setObjectName("heading")
        self.title.setWordWrap(True)
        self.meaning = QLabel()
        self.meaning.setObjectName("soft")
        self.meaning.setWordWrap(True)
        for label in (self.title, self.meaning):
            label.setTextFormat(Qt.TextFormat.PlainText)
        grid.addWidget(self.title, 0, 0, 1, 4)
        grid.addWidget(self.meaning, 1, 0, 1, 4)
        self.is_typing = False
        self.fields: dict[str, QLineEdit] = {}
        self.labels: dict[str, QLabel] = {}
        for name, words, row, column, wide in FIELDS:
            label, field = QLabel(words), QLineEdit()
            label.setBuddy(field)
            field.setAccessibleName(words)
            field.setMinimumWidth(60)
            field.returnPressed.connect(self._keep)
            field.textEdited.connect(self._typed)
            grid.addWidget(label, row + 2, column)
            grid.addWidget(field, row + 2, column + 1, 1, wide)
            self.fields[name], self.labels[name] = field, label
        grid.setColumnStretch(1, 1)
        grid.setColumnStretch(3, 1)
        self.problem = QLabel()
        self.problem.setObjectName("problem")
        self.problem.setWordWrap(True)
        self.problem.hide()
        grid.addWidget(self.problem, 5, 0, 1, 4)
        grid.addLayout(self._buttons(), 6, 0, 1, 4)

    def _buttons(self) -> QHBoxLayout:
        line = QHBoxLayout()
        self.keep = QPushButton("Use as my own")
        self.give_back = QPushButton("Back to the catalogue")
        self.leave = QPushButton("Done")
        self.keep.clicked.connect(self._keep)
        self.give_back.clicked.connect(self.given_back)
        self.leave.clicked.connect(self.dismissed)
        self.buttons = (self.keep, self.give_back, self.leave)
        for button in self.buttons:
            button.setObjectName("quiet")
            line.addWidget(button)
        line.insertStretch(2, 1)
        return line

    def show_supply(
        self, title: str, meaning: str, texts: dict[str, str], hints: dict[str, str], is_own: bool
    ) -> None:
        """Show how something is sold; texts that are being typed are written over."""
        self.title.setText(title)
        self.meaning.setText(meaning)
        self.title.setToolTip(meaning)
        self.title.setAccessibleDescription(meaning)
        for name, field in self.fields.items():
            field.setText(texts.get(name, ""))
            field.setPlaceholderText(hints.get(name, ""))
        self.give_back.setVisible(is_own)
        self.keep.setText("Change my own" if is_own else "Use as my own")
        self.is_typing = False
        self.refuse("", "")

    def _typed(self) -> None:
        self.is_typing = True
        self.refuse("", "")

    def show_meaning(self, shown: bool) -> None:
        """Tell at length what is counted and cut, or only in the tooltip of the title."""
        self.meaning.setVisible(shown and bool(self.meaning.text()))

    def texts(self) -> dict[str, str]:
        """What stands in the fields."""
        return {name: field.text() for name, field in self.fields.items()}

    def refuse(self, name: str, sentence: str) -> None:
        """Say why what was typed cannot be taken; an empty sentence takes it back."""
        self.problem.setText(sentence)
        self.problem.setVisible(bool(sentence))
        for field in self.fields.values():
            field.setAccessibleDescription("")
        if sentence and name in self.fields:
            self.fields[name].setAccessibleDescription(sentence)
            self.fields[name].setFocus(Qt.FocusReason.OtherFocusReason)
            self.fields[name].selectAll()

    def _keep(self) -> None:
        self.kept.emit(self.texts())

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.dismissed.emit()
        else:
            super().keyPressEvent(event)
