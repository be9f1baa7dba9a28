"""The cards of the planting stage: pages of one job, each with its words at the left and its lists at the right."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QButtonGroup,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from .bars import StateLine
from .cards import Card
from .lines_table import LinesTable
from .look import SANS, SERIF, Theme, typeface
from .paragraph import SpecificationParagraph
from .planting_pages import PAGES, Page
from .scrolling import Scrolled

_LEFT, _RIGHT = 24, 10
_BUTTONS_A_LINE = 2


class PageBar(QWidget):
    """One small button a page; the arrow keys go from one to the next."""

    wanted = Signal(str)

    def __init__(self):
        super().__init__()
        self.setAccessibleName("Pages of planting")
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2)
        self.buttons: dict[str, QPushButton] = {}
        group = QButtonGroup(self)
        for page in PAGES:
            button = QPushButton(page.words)
            button.setObjectName("page")
            button.setCheckable(True)
            button.setToolTip(page.meaning)
            button.clicked.connect(lambda _=False, n=page.name: self.wanted.emit(n))
            group.addButton(button)
            line.addWidget(button)
            self.buttons[page.name] = button
        line.addStretch(1)

    def show_page(self, name: str) -> None:
        self.buttons[name].setChecked(True)


class PlantingCard(Card):
    """Which page, its paragraphs and what can be done there; it scrolls."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("How it is planted")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(_LEFT, 16, _RIGHT, 14)
        outer.setSpacing(10)
        self.bar = PageBar()
        outer.addWidget(self.bar)
        self.paragraphs: dict[str, SpecificationParagraph] = {}
        self.notes: dict[str, QLabel] = {}
        self._grids: dict[str, QGridLayout] = {}
        self.buttons: dict[str, list[QPushButton]] = {}
        self._barred: set[str] = set()
        self.stack = QStackedWidget()
        for page in PAGES:
            self.stack.addWidget(self._page(page))
        outer.addWidget(self.stack, 1)
        self.hide()

    def _page(self, page: Page) -> Scrolled:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 12, 0)
        column.setSpacing(8)
        area = Scrolled(inside)
        heading = QLabel(page.heading)
        heading.setObjectName("heading")
        column.addWidget(heading)
        note = self.notes[page.name] = QLabel()
        note.setObjectName("soft")
        note.setWordWrap(True)
        note.setTextFormat(Qt.TextFormat.PlainText)
        note.hide()
        column.addWidget(note)
        # above the words: these can be long, and what a page is for is not to be scrolled to
        self._grids[page.name] = grid = QGridLayout()
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(2)
        column.addLayout(grid)
        for key, words in page.paragraphs:
            if words:
                label = QLabel(words)
                label.setObjectName("soft")
                column.addWidget(label)
            paragraph = self.paragraphs[key] = SpecificationParagraph()
            paragraph.setAccessibleName(words or page.heading)
            paragraph.sight_wanted.connect(area.bring_into_sight)
            column.addWidget(paragraph)
        column.addStretch(1)
        return area

    def add_buttons(self, page: str, actions) -> None:
        """Buttons for actions of a page, two in a line."""
        grid = self._grids[page]
        for i, (action, words) in enumerate(actions):
            button = QPushButton(words)
            button.setObjectName("quiet")
            button.setToolTip(action.toolTip())
            button.clicked.connect(action.trigger)
            action.changed.connect(lambda b=button, a=action: self._allow(b, a))
            self._allow(button, action)
            self.buttons.setdefault(action.objectName(), []).append(button)
            grid.addWidget(button, i // _BUTTONS_A_LINE, i % _BUTTONS_A_LINE)

    def bar_buttons(self, actions, barred: bool) -> None:
        """Bar the buttons of actions while there is nothing they could be about, or allow them."""
        for action in actions:
            change = self._barred.add if barred else self._barred.discard
            change(action.objectName())
            for button in self.buttons[action.objectName()]:
                self._allow(button, action)

    def _allow(self, button: QPushButton, action) -> None:
        button.setEnabled(action.isEnabled() and action.objectName() not in self._barred)

    def paragraph_with(self, key: str) -> SpecificationParagraph | None:
        """The paragraph that holds a value."""
        return next((p for p in self.paragraphs.values() if key in p.fields), None)

    def say(self, page: str, text: str) -> None:
        """A note above the paragraphs of a page; empty for none."""
        self.notes[page].setText(text)
        self.notes[page].setVisible(bool(text))


class PlantingSide(Card):
    """What comes of it, page by page: sentences, and lists with the line in hand told below."""

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("What comes of it")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(14, 12, 4, 12)
        outer.setSpacing(8)
        head = QHBoxLayout()
        head.setContentsMargins(6, 0, 12, 0)
        self.heading = QLabel()
        self.heading.setObjectName("heading")
        head.addWidget(self.heading)
        self.state = StateLine("the planting")
        head.addWidget(self.state, 1)
        outer.addLayout(head)
        self.tables: dict[str, LinesTable] = {}
        self._told: dict[str, QLabel] = {}
        self._parts: dict[str, QWidget] = {}
        self.sentences: dict[str, QLabel] = {}
        self.notes: dict[str, QLabel] = {}
        self.stack = QStackedWidget()
        for page in PAGES:
            self.stack.addWidget(self._page(page))
        outer.addWidget(self.stack, 1)
        self.empty = QLabel()
        self.empty.setWordWrap(True)
        self.empty.setContentsMargins(6, 0, 12, 0)
        outer.addWidget(self.empty, 1, Qt.AlignmentFlag.AlignTop)
        outer.addLayout(self._build_buttons())
        self.hide()

    def _page(self, page: Page) -> Scrolled:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(6, 0, 10, 0)
        column.setSpacing(8)
        sentence = self.sentences[page.name] = QLabel()
        sentence.setWordWrap(True)
        sentence.setTextFormat(Qt.TextFormat.PlainText)
        sentence.setFont(typeface(SERIF, 15))
        column.addWidget(sentence)
        for part in page.tables:
            column.addWidget(self._table(part))
        note = self.notes[page.name] = QLabel()
        note.setObjectName("soft")
        note.setWordWrap(True)
        note.setTextFormat(Qt.TextFormat.PlainText)
        note.setFont(typeface(SANS, 12))
        note.hide()
        column.addWidget(note)
        column.addStretch(1)
        return Scrolled(inside)

    def _table(self, part) -> QWidget:
        holder = self._parts[part.key] = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 4, 0, 0)
        column.setSpacing(4)
        heading = QLabel(part.heading)
        heading.setObjectName("heading")
        heading.setWordWrap(True)
        column.addWidget(heading)
        table = self.tables[part.key] = LinesTable(
            part.columns, part.heading, rows_at_most=part.rows_at_most, widest_px=part.widest_px
        )
        column.addWidget(table)
        told = self._told[part.key] = QLabel()
        told.setWordWrap(True)
        told.setTextFormat(Qt.TextFormat.PlainText)
        told.setFont(typeface(SANS, 12))
        told.hide()
        column.addWidget(told)
        table.pointed.connect(lambda _: self._tell(part.key))
        return holder

    def _tell(self, key: str) -> None:
        text = self.tables[key].told()
        self._told[key].setText(text)
        self._told[key].setVisible(bool(text))

    def _build_buttons(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(6, 0, 12, 0)
        line.setSpacing(8)
        self.sheet, self.files = QPushButton("Whole set…"), QPushButton("Files")
        self.sheet.setObjectName("primary")
        self.files_menu = QMenu(self)
        self.files.setMenu(self.files_menu)
        line.addWidget(self.sheet)
        line.addWidget(self.files)
        line.addStretch(1)
        return line

    # showing

    def show_page(self, page: Page) -> None:
        at = PAGES.index(page)
        self.stack.setCurrentIndex(at)
        self.heading.setText(page.side_heading)

    def say(self, page: str, sentences, notes=()) -> None:
        """What is told above the lists of a page, and what stands below them."""
        for label, told in ((self.sentences[page], sentences), (self.notes[page], notes)):
            text = "\n".join(told)
            label.setText(text)
            label.setVisible(bool(text))

    def show_lines(self, key: str, lines: tuple, theme: Theme) -> None:
        """Show the lines of a list; one without lines is not shown."""
        amiss = frozenset(i for i, line in enumerate(lines) if getattr(line, "flag", ""))
        self.tables[key].show_lines(tuple(lines), theme, amiss)
        self._parts[key].setVisible(bool(lines))
        self._tell(key)

    def say_empty(self, text: str) -> None:
        """Say what to do where there is nothing to show; empty where there is."""
        self.empty.setText(text)
        self.empty.setVisible(bool(text))
        self.stack.setVisible(not text)
        for button in (self.sheet, self.files):
            button.setEnabled(not text)
