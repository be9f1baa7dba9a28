"""The sheets Orders and Counts of takeoff.xlsx: from what is counted to what is ordered, by live formulas."""

from __future__ import annotations

from ..core.materials.units_of_sale import total
from .takeoff_xlsx import HEAD_ROW, Heading, Pages, cell
from .takeoffset import OrderRow, TakeOffSet
from .xlsx_looks import PAPER

(
    _NAME,
    _SIZE,
    _UNIT,
    _COUNTED,
    _PCT,
    _SPARES,
    _HOLDS,
    _SOLD_AS,
    _ORDER,
    _PER_PALLET,
    _PALLETS,
    _BEYOND,
    _EACH_PRICE,
    _PRICE,
    _EACH_MASS,
    _MASS,
    _CHANGE,
    _REMARK,
) = range(18)
_CUT_ROLL_COLUMN, _CUT_ROLLS_COLUMN = 2, 6
"""On the sheet Cuts: length of the rolls that were cut, and how many there are."""


def order_places(take_off: TakeOffSet) -> list[int]:
    """Row on the sheet of every order line, counted from 0: lists stand one under another."""
    places: dict[int, int] = {}
    row = HEAD_ROW
    for _, lines in take_off.lists:
        row += 1  # the list's heading
        for line in lines:
            row += 1
            places[id(line)] = row
        row += 1  # its sum
    return [places[id(line)] for line in take_off.orders]


def count_places(take_off: TakeOffSet) -> list[tuple[int, int]]:
    """First and last row on the sheet Counts of every order line."""
    places, row = [], HEAD_ROW + 1
    for line in take_off.orders:
        places.append((row, row + len(line.counts) - 1))
        row += len(line.counts)
    return places


def cut_places(take_off: TakeOffSet) -> dict[int, int]:
    """Row on the sheet Cuts of every wire, by its place among the orders."""
    wires = [i for i, line in enumerate(take_off.orders) if line.order.cutting is not None]
    return {i: HEAD_ROW + 1 + k for k, i in enumerate(wires)}


def write_orders(pages: Pages) -> None:
    """Lists by kind of supplier; framed cells can be changed and everything after them follows."""
    t, units = pages.take_off, pages.take_off.units
    money = f", {t.currency}" if t.currency else ""
    headings = [
        Heading("Item", 38, False),
        Heading("Size", 20, False),
        Heading("Unit", 7, False),
        Heading("Counted", 11),
        Heading("Spares, %", 9),
        Heading("Spares", 9),
        Heading("One holds", 10),
        Heading("Sold as", 16, False),
        Heading("To order", 10),
        Heading("On a pallet", 9),
        Heading("Pallets", 8),
        Heading("Beyond need", 11),
        Heading(f"Price of one{money}", 12),
        Heading(f"Price{money}", 13),
        Heading(f"Mass of one, {units.mass}", 10),
        Heading(f"Mass, {units.mass}", 11),
        Heading("More than settled", 11),
        Heading("Remark", 60, False),
    ]
    words = "Framed cells can be changed: spares, units of sale, prices, masses. " + t.counting_rule
    sheet = pages.sheet("Orders", "order lists", words, headings)
    counts, cuts = count_places(t), cut_places(t)
    index = {id(line): i for i, line in enumerate(t.orders)}
    row, sums = HEAD_ROW, []
    for supplier, lines in t.lists:
        row += 1
        for column in range(len(headings)):
            sheet.write_blank(row, column, None, pages.looks.group)
        sheet.write_string(row, _NAME, supplier.capitalize(), pages.looks.group)
        first = row + 1
        for line in lines:
            row += 1
            i = index[id(line)]
            _write_line(pages, sheet, row, line, counts[i], cuts.get(i))
        row += 1
        sums.append(row)
        words = f"{supplier.capitalize()}, together"
        _write_sum(pages, sheet, row, words, lines, f"{{}}{first + 1}:{{}}{row}")
    row += 2
    joined = ",".join(f"{{}}{r + 1}" for r in sums)
    _write_sum(pages, sheet, row, "All lists", t.orders, joined)
    for name, column in (("price", _PRICE), ("mass", _MASS)):
        row += 1
        what = "price" if name == "price" else "mass_kg"
        missing = total([r.order for r in t.orders], what)[1]
        ranges = "+".join(
            f'COUNTIF({cell(first, column)}:{cell(last, column)},"")' for first, last in _ranges(t)
        )
        sheet.write_string(row, _NAME, f"Lines without a {name}", pages.looks.soft)
        sheet.write_formula(row, column, f"={ranges}", pages.looks.number(0), missing)


def _ranges(take_off: TakeOffSet):
    """First and last row of the lines of every list."""
    places = dict(zip(map(id, take_off.orders), order_places(take_off), strict=True))
    for _, lines in take_off.lists:
        yield places[id(lines[0])], places[id(lines[-1])]


def _write_sum(pages: Pages, sheet, row: int, words: str, lines, cells: str) -> None:
    """Price and mass of lines together; `cells` has {} wherever the column's letters go."""
    units = pages.take_off.units
    orders = [line.order for line in lines]
    price, mass_kg = total(orders, "price")[0], total(orders, "mass_kg")[0]
    sheet.write_string(row, _NAME, words, pages.looks(bold=True))
    for column, value, decimals in ((_PRICE, price, 2), (_MASS, mass_kg / units.mass_kg, 0)):
        letter = cell(0, column).rstrip("1")
        look = pages.looks(bold=True, num_format=pages.looks.digits(decimals), align="right", top=1)
        sheet.write_formula(row, column, f"=SUM({cells.replace('{}', letter)})", look, value)


def _write_line(pages: Pages, sheet, row: int, line: OrderRow, counts, cut_row) -> None:
    units, looks, order, sold = pages.take_off.units, pages.looks, line.order, line.order.sold
    need, metres = order.need, line.unit == "m"
    amount = looks.number(1 if metres else 0)
    first, last = counts

    def at(column: int) -> str:
        return cell(row, column)

    def framed(column: int, value, decimals: int) -> None:
        look = looks(num_format=looks.digits(decimals), align="right", border=1, bg_color=PAPER)
        if value is None:
            sheet.write_blank(row, column, None, look)
        else:
            sheet.write_number(row, column, value, look)

    def formula(column: int, text: str, value, look) -> None:
        sheet.write_formula(row, column, f"={text}", look, "" if value is None else value)

    def summed(column: int) -> str:
        return f"SUM(Counts!{cell(first, column)}:{cell(last, column)})"

    counted, spares = (units.amount(v, line.unit) for v in (need.counted, need.spares))
    holds = units.amount(sold.holds, line.unit)
    sheet.write_string(row, _NAME, line.name, looks())
    sheet.write_string(row, _SIZE, line.size, looks())
    sheet.write_string(row, _UNIT, units.label(line.unit), looks.soft)
    formula(_COUNTED, summed(4), counted, amount)
    shares = {count.spare_pct for count in line.counts}
    framed(_PCT, shares.pop() if len(shares) == 1 else None, 1)
    formula(_SPARES, summed(6), spares, amount)
    framed(_HOLDS, holds, 1 if metres else 0)
    sheet.write_string(
        row, _SOLD_AS, sold.name + (", full pallets" if sold.whole_pallets else ""), looks()
    )
    formula(_ORDER, _to_order(line, at, cut_row), order.units, looks.number(0, best=True))
    framed(_PER_PALLET, sold.per_pallet or None, 0)
    pallets = f'IF(N({at(_PER_PALLET)})>0,ROUNDUP({at(_ORDER)}/{at(_PER_PALLET)},0),"")'
    formula(_PALLETS, pallets, order.pallets or None, looks.number(0))
    beyond = f"{at(_ORDER)}*{at(_HOLDS)}-{at(_COUNTED)}-{at(_SPARES)}"
    formula(_BEYOND, beyond, order.units * holds - counted - spares, amount)
    framed(_EACH_PRICE, sold.price, 2)
    formula(_PRICE, _times(at, _EACH_PRICE), order.price, looks.number(2))
    mass = None if sold.mass_kg is None else sold.mass_kg / units.mass_kg
    framed(_EACH_MASS, mass, 2)
    whole = None if mass is None else order.units * mass
    formula(_MASS, _times(at, _EACH_MASS), whole, looks.number(0))
    if line.change is not None:
        change = units.amount(line.change, line.unit)
        sheet.write_number(row, _CHANGE, change, looks.number(1 if metres else 0, signed=True))
    if cut_row is None:
        sheet.write_string(row, _REMARK, line.note, looks.soft)
    else:
        as_cut = f"ABS({at(_HOLDS)}-Cuts!{cell(cut_row, _CUT_ROLL_COLUMN)})<0.01"
        text = f'IF({as_cut},"{_AS_CUT}","{_CUT_OTHERWISE}")'
        formula(_REMARK, text, _AS_CUT, looks.soft)


_AS_CUT = "As cut from rolls: see Cuts"
_CUT_OTHERWISE = (
    "Cut from rolls of another length: by metres alone here, count again in Layout Desk"
)


def _times(at, column: int) -> str:
    return f'IF(ISNUMBER({at(column)}),{at(_ORDER)}*{at(column)},"")'


def _to_order(line: OrderRow, at, cut_row: int | None) -> str:
    """Counted and spares rounded up to units of sale; of wire no fewer than are cut from."""
    units = f"ROUNDUP(MAX(0,({at(_COUNTED)}+{at(_SPARES)})/{at(_HOLDS)}-0.000000001),0)"
    if cut_row is not None:
        roll, rolls = (f"Cuts!{cell(cut_row, c)}" for c in (_CUT_ROLL_COLUMN, _CUT_ROLLS_COLUMN))
        units = f"MAX({units},IF(ABS({at(_HOLDS)}-{roll})<0.01,{rolls},0))"
    if line.order.sold.whole_pallets:
        units = f"ROUNDUP({units}/{at(_PER_PALLET)},0)*{at(_PER_PALLET)}"
    return units


def write_counts(pages: Pages) -> None:
    """What every order line is made of, block by block, with spares as they are asked for."""
    t, units = pages.take_off, pages.take_off.units
    headings = [
        Heading("Ordered as", 38, False),
        Heading("Block", 14, False),
        Heading("Item", 34, False),
        Heading("Unit", 8, False),
        Heading("Counted", 12),
        Heading("Spares, %", 10),
        Heading("Spares", 11),
    ]
    words = "Spares of the trellis; a figure in the same column of Orders goes before them."
    sheet = pages.sheet("Counts", "what the orders are made of", words, headings, 2)
    row = HEAD_ROW
    for line, order_row in zip(t.orders, order_places(t), strict=True):
        over = f"Orders!{cell(order_row, _PCT, fixed=True)}"
        for count in line.counts:
            row += 1
            look = pages.number(line.unit)
            sheet.write_string(row, 0, line.told, pages.looks())
            sheet.write_string(row, 1, count.block or "Site", pages.looks())
            sheet.write_string(row, 2, count.label, pages.looks())
            sheet.write_string(row, 3, units.label(line.unit), pages.looks.soft)
            value = units.amount(count.amount, line.unit)
            source = pages.block_cell(count.block, count.item)
            if source is None:
                sheet.write_number(row, 4, value, look)
            else:
                sheet.write_formula(row, 4, f"={source}", look, value)
            framed = pages.looks(num_format="0.0", align="right", border=1, bg_color=PAPER)
            sheet.write_number(row, 5, count.spare_pct, framed)
            share = f"{cell(row, 4)}*IF(ISNUMBER({over}),{over},{cell(row, 5)})/100"
            if line.unit == "each":
                share = f"ROUNDUP(MAX(0,{share}-0.000000001),0)"
            spares = units.amount(count.spares, line.unit)
            sheet.write_formula(row, 6, f"={share}", look, spares)
