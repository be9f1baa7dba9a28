"""Notices inside the window, and the one question that stops everything."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ..session.wording import window_words
from .asking import CARD_PX, FloatingCard
from .look import SERIF, typeface

Answer = tuple[str, Callable[[], None]]


class NoticeCard(FloatingCard):
    """Tells one thing, with "Close" or named answers; Escape closes, Enter takes the one in focus."""

    def __init__(self, parent: QWidget, title: str, sentence: str, answers: tuple[Answer, ...]):
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._say(title, sentence)
        self.buttons: list[QPushButton] = []
        # Side by side while they have room for their words, else two in a line.
        across = len(answers) if len(answers) <= 3 else 2
        line = QGridLayout()
        line.setHorizontalSpacing(8)
        line.setColumnStretch(max(across, 1), 1)
        named = answers or (("Close", lambda: None),)
        for i, (words, act) in enumerate(named):
            button = QPushButton(words)
            if not i and answers:
                button.setObjectName("primary")
            button.clicked.connect(lambda _=False, act=act: self._answered(act))
            line.addWidget(button, i // max(across, 1), i % max(across, 1))
            self.buttons.append(button)
        self._layout.addSpacing(4)
        self._layout.addLayout(line)
        self._come_up(self.buttons[0])

    def text(self) -> str:
        """The sentence it tells."""
        return self.sentence.text()

    def _answered(self, act: Callable[[], None]) -> None:
        self.close()
        act()

    def closeEvent(self, event):
        self._go()
        super().closeEvent(event)

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.close()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            next((b for b in self.buttons if b.hasFocus()), self.buttons[0]).click()
        else:
            super().keyPressEvent(event)


def tell(
    parent: QWidget, sentence: str, title: str = "", answers: tuple[Answer, ...] = ()
) -> NoticeCard:
    """Show a notice on the plan; the window goes on. One that says the same already comes up again.

    Parameters
    ----------
    parent : QWidget
        The plan canvas.
    sentence, title : str
        Options of the command line in the sentence are put into the window's words.
    answers : tuple of (words, function), optional
        The first is the one that Enter takes; without any there is "Close".
    """
    sentence = window_words(sentence)
    for old in parent.findChildren(NoticeCard):
        if not old.isHidden() and old.text() == sentence:
            old.close()
    return NoticeCard(parent, title, sentence, answers)


def decide(
    parent: QWidget, title: str, sentence: str, answers: tuple[tuple[str, str], ...], back: str
) -> str:
    """The key of the answer to a question that has to be settled before anything goes on.

    Parameters
    ----------
    parent : QWidget
    title, sentence : str
    answers : tuple of (key, words)
        The first is the one that Enter takes.
    back : str
        Words of the answer that changes nothing, which Escape takes too; its key is "".
    """
    dialog = QDialog(parent)
    dialog.setWindowTitle("Layout Desk")
    layout = QVBoxLayout(dialog)
    layout.setContentsMargins(30, 24, 30, 24)
    layout.setSpacing(12)
    heading = QLabel(title)
    heading.setFont(typeface(SERIF, 20, strong=True))
    text = QLabel(sentence)
    for label in (heading, text):
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setWordWrap(True)
        layout.addWidget(label)
    text.setVisible(bool(sentence))
    dialog.setAccessibleName(title)
    dialog.setAccessibleDescription(sentence)
    chosen = [""]
    line = QHBoxLayout()
    for i, (key, words) in enumerate((*answers, ("", back))):
        button = QPushButton(words, dialog)
        button.setAutoDefault(True)
        if not i:
            button.setObjectName("primary")
            button.setDefault(True)

        def take(_=False, key=key):
            chosen[0] = key
            dialog.accept()

        button.clicked.connect(take)
        line.addWidget(button)
    line.addStretch(1)
    layout.addSpacing(4)
    layout.addLayout(line)
    dialog.setFixedWidth(CARD_PX)
    dialog.exec()
    dialog.deleteLater()
    return chosen[0]
