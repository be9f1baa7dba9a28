"""compare.pdf: plans side by side at one scale, the table, curves over bearings, and the words."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import escape

from . import compare_pdf_plans as plans
from .compare_pdf_curves import curve_pages
from .compare_pdf_table import table_pages
from .compareset import CompareSet, about_sections, grouped_lines
from .pdf_pen import MARGIN_MM, Pen, flowed

HEAD_MM = 17.0
"""Of title, revision and page number at the top of every page. [mm]"""
_GUTTER_MM = 8.0
_COLUMN_MM = 84.0
"""Of text: columns are no narrower than this. [mm]"""


@dataclass(frozen=True)
class Window:
    """A piece of ground inside every plan, where it stands from the plan's left and top. [mm]

    `centre_m` is the site frame place at its middle, `blocks` those that are drawn in it.
    """

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    centre_m: tuple[float, float]
    blocks: tuple[int, ...]


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
    windows : tuple of Window
        What is drawn in every plan: one, or one for each group of blocks where they lie far apart.
    bar_label, bar_mm
        A scale bar of round length. [mm]
    strip : (float, float, float, float)
        Left, top, width and height of the place for north arrow, scale and words. [mm]
    one_in : int
        Of so many rows one is drawn, where all would run together.
    """

    name: str
    width_mm: float
    height_mm: float
    shown: tuple[int, ...]
    tiles: tuple[tuple[float, float, float, float], ...]
    ratio: float
    scale_words: str
    windows: tuple[Window, ...]
    bar_label: str
    bar_mm: float
    strip: tuple[float, float, float, float]
    one_in: int = 1


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
    top = MARGIN_MM + HEAD_MM
    parts = {
        "Plans": [lambda: plans.draw_plans(pen, compare, paper)],
        "Table": table_pages(pen, compare, paper.shown, top),
        "Curves over all bearings": curve_pages(pen, compare, paper.shown, top),
        "Rules, terrain, cautions and definitions": _word_pages(pen, compare),
    }
    pages = [(name, draw) for name, draws in parts.items() for draw in draws]
    for number, (name, draw) in enumerate(pages, 1):
        if draw is parts[name][0]:
            pen.marked(name)
        _draw_head(pen, compare, number, len(pages))
        draw()
        pen.end_page()
    pen.save(compare.day or datetime.date(2000, 1, 1))
    return len(pages)


def _draw_head(pen: Pen, compare: CompareSet, number: int, count: int) -> None:
    right = pen.width_mm - MARGIN_MM
    on = f", {compare.day.isoformat()}" if compare.day else ""
    said = f"Revision {compare.revision}{on}"
    said = f"{said}   page {number} of {count}"
    pen.text(right, MARGIN_MM + 5.5, said, "sans", 8, "right")
    most = right - MARGIN_MM - pen.width_of_mm(said) - 6
    pen.text_within(MARGIN_MM, MARGIN_MM + 5.5, compare.project.name, "serif strong", 15, most)
    many = "candidate" if len(compare) == 1 else "candidates"
    words = f"Row orientations compared: {len(compare)} {many}"
    pen.text(MARGIN_MM, MARGIN_MM + 10.5, words, "sans", 8.5, colour="soft")
    pen.line(MARGIN_MM, MARGIN_MM + 13.5, right, MARGIN_MM + 13.5, "hairline", 0.2)


def _word_pages(pen: Pen, compare: CompareSet) -> list:
    """Everything said, in columns: rules, terrain, sun, survey, findings, cautions, definitions."""
    parts = []
    for heading, texts in about_sections(compare):
        parts.append((escape(heading), "heading"))
        rules = any(heading == h for h, _ in compare.paragraphs)
        parts += [(escape(text), "rules" if rules else "text") for text in texts]
    parts.append(("What each line is", "heading"))
    for title, lines in grouped_lines(compare):
        if lines == tuple(compare.rules):
            continue
        parts.append((escape(title), "group"))
        for line in lines:
            better = f" {line.better.capitalize()} is better." if line.better else ""
            words = f"<b>{escape(line.heading)}.</b> {escape(line.definition)}{better}"
            parts.append((words, "text"))
    top = MARGIN_MM + HEAD_MM
    count = max(1, int((pen.width_mm - 2 * MARGIN_MM + _GUTTER_MM) / (_COLUMN_MM + _GUTTER_MM)))
    wide = (pen.width_mm - 2 * MARGIN_MM - (count - 1) * _GUTTER_MM) / count
    boxes = [
        (MARGIN_MM + i * (wide + _GUTTER_MM), top, wide, pen.height_mm - MARGIN_MM - top)
        for i in range(count)
    ]
    return [lambda page=page: page() for page in flowed(pen, parts, boxes)]
