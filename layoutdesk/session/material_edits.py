"""Edits of what is ordered: what was settled, and the user's own items."""

from __future__ import annotations

import datetime
from dataclasses import replace

from ..core.materials.takeoff import COLUMN
from ..core.materials.units_of_sale import mass_kg_m
from ..core.model import InputProblem, Product, Project, SaleUnit, SettledTakeOff, Supply
from ..core.model.materials import SUPPLIERS, WIRE, Materials
from ..core.model.trellis import ITEMS
from ..formats.takeoffset import sized_item
from .catalogue import same_product
from .quantities import Quantity, typed
from .supply_words import supply_texts

_NAME_MOST = 80
_QUANTITIES = {
    "holds": Quantity("what one holds", "number", 1e-3, 1e7),
    "holds_m": Quantity("what one holds", "length", 1e-3, 1e6),
    "price": Quantity("price", "money", 0, 1e9, none="not known"),
    "mass": Quantity("mass", "mass", 0, 1e6, none="not known"),
}


def settled_from(answer, day: datetime.date | None = None) -> SettledTakeOff:
    """The amounts of a take-off, block by block, to tell later ones from.

    Parts of the drip system are kept with their size behind their name, plants with what tells them apart;
    parts of the whole site under an empty name.
    """
    counted = answer.take_off
    amounts: dict[str, dict[str, float]] = {
        name: {
            item: float(counted.per_block[b, COLUMN[item]])
            for item in ITEMS
            if counted.per_block[b, COLUMN[item]]
        }
        for b, name in enumerate(counted.blocks)
    }
    for part in answer.parts:
        key = sized_item(part.product)
        mine = amounts.setdefault(part.block, {})
        mine[key] = mine.get(key, 0.0) + float(part.amount)
    for plant in answer.plants:
        for block, vines in plant.per_block:
            amounts.setdefault(block, {})[sized_item(plant.product)] = float(vines)
    return SettledTakeOff(day, tuple((b, tuple(items.items())) for b, items in amounts.items()))


def _with(project: Project, **changes) -> Project:
    materials = project.materials or Materials()
    return replace(project, materials=replace(materials, **changes))


def with_settled(project: Project, answer, day: datetime.date | None = None) -> Project:
    """The project with a take-off kept as settled."""
    return _with(project, settled=settled_from(answer, day))


def with_own_supplies(project: Project, supplies) -> Project:
    """The project with own items; those of the same product are exchanged."""
    supplies = tuple(supplies)
    known = (project.materials or Materials()).supplies
    kept = (s for s in known if not any(same_product(s.product, n.product) for n in supplies))
    fresh = {s.product: s for s in (*kept, *supplies)}
    return _with(project, supplies=tuple(fresh.values()))


def with_own_supply(project: Project, supply: Supply) -> Project:
    """The project with one more own item."""
    return with_own_supplies(project, (supply,))


def without_own_supply(project: Project, product: Product) -> Project:
    """The project with the catalogue's item again, for this size and for all sizes."""
    known = (project.materials or Materials()).supplies
    kept = (
        s
        for s in known
        if not any(same_product(s.product, p) for p in (product, Product(product.item)))
    )
    return _with(project, supplies=tuple(kept))


def typed_supply(
    generic: Supply,
    *,
    name: str,
    sold_by: str,
    holds: str,
    price: str = "",
    mass: str = "",
    unit: str = "m",
    counted_in_m: bool = False,
) -> Supply:
    """An own item as typed; an empty name, unit or content stays, an empty price or mass is not known.

    Of a roll of wire the mass follows the length where that was changed, and the length the mass.

    Parameters
    ----------
    generic : Supply
        How the product is ordered now.
    name, sold_by, holds, price, mass : str
    unit : str
        Of bare lengths and masses.
    counted_in_m : bool
        Whether it is bought by length.

    Raises
    ------
    InputProblem
    """
    sold = generic.sold
    label = " ".join(name.split()) or generic.name
    if len(label) > _NAME_MOST:
        raise InputProblem(f"Name: it has {len(label)} letters, {_NAME_MOST} are the most.")
    if generic.supplier not in SUPPLIERS:
        raise ValueError(f"supplier: {generic.supplier!r}")
    plain = price.strip()
    for mark in ("\u202f", "\u00a0", " "):
        plain = plain.replace(mark, "")
    # What still reads as it was shown is kept to its last digit.
    shown = supply_texts(generic, counted_in_m, unit)
    holds, mass = holds.strip(), mass.strip()
    holds_stays, mass_stays = holds in ("", shown["holds"]), mass == shown["mass"]
    kind = _QUANTITIES["holds_m" if counted_in_m else "holds"]
    holding = sold.holds if holds_stays else typed(kind, holds, unit)
    weighs = sold.mass_kg if mass_stays else typed(_QUANTITIES["mass"], mass or "none", unit)
    each = mass_kg_m(generic.product)
    if each is not None and generic.product.item == WIRE:
        # Of a roll of wire length and mass say the same: the one that was changed leads.
        if holds_stays and not mass_stays and weighs:
            holding = weighs / each
        elif not weighs or (mass_stays and not holds_stays):
            weighs = each * holding
    return Supply(
        generic.product,
        label,
        generic.supplier,
        SaleUnit(
            " ".join(sold_by.split()) or sold.name,
            holding,
            typed(_QUANTITIES["price"], plain.strip("$€£¥") or "none", unit),
            weighs,
            sold.per_pallet,
            sold.whole_pallets,
        ),
    )
