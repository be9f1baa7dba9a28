"""The bar above the plan and the foot below it."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QMenuBar, QPushButton, QWidget

from .look import SANS, SERIF, typeface

EDGE_PX = 18


class TopBar(QWidget):
    """The project's name and state, the menus, the work in hand, undo, redo and the stake-out."""

    def __init__(self, menu: QMenuBar):
        super().__init__()
        self.setObjectName("bar")
        self.setFixedHeight(52)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.title = QLabel("Layout Desk")
        self.title.setObjectName("title")
        self.title.setFont(typeface(SERIF, 19, strong=True))
        self.state, self.work = QLabel(""), QLabel("")
        for label in (self.state, self.work):
            label.setObjectName("soft")
        self.menu = menu
        menu.setNativeMenuBar(False)
        menu.setFixedHeight(34)
        menu.setContentsMargins(0, 4, 0, 0)
        self.stop, self.undo, self.redo = (QPushButton(t) for t in ("Cancel", "Undo", "Redo"))
        self.stakeout = QPushButton("Stake-out…")
        self.stakeout.setObjectName("primary")
        line = QHBoxLayout(self)
        line.setContentsMargins(EDGE_PX, 0, EDGE_PX, 0)
        line.setSpacing(10)
        line.addWidget(self.title)
        line.addWidget(self.state)
        line.addSpacing(14)
        line.addWidget(menu, 0, Qt.AlignmentFlag.AlignVCenter)
        line.addStretch(1)
        for widget in (self.work, self.stop, self.undo, self.redo, self.stakeout):
            line.addWidget(widget)
        self.stop.hide()


class Foot(QWidget):
    """Coordinates under the cursor, the survey grid, and what it does to 100 m."""

    def __init__(self):
        super().__init__()
        self.setObjectName("foot")
        self.setFixedHeight(31)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.cursor, self.system, self.factor = QLabel(), QLabel(), QLabel()
        self.cursor.setMinimumWidth(215)
        line = QHBoxLayout(self)
        line.setContentsMargins(EDGE_PX, 0, EDGE_PX, 0)
        line.setSpacing(22)
        for label in (self.cursor, self.system, self.factor):
            label.setFont(typeface(SANS, 12))
            label.setObjectName("soft")
            line.addWidget(label)
        line.addStretch(1)
