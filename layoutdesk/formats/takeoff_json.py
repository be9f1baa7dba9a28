"""A take-off as JSON, for programs: orders, amounts by block, changes, findings."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np

from ..core.materials.takeoff import COLUMN
from ..core.materials.units_of_sale import product_of
from .summary import finding_facts
from .takeoff_csv import size_si
from .takeoffset import OrderRow, TakeOffSet, item_unit, plain_amount


def take_off_facts(take_off: TakeOffSet) -> dict:
    """All of a take-off as plain values in SI."""
    t = take_off.take_off
    price, no_price = take_off.price
    mass_kg, no_mass = take_off.mass_kg
    hectares = float(t.outline_m2.sum() / 1e4)
    return {
        "project": take_off.project.name,
        "revision": take_off.revision,
        "counting_rule": take_off.counting_rule,
        "statement": take_off.take_off.statement,
        "lengths": {
            "by": t.lengths.basis,
            "row_length_m": float(t.lengths.length_m.sum()),
            "row_length_in_plan_m": float(t.plan_length_m.sum()),
            "not_known_m": float(t.lengths.unknown_m),
        },
        "terrain": take_off.terrain or None,
        "items": _amounts(take_off, t.site),
        "per_hectare": {
            item: round(float(t.site[COLUMN[item]] / hectares), 3) for item in take_off.items
        }
        if hectares
        else {},
        "vines": int(t.vines.sum()),
        "theoretical_vines": float(t.theoretical_vines.sum()),
        "outline_m2": float(t.outline_m2.sum()),
        "blocks": [_block(take_off, b) for b in range(len(t.blocks))],
        "water_parts": [
            {
                "block": p.block or None,
                "item": p.product.item,
                "size": size_si(p.product),
                "amount": plain_amount(p.amount, p.unit),
                "unit": p.unit,
            }
            for p in take_off.parts
        ],
        "plants": [
            {"block": block, "plant": product.words, "vines": vines}
            for product, per_block in take_off.plants
            for block, vines in per_block
        ],
        "orders": [_order(row) for row in take_off.orders],
        "totals": {
            "price": None if no_price == len(take_off.orders) else round(price, 2),
            "currency": take_off.currency or None,
            "lines_without_price": no_price,
            "mass_kg": None if no_mass == len(take_off.orders) else round(mass_kg, 3),
            "lines_without_mass": no_mass,
        },
        "notes": list(take_off.notes),
        "changed_from": take_off.changed_from or None,
        "changes": [
            {
                "block": c.block,
                "item": c.item,
                "unit": item_unit(c.item),
                "now": plain_amount(c.now, item_unit(c.item)),
                "before": plain_amount(c.before, item_unit(c.item)),
                "more": plain_amount(c.now - c.before, item_unit(c.item)),
            }
            for c in take_off.changes
        ],
        "findings": [finding_facts(f) for f in take_off.findings],
        "cautions": list(take_off.cautions),
    }


def _amounts(take_off: TakeOffSet, amounts) -> dict:
    return {i: plain_amount(float(amounts[COLUMN[i]]), item_unit(i)) for i in take_off.items}


def _block(take_off: TakeOffSet, b: int) -> dict:
    t = take_off.take_off
    mine = t.block == b
    return {
        "block": t.blocks[b],
        "items": _amounts(take_off, t.per_block[b]),
        "sizes": {
            i: size
            for i in take_off.items
            if t.per_block[b, COLUMN[i]] and (size := size_si(product_of(i, t.trellises[b])))
        },
        "rows": len(np.unique(t.number[mine])),
        "segments": int(mine.sum()),
        "row_length_m": float(t.lengths.length_m[mine].sum()),
        "vines": int(t.vines[mine].sum()),
        "theoretical_vines": float(t.theoretical_vines[b]),
        "outline_m2": float(t.outline_m2[b]),
    }


def _order(row: OrderRow) -> dict:
    order, need, sold = row.order, row.order.need, row.order.sold
    facts = {
        "item": need.product.item,
        "size": list(need.product.size),
        "name": row.name,
        "supplier": row.supplier,
        "unit": need.unit,
        "counted": plain_amount(need.counted, need.unit),
        "spares": plain_amount(need.spares, need.unit),
        "order": order.units,
        "pallets": order.pallets or None,
        "sold": {
            "as": sold.name,
            "holds": sold.holds,
            "price": sold.price,
            "mass_kg": sold.mass_kg,
            "per_pallet": sold.per_pallet or None,
            "whole_pallets": sold.whole_pallets,
        },
        "price": order.price,
        "mass_kg": order.mass_kg,
        "more_than_settled": row.change,
    }
    if need.product.words:
        facts["plant"] = need.product.words
        facts["order_by"] = {way: day.isoformat() for way, day in row.order_by}
        facts["note"] = row.note
    if order.cutting is not None:
        facts["cutting"] = {
            "roll_m": order.cutting.roll_m,
            "cuts": len(need.cuts_m),
            "rolls": order.cutting.n_rolls,
            "fewest_rolls": order.cutting.bound,
            "proven_fewest": order.cutting.is_best,
            "joins": order.cutting.n_joins,
            "most_joins_in_one": int(order.cutting.joins.max(initial=0)),
            "left_over_m": float(order.cutting.left_m.sum()),
            "over_joined": order.over_joined,
        }
    return facts


def take_off_json(take_off: TakeOffSet) -> str:
    """The same, word for word as it is written."""
    facts = take_off_facts(take_off)
    return json.dumps(facts, ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def write_take_off_json(path, take_off: TakeOffSet) -> None:
    """Write the take-off as JSON."""
    Path(path).write_text(take_off_json(take_off), encoding="utf-8")
