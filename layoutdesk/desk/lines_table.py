"""A table of lines that are told elsewhere: columns give way where room is short, the line in hand is told."""

from __future__ import annotations

from dataclasses import dataclass

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, Qt, Signal
from PySide6.QtGui import QFontMetrics, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QAbstractItemView, QFrame, QHeaderView, QTreeView, QWidget

from .look import SANS, Theme, typeface

_PADDING_PX, _ROW_LEAST_PX = 15, 18
_TEXT_LEAST_PX = 92
"""Words are shortened so far before their column is left out."""
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_ENDS = (Qt.Key.Key_Home, Qt.Key.Key_End)


@dataclass(frozen=True)
class Column:
    """One column.

    Attributes
    ----------
    name : str
        Field of the lines.
    heading, meaning : str
    gives_way : int
        The higher, the sooner it is left out where room is short; 0 never.
    right : bool
        Whether it holds figures.
    """

    name: str
    heading: str
    meaning: str = ""
    gives_way: int = 0
    right: bool = False


class _Lines(QAbstractTableModel):
    def __init__(self, columns: tuple[Column, ...]):
        super().__init__()
        self.columns, self.lines = columns, ()
        self.amiss: frozenset[int] = frozenset()
        self.theme: Theme | None = None

    def rowCount(self, parent=QModelIndex()):  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.lines)

    def columnCount(self, parent=QModelIndex()):  # noqa: B008
        return 0 if parent.isValid() else len(self.columns)

    def text(self, row: int, column: int) -> str:
        text = str(getattr(self.lines[row], self.columns[column].name))
        return f"▲ {text}" if not column and row in self.amiss else text

    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        roles = Qt.ItemDataRole
        if role == roles.DisplayRole:
            return self.text(index.row(), index.column())
        if role == roles.ToolTipRole:
            return self.told(index.row())
        if role == roles.TextAlignmentRole:
            return self._side(index.column())
        if role == roles.ForegroundRole and index.row() in self.amiss:
            return self.theme["caution"]
        if role == roles.AccessibleTextRole:
            heading = self.columns[index.column()].heading
            return f"{heading}: {self.text(index.row(), index.column())}"
        return None

    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].heading
        if role == Qt.ItemDataRole.ToolTipRole:
            return self.columns[section].meaning
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return self._side(section)
        return None

    def _side(self, column: int):
        sides = Qt.AlignmentFlag
        side = sides.AlignRight if self.columns[column].right else sides.AlignLeft
        return side | sides.AlignVCenter

    def told(self, row: int) -> str:
        """All of a line in words."""
        line = self.lines[row]
        told = getattr(line, "told", None)
        if told is not None:
            return told
        texts = ((c.heading, str(getattr(line, c.name))) for c in self.columns)
        return "; ".join(f"{heading}: {text}" for heading, text in texts if text)


class LinesTable(QTreeView):
    """One line below the other; what has no room is left out, and told of the line in hand.

    A line may have `told`, all of it in words, and `key`, by which it stays in hand when lines change.

    Signals
    -------
    pointed : int or None
        Index of the line in hand.
    wanted : int
        Enter or a double click: go there.
    """

    pointed = Signal(object)
    wanted = Signal(int)

    def __init__(
        self,
        columns: tuple[Column, ...],
        name: str,
        parent: QWidget | None = None,
        *,
        rows_at_most: int = 8,
        widest_px: int = 110,
    ):
        super().__init__(parent)
        self.model_of_lines = _Lines(columns)
        self._rows_at_most, self._widest_px = rows_at_most, widest_px
        self.setModel(self.model_of_lines)
        self.setAccessibleName(name)
        self.setFont(typeface(SANS, 12))
        self.setRootIsDecorated(False)
        self.setIndentation(0)
        self.setAllColumnsShowFocus(True)
        self.setUniformRowHeights(True)
        self.setItemsExpandable(False)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setStyleSheet(
            "QTreeView { padding: 0; outline: 0; } QTreeView::item { padding: 3px 0; }"
        )
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setTabKeyNavigation(False)
        self.header().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.header().setStretchLastSection(False)
        self.header().setSectionsClickable(False)
        self.header().setMinimumSectionSize(10)
        self.doubleClicked.connect(lambda index: self.wanted.emit(index.row()))
        self.selectionModel().selectionChanged.connect(lambda *_: self._say())
        self._quiet = False

    @property
    def lines(self) -> tuple:
        return self.model_of_lines.lines

    @property
    def held(self) -> int | None:
        """Index of the line in hand."""
        rows = self.selectionModel().selectedRows()
        return rows[0].row() if rows else None

    @property
    def held_line(self):
        """The line in hand, None without one."""
        return None if self.held is None else self.lines[self.held]

    def _key(self, line):
        return getattr(line, "key", getattr(line, self.model_of_lines.columns[0].name))

    def show_lines(self, lines: tuple, theme: Theme, amiss: frozenset[int] = frozenset()) -> None:
        """Show lines; the one in hand stays so by its key. `amiss` are indices of lines to be marked."""
        model = self.model_of_lines
        held = self._key(lines_held) if (lines_held := self.held_line) is not None else None
        if (lines, amiss, theme) == (model.lines, model.amiss, model.theme):
            return
        self._quiet = True
        model.beginResetModel()
        model.lines, model.amiss, model.theme = tuple(lines), amiss, theme
        model.endResetModel()
        again = next((i for i, line in enumerate(lines) if self._key(line) == held), None)
        self.hold(again if held is not None else None)
        self._quiet = False
        if held is not None and again is None:
            self.pointed.emit(None)
        self.setFixedHeight(self.wanted_height())
        self._fit_columns()

    def hold(self, row: int | None) -> None:
        """Take a line in hand, or none."""
        if row is None:
            self.clearSelection()
            self.setCurrentIndex(QModelIndex())
        elif row != self.held:
            self.setCurrentIndex(self.model_of_lines.index(row, 0))

    def _say(self) -> None:
        if not self._quiet:
            self.pointed.emit(self.held)

    def told(self) -> str:
        """The line in hand in words; empty without one."""
        return self.model_of_lines.told(self.held) if self.held is not None else ""

    def as_text(self) -> str:
        """The table with tabs between columns, for a spreadsheet."""
        columns = self.model_of_lines.columns
        lines = ["\t".join(c.heading for c in columns)]
        for line in self.lines:
            lines.append("\t".join(str(getattr(line, c.name)) for c in columns))
        return "\n".join(lines) + "\n"

    def wanted_height(self) -> int:
        rows = min(max(len(self.lines), 1), self._rows_at_most)
        row = max(self.sizeHintForRow(0), _ROW_LEAST_PX)
        return self.header().sizeHint().height() + rows * row + 4

    # columns

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._fit_columns()

    def _fit_columns(self) -> None:
        """Every column as wide as its words; the least needed ones give way."""
        metrics, columns = QFontMetrics(self.font()), self.model_of_lines.columns
        wide = []
        for c, column in enumerate(columns):
            texts = [column.heading]
            texts += [self.model_of_lines.text(r, c) for r in range(min(len(self.lines), 400))]
            most = max(metrics.horizontalAdvance(t) for t in texts)
            wide.append(min(most, self._widest_px) + _PADDING_PX)
        room, shown = self.viewport().width(), set(range(len(columns)))
        least = [
            w if c.right or not c.gives_way else min(w, _TEXT_LEAST_PX)
            for w, c in zip(wide, columns, strict=True)
        ]
        for c in sorted(shown, key=lambda c: -columns[c].gives_way):
            if sum(least[s] for s in shown) <= room or not columns[c].gives_way:
                break
            shown.discard(c)
        wide = _narrowed(wide, shown, columns, room)
        spare = max(room - sum(wide[s] for s in shown), 0) // max(len(shown) - 1, 1)
        for c in range(len(columns)):
            self.setColumnHidden(c, c not in shown)
            self.setColumnWidth(c, wide[c] + (spare if c else 0))

    # keyboard

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and (
            event.key() in _ENDS or event.matches(QKeySequence.StandardKey.Copy)
        ):
            event.accept()  # Home is "Show all" elsewhere
            return True
        return super().event(event)

    def keyPressEvent(self, event):
        if event.matches(QKeySequence.StandardKey.Copy):
            QGuiApplication.clipboard().setText(self.as_text())
        elif event.key() in _ENTER and self.held is not None:
            self.wanted.emit(self.held)
        elif event.key() == Qt.Key.Key_Escape and self.held is not None:
            self.hold(None)
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event):
        super().focusInEvent(event)
        by_key = event.reason() in (
            Qt.FocusReason.TabFocusReason,
            Qt.FocusReason.BacktabFocusReason,
        )
        if by_key and self.held is None and self.lines:
            self.hold(0)


def _narrowed(wide: list[int], shown: set[int], columns, room: int) -> list[int]:
    """Widths of columns with the widest ones of words narrowed until all have room. [px]"""
    wide = list(wide)
    words = [c for c in shown if not columns[c].right]
    excess = sum(wide[c] for c in shown) - room
    while excess > 0 and words:
        most = max(words, key=lambda c: wide[c])
        if wide[most] <= _TEXT_LEAST_PX:
            break
        next_most = max((wide[c] for c in words if wide[c] < wide[most]), default=0)
        cut = min(excess, wide[most] - max(next_most, _TEXT_LEAST_PX))
        wide[most] -= max(cut, 1)
        excess -= max(cut, 1)
    return wide
