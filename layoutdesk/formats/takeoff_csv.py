"""takeoff.csv: every amount of every level as one long table for programs."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ..core.materials.takeoff import COLUMN
from ..core.materials.units_of_sale import product_of
from ..core.model import Product
from ..core.model.materials import PLANTS, WIRE
from ..core.model.trellis import ITEMS
from .csv_cells import csv_cell
from .takeoffset import OrderRow, TakeOffSet, item_unit, plain_amount

COLUMNS = (
    "level",
    "block",
    "row",
    "segments",
    "item",
    "size",
    "amount",
    "unit",
    "spares",
    "order",
    "sold_as",
    "holds",
    "pallets",
    "price",
    "mass_kg",
    "counted_by",
    "order_potted_by",
    "order_bare_root_by",
)
"""Of takeoff.csv. `level` is order, site, per_hectare, block or row; from `spares` to `mass_kg` only orders have any.
The last two are of plants: the last day to order them, by the way they are grown."""


def size_si(product: Product) -> str:
    """Size of a product for programs: metres of a post, millimetres of a pipe, both of wire with its strength.

    Of plants, variety, clone and rootstock.

    Examples
    --------
    >>> size_si(Product("wire", (2.5, 1200.0))), size_si(Product("line_posts", (2.4,)))
    ('2.5 mm 1200 MPa', '2.4 m')
    """
    if not product.size:
        return product.words
    if product.item == WIRE:
        return f"{product.size[0]:g} mm {product.size[1]:g} MPa"
    unit = "m" if product.item.endswith(("posts", "stakes", "braces")) else "mm"
    unit = "L/h" if product.item == "emitters" else unit
    return f"{'x'.join(f'{s:g}' for s in product.size)} {unit}"


def write_take_off_csv(path, take_off: TakeOffSet) -> None:
    """Write orders, then site, hectare, blocks and rows, in SI as plain numbers.

    `counted_by` says in every line what is counted and how lengths were taken.
    """
    by = f"geometry, row by row; lengths by {take_off.take_off.lengths.basis}"
    with Path(path).open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file)
        rows.writerow(COLUMNS)
        for record in records(take_off):
            record["counted_by"] = by
            rows.writerow([csv_cell(record.get(c, "")) for c in COLUMNS])


def records(take_off: TakeOffSet) -> Iterator[dict]:
    """Lines of the table, without what they are counted by."""
    for row in take_off.orders:
        yield _order(row)
    yield from _site(take_off)
    t = take_off.take_off
    for b, block in enumerate(t.blocks):
        for item in take_off.items:
            amount = float(t.per_block[b, COLUMN[item]])
            size = size_si(product_of(item, t.trellises[b]))
            yield _amount({"level": "block", "block": block}, item, size, amount)
        yield from _parts(take_off, block)
    sizes = [
        {i: size_si(product_of(i, trellis)) for i in take_off.items} for trellis in t.trellises
    ]
    amounts = t.rows
    for r, (b, number, letters) in enumerate(take_off.rows):
        place = {"level": "row", "block": t.blocks[b], "row": number, "segments": letters}
        for item in take_off.items:
            yield _amount(place, item, sizes[b][item], float(amounts[r, COLUMN[item]]))


def _site(take_off: TakeOffSet) -> Iterator[dict]:
    t = take_off.take_off
    per_hectare, hectares = t.per_hectare, t.outline_m2.sum() / 1e4
    for item in take_off.items:
        used = [b for b in range(len(t.blocks)) if t.per_block[b, COLUMN[item]]]
        sizes = {size_si(product_of(item, t.trellises[b])) for b in used}
        size = sizes.pop() if len(sizes) == 1 else ""
        yield _amount({"level": "site"}, item, size, float(t.site[COLUMN[item]]))
        if np.isfinite(per_hectare[COLUMN[item]]):
            record = _amount({"level": "per_hectare"}, item, size, 0.0)
            yield record | {"amount": round(float(per_hectare[COLUMN[item]]), 3)}
    for row in take_off.orders:
        product, need = row.order.need.product, row.order.need
        if product.item in ITEMS or product.item in (WIRE, PLANTS):
            continue
        yield _amount({"level": "site"}, product.item, size_si(product), need.counted)
        if hectares:
            record = _amount({"level": "per_hectare"}, product.item, size_si(product), 0.0)
            yield record | {"amount": round(need.counted / hectares, 3)}

    for product, per_block in take_off.plants:
        vines = sum(n for _, n in per_block)
        yield _amount({"level": "site"}, product.item, size_si(product), vines)
        if hectares:
            record = _amount({"level": "per_hectare"}, product.item, size_si(product), 0.0)
            yield record | {"amount": round(vines / hectares, 3)}


def _parts(take_off: TakeOffSet, block: str) -> Iterator[dict]:
    """What a block's drip system takes, and the plants of its vines."""
    for part in take_off.parts:
        if part.block == block:
            place = {"level": "block", "block": block}
            yield _amount(place, part.product.item, size_si(part.product), part.amount)
    for product, per_block in take_off.plants:
        for name, vines in per_block:
            if name == block:
                place = {"level": "block", "block": block}
                yield _amount(place, product.item, size_si(product), vines)


def _amount(place: dict, item: str, size: str, amount: float) -> dict:
    unit = item_unit(item)
    return {
        **place,
        "item": item,
        "size": size,
        "amount": plain_amount(amount, unit),
        "unit": unit,
    }


def _order(row: OrderRow) -> dict:
    order, need, sold = row.order, row.order.need, row.order.sold
    return _amount({"level": "order"}, need.product.item, size_si(need.product), need.counted) | {
        "unit": need.unit,
        "spares": plain_amount(need.spares, need.unit),
        "order": order.units,
        "sold_as": sold.name,
        "holds": round(sold.holds, 3),
        "pallets": order.pallets or "",
        "price": "" if order.price is None else round(order.price, 2),
        "mass_kg": "" if order.mass_kg is None else round(order.mass_kg, 3),
        **{f"order_{way.replace(' ', '_')}_by": day.isoformat() for way, day in row.order_by},
    }
