"""The table of the comparison: one line a measure, one column a candidate."""

from __future__ import annotations

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QCursor, QFontMetrics, QKeySequence, QPainter, QPen
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHeaderView,
    QStyledItemDelegate,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from ..session.compare_lines import Column, Group, Line, cell_in_words
from .cards import Card
from .look import SANS, SERIF, Theme, typeface

LINE_PX = 22
_EDGE_PX = 14
_RIM_PX = 4
_BOX_PX = 14
_DOT_PX = 5
_RIGHT_PX = 30
"""Room right of a figure, for the dot of the best and the scroll bar. [px]"""


class TableModel(QAbstractTableModel):
    """Lines and headings of groups, one below the other; column 0 has their names."""

    ticked = Signal(str, bool)

    def __init__(self, parent=None):
        super().__init__(parent)
        self.rows: list[Group | Line] = []
        self.columns: tuple[Column, ...] = ()
        self.base = 0

    def show_table(self, groups: tuple[Group, ...], columns: tuple[Column, ...], base: int) -> None:
        """Show another table; the place in it is kept where its lines are the same."""
        rows: list[Group | Line] = []
        for group in groups:
            rows += [group, *group.lines]
        same = len(columns) == len(self.columns) and _names(rows) == _names(self.rows)
        if not same:
            self.beginResetModel()
        self.rows, self.columns, self.base = rows, columns, base
        if not same:
            self.endResetModel()
        elif rows:
            last = self.index(len(rows) - 1, len(columns))
            self.dataChanged.emit(self.index(0, 0), last)

    def line(self, row: int) -> Line | None:
        """The measure of a row, None where it is a heading."""
        found = self.rows[row] if 0 <= row < len(self.rows) else None
        return found if isinstance(found, Line) else None

    def named(self, name: str) -> Line | None:
        """The line of a measure."""
        return next((r for r in self.rows if isinstance(r, Line) and r.name == name), None)

    def rowCount(self, parent=QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent=QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.columns) + 1

    def flags(self, index):
        flags = Qt.ItemFlag.ItemIsEnabled
        line = self.line(index.row())
        if line is not None:
            flags |= Qt.ItemFlag.ItemIsSelectable
            if index.column() == 0 and line.can_beat:
                flags |= Qt.ItemFlag.ItemIsUserCheckable
        return flags

    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return "Measure" if section == 0 else self.columns[section - 1].title

    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        row, column, roles = self.rows[index.row()], index.column(), Qt.ItemDataRole
        if isinstance(row, Group):
            shown = {roles.DisplayRole: row.title if column == 0 else ""}
            said = f"{row.title}. {row.missing}".strip() if column == 0 else ""
            return {**shown, roles.AccessibleTextRole: said}.get(role)
        if role == roles.DisplayRole:
            return row.heading if column == 0 else row.cells[column - 1].text
        if role == roles.ToolTipRole:
            return row.meaning
        if role == roles.AccessibleDescriptionRole:
            return row.meaning
        if role == roles.CheckStateRole and column == 0 and row.can_beat:
            return Qt.CheckState.Checked if row.chosen else Qt.CheckState.Unchecked
        if role == roles.AccessibleTextRole:
            if column == 0:
                can = f", {'decides' if row.chosen else 'does not decide'} which candidates are beaten"
                return row.heading + (can if row.can_beat else "")
            base = self.columns[self.base].title
            return cell_in_words(row, row.cells[column - 1], self.columns[column - 1], base)
        return None

    def setData(self, index, value, role=Qt.ItemDataRole.EditRole):
        line = self.line(index.row())
        if role != Qt.ItemDataRole.CheckStateRole or line is None or not line.can_beat:
            return False
        self.ticked.emit(line.name, Qt.CheckState(value) == Qt.CheckState.Checked)
        return True


def _names(rows) -> list[str]:
    return [r.title if isinstance(r, Group) else r.name for r in rows]


class _CellPainter(QStyledItemDelegate):
    """Paints headings, names with their boxes, and figures with differences and the mark of the best."""

    def __init__(self, table: CompareTable):
        super().__init__(table)
        self.table = table

    def sizeHint(self, option, index):
        return QSize(40, LINE_PX)

    def paint(self, painter, option, index):
        theme, rect = self.table.theme, option.rect
        row, column = index.model().rows[index.row()], index.column()
        painter.save()
        if isinstance(row, Group):
            self._heading(painter, rect, row, column, theme)
            painter.restore()
            return
        painter.setPen(QPen(theme["hairline"], 1))
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        at = self.table.view.currentIndex()
        if index.row() == at.row() and self.table.view.hasFocus():
            painter.fillRect(rect.adjusted(0, 0, 0, -1), theme["block"])
            if column == at.column():
                painter.setPen(QPen(theme["accent"], 2))
                painter.drawRoundedRect(rect.adjusted(2, 1, -3, -2), 4, 4)
        if column == 0:
            self._name(painter, rect, row, theme)
        else:
            self._figure(painter, rect, row.cells[column - 1], theme)
        painter.restore()

    def _heading(self, painter, rect, group: Group, column: int, theme) -> None:
        painter.setPen(QPen(theme["hairline"], 1))
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        if column:
            return
        font = typeface(SERIF, 14, strong=True)
        painter.setFont(font)
        painter.setPen(theme["ink"])
        inside = rect.adjusted(_EDGE_PX, 0, 0, 0)
        painter.drawText(inside, Qt.AlignmentFlag.AlignVCenter, group.title)
        if group.missing:  # over the empty cells beside it
            used = QFontMetrics(font).horizontalAdvance(group.title) + 12
            painter.setFont(typeface(SANS, 12))
            painter.setPen(theme["soft_ink"])
            painter.setClipping(False)
            wide = QRect(inside.left() + used, rect.top(), self.table.view.width(), rect.height())
            painter.drawText(wide, Qt.AlignmentFlag.AlignVCenter, group.missing)

    def _name(self, painter, rect, line: Line, theme) -> None:
        box = box_of(rect)
        if line.can_beat:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            painter.setPen(QPen(theme["accent" if line.chosen else "soft_ink"], 1.2))
            painter.setBrush(theme["accent"] if line.chosen else Qt.BrushStyle.NoBrush)
            painter.drawRoundedRect(box, 3, 3)
            if line.chosen:
                painter.setPen(QPen(theme["on_accent"], 1.8))
                x, y = box.left(), box.top()
                painter.drawLine(x + 3, y + 7, x + 6, y + 10)
                painter.drawLine(x + 6, y + 10, x + 11, y + 4)
        font = typeface(SANS, 13)
        painter.setFont(font)
        painter.setPen(theme["ink"])
        inside = rect.adjusted(_EDGE_PX + _BOX_PX + 8, 0, -4, 0)
        text = QFontMetrics(font).elidedText(
            line.heading, Qt.TextElideMode.ElideRight, inside.width()
        )
        painter.drawText(inside, Qt.AlignmentFlag.AlignVCenter, text)

    def _figure(self, painter, rect, cell, theme) -> None:
        font = typeface(SANS, 13, strong=cell.best)
        painter.setFont(font)
        stale = self.table.stale
        painter.setPen(theme["soft_ink" if stale else "better" if cell.best else "ink"])
        inside = rect.adjusted(6, 0, -_RIGHT_PX, 0)
        right = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(inside, right, cell.text)
        if cell.best:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme["soft_ink" if stale else "better"])
            middle = rect.center()
            dot = QRect(inside.right() + 6, middle.y() - _DOT_PX // 2, _DOT_PX + 1, _DOT_PX + 1)
            painter.drawEllipse(dot)
        if cell.difference:
            used = QFontMetrics(font).horizontalAdvance(cell.text) + 10
            small = typeface(SANS, 11)
            room = inside.adjusted(0, 0, -used, 0)
            if QFontMetrics(small).horizontalAdvance(cell.difference) <= room.width():
                painter.setFont(small)
                painter.setPen(theme["soft_ink"])
                painter.drawText(room, right, cell.difference)


def box_of(rect: QRect) -> QRect:
    """Where the box stands in the cell of a name."""
    top = rect.top() + (rect.height() - _BOX_PX) // 2
    return QRect(rect.left() + _EDGE_PX, top, _BOX_PX, _BOX_PX)


class _View(QTableView):
    """Keys and clicks of the table."""

    def __init__(self, table: CompareTable):
        super().__init__(table)
        self._table = table
        self.setAccessibleName("Measures of the candidates")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setShowGrid(False)
        self.setMouseTracking(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerItem)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        self.horizontalHeader().hide()
        sideways = self.horizontalScrollBar()
        sideways.valueChanged.connect(
            lambda _: sideways.setValue(0)
        )  # or columns leave their plans
        self.horizontalHeader().setMinimumSectionSize(1)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setDefaultSectionSize(LINE_PX)
        self.setStyleSheet("QTableView { background: transparent; border: none; }")

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride:
            ours = (Qt.Key.Key_Home, Qt.Key.Key_End)
            if event.matches(QKeySequence.StandardKey.Copy) or (
                event.key() in ours and not event.modifiers()
            ):
                event.accept()
                return True
        return super().event(event)

    def keyPressEvent(self, event):
        line = self._table.model.line(self.currentIndex().row())
        if event.matches(QKeySequence.StandardKey.Copy):
            self._table.copy_wanted.emit()
        elif event.key() == Qt.Key.Key_Space and line is not None and line.can_beat:
            self._table.model.ticked.emit(line.name, not line.chosen)
        elif event.key() in (Qt.Key.Key_Home, Qt.Key.Key_End) and not event.modifiers():
            row = 0 if event.key() == Qt.Key.Key_Home else self._table.model.rowCount() - 1
            self.setCurrentIndex(self._table.model.index(row, max(self.currentIndex().column(), 0)))
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event):
        super().mousePressEvent(event)
        index = self.indexAt(event.position().toPoint())
        line = self._table.model.line(index.row())
        on_name = index.isValid() and index.column() == 0
        if event.button() == Qt.MouseButton.LeftButton and on_name and line and line.can_beat:
            self._table.model.ticked.emit(line.name, not line.chosen)

    def scrollContentsBy(self, dx, dy):
        super().scrollContentsBy(dx, dy)
        if self.viewport().underMouse():  # another line comes under a pointer that rests
            self._point_at(self.viewport().mapFromGlobal(QCursor.pos()))

    def mouseMoveEvent(self, event):
        super().mouseMoveEvent(event)
        self._point_at(event.position().toPoint())

    def _point_at(self, at) -> None:
        index = self.indexAt(at)
        line = self._table.model.line(index.row()) if index.isValid() else None
        self._table.pointed.emit(line.name if line else "")
        ticks = line is not None and index.column() == 0 and line.can_beat
        shapes = Qt.CursorShape
        self.viewport().setCursor(shapes.PointingHandCursor if ticks else shapes.ArrowCursor)

    def leaveEvent(self, event):
        super().leaveEvent(event)
        self._table.pointed.emit("")

    def currentChanged(self, current, previous):
        super().currentChanged(current, previous)
        self._table.walked.emit()
        self.viewport().update()

    def focusInEvent(self, event):
        super().focusInEvent(event)
        if not self.currentIndex().isValid() and self._table.model.rowCount() > 1:
            self.setCurrentIndex(self._table.model.index(1, 0))
        self._table.walked.emit()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self._table.walked.emit()


class CompareTable(Card):
    """The table in its card; columns stand below the small plans they belong to.

    Signals
    -------
    pointed : str
        Measure under the pointer, or empty.
    walked
        The keyboard is at another cell, or has come or gone.
    copy_wanted
    ticked : str, bool
        A measure is to decide, or no longer, which candidates are beaten.
    """

    pointed = Signal(str)
    walked = Signal()
    copy_wanted = Signal()
    ticked = Signal(str, bool)

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.theme, self.stale = theme, False
        self.model = TableModel(self)
        self.model.ticked.connect(self.ticked)
        self.view = _View(self)
        self.view.setModel(self.model)
        self.view.setItemDelegate(_CellPainter(self))
        column = QVBoxLayout(self)
        column.setContentsMargins(1, _RIM_PX, 1, _RIM_PX)
        column.addWidget(self.view)
        self._places: tuple[int, int, int, int, int] = (0, 1, 200, 120, 8)
        self.model.modelReset.connect(self._follow)

    def resizeEvent(self, event):
        cut = (
            self.contentsRect().height() - 2 * _RIM_PX
        ) % LINE_PX  # of a last line that would not be whole
        self.layout().setContentsMargins(1, _RIM_PX, 1, _RIM_PX + cut)
        super().resizeEvent(event)

    def show_table(self, groups, columns, base: int, stale: bool) -> None:
        """Show figures; stale ones are those of an earlier state, and look so."""
        self.stale = stale
        self.model.show_table(groups, columns, base)
        self.view.viewport().update()

    def wear(self, theme: Theme) -> None:
        self.theme = theme
        self.view.viewport().update()

    def place(self, first: int, shown: int, name_px: int, width_px: int, gap_px: int) -> None:
        """Show `shown` columns from the `first` on below plans so wide and so far apart. [px]"""
        self._places = first, shown, name_px, width_px, gap_px
        self._follow()

    def _follow(self) -> None:
        first, shown, name, width, gap = self._places
        self.view.setColumnWidth(0, name)
        for c in range(1, self.model.columnCount()):
            self.view.setColumnHidden(c, not first < c <= first + shown)
            self.view.setColumnWidth(c, width + gap)

    def line_at_keyboard(self) -> str:
        """Measure the keyboard is at, empty where it is elsewhere."""
        line = self.model.line(self.view.currentIndex().row()) if self.view.hasFocus() else None
        return line.name if line is not None else ""
