"""The card of the hand-off stage: what will be written, where, and the button that writes it."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import Signal
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from ..session.handoff import Preview
from .cards import Card
from .look import SERIF, Theme, typeface


class HandOffCard(Card):
    """Nothing is written before it is asked for."""

    folder_wanted = Signal()
    folder_typed = Signal()
    write_wanted = Signal()
    print_wanted = Signal()

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Hand-off")
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 16, 14, 16)
        column.setSpacing(10)
        heading = QLabel("The stake-out set")
        heading.setObjectName("heading")
        column.addWidget(heading)
        body = QWidget()
        inside = QVBoxLayout(body)
        inside.setContentsMargins(0, 0, 10, 0)
        self.text = QLabel()
        self.text.setWordWrap(True)
        self.text.setFont(typeface(SERIF, 15))
        self.text.setAccessibleName("What will be written")
        inside.addWidget(self.text)
        inside.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setWidget(body)
        column.addWidget(area, 1)
        line = QHBoxLayout()
        self.folder = QLineEdit()
        self.folder.setAccessibleName("Folder for the set")
        self.folder.setPlaceholderText("Folder for the set")
        self.folder.textChanged.connect(lambda _: self.folder_typed.emit())
        browse = QPushButton("Choose…")
        browse.clicked.connect(self.folder_wanted)
        line.addWidget(self.folder, 1)
        line.addWidget(browse)
        column.addLayout(line)
        self.there = QLabel()
        self.there.setObjectName("notice")
        self.there.setWordWrap(True)
        column.addWidget(self.there)
        last = QHBoxLayout()
        self.write = QPushButton("Write the set")
        self.write.setObjectName("primary")
        self.write.clicked.connect(self.write_wanted)
        sheet = QPushButton("Print the plan…")
        sheet.clicked.connect(self.print_wanted)
        last.addWidget(self.write)
        last.addWidget(sheet)
        last.addStretch(1)
        column.addLayout(last)
        self.hide()

    def chosen_folder(self) -> Path | None:
        text = self.folder.text().strip()
        return Path(text).expanduser() if text else None

    def show_preview(self, preview: Preview, theme: Theme) -> None:
        """Show what would be written now."""
        lines = [
            f"<p><b>{f.name}</b><br>{f.holds}<br><span style='color:{theme.soft_ink}'>{f.system}"
            "</span></p>"
            for f in preview.files
        ]
        self.text.setText("".join(lines) + f"<p>{preview.factor}.</p>")
        said = [preview.there]
        if preview.wrong:
            said.append(f"{preview.wrong} findings should be mended before anyone stakes this.")
        self.there.setText(" ".join(s for s in said if s))
        self.there.setVisible(any(said))
        self.write.setEnabled(self.chosen_folder() is not None)
