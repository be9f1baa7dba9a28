"""Printing the plan: a sheet as vectors on any paint device, a PDF, a printer."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import QMarginsF, QPointF, QRectF, QSaveFile, QSizeF, Qt
from PySide6.QtGui import (
    QFont,
    QPageLayout,
    QPageSize,
    QPainter,
    QPainterPath,
    QPdfWriter,
    QPen,
    QTextLayout,
    QTextOption,
)

from ..core.model import InputProblem
from ..session.drawing import Drawing, drawing_of
from ..session.sheet import Box, Paper, Section, Sheet, best_paper, scale_on, sheet_of
from ..session.view import View
from . import choosing, painting
from .look import PAPER, SANS, SERIF, typeface

UNIT_MM = 0.2
"""What the plan's painting takes for a pixel: its 12 px labels are 2.4 mm high on paper. [mm]"""
ON_WHITE = replace(PAPER, name="sheet", ground="#FFFFFF", panel="#FFFFFF", block="#FFFFFF")
"""The paper theme, on paper that is white."""
_DOTS_PER_INCH = 1200
_HATCH = 7.0  # apart, in units
_MM = 1 / UNIT_MM


def paint_sheet(
    painter: QPainter,
    dots_per_mm: float,
    sheet: Sheet,
    drawing: Drawing,
    new_page: Callable[[], object],
    page_only: int | None = None,
) -> int:
    """Paint a sheet from the left and top of the paper; returns how many pages it has.

    Parameters
    ----------
    painter : QPainter
        Active, on a device of the paper's size.
    dots_per_mm : float
        Of the device.
    sheet : Sheet
    drawing : Drawing
    new_page : function
        Called between pages.
    page_only : int, optional
        Paint that page alone, counted from 0, and call no `new_page`.
    """
    columns = _flow(sheet)
    n_first = len(sheet.first_columns)
    n_later = len(sheet.later_columns)
    n_pages = 1 + max(0, -(-(len(columns) - n_first) // n_later))
    for page in range(n_pages) if page_only is None else (page_only,):
        if page and page_only is None:
            new_page()
        painter.save()
        painter.scale(dots_per_mm * UNIT_MM, dots_per_mm * UNIT_MM)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        _paint_head(painter, sheet, page, n_pages)
        if page == 0:
            _paint_plan(painter, sheet, drawing)
            _paint_strip(painter, sheet, drawing)
            boxes, lines = sheet.first_columns, columns[:n_first]
        else:
            begin = n_first + (page - 1) * n_later
            boxes, lines = sheet.later_columns, columns[begin : begin + n_later]
        for box, column in zip(boxes, lines, strict=False):
            _paint_column(painter, box, column)
        painter.restore()
    return n_pages


# the plan


def _view_of(sheet: Sheet) -> View:
    """The plan's frame as a view whose pixels are units of the sheet."""
    box = sheet.plan
    scale = sheet.scale.on_paper_mm(1.0) * _MM
    return View(*sheet.centre_m, scale, box.width_mm * _MM, box.height_mm * _MM)


def _rect(box: Box) -> QRectF:
    return QRectF(box.x_mm * _MM, box.y_mm * _MM, box.width_mm * _MM, box.height_mm * _MM)


def _paint_plan(painter: QPainter, sheet: Sheet, drawing: Drawing) -> None:
    """The layers of the canvas, clipped to the plan's frame, and the frame."""
    frame = _rect(sheet.plan)
    view = _view_of(sheet)
    painter.save()
    painter.setClipRect(frame)
    painter.translate(frame.topLeft())
    _paint_areas(painter, view, drawing)
    painting._paint_rows(painter, view, drawing, ON_WHITE, False)
    painting._paint_posts(painter, view, drawing, ON_WHITE)
    painting._paint_lines(painter, view, drawing, ON_WHITE, False)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    _paint_labels(painter, view, drawing, sheet)
    painter.restore()
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.setPen(QPen(ON_WHITE["soft_ink"], 1.0))
    painter.drawRect(frame)


def _paint_areas(painter: QPainter, view: View, drawing: Drawing) -> None:
    """Areas with hatches drawn as lines: a pattern brush has the device's own pitch."""
    edges = {"water": "water", "exclusion": "soft_ink"}
    for area in drawing.areas:
        path = painting._path([view.to_pixels(ring) for ring in area.rings_m])
        if area.role == "clear":
            _hatch(painter, path, 1.0)
        elif area.role == "kept clear":
            painter.fillPath(path, ON_WHITE["block"])
            _hatch(painter, path, -1.0)
        elif area.role in edges:
            fill = "water_fill" if area.role == "water" else "hairline"
            painter.fillPath(path, ON_WHITE[fill])
            painter.strokePath(path, QPen(ON_WHITE[edges[area.role]], 1.2))


def _hatch(painter: QPainter, path: QPainterPath, slope: float) -> None:
    box = path.boundingRect()
    painter.save()
    painter.setClipPath(path, Qt.ClipOperation.IntersectClip)
    painter.setPen(QPen(ON_WHITE["hatch"], 0.7))
    across = np.arange(box.left() - box.height(), box.right() + box.height(), _HATCH)
    lean = slope * box.height() / 2
    lines = np.empty((len(across), 2, 2))
    lines[:, 0] = np.column_stack([across - lean, np.full(len(across), box.bottom())])
    lines[:, 1] = np.column_stack([across + lean, np.full(len(across), box.top())])
    painter.drawLines(painting.polygon_from(lines.reshape(-1, 2)))
    painter.restore()


def _paint_labels(painter: QPainter, view: View, drawing: Drawing, sheet: Sheet) -> None:
    """Block names, and row numbers at both ends of the rows; none over another."""
    frame = QRectF(0, 0, view.width, view.height)
    taken: list[QRectF] = []

    def put(text: str, x: float, y: float, font: QFont) -> None:
        path = QPainterPath()
        path.addText(QPointF(0, 0), font, text)
        path.translate(QPointF(x, y) - path.boundingRect().center())
        box = path.boundingRect().adjusted(-2.5, -2, 2.5, 2)
        if not frame.contains(box) or any(box.intersects(other) for other in taken):
            return
        taken.append(box)
        painter.strokePath(path, halo)
        painter.fillPath(path, ON_WHITE["ink"])

    halo = QPen(ON_WHITE["ground"], 4.0)
    halo.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    name_font, number_font = typeface(SERIF, 26, strong=True), typeface(SANS, 12, strong=True)
    for name, x_m, y_m in sheet.names:
        put(name, *view.to_pixels(np.array([x_m, y_m])).tolist(), name_font)
    for plan in drawing.answer.plans:
        if plan.n_segments:
            for numbers, places in painting._label_places(view, drawing, plan):
                for number, (x, y) in zip(numbers.tolist(), places.tolist(), strict=True):
                    put(str(number), x, y, number_font)


def _paint_strip(painter: QPainter, sheet: Sheet, drawing: Drawing) -> None:
    """North arrow, scale bar and legend under the plan."""
    frame = _rect(sheet.plan)
    top, middle = frame.bottom(), frame.bottom() + 6.5 * _MM
    ink = ON_WHITE["ink"]
    x = frame.left() + 3 * _MM
    arrow = QPainterPath(QPointF(x, top + 2 * _MM))
    for dx, dy in ((2.2, 11.0), (0.0, 8.6), (-2.2, 11.0)):
        arrow.lineTo(x + dx * _MM, top + dy * _MM)
    arrow.closeSubpath()
    painter.fillPath(arrow, ink)
    font = _face(SANS, 13)
    x = _word(painter, "True north", x + 4 * _MM, middle, font) + 7 * _MM
    painter.setPen(QPen(ink, 1.2))
    painter.setBrush(ink)
    half = sheet.bar.length_mm * _MM / 2
    painter.drawRect(QRectF(x, middle - 3, half, 6))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRect(QRectF(x + half, middle - 3, half, 6))
    x = _word(painter, sheet.bar.label, x + 2 * half + 2 * _MM, middle, font) + 6 * _MM
    _paint_legend(painter, QRectF(x, top, frame.right() - x, 13 * _MM), drawing, font)


def _paint_legend(painter: QPainter, room: QRectF, drawing: Drawing, font: QFont) -> None:
    """What the marks are, in as many lines of the room as it takes."""
    roles = {a.role for a in drawing.areas} | {line.role for line in drawing.lines}
    wanted = [
        ("row", "row"),
        ("ink", "end post"),
        *((("clear", "clear strip"),) if "clear" in roles else ()),
        *((("kept clear", "kept clear"),) if "kept clear" in roles else ()),
        *((("caution", "line to keep from"),) if "danger line" in roles else ()),
    ]
    x, lines = room.left(), [[]]
    for mark, words in wanted:
        wide = 7 * _MM + _set(words, font, 1e6)[0].naturalTextWidth() + 3 * _MM
        if x + wide > room.right() and lines[-1]:
            x = room.left()
            lines.append([])
        lines[-1].append((x, mark, words))
        x += wide
    step = 4.2 * _MM
    y = room.top() + 6.5 * _MM - step * (len(lines) - 1) / 2
    for line in lines:
        for x, mark, words in line:
            box = QRectF(x, y - 1.3 * _MM, 5.5 * _MM, 2.6 * _MM)
            _paint_sign(painter, box, mark)
            _word(painter, words, box.right() + 1.5 * _MM, y, font)
        y += step


def _paint_sign(painter: QPainter, box: QRectF, mark: str) -> None:
    middle = box.center().y()
    if mark in ("clear", "kept clear"):
        path = QPainterPath()
        path.addRect(box)
        _hatch(painter, path, 1.0 if mark == "clear" else -1.0)
    elif mark == "ink":
        painter.fillRect(QRectF(box.center().x() - 1.7, middle - 1.7, 3.4, 3.4), ON_WHITE["ink"])
    else:
        dash = Qt.PenStyle.DashLine if mark == "caution" else Qt.PenStyle.SolidLine
        painter.setPen(QPen(ON_WHITE[mark], 1.6 if mark == "caution" else 1.2, dash))
        painter.drawLine(QPointF(box.left(), middle), QPointF(box.right(), middle))


# the words


@dataclass(frozen=True, eq=False)
class _Line:
    """A line of a column: its height, what paints it at (x, y), whether it stays with the next."""

    height: float
    paint: Callable[[QPainter, float, float], None] | None
    with_next: bool = False


def _face(family: str, units: float, *, strong: bool = False) -> QFont:
    font = typeface(family, units, strong=strong)
    font.setHintingPreference(QFont.HintingPreference.PreferNoHinting)
    return font


def _set(text: str, font: QFont, wide: float) -> list:
    """Lines of a text set to a width; they hold on to their layout."""
    layout = QTextLayout(text, font)
    option = QTextOption()
    option.setWrapMode(QTextOption.WrapMode.WrapAtWordBoundaryOrAnywhere)
    option.setUseDesignMetrics(True)
    layout.setTextOption(option)
    layout.beginLayout()
    lines = []
    while (line := layout.createLine()).isValid():
        line.setLineWidth(wide)
        lines.append(_Set(layout, line))
    layout.endLayout()
    return lines


class _Set:
    """One line of a text layout, which lives as long as the line is needed."""

    def __init__(self, layout: QTextLayout, line):
        self._layout, self._line = layout, line

    def naturalTextWidth(self) -> float:
        return self._line.naturalTextWidth()

    def height(self) -> float:
        return self._line.height()

    def paint(self, painter: QPainter, x: float, y: float, colour="ink") -> None:
        painter.setPen(ON_WHITE[colour])
        self._line.draw(painter, QPointF(x, y) - self._line.position())


def _word(painter: QPainter, text: str, x: float, middle: float, font: QFont, colour="ink") -> float:
    """Paint one line about a height; returns where it ends."""
    line = _set(text, font, 1e6)[0]
    line.paint(painter, x, middle - line.height() / 2, colour)
    return x + line.naturalTextWidth()


def _paint_head(painter: QPainter, sheet: Sheet, page: int, n_pages: int) -> None:
    """Title and scale on the left, revision and page on the right; a title never meets them."""
    left = sheet.plan.x_mm * _MM
    right = (sheet.paper.width_mm - sheet.plan.x_mm) * _MM
    top = sheet.plan.y_mm * _MM - 17 * _MM
    font = _face(SANS, 13)
    said = [f"Revision {sheet.revision}", f"Page {page + 1} of {n_pages}"]
    said[0] += f"  ·  {sheet.day}" if sheet.day else ""
    lines = [_set(text, font, 1e6)[0] for text in said]
    for i, line in enumerate(lines):
        line.paint(painter, right - line.naturalTextWidth(), top + (2 + 5 * i) * _MM, "soft_ink")
    room = right - left - max(line.naturalTextWidth() for line in lines) - 8 * _MM
    for size in (30, 26, 22, 18, 15, 12, 10, 8):
        title = _set(sheet.title, _face(SERIF, size, strong=True), room)
        high = sum(line.height() for line in title)
        if high <= 9.5 * _MM and (len(title) == 1 or size <= 18):
            break
    y = top
    for line in title:
        line.paint(painter, left, y)
        y += line.height()
    under = f"{sheet.scale.words} on {sheet.paper.name}  ·  {sheet.system}"
    _word(painter, under, left, top + 12.5 * _MM, font, "soft_ink")


def _flow(sheet: Sheet) -> list[list[_Line]]:
    """All text as lines in columns; a heading stays with what follows it."""
    wide = sheet.first_columns[0].width_mm * _MM
    heights = [box.height_mm * _MM for box in sheet.first_columns]
    later = sheet.later_columns[0].height_mm * _MM
    columns: list[list[_Line]] = [[]]
    used = 0.0
    together: list[_Line] = []
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
    yield _Line(3.2 * _MM, None, True)
    for line in _set(section.heading, _face(SANS, 14, strong=True), wide):
        yield _Line(line.height() + 0.6 * _MM, line.paint, True)
    font = _face(SERIF, 15) if section.kind == "rules" else _face(SANS, 13)
    for i, paragraph in enumerate(section.paragraphs):
        if i:
            yield _Line(1.1 * _MM, None, True)
        lines = _set(paragraph, font, wide)
        for n, line in enumerate(lines):  # neither a first nor a last line stands alone
            alone = len(lines) > 1 and n in (0, len(lines) - 2)
            yield _Line(line.height(), line.paint, alone)
    for i, (name, value) in enumerate(section.figures):
        yield _figure(name, value, wide, i + 1 < len(section.figures))


def _figure(name: str, value: str, wide: float, with_next: bool) -> _Line:
    left = _set(name, _face(SANS, 13), wide)[0]
    right = _set(value, _face(SANS, 13, strong=True), wide)[0]

    def paint(painter: QPainter, x: float, y: float) -> None:
        painter.setPen(QPen(ON_WHITE["hairline"], 0.6))
        painter.drawLine(QPointF(x, y + left.height()), QPointF(x + wide, y + left.height()))
        left.paint(painter, x, y, "soft_ink")
        right.paint(painter, x + wide - right.naturalTextWidth(), y)

    return _Line(left.height() + 0.5 * _MM, paint, with_next)


def _paint_column(painter: QPainter, box: Box, lines: list[_Line]) -> None:
    y = box.y_mm * _MM
    for line in lines:
        if line.paint is not None:
            line.paint(painter, box.x_mm * _MM, y)
        y += line.height


# PDF and printer


def sheet_on(window, paper: Paper) -> Sheet:
    """The sheet of what a window shows."""
    answer = window.answer
    today = datetime.date.today()
    return sheet_of(answer.project, answer, window.survey, window.unit, paper, day=today)


def write_pdf(path: Path, window, paper: Paper | None = None) -> int:
    """Write the plan a window shows as a PDF, whole or not at all; returns how many pages it has.

    Raises
    ------
    InputProblem
        Where the file cannot be written there.
    """
    paper = paper or best_paper(window.answer.project, "A4", window.unit)
    sheet = sheet_on(window, paper)
    problem = InputProblem(f"{path} cannot be written: choose another folder or free the disk.")
    file = QSaveFile(str(path))
    if not file.open(QSaveFile.OpenModeFlag.WriteOnly):
        raise problem
    writer = QPdfWriter(file)
    writer.setResolution(_DOTS_PER_INCH)
    writer.setTitle(sheet.title)
    writer.setCreator("Layout Desk")
    writer.setPageLayout(_layout_of(paper))
    painter = QPainter(writer)
    pages = paint_sheet(
        painter, _DOTS_PER_INCH / 25.4, sheet, drawing_of(window.answer), writer.newPage
    )
    if not painter.end() or not file.commit():
        raise problem
    return pages


def _layout_of(paper: Paper) -> QPageLayout:
    """The paper lying or upright, with no margins: the sheet has its own."""
    wide, high = sorted((paper.width_mm, paper.height_mm))
    size = QPageSize(QSizeF(wide, high), QPageSize.Unit.Millimeter, paper.name)
    ways = QPageLayout.Orientation
    way = ways.Landscape if paper.landscape else ways.Portrait
    return QPageLayout(size, way, QMarginsF(0, 0, 0, 0), QPageLayout.Unit.Millimeter)
