"""takeoff.xlsx: a sheet for every level, from rows up to orders, with live sums between them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..core.materials.takeoff import COLUMN
from ..core.model.trellis import ITEMS
from .takeoffset import TakeOffSet, about_sections, item_name, item_unit
from .xlsx_looks import SOFT, Looks

HEAD_ROW = 3
"""Row of the headings of every table, counted from 0; title and words stand above."""
_BLOCK_ITEM, _ROW_ITEM = 4, 5
"""Column of the first item on the sheets Blocks and Rows."""
_PAPERS = {"m": 9}
"""A4; 1 is Letter. Source: ECMA-376 part 1 (2016), 18.3.1.63, paperSize."""


def write_take_off_xlsx(path, take_off: TakeOffSet) -> None:
    """Write the workbook, in people's units.

    Rows are counted figures. Blocks are sums of rows, site and hectare come from blocks, orders
    from counts of blocks with their spares. Spares, units of sale, prices and masses can be changed
    in the cells that are framed.
    """
    import xlsxwriter

    from .takeoff_xlsx_orders import write_counts, write_orders
    from .takeoff_xlsx_wires import write_cuts, write_mechanics, write_roll_plan

    day = take_off.day or datetime.date(2000, 1, 1)
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    try:
        book.set_properties(
            {
                "title": f"{take_off.project.name}: take-off",
                "comments": f"Revision {take_off.revision}",
                "created": datetime.datetime.combine(day, datetime.time()),
            }
        )
        pages = Pages(book, take_off, Looks(book))
        write_orders(pages)
        _write_site(pages)
        _write_per_area(pages)
        _write_blocks(pages)
        _write_rows(pages)
        write_counts(pages)
        if take_off.wires:
            write_cuts(pages)
            write_roll_plan(pages)
        if take_off.changes:
            _write_changes(pages)
        write_mechanics(pages)
        _write_rules(pages)
    finally:
        book.close()


@dataclass(frozen=True)
class Heading:
    """One column of a table: words, width, and whether it holds figures."""

    words: str
    width: float
    figures: bool = True


class Pages:
    """The workbook's sheets, and where things stand on them."""

    def __init__(self, book, take_off: TakeOffSet, looks: Looks):
        self.book, self.take_off, self.looks = book, take_off, looks

    def sheet(self, name: str, title: str, words: str, headings: list[Heading], still: int = 1):
        """A sheet with its head: title, words, and a table's headings, its first columns standing still."""
        sheet = self.book.add_worksheet(name)
        sheet.hide_gridlines(2)
        sheet.write_string(0, 0, f"{self.take_off.project.name}: {title}", self.looks.title)
        sheet.write_string(1, 0, f"{self.take_off.said_of}. {words}", self.looks.soft)
        for column, heading in enumerate(headings):
            sheet.set_column(column, column, heading.width)
            look = self.looks.head_of_number if heading.figures else self.looks.head
            sheet.write_string(HEAD_ROW, column, heading.words, look)
        sheet.freeze_panes(HEAD_ROW + 1, still)
        sheet.repeat_rows(HEAD_ROW)
        self._set_print(sheet, len(headings))
        return sheet

    def _set_print(self, sheet, columns: int) -> None:
        if columns > 6:
            sheet.set_landscape()
        sheet.set_paper(_PAPERS.get(self.take_off.units.unit, 1))
        sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
        sheet.fit_to_pages(1, 0)
        name = f"{self.take_off.project.name[:80]}, revision {self.take_off.revision}"
        sheet.set_footer(f"&L{name.replace('&', '&&')}&C&A&R&P / &N")

    def number(self, unit: str, **how):
        """Look of an amount in pieces or in a length."""
        return self.looks.number(1 if unit == "m" else 0, **how)

    def heading_of(self, item: str, width: float = 12) -> Heading:
        unit = item_unit(item)
        label = self.take_off.units.label(unit)
        return Heading(item_name(item) + (f", {label}" if unit == "m" else ""), width)

    def block_cell(self, block: str, item: str) -> str | None:
        """Where a block's amount stands; None where the sheet has none."""
        t = self.take_off
        if block not in t.take_off.blocks or item not in t.items:
            return None
        row = HEAD_ROW + 1 + t.take_off.blocks.index(block)
        return f"Blocks!{cell(row, _BLOCK_ITEM + t.items.index(item))}"


def cell(row: int, column: int, fixed: bool = False) -> str:
    """A cell's name, from row and column counted from 0."""
    from xlsxwriter.utility import xl_rowcol_to_cell

    return xl_rowcol_to_cell(row, column, fixed, fixed)


def _write_rows(pages: Pages) -> None:
    t, units = pages.take_off.take_off, pages.take_off.units
    items = pages.take_off.items
    headings = [
        Heading("Block", 14, False),
        Heading("Row", 7),
        Heading("Segments", 12, False),
        Heading(f"Row length, {units.length}", 12),
        Heading("Vines", 9),
        *(pages.heading_of(i) for i in items),
    ]
    words = "Counted figures; every other sheet follows them."
    sheet = pages.sheet("Rows", "take-off by row", words, headings, 3)
    lengths = (_by_row(t, t.lengths.length_m) / units.length_m).tolist()
    vines = _by_row(t, t.vines).tolist()
    columns = [
        (units.amount(t.rows[:, COLUMN[i]], item_unit(i)).tolist(), pages.number(item_unit(i)))
        for i in items
    ]
    plain, soft = pages.looks(), pages.looks.soft
    whole, tenth = pages.looks.number(0), pages.looks.number(1)
    for r, (b, number, letters) in enumerate(pages.take_off.rows):
        row = HEAD_ROW + 1 + r
        sheet.write_string(row, 0, t.blocks[b], plain)
        sheet.write_number(row, 1, number, whole)
        sheet.write_string(row, 2, letters, soft)
        sheet.write_number(row, 3, lengths[r], tenth)
        sheet.write_number(row, 4, vines[r], whole)
        for k, (values, look) in enumerate(columns):
            sheet.write_number(row, _ROW_ITEM + k, values[r], look)


def _by_row(t, values) -> np.ndarray:
    return np.add.reduceat(values, t.row_starts) if len(t.block) else np.empty(0)


def _write_blocks(pages: Pages) -> None:
    """Every block as the sum of its rows."""
    t, units, items = pages.take_off.take_off, pages.take_off.units, pages.take_off.items
    headings = [
        Heading("Block", 14, False),
        Heading(f"Outline, {units.area}", 11),
        Heading(f"Row length, {units.length}", 12),
        Heading("Vines", 9),
        *(pages.heading_of(i) for i in items),
    ]
    words = "Sums of the rows."
    sheet = pages.sheet("Blocks", "take-off by block", words, headings)
    block_of_row = np.array([b for b, _, _ in pages.take_off.rows], dtype=np.intp)
    for b, name in enumerate(t.blocks):
        row, mine = HEAD_ROW + 1 + b, t.block == b
        first, last = np.searchsorted(block_of_row, [b, b + 1]).tolist()

        def summed(column, first=first, last=last):
            if first == last:
                return "=0"
            above = HEAD_ROW + 1
            return f"=SUM(Rows!{cell(above + first, column)}:{cell(above + last - 1, column)})"

        sheet.write_string(row, 0, name, pages.looks())
        area = float(t.outline_m2[b]) / units.area_m2
        sheet.write_number(row, 1, area, pages.looks.number(3))
        length = float(t.lengths.length_m[mine].sum()) / units.length_m
        sheet.write_formula(row, 2, summed(3), pages.looks.number(1), length)
        sheet.write_formula(row, 3, summed(4), pages.looks.number(0), int(t.vines[mine].sum()))
        for k, item in enumerate(items):
            unit = item_unit(item)
            value = units.amount(float(t.per_block[b, COLUMN[item]]), unit)
            look = pages.number(unit)
            sheet.write_formula(row, _BLOCK_ITEM + k, summed(_ROW_ITEM + k), look, value)


def _blocks_range(pages: Pages, column: int) -> str:
    last = HEAD_ROW + len(pages.take_off.take_off.blocks)
    return f"Blocks!{cell(HEAD_ROW + 1, column)}:{cell(last, column)}"


def _site_lines(pages: Pages):
    """What stands on the sheets Site and Per hectare: words, unit, formula, value, decimals."""
    t, units = pages.take_off.take_off, pages.take_off.units
    length, vines = float(t.lengths.length_m.sum()) / units.length_m, int(t.vines.sum())
    yield "Row length", units.length, f"=SUM({_blocks_range(pages, 2)})", length, 1
    yield "Vines", "each", f"=SUM({_blocks_range(pages, 3)})", vines, 0
    for k, item in enumerate(pages.take_off.items):
        unit = item_unit(item)
        formula = f"=SUM({_blocks_range(pages, _BLOCK_ITEM + k)})"
        value = units.amount(float(t.site[COLUMN[item]]), unit)
        yield item_name(item), units.label(unit), formula, value, 1 if unit == "m" else 0
    from .takeoff_xlsx_orders import order_places

    for row, at in zip(pages.take_off.orders, order_places(pages.take_off), strict=True):
        if row.counts and not any(c.item in ITEMS for c in row.counts):
            value = units.amount(row.order.need.counted, row.unit)
            decimals = 1 if row.unit == "m" else 0
            yield row.told, units.label(row.unit), f"=Orders!{cell(at, 3)}", value, decimals


def _write_site(pages: Pages) -> None:
    headings = [Heading("Item", 44, False), Heading("Unit", 9, False), Heading("Site", 14)]
    sheet = pages.sheet("Site", "take-off of the site", "Sums of the blocks.", headings)
    row = HEAD_ROW
    for words, unit, formula, value, decimals in _site_lines(pages):
        row += 1
        sheet.write_string(row, 0, words, pages.looks())
        sheet.write_string(row, 1, unit, pages.looks.soft)
        sheet.write_formula(row, 2, formula, pages.looks.number(decimals), value)
    for k, words in enumerate((pages.take_off.counting_rule, pages.take_off.statement)):
        sheet.write_string(row + 2 + k, 0, words, pages.looks(font_color=SOFT))


def _write_per_area(pages: Pages) -> None:
    """Site over its area; Blocks keeps the areas."""
    t, units = pages.take_off.take_off, pages.take_off.units
    headings = [
        Heading("Item", 44, False),
        Heading("Unit", 9, False),
        Heading(f"Per {units.area_word}", 14),
        Heading("In the block with least", 16),
        Heading("In the block with most", 16),
    ]
    words = f"Per {units.area_word} of outline, headlands and all; orders are not counted by it."
    name = f"Per {units.area_word}"
    sheet = pages.sheet(name, f"take-off per {units.area_word}", words, headings)
    areas = _blocks_range(pages, 1)
    area = t.outline_m2 / units.area_m2
    total = float(area.sum())
    row = HEAD_ROW
    for k, (words, unit, _, value, decimals) in enumerate(_site_lines(pages)):
        row += 1
        sheet.write_string(row, 0, words, pages.looks())
        sheet.write_string(row, 1, unit, pages.looks.soft)
        formula = f'=IF(SUM({areas})>0,Site!{cell(HEAD_ROW + 1 + k, 2)}/SUM({areas}),"")'
        shown = value / total if total else ""
        sheet.write_formula(row, 2, formula, pages.looks.number(max(decimals, 1)), shown)
        each = _per_area_of_blocks(pages, k, area)
        for column, of in ((3, np.min), (4, np.max)):
            if len(each):
                look = pages.looks.number(max(decimals, 1))
                sheet.write_number(row, column, float(of(each)), look)
    sheet.write_string(row + 2, 0, pages.take_off.density[0], pages.looks(font_color=SOFT))


def _per_area_of_blocks(pages: Pages, line: int, area: np.ndarray) -> np.ndarray:
    """Amounts of one line in every block over its area; empty for what blocks are not told of."""
    t, units, items = pages.take_off.take_off, pages.take_off.units, pages.take_off.items
    if line >= 2 + len(items):
        return np.empty(0)
    if line < 2:
        value = t.lengths.length_m / units.length_m if line == 0 else t.vines
        amounts = np.bincount(t.block, value, minlength=len(t.blocks))
    else:
        item = items[line - 2]
        amounts = units.amount(t.per_block[:, COLUMN[item]], item_unit(item))
    return amounts[area > 0] / area[area > 0]


def _write_changes(pages: Pages) -> None:
    units = pages.take_off.units
    headings = [
        Heading("Block", 14, False),
        Heading("Item", 36, False),
        Heading("Unit", 9, False),
        Heading("Now", 14),
        Heading("Before", 14),
        Heading("More or less", 14),
    ]
    words = f"Compared with {pages.take_off.changed_from}."
    sheet = pages.sheet("Changes", "what has changed", words, headings, 2)
    for row, change in enumerate(pages.take_off.changes, HEAD_ROW + 1):
        unit = item_unit(change.item)
        now, before = (units.amount(v, unit) for v in (change.now, change.before))
        sheet.write_string(row, 0, change.block or "Site", pages.looks())
        sheet.write_string(row, 1, item_name(change.item), pages.looks())
        sheet.write_string(row, 2, units.label(unit), pages.looks.soft)
        at = pages.block_cell(change.block, change.item)
        if at is None:
            sheet.write_number(row, 3, now, pages.number(unit))
        else:
            sheet.write_formula(row, 3, f"={at}", pages.number(unit), now)
        sheet.write_number(row, 4, before, pages.number(unit))
        formula = f"={cell(row, 3)}-{cell(row, 4)}"
        sheet.write_formula(row, 5, formula, pages.number(unit, signed=True), now - before)


def _write_rules(pages: Pages) -> None:
    """Everything that must be known to read the other sheets, in words."""
    sheet = pages.sheet("Rules", "what was counted, and how", "", [Heading("", 120, False)])
    row = HEAD_ROW + 1
    for heading, texts in about_sections(pages.take_off):
        sheet.write_string(row, 0, heading, pages.looks(bold=True))
        for text in texts:
            row += 1
            sheet.write_string(row, 0, text, pages.looks(text_wrap=True, valign="top"))
        row += 2
