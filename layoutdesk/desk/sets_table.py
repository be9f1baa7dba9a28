"""The table of sets: rows that are watered together, with what they take and how evenly they get it."""

from __future__ import annotations

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, Qt, Signal
from PySide6.QtGui import QFontMetrics, QGuiApplication, QKeySequence
from PySide6.QtWidgets import QAbstractItemView, QFrame, QHeaderView, QTreeView, QWidget

from .look import SANS, Theme, typeface

COLUMNS = (
    # field of a line, heading, meaning, how soon it is left out where room is short (0 never)
    ("number", "Set", "Rows watered together, behind one valve", 0),
    ("rows", "Rows", "Rows of the set", 0),
    ("vines", "Vines", "Vines of the set", 2),
    ("flow", "Flow", "Flow of the whole set", 0),
    ("head", "Asks", "Pressure that the set asks of the source", 1),
    ("available", "There is", "Pressure that the source still has at that flow", 3),
    ("eu", "EU", "Emission uniformity: least over mean flow, less what manufacture takes", 0),
    ("du", "DU", "Distribution uniformity: the lowest quarter's mean, of the mean of all", 6),
    ("wetting", "Wetting", "Run on the day before planting", 5),
    ("first", "First", "First watering, right after planting", 7),
    ("week", "Week", "Run time in the fullest week", 4),
)
_PADDING_PX, _ROW_LEAST_PX = 15, 18
_WIDEST_PX = 110
_ROWS_AT_MOST = 8
"""More sets than these are scrolled to."""
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_ENDS = (Qt.Key.Key_Home, Qt.Key.Key_End)


class _Sets(QAbstractTableModel):
    def __init__(self):
        super().__init__()
        self.lines: tuple = ()
        self.short: frozenset[int] = frozenset()
        self.theme: Theme | None = None

    def rowCount(self, parent=QModelIndex()):  # noqa: B008 - Qt's own signature
        return 0 if parent.isValid() else len(self.lines)

    def columnCount(self, parent=QModelIndex()):  # noqa: B008
        return 0 if parent.isValid() else len(COLUMNS)

    def text(self, row: int, column: int) -> str:
        name = COLUMNS[column][0]
        text = str(getattr(self.lines[row], name))
        return f"▲ {text}" if name == "number" and row in self.short else text

    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        roles = Qt.ItemDataRole
        if role == roles.DisplayRole:
            return self.text(index.row(), index.column())
        if role == roles.ToolTipRole:
            return self.told(index.row())
        if role == roles.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if index.column() > 1 else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        if role == roles.ForegroundRole and index.row() in self.short:
            return self.theme["caution"]
        if role == roles.AccessibleTextRole:
            return f"{COLUMNS[index.column()][1]}: {self.text(index.row(), index.column())}"
        return None

    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return COLUMNS[section][1]
        if role == Qt.ItemDataRole.ToolTipRole:
            return COLUMNS[section][2]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if section > 1 else Qt.AlignmentFlag.AlignLeft
            return side | Qt.AlignmentFlag.AlignVCenter
        return None

    def told(self, row: int) -> str:
        """All of a line in words."""
        line = self.lines[row]
        amiss = "more than the source has" if row in self.short else ""
        head = f"asks {line.head} of the source, which has {line.available}"
        parts = [
            f"rows {line.rows}",
            f"{line.vines} vines",
            line.flow,
            f"{head}: {amiss}" if amiss else head,
            f"EU {line.eu}, DU {line.du}",
            f"wetting run {line.wetting}",
            f"first watering {line.first}",
            f"fullest week {line.week}",
        ]
        return f"Set {line.number}: {'; '.join(parts)}."


class SetsTable(QTreeView):
    """A line a set; what has no room is left out, and told of the line in hand.

    Signals
    -------
    pointed : int or None
        Index of the set in hand.
    wanted : int
        Enter or a double click: go there.
    """

    pointed = Signal(object)
    wanted = Signal(int)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.sets = _Sets()
        self.setModel(self.sets)
        self.setAccessibleName("Sets")
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
    def held(self) -> int | None:
        """Index of the set in hand."""
        rows = self.selectionModel().selectedRows()
        return rows[0].row() if rows else None

    def show_sets(self, lines: tuple, short: frozenset[int], theme: Theme) -> None:
        """Show lines; the set in hand stays so by its number. `short` are indices of unserved sets."""
        held = self.sets.lines[self.held].number if self.held is not None else None
        if (lines, short, theme) == (self.sets.lines, self.sets.short, self.sets.theme):
            return
        self._quiet = True
        self.sets.beginResetModel()
        self.sets.lines, self.sets.short, self.sets.theme = lines, short, theme
        self.sets.endResetModel()
        again = next((i for i, n in enumerate(lines) if n.number == held), None)
        self.hold(again)
        self._quiet = False
        if held is not None and again is None:
            self.pointed.emit(None)
        self.setFixedHeight(self.wanted_height())
        self._fit_columns()

    def hold(self, row: int | None) -> None:
        """Take a set in hand, or none."""
        if row is None:
            self.clearSelection()
            self.setCurrentIndex(QModelIndex())
        elif row != self.held:
            self.setCurrentIndex(self.sets.index(row, 0))

    def _say(self) -> None:
        if not self._quiet:
            self.pointed.emit(self.held)

    def told(self) -> str:
        """The set in hand in words; empty without one."""
        return self.sets.told(self.held) if self.held is not None else ""

    def as_text(self) -> str:
        """The table with tabs between columns, for a spreadsheet."""
        lines = ["\t".join(c[1] for c in COLUMNS)]
        for line in self.sets.lines:
            lines.append("\t".join(str(getattr(line, c[0])) for c in COLUMNS))
        return "\n".join(lines) + "\n"

    def wanted_height(self) -> int:
        rows = min(max(len(self.sets.lines), 1), _ROWS_AT_MOST)
        row = max(self.sizeHintForRow(0), _ROW_LEAST_PX)
        return self.header().sizeHint().height() + rows * row + 4

    # columns

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._fit_columns()

    def _fit_columns(self) -> None:
        """Every column as wide as its words; the least needed ones give way."""
        metrics = QFontMetrics(self.font())
        wide = []
        for c, (_, heading, _, _) in enumerate(COLUMNS):
            texts = [heading, *(self.sets.text(r, c) for r in range(len(self.sets.lines)))]
            most = max(metrics.horizontalAdvance(t) for t in texts)
            wide.append(min(most, _WIDEST_PX) + _PADDING_PX)
        room, shown = self.viewport().width(), set(range(len(COLUMNS)))
        for c in sorted(shown, key=lambda c: -COLUMNS[c][3]):
            if sum(wide[s] for s in shown) <= room or not COLUMNS[c][3]:
                break
            shown.discard(c)
        spare = max(room - sum(wide[s] for s in shown), 0) // max(len(shown) - 1, 1)
        for c in range(len(COLUMNS)):
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
        if by_key and self.held is None and self.sets.lines:
            self.hold(0)
