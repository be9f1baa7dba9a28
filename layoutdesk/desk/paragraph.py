"""The specification: a paragraph of plain language whose values are changed in place."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from PySide6.QtCore import QPointF, QRect, QSize, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QLabel, QSizePolicy, QWidget

from ..session.specification import Paragraph, Value
from .look import SANS, SERIF, typeface
from .value_field import TEXT_PX, ValueField

_WAVE_PX = 3
"""Height of the wavy line under a text that was refused, and half its length. [px]"""


@dataclass
class _Word:
    text: str
    x: int
    baseline: int


class SpecificationParagraph(QWidget):
    """Lays out words and values like text; the values keep their place in the reading.

    Its signals are what its values wish; the fields send them. A value whose text was refused is
    marked, and the reason stands under its line.
    """

    began = Signal(str)
    typed = Signal(str, str)
    moved = Signal(str, float)
    chosen = Signal(str, str)
    put_back = Signal(str)
    settled = Signal(str)
    sight_wanted = Signal(QWidget)

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setFont(typeface(SERIF, TEXT_PX))
        self.fields: dict[str, ValueField] = {}
        self._reasons: dict[str, QLabel] = {}
        self._paragraph: Paragraph = ()
        self._words: list[_Word] = []
        self._measured_for, self._heights = None, {}
        policy = QSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Minimum)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def show_paragraph(self, paragraph: Paragraph) -> None:
        """Show a paragraph; a value being edited keeps its cursor."""
        if paragraph == self._paragraph and all(f.is_shown for f in self.fields.values()):
            return
        self._paragraph = paragraph
        values = [part for sentence in paragraph for part in sentence if isinstance(part, Value)]
        wanted = {v.rule for v in values}
        for rule in [r for r in self.fields if r not in wanted]:
            field = self.fields.pop(rule)
            field.hide()
            field.deleteLater()
            self._show_reason(rule, "")
        fresh = [v for v in values if v.rule not in self.fields]
        for value in fresh:
            self.fields[value.rule] = self._new_field(value)
        for value in values:
            self.fields[value.rule].show_value(value)
        for before, after in pairwise(values):
            QWidget.setTabOrder(self.fields[before.rule], self.fields[after.rule])
        self._relay()

    def refuse(self, rule: str, sentence: str) -> None:
        """Mark a value's text as not taken and say why under its line."""
        if rule in self.fields:
            self.fields[rule].refuse(sentence)

    def reason(self, rule: str) -> str:
        """Why a value's text was not taken, as shown; empty where nothing is amiss."""
        return self._reasons[rule].text() if rule in self._reasons else ""

    def _new_field(self, value: Value) -> ValueField:
        field = ValueField(value, self)
        field.textChanged.connect(self._relay)
        field.refused.connect(lambda: self._follow_refusal(field))
        field.show()
        return field

    def _follow_refusal(self, field: ValueField) -> None:
        self._show_reason(field.value.rule, field.refusal)
        self._relay()
        if field.refusal:
            self.sight_wanted.emit(self._reasons[field.value.rule])

    def _show_reason(self, rule: str, sentence: str) -> None:
        label = self._reasons.get(rule)
        if not sentence:
            if label is not None:
                del self._reasons[rule]
                label.hide()
                label.deleteLater()
            return
        if label is None:
            label = self._reasons[rule] = QLabel(self)
            label.setObjectName("notice")
            label.setFont(typeface(SANS, 13))
            label.setWordWrap(True)
        label.setText(sentence)
        label.show()

    def _relay(self) -> None:
        height = self._arrange(self.width(), place=True)
        self.setMinimumHeight(height)
        self.updateGeometry()
        self.update()

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        texts = tuple(field.text() for field in self.fields.values())
        key = (self._paragraph, texts, tuple(self._reasons))
        if key != self._measured_for:
            self._measured_for, self._heights = key, {}
        if width not in self._heights:
            self._heights[width] = self._arrange(width, place=False)
        return self._heights[width]

    def sizeHint(self) -> QSize:
        return QSize(300, self.heightForWidth(300))

    def resizeEvent(self, event):
        super().resizeEvent(event)
        self._relay()

    def _clusters(self):
        """Runs that may not be broken: lists of (text or Value), each with a space before or not."""
        for sentence in self._paragraph:
            cluster: list[str | Value] = []
            for part in sentence:
                if isinstance(part, Value):
                    cluster.append(part)
                    continue
                pieces = part.split(" ")
                for i, piece in enumerate(pieces):
                    if i and cluster:
                        yield cluster
                        cluster = []
                    if piece:
                        cluster.append(piece)
            if cluster:
                yield cluster
            yield None

    def _arrange(self, width: int, place: bool) -> int:
        metrics = QFontMetrics(self.font())
        line, gap = metrics.height() + 7, metrics.horizontalAdvance(" ")
        x, y, words, amiss = 0, 0, [], []

        def next_line(y: int) -> int:
            """Where the next line begins: under the reasons for what is amiss in this one."""
            y += line
            for label in amiss:
                height = label.heightForWidth(width)
                if place:
                    label.setGeometry(QRect(0, y + _WAVE_PX + 1, width, height))
                y += height + _WAVE_PX + 6
            amiss.clear()
            return y

        for cluster in self._clusters():
            if cluster is None:
                x, y = 0, next_line(y) + 9
                continue
            sizes = [
                min(self.fields[p.rule].wanted_width(), width)
                if isinstance(p, Value)
                else metrics.horizontalAdvance(p)
                for p in cluster
            ]
            if x and x + gap + sum(sizes) > width:
                x, y = 0, next_line(y)
            x += gap if x else 0
            for part, size in zip(cluster, sizes, strict=True):
                if isinstance(part, Value):
                    if place:
                        self.fields[part.rule].setGeometry(QRect(x, y, size, metrics.height() + 6))
                    if part.rule in self._reasons:
                        amiss.append(self._reasons[part.rule])
                else:
                    words.append(_Word(part, x, y + 3 + metrics.ascent()))
                x += size
        if place:
            self._words = words
        return max(y - 9, 0)  # the last paragraph's own gap is not wanted

    def paintEvent(self, event):
        painter = QPainter(self)
        painter.setFont(self.font())
        painter.setPen(self.palette().windowText().color())
        for word in self._words:
            painter.drawText(word.x, word.baseline, word.text)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for rule, label in self._reasons.items():
            painter.setPen(QPen(label.palette().windowText().color(), 1.5))
            painter.drawPolyline(_wave(self.fields[rule].geometry()))
        painter.end()


def _wave(box: QRect) -> QPolygonF:
    """A wavy line under a box."""
    low = box.bottom() + 1 + _WAVE_PX
    xs = range(box.left(), box.right() + 1, _WAVE_PX)
    return QPolygonF([QPointF(x, low - (i % 2) * _WAVE_PX) for i, x in enumerate(xs)])
