"""compare.pdf: plans side by side at one scale, the table, curves over bearings, and the words."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np

from . import compare_pdf_plans as plans
from .compare_pdf_pen import MARGIN_MM, Pen, flowed
from .compareset import CompareSet, Line, about_sections, drawn_lines, shown_number

HEAD_MM = 17.0
"""Of title, revision and page number at the top of every page. [mm]"""
_ROW_MM, _LABEL_MM, _WIDEST_COLUMN_MM = 5.1, 62.0, 44.0
"""Of the table on A4. [mm]"""
_HEAD_ROWS_MM = 13.0
_SMALLEST, _LARGEST = 0.9, 1.25
"""How much smaller or larger than on A4 the table may be set, to stand on one page."""
_CURVES = 6
_GUTTER_MM = 8.0


@dataclass(frozen=True)
class ComparePaper:
    """A sheet as it lies, and the plans on it.

    Attributes
    ----------
    name : str
    width_mm, height_mm : float
    shown : tuple of int
        Candidates whose plans are drawn and whose figures are printed.
    tiles : tuple of (float, float, float, float)
        Left, top, width and height of each of their plans. [mm]
    ratio : float
        One scale for all: 1 : ratio.
    scale_words : str
    centre_m : (float, float)
        Site frame place at the middle of every plan. [m]
    bar_label, bar_mm
        A scale bar of round length. [mm]
    """

    name: str
    width_mm: float
    height_mm: float
    shown: tuple[int, ...]
    tiles: tuple[tuple[float, float, float, float], ...]
    ratio: float
    scale_words: str
    centre_m: tuple[float, float]
    bar_label: str
    bar_mm: float


def write_compare_pdf(path, compare: CompareSet, paper: ComparePaper, fonts: Path) -> int:
    """Write the sheets as vectors, with typefaces embedded; returns how many pages there are.

    Parameters
    ----------
    path : path
    compare : CompareSet
    paper : ComparePaper
    fonts : Path
        Folder of the program's typefaces.
    """
    pen = Pen(path, paper.width_mm, paper.height_mm, fonts)
    pen.named(f"{compare.project.name}: row orientations compared", f"Revision {compare.revision}")
    pages = [
        lambda: plans.draw_plans(pen, compare, paper),
        *_table_pages(pen, compare, paper),
        *_curve_pages(pen, compare, paper),
        *_word_pages(pen, compare, paper),
    ]
    for number, draw in enumerate(pages, 1):
        _draw_head(pen, compare, number, len(pages))
        draw()
        pen.end_page()
    pen.save(compare.day or datetime.date(2000, 1, 1))
    return len(pages)


def _draw_head(pen: Pen, compare: CompareSet, number: int, count: int) -> None:
    right = pen.width_mm - MARGIN_MM
    pen.text(MARGIN_MM, MARGIN_MM + 5.5, compare.project.name, "serif strong", 15)
    on = f", {compare.day.isoformat()}" if compare.day else ""
    said = f"Revision {compare.revision}{on}"
    pen.text(right, MARGIN_MM + 5.5, f"{said}   page {number} of {count}", "sans", 8, "right")
    words = f"Row orientations compared: {len(compare)} candidates"
    pen.text(MARGIN_MM, MARGIN_MM + 10.5, words, "sans", 8.5, colour="soft")
    pen.line(MARGIN_MM, MARGIN_MM + 13.5, right, MARGIN_MM + 13.5, "hairline", 0.2)


def _table_pages(pen: Pen, compare: CompareSet, paper: ComparePaper) -> list:
    """Pages of the table: rules, then measures, one column a candidate that is shown."""
    top = MARGIN_MM + HEAD_MM
    lines = [*compare.rules, *compare.lines]
    room = pen.height_mm - MARGIN_MM - 8 - top
    by = min(pen.height_mm / 210.0, _LARGEST, room / (_ROW_MM * len(lines) + _HEAD_ROWS_MM))
    pages = 1
    if by < _SMALLEST:
        by = float(np.clip(pen.height_mm / 210.0, 1.0, _LARGEST))
        pages = math.ceil(len(lines) / int((room / by - _HEAD_ROWS_MM) / _ROW_MM))
    fit = math.ceil(len(lines) / pages)
    parts = [lines[i : i + fit] for i in range(0, len(lines), fit)]
    return [lambda part=part: _draw_table(pen, compare, paper, part, top, by) for part in parts]


def _draw_table(
    pen: Pen, compare: CompareSet, paper: ComparePaper, lines, top: float, by: float
) -> None:
    """A part of the table, set so many times as large as on A4."""
    shown = paper.shown
    wide = pen.width_mm - 2 * MARGIN_MM - _LABEL_MM * by
    column = min(wide / max(len(shown), 1), _WIDEST_COLUMN_MM * by)
    left = MARGIN_MM + _LABEL_MM * by
    right = left + column * len(shown)
    y = top + 6
    for place, i in enumerate(shown):
        _draw_column_head(pen, compare, i, left + place * column, y, column, by)
    y += 5.5 * by
    pen.line(MARGIN_MM, y, right, y, "soft", 0.25)
    for line in lines:
        y += _ROW_MM * by
        pen.text_within(MARGIN_MM, y - 1.5 * by, line.heading, "sans", 8 * by, _LABEL_MM * by - 2)
        for place, i in enumerate(shown):
            _draw_cell(pen, compare, line, i, left + place * column, y, column, by, len(shown) > 1)
        pen.line(MARGIN_MM, y, right, y, "hairline", 0.15)
    words = (
        "A dot and bold figures: best of all candidates in this line. Small figures: difference from "
        "the base. No line is added to another."
    )
    left_out = len(compare) - len(shown)
    if left_out:
        words += f" {left_out} more candidates are in compare.csv and compare.xlsx."
    pen.text(MARGIN_MM, y + 5, words, "sans", 7 * by, colour="soft")


def _draw_column_head(pen: Pen, compare: CompareSet, i: int, x, y, column, by: float) -> None:
    pen.text_within(x + 2, y, compare.names[i], "sans strong", 8.5 * by, column - 3)
    base = i == compare.study.base
    if base:
        pen.text(x + 2, y + 3.6 * by, "base", "sans", 6.5 * by, colour="accent")
    beaten = int(compare.beaten[i])
    if beaten >= 0:
        words, at = f"beaten by {compare.names[beaten]}", 10 * by if base else 2
        pen.text_within(x + at, y + 3.6 * by, words, "sans", 6.5 * by, column - at - 1, "soft")


def _draw_cell(
    pen: Pen, compare, line: Line, i: int, x, y, column, by: float, differs: bool
) -> None:
    """A figure, a dot where it is best, and its difference from the base."""
    base, foot = compare.study.base, y - 1.5 * by
    end = x + (0.54 * column if differs else column - 4)
    best = bool(line.best[i])
    face, colour = ("sans strong", "better") if best else ("sans", "ink")
    pen.text(end, foot, shown_number(line.values[i], line.decimals), face, 8 * by, "right", colour)
    if best:
        pen.dot(end + 1.6 * by, foot - 0.9 * by, 0.6 * by, "better")
    change = line.values[i] - line.values[base]
    if differs and i != base and line in compare.lines and np.isfinite(change):
        text = shown_number(change, line.decimals, signed=True)
        pen.text(x + column - 1.5, foot, text, "sans", 6.5 * by, "right", "soft")


def _curve_pages(pen: Pen, compare: CompareSet, paper: ComparePaper) -> list:
    lines = drawn_lines(compare, _CURVES) if len(compare.bearings_deg) > 1 else []
    return [lambda: _draw_curves(pen, compare, paper, lines)] if lines else []


def _draw_curves(pen: Pen, compare: CompareSet, paper: ComparePaper, lines: list[Line]) -> None:
    columns = 2 if len(lines) > 1 else 1
    rows = -(-len(lines) // columns)
    top = MARGIN_MM + HEAD_MM
    wide = (pen.width_mm - 2 * MARGIN_MM - (columns - 1) * _GUTTER_MM) / columns
    high = min((pen.height_mm - MARGIN_MM - top - 8) / rows, 90)
    for place, line in enumerate(lines):
        down, across = divmod(place, columns)
        x = MARGIN_MM + across * (wide + _GUTTER_MM)
        _draw_curve(pen, compare, paper, line, x, top + down * high, wide, high - 6)
    words = "Straight rows at every bearing, with the rules of the base. Broken lines: the candidates that are drawn."
    pen.text(MARGIN_MM, top + rows * high + 2, words, "sans", 7, colour="soft")


def _draw_curve(pen, compare, paper, line: Line, x, y, wide, high) -> None:
    left, right, head, foot = x + 15, x + wide - 3, y + 7, y + high - 6
    bearings, curve = compare.bearings_deg, line.curve
    known = np.isfinite(curve)
    ticks, decimals = round_ticks(float(curve[known].min()), float(curve[known].max()))
    low, high_value = ticks[0], ticks[-1]

    def px(bearing):
        return left + (np.asarray(bearing) % 180.0001) / 180.0 * (right - left)

    def py(value):
        return foot - (np.asarray(value) - low) / (high_value - low) * (foot - head)

    pen.text(x, y + 3, line.heading, "sans strong", 8.5)
    if line.better:
        pen.text(right, y + 3, f"{line.better} is better", "sans", 6.5, "right", "soft")
    for tick in ticks:
        pen.line(left, float(py(tick)), right, float(py(tick)), "hairline", 0.15)
        pen.text(
            left - 1.5, float(py(tick)) + 0.9, shown_number(tick, decimals), "sans", 6.5, "right"
        )
    for bearing in range(0, 181, 30):
        pen.line(float(px(bearing)), foot, float(px(bearing)), foot + 1, "soft", 0.15)
        pen.text(float(px(bearing)), foot + 4, f"{bearing:03d}°", "sans", 6.5, "centre")
    drawn = (compare.candidates[i].bearing_deg for i in paper.shown)
    for bearing in sorted({b % 180.0 for b in drawn if b is not None}):
        at = float(px(bearing))
        pen.line(at, head, at, foot, "accent", 0.2, dash=(0.9, 0.9))
        pen.text(at + 0.6, head - 0.6, f"{bearing:03.0f}°", "sans", 6.5, colour="accent")
    pen.path(np.column_stack([px(bearings[known]), py(curve[known])]), "row", 0.4)


def round_ticks(low: float, high: float, most: int = 5) -> tuple[list[float], int]:
    """Round values that span a range, and the decimals they need.

    Examples
    --------
    >>> round_ticks(22868.0, 23703.0)
    ([22800.0, 23000.0, 23200.0, 23400.0, 23600.0, 23800.0], 0)
    """
    span = max(high - low, 1e-9 * max(abs(high), 1.0))
    power = 10.0 ** np.floor(np.log10(span / most))
    step = next(s * power for s in (1, 2, 2.5, 5, 10) if s * power * most >= span * (1 - 1e-9))
    first, last = np.floor(low / step + 1e-9), np.ceil(high / step - 1e-9)
    decimals = next(d for d in range(10) if abs(round(step, d) - step) < 1e-9 * step or d == 9)
    ticks = (step * np.arange(first, max(last, first + 1) + 1)).tolist()
    return [round(t, decimals) for t in ticks], decimals


def _word_pages(pen: Pen, compare: CompareSet, paper: ComparePaper) -> list:
    """Everything said, in columns: rules, terrain, sun, survey, findings, cautions, definitions."""
    parts = []
    for heading, texts in about_sections(compare):
        parts.append((escape(heading), "heading"))
        rules = any(heading == h for h, _ in compare.paragraphs)
        parts += [(escape(text), "rules" if rules else "text") for text in texts]
    parts.append(("What each line is", "heading"))
    for line in compare.lines:
        better = f" {line.better.capitalize()} is better." if line.better else ""
        words = f"<b>{escape(line.heading)}.</b> {escape(line.definition)}{better}"
        parts.append((words, "text"))
    top = MARGIN_MM + HEAD_MM
    count = 3
    wide = (pen.width_mm - 2 * MARGIN_MM - (count - 1) * _GUTTER_MM) / count
    boxes = [
        (MARGIN_MM + i * (wide + _GUTTER_MM), top, wide, pen.height_mm - MARGIN_MM - top)
        for i in range(count)
    ]
    return [lambda page=page: page() for page in flowed(pen, parts, boxes)]
