"""What the files of a take-off are written from: amounts by row and block, orders, and what is said of them."""

from __future__ import annotations

import datetime
import itertools
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from ..core.layout.numbering import segment_letter
from ..core.materials.cautions import WireCheck
from ..core.materials.mechanics import EndPull, EndShape
from ..core.materials.takeoff import COLUMN, COUNTING_RULE, TakeOff
from ..core.materials.units_of_sale import Order, total
from ..core.model import Finding, Product, Project
from ..core.model.materials import PLANTS, SUPPLIERS, WIRE
from ..core.model.trellis import ITEMS
from .compareset import shown_number


@dataclass(frozen=True)
class PeopleUnits:
    """In which units people read a list: each one's label, and its size in SI."""

    unit: str = "m"
    length: str = "m"
    length_m: float = 1.0
    mass: str = "kg"
    mass_kg: float = 1.0
    area: str = "ha"
    area_m2: float = 1e4
    force: str = "N"
    force_n: float = 1.0

    @property
    def area_word(self) -> str:
        return {"ha": "hectare", "ac": "acre"}.get(self.area, self.area)

    def amount(self, value: float, unit: str) -> float:
        """An amount of pieces or metres as people read it."""
        return value / self.length_m if unit == "m" else value

    def label(self, unit: str) -> str:
        return self.length if unit == "m" else unit


@dataclass(frozen=True)
class Count:
    """Where an order's amount comes from: one item of one block, "" being the site's own.

    `amount` and `spares` are pieces or metres, `spare_pct` what spares are asked for by. [%]
    """

    block: str
    item: str
    label: str
    amount: float
    spare_pct: float
    spares: float


@dataclass(frozen=True, eq=False)
class OrderRow:
    """One line of an order list.

    Attributes
    ----------
    order : Order
    name, size : str
        In words, in people's units.
    supplier : str
        Of SUPPLIERS.
    change : float or None
        More (or less) counted than before; None where nothing was settled. [each] or [m]
    counts : tuple of Count
        Their sums are what is counted and its spares.
    note : str
        How wire is cut from its rolls, of how many plants these are and by when to order them; empty for
        all else.
    order_by : tuple of (str, datetime.date)
        Of plants: last day to order by way of growing.
    """

    order: Order
    name: str
    size: str
    supplier: str
    change: float | None
    counts: tuple[Count, ...]
    note: str = ""
    order_by: tuple[tuple[str, datetime.date], ...] = ()

    @property
    def unit(self) -> str:
        return self.order.need.unit

    @property
    def told(self) -> str:
        """Name with its size, where the name does not say it."""
        return self.name if not self.size or self.size in self.name else f"{self.name}, {self.size}"


@dataclass(frozen=True)
class TrellisCheck:
    """One trellis by mechanics, and the blocks that have it between the same posts.

    Attributes
    ----------
    blocks : tuple of str
    span_m, anchor_m : float
        From post to post, and out to the anchor. [m]
    wires : tuple of WireCheck
    shape : EndShape or None
    pull, cold : EndPull
        On one end as drawn, and in the cold.
    """

    blocks: tuple[str, ...]
    span_m: float
    anchor_m: float
    wires: tuple[WireCheck, ...]
    shape: EndShape | None
    pull: EndPull
    cold: EndPull


@dataclass(frozen=True)
class Change:
    """An item of a block now and before. [each] or [m]"""

    block: str
    item: str
    now: float
    before: float


@dataclass(frozen=True, eq=False)
class TakeOffSet:
    """Everything that the files of a take-off are written from.

    Attributes
    ----------
    project : Project
    take_off : TakeOff
    orders : tuple of OrderRow
    checks : tuple of TrellisCheck
    changes : tuple of Change
        Empty where there is nothing to compare with.
    changed_from : str
        What it is compared with, in words.
    statement : str
        How lengths were taken, in people's units.
    density : tuple of str
        Vines counted and by area, for the site and each block, a sentence each.
    paragraphs : tuple of (str, str)
        Headings with trellises in words.
    findings : tuple of Finding
    found : tuple of str
        The same in people's units.
    cautions : tuple of str
    terrain : str
        Where heights come from; empty where there are none.
    revision : str
    day : datetime.date or None
    currency : str
    units : PeopleUnits
    parts : tuple of Part
        Of the drip system, by block, "" being the site's own.
    notes : tuple of str
        What else is to be known, such as what was assumed.
    plants : tuple of (Product, tuple of (str, int))
        Grafted plants, with the vines of each block that take them, ordered or not.
    """

    project: Project
    take_off: TakeOff
    orders: tuple[OrderRow, ...]
    checks: tuple[TrellisCheck, ...]
    changes: tuple[Change, ...]
    changed_from: str
    statement: str
    density: tuple[str, ...]
    paragraphs: tuple[tuple[str, str], ...]
    findings: tuple[Finding, ...]
    found: tuple[str, ...]
    cautions: tuple[str, ...]
    terrain: str
    revision: str
    day: datetime.date | None = None
    currency: str = ""
    units: PeopleUnits = field(default_factory=PeopleUnits)
    parts: tuple = ()
    notes: tuple[str, ...] = ()
    plants: tuple[tuple[Product, tuple[tuple[str, int], ...]], ...] = ()
    counting_rule: str = COUNTING_RULE

    @cached_property
    def items(self) -> tuple[str, ...]:
        """Items of which there is any on the site, in the order of ITEMS."""
        return tuple(i for i in ITEMS if self.take_off.site[COLUMN[i]] > 0)

    @cached_property
    def rows(self) -> tuple[tuple[int, int, str], ...]:
        """Block index, number and letters of the segments of every row."""
        t = self.take_off
        edges = [*t.row_starts.tolist(), len(t.block)]
        return tuple(
            (
                int(t.block[a]),
                int(t.number[a]),
                " ".join(segment_letter(k) for k in t.letter[a:b].tolist()),
            )
            for a, b in itertools.pairwise(edges)
        )

    @property
    def said_of(self) -> str:
        """Revision, and the day where one is given."""
        return f"Revision {self.revision}" + (f", {self.day.isoformat()}" if self.day else "")

    @property
    def price(self) -> tuple[float, int]:
        """Sum of what is known, and how many lines have no price."""
        return total([row.order for row in self.orders], "price")

    @property
    def mass_kg(self) -> tuple[float, int]:
        """Sum of what is known, and how many lines have no mass. [kg]"""
        return total([row.order for row in self.orders], "mass_kg")

    @property
    def lists(self) -> tuple[tuple[str, tuple[OrderRow, ...]], ...]:
        """Order lines by kind of supplier; none without a line."""
        found = [(s, tuple(r for r in self.orders if r.supplier == s)) for s in SUPPLIERS]
        return tuple((s, rows) for s, rows in found if rows)

    @property
    def wires(self) -> tuple[OrderRow, ...]:
        """Lines that are cut from rolls."""
        return tuple(r for r in self.orders if r.order.cutting is not None)

    @property
    def noted(self) -> tuple[OrderRow, ...]:
        """Lines with something to be told: those that are cut, and plants."""
        return tuple(r for r in self.orders if r.note)


def sized_item(product: Product) -> str:
    """An item with its size, or its plant, behind its name, as a settled take-off keeps it.

    Examples
    --------
    >>> sized_item(Product("pipe_m", (63.0, 58.2))), sized_item(Product("filters"))
    ('pipe_m 63x58.2', 'filters')
    """
    size = product.words or "x".join(f"{s:g}" for s in product.size)
    return f"{product.item} {size}".strip()


def item_name(item: str) -> str:
    """Label of an item of a take-off, of a drip system or of plants, maybe with what tells it apart.

    Examples
    --------
    >>> item_name("line_posts"), item_name("pipe_m 63x58.2")
    ('Line posts', 'Pipe, 63x58.2')
    """
    item, _, size = item.partition(" ")
    if size:
        return f"{item_name(item)}, {size}"
    if item in ITEMS:
        return ITEMS[item][0]
    if item == WIRE:
        return "Wire"
    if item == PLANTS:
        return "Grafted plants"
    from ..core.water.parts import PARTS

    return PARTS[item][0] if item in PARTS else item.replace("_", " ").capitalize()


def item_unit(item: str) -> str:
    """Unit an item is counted in: "each" or "m"."""
    name = item.partition(" ")[0]
    return "m" if name == WIRE or name.endswith("_m") else "each"


def plain_amount(value: float, unit: str) -> float | int:
    """Whole pieces as such; metres to the millimetre.

    Examples
    --------
    >>> plain_amount(12.0, "each"), plain_amount(3.14159, "m")
    (12, 3.142)
    """
    return round(value, 3) if unit == "m" else round(value)


def many(count: float, one: str, more: str = "") -> str:
    """A number with its noun.

    Examples
    --------
    >>> many(1, "roll"), many(2, "roll"), many(3, "box"), many(2, "piece of pipe", "pieces of pipe")
    ('1 roll', '2 rolls', '3 boxes', '2 pieces of pipe')
    """
    plural = more or (f"{one}es" if one.endswith(("x", "s", "ch", "sh")) else f"{one}s")
    return f"{shown_number(count, 0)} {one if count == 1 else plural}"


def sold_words(row: OrderRow, units: PeopleUnits) -> str:
    """What is to be ordered: a number of units of sale, and what one holds.

    Examples
    --------
    >>> from layoutdesk.core.materials.units_of_sale import Need, orders
    >>> from layoutdesk.core.model.materials import Product
    >>> order = orders([Need(Product("staples"), 4100.0, 205.0, "each")])[0]
    >>> row = OrderRow(order, "Staples", "", "wire and fastenings", None, ())
    >>> sold_words(row, PeopleUnits()).replace("\\u202f", " ")
    '5 boxes of 1 000'
    """
    order, sold = row.order, row.order.sold
    if sold.name == "each":
        return shown_number(order.units, 0)
    holds = units.amount(sold.holds, row.unit)
    decimals = 0 if abs(holds - round(holds)) < 0.05 or holds >= 100 else 1
    length = f" {units.length}" if row.unit == "m" else ""
    return f"{many(order.units, sold.name)} of {shown_number(holds, decimals)}{length}"


def cut_said(row: OrderRow, units: PeopleUnits) -> str:
    """How a wire is cut from its rolls, in two sentences; empty for what is not cut."""
    order, cutting = row.order, row.order.cutting
    if cutting is None:
        return ""

    def length(value_m: float) -> str:
        return f"{shown_number(value_m / units.length_m, 1)} {units.length}"

    cuts = order.need.cuts_m
    rolls = many(cutting.n_rolls, "roll")
    proof = (
        f"{rolls}, and no way of cutting takes fewer."
        if cutting.is_best
        else f"{rolls}; no way of cutting takes fewer than {shown_number(cutting.bound, 0)}."
    )
    most = int(cutting.joins.max(initial=0))
    joins = (
        "No wire is joined."
        if not cutting.n_joins
        else f"{many(cutting.n_joins, 'join')}, no more than {most} in one wire."
    )
    spare = order.units - cutting.n_rolls
    more = f" {many(spare, 'roll')} more as spares." if spare > 0 else ""
    over = (
        f" {many(order.over_joined, 'wire')} need more joins than the trellis allows: take longer rolls."
        if order.over_joined
        else ""
    )
    left = float(cutting.left_m.sum())
    shortest, longest = length(float(cuts.min())), length(float(cuts.max()))
    reach = f"of {longest}" if shortest == longest else f"from {shortest} to {longest}"
    return (
        f"{many(len(cuts), 'piece')} {reach}: "
        f"{proof}{more} {joins}{over} {length(left)} are left over in the rolls that are cut."
    )


def total_said(rows: Iterable[OrderRow], currency: str) -> str:
    """Price of lines together, and how many have none; empty where no line has one."""
    rows = tuple(rows)
    price, missing = total([r.order for r in rows], "price")
    if missing == len(rows):
        return ""
    text = f"{shown_number(price, 2)} {currency}".strip()
    return f"{text} without {many(missing, 'line')} that have no price" if missing else text


def about_sections(take_off: TakeOffSet) -> list[tuple[str, tuple[str, ...]]]:
    """What every reader of a list must know, under headings; no heading without words."""
    sections = [
        ("Counting rule", (take_off.counting_rule, *take_off.notes)),
        (
            "Lengths",
            tuple(
                t
                for t in (
                    take_off.statement,
                    f"{take_off.terrain.rstrip('.')}." if take_off.terrain else "",
                )
                if t
            ),
        ),
        ("Vines and the theoretical density", take_off.density),
        *((heading, tuple(text.split("\n"))) for heading, text in take_off.paragraphs),
        ("Findings", take_off.found),
        ("Cautions", take_off.cautions),
    ]
    return [(heading, texts) for heading, texts in sections if texts]
