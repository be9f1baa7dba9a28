"""Small plans of the candidates side by side: equal, at one scale, moved together."""

from __future__ import annotations

from dataclasses import replace

from PySide6.QtCore import QPointF, Qt, QTimer, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from ..session.compare_lines import Column
from ..session.view import View
from .bars import ElidedLabel
from .cards import Card, paint_focus_ring
from .look import SANS, SERIF, Theme, typeface
from .plan_picture import PlanPicture

GAP_PX = 10
"""Between two plans. [px]"""
LEAST_PX, MOST_PX = 158, 430
"""Width of one plan. [px]"""
_ROUND_PX = (8, 17, 8, 26)
"""Round the site in a plan: the mark stands above it, the scale below. [px]"""
_MOVING_S = 0.020
"""All plans that take longer to paint are stretched while the hand moves. [s]"""


def _quiet(text: str) -> QPushButton:
    button = QPushButton(text)
    button.setObjectName("quiet")
    button.setFont(typeface(SANS, 12))
    button.setCursor(Qt.CursorShape.PointingHandCursor)
    return button


class PlanCard(Card):
    """A small plan with its name, what it differs in, and what can be done with it."""

    def __init__(self, plans: SmallPlans, index: int, parent: QWidget):
        super().__init__(parent)
        self._plans, self.index = plans, index
        self.column: Column | None = None
        self.is_base = False
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 8, 10, 6)
        column.setSpacing(1)
        self.title, self.about = ElidedLabel(), ElidedLabel()
        self.title.setFont(typeface(SERIF, 20, strong=True))
        self.about.setFont(typeface(SANS, 12))
        self.about.setObjectName("soft")
        self.remove = _quiet("✕")
        head = QHBoxLayout()
        head.addWidget(self.title, 1)
        head.addWidget(self.remove)
        column.addLayout(head)
        column.addWidget(self.about)
        self.picture = PlanPicture(plans, self)
        column.addWidget(self.picture, 1)
        self.note = ElidedLabel()
        italic = typeface(SERIF, 14)
        italic.setItalic(True)
        self.note.setFont(italic)
        column.addWidget(self.note)
        foot = QHBoxLayout()
        foot.setSpacing(4)
        self.base, self.adopt, self.write = _quiet("Base"), _quiet("Adopt"), _quiet("Note")
        for button in (self.base, self.adopt, self.write):
            foot.addWidget(button)
        foot.addStretch(1)
        column.addLayout(foot)
        for button, signal in (
            (self.base, plans.base_wanted),
            (self.adopt, plans.adopt_wanted),
            (self.write, plans.note_wanted),
            (self.remove, plans.remove_wanted),
        ):
            button.clicked.connect(lambda _=False, s=signal: s.emit(self.index))

    def show_column(
        self, column: Column, is_base: bool, drawing, *, noted: bool, described: bool, only: bool
    ) -> None:
        """Show a candidate; it has a line for a note, or for what it changes, where any needs one:
        all plans stay equal."""
        self.column, self.is_base = column, is_base
        title = column.called
        self.title.setText(column.title)
        self.about.setText(column.about)
        self.about.setVisible(described)
        self.picture.show_mark(column.beaten_by, column.better_in)
        says = column.problem or ("" if drawing is not None else "Being laid…")
        self.picture.show_drawing(drawing, says)
        self.note.setText(column.note.replace("\n", " "))
        self.note.setVisible(noted)
        self.base.setText("base" if is_base else "Base")
        self.base.setEnabled(not is_base)
        self.base.setToolTip(
            "Differences are told from it." if is_base else "Tell differences from it"
        )
        self.adopt.setText("in use" if column.in_use else "Adopt")
        self.adopt.setEnabled(not column.in_use and not column.problem)
        self.adopt.setToolTip(
            "These are the rows now." if column.in_use else "Have the rows run so"
        )
        self.write.setToolTip("Name it, or write a note on it")
        self.remove.setToolTip("Take it out of the comparison (Delete)")
        self.remove.setVisible(not only)
        for button, words in (
            (self.base, f"{title} is the base" if is_base else f"Make {title} the base"),
            (self.adopt, f"{title} is in use" if column.in_use else f"Adopt {title}"),
            (self.write, f"Name and note of {title}"),
            (self.remove, f"Take {title} out"),
        ):
            button.setAccessibleName(words)
        said = [column.about, self.picture.said_mark(), column.problem, column.note]
        self.picture.setAccessibleName(f"Plan of {title}")
        self.picture.setAccessibleDescription(", ".join(s for s in said if s))
        self.setAccessibleName(f"Candidate {title}")
        self.update()

    def paintEvent(self, event):
        super().paintEvent(event)
        if self.is_base:
            painter = QPainter(self)
            paint_focus_ring(painter, self, self._plans.theme, 9)
            painter.end()


class SmallPlans(QWidget):
    """Plans in a row, all looking at the same part of the ground.

    Signals
    -------
    base_wanted, adopt_wanted, note_wanted, remove_wanted : int
        Index of the candidate.
    """

    base_wanted = Signal(int)
    adopt_wanted = Signal(int)
    note_wanted = Signal(int)
    remove_wanted = Signal(int)

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.theme, self.unit = theme, "m"
        self.view = View(0.0, 0.0, 1.0, 100, 100)
        self.terrain = None
        self.cards: list[PlanCard] = []
        self.first, self.width_px = 0, 200
        self._fitted, self._at_rest = True, True
        self._costs: list[float] = []
        self._rest = QTimer(self)
        self._rest.setSingleShot(True)
        self._rest.setInterval(110)
        self._rest.timeout.connect(self._paint_finely)
        self.setAccessibleName("Candidates")

    # what is shown

    def show_terrain(self, terrain) -> None:
        """Show contours on every plan: how rows run against the slope; None for none."""
        self.terrain = terrain and (terrain[0], None)
        for card in self.cards:
            card.picture.redraw()

    def show_columns(self, columns: tuple[Column, ...], base: int, drawings) -> None:
        """Show candidates in order; `drawings` has one for each, or None."""
        before = [c.picture.drawing for c in self.cards]
        while len(self.cards) > len(columns):
            card = self.cards.pop()
            card.hide()
            card.deleteLater()
        while len(self.cards) < len(columns):
            self.cards.append(PlanCard(self, len(self.cards), self))
        noted = any(c.note for c in columns)
        described = any(c.about and not c.in_use for c in columns)
        only = len(columns) == 1
        several = zip(self.cards, columns, drawings, strict=True)
        for i, (card, column, drawing) in enumerate(several):
            card.show_column(
                column, i == base, drawing, noted=noted, described=described, only=only
            )
        self._lay_out()
        if not any(before) and any(drawings):
            self.fit()

    def place(self, first: int, shown: int, width_px: int) -> None:
        """Show `shown` plans from the `first` on, each so wide. [px]"""
        self.first, self.shown, self.width_px = first, shown, width_px
        self._lay_out()

    shown = 1

    def _lay_out(self) -> None:
        for i, card in enumerate(self.cards):
            seen = self.first <= i < self.first + self.shown
            left = (i - self.first) * (self.width_px + GAP_PX)
            card.setGeometry(left, 0, self.width_px, self.height())
            card.setVisible(seen)
            card.picture.stand(first=i == self.first)
        if self.cards:
            card = self.cards[min(self.first, len(self.cards) - 1)]
            card.layout().activate()
            size = card.picture.size()
            self.view = replace(self.view, width=max(size.width(), 1), height=max(size.height(), 1))
            if self._fitted:
                self.fit()

    def wear(self, theme: Theme) -> None:
        self.theme = theme
        for card in self.cards:
            card.picture.redraw()

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._lay_out()

    # looking

    def fit(self) -> None:
        """Show the whole site in every plan."""
        drawing = next((c.picture.drawing for c in self.cards if c.picture.drawing), None)
        if drawing is not None:
            self._look_at(self.view.fitted(drawing.bounds_m, _ROUND_PX), fitted=True)

    def zoom(self, factor: float, at: QPointF | None = None) -> None:
        """Zoom all plans, about a pixel of one of them or the middle."""
        x, y = (at.x(), at.y()) if at is not None else (self.view.width / 2, self.view.height / 2)
        self._look_at(self.view.zoomed(factor, x, y))

    def pan(self, dx_px: float, dy_px: float) -> None:
        """Move all plans together."""
        self._look_at(self.view.panned(dx_px, dy_px))

    def _look_at(self, view: View, fitted: bool = False) -> None:
        if view == self.view:
            self._fitted = self._fitted or fitted
            return
        self.view, self._fitted = view, fitted
        dear = sum(self._costs[-self.shown :]) > _MOVING_S
        self._at_rest = not dear
        if dear:
            self._rest.start()
        for card in self.cards:
            card.picture.update()

    def may_paint(self) -> bool:
        """Whether plans are painted for the view there is; else they are stretched for the moment."""
        return self._at_rest

    def note_cost(self, seconds: float) -> None:
        self._costs = [*self._costs[-15:], seconds]

    def _paint_finely(self) -> None:
        self._at_rest = True
        for card in self.cards:
            card.picture.update()

    def take_away(self, picture: PlanPicture) -> None:
        """Ask for a candidate to be taken out, unless it is the only one."""
        index = next(i for i, c in enumerate(self.cards) if c.picture is picture)
        if len(self.cards) > 1:
            self.remove_wanted.emit(index)
