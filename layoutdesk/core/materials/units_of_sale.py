"""From what is needed to what is ordered: rolls, bundles, trays and pallets, with spares."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ..model.materials import WIRE, Product, SaleUnit
from ..model.trellis import ITEMS, Trellis
from .mechanics import roll_length_m, wire_mass_kg_m
from .rolls import Cutting, cut_rolls, joins_needed
from .takeoff import COLUMN, TakeOff, wire_cut_m

COIL_KG = 25.0
"""A usual roll of wire; printed trade figures of 1980 are for this. [kg]"""

POLYETHYLENE_KG_M3 = 950.0
"""Density of pipes: 940 to 960 is printed for PE 80 and PE 100 (from memory). [kg/m³]"""

_CLOSE = 1e-9


USUAL_UNITS: dict[str, SaleUnit] = {
    # Without prices, common practice: what is here makes a first list, suppliers say their own.
    "training_stakes": SaleUnit("bundle", 50),
    "shelters": SaleUnit("bundle", 50),
    "stake_clips": SaleUnit("bag", 500),
    "pair_clips": SaleUnit("bag", 500),
    "drip_clips": SaleUnit("bag", 500),
    "staples": SaleUnit("box", 1000),
    "tensioners": SaleUnit("box", 100),
    "drip_tubes": SaleUnit("bundle", 100),
    "drip_line_m": SaleUnit("roll", 300.0),
}
"""By item; what is not here is sold one by one, and wire by the roll of COIL_KG."""


@dataclass(frozen=True, eq=False)
class Need:
    """What is needed of one product.

    Attributes
    ----------
    product : Product
    counted, spares : float
        By the take-off, and beyond it; pieces whole, block by block. [each] or [m]
    unit : str
        "each" or "m".
    cuts_m : float array, shape (c,)
        Single wires; empty for all that is not cut from rolls. [m]
    joins_allowed : int array, shape (c,)
    """

    product: Product
    counted: float
    spares: float
    unit: str
    cuts_m: np.ndarray = field(default_factory=lambda: np.empty(0))
    joins_allowed: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))


def needs(take_off: TakeOff) -> tuple[Need, ...]:
    """What a site needs, product by product: the same size in several blocks is one product."""
    found: dict[Product, list[tuple[float, float]]] = {}
    for b, trellis in enumerate(take_off.trellises):
        for item, (_, unit) in ITEMS.items():
            counted = float(take_off.per_block[b, COLUMN[item]])
            if not counted:
                continue
            spares = spare_amount(counted, trellis.spare_pct(item), unit)
            found.setdefault(product_of(item, trellis), []).append((counted, spares))
    cuts = _cuts(take_off)
    listed = sorted(found, key=lambda p: (_rank(p.item), p.size))
    return tuple(
        Need(
            product,
            sum(c for c, _ in found[product]),
            sum(s for _, s in found[product]),
            "m" if product.item == WIRE else ITEMS[product.item][1],
            *cuts.get(product, ()),
        )
        for product in listed
    )


def spare_amount(counted: float, spare_pct: float, unit: str) -> float:
    """Spares of one item in one block: whole pieces, rounded up, or metres as they are.

    Examples
    --------
    >>> spare_amount(120.0, 2.0, "each"), spare_amount(120.0, 2.0, "m")
    (3, 2.4)
    """
    spares = counted * spare_pct / 100
    return math.ceil(spares - _CLOSE) if unit == "each" else spares


def _rank(item: str) -> int:
    return COLUMN["fruiting_wire_m" if item == WIRE else item]


_WIRE_OF_ITEM = {
    "fruiting_wire_m": "fruiting_wire",
    "foliage_wire_m": "foliage_wire",
    "drip_wire_m": "drip_wire",
    "tie_wire_m": "tie_wire",
}


def product_of(item: str, trellis: Trellis) -> Product:
    """What is ordered for an item of a block with this trellis."""
    if item in _WIRE_OF_ITEM:
        return Product(WIRE, getattr(trellis, _WIRE_OF_ITEM[item]).size)
    lengths = {
        "training_stakes": trellis.stake_length_m,
        "line_posts": trellis.line_post_length_m,
        "end_posts": trellis.end_post_length_m,
        "brace_posts": trellis.end_post_length_m,
    }
    return Product(item, (lengths[item],) if item in lengths else ())


def _cuts(take_off: TakeOff) -> dict[Product, tuple[np.ndarray, np.ndarray]]:
    """Single wires of every size, and how often each may be joined; ties never."""
    parts: dict[Product, list[tuple[np.ndarray, int]]] = {}
    for b, trellis in enumerate(take_off.trellises):
        mine = take_off.block == b
        cut = wire_cut_m(trellis, take_off.lengths.length_m[mine])
        for run in trellis.wires:
            product = Product(WIRE, run.wire.size)
            parts.setdefault(product, []).append((np.tile(cut, run.lines), trellis.joins_allowed))
        if take_off.tie_m[b]:
            ties = np.full(2 * len(cut), take_off.tie_m[b])
            parts.setdefault(Product(WIRE, trellis.tie_wire.size), []).append((ties, 0))
    return {
        product: (
            np.concatenate([c for c, _ in some]),
            np.concatenate([np.full(len(c), joins) for c, joins in some]),
        )
        for product, some in parts.items()
    }


@dataclass(frozen=True, eq=False)
class Order:
    """One line of an order.

    Attributes
    ----------
    need : Need
    sold : SaleUnit
    units, pallets : int
        Units of sale, and the pallets that they stand on, the last maybe not full.
    cutting : Cutting or None
        How wires come from the rolls; it counts those that are needed, spares come from what is left.
    over_joined : int
        Wires so long that rolls of this length make more joins in them than are allowed.
    """

    need: Need
    sold: SaleUnit
    units: int
    pallets: int
    cutting: Cutting | None = None
    over_joined: int = 0

    @property
    def holds(self) -> float:
        """All that is bought. [each] or [m]"""
        return self.units * self.sold.holds

    @property
    def beyond(self) -> float:
        """Bought beyond the need and its spares, by rounding up and by what rolls leave."""
        return self.holds - self.need.counted - self.need.spares

    @property
    def price(self) -> float | None:
        return None if self.sold.price is None else self.units * self.sold.price

    @property
    def mass_kg(self) -> float | None:
        return None if self.sold.mass_kg is None else self.units * self.sold.mass_kg


def usual_unit(product: Product) -> SaleUnit:
    """How a product is usually sold, with no price."""
    if product.item == WIRE:
        length = float(roll_length_m(COIL_KG, product.size[0]))
        return SaleUnit("roll", length, None, COIL_KG)
    return USUAL_UNITS.get(product.item, SaleUnit())


def mass_kg_m(product: Product) -> float | None:
    """Mass of a metre, by the size: wire as steel, pipe as polyethylene; None for all else. [kg/m]

    Sources: from definition, cross section times density.

    Examples
    --------
    >>> round(mass_kg_m(Product("wire", (2.5, 1200.0))), 4)
    0.0385
    >>> round(mass_kg_m(Product("pipe_m", (63.0, 55.4))), 2)
    0.67
    """
    if product.item == WIRE and product.size:
        return float(wire_mass_kg_m(product.size[0]))
    if product.item == "pipe_m" and product.size:
        outer, inner = product.size
        return math.pi / 4 * (outer**2 - inner**2) * 1e-6 * POLYETHYLENE_KG_M3
    return None


def wire_roll(length_m: float, diameter_mm: float, price: float | None = None) -> SaleUnit:
    """A roll of wire by its length, with the mass of so much steel."""
    return SaleUnit("roll", length_m, price, float(length_m * wire_mass_kg_m(diameter_mm)))


def orders(
    wanted: Sequence[Need], sold: Mapping[Product | str, SaleUnit] | None = None
) -> tuple[Order, ...]:
    """Needs rounded up to units of sale.

    Of wire as many rolls as its cuts take, and no fewer than all metres with spares do: what cuts
    leave in the rolls counts as spare. A wire that needs more joins than are allowed has no more than
    it needs, and is told.

    Parameters
    ----------
    sold : mapping, optional
        By product, or by item for all sizes of it; the usual unit for all others.
    """
    sold = sold or {}
    return tuple(
        _ordered(
            need, sold.get(need.product) or sold.get(need.product.item) or usual_unit(need.product)
        )
        for need in wanted
    )


def _ordered(need: Need, sold: SaleUnit) -> Order:
    units = math.ceil((need.counted + need.spares) / sold.holds - _CLOSE)
    cutting, over = None, 0
    if len(need.cuts_m):
        least = joins_needed(need.cuts_m, sold.holds)
        over = int((least > need.joins_allowed).sum())
        cutting = cut_rolls(need.cuts_m, sold.holds, np.maximum(least, need.joins_allowed))
        units = max(units, cutting.n_rolls)
    pallets = -(-units // sold.per_pallet) if sold.per_pallet else 0
    if sold.whole_pallets:
        units = pallets * sold.per_pallet
    return Order(need, sold, units, pallets, cutting, over)


def total(lines: Sequence[Order], what: str) -> tuple[float, int]:
    """Sum of "price" or "mass_kg" over lines that have it, and how many lines have not."""
    values = [getattr(line, what) for line in lines]
    known = [v for v in values if v is not None]
    return math.fsum(known), len(values) - len(known)
