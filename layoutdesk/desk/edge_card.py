"""One edge of the outline: how long, which way, how much is kept clear, and rows along it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QPushButton, QVBoxLayout

from ..session.edges import EdgeView
from ..session.specification import shown_bearing, shown_length
from .cards import Card


class EdgeCard(Card):
    """Shown while an edge is picked; Escape lets go of it."""

    width_typed = Signal(str)
    given_back = Signal()
    rows_wanted = Signal()
    dismissed = Signal()

    def __init__(self, parent=None):
        super().__init__(parent)
        self.setAccessibleName("Edge of the outline")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(20, 14, 20, 14)
        layout.setSpacing(8)
        self.heading = QLabel()
        self.heading.setObjectName("heading")
        layout.addWidget(self.heading)
        self.place = QLabel()
        self.place.setWordWrap(True)
        layout.addWidget(self.place)
        line = QHBoxLayout()
        line.setSpacing(8)
        self.width_field = QLineEdit()
        self.width_field.setAccessibleName("Clear width along this edge")
        self.width_field.setFixedWidth(92)
        self.width_field.returnPressed.connect(self._typed)
        line.addWidget(QLabel("Keep clear"))
        line.addWidget(self.width_field)
        line.addStretch(1)
        layout.addLayout(line)
        self.why = QLabel()
        self.why.setObjectName("soft")
        self.why.setWordWrap(True)
        layout.addWidget(self.why)
        self.along = QPushButton("Rows along this edge")
        self.along.clicked.connect(self.rows_wanted)
        self.back = QPushButton("As the rules say")
        self.back.clicked.connect(self.given_back)
        close = QPushButton("Done")
        close.clicked.connect(self.dismissed)
        layout.addWidget(self.along)
        low = QHBoxLayout()
        low.setSpacing(6)
        low.addWidget(self.back, 1)
        low.addWidget(close)
        layout.addLayout(low)
        self.hide()

    def show_edge(self, view: EdgeView, unit: str, norths) -> None:
        """Show an edge; the window puts the card in its place."""
        hole = f" of hole {view.ring}" if view.ring else ""
        self.heading.setText(f"Block {view.block}, edge {view.edge + 1}{hole}")
        self.place.setText(
            f"{shown_length(view.length_m, unit)} at {shown_bearing(view.bearing_deg)} true, "
            f"{shown_bearing(norths.grid(view.bearing_deg))} grid"
        )
        if not self.width_field.isModified():
            self.width_field.setText(shown_length(view.width_m, unit))
        rule = "headland" if view.is_end else "side margin"
        self.why.setText(
            "a width of its own; pull the dot on the plan"
            if view.own
            else f"the {rule}; pull the dot on the plan for its own"
        )
        self.back.setEnabled(view.own)
        self.show()
        self.raise_()

    def _typed(self) -> None:
        self.width_field.setModified(False)
        self.width_typed.emit(self.width_field.text())
        self.width_field.selectAll()

    def keyPressEvent(self, event):
        if event.key() == Qt.Key.Key_Escape:
            self.dismissed.emit()
        else:
            super().keyPressEvent(event)
