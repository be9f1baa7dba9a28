"""What is picked on the rows stage: a row, a post, a vine, or many rows; and what is special there."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QGridLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout, QWidget

from .cards import Card


class PickedCard(Card):
    """A heading, figures, a caution, at most two lengths to be typed, and buttons."""

    typed = Signal(str, str)
    wanted = Signal(str)
    dismissed = Signal()

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("What is picked")
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 14, 20, 14)
        column.setSpacing(8)
        self.heading, self.figures, self.caution = QLabel(), QLabel(), QLabel()
        self.heading.setObjectName("heading")
        self.caution.setObjectName("notice")
        column.addWidget(self.heading)
        for told in (self.figures, self.caution):
            told.setWordWrap(True)
            column.addWidget(told)
        self._grid = QGridLayout()
        self._grid.setColumnStretch(1, 1)
        column.addLayout(self._grid)
        self.fields: dict[str, QLineEdit] = {}
        self._buttons = QVBoxLayout()
        self._buttons.setSpacing(6)
        column.addLayout(self._buttons)
        self.buttons: dict[str, QPushButton] = {}
        self._shown: tuple = ()
        self.hide()

    def show_picked(self, heading: str, figures: str, fields, buttons, caution: str = "") -> None:
        """Show what is picked.

        Parameters
        ----------
        heading, figures : str
        fields : tuple of (key, words, text)
            Lengths that can be typed.
        buttons : tuple of (key, words)
        caution : str
            Of a danger there.
        """
        self.heading.setText(heading)
        self.figures.setText(figures)
        self.caution.setText(f"▲ {caution}" if caution else "")
        self.caution.setVisible(bool(caution))
        if (tuple(f[:2] for f in fields), buttons) != self._shown:
            self._shown = (tuple(f[:2] for f in fields), buttons)
            self._rebuild(fields, buttons)
        for key, _, text in fields:
            if not self.fields[key].isModified():
                self.fields[key].setText(text)
        self.show()
        self.adjustSize()

    def _rebuild(self, fields, buttons) -> None:
        for layout in (self._grid, self._buttons):
            while layout.count():
                widget = layout.takeAt(0).widget()
                widget.hide()
                widget.deleteLater()
        self.fields, self.buttons = {}, {}
        for row, (key, words, _) in enumerate(fields):
            label, field = QLabel(words), QLineEdit()
            label.setObjectName("soft")
            label.setWordWrap(True)
            field.setAccessibleName(words)
            field.setFixedWidth(84)
            field.returnPressed.connect(lambda k=key, f=field: self._typed(k, f))
            self._grid.addWidget(label, row, 0, 1, 2)
            self._grid.addWidget(field, row, 2)
            label.show()  # at once, so that the card's height counts them
            field.show()
            self.fields[key] = field
        for key, words in buttons:
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, k=key: self.wanted.emit(k))
            self._buttons.addWidget(button)
            button.show()
            self.buttons[key] = button

    def _typed(self, key: str, field: QLineEdit) -> None:
        field.setModified(False)
        self.typed.emit(key, field.text())
        field.selectAll()

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.dismissed.emit()
        else:
            super().keyPressEvent(event)
