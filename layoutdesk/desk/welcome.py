"""What the window shows with no site: what to do next, and a sample to try."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFormLayout, QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout

from ..session.samples import Sample, samples
from .cards import Card
from .look import SERIF, typeface


class WelcomeCard(Card):
    """Open a file, or try a sample site."""

    open_wanted = Signal()
    sample_wanted = Signal(object)

    def __init__(self, parent=None):
        super().__init__(parent)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(34, 28, 34, 28)
        layout.setSpacing(12)
        title = QLabel("Start with the ground")
        title.setFont(typeface(SERIF, 26, strong=True))
        layout.addWidget(title)
        text = QLabel(
            "Open a surveyed outline (GeoJSON, GeoPackage, Shapefile, KML, DXF or CSV corners) or a "
            "project, or drop the file here."
        )
        text.setWordWrap(True)
        layout.addWidget(text)
        self.open_button = QPushButton("Open an outline or project…")
        self.open_button.setObjectName("primary")
        self.open_button.clicked.connect(self.open_wanted)
        layout.addWidget(self.open_button, 0, Qt.AlignmentFlag.AlignLeft)
        caption = QLabel("Or try a sample site, each invented, on real coordinates:")
        caption.setObjectName("soft")
        layout.addSpacing(10)
        layout.addWidget(caption)
        self.sample_buttons: list[QPushButton] = []
        for sample in samples():
            about = QLabel(sample.about)
            about.setObjectName("soft")
            about.setWordWrap(True)
            line = QHBoxLayout()
            line.setSpacing(14)
            line.addWidget(self._sample_button(sample))
            line.addWidget(about, 1)
            layout.addLayout(line)
        self.setFixedWidth(520)

    def _sample_button(self, sample: Sample) -> QPushButton:
        button = QPushButton(sample.title)
        button.setFixedWidth(190)
        button.setAccessibleName(f"Open sample site {sample.title}")
        button.clicked.connect(lambda: self.sample_wanted.emit(sample))
        self.sample_buttons.append(button)
        return button


class QuestionCard(Card):
    """Why a file could not be opened, and, where that helps, what to say about it."""

    answered = Signal(str, str)
    dismissed = Signal()

    def __init__(self, parent=None):
        super().__init__(parent)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(30, 24, 30, 24)
        layout.setSpacing(12)
        title = QLabel("This file needs a word from you")
        title.setFont(typeface(SERIF, 22, strong=True))
        layout.addWidget(title)
        self.text = QLabel()
        self.text.setWordWrap(True)
        layout.addWidget(self.text)
        form = QFormLayout()
        self.crs = QLineEdit()
        self.crs.setPlaceholderText("EPSG:32754")
        self.crs.setAccessibleName("Coordinate system")
        self.unit = QLineEdit()
        self.unit.setPlaceholderText("m, ft, usft or mm; for a drawing that does not say")
        self.unit.setAccessibleName("Unit of the drawing")
        form.addRow("Coordinate system", self.crs)
        form.addRow("Drawing unit", self.unit)
        layout.addLayout(form)
        line = QHBoxLayout()
        again = QPushButton("Open again")
        again.setObjectName("primary")
        again.clicked.connect(lambda: self.answered.emit(self.crs.text(), self.unit.text()))
        for field in (self.crs, self.unit):
            field.returnPressed.connect(again.click)
        leave = QPushButton("Leave it")
        leave.clicked.connect(self.dismissed)
        line.addWidget(again)
        line.addWidget(leave)
        line.addStretch(1)
        layout.addLayout(line)
        self.setFixedWidth(560)

    def ask(self, text: str) -> None:
        """Show a question: a sentence that names options of the command line, as fields here."""
        for option, here in (
            (" with --crs EPSG:nnnn", " below"),
            ("--crs EPSG:nnnn", "its code below"),
            ("--crs ", "coordinate system "),
            ("--unit ", "drawing unit "),
        ):
            text = text.replace(option, here)
        self.text.setText(text)
        self.adjustSize()
        self.show()
        self.raise_()
        self.crs.setFocus()

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.dismissed.emit()
        else:
            super().keyPressEvent(event)
