"""Words on a sheet: set as Qt's own text layout sets them, in columns, head on top."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from PySide6.QtCore import QPointF
from PySide6.QtGui import QFont, QPainter, QPen, QTextLayout, QTextOption

from ..session.sheet import HEAD_MM, Box, Section, Sheet
from .look import PAPER, SANS, SERIF, typeface

UNIT_MM = 0.2
"""What the plan's painting takes for a pixel: its 12 px labels are 2.4 mm high on paper. [mm]"""
PER_MM = 1 / UNIT_MM
ON_WHITE = replace(PAPER, name="sheet", ground="#FFFFFF", panel="#FFFFFF", block="#FFFFFF")
"""The paper theme, on paper that is white."""
_FINE = 16
"""Text is set so much larger and painted smaller: Qt rounds what is set to whole pixels."""


@dataclass(frozen=True, eq=False)
class ColumnLine:
    """A line of a column: its size, what paints it at (x, y), whether it stays with the next."""

    height: float
    paint: Callable[[QPainter, float, float], None] | None
    with_next: bool = False
    width: float = 0.0


def face(family: str, units: float, *, strong: bool = False) -> QFont:
    """A face for a sheet, with no shape that stands for others: those copy from a PDF as nonsense."""
    font = typeface(family, units, strong=strong)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    if hasattr(QFont, "Tag"):  # Qt 6.7 and newer
        font.unsetFeature(QFont.Tag("tnum"))
        for shapes in ("calt", "liga"):
            font.setFeature(QFont.Tag(shapes), 0)
    return font


def lines_of(text: str, font: QFont, wide: float) -> list[SetLine]:
    """Lines of a text set to a width."""
    fine = QFont(font)
    fine.setPixelSize(font.pixelSize() * _FINE)
    layout = QTextLayout(text, fine)
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    option.setUseDesignMetrics(True)
    layout.setTextOption(option)
    layout.beginLayout()
    lines = []
    while (line := layout.createLine()).isValid():
        line.setLineWidth(wide * _FINE)
        lines.append(SetLine(layout, line))
    layout.endLayout()
    return lines


class SetLine:
    """One line of a text; holds on to its layout, which Qt does not."""

    def __init__(self, layout: QTextLayout, line):
        self._layout, self._line = layout, line

    @property
    def width(self) -> float:
        return self._line.naturalTextWidth() / _FINE

    @property
    def height(self) -> float:
        return self._line.height() / _FINE

    def paint(self, painter: QPainter, x: float, y: float, colour: str = "ink") -> None:
        painter.save()
        painter.translate(x, y)
        painter.scale(1 / _FINE, 1 / _FINE)
        painter.setPen(ON_WHITE[colour])
        self._line.draw(painter, -self._line.position())
        painter.restore()


def paint_word(
    painter: QPainter, text: str, x: float, middle: float, font: QFont, colour="ink"
) -> float:
    """Paint one line about a height; returns where it ends."""
    line = lines_of(text, font, 1e6)[0]
    line.paint(painter, x, middle - line.height / 2, colour)
    return x + line.width


def paint_head(painter: QPainter, sheet: Sheet, page: int, n_pages: int) -> None:
    """Title and scale on the left, revision and page on the right; a title never meets them."""
    left = sheet.plan.x_mm * PER_MM
    right = (sheet.paper.width_mm - sheet.plan.x_mm) * PER_MM
    top = sheet.plan.y_mm * PER_MM - HEAD_MM * PER_MM
    font = face(SANS, 13)
    said = [f"Revision {sheet.revision}", f"Page {page + 1} of {n_pages}"]
    said[0] += f"  ·  {sheet.day}" if sheet.day else ""
    lines = [lines_of(text, font, 1e6)[0] for text in said]
    for i, line in enumerate(lines):
        line.paint(painter, right - line.width, top + (2 + 5 * i) * PER_MM, "soft_ink")
    room = right - left - max(line.width for line in lines) - 8 * PER_MM
    for size in (30, 26, 22, 18, 15, 12, 10, 8):
        title = lines_of(sheet.title, face(SERIF, size, strong=True), room)
        high = sum(line.height for line in title)
        if high <= 9.5 * PER_MM and (len(title) == 1 or size <= 18):
            break
    y = top
    for line in title:
        line.paint(painter, left, y)
        y += line.height
    under = f"{sheet.scale.words} on {sheet.paper.name}  ·  {sheet.system}"
    paint_word(painter, under, left, top + 12.0 * PER_MM, font, "soft_ink")


def columns_of(sheet: Sheet) -> list[list[ColumnLine]]:
    """All text as lines in columns; a heading stays with what follows it."""
    wide = sheet.first_columns[0].width_mm * PER_MM
    heights = [box.height_mm * PER_MM for box in sheet.first_columns]
    later = sheet.later_columns[0].height_mm * PER_MM
    columns: list[list[ColumnLine]] = [[]]
    used = 0.0
    together: list[ColumnLine] = []
    for line in (line for section in sheet.sections for line in _section(section, wide)):
        together.append(line)
        if line.with_next:
            continue
        room = heights[len(columns) - 1] if len(columns) <= len(heights) else later
        if used and used + sum(part.height for part in together) > room:
            columns.append([])
            used = 0.0
        if not columns[-1]:
            while together and together[0].paint is None:  # no gap at a column's top
                together.pop(0)
        columns[-1] += together
        used += sum(part.height for part in together)
        together = []
    return columns


def _section(section: Section, wide: float):
    """Lines of one section, with the gap before it."""
    yield ColumnLine(3.2 * PER_MM, None, True)
    for line in lines_of(section.heading, face(SANS, 14, strong=True), wide):
        yield ColumnLine(line.height + 0.6 * PER_MM, line.paint, True, line.width)
    font = face(SERIF, 15) if section.kind == "rules" else face(SANS, 13)
    for i, paragraph in enumerate(section.paragraphs):
        if i:
            yield ColumnLine(1.1 * PER_MM, None, True)
        lines = lines_of(paragraph, font, wide)
        for n, line in enumerate(lines):  # neither a first nor a last line stands alone
            alone = len(lines) > 1 and n in (0, len(lines) - 2)
            yield ColumnLine(line.height, line.paint, alone, line.width)
    for i, (name, value) in enumerate(section.figures):
        yield _figure(name, value, wide, i + 1 < len(section.figures))


def _figure(name: str, value: str, wide: float, with_next: bool) -> ColumnLine:
    left = lines_of(name, face(SANS, 13), wide)[0]
    right = lines_of(value, face(SANS, 13, strong=True), wide)[0]

    def paint(painter: QPainter, x: float, y: float) -> None:
        painter.setPen(QPen(ON_WHITE["hairline"], 0.6))
        painter.drawLine(QPointF(x, y + left.height), QPointF(x + wide, y + left.height))
        left.paint(painter, x, y, "soft_ink")
        right.paint(painter, x + wide - right.width, y)

    return ColumnLine(left.height + 0.5 * PER_MM, paint, with_next, left.width + right.width)


def paint_column(painter: QPainter, box: Box, lines: list[ColumnLine]) -> None:
    y = box.y_mm * PER_MM
    for line in lines:
        if line.paint is not None:
            line.paint(painter, box.x_mm * PER_MM, y)
        y += line.height
