"""The bar above the plan and the foot below it."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QFontMetrics, QPainter
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QMenuBar,
    QPushButton,
    QSizePolicy,
    QStyle,
    QStyleOptionButton,
    QStylePainter,
    QVBoxLayout,
    QWidget,
)

from .look import SANS, SERIF, typeface

EDGE_PX = 18


class ElidedLabel(QLabel):
    """One line that gives way: what has no room becomes …, and a tooltip holds the whole."""

    def __init__(self, text: str = "", mode=Qt.TextElideMode.ElideRight, least_px: int = 40):
        super().__init__(text)
        self._mode, self._least_px = mode, least_px
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def shown_text(self) -> str:
        """What there is room for."""
        return QFontMetrics(self.font()).elidedText(self.text(), self._mode, self.width())

    def minimumSizeHint(self):
        hint = super().minimumSizeHint()
        return QSize(min(hint.width(), self._least_px), hint.height())

    def event(self, event):
        if event.type() == event.Type.ToolTip:
            self.setToolTip(self.text() if self.shown_text() != self.text() else "")
        return super().event(event)

    def paintEvent(self, event):
        painter = QPainter(self)
        self.style().drawItemText(
            painter,
            self.rect(),
            int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter),
            self.palette(),
            self.isEnabled(),
            self.shown_text(),
            self.foregroundRole(),
        )
        painter.end()


class MessageLine(ElidedLabel):
    """A line that takes room only while it says something."""

    def setText(self, text: str) -> None:
        super().setText(text)
        self.setVisible(bool(text))

    def clear(self) -> None:
        self.setText("")


class StateLine(ElidedLabel):
    """How far something is, or what is amiss, which stands out."""

    def __init__(self, of_what: str):
        super().__init__()
        self.setObjectName("soft")
        self.setAccessibleName(f"State of {of_what}")

    def say(self, text: str, *, amiss: bool = False) -> None:
        name = "notice" if amiss and text else "soft"
        self.setText(text)
        if self.objectName() != name:
            self.setObjectName(name)
            self.style().polish(self)


class ElidedButton(QPushButton):
    """A button whose words give way down to its first one."""

    MOST_PX = 300
    _PADDING_PX = 32

    def __init__(self, text: str):
        super().__init__(text)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def sizeHint(self):
        hint = super().sizeHint()
        return QSize(min(hint.width(), self.MOST_PX), hint.height())

    def minimumSizeHint(self):
        first = self.text().split(" ")[0] + ("…" if " " in self.text() else "")
        width = QFontMetrics(self.font()).horizontalAdvance(first) + self._PADDING_PX
        hint = self.sizeHint()
        return QSize(min(width, hint.width()), hint.height())

    def shown_text(self) -> str:
        """What there is room for."""
        room = self.width() - self._PADDING_PX + 2
        metrics = QFontMetrics(self.font())
        return metrics.elidedText(self.text(), Qt.TextElideMode.ElideRight, room)

    def paintEvent(self, event):
        option = QStyleOptionButton()
        self.initStyleOption(option)
        option.text = self.shown_text()
        painter = QStylePainter(self)
        painter.drawControl(QStyle.ControlElement.CE_PushButton, option)
        painter.end()


class TopBar(QWidget):
    """The menus, the project's name and state over the work in hand, undo, redo, the stake-out."""

    def __init__(self, menu: QMenuBar):
        super().__init__()
        self.setObjectName("bar")
        self.setFixedHeight(52)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.title = ElidedLabel("Layout Desk", Qt.TextElideMode.ElideMiddle, 60)
        self.title.setObjectName("title")
        self.title.setFont(typeface(SERIF, 19, strong=True))
        self.state, self.work = QLabel(""), MessageLine()
        self.work.hide()
        for label in (self.state, self.work):
            label.setObjectName("soft")
        self.work.setAccessibleName("Message")
        self.menu = menu
        menu.setNativeMenuBar(False)
        menu.setFixedHeight(34)
        menu.setContentsMargins(0, 4, 0, 0)
        # at its full width: a menu bar that gives way hides menus behind an arrow
        menu.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        self.stop, self.stakeout = QPushButton("Cancel"), QPushButton("Stake-out…")
        self.undo, self.redo = ElidedButton("Undo"), ElidedButton("Redo")
        self.stakeout.setObjectName("primary")
        named = QHBoxLayout()
        named.setSpacing(10)
        named.addWidget(self.title)
        named.addWidget(self.state)
        named.addStretch(1)
        told = QVBoxLayout()
        told.setContentsMargins(0, 5, 0, 5)
        told.setSpacing(0)
        told.addStretch(1)
        told.addLayout(named)
        told.addWidget(self.work)
        told.addStretch(1)
        line = QHBoxLayout(self)
        line.setContentsMargins(EDGE_PX - 6, 0, EDGE_PX, 0)
        line.setSpacing(10)
        line.addWidget(menu, 0, Qt.AlignmentFlag.AlignVCenter)
        line.addLayout(told, 1)
        for widget in (self.stop, self.undo, self.redo, self.stakeout):
            line.addWidget(widget)
        self.stop.hide()


class Foot(QWidget):
    """Coordinates under the cursor, the survey grid, and what it does to 100 m."""

    def __init__(self):
        super().__init__()
        self.setObjectName("foot")
        self.setFixedHeight(31)
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.cursor, self.system, self.factor = QLabel(), ElidedLabel(), ElidedLabel()
        self.cursor.setMinimumWidth(215)
        line = QHBoxLayout(self)
        line.setContentsMargins(EDGE_PX, 0, EDGE_PX, 0)
        line.setSpacing(22)
        for label in (self.cursor, self.system, self.factor):
            label.setFont(typeface(SANS, 12))
            label.setObjectName("soft")
            line.addWidget(label)
        line.addStretch(1)
