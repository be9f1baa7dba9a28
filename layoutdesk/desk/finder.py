"""All actions by name: type a few letters, press Enter."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout

from .cards import Card

_ACTION = Qt.ItemDataRole.UserRole


def plain_text(action) -> str:
    """An action's words without the marks of its menu."""
    return (action.data() or action.text()).replace("&", "").rstrip("…")


class ActionFinder(Card):
    """A list of what can be done now, narrowed by what is typed."""

    def __init__(self, window):
        super().__init__(window)
        self.window_of = window
        layout = QVBoxLayout(self)
        layout.setContentsMargins(14, 14, 14, 14)
        self.field = QLineEdit()
        self.field.setPlaceholderText("What do you want to do?")
        self.field.setAccessibleName("Find an action")
        self.field.textChanged.connect(self._narrow)
        self.field.installEventFilter(self)
        self.list = QListWidget()
        self.list.setAccessibleName("Actions")
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemClicked.connect(self._run)
        layout.addWidget(self.field)
        layout.addWidget(self.list)
        self.setFixedSize(440, 360)
        self.hide()

    def offer(self) -> None:
        """Show all actions that can be used now."""
        self._focus_before = self.window_of.focusWidget()
        self.move((self.window_of.width() - self.width()) // 2, 90)
        self.field.clear()
        self._narrow("")
        self.show()
        self.raise_()
        self.field.setFocus()

    def _narrow(self, text: str) -> None:
        words = text.lower().split()
        self.list.clear()
        for action in self.window_of.actions_by_id.values():
            name = plain_text(action)
            if not action.isEnabled() or not all(w in name.lower() for w in words):
                continue
            keys = action.shortcut().toString()
            item = QListWidgetItem(f"{name}    {keys}" if keys else name)
            item.setData(_ACTION, action.objectName())
            self.list.addItem(item)
        self.list.setCurrentRow(0)

    def eventFilter(self, watched, event):
        if watched is self.field:
            if event.type() == QEvent.Type.KeyPress:
                row, n = self.list.currentRow(), self.list.count()
                if event.key() == Qt.Key.Key_Escape:
                    self.leave()
                elif event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Up) and n:
                    step = 1 if event.key() == Qt.Key.Key_Down else -1
                    self.list.setCurrentRow((row + step) % n)
                elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                    if self.list.currentItem() is not None:
                        self._run(self.list.currentItem())
                else:
                    return super().eventFilter(watched, event)
                return True
            if event.type() == QEvent.Type.FocusOut and self.isVisible():
                self.hide()
        return super().eventFilter(watched, event)

    def leave(self) -> None:
        """Close it and go back to where the keyboard was."""
        self.hide()
        if self._focus_before is not None:
            self._focus_before.setFocus()

    def _run(self, item: QListWidgetItem) -> None:
        action = self.window_of.actions_by_id[item.data(_ACTION)]
        self.leave()
        action.trigger()
