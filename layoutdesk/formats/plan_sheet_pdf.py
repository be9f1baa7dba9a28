"""plan-sheet.pdf: the plan to a true scale on as many sheets as it needs, an index map, words, and rows as a table."""

from __future__ import annotations

import datetime
from pathlib import Path

from .orders_pdf_flow import Column, Flow, broken, leading_mm
from .pdf_labels import Labels
from .pdf_pen import MARGIN_MM, Pen
from .plan_sheet_column import SheetColumn, placed_lines, word_lines
from .plan_sheet_frame import draw_frame, draw_index_tiles
from .plan_sheet_plan import SheetPlan
from .plansheet import PlanSheet
from .row_table_csv import RowTable

_FOOT_MM = 6.0
_NAME_PT = 14.0
_GUTTER_MM = 7.0
_TABLE_PT = 7.0
_PLANTS_MM, _LOTS_MM = 42.0, 36.0
"""Kept for plants in the row table; lots that take more stand with the plants. [mm]"""
_AROUND_MM = ((0, 0), (0, 5.5), (0, -5.5), (9, 0), (-9, 0), (0, 11), (0, -11))
"""Where the name of a block is put on the index map, about its middle: the first place that is free. [mm]"""
_UNDER = 0.6
"""Rows begin under the words where those take less of the page."""


def write_plan_sheet_pdf(path, sheet: PlanSheet, fonts: Path, progress=None) -> int:
    """Write the sheets as vectors, with typefaces embedded; returns how many pages there are.

    Parameters
    ----------
    path : path
    sheet : PlanSheet
    fonts : Path
        Folder of the program's typefaces.
    progress : function of (share done, what is written), optional
        May raise to cancel.
    """
    pen = Pen(path, sheet.width_mm, sheet.height_mm, fonts)
    pen.named(f"{sheet.name}: plan sheet", sheet.said_of)
    say = progress or (lambda share, what: None)
    column = SheetColumn(pen, sheet)
    words = word_lines(pen, sheet.sections, sheet.column[2])
    n_plans = sheet.n_sheets + bool(sheet.index)
    plan = SheetPlan(pen, sheet, sheet.measure)
    if sheet.index is not None:
        rest = _index_page(pen, sheet, column, words)
        reminders = word_lines(pen, sheet.reminders, sheet.column[2])
    for tile in sheet.tiles:
        say(tile.number / (n_plans + 2), f"sheet {tile.number}")
        pen.marked("Plan" if sheet.index is None else f"Sheet {tile.number}")
        plan.draw(tile)
        draw_frame(pen, sheet, tile, sheet.measure)
        several = sheet.index is not None
        count = f"{tile.number} of {sheet.n_sheets}"
        title = f"Planting plan, sheet {count}" if several else "Planting plan"
        left = column.draw(
            title,
            tile,
            _sheet_number(sheet, count),
            sheet.measure.words,
            reminders if several else words,
            shows_vines=plan.shows_vines,
            is_index=False,
        )
        if not several:
            rest = left
        pen.end_page()
    say(n_plans / (n_plans + 2), "row table")
    pages = n_plans + _more_pages(pen, sheet, rest)
    pen.save(sheet.day or datetime.date(2000, 1, 1))
    return pages


def _sheet_number(sheet: PlanSheet, count: str) -> str:
    return f"{sheet.sheet_name}, {count}" if sheet.sheet_name else count


def _index_page(pen: Pen, sheet: PlanSheet, column: SheetColumn, words):
    """The whole site with the outlines of all sheets; gives back the words it has no room for."""
    pen.marked("Index map")
    over = SheetPlan(pen, sheet, sheet.index_measure)
    over.draw_index(sheet.index)
    labels = Labels(pen, sheet.frame)
    draw_index_tiles(pen, sheet, lambda xy: over.mm(xy, sheet.index), labels)
    for x, y, _, _, name in over.names(sheet.index):
        places = [(x + dx, y + dy) for dx, dy in _AROUND_MM]
        labels.say(name, places, "serif strong", 9, "ink")
    labels.draw()
    draw_frame(pen, sheet, sheet.index, sheet.index_measure)
    count = f"index of {sheet.n_sheets}"
    rest = column.draw(
        f"Planting plan, index of {sheet.n_sheets} sheets",
        None,
        _sheet_number(sheet, count),
        sheet.index_measure.words,
        words,
        shows_vines=False,
        is_index=True,
    )
    pen.end_page()
    return rest


def _draw_head(pen: Pen, sheet: PlanSheet, title: str) -> None:
    """Site, part and marks at the top of a page without a plan."""
    right, leading = pen.width_mm - MARGIN_MM, leading_mm(_NAME_PT)
    lines = broken(pen, sheet.name, "serif strong", _NAME_PT, right - MARGIN_MM)
    pen.text_lines(MARGIN_MM, MARGIN_MM + 0.7 * leading, lines, "serif strong", _NAME_PT, leading)
    y = MARGIN_MM + len(lines) * leading
    most = right - MARGIN_MM - pen.width_of_mm(sheet.said_of, "sans", 8) - 6
    pen.text_within(MARGIN_MM, y + 3.5, f"Planting plan: {title}", "sans strong", 9.5, most)
    pen.text(right, y + 3.5, sheet.said_of, "sans", 8, "right", "soft")
    pen.line(MARGIN_MM, y + 6.0, right, y + 6.0, "hairline", 0.2)


def _head_mm(pen: Pen, sheet: PlanSheet) -> float:
    lines = broken(pen, sheet.name, "serif strong", _NAME_PT, pen.width_mm - 2 * MARGIN_MM)
    return MARGIN_MM + len(lines) * leading_mm(_NAME_PT) + 6.0


def _more_pages(pen: Pen, sheet: PlanSheet, lines) -> int:
    """Words that found no room beside the plan, in columns, and rows under them; returns how many pages."""
    wide = sheet.column[2]
    top = _head_mm(pen, sheet) + 4.0
    bottom = pen.height_mm - MARGIN_MM - _FOOT_MM
    across = max(1, int((pen.width_mm - 2 * MARGIN_MM + _GUTTER_MM) / (wide + _GUTTER_MM)))
    left = [MARGIN_MM + k * (wide + _GUTTER_MM) for k in range(across)]
    pages, used = [], 0.0
    while lines:
        used = _balanced_mm(lines, across, bottom - top)
        drawn, lines = placed_lines(lines, [(x, top, wide, used) for x in left])
        pages.append(("decisions, figures and cautions", [d for draws in drawn for d in draws]))
    if sheet.rows is not None and len(sheet.rows):
        under = top + used + 6.0 if pages and used < _UNDER * (bottom - top) else top
        for number, draws in enumerate(_table(pen, sheet, sheet.rows, top, under, bottom)):
            if number or under == top:
                pages.append(("rows", draws))
            else:
                pages[-1] = ("decisions, figures, cautions, and rows", [*pages[-1][1], *draws])
    elif sheet.rows_said:
        _say_under(pen, sheet, pages, top, used, bottom)
    for number, (title, draws) in enumerate(pages, 1):
        if number == 1:
            pen.marked("Decisions, figures, rows")
        _draw_head(pen, sheet, title)
        for draw in draws:
            draw()
        words = f"page {number} of {len(pages)} behind the plan"
        right, foot = pen.width_mm - MARGIN_MM, pen.height_mm - MARGIN_MM
        pen.text(right, foot, words, "sans", 7.5, "right", "soft")
        pen.end_page()
    return len(pages)


def _balanced_mm(lines, across: int, most: float) -> float:
    """The least height at which lines fit into columns side by side; no more than there is. [mm]"""
    total = sum(line.gap_mm + line.high_mm for line in lines)
    high = max(total / across, 20.0)
    while high < most:
        if not placed_lines(lines, [(0.0, 0.0, 0.0, high)] * across)[1]:
            return high
        high += 4.0
    return most


def _say_under(pen: Pen, sheet: PlanSheet, pages: list, top: float, used: float, bottom: float) -> None:  # fmt: skip
    """Why the rows are not printed, under the words or on a page of its own."""
    y = top + used + 6.0 if pages and used < _UNDER * (bottom - top) else top

    def draw():
        pen.text(MARGIN_MM, y, sheet.rows_said, "sans", 8.5)

    if pages and y > top:
        pages[-1][1].append(draw)
    else:
        pages.append(("rows", [draw]))


def _table(pen: Pen, sheet: PlanSheet, table: RowTable, top: float, under: float, bottom: float):
    """What draws the row table, page by page: as many columns of it side by side as there is room for."""
    columns, rows = _table_of(pen, table)
    need = _GUTTER_MM + sum(
        (_PLANTS_MM if c.title else 0.0) if c.wraps else _widest(pen, c, [row[k] for row in rows])
        for k, c in enumerate(columns)
    )
    room = pen.width_mm - 2 * MARGIN_MM + _GUTTER_MM
    across = max(1, int(room / need))
    said = broken(pen, sheet.rows_said, "sans", 8, room - _GUTTER_MM)
    below = under + len(said) * leading_mm(8) + 2.0

    def say():
        pen.text_lines(MARGIN_MM, under + 3.0, said, "sans", 8, leading_mm(8), "soft")

    pages, done, first = [], 0, True
    while done < len(rows):
        start = below if first else top
        draws = [say] if first else []
        for k in range(across):
            flow = Flow(pen, start, bottom)
            flow.left_mm = MARGIN_MM + k * room / across
            flow.right_mm = flow.left_mm + room / across - _GUTTER_MM
            taken = _that_fit(flow, columns, rows[done:])
            if taken:
                draws += taken[1]
                done += taken[0]
        pages.append(draws)
        first = False
    return pages


def _that_fit(flow: Flow, columns, rows):
    """As many lines as fit a page: how many, and what draws them."""
    if not rows:
        return None
    high = flow.bottom_mm - flow.y_mm - 3 * leading_mm(_TABLE_PT)
    count = max(1, int(high / (leading_mm(_TABLE_PT) + 1.4)))
    while True:
        trial = Flow(flow.pen, flow.top_mm, flow.bottom_mm)
        trial.left_mm, trial.right_mm = flow.left_mm, flow.right_mm
        trial.table(columns, rows[:count], _TABLE_PT)
        if len(trial.pages) == 1 or count == 1:
            return min(count, len(rows)), trial.pages[0]
        count = max(1, count - max(1, count // 12))


def _widest(pen: Pen, column: Column, texts) -> float:
    """About how wide a column is: the widest of its longest texts. [mm]"""
    longest = sorted(set(texts), key=len)[-20:]
    words = column.title.split(" ")
    titles = [" ".join(words[: -(-len(words) // 2)]), " ".join(words[-(-len(words) // 2) :])]
    return 3.0 + max(
        *(pen.width_of_mm(t, "sans strong", _TABLE_PT) for t in longest),
        *(pen.width_of_mm(t, "sans", _TABLE_PT - 1) for t in titles),
    )


def _table_of(pen: Pen, table: RowTable):
    """Columns and lines of the printed table; those that tell nothing are left out."""
    unit = {"usft": "US ft", "grid": "grid"}.get(table.survey_unit, table.survey_unit)
    own = {"usft": "US ft"}.get(table.unit, table.unit)
    parts = [
        (Column("Row", "left", strong=True), table.code),
        *(
            (Column(f"{end} {axis}, {unit}"), [_grouped(v, 2) for v in xy[:, k].tolist()])
            for end, xy in (("Start", table.start), ("Far end", table.far))
            for k, axis in enumerate(("easting", "northing"))
        ),
        (Column(f"Length, {own}"), [_grouped(v, 2) for v in table.length.tolist()]),
        (Column("Vines", strong=True), [_grouped(v) for v in table.vines.tolist()]),
        (
            Column("Vine numbers"),
            [
                f"{a:03d}–{b:03d}" if a else ""
                for a, b in zip(table.first_vine.tolist(), table.last_vine.tolist(), strict=True)
            ],
        ),
    ]
    widest = max((pen.width_of_mm(t, "sans", _TABLE_PT) for t in set(table.lots)), default=0.0)
    if widest > _LOTS_MM:
        told = [f"{p} ({q})" if q else p for p, q in zip(table.plants, table.lots, strict=True)]
        parts.append((Column("Plants (lots)", "left", wraps=True), told))
    else:
        title = "Plants" if any(table.plants) else ""
        parts.append((Column(title, "left", wraps=True), table.plants))
        if any(table.lots):
            parts.append((Column("Lots", "left"), table.lots))
    if (table.trays >= 0).any():
        parts.append((Column("Trays, row alone"), [_grouped(v) if v >= 0 else "" for v in table.trays.tolist()]))  # fmt: skip
    if table.planted is not None:
        for title, values in (
            ("Standing", table.planted),
            ("Missing", table.missing),
            ("Dead", table.dead),
        ):
            parts.append((Column(title), [_grouped(v) if v else "–" for v in values.tolist()]))
    if table.sets is not None:
        parts.append((Column("Set"), [f"{v}" if v else "" for v in table.sets.tolist()]))
    columns = tuple(column for column, _ in parts)
    return columns, list(zip(*(values for _, values in parts), strict=True))


def _grouped(value: float, decimals: int = 0) -> str:
    return f"{value:,.{decimals}f}".replace(",", "\u202f")
