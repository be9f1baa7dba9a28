"""The compare stage: small plans over one table over curves, on the whole of the plan's room."""

from __future__ import annotations

from itertools import pairwise

from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMenu,
    QPushButton,
    QScrollArea,
    QScrollBar,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from .bars import ElidedLabel, StateLine
from .bearing_curves import BearingCurves
from .cards import Card
from .compare_table import CompareTable
from .look import SANS, SERIF, Theme, typeface
from .paragraph import SpecificationParagraph
from .scrolling import Scrolled
from .small_plans import GAP_PX, LEAST_PX, MOST_PX, SmallPlans

EDGE_PX = 18
_NAMES_PX, _NAMES_LEAST_PX = 292, 230
"""Width of the column of names, beside the small plans that of the paragraph. [px]"""
_LEAST_PX = (190, 168)
"""Plans and table are at least so high; where the parts have less room they scroll. [px]"""
_SHARES = (0.40, 0.36, 0.24)
"""Of the height, until someone draws them otherwise."""
_ADD_HINT = "96, or 96, 2.2 × 1.2"


class _Settings(Card):
    """What candidates are measured by, as a paragraph that scrolls where it is long."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setAccessibleName("What is measured by")
        outer = QVBoxLayout(self)
        outer.setContentsMargins(14, 8, 4, 8)
        outer.setSpacing(6)
        heading = QLabel("Measured by")
        heading.setObjectName("heading")
        outer.addWidget(heading)
        self.paragraph = SpecificationParagraph()
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 10, 0)
        column.addWidget(self.paragraph)
        column.addStretch(1)
        self._area = area = Scrolled(inside)
        outer.addWidget(area, 1)
        self.paragraph.sight_wanted.connect(self._area.bring_into_sight)


class _Invitation(Card):
    """What to do next while there is nothing to compare with."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        column = QVBoxLayout(self)
        column.setContentsMargins(22, 12, 22, 10)
        column.setSpacing(6)
        title = QLabel("How else could the rows run?")
        title.setFont(typeface(SERIF, 18, strong=True))
        text = QLabel(
            "Type a bearing above, or click the curve below where it is good. Each candidate then "
            "stands here, at the same scale, over one table."
        )
        for label in (title, text):
            label.setWordWrap(True)
            column.addWidget(label)
        self.best = QPushButton("Add the best of all bearings…")
        self.places = QPushButton("Add one from two places")
        column.addWidget(self.best, 0, Qt.AlignmentFlag.AlignLeft)
        column.addWidget(self.places, 0, Qt.AlignmentFlag.AlignLeft)
        column.addStretch(1)


class CompareStage(QWidget):
    """Puts the parts of the stage in their places; what they wish is told by their own signals.

    Signals
    -------
    add_typed : str
        A candidate as typed.
    """

    add_typed = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget):
        super().__init__(parent)
        self.theme = theme
        self.setAccessibleName("Compare")
        self.setAttribute(Qt.WidgetAttribute.WA_NoMousePropagation)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent)
        self._n = 0
        self._chain: list[QWidget] = []
        self.settings_card = _Settings()
        self.paragraph = self.settings_card.paragraph
        self.plans = SmallPlans(theme)
        self.invitation = _Invitation()
        self.table = CompareTable(theme)
        self.curves = BearingCurves(theme)
        self._build_head()
        self.refusal = QLabel(self)
        self.refusal.setObjectName("problem")
        self.refusal.setAccessibleName("What is wrong with what was typed")
        self.refusal.setWordWrap(True)
        self.refusal.hide()
        self._build_body()
        self._build_foot()
        self.hide()
        self.lower()  # cards that ask and tell come up over it

    def _build_head(self) -> None:
        self.head = QWidget(self)
        line = QHBoxLayout(self.head)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(8)
        self.field = QLineEdit()
        self.field.setPlaceholderText(_ADD_HINT)
        self.field.setAccessibleName("A candidate: its bearing, and spacings where they differ")
        self.field.setToolTip(
            "A bearing, then row and vine spacing where they differ: 96, 2.2 × 1.2. Enter adds it."
        )
        self.field.setFixedHeight(34)
        self.field.returnPressed.connect(self._typed)
        self.field.textEdited.connect(lambda _: self.refuse(""))
        self.add, self.ways = QPushButton("Add"), QPushButton("More ways to add")
        self.export = QPushButton("Write…")
        self.add.clicked.connect(self._typed)
        label = QLabel("Candidate")
        label.setObjectName("soft")
        label.setBuddy(self.field)
        line.addWidget(label)
        line.addWidget(self.field, 1)
        for button in (self.add, self.ways, self.export):
            line.addWidget(button)
        self.ways_menu, self.export_menu = QMenu(self), QMenu(self)
        self.ways.setMenu(self.ways_menu)
        self.export.setMenu(self.export_menu)

    def _build_body(self) -> None:
        self._upper, self._sideways = QWidget(), QScrollBar(Qt.Orientation.Horizontal)
        self._upper.installEventFilter(self)
        for part in (self.settings_card, self.plans, self.invitation):
            part.setParent(self._upper)
        self._sideways.setParent(self._upper)
        self._sideways.setAccessibleName("More candidates")
        self._sideways.valueChanged.connect(lambda _: self._place())
        self.splitter = QSplitter(Qt.Orientation.Vertical)
        parts = (self._upper, self.table, self.curves)
        for part, least in zip(parts, _LEAST_PX, strict=False):
            part.setMinimumHeight(least)
        for part, share in zip(parts, _SHARES, strict=True):
            self.splitter.addWidget(part)
            self.splitter.setStretchFactor(self.splitter.count() - 1, round(100 * share))
        self.splitter.setChildrenCollapsible(False)
        self.splitter.setHandleWidth(GAP_PX)
        for i in (1, 2):
            self.splitter.handle(i).setToolTip("Drag for more or less of what is above")
        self.splitter.splitterMoved.connect(self._drawn_otherwise)
        self._area = QScrollArea(self)
        self._area.setFrameShape(QFrame.Shape.NoFrame)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setWidgetResizable(True)
        self._area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._area.setWidget(self.splitter)

    def _build_foot(self) -> None:
        self.foot = QWidget(self)
        line = QHBoxLayout(self.foot)
        line.setContentsMargins(0, 0, 0, 0)
        self.told, self.state = ElidedLabel(), StateLine("the comparison")
        self.told.setObjectName("soft")
        self.told.setAccessibleName("What the line means")
        for label in (self.told, self.state):
            label.setFont(typeface(SANS, 12))
        line.setSpacing(20)
        line.addWidget(self.told, 1)
        line.addWidget(self.state)

    def wear(self, theme: Theme) -> None:
        """Show it in a theme."""
        self.theme = theme
        for part in (self.plans, self.table, self.curves):
            part.wear(theme)
        self.update()

    def clear(self) -> None:
        """Put down everything of the project that is left."""
        self.refuse("")
        self.field.clear()
        self.plans.show_columns((), 0, ())

    def take_keyboard(self) -> None:
        """Have a candidate typed."""
        self.field.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.field.selectAll()

    def show_count(self, n: int) -> None:
        """Make room for so many candidates."""
        grown, self._n = n > self._n > 0, n
        self._place()
        if grown:
            self._sideways.setValue(self._sideways.maximum())
        self._place()

    def order_tabs(self) -> None:
        """Have Tab go as the eye does: head, paragraph, plans, table, curves."""
        chain = [self.field, self.add, self.ways, self.export, *self.paragraph.fields.values()]
        for card in self.plans.cards:
            chain += [card.picture, card.base, card.adopt, card.write, card.remove]
        chain += [self.invitation.best, self.invitation.places]
        chain += [self.table.view, self.curves, self.curves.choice]
        if chain != self._chain:
            self._chain = chain
            for before, after in pairwise(chain):
                QWidget.setTabOrder(before, after)

    def refuse(self, sentence: str) -> None:
        """Say why what was typed cannot be a candidate; nothing takes it back."""
        if sentence == self.refusal.text():
            return
        self.refusal.setText(sentence)
        self.refusal.setVisible(bool(sentence))
        self.field.setAccessibleDescription(sentence)
        if sentence:
            self.field.selectAll()
        self._arrange()

    def _typed(self) -> None:
        self.add_typed.emit(self.field.text())

    # places

    def put(self, stages: QWidget) -> None:
        """Lay the stage over the whole of its parent, its first line beside the bar of stages."""
        self.setGeometry(self.parentWidget().rect())
        self._beside = stages.geometry()
        self._arrange()

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._arrange()

    _beside = None

    def _arrange(self) -> None:
        if self._beside is None:
            return
        wide, high, bar = self.width(), self.height(), self._beside
        left = bar.right() + 1 + EDGE_PX
        self.head.setGeometry(left, bar.top(), max(wide - left - EDGE_PX, 100), bar.height())
        top = bar.bottom() + 1 + GAP_PX
        if not self.refusal.isHidden():
            room = wide - left - EDGE_PX
            tall = self.refusal.heightForWidth(room)
            self.refusal.setGeometry(left, top - 4, room, tall)
            top += tall + 4
        self.foot.setGeometry(EDGE_PX, high - 28, wide - 2 * EDGE_PX, 22)
        self._area.setGeometry(EDGE_PX, top, wide - 2 * EDGE_PX, max(high - 34 - top, 60))
        if not self._is_drawn:
            room = (
                max(self._area.viewport().height(), self.splitter.minimumSizeHint().height())
                - 2 * GAP_PX
            )
            self.splitter.setSizes([round(share * room) for share in _SHARES])
        self._place()

    def eventFilter(self, watched, event):
        if watched is self._upper and event.type() == QEvent.Type.Resize:
            self._place()
        return super().eventFilter(watched, event)

    _is_drawn = False

    def _drawn_otherwise(self) -> None:
        self._is_drawn = True
        self._place()

    def names_px(self) -> int:
        """Width of the column of names."""
        return _NAMES_PX if self._upper.width() >= 1160 else _NAMES_LEAST_PX

    def _place(self) -> None:
        """Plans above their columns, as many as have room."""
        wide, high = self._area.viewport().width(), self._upper.height()
        names = self.names_px()
        room = wide - names - GAP_PX
        wanted = max(self._n, 1)
        most = max((room + GAP_PX) // (LEAST_PX + GAP_PX), 1)
        shown = min(wanted, most)
        least_cards = max(shown, 2) if self._n == 1 else shown
        width = min((room - (least_cards - 1) * GAP_PX) // least_cards, MOST_PX)
        more = wanted - shown
        self._sideways.setRange(0, more)
        self._sideways.setPageStep(shown)
        self._sideways.setVisible(more > 0)
        bar = 12 if more > 0 else 0
        self.settings_card.setGeometry(0, 0, names, high)
        self.plans.setGeometry(names + GAP_PX, 0, room, max(high - bar, 60))
        self._sideways.setGeometry(names + GAP_PX, high - 10, room, 8)
        first = self._sideways.value()
        self.plans.place(first, shown, width)
        left = names + GAP_PX + shown * (width + GAP_PX)
        self.invitation.setGeometry(left, 0, min(wide - left, 520), high)
        self.invitation.setVisible(self._n == 1)
        self.table.place(first, shown, names, width, GAP_PX)
        self.curves.left_px = names
        self.curves.update()

    def paintEvent(self, event):
        painter = QPainter(self)
        painter.fillRect(self.rect(), self.theme["ground"])
        painter.end()

    def wheelEvent(self, event):
        event.accept()
