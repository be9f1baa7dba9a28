"""Which blocks a card is about, and what it tells of them."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QWidget


class ScopeLine(QWidget):
    """A choice of blocks that follows another one, and a heading; one block alone is named there."""

    chosen = Signal(int)

    def __init__(self, words: str, called: str):
        super().__init__()
        self._words = words
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        self.choice = QComboBox()
        self.choice.setAccessibleName(called)
        self.choice.activated.connect(self.chosen)
        self.heading = QLabel(words[:1].upper() + words[1:])
        self.heading.setObjectName("heading")
        line.addWidget(self.choice)
        line.addWidget(self.heading, 1)

    def follow(self, other: QComboBox, block: str) -> None:
        """Offer the same blocks as another choice does."""
        wanted = [other.itemText(i) for i in range(other.count())]
        if [self.choice.itemText(i) for i in range(self.choice.count())] != wanted:
            self.choice.clear()
            self.choice.addItems(wanted)
        self.choice.setCurrentIndex(other.currentIndex())
        several = len(wanted) > 1
        self.choice.setVisible(several)
        self.heading.setText(self._words if several else f"Block {block}, {self._words}")
