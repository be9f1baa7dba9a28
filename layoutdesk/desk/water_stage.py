"""The cards of the water stage: how water comes, in words, and what comes of it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QMenu,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from .bars import StateLine
from .cards import Card
from .findings_card import _Line
from .look import SANS, SERIF, Theme, typeface
from .paragraph import SpecificationParagraph
from .run_calendar import RunCalendar
from .scope_line import ScopeLine
from .scrolling import Scrolled
from .sets_table import SetsTable

PARTS = {
    "drip": "The block’s drip lines",
    "source": "Where the water comes from",
    "demand": "What vines and soil take",
}
_LEFT, _RIGHT = 24, 10
_ALL_SETS = "All sets"


def _heading(text: str) -> QLabel:
    label = QLabel(text)
    label.setObjectName("heading")
    return label


class WaterCard(Card):
    """Which block, and three paragraphs: its drip lines, the source, the demand; they scroll."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("How the water comes")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(_LEFT, 18, _RIGHT, 14)
        outer.setSpacing(10)
        self.scope = ScopeLine("how the water comes", "Block the drip lines are of")
        outer.addWidget(self.scope)
        inside = QWidget()
        self._column = QVBoxLayout(inside)
        self._column.setContentsMargins(0, 0, 12, 0)
        self._column.setSpacing(8)
        self.paragraphs: dict[str, SpecificationParagraph] = {}
        self._buttons: dict[str, QHBoxLayout] = {}
        for name, words in PARTS.items():
            if self.paragraphs:
                self._column.addSpacing(8)
            label = QLabel(words)
            label.setObjectName("soft")
            self._column.addWidget(label)
            paragraph = self.paragraphs[name] = SpecificationParagraph()
            paragraph.setAccessibleName(words)
            self._column.addWidget(paragraph)
            self._buttons[name] = line = QHBoxLayout()
            line.setSpacing(6)
            self._column.addLayout(line)
        self._column.addStretch(1)
        self._area = Scrolled(inside)
        for paragraph in self.paragraphs.values():
            paragraph.sight_wanted.connect(self._area.bring_into_sight)
        outer.addWidget(self._area, 1)
        self.hide()

    def add_buttons(self, part: str, actions) -> None:
        """Buttons for actions below one of the paragraphs."""
        line = self._buttons[part]
        for action, words in actions:
            button = QPushButton(words)
            button.setObjectName("quiet")
            button.setToolTip(action.toolTip())
            button.clicked.connect(action.trigger)
            line.addWidget(button)
        line.addStretch(1)

    def paragraph_with(self, key: str) -> SpecificationParagraph | None:
        """The paragraph that holds a value."""
        return next((p for p in self.paragraphs.values() if key in p.fields), None)


class Sentences(QWidget):
    """Sentences one below the other; a click or Enter on one goes to its place.

    Up and Down walk from one to the next.
    """

    wanted = Signal(float, float)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(2)
        self.lines: list[_Line] = []
        self._shown: tuple | None = None

    def show_sentences(self, sentences, places, theme: Theme) -> None:
        """Show sentences, each with its place or None."""
        if (sentences, places, theme) == self._shown:
            return
        self._shown = (sentences, places, theme)
        while len(self.lines) < len(sentences):
            self.lines.append(self._new_line(len(self.lines), theme))
        for i, line in enumerate(self.lines):
            line.setVisible(i < len(sentences))
        for line, sentence, place in zip(self.lines, sentences, places, strict=False):
            self._say(line, sentence, place, theme)

    def _new_line(self, at: int, theme: Theme) -> _Line:
        line = _Line("", theme.accent, "", theme)
        line.label.setFont(typeface(SERIF, 15))
        line.clicked.connect(lambda _=False: self._go(at))
        line.walked.connect(self._walk)
        line.pressed.connect(lambda: self._hold(at))
        line.setFocusPolicy(Qt.FocusPolicy.ClickFocus if at else Qt.FocusPolicy.StrongFocus)
        self._column.addWidget(line)
        return line

    def _say(self, line: _Line, sentence: str, place, theme: Theme) -> None:
        line.words, line.theme = sentence, theme
        line.label.setText(sentence)
        line.sign.setText("" if place is None else "→")
        line.sign.setStyleSheet(f"color: {theme.accent}")
        line.setAccessibleName(sentence)
        shapes = Qt.CursorShape
        line.setCursor(shapes.ArrowCursor if place is None else shapes.PointingHandCursor)
        line.setToolTip("" if place is None else "Click or Enter goes there")

    def _go(self, at: int) -> None:
        place = self._shown[1][at]
        if place is not None:
            self.wanted.emit(*place)

    def _walk(self, line, step: int) -> None:
        n = len(self._shown[0])
        at = step % n if line is None else self.lines.index(line) + step
        self._hold(min(max(at, 0), n - 1))

    def _hold(self, at: int) -> None:
        """Put the keyboard on a line; Tab comes back to it."""
        for other in self.lines:
            other.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.lines[at].setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.lines[at].setFocus(Qt.FocusReason.OtherFocusReason)


class WaterSide(Card):
    """What comes of it: sentences, figures, sets, run times.

    Signals
    -------
    years_chosen
        Another year, or other sets, are to be shown in the calendar.
    """

    years_chosen = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("What comes of it")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(14, 12, 4, 12)
        outer.setSpacing(8)
        head = QHBoxLayout()
        head.setContentsMargins(6, 0, 12, 0)
        head.addWidget(_heading("What comes of it"))
        self.state = StateLine("the drip system")
        head.addWidget(self.state, 1)
        outer.addLayout(head)
        self.body = QWidget()
        self._column = column = QVBoxLayout(self.body)
        column.setContentsMargins(0, 0, 10, 0)
        column.setSpacing(8)
        self.sentences = Sentences()
        column.addWidget(self.sentences)
        column.addWidget(self._build_figures())
        column.addWidget(self._build_sets())
        column.addWidget(self._build_times(theme))
        column.addStretch(1)
        self._area = Scrolled(self.body)
        outer.addWidget(self._area, 1)
        self.empty = QLabel()
        self.empty.setWordWrap(True)
        self.empty.setContentsMargins(6, 0, 12, 0)
        outer.addWidget(self.empty, 1, Qt.AlignmentFlag.AlignTop)
        outer.addLayout(self._build_buttons())
        self.hide()

    def _build_figures(self) -> QWidget:
        holder = QWidget()
        self._grid = QGridLayout(holder)
        self._grid.setContentsMargins(6, 2, 6, 0)
        self._grid.setHorizontalSpacing(10)
        self._grid.setVerticalSpacing(4)
        self._grid.setColumnStretch(0, 1)
        self.figures: dict[str, QLabel] = {}
        return holder

    def _build_sets(self) -> QWidget:
        self.sets_part = QWidget()
        column = QVBoxLayout(self.sets_part)
        column.setContentsMargins(6, 6, 0, 0)
        column.setSpacing(4)
        column.addWidget(_heading("Sets: rows watered together"))
        self.sets = SetsTable()
        column.addWidget(self.sets)
        self.set_told = self._told()
        column.addWidget(self.set_told)
        return self.sets_part

    def _build_times(self, theme: Theme) -> QWidget:
        self.times_part = QWidget()
        column = QVBoxLayout(self.times_part)
        column.setContentsMargins(6, 6, 0, 0)
        column.setSpacing(4)
        line = QHBoxLayout()
        self.year, self.which = QComboBox(), QComboBox()
        self.year.setAccessibleName("Year from planting")
        self.which.setAccessibleName("Set the run times are of")
        for choice in (self.year, self.which):
            choice.activated.connect(lambda _: self.years_chosen.emit())
            choice.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToContents)
        line.addWidget(self.which)
        line.addWidget(self.year)
        line.addStretch(1)
        column.addWidget(_heading("How long the sets run"))
        column.addLayout(line)
        self.before = self._told()
        column.addWidget(self.before)
        self.calendar = RunCalendar(theme)
        column.addWidget(self.calendar)
        self.week_told = self._told()
        self.calendar.told.connect(self.week_told.setText)
        column.addWidget(self.week_told)
        self.fold = QPushButton()
        self.fold.setObjectName("quiet")
        self.fold.clicked.connect(self._turn_fold)
        column.addWidget(self.fold, 0, Qt.AlignmentFlag.AlignLeft)
        self.statement = self._told()
        self.statement.setObjectName("soft")
        column.addWidget(self.statement)
        self._open = False
        self._say_fold()
        return self.times_part

    def _told(self) -> QLabel:
        label = QLabel()
        label.setWordWrap(True)
        label.setTextFormat(Qt.TextFormat.PlainText)
        label.setFont(typeface(SANS, 12))
        return label

    def _build_buttons(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setContentsMargins(6, 0, 12, 0)
        line.setSpacing(8)
        self.sheet, self.files = QPushButton("Irrigation sheet…"), QPushButton("Files")
        self.sheet.setObjectName("primary")
        self.files_menu = QMenu(self)
        self.files.setMenu(self.files_menu)
        line.addWidget(self.sheet)
        line.addWidget(self.files)
        line.addStretch(1)
        return line

    # showing

    def say_empty(self, text: str) -> None:
        """Say what to do where there is nothing to show; empty where there is."""
        self.empty.setText(text)
        self.empty.setVisible(bool(text))
        self._area.setVisible(not text)
        for button in (self.sheet, self.files):
            button.setEnabled(not text)

    def show_figures(self, figures) -> None:
        """Show (name, value, meaning) lines; uniformity, told first, is set large."""
        if [f.name for f in figures] != list(self.figures):
            self._rebuild_figures(figures)
        for figure in figures:
            self.figures[figure.name].setText(figure.value)

    def _rebuild_figures(self, figures) -> None:
        while self._grid.count():
            widget = self._grid.takeAt(0).widget()
            widget.hide()
            widget.deleteLater()
        self.figures = {}
        for row, figure in enumerate(figures):
            label, value = QLabel(figure.name), QLabel()
            label.setObjectName("soft")
            label.setWordWrap(True)
            value.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
            value.setAccessibleName(figure.name)
            if row < 2:
                value.setFont(typeface(SERIF, 18, strong=True))
            for widget in (label, value):
                widget.setToolTip(figure.meaning)
            self._grid.addWidget(label, row, 0)
            self._grid.addWidget(value, row, 1)
            label.show()
            value.show()
            self.figures[figure.name] = value

    def show_choices(self, years: tuple[str, ...], sets: tuple[str, ...]) -> None:
        """Offer years and sets for the calendar; what was chosen stays so."""
        _offer(self.year, years)
        _offer(self.which, (_ALL_SETS, *sets) if len(sets) > 1 else sets)

    @property
    def chosen_set(self) -> int | None:
        """Index of the set in the calendar, None for all of them together."""
        at = self.which.currentIndex() - (self.which.itemText(0) == _ALL_SETS)
        return at if at >= 0 else None

    def choose_set(self, index: int | None) -> None:
        """Show a set in the calendar, or all of them."""
        if self.which.count() > 1:
            self.which.setCurrentIndex(0 if index is None else index + 1)
            self.years_chosen.emit()

    def _turn_fold(self) -> None:
        self._open = not self._open
        self._say_fold()

    def _say_fold(self) -> None:
        self.fold.setText(f"{'▾' if self._open else '▸'} How run times follow")
        self.fold.setAccessibleName(f"How run times follow, {'open' if self._open else 'folded'}")
        self.statement.setVisible(self._open)


def _offer(choice: QComboBox, texts: tuple[str, ...]) -> None:
    before = [choice.itemText(i) for i in range(choice.count())]
    if before == list(texts):
        return
    at = choice.currentIndex()
    choice.clear()
    choice.addItems(list(texts))
    choice.setCurrentIndex(min(max(at, 0), len(texts) - 1))
    choice.setVisible(len(texts) > 1)
