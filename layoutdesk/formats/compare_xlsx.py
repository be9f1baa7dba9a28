"""compare.xlsx: the table to go on working with, differences as live formulas, curves as a chart."""

from __future__ import annotations

import datetime

import numpy as np

from .compare_pdf_curves import round_ticks
from .compareset import CompareSet, Line, about_sections, drawn_lines, grouped_lines
from .xlsx_looks import HAIR, INK, PAPER, SOFT, Looks

_HEAD_ROW = 5
"""Row of the candidates' names, counted from 0; the number of the base stands above it."""
_BASE_CELL = "$B$4"
_FIRST = 3
"""Column of the first candidate, after line, unit and direction."""
_CHARTS = 6
"""Curves are drawn for so many lines at most."""


def write_compare_xlsx(path, compare: CompareSet) -> None:
    """Write the workbook.

    One line a measure and one column a candidate, in people's units. The second block of the table
    holds each difference from the base, whose number can be changed in its cell.
    """
    import xlsxwriter

    day = compare.day or datetime.date(2000, 1, 1)
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    try:
        book.set_properties(
            {
                "title": f"{compare.project.name}: row orientations compared",
                "comments": f"Revision {compare.revision}",
                "created": datetime.datetime.combine(day, datetime.time()),
            }
        )
        looks = Looks(book)
        _write_candidates(book.add_worksheet("Candidates"), compare, looks)
        _write_definitions(book.add_worksheet("Definitions"), compare, looks)
        if len(compare.bearings_deg):
            _write_curves(book, book.add_worksheet("Curves"), compare, looks)
        _write_about(book.add_worksheet("About"), compare, looks)
    finally:
        book.close()


def _write_candidates(sheet, compare: CompareSet, looks: Looks) -> None:
    from xlsxwriter.utility import xl_rowcol_to_cell

    count = len(compare)
    last = _FIRST + count - 1
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, 38)
    sheet.set_column(1, 2, 13)
    sheet.set_column(_FIRST, last, 15)
    sheet.write_string(0, 0, f"{compare.project.name}: row orientations compared", looks.title)
    sheet.write_string(1, 0, _said_of(compare), looks.soft)
    marks = "Bold: best of its line. No line is added to another." if count > 1 else ""
    sheet.write_string(2, 0, f"{marks} {compare.beaten_words}".strip(), looks.soft)
    sheet.write_string(3, 0, "Differences are from candidate number", looks())
    sheet.write_number(3, 1, compare.study.base + 1, looks(bold=True, border=1, bg_color=PAPER))
    sheet.data_validation(
        3,
        1,
        3,
        1,
        {
            "validate": "list",
            "source": f"=${_column(_FIRST)}${_HEAD_ROW}:${_column(last)}${_HEAD_ROW}",
            "input_title": "The base",
            "input_message": "Number of the candidate that differences are counted from.",
            "error_title": "No such candidate",
            "error_message": f"Take a number from 1 to {count}, as over the candidates' names.",
        },
    )
    names = f"${_column(_FIRST)}${_HEAD_ROW + 1}:${_column(last)}${_HEAD_ROW + 1}"
    name = compare.names[compare.study.base]
    sheet.write_formula(3, 2, f"=INDEX({names},1,{_BASE_CELL})", looks(bold=True), name)
    for column, words in enumerate(("", "Unit", "Better")):
        sheet.write_string(_HEAD_ROW, column, words, looks.head)
        sheet.write_blank(_HEAD_ROW - 1, column, None, looks())
    for i, name in enumerate(compare.names):
        sheet.write_number(_HEAD_ROW - 1, _FIRST + i, i + 1, looks(font_color=SOFT, align="right"))
        sheet.write_string(_HEAD_ROW, _FIRST + i, name, looks.head_of_number)
    row = _HEAD_ROW + 1
    places: list[tuple[int, Line]] = []
    for title, lines in grouped_lines(compare):
        sheet.write_string(row, 0, title, looks.group)
        for column in range(1, last + 1):
            sheet.write_blank(row, column, None, looks.group)
        for line in lines:
            row += 1
            _write_line(sheet, row, line, looks, count > 1)
            if line in compare.lines:
                places.append((row, line))
        row += 2
    row = _write_words(sheet, row, compare, looks)
    sheet.set_h_pagebreaks([row + 1])
    sheet.write_string(row + 1, 0, "Differences from the base", looks.head)
    for column in range(1, _FIRST):
        sheet.write_blank(row + 1, column, None, looks.head)
    for i, name in enumerate(compare.names):
        sheet.write_string(row + 1, _FIRST + i, name, looks.head_of_number)
    row += 2
    base = compare.study.base
    for at, line in places:
        sheet.write_string(row, 0, line.label, looks())
        sheet.write_string(row, 1, line.unit, looks.soft)
        sheet.write_string(row, 2, line.better, looks.soft)
        of = f"${_column(_FIRST)}{at + 1}:${_column(last)}{at + 1}"
        for i, value in enumerate(line.values - line.values[base]):
            own = xl_rowcol_to_cell(at, _FIRST + i)
            other = f"INDEX({of},1,{_BASE_CELL})"
            formula = f'=IF(AND(ISNUMBER({own}),ISNUMBER({other})),{own}-{other},"")'
            shown = float(value) if np.isfinite(value) else ""
            sheet.write_formula(
                row, _FIRST + i, formula, looks.number(line.decimals, signed=True), shown
            )
        row += 1
    sheet.freeze_panes(_HEAD_ROW + 1, _FIRST)
    sheet.repeat_columns(0, _FIRST - 1)
    sheet.repeat_rows(_HEAD_ROW - 1, _HEAD_ROW)
    _set_print(sheet, compare, 1 if count <= _ON_ONE_PAGE else -(-count // _ON_ONE_PAGE))


_ON_ONE_PAGE = 8
"""Candidates side by side on a printed page."""
_PAPERS = {"m": 9}
"""A4; 1 is Letter. Source: ECMA-376 part 1 (2016), 18.3.1.63, paperSize."""


def _set_print(sheet, compare: CompareSet, pages_wide: int = 1, landscape: bool = True) -> None:
    if landscape:
        sheet.set_landscape()
    sheet.set_paper(_PAPERS.get(compare.unit, 1))
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
    sheet.fit_to_pages(pages_wide, 0)
    sheet.set_footer(f"&L{_footed(compare)}&C&A&R&P / &N")


def _column(index: int) -> str:
    from xlsxwriter.utility import xl_col_to_name

    return xl_col_to_name(index)


def _footed(compare: CompareSet) -> str:
    """Words for a foot, where & begins a code and length is limited."""
    return f"{compare.project.name[:80]}, revision {compare.revision}".replace("&", "&&")


def _said_of(compare: CompareSet) -> str:
    on = f", {compare.day.isoformat()}" if compare.day else ""
    return f"Revision {compare.revision}{on}"


def _write_line(sheet, row: int, line: Line, looks: Looks, marked: bool) -> None:
    """Label, unit, direction and figures, the best of them marked where there are several."""
    sheet.write_string(row, 0, line.label, looks())
    sheet.write_string(row, 1, line.unit, looks.soft)
    sheet.write_string(row, 2, line.better, looks.soft)
    for i, (value, best) in enumerate(zip(line.values.tolist(), line.best.tolist(), strict=True)):
        if np.isfinite(value):
            sheet.write_number(
                row, _FIRST + i, value, looks.number(line.decimals, best=best and marked)
            )


def _write_words(sheet, row: int, compare: CompareSet, looks: Looks) -> int:
    """Who beats whom, notes and problems, where there are any; the row after them."""
    beaten = [compare.names[b] if b >= 0 else "" for b in compare.beaten.tolist()]
    notes = [c.note for c in compare.candidates]
    for words, texts in (
        ("Beaten in every chosen measure by", beaten),
        ("Note", notes),
        ("Problem", compare.problems),
    ):
        if any(texts):
            sheet.write_string(row, 0, words, looks())
            for i, text in enumerate(texts):
                if text:
                    how = looks(text_wrap=True, valign="top", align="right", font_color=SOFT)
                    sheet.write_string(row, _FIRST + i, text, how)
            row += 1
    return row


def _write_definitions(sheet, compare: CompareSet, looks: Looks) -> None:
    sheet.hide_gridlines(2)
    for column, width in enumerate((30, 12, 10, 26, 100)):
        sheet.set_column(column, column, width)
    for column, words in enumerate(("Line", "Unit", "Better", "Name in files", "What it is")):
        sheet.write_string(0, column, words, looks.head)
    for row, line in enumerate(compare.lines, 1):
        cells = (line.label, line.unit, line.better, line.name, line.definition)
        for column, text in enumerate(cells):
            sheet.write_string(row, column, text, looks(text_wrap=True, valign="top"))
    sheet.freeze_panes(1, 1)
    sheet.repeat_rows(0)
    _set_print(sheet, compare)


def _write_curves(book, sheet, compare: CompareSet, looks: Looks) -> None:
    """Every line known over bearings as a column, and a chart of the first ones beside them."""
    sheet.hide_gridlines(2)
    sheet.write_string(0, 0, "Bearing, deg", looks.head_of_number)
    sheet.set_column(0, 0, 12)
    lines = [line for line in compare.lines if line.curve is not None]
    sheet.set_column(1, max(len(lines), 1), 15)
    count = len(compare.bearings_deg)
    for row, bearing in enumerate(compare.bearings_deg.tolist(), 1):
        sheet.write_number(row, 0, bearing, looks.number(1))
    for column, line in enumerate(lines, 1):
        sheet.write_string(0, column, line.heading, looks.head_of_number)
        for row, value in enumerate(line.curve.tolist(), 1):
            if np.isfinite(value):
                sheet.write_number(row, column, value, looks.number(line.decimals))
    sheet.freeze_panes(1, 1)
    sheet.repeat_rows(0)
    _set_print(sheet, compare, 0)
    for place, line in enumerate(drawn_lines(compare, _CHARTS)):
        column = lines.index(line) + 1
        chart = book.add_chart({"type": "scatter", "subtype": "straight"})
        chart.add_series(
            {
                "name": ["Curves", 0, column],
                "categories": ["Curves", 1, 0, count, 0],
                "values": ["Curves", 1, column, count, column],
                "line": {"color": "#4B6F62", "width": 1.75},
            }
        )
        chart.set_title({"name": line.heading, "name_font": {"size": 11, "color": INK}})
        chart.set_legend({"none": True})
        least, most = float(compare.bearings_deg.min()), float(compare.bearings_deg.max())
        axis = {"min": least, "max": max(180.0, most), "major_unit": 30, "num_format": "0"}
        chart.set_x_axis(
            {
                **axis,
                "name": "Bearing of the rows, true, deg",
                "major_gridlines": {"visible": False},
            }
        )
        known = line.curve[np.isfinite(line.curve)]
        ticks, decimals = round_ticks(float(known.min()), float(known.max()))
        chart.set_y_axis(
            {
                "name": line.unit or line.label,
                "min": ticks[0],
                "max": ticks[-1],
                "major_unit": ticks[1] - ticks[0],
                "num_format": looks.digits(decimals),
                "major_gridlines": {"visible": True, "line": {"color": HAIR}},
            }
        )
        chart.set_size({"width": 520, "height": 260})
        down, right = divmod(place, 2)
        sheet.insert_chart(1 + 14 * down, len(lines) + 2 + 8 * right, chart)


def _write_about(sheet, compare: CompareSet, looks: Looks) -> None:
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, 120)
    row = 0
    for heading, texts in about_sections(compare):
        sheet.write_string(row, 0, heading, looks(bold=True))
        for text in texts:
            row += 1
            sheet.write_string(row, 0, text, looks(text_wrap=True, valign="top"))
        row += 2
    _set_print(sheet, compare, landscape=False)
