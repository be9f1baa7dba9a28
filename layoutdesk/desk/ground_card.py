"""The card of the ground stage: all shapes, the one in hand, and what can be drawn."""

from __future__ import annotations

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QLabel,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from ..session.kinds import KINDS
from ..session.reshaping import ShapeId, leg_of, shape_words
from ..session.specification import shown_bearing, shown_length
from ..session.units import area_unit
from .cards import Card

_WHICH = Qt.ItemDataRole.UserRole
OTHER = "other"


class GroundCard(Card):
    """Lists blocks and exclusions; below it what is known of the one in hand."""

    chosen = Signal(object)
    renamed = Signal(str)
    kind_chosen = Signal(str)
    clearance_typed = Signal(str)
    place_typed = Signal(str)
    leg_typed = Signal(str)
    delete_wanted = Signal()

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("Ground")
        column = QVBoxLayout(self)
        column.setContentsMargins(20, 16, 16, 16)
        column.setSpacing(8)
        heading = QLabel("The ground")
        heading.setObjectName("heading")
        column.addWidget(heading)
        self.list = QListWidget()
        self.list.setAccessibleName("Blocks and exclusions")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.installEventFilter(self)
        self.list.setMinimumHeight(44)
        self.list.itemSelectionChanged.connect(self._chosen)
        column.addWidget(self.list, 1)
        grid = self._grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(6)
        grid.setColumnStretch(1, 1)
        column.addLayout(grid)
        self._labels: dict[QWidget, QLabel] = {}
        self.name = self._line(
            0, "Name", "Name of the block; its codes begin with it", self.renamed
        )
        self.kind_box = QComboBox()
        self.kind_box.setAccessibleName("Kind of exclusion")
        self.kind_box.addItems([*KINDS, OTHER])
        self.kind_box.activated.connect(lambda _: self.kind_chosen.emit(self.kind()))
        label = QLabel("Kind")
        label.setObjectName("soft")
        grid.addWidget(label, 1, 0)
        grid.addWidget(self.kind_box, 1, 1)
        self._labels[self.kind_box] = label
        self.clearance = self._line(2, "Clearance", "Clearance", self.clearance_typed)
        self.place = self._line(
            3, "Corner", "Survey coordinates of the corner, or length and bearing", self.place_typed
        )
        self.leg = self._line(4, "Edge", "Length and bearing of the edge", self.leg_typed)
        self.hint = QLabel()
        self.hint.setObjectName("soft")
        self.hint.setWordWrap(True)
        column.addWidget(self.hint)
        self.buttons = QGridLayout()
        self.buttons.setSpacing(6)
        column.addLayout(self.buttons)
        self.hide()

    def _line(self, row: int, words: str, name: str, signal) -> QLineEdit:
        label, field = QLabel(words), QLineEdit()
        label.setObjectName("soft")
        field.setAccessibleName(name)
        field.setToolTip(name)
        field.returnPressed.connect(lambda: self._typed(field, signal))
        self._grid.addWidget(label, row, 0)
        self._grid.addWidget(field, row, 1)
        self._labels[field] = label
        return field

    def _typed(self, field: QLineEdit, signal) -> None:
        field.setModified(False)
        signal.emit(field.text())
        field.selectAll()

    def eventFilter(self, watched, event):
        pressed = watched is self.list and event.type() == QEvent.Type.KeyPress
        if pressed and event.key() == Qt.Key.Key_Delete:
            self.delete_wanted.emit()
            return True
        return super().eventFilter(watched, event)

    def add_buttons(self, actions) -> None:
        """Buttons for actions, two in a line."""
        for i, action in enumerate(actions):
            button = QPushButton(action.text().replace("&", ""))
            button.setToolTip(action.toolTip())
            button.clicked.connect(action.trigger)
            self.buttons.addWidget(button, i // 2, i % 2)

    def kind(self) -> str:
        """The kind that is chosen; "" for another."""
        text = self.kind_box.currentText()
        return "" if text == OTHER else text

    def _chosen(self) -> None:
        items = self.list.selectedItems()
        if items:
            self.chosen.emit(items[0].data(_WHICH))

    def show_ground(self, window, tool) -> None:
        """Show the project's shapes and the one in hand."""
        project, unit, held = window.document.project, window.unit, tool.held
        lines = [
            (ShapeId("block", b.name), f"{b.name}   {_area(b.outline.area, unit)}")
            for b in project.blocks
        ]
        for i, e in enumerate(project.exclusions):
            which = ShapeId("exclusion", i)
            lines.append(
                (which, f"{shape_words(project, which)}   {shown_length(e.clearance_m, unit, 1)}")
            )
        known = [
            (self.list.item(i).data(_WHICH), self.list.item(i).text())
            for i in range(self.list.count())
        ]
        self.list.blockSignals(True)
        if known != lines:
            self.list.clear()
            for which, text in lines:
                item = QListWidgetItem(text)
                item.setData(_WHICH, which)
                self.list.addItem(item)
        self.list.clearSelection()
        for i, (which, _) in enumerate(lines):
            if which == held:
                self.list.item(i).setSelected(True)
                self.list.setCurrentRow(i)
        self.list.blockSignals(False)
        self._show_held(window, tool)

    def _show_held(self, window, tool) -> None:
        held, unit, project = tool.held, window.unit, window.document.project
        exclusion = held is not None and held.kind == "exclusion"
        self._show_line(self.name, held.key if held is not None and not exclusion else None)
        block = held is not None and not exclusion
        self.kind_box.setHidden(block)
        self._labels[self.kind_box].setHidden(block)
        if exclusion:
            one = project.exclusions[held.key]
            at = self.kind_box.findText(one.kind)
            self.kind_box.setCurrentIndex(at if at >= 0 else self.kind_box.count() - 1)
        self._show_line(
            self.clearance,
            shown_length(project.exclusions[held.key].clearance_m, unit) if exclusion else None,
        )
        corner, edge = tool.place_of_corner(), tool.edge
        self._show_line(self.place, window.survey.coordinates(*corner) if corner else None)
        leg = None
        if held is not None and edge is not None:
            length, bearing = leg_of(project, held, *edge)
            leg = f"{shown_length(length, unit)} @ {shown_bearing(bearing)}"
        self._show_line(self.leg, leg)
        self.hint.setText(_hint(held, corner, edge))

    def _show_line(self, field: QLineEdit, text: str | None) -> None:
        if text is None and field.hasFocus():
            self.parentWidget().setFocus()  # not on to the next button, which Enter would press
        field.setVisible(text is not None)
        self._labels[field].setVisible(text is not None)
        if text is not None and not (field.hasFocus() and field.isModified()):
            field.setText(text)
            field.setCursorPosition(0)


def _hint(held, corner, edge) -> str:
    if held is None:
        return "Click a shape on the plan or in the list to reshape it. The kind is for what is drawn next."
    if corner is not None:
        return "Drag it, type where it is, nudge it by the arrow keys; Delete takes it out."
    if edge is not None:
        return "Type its length and bearing; Insert puts a corner in its middle."
    return (
        "Drag a corner; click one, or an edge, for its figures; double-click an edge for a corner."
    )


def _area(m2: float, unit: str) -> str:
    size, name = area_unit(unit)
    return f"{m2 / size:.2f} {name}"
