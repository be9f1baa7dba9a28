"""The take-off as a list: what is counted, what is ordered, and how that changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QAbstractListModel, QEvent, QModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QKeySequence, QPainter, QPen
from PySide6.QtWidgets import QAbstractItemView, QFrame, QListView, QStyledItemDelegate, QWidget

from .look import SANS, SERIF, Theme, typeface

if TYPE_CHECKING:  # loaded with what counts: the first picture waits for none of it
    from ..session.take_off_lines import TableLine

LINE_PX, SHORT_PX, HEADING_PX = 36, 24, 26
"""Heights of a line, of one with nothing to order, and of a heading. [px]"""
_EDGE_PX = 14
_RIGHT_PX = 10
"""Room right of the figures, for the scroll bar. [px]"""
_ENDS = (Qt.Key.Key_Home, Qt.Key.Key_End)
_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space)


class TakeOffModel(QAbstractListModel):
    """Groups and their lines, one below the other; a group is its heading alone."""

    def __init__(self, parent=None):
        super().__init__(parent)
        self.rows: list[str | TableLine] = []

    def show_lines(self, lines: tuple[TableLine, ...]) -> None:
        """Show other lines; the place in the list is kept where they stand for the same things."""
        rows: list[str | TableLine] = []
        for line in lines:
            if not rows or rows_group(rows) != line.group:
                rows.append(line.group)
            rows.append(line)
        same = _names(rows) == _names(self.rows)
        if not same:
            self.beginResetModel()
        self.rows = rows
        if not same:
            self.endResetModel()
        elif rows:
            self.dataChanged.emit(self.index(0), self.index(len(rows) - 1))

    def line(self, row: int) -> TableLine | None:
        """The line of a row, None where it is a heading."""
        found = self.rows[row] if 0 <= row < len(self.rows) else None
        return None if isinstance(found, str) else found

    def row_of(self, key: str) -> int:
        """The row of a line by its key, -1 where it is not listed."""
        return next(
            (i for i, r in enumerate(self.rows) if not isinstance(r, str) and r.key == key), -1
        )

    def rowCount(self, parent=QModelIndex()) -> int:  # noqa: B008
        return 0 if parent.isValid() else len(self.rows)

    def flags(self, index):
        if self.line(index.row()) is None:
            return Qt.ItemFlag.NoItemFlags
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable

    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        row, roles = self.rows[index.row()], Qt.ItemDataRole
        if isinstance(row, str):
            return row if role in (roles.DisplayRole, roles.AccessibleTextRole) else None
        if role == roles.DisplayRole:
            return row.label
        if role == roles.AccessibleTextRole:
            return in_words(row)
        if role in (roles.ToolTipRole, roles.AccessibleDescriptionRole):
            return row.meaning
        return None


def rows_group(rows: list[str | TableLine]) -> str:
    """The group that the last of some rows belongs to."""
    last = rows[-1]
    return last if isinstance(last, str) else last.group


def in_words(line: TableLine) -> str:
    """A line as it is read aloud."""
    ordered = f"to order {line.ordered}" if line.ordered else ""
    change = f"{line.change} since settled" if line.change else ""
    said = (f"{line.label}: {line.amount} counted", ordered, line.price, change)
    return ", ".join(part for part in said if part)


def as_text(lines: tuple[TableLine, ...]) -> str:
    """The list as text with tabs between columns, for a spreadsheet."""
    head = "group\titem\tcounted\tto order\tprice\tsince settled"
    rows = ["\t".join((n.group, n.label, n.amount, n.ordered, n.price, n.change)) for n in lines]
    plain = str.maketrans({"\u202f": "", "\u00a0": " "})
    return "\n".join([head, *rows]).translate(plain) + "\n"


def _names(rows) -> list[str]:
    return [f" {r}" if isinstance(r, str) else r.key for r in rows]


class _LinePainter(QStyledItemDelegate):
    """Two lines of text: what and how much, then what is ordered and its price."""

    def __init__(self, view: TakeOffTable):
        super().__init__(view)
        self.view = view

    def sizeHint(self, option, index):
        line = index.model().line(index.row())
        if line is None:
            return QSize(200, HEADING_PX)
        return QSize(200, LINE_PX if line.ordered or line.price else SHORT_PX)

    def paint(self, painter, option, index):
        theme, rect = self.view.theme, option.rect
        row = index.model().rows[index.row()]
        painter.save()
        painter.setPen(QPen(theme["hairline"], 1))
        painter.drawLine(rect.bottomLeft(), rect.bottomRight())
        inside = rect.adjusted(_EDGE_PX, 0, -_RIGHT_PX, 0)
        if isinstance(row, str):
            painter.setFont(typeface(SERIF, 14, strong=True))
            painter.setPen(theme["ink"])
            low = inside.adjusted(0, 4, 0, 0)
            painter.drawText(low, Qt.AlignmentFlag.AlignVCenter, row)
        else:
            self._ground(painter, rect, index, row, theme)
            self._line(painter, inside, row, theme)
        painter.restore()

    def _ground(self, painter, rect, index, line, theme) -> None:
        """Where the keyboard is, and which line is picked."""
        here = index.row() == self.view.currentIndex().row() and self.view.hasFocus()
        if here or line.key == self.view.picked_key:
            painter.fillRect(rect.adjusted(0, 0, 0, -1), theme["block"])
        if line.key == self.view.picked_key:
            painter.fillRect(QRect(rect.left(), rect.top(), 3, rect.height() - 1), theme["accent"])
        if here:
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            painter.setPen(QPen(theme["accent"], 2))
            painter.drawRoundedRect(rect.adjusted(5, 1, -9, -2), 4, 4)

    def _line(self, painter, inside, line: TableLine, theme) -> None:
        strong, plain, small = typeface(SANS, 13, strong=True), typeface(SANS, 13), _small()
        upper = QRect(inside.left(), inside.top() + 2, inside.width(), 17)
        lower = QRect(inside.left(), inside.top() + 18, inside.width(), 15)
        soft = theme["soft_ink"]
        ink = soft if self.view.stale else theme["ink"]
        left = _right_text(painter, upper, line.amount, strong, ink)
        if line.change:
            left = _right_text(
                painter, upper.adjusted(0, 0, left - upper.width() - 7, 0), line.change, small, soft
            )
            left -= 7
        _left_text(painter, upper, left - 8, line.label, plain, ink)
        left = _right_text(painter, lower, line.price, small, soft)
        _left_text(painter, lower, left - 8, line.ordered, small, soft)


def _small():
    return typeface(SANS, 12)


def _right_text(painter, box: QRect, text: str, font, colour) -> int:
    """Write to the right of a box; what is left of it, in pixels."""
    if not text:
        return box.width()
    painter.setFont(font)
    painter.setPen(colour)
    painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
    return box.width() - QFontMetrics(font).horizontalAdvance(text)


def _left_text(painter, box: QRect, room: int, text: str, font, colour) -> None:
    painter.setFont(font)
    painter.setPen(colour)
    shown = QFontMetrics(font).elidedText(text, Qt.TextElideMode.ElideRight, max(room, 0))
    painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, shown)


class TakeOffTable(QListView):
    """Up and Down walk from line to line, Enter or a click picks one, Ctrl+C copies all.

    Signals
    -------
    picked : str
        The key of the line that is to be looked at more closely.
    put_down
        Escape.
    copy_wanted
    """

    picked = Signal(str)
    put_down = Signal()
    copy_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(parent)
        self.theme, self.stale, self.picked_key = theme, False, ""
        self.lines: tuple[TableLine, ...] = ()
        self.table = TakeOffModel(self)
        self.setModel(self.table)
        self.setItemDelegate(_LinePainter(self))
        self.setAccessibleName("Take-off")
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setMouseTracking(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setStyleSheet(
            "QListView { background: transparent; border: none; padding: 0; border-radius: 0; }"
            "QListView::item { padding: 0; }"
        )

    def show_lines(self, lines: tuple[TableLine, ...], *, stale: bool = False) -> None:
        """Show lines; stale ones are of an earlier state, and look so."""
        self.lines, self.stale = lines, stale
        self.table.show_lines(lines)
        self.scheduleDelayedItemsLayout()  # lines may have become higher or lower
        self.viewport().update()

    def wear(self, theme: Theme) -> None:
        self.theme = theme
        self.viewport().update()

    def mark(self, key: str) -> None:
        """Show which line is picked; none where the key is empty."""
        self.picked_key = key
        row = self.table.row_of(key)
        if row >= 0:
            self.setCurrentIndex(self.table.index(row))
            self.scrollTo(self.table.index(row))
        self.viewport().update()

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and (
            event.matches(QKeySequence.StandardKey.Copy)
            or (event.key() in _ENDS and not event.modifiers())
        ):
            event.accept()  # Home is "Show all" elsewhere
            return True
        return super().event(event)

    def keyPressEvent(self, event):
        line = self.table.line(self.currentIndex().row())
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy_wanted.emit()
        elif event.key() in _ENTER and line is not None:
            self.picked.emit(line.key)
        elif event.key() == Qt.Key.Key_Escape and self.picked_key:
            self.put_down.emit()
        else:
            super().keyPressEvent(event)

    def mousePressEvent(self, event):
        super().mousePressEvent(event)
        line = self.table.line(self.indexAt(event.position().toPoint()).row())
        if event.button() == Qt.MouseButton.LeftButton and line is not None:
            self.picked.emit(line.key)

    def mouseMoveEvent(self, event):
        super().mouseMoveEvent(event)
        line = self.table.line(self.indexAt(event.position().toPoint()).row())
        shapes = Qt.CursorShape
        self.viewport().setCursor(shapes.PointingHandCursor if line else shapes.ArrowCursor)

    def focusInEvent(self, event):
        super().focusInEvent(event)
        if not self.currentIndex().isValid() and self.table.rowCount() > 1:
            self.setCurrentIndex(self.table.index(1))
        self.viewport().update()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self.viewport().update()

    def wheelEvent(self, event):
        super().wheelEvent(event)
        event.accept()  # never the plan's
