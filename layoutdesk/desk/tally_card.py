"""The tally beside the plan."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QLabel, QVBoxLayout, QWidget

from ..session.tally import MEANINGS, Figure, Tally, as_text, figures_of
from .cards import Card
from .look import SANS, SERIF, Theme, typeface


class TallyCard(Card):
    """Figures that follow every change, with the difference from the last settled state."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Tally")
        layout = QVBoxLayout(self)
        layout.setContentsMargins(18, 15, 18, 15)
        layout.setSpacing(6)
        caption = QLabel("Vines")
        caption.setObjectName("soft")
        caption.setToolTip(MEANINGS["Vines"])
        layout.addWidget(caption)
        line = QHBoxLayout()
        line.setSpacing(8)
        self.vines = QLabel("–")
        self.vines.setFont(typeface(SERIF, 30, strong=True))
        self.vines.setAccessibleName("Vines")
        self.vines.setToolTip(MEANINGS["Vines"])
        self.difference = QLabel("")
        self.difference.setFont(typeface(SANS, 13, strong=True))
        self.difference.setToolTip("Against the layout before the change in hand")
        line.addWidget(self.vines)
        line.addWidget(self.difference, 1, Qt.AlignmentFlag.AlignBottom)
        self.difference.setContentsMargins(0, 0, 0, 7)
        layout.addLayout(line)
        self.figures: dict[str, QLabel] = {}
        self.differences: dict[str, QLabel] = {}
        self._lines: dict[str, QWidget] = {}
        for name in list(MEANINGS)[1:]:
            label, value, change = QLabel(name), QLabel("–"), QLabel("")
            for soft in (label, change):
                soft.setObjectName("soft")
            for widget in (label, value):
                widget.setToolTip(MEANINGS[name])
            change.setToolTip(self.difference.toolTip())
            change.setAccessibleName(f"{name}, change")
            for right in (value, change):
                right.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            value.setAccessibleName(name)
            change.setFont(typeface(SANS, 11))
            holder = QWidget()
            row = QHBoxLayout(holder)
            row.setContentsMargins(0, 0, 0, 0)
            row.setSpacing(5)
            row.addWidget(label)
            # left of the value, which so stays where it is while changes come and go
            row.addWidget(change, 1)
            row.addWidget(value)
            layout.addWidget(holder)
            self._lines[name], self.figures[name] = holder, value
            self.differences[name] = change
        self._shown: tuple[Figure, ...] = ()
        for name in ("Segments", "Left out"):
            self._show_line(name, None)

    def show_tally(self, tally: Tally, before: Tally | None, unit: str, theme: Theme) -> None:
        """Show figures; `before` is what differences are told from."""
        self._shown = figures_of(tally, before, unit)
        vines, *others = self._shown
        self.vines.setText(vines.value)
        self.difference.setText(vines.change)
        colour = theme.better if vines.grew else theme.worse
        self.difference.setStyleSheet(f"color: {colour}")
        told = {f.name: f for f in others}
        for name in self.figures:
            self._show_line(name, told.get(name))

    def as_text(self) -> str:
        """The figures as lines of text, to be copied."""
        return as_text(self._shown)

    def _show_line(self, name: str, figure: Figure | None) -> None:
        self._lines[name].setVisible(figure is not None)
        if figure is not None:
            self.figures[name].setText(figure.value)
            self.differences[name].setText(figure.change)
