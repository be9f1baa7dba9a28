"""The stages of the job: each changes what is beside the plan and what the hand does on it."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QWidget

from .cards import Card

STAGES = {
    "ground": "Ground",
    "rows": "Rows",
    "compare": "Compare",
    "materials": "Materials",
    "water": "Water",
    "planting": "Planting",
    "handoff": "Hand-off",
}


class StageBar(Card):
    """One button a stage; Ctrl and its number goes there."""

    wanted = Signal(str)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Stages")
        line = QHBoxLayout(self)
        line.setContentsMargins(6, 5, 6, 5)
        line.setSpacing(2)
        self.buttons: dict[str, QPushButton] = {}
        group = QButtonGroup(self)
        for i, (name, words) in enumerate(STAGES.items(), 1):
            button = QPushButton(words)
            button.setObjectName("stage")
            button.setCheckable(True)
            button.setToolTip(f"{words} (Ctrl+{i})")
            button.clicked.connect(lambda _=False, n=name: self.wanted.emit(n))
            group.addButton(button)
            line.addWidget(button, 1)
            self.buttons[name] = button
        self.hide()

    def show_stage(self, name: str) -> None:
        self.buttons[name].setChecked(True)
