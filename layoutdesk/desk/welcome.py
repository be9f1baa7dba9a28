"""What the window shows with no site: what to do next, and a sample to try."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFormLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ..session.samples import Sample, samples
from ..session.wording import window_words
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


class RecoveryCard(Card):
    """Unsaved work that a session left behind when it ended badly."""

    taken = Signal(object)
    discarded = Signal(object)
    dismissed = Signal()

    def __init__(self, parent=None):
        super().__init__(parent)
        self._layout = QVBoxLayout(self)
        self._layout.setContentsMargins(30, 24, 30, 24)
        self._layout.setSpacing(12)
        title = QLabel("Unsaved work was kept")
        title.setFont(typeface(SERIF, 22, strong=True))
        self._layout.addWidget(title)
        text = QLabel("A session ended without closing. Go on where it was, or throw it away.")
        text.setWordWrap(True)
        self._layout.addWidget(text)
        self._lines = QVBoxLayout()
        self._layout.addLayout(self._lines)
        later = QPushButton("Ask again next time")
        later.clicked.connect(self.dismissed)
        self._layout.addWidget(later, 0, Qt.AlignmentFlag.AlignLeft)
        self.setFixedWidth(560)
        self.hide()

    def offer(self, left) -> None:
        """Show what there is; hide where there is nothing."""
        while self._lines.count():
            line = self._lines.takeAt(0).widget()
            line.hide()
            line.deleteLater()
        for work in left[:5]:
            self._lines.addWidget(self._line(work))
        self.setVisible(bool(left))
        self.adjustSize()
        self.raise_()

    def _line(self, work) -> QWidget:
        widget = QWidget()
        line = QHBoxLayout(widget)
        line.setContentsMargins(0, 0, 0, 0)
        place = f", {work.origin.name}" if work.origin else ", never saved"
        words = QLabel(f"{work.name}{place}, {work.when:%d %B, %H:%M}")
        words.setWordWrap(True)
        take, drop = QPushButton("Go on"), QPushButton("Throw away")
        take.setObjectName("primary")
        take.setAccessibleName(f"Go on with {work.name}")
        drop.setAccessibleName(f"Throw away {work.name}")
        take.clicked.connect(lambda: self.taken.emit(work))
        drop.clicked.connect(lambda: self.discarded.emit(work))
        line.addWidget(words, 1)
        line.addWidget(take)
        line.addWidget(drop)
        return widget


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
        """Show a question; options of the command line in it are fields here."""
        self.text.setText(window_words(text))
        self.adjustSize()
        self.show()
        self.raise_()
        self.crs.setFocus()

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.dismissed.emit()
        else:
            super().keyPressEvent(event)
