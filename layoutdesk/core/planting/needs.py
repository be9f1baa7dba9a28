"""What is needed of every plant, what came, and when the rest must be ordered."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from ..model.findings import Finding
from ..model.planting import Lot, Plant
from .assigned import Assigned


@dataclass(frozen=True)
class Need:
    """Of one plant, over the whole site; all counts are plants.

    `wanted` is vines and spares; `usable` came and was not rejected; `on_order` is ordered and has not come;
    `short` is what neither came nor is ordered, `surplus` what is more than wanted. `order_by` is the last
    day to place the order, for potted and for bare-root plants, by the planting day; None where no day is
    said. `vines_by_use` tells buffer, pollinator and trial vines apart.
    """

    plant: Plant
    vines: int
    spares: int
    ordered: int
    usable: int
    on_order: int
    short: int
    surplus: int
    vines_by_use: tuple[tuple[str, int], ...]
    order_potted_by: datetime.date | None
    order_bare_root_by: datetime.date | None

    @property
    def wanted(self) -> int:
        return self.vines + self.spares


@dataclass(frozen=True)
class LotUse:
    """Of one lot: vines it is assigned to, what is left or missing of it, and what its tags say."""

    lot: Lot
    vines: int
    left: int
    tags: int
    tagged_plants: int
    contradictions: tuple[str, ...]


def needs(found: Assigned, begins: datetime.date | None) -> tuple[Need, ...]:
    """One for each plant of `found.plants`."""
    raise NotImplementedError


def lot_uses(found: Assigned) -> tuple[LotUse, ...]:
    """One for each lot, in order."""
    raise NotImplementedError


def planting_findings(
    found: Assigned, needed: tuple[Need, ...], uses: tuple[LotUse, ...], begins, today
) -> tuple[Finding, ...]:
    """What is amiss: vines without a plant, lots over-assigned, mixed tags, tags not recorded, late orders."""
    raise NotImplementedError
