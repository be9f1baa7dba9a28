"""orders.pdf: an order list for every kind of supplier, wire by row, and what all of it is counted by."""

from __future__ import annotations

import datetime
from pathlib import Path

from ..core.materials.units_of_sale import total
from .compareset import shown_number
from .orders_pdf_flow import Column, Flow, broken, leading_mm
from .orders_pdf_rows import set_wire_by_row
from .pdf_pen import MARGIN_MM, Pen
from .takeoffset import OrderRow, TakeOffSet, about_sections, many, sold_words, total_said

_FOOT_MM = 6.0
_NAME_PT = 14.0


def write_orders_pdf(path, take_off: TakeOffSet, size_mm: tuple[float, float], fonts: Path) -> int:
    """Write the lists, with typefaces embedded; returns how many pages there are.

    Parameters
    ----------
    path : path
    take_off : TakeOffSet
    size_mm : (float, float)
        Width and height of the paper, upright. [mm]
    fonts : Path
        Folder of the program's typefaces.
    """
    pen = Pen(path, *size_mm, fonts)
    pen.named(f"{take_off.project.name}: order lists", f"Revision {take_off.revision}")
    parts: list[tuple[str, str, Flow]] = []
    lists = take_off.lists
    for n, (supplier, rows) in enumerate(lists, 1):
        flow = _flow(pen, take_off)
        _set_list(flow, take_off, rows)
        title = f"Order list: {supplier}"
        parts.append((title, f"{title}, list {n} of {len(lists)}", flow))
    if take_off.wires:
        flow = _flow(pen, take_off)
        set_wire_by_row(flow, take_off)
        parts.append(("Wire by row", "Wire by row", flow))
    flow = _flow(pen, take_off)
    _set_about(flow, take_off)
    parts.append(("What is counted, and how", "What is counted, and how", flow))
    count = sum(len(flow.pages) for _, _, flow in parts)
    number = 0
    for mark, title, flow in parts:
        for first, page in enumerate(flow.pages):
            number += 1
            if not first:
                pen.marked(mark)
            _draw_head(pen, take_off, title, number, count)
            for draw in page:
                draw()
            pen.end_page()
    pen.save(take_off.day or datetime.date(2000, 1, 1))
    return count


def _flow(pen: Pen, take_off: TakeOffSet) -> Flow:
    return Flow(pen, _head_mm(pen, take_off) + 5.0, pen.height_mm - MARGIN_MM - _FOOT_MM)


def _name_lines(pen: Pen, take_off: TakeOffSet) -> list[str]:
    wide = pen.width_mm - 2 * MARGIN_MM
    return broken(pen, take_off.project.name, "serif strong", _NAME_PT, wide)


def _head_mm(pen: Pen, take_off: TakeOffSet) -> float:
    """Where the head's rule stands, from the top. [mm]"""
    return MARGIN_MM + len(_name_lines(pen, take_off)) * leading_mm(_NAME_PT) + 6.0


def _draw_head(pen: Pen, take_off: TakeOffSet, title: str, number: int, count: int) -> None:
    """Site, list, revision and day on top; page and counting rule at the foot."""
    right, leading = pen.width_mm - MARGIN_MM, leading_mm(_NAME_PT)
    lines = _name_lines(pen, take_off)
    pen.text_lines(MARGIN_MM, MARGIN_MM + 0.7 * leading, lines, "serif strong", _NAME_PT, leading)
    y = MARGIN_MM + len(lines) * leading
    pen.text(MARGIN_MM, y + 3.5, title, "sans strong", 9.5)
    pen.text(right, y + 3.5, take_off.said_of, "sans", 8, "right", "soft")
    pen.line(MARGIN_MM, y + 6.0, right, y + 6.0, "hairline", 0.2)
    foot = pen.height_mm - MARGIN_MM
    words = "Counted by geometry, row by row, not by area."
    pen.text(MARGIN_MM, foot, words, "sans", 7.5, colour="soft")
    pen.text(right, foot, f"page {number} of {count}", "sans", 7.5, "right", "soft")


def _set_list(flow: Flow, take_off: TakeOffSet, rows: tuple[OrderRow, ...]) -> None:
    """One supplier's lines with their sum, how wire is cut, and what is filled in by hand."""
    columns, lines, after = _table(take_off, rows)
    flow.table(columns, lines, 8.5, after)
    missing = total_said(rows, take_off.currency)
    if "without" in missing:
        flow.gap(1.5)
        flow.text(f"Price together: {missing}.", size=8, colour="soft")
    no_mass = total([r.order for r in rows], "mass_kg")[1]
    if 0 < no_mass < len(rows):
        flow.text(
            f"Mass together is without {many(no_mass, 'line')} that have none.",
            size=8,
            colour="soft",
        )
    noted = [r for r in rows if r.note]
    if noted:
        is_wire = noted[0].order.cutting is not None
        flow.gap(4)
        heading = "How wire comes from the rolls" if is_wire else "How many, and by when"
        flow.text(heading, "serif strong", 10, keep_mm=9)
        for row in noted:
            flow.gap(1)
            flow.text(row.told, "sans strong", 8.5, keep_mm=5)
            flow.text(row.note, "sans", 8.5)
    flow.gap(6)
    flow.fields(("Supplier", "Order number", "Wanted on site by"))
    flow.fields(("Prices and delivery agreed", "Date", "Signature"))
    flow.gap(3)
    notes = take_off.notes if rows[0].supplier == "water" else ()
    said = (take_off.counting_rule, *notes, take_off.statement, take_off.density[0])
    for text in said:
        flow.text(text, size=8, colour="soft")
        flow.gap(0.8)
    flow.gap(2)
    flow.text("Cautions", "serif strong", 10, keep_mm=8)
    for text in take_off.cautions:
        flow.text(text, size=8)
        flow.gap(0.8)


def _table(take_off: TakeOffSet, rows: tuple[OrderRow, ...]):
    """Columns that have anything in them, the lines, and their sum."""
    units = take_off.units
    money = f", {take_off.currency}" if take_off.currency else ""
    orders = [r.order for r in rows]
    price, no_price = total(orders, "price")
    mass_kg, no_mass = total(orders, "mass_kg")
    pallets = sum(o.pallets for o in orders)
    whole = len(rows)
    found = [
        (Column("What", "left", wraps=True), [r.told for r in rows], "Together"),
        (Column("Counted"), [_amount(take_off, r, r.order.need.counted) for r in rows], ""),
        (Column("Spares"), [_amount(take_off, r, r.order.need.spares) for r in rows], ""),
        (Column("Order", strong=True), [sold_words(r, units) for r in rows], ""),
    ]
    if pallets:
        texts = [shown_number(o.pallets, 0) if o.pallets else "" for o in orders]
        found.append((Column("Pallets"), texts, shown_number(pallets, 0)))
    if no_mass < whole:
        texts = [_known(o.mass_kg, units.mass_kg, 0) for o in orders]
        together = shown_number(mass_kg / units.mass_kg, 0)
        found.append((Column(f"Mass, {units.mass}"), texts, together))
    if no_price < whole:
        texts = [_known(o.sold.price, 1.0, 2) for o in orders]
        found.append((Column(f"Price of one{money}"), texts, ""))
        texts = [_known(o.price, 1.0, 2) for o in orders]
        found.append((Column(f"Price{money}"), texts, shown_number(price, 2)))
    columns = tuple(c for c, _, _ in found)
    lines = list(zip(*(texts for _, texts, _ in found), strict=True))
    after = tuple(last for _, _, last in found)
    return columns, lines, after if len(found) > 4 else None


def _amount(take_off: TakeOffSet, row: OrderRow, value: float) -> str:
    text = shown_number(take_off.units.amount(value, row.unit), 0)
    return f"{text} {take_off.units.length}" if row.unit == "m" else text


def _known(value: float | None, size: float, decimals: int) -> str:
    return "" if value is None else shown_number(value / size, decimals)


def _set_about(flow: Flow, take_off: TakeOffSet) -> None:
    for heading, texts in about_sections(take_off):
        flow.gap(3)
        flow.text(heading, "serif strong", 10.5, keep_mm=8)
        for text in texts:
            flow.gap(0.8)
            flow.text(text, size=8.5)
