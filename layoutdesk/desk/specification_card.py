"""The card that holds the specification: which block, the paragraph, notices, the other norths."""

from __future__ import annotations

from PySide6.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QVBoxLayout,
    QWidget,
)

from .cards import Card
from .look import SERIF, typeface
from .paragraph import SpecificationParagraph
from .scrolling import BAR_PX, Scrolled

_LEFT, _RIGHT = 24, 10
_FIXED = 84
"""Height of all but the paragraph, the notice and the norths. [px]"""


class SpecificationCard(Card):
    """The paragraph scrolls where it is long; notice and norths are always in sight."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(_LEFT, 18, _RIGHT, 16)
        outer.setSpacing(10)
        top = QHBoxLayout()
        self.block_label = QLabel("How it is laid out")
        self.block_label.setObjectName("heading")
        self.block_choice = QComboBox()
        self.block_choice.setAccessibleName("Block the rules are for")
        top.addWidget(self.block_choice)
        top.addWidget(self.block_label, 1)
        outer.addLayout(top)
        self.paragraph = SpecificationParagraph()
        self.notice = QLabel()
        self.notice.setObjectName("notice")
        self.norths = QLabel()
        self.norths.setObjectName("norths")
        self.norths.setIndent(0)
        self.norths.setFont(typeface(SERIF, 15))
        for label in (self.notice, self.norths):
            label.setWordWrap(True)
        self.notice.hide()
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 12, 0)
        column.addWidget(self.paragraph)
        column.addStretch(1)
        self._area = area = Scrolled(inside)
        outer.addWidget(area, 1)
        self._area = area
        self.paragraph.sight_wanted.connect(self._area.bring_into_sight)
        outer.addWidget(self.notice)
        outer.addWidget(self.norths)

    def wheelEvent(self, event):
        event.accept()  # never the plan's, also where there is nothing to scroll

    def wanted_height(self, width: int) -> int:
        """Room in which nothing of the paragraph has to be scrolled to."""
        room = width - _LEFT - _RIGHT
        below = sum(
            label.heightForWidth(room) + 10
            for label in (self.notice, self.norths)
            if not label.isHidden()
        )
        return self.paragraph.heightForWidth(room - BAR_PX) + below + _FIXED
