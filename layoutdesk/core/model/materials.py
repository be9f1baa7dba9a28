"""What a project says of its materials: trellises, what is bought and how it is sold, what was settled."""

from __future__ import annotations

import datetime
import math
from dataclasses import dataclass, replace

from .trellis import Trellis


@dataclass(frozen=True)
class SaleUnit:
    """How something is sold.

    Attributes
    ----------
    name : str
        "roll", "bundle", "tray", "each", …
    holds : float
        Pieces, or metres, in one. [each] or [m]
    price : float or None
        Of one; None where not known.
    mass_kg : float or None
        Of one. [kg]
    per_pallet : int
        Units on a full pallet; 0 where pallets do not matter.
    whole_pallets : bool
        Whether only full pallets are sold.
    """

    name: str = "each"
    holds: float = 1.0
    price: float | None = None
    mass_kg: float | None = None
    per_pallet: int = 0
    whole_pallets: bool = False

    def __post_init__(self):
        if not (math.isfinite(self.holds) and self.holds > 0):
            raise ValueError(f"holds: {self.holds!r} must be greater than 0")
        for name in ("price", "mass_kg"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and value >= 0):
                raise ValueError(f"{name}: {value!r} is below 0")
        if self.per_pallet < 0 or self.per_pallet != int(self.per_pallet):
            raise ValueError(f"per_pallet: {self.per_pallet!r} is no whole number")
        if self.whole_pallets and not self.per_pallet:
            raise ValueError("per_pallet: how many make a pallet is not said")


@dataclass(frozen=True)
class Product:
    """One thing to order: what it is, and the size that tells it from others of its kind.

    Attributes
    ----------
    item : str
        Of ITEMS, or `WIRE` for all wires of a size; of a drip system's parts; or `PLANTS`.
    size : tuple of float
        Wire: diameter [mm] and strength [MPa]; posts, stakes and braces: length [m]; pipe: outer and
        inner diameter [mm]; else empty.
    words : str
        What tells plants from others: variety, clone and rootstock; empty for all else.
    """

    item: str
    size: tuple[float, ...] = ()
    words: str = ""

    @property
    def is_any(self) -> bool:
        """Whether it stands for every size, or for every plant, of its item."""
        return not self.size and not self.words


WIRE = "wire"
"""Product of all wires of a size, whatever they are for: they come from the same rolls."""

PLANTS = "plants"
"""Item of grafted plants: what a nursery sells, by variety, clone and rootstock."""

SUPPLIERS = ("posts and anchors", "wire and fastenings", "stakes and shelters", "water", "nursery")
"""Kinds of supplier, each of which gets an order list of its own."""


@dataclass(frozen=True)
class Supply:
    """Something that can be ordered: a product, in which words, from which kind of supplier.

    A size that is left empty stands for every size of the item.
    """

    product: Product
    name: str
    supplier: str
    sold: SaleUnit = SaleUnit()

    def __post_init__(self):
        if self.supplier not in SUPPLIERS:
            raise ValueError(f"supplier: {self.supplier!r} is none of {', '.join(SUPPLIERS)}")


@dataclass(frozen=True)
class Conditions:
    """What wires meet besides their own weight; usual values are common practice.

    Attributes
    ----------
    colder_k, warmer_k : float
        How much colder and warmer it becomes than on the day wires are drawn. [K]
    crop_kg_m : float
        Fruit, wood and leaves on the fruiting wire. [kg/m]
    """

    colder_k: float = 30.0
    warmer_k: float = 25.0
    crop_kg_m: float = 3.0

    def __post_init__(self):
        for name, high in (("colder_k", 100.0), ("warmer_k", 100.0), ("crop_kg_m", 50.0)):
            value = getattr(self, name)
            if not (math.isfinite(value) and 0 <= value <= high):
                raise ValueError(f"{name}: {value!r} is outside 0 to {high:g}")


@dataclass(frozen=True)
class SettledTakeOff:
    """A take-off as it was settled, to tell later ones from.

    Attributes
    ----------
    day : datetime.date or None
    amounts : tuple of (str, tuple of (str, float))
        By block, each item that it took and how much. [each] or [m]
    """

    day: datetime.date | None
    amounts: tuple[tuple[str, tuple[tuple[str, float], ...]], ...]


@dataclass(frozen=True)
class Materials:
    """A project's trellises and what is known of the things to order.

    Attributes
    ----------
    trellises : tuple of (str, Trellis)
        By block name; a block without has the usual trellis.
    supplies : tuple of Supply
        The user's own, which go before the program's catalogue.
    currency : str
        Of all prices.
    conditions : Conditions
    settled : SettledTakeOff or None
    """

    trellises: tuple[tuple[str, Trellis], ...] = ()
    supplies: tuple[Supply, ...] = ()
    currency: str = ""
    conditions: Conditions = Conditions()
    settled: SettledTakeOff | None = None

    def trellis_of(self, block: str) -> Trellis:
        """A block's trellis; the usual one where it has none of its own."""
        return dict(self.trellises).get(block) or Trellis()

    def with_trellis(self, block: str, trellis: Trellis) -> Materials:
        """The same with one block's trellis exchanged."""
        return replace(self, trellises=with_named(self.trellises, block, trellis))


def with_named(pairs: tuple, name: str, value) -> tuple:
    """Pairs of name and value with one value exchanged or added at the end."""
    return tuple((dict(pairs) | {name: value}).items())
