"""What scrolls in a card, and comes into sight where something of it is told."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget

BAR_PX = 14
"""Room of the scroll bar, and kept round what is brought into sight. [px]"""


class Scrolled(QScrollArea):
    """A widget that is as wide as its card and scrolls up and down alone."""

    def __init__(self, inside: QWidget, parent: QWidget | None = None):
        super().__init__(parent)
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(inside)

    def bring_into_sight(self, widget: QWidget) -> None:
        self.ensureWidgetVisible(widget, 0, BAR_PX)
        # once more when it has made its room
        QTimer.singleShot(0, widget, lambda: self.ensureWidgetVisible(widget, 0, BAR_PX))
