"""What a site takes and what is ordered, as requests and answers, so that a window never waits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from ..core.materials.cautions import over_joined_finding, trellis_findings
from ..core.materials.ground_lengths import GroundLengths, ground_lengths
from ..core.materials.takeoff import TakeOff, take_off
from ..core.materials.units_of_sale import Need, Order, needs, orders, product_of, spare_amount
from ..core.model import Finding, Product, Project, RowPlan, Supply
from ..core.model.materials import PLANTS, Materials
from ..core.model.trellis import ITEMS
from ..core.terrain.surface import Surface
from ..core.water.parts import PARTS
from .catalogue import is_own, same_product, size_words, supply_for
from .plant_orders import PlantDemand, plant_demands
from .trellis_values import is_usual

USUAL_PART_SPARES_PCT = {
    # Ordered beyond the count, common practice.
    **dict.fromkeys(PARTS, 0.0),
    "emitters": 2.0,
    "pipe_m": 3.0,
    "bridge_tube_m": 3.0,
    "inlet_fittings": 3.0,
    "line_ends": 3.0,
}
"""Spares of a drip system's parts. [%]"""


@dataclass(frozen=True, eq=False)
class TakeOffRequest:
    """Take off `project` as laid in `plans`; `parts` are those of its drip system, counted elsewhere."""

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    surface: Surface | None = None
    parts: tuple = ()


@dataclass(frozen=True, eq=False)
class OrderLine:
    """One line of an order list.

    Attributes
    ----------
    supply : Supply
        What it is called, from whom, and how it is sold.
    order : Order
    change : float or None
        More (or less) counted than in the settled take-off; None where nothing was settled.
    plant : PlantDemand or None
        Of grafted plants: what is wanted in all, and by when it must be ordered.
    """

    supply: Supply
    order: Order
    change: float | None
    plant: PlantDemand | None = None


@dataclass(frozen=True, eq=False)
class TakeOffAnswer:
    """Counted, ordered, and looked at by mechanics.

    Attributes
    ----------
    take_off : TakeOff
    lines : tuple of OrderLine
        In the order of ITEMS, then the drip system's parts, then plants that have yet to be ordered.
    findings : tuple of Finding
    parts : tuple of Part
        As they went into the request: the drip system, block by block.
    gone : tuple of (Product, float)
        What was settled and is not needed any more, and how much it was.
    plants : tuple of PlantDemand
        Grafted plants of all vines that have any assigned, those that are there or ordered too.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    take_off: TakeOff
    lines: tuple[OrderLine, ...]
    findings: tuple[Finding, ...]
    parts: tuple = ()
    gone: tuple[tuple[Product, float], ...] = ()
    plants: tuple[PlantDemand, ...] = ()


class TakeOffCounter:
    """Answers requests; what is dear is kept while plans, heights and plants are the same."""

    def __init__(self):
        self._measured: tuple[tuple, GroundLengths] | None = None
        self._assigned: tuple[tuple, tuple, tuple[PlantDemand, ...]] | None = None

    def answer(self, request: TakeOffRequest) -> TakeOffAnswer:
        """Count what a project takes, and round it up to what is ordered."""
        project, plans = request.project, request.plans
        materials = project.materials or Materials()
        trellises = {p.block.name: materials.trellis_of(p.block.name) for p in plans}
        counted = take_off(plans, trellises, lengths=self._lengths(plans, request.surface))
        plants = {p.product: p for p in self._plants(project, plans)}
        to_order = (p.wanted for p in plants.values())
        wanted = (
            *needs(counted), *part_needs(request.parts), *(w for w in to_order if w is not None)
        )  # fmt: skip
        supplies = {need.product: supply_for(need.product, materials) for need in wanted}
        supplies |= {p.product: _plant_supply(p, materials) for p in plants.values()}
        ordered = orders(wanted, {product: s.sold for product, s in supplies.items()})
        before = _settled_by_product(counted, materials, supplies)
        amounts = {need.product: need.counted for need in wanted}
        # All vines that take a plant are settled, whatever of it is there or ordered by now.
        amounts |= {p.product: float(p.need.vines) for p in plants.values()}
        changes = dict.fromkeys(amounts)
        if before is not None:
            changes = {p: amount - before.pop(p, 0.0) for p, amount in amounts.items()}
        lines = tuple(
            OrderLine(supplies[p], o, changes[p], plants.get(p))
            for o in ordered
            for p in (o.need.product,)
        )
        return TakeOffAnswer(
            request.revision,
            project,
            plans,
            counted,
            lines,
            (
                *_over_joined(ordered),
                *_of_trellises(plans, trellises, materials),
                *_usual(plans, materials),
                *_unused(materials, supplies),
            ),
            tuple(request.parts),
            tuple((product, amount) for product, amount in (before or {}).items() if amount),
            tuple(plants.values()),
        )

    def _plants(self, project: Project, plans) -> tuple[PlantDemand, ...]:
        planting, water = project.planting, project.water
        said = (
            planting and (planting.assignments, planting.lots, planting.setting),
            water and water.demand.planting,
        )
        known = self._assigned
        if (
            known is None
            or known[0] != said
            or len(known[1]) != len(plans)
            or not _same(known[1], plans)
        ):
            self._assigned = known = said, tuple(plans), plant_demands(project, plans)
        return known[2]

    def _lengths(self, plans, surface: Surface | None) -> GroundLengths:
        ground = (*plans, surface)
        known = self._measured
        if known is None or len(known[0]) != len(ground) or not _same(known[0], ground):
            self._measured = known = ground, ground_lengths(plans, surface)
        return known[1]


def _same(before: Sequence, now: Sequence) -> bool:
    return all(a is b for a, b in zip(before, now, strict=True))


def _plant_supply(plant: PlantDemand, materials: Materials) -> Supply:
    """How a plant is sold: as the user says, else by the tray or bundle of its lots."""
    supply = supply_for(plant.product, materials)
    if plant.sold is None or is_own(plant.product, materials):
        return supply
    return replace(supply, sold=plant.sold)


def part_needs(parts) -> tuple[Need, ...]:
    """What a drip system needs, product by product, with spares.

    Parameters
    ----------
    parts : sequence of Part
    """
    counted: dict[Product, float] = {}
    units: dict[Product, str] = {}
    for part in parts:
        counted[part.product] = counted.get(part.product, 0.0) + part.amount
        units[part.product] = part.unit
    order = list(PARTS)
    listed = sorted(counted, key=lambda p: (order.index(p.item), p.size))
    return tuple(
        Need(
            product,
            counted[product],
            spare_amount(counted[product], USUAL_PART_SPARES_PCT[product.item], units[product]),
            units[product],
        )
        for product in listed
        if counted[product] > 0
    )


def _settled_by_product(
    counted: TakeOff, materials: Materials, wanted: Iterable[Product]
) -> dict[Product, float] | None:
    """What was settled, by the product that its item is now; None where nothing was.

    A settled take-off keeps items and no sizes: an item of several sizes is told from where its block's
    trellis has it, and what belongs to no product now is left aside.
    """
    if materials.settled is None:
        return None
    trellises = dict(zip(counted.blocks, counted.trellises, strict=True))
    found: dict[Product, float] = {}
    for block, amounts in materials.settled.amounts:
        for item, amount in amounts:
            if item in ITEMS:
                product = product_of(item, trellises.get(block) or materials.trellis_of(block))
            else:
                name, _, size = item.partition(" ")
                if name == PLANTS:
                    product = Product(name, (), size)
                else:
                    sizes = tuple(float(s) for s in size.split("x")) if size else ()
                    product = Product(name, sizes)
                # Sizes are kept to six digits.
                product = next((w for w in wanted if same_product(w, product)), product)
            found[product] = found.get(product, 0.0) + amount
    return found


def _usual(plans, materials: Materials) -> tuple[Finding, ...]:
    """That some blocks have the usual trellis, since nobody described one."""
    names = [p.block.name for p in plans if is_usual(materials.trellis_of(p.block.name))]
    if not names:
        return ()
    listed = ", ".join(names) if len(names) < 6 else f"{len(names)} blocks"
    return (
        Finding(
            "trellis-usual",
            f"Nobody described the trellis of {listed} yet: the usual one is counted. Look through its "
            "paragraph on the stage Materials before anything is ordered.",
        ),
    )


def _unused(materials: Materials, used: dict[Product, Supply]) -> tuple[Finding, ...]:
    """Own items that stand for nothing: a size may have been mistyped."""
    products = list(used)
    idle = [
        s
        for s in materials.supplies
        if not any(
            p.item == s.product.item and (s.product.is_any or same_product(p, s.product))
            for p in products
        )
    ]
    if not idle:
        return ()
    names = ", ".join(
        f"{s.name} ({size_words(s.product)})" if size_words(s.product) else s.name for s in idle[:5]
    )
    more = f" and {len(idle) - 5} more" if len(idle) > 5 else ""
    return (
        Finding(
            "own-items-unused",
            f"Nothing is taken off of your own items {names}{more}: look at their sizes, if they "
            "should be.",
        ),
    )


def _over_joined(ordered: Sequence[Order]) -> tuple[Finding, ...]:
    over = [o for o in ordered if o.over_joined]
    if not over:
        return ()
    names = [f"{size_words(o.need.product)} wire" for o in over]
    return (over_joined_finding(names, sum(o.over_joined for o in over)),)


def _of_trellises(plans, trellises, materials: Materials) -> tuple[Finding, ...]:
    found = []
    for plan in plans:
        found += trellis_findings(plan, trellises[plan.block.name], materials.conditions)
    return tuple(found)
