"""Cards of a stage with pages: which page, its words and what can be done at the left, what comes of it at the right."""

from __future__ import annotations

from dataclasses import dataclass

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
from .lines_table import Column, LinesTable
from .look import SANS, SERIF, Theme, typeface
from .paragraph import SpecificationParagraph
from .scrolling import Scrolled

_LEFT, _RIGHT = 24, 10
_BUTTONS_A_LINE = 2


@dataclass(frozen=True)
class TablePart:
    """One list of a page: `key` names it, `columns` are fields of its lines."""

    key: str
    heading: str
    columns: tuple[Column, ...]
    rows_at_most: int = 8
    widest_px: int = 110


@dataclass(frozen=True)
class Page:
    """One page of a stage.

    Attributes
    ----------
    name, words, meaning : str
        Of its button.
    heading, side_heading : str
        Of the cards left and right of the plan.
    way : str
        What the plan shows when the page is turned to.
    paragraphs : tuple of (str, str)
        Key of each and the words above it.
    actions : tuple of (str, str)
        Ends of action ids with the words on their buttons.
    tables : tuple of TablePart
    """

    name: str
    words: str
    meaning: str
    heading: str
    side_heading: str
    way: str
    paragraphs: tuple[tuple[str, str], ...]
    actions: tuple[tuple[str, str], ...]
    tables: tuple[TablePart, ...]


class PageBar(QWidget):
    """One small button a page; the arrow keys go from one to the next."""

    wanted = Signal(str)

    def __init__(self, pages: tuple[Page, ...], name: str):
        super().__init__()
        self.setAccessibleName(name)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2)
        self.buttons: dict[str, QPushButton] = {}
        group = QButtonGroup(self)
        for page in pages:
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


class PagedCard(Card):
    """Which page, its paragraphs and what can be done there; it scrolls.

    Parameters
    ----------
    pages : tuple of Page
    name, bar_name : str
        Of the card and of its bar, as they are read aloud.
    at_once : bool
        Whether all pages are made at once; else each when it is first turned to, as a stage may not keep the
        hand waiting.

    Signals
    -------
    built : str
        A page was made.
    """

    built = Signal(str)

    def __init__(
        self,
        pages: tuple[Page, ...],
        name: str,
        bar_name: str,
        parent: QWidget | None = None,
        *,
        at_once: bool = True,
    ):
        super().__init__(parent)
        self.pages = pages
        self.setAccessibleName(name)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(_LEFT, 16, _RIGHT, 14)
        outer.setSpacing(10)
        self.bar = PageBar(pages, bar_name)
        outer.addWidget(self.bar)
        self.paragraphs: dict[str, SpecificationParagraph] = {}
        self.notes: dict[str, QLabel] = {}
        self.columns: dict[str, QVBoxLayout] = {}
        self._grids: dict[str, QGridLayout] = {}
        self.buttons: dict[str, list[QPushButton]] = {}
        self._barred: set[str] = set()
        self.stack = QStackedWidget()
        for page in pages:
            self.stack.addWidget(self._page(page) if at_once else QWidget())
        outer.addWidget(self.stack, 1)
        self.hide()

    def _page(self, page: Page) -> Scrolled:
        inside = QWidget()
        column = self.columns[page.name] = QVBoxLayout(inside)
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
        self.begin_page(page.name, column)
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
        self.end_page(page.name, column)
        column.addStretch(1)
        return area

    def begin_page(self, page: str, column: QVBoxLayout) -> None:
        """What a page has above its buttons, besides; nothing unless a card says so."""

    def end_page(self, page: str, column: QVBoxLayout) -> None:
        """What a page has below its paragraphs; nothing unless a card says so."""

    def show_page(self, page: Page) -> None:
        if page.name not in self.notes:
            _put_in(self.stack, self.pages.index(page), self._page(page))
            self.built.emit(page.name)
        self.bar.show_page(page.name)
        self.stack.setCurrentIndex(self.pages.index(page))

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
            for button in self.buttons.get(action.objectName(), ()):
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


class PagedSide(Card):
    """What comes of it, page by page: sentences, and lists with the line in hand told below.

    Parameters
    ----------
    pages : tuple of Page
    theme : Theme
    of_what : str
        What it is about, as the line of its state is read aloud.
    sheet_words : str
        Of the button below everything.
    at_once : bool
        As of a PagedCard.

    Signals
    -------
    built : str
        A page was made.
    """

    built = Signal(str)

    def __init__(
        self,
        pages: tuple[Page, ...],
        theme: Theme,
        of_what: str,
        sheet_words: str,
        parent: QWidget | None = None,
        *,
        at_once: bool = True,
    ):
        super().__init__(parent)
        self.pages, self._theme = pages, theme
        self.setAccessibleName("What comes of it")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(14, 12, 4, 12)
        outer.setSpacing(8)
        head = QHBoxLayout()
        head.setContentsMargins(6, 0, 12, 0)
        self.heading = QLabel()
        self.heading.setObjectName("heading")
        head.addWidget(self.heading)
        self.state = StateLine(of_what)
        head.addWidget(self.state, 1)
        outer.addLayout(head)
        self.tables: dict[str, LinesTable] = {}
        self._told: dict[str, QLabel] = {}
        self._parts: dict[str, QWidget] = {}
        self.firsts: dict[str, QLabel] = {}
        self.sentences: dict[str, QLabel] = {}
        self.notes: dict[str, QLabel] = {}
        self.stack = QStackedWidget()
        for page in pages:
            self.stack.addWidget(self._page(page, theme) if at_once else QWidget())
        outer.addWidget(self.stack, 1)
        self.empty = QLabel()
        self.empty.setWordWrap(True)
        self.empty.setContentsMargins(6, 0, 12, 0)
        outer.addWidget(self.empty, 1, Qt.AlignmentFlag.AlignTop)
        outer.addLayout(self._build_buttons(sheet_words))
        self.hide()

    def _page(self, page: Page, theme: Theme) -> Scrolled:
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(6, 0, 10, 0)
        column.setSpacing(8)
        self.firsts[page.name] = _told_label("notice", SERIF, 15)
        self.sentences[page.name] = _told_label("", SERIF, 15)
        for label in (self.firsts[page.name], self.sentences[page.name]):
            column.addWidget(label)
        self.begin_page(page.name, column, theme)
        for part in page.tables:
            column.addWidget(self._table(part))
        note = self.notes[page.name] = _told_label("soft", SANS, 12)
        column.addWidget(note)
        column.addStretch(1)
        return Scrolled(inside)

    def begin_page(self, page: str, column: QVBoxLayout, theme: Theme) -> None:
        """What a page has above its lists, besides; nothing unless a card says so."""

    def _table(self, part: TablePart) -> QWidget:
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
        told = self._told[part.key] = _told_label("", SANS, 12)
        column.addWidget(told)
        table.pointed.connect(lambda _: self._tell(part.key))
        return holder

    def _tell(self, key: str) -> None:
        _show_text(self._told[key], self.tables[key].told())

    def _build_buttons(self, sheet_words: str) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(6, 0, 12, 0)
        line.setSpacing(8)
        self.sheet, self.files = QPushButton(sheet_words), QPushButton("Files")
        self.sheet.setObjectName("primary")
        self.files_menu = QMenu(self)
        self.files.setMenu(self.files_menu)
        line.addWidget(self.sheet)
        line.addWidget(self.files)
        line.addStretch(1)
        return line

    # showing

    def show_page(self, page: Page) -> None:
        if page.name not in self.notes:
            _put_in(self.stack, self.pages.index(page), self._page(page, self._theme))
            self.built.emit(page.name)
        self.stack.setCurrentIndex(self.pages.index(page))
        self.heading.setText(page.side_heading)

    def say(self, page: str, sentences, notes=(), first=()) -> None:
        """What is told above the lists of a page, and what stands below them; `first` is to be heeded."""
        _show_text(self.firsts[page], "\n".join(first))
        _show_text(self.sentences[page], "\n".join(sentences))
        _show_text(self.notes[page], "\n".join(notes))

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


def _put_in(stack: QStackedWidget, at: int, page: QWidget) -> None:
    """Put a page in the place of what stands for it."""
    before = stack.widget(at)
    stack.removeWidget(before)
    before.deleteLater()
    stack.insertWidget(at, page)


def _told_label(name: str, face: str, size_px: int) -> QLabel:
    label = QLabel()
    if name:
        label.setObjectName(name)
    label.setWordWrap(True)
    label.setTextFormat(Qt.TextFormat.PlainText)
    label.setFont(typeface(face, size_px))
    label.hide()
    return label


def _show_text(label: QLabel, text: str) -> None:
    label.setText(text)
    label.setVisible(bool(text))
