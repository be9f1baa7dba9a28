"""Grafted plants in the take-off: how many vines take which plant, and what of it has yet to be ordered."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core.materials.units_of_sale import Need as MaterialNeed
from ..core.model import Product, Project, RowPlan, SaleUnit
from ..core.model.materials import PLANTS
from ..core.model.planting import Lot
from ..core.planting.assigned import assigned
from ..core.planting.needs import Need, needs
from .study_words import MONTHS
from .tally import grouped

_SOLD_AS = {"potted": "tray", "bare root": "bundle"}
_WAYS = {"potted": "potted plants", "bare root": "dormant plants with bare roots"}


@dataclass(frozen=True, eq=False)
class PlantDemand:
    """One plant that is assigned to vines.

    Attributes
    ----------
    product : Product
    need : Need
        Vines, spares, and what is there or ordered.
    per_segment : int array, shape (s,)
        Vines of it, over all plans.
    per_block : tuple of (str, int)
        The same by block; none without any.
    sold : SaleUnit or None
        By the tray or bundle of its lots; None where no lot says.
    order_by : tuple of (str, datetime.date)
        Last day to order, by way of growing; empty where no planting day is said.
    """

    product: Product
    need: Need
    per_segment: np.ndarray
    per_block: tuple[tuple[str, int], ...]
    sold: SaleUnit | None
    order_by: tuple[tuple[str, datetime.date], ...]

    @property
    def wanted(self) -> MaterialNeed | None:
        """What has yet to be ordered; None where all is there or ordered.

        Vines and spares apart as long as nothing is there, else all that is short in one figure.
        """
        need = self.need
        if not need.short:
            return None
        if need.short == need.wanted:
            return MaterialNeed(self.product, float(need.vines), float(need.spares), "each")
        return MaterialNeed(self.product, float(need.short), 0.0, "each")

    def note(self, day: datetime.date | None = None) -> str:
        """Of how many, and by when they must be ordered; `day` tells which days are past."""
        need, told = self.need, []
        if need.usable or need.on_order:
            told.append(
                f"{grouped(need.wanted)} are wanted, spares included: {grouped(need.usable)} are there, "
                f"{grouped(need.on_order)} on order."
            )
        if not self.order_by:
            told.append("Say when planting begins: the last day to order follows from it.")
            return " ".join(told)
        late = [(w, by) for w, by in self.order_by if day is not None and by < day]
        in_time = [told_by for told_by in self.order_by if told_by not in late]
        if in_time:
            days = " or ".join(f"{_WAYS[w]} by {day_words(by)}" for w, by in in_time)
            told.append(
                f"Order {days}, by usual times (common practice): the nursery says its own."
            )
        if late:
            days = " and ".join(f"{_WAYS[w]} ({day_words(by)})" for w, by in late)
            told.append(f"The usual last day is past for {days}: ask nurseries what they have.")
        return " ".join(told)


def day_words(day: datetime.date) -> str:
    """A day in words.

    Examples
    --------
    >>> day_words(datetime.date(2026, 12, 14))
    '14 December 2026'
    """
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"


def plant_demands(project: Project, plans: Sequence[RowPlan]) -> tuple[PlantDemand, ...]:
    """Plants that are assigned to vines, in order of first mention; none where nothing is assigned."""
    planting = project.planting
    if planting is None or not planting.assignments:
        return ()
    from .planted import begins_of

    found = assigned(plans, planting)
    n_segments = sum(plan.n_segments for plan in plans)
    names = [plan.block.name for plan in plans]
    plan_of = np.repeat(np.arange(len(plans)), [plan.n_segments for plan in plans])
    demands = []
    for i, need in enumerate(needs(found, begins_of(project))):
        if not need.vines:
            continue
        per_segment = np.bincount(found.segment[found.plant == i], minlength=n_segments)
        per_plan = np.bincount(plan_of, per_segment, len(plans)).astype(int).tolist()
        lots = [lot for lot in planting.lots if lot.plant == need.plant]
        demands.append(
            PlantDemand(
                Product(PLANTS, (), str(need.plant)),
                need,
                per_segment,
                tuple((name, n) for name, n in zip(names, per_plan, strict=True) if n),
                _sold(lots),
                need.order_by,
            )
        )
    return tuple(demands)


def _sold(lots: Sequence[Lot]) -> SaleUnit | None:
    """How the newest lot that says anything of it is sold."""
    lot = next((lot for lot in reversed(lots) if lot.tray), None)
    return None if lot is None else SaleUnit(_SOLD_AS[lot.grown], float(lot.tray))
