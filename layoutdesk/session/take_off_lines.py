"""The take-off as the window lists it: lines of text by group, and what is to be told below them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.materials.takeoff import COLUMN, COUNTING_RULE
from ..core.materials.units_of_sale import product_of, total
from ..core.model import Product
from ..core.model.materials import WIRE, Materials
from ..core.model.trellis import ITEMS
from .catalogue import is_own, size_words, supply_for
from .quantities import KG_PER_LB
from .tally import grouped
from .units import area_unit, unit_label, unit_length_m

_GROUPS = {
    "posts and anchors": "Posts and anchors",
    "wire and fastenings": "Wire and fastenings",
    "stakes and shelters": "Stakes and shelters",
    "water": "Water",
    "nursery": "Plants",
}


@dataclass(frozen=True)
class TableLine:
    """One line, all of it text.

    Attributes
    ----------
    key : str
        Tells it from the others while figures change.
    label, amount : str
    ordered, price, change : str
        Empty where there is nothing to tell.
    meaning : str
        For a tooltip.
    group : str
    product : Product
    is_own : bool
        Whether the user says how it is sold.
    """

    key: str
    label: str
    amount: str
    ordered: str
    price: str
    change: str
    meaning: str
    group: str
    product: Product
    is_own: bool = False


def key_of(product: Product) -> str:
    """What tells a product from others, as text.

    Examples
    --------
    >>> key_of(Product("line_posts", (2.4,)))
    'line_posts 2.4'
    """
    return " ".join((product.item, *(f"{s:g}" for s in product.size), product.words)).strip()


def take_off_lines(
    answer, unit: str = "m", chosen: np.ndarray | None = None
) -> tuple[TableLine, ...]:
    """The lines of a take-off, by kind of supplier.

    Parameters
    ----------
    answer : TakeOffAnswer
    unit : str
        Of lengths.
    chosen : bool array, shape (s,), optional
        Segments that are told alone: what they take, without orders.
    """
    if not len(answer.take_off.block):
        return ()
    materials = answer.project.materials or Materials()
    alone = None if chosen is None else _amounts_of(answer, chosen)
    found = []
    for line in answer.lines:
        order, supply = line.order, line.supply
        need = order.need
        counted = need.counted
        if alone is not None:
            counted = alone.get(need.product, 0.0)
            if not counted:
                continue
        size = size_words(need.product, unit)
        label = f"{supply.name}, {size}" if size else supply.name
        sold_in = unit if need.unit == "m" else ""
        meaning = _meaning(line, unit, sold_in)
        found.append(
            TableLine(
                key_of(need.product),
                label,
                _amount(counted, sold_in),
                "" if alone is not None else _ordered(order, sold_in),
                "" if alone is not None or order.price is None else _money(order.price, materials),
                "" if alone is not None else _change(line.change, sold_in),
                meaning,
                _GROUPS[supply.supplier],
                need.product,
                is_own(need.product, materials),
            )
        )
    if alone is None:
        found += [_gone_line(p, amount, materials, unit) for p, amount in answer.gone]
    order_of = list(_GROUPS.values())
    return tuple(sorted(found, key=lambda x: order_of.index(x.group)))


def _gone_line(product: Product, amount: float, materials: Materials, unit: str) -> TableLine:
    """A line of what was settled and is not needed any more."""
    supply, size = supply_for(product, materials), size_words(product, unit)
    sold_in = unit if product.item == WIRE or product.item.endswith("_m") else ""
    return TableLine(
        key_of(product),
        f"{supply.name}, {size}" if size else supply.name,
        _amount(0.0, sold_in),
        "no longer needed",
        "",
        _change(-amount, sold_in),
        f"{_amount(amount, sold_in)} were settled.",
        _GROUPS[supply.supplier],
        product,
        is_own(product, materials),
    )


def _amounts_of(answer, chosen: np.ndarray) -> dict[Product, float]:
    """What some segments take, by product."""
    take_off = answer.take_off
    found = {p.product: float(p.per_segment[chosen].sum()) for p in answer.plants}
    for b, trellis in enumerate(take_off.trellises):
        amounts = take_off.amounts[chosen & (take_off.block == b)].sum(axis=0)
        for item in ITEMS:
            product = product_of(item, trellis)
            found[product] = found.get(product, 0.0) + float(amounts[COLUMN[item]])
    return found


def _amount(value: float, unit: str) -> str:
    """An amount: pieces, or a length in the unit on show."""
    if not unit:
        return grouped(value, 0)
    return f"{grouped(value / unit_length_m(unit), 0)} {unit_label(unit)}"


def _ordered(order, unit: str) -> str:
    sold = order.sold
    if sold.name == "each":
        return f"{grouped(order.units, 0)}{' with spares' if order.need.spares else ''}"
    many = sold.name if order.units == 1 else _plural(sold.name)
    told = f"{grouped(order.units, 0)} {many} of {_amount(sold.holds, unit)}"
    if order.pallets:
        pallets = "pallet" if order.pallets == 1 else "pallets"
        told += f" on {grouped(order.pallets, 0)} {pallets}"
    return told


def _plural(name: str) -> str:
    """Several of a unit of sale.

    >>> _plural("roll"), _plural("box")
    ('rolls', 'boxes')
    """
    return f"{name}es" if name.endswith(("x", "s", "ch", "sh")) else f"{name}s"


def _money(value: float, materials: Materials) -> str:
    figure = grouped(value, 0 if value == round(value) else 2)
    return f"{figure} {materials.currency}".strip()


def _change(change: float | None, unit: str) -> str:
    if change is None or abs(change) < 0.5 * (unit_length_m(unit) if unit else 1.0):
        return ""
    return f"{'+' if change > 0 else '−'}{_amount(abs(change), unit)}"


def _meaning(line, unit: str, sold_in: str) -> str:
    order = line.order
    need, told = order.need, []
    told.append(
        f"Counted {_amount(need.counted, sold_in)}, with {_amount(need.spares, sold_in)} of spares."
    )
    cutting = order.cutting
    if cutting is not None:
        best = "no way of cutting takes fewer"
        if not cutting.is_best:
            best = f"no way of cutting takes fewer than {grouped(cutting.bound, 0)}"
        told.append(
            f"Cut from {grouped(cutting.n_rolls, 0)} rolls with {grouped(cutting.n_joins, 0)} joins; {best}."
        )
    if line.plant is not None:
        told.append(line.plant.note())
    if order.mass_kg is not None:
        told.append(f"Weighs {_mass(order.mass_kg, unit)}.")
    return " ".join(told)


def _mass(kilograms: float, unit: str) -> str:
    if unit == "m":
        return f"{grouped(kilograms, 0)} kg"
    return f"{grouped(kilograms / KG_PER_LB, 0)} lb"


def totals_text(answer, unit: str = "m") -> tuple[str, ...]:
    """What is told below the list: price and mass, what goes on a hectare or acre, how it is counted."""
    materials = answer.project.materials or Materials()
    ordered = [line.order for line in answer.lines]
    counted = answer.take_off
    area_m2, area = area_unit(unit)
    outline = float(counted.outline_m2.sum())
    if not ordered or not outline:
        return ()
    price, without = total(ordered, "price")
    lines = "line has" if without == 1 else "lines have"
    told = []
    if without < len(ordered):
        if without:
            told.append(f"Price {_money(price, materials)} so far; {without} {lines} no price yet.")
        else:
            by_area = _money(price * area_m2 / outline, materials)
            told.append(f"Price {_money(price, materials)}, {by_area} per {area}.")
    else:
        told.append("No price is known yet: pick a line, or read a list of items and prices.")
    mass, unknown = total(ordered, "mass_kg")
    if mass:
        some = " of what is known by mass" if unknown else ""
        told.append(f"Mass{some}: {_mass(mass, unit)}.")
    if materials.settled is not None:
        day = materials.settled.day
        on = f" on {day.isoformat()}" if day else ""
        told.append(f"Small figures with a sign are changes since the take-off settled{on}.")
    from .take_off_set import density_sentences

    told.append(density_sentences(answer.plans, counted, unit)[0])
    told.append(COUNTING_RULE)
    told.append(counted.statement)
    return tuple(told)
