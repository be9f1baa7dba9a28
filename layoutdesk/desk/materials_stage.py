"""The cards of the materials stage: the trellis in words and as a drawing, and what it takes."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from .bars import StateLine
from .cards import Card
from .look import SANS, Theme, typeface
from .paragraph import SpecificationParagraph
from .scope_line import ScopeLine
from .scrolling import BAR_PX, Scrolled
from .supply_editor import SupplyEditor
from .take_off_table import TakeOffTable
from .trellis_view import TrellisView

_LEFT, _RIGHT = 24, 10
_FIXED = 96
"""Height of all but the drawing, its caption and the paragraph. [px]"""
_TALL_PX = 560
"""A card so high has room for the buttons beside a picked line."""
_ROOMY_PX = 700
"""One so high has room for how all is counted, and for what to heed, from the start."""
_LOW_PX = 460
"""One that is lower has room for little beside the table."""


class TrellisCard(Card):
    """Which block, a row end to scale, and the trellis in words; the words scroll."""

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Trellis")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(_LEFT, 18, _RIGHT, 16)
        outer.setSpacing(10)
        self.scope = ScopeLine("what stands in the rows", "Block the trellis is of")
        outer.addWidget(self.scope)
        self.view = TrellisView(theme)
        self.caption = QLabel()
        self.caption.setObjectName("soft")
        self.caption.setFont(typeface(SANS, 12))
        self.caption.setWordWrap(True)
        outer.addWidget(self.view)
        outer.addWidget(self.caption)
        self.paragraph = SpecificationParagraph()
        self.view.height_wanted.connect(self._go_to_value)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 12, 0)
        column.addWidget(self.paragraph)
        column.addStretch(1)
        self._area = area = Scrolled(inside)
        outer.addWidget(area, 1)
        self.paragraph.sight_wanted.connect(self._area.bring_into_sight)
        self.hide()

    def show_drawing(self, drawing) -> None:
        """Show a row end from the side."""
        self.view.show_drawing(drawing)
        self.caption.setText(drawing.caption)
        self.caption.setVisible(bool(drawing.caption))

    def wear(self, theme: Theme) -> None:
        self.view.wear(theme)

    def wanted_height(self, width: int) -> int:
        """Room in which nothing of the paragraph has to be scrolled to."""
        room = width - _LEFT - _RIGHT
        caption = 0 if self.caption.isHidden() else self.caption.heightForWidth(room) + 10
        words = self.paragraph.heightForWidth(room - BAR_PX)
        return self.view.heightForWidth(room) + caption + words + _FIXED

    def _go_to_value(self, key: str) -> None:
        field = self.paragraph.fields.get(key)
        if field is not None:
            field.setFocus(Qt.FocusReason.OtherFocusReason)


class TakeOffCard(Card):
    """The take-off with its totals; a line that is picked is looked at more closely below.

    Signals
    -------
    whole_wanted
        The figures of the whole site again.
    """

    whole_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Take-off")
        column = QVBoxLayout(self)
        column.setContentsMargins(1, 12, 1, 12)
        column.setSpacing(6)
        column.addLayout(self._head())
        column.addWidget(self._banner())
        column.addLayout(self._captions())
        self.table = TakeOffTable(theme)
        self.table.setMinimumHeight(96)
        column.addWidget(self.table, 1)
        self.empty = QLabel()
        self.empty.setWordWrap(True)
        self.empty.setContentsMargins(15, 4, 15, 4)
        column.addWidget(self.empty, 1, Qt.AlignmentFlag.AlignTop)
        self.editor = SupplyEditor()
        self.editor.hide()
        column.addWidget(self.editor)
        column.addWidget(self._below())
        column.addWidget(self._buttons())
        self.hide()

    def _head(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(15, 0, 13, 0)
        heading = QLabel("What it takes")
        heading.setObjectName("heading")
        self.state = StateLine("the take-off")
        self.keep = QPushButton("Keep as settled")
        self.keep.setObjectName("quiet")
        line.addWidget(heading)
        line.addWidget(self.state, 1)
        line.addWidget(self.keep)
        return line

    def _banner(self) -> QWidget:
        self.banner = QWidget()
        line = QHBoxLayout(self.banner)
        line.setContentsMargins(15, 0, 13, 0)
        self.of_what = QLabel()
        self.of_what.setObjectName("notice")
        self.of_what.setWordWrap(True)
        self.whole = QPushButton("The whole site")
        self.whole.setObjectName("quiet")
        self.whole.clicked.connect(self.whole_wanted)
        line.addWidget(self.of_what, 1)
        line.addWidget(self.whole)
        self.banner.hide()
        return self.banner

    def _captions(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(15, 0, 19, 0)
        self.left_caption, self.right_caption = QLabel("Item, and what to order"), QLabel()
        for label in (self.left_caption, self.right_caption):
            label.setObjectName("soft")
            label.setFont(typeface(SANS, 12))
        line.addWidget(self.left_caption)
        line.addStretch(1)
        line.addWidget(self.right_caption)
        return line

    def _below(self) -> QWidget:
        """Totals, always in sight, and how all is counted, where there is room or someone asks."""
        self.below = QWidget()
        column = QVBoxLayout(self.below)
        column.setContentsMargins(15, 2, 15, 2)
        column.setSpacing(4)
        self.totals, self.rule = QLabel(), QLabel()
        for label in (self.totals, self.rule):
            label.setWordWrap(True)
            label.setFont(typeface(SANS, 12))
            label.setTextFormat(Qt.TextFormat.PlainText)
        self.rule.setObjectName("soft")
        self.fold = QPushButton()
        self.fold.setObjectName("quiet")
        self.fold.clicked.connect(self._turn_fold)
        self._told: tuple[str, ...] = ()
        self._open: bool | None = None
        column.addWidget(self.totals)
        column.addWidget(self.fold, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.rule)
        return self.below

    def _buttons(self) -> QWidget:
        self.buttons = QWidget()
        line = QHBoxLayout(self.buttons)
        line.setContentsMargins(15, 0, 15, 0)
        line.setSpacing(8)
        self.orders = QPushButton("Order lists…")
        self.orders.setObjectName("primary")
        self.files, self.items = QPushButton("Files"), QPushButton("Items")
        self.files_menu, self.items_menu = QMenu(self), QMenu(self)
        self.files.setMenu(self.files_menu)
        self.items.setMenu(self.items_menu)
        for button in (self.orders, self.files, self.items):
            line.addWidget(button)
        line.addStretch(1)
        return self.buttons

    def chain(self) -> list[QWidget]:
        """What Tab goes through, as the eye does."""
        fields = [*self.editor.fields.values(), *self.editor.buttons]
        last = [self.fold, self.orders, self.files, self.items]
        return [self.keep, self.whole, self.table, *fields, *last]

    # showing

    def show_totals(self, told: tuple[str, ...]) -> None:
        """Show what all comes to, then by which rule it is counted, the most telling first."""
        self._told = told
        self._show_fold()

    def show_banner(self, text: str) -> None:
        """Say that the figures are of a part of the site; empty where they are of all of it."""
        self.of_what.setText(text)
        self.banner.setVisible(bool(text))
        self.right_caption.setText("Counted" if text else "Counted, price")
        self.left_caption.setText("Item" if text else "Item, and what to order")

    def say_empty(self, text: str) -> None:
        """Say what to do where there is nothing to count; empty where there is."""
        self.empty.setText(text)
        self.empty.setVisible(bool(text))
        self.table.setVisible(not text)
        for button in (self.orders, self.files, self.keep):
            button.setEnabled(not text)

    def open_editor(self, is_open: bool) -> None:
        """Have the picked line's editor take the place of the totals, or give it back."""
        self.editor.setVisible(is_open)
        self.below.setVisible(not is_open)
        self._make_room()

    def _make_room(self) -> None:
        """What is not of the picked line gives way in a low card."""
        editing, low = not self.editor.isHidden(), self.height() < _TALL_PX
        self.buttons.setVisible(not (editing and low))
        self.editor.show_meaning(not low)

    def wear(self, theme: Theme) -> None:
        self.table.wear(theme)

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._show_fold()
        self._make_room()

    def _turn_fold(self) -> None:
        self._open = not self._is_open
        self._show_fold()

    @property
    def _is_open(self) -> bool:
        return self.height() >= _ROOMY_PX if self._open is None else self._open

    def _show_fold(self) -> None:
        first = 3 if self.height() >= _LOW_PX else 2
        for label, told in ((self.totals, self._told[:first]), (self.rule, self._told[first:])):
            text = "\n".join(told)
            if text != label.text():
                label.setText(text)
        has_rule = bool(self.rule.text())
        self.rule.setVisible(has_rule and self._is_open)
        self.fold.setVisible(has_rule)
        self.fold.setText(f"{'▾' if self._is_open else '▸'} How it is counted, and what to heed")
        self.fold.setAccessibleName(
            f"How it is counted and what to heed, {'open' if self._is_open else 'folded'}"
        )
