"""What a site takes and what is ordered, as requests and answers, so that a window never waits."""

from __future__ import annotations

from dataclasses import dataclass

from ..core.materials.takeoff import TakeOff
from ..core.materials.units_of_sale import Order
from ..core.model import Finding, Project, RowPlan, Supply
from ..core.terrain.surface import Surface


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
    """One line of an order list: an order, and what it is called, from whom."""

    supply: Supply
    order: Order
    change: float | None
    """More (or less) counted than in the settled take-off; None where nothing was settled."""


@dataclass(frozen=True, eq=False)
class TakeOffAnswer:
    """Counted, ordered, and looked at by mechanics.

    Attributes
    ----------
    take_off : TakeOff
    lines : tuple of OrderLine
        In the order of ITEMS, then the drip system's parts.
    findings : tuple of Finding
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    take_off: TakeOff
    lines: tuple[OrderLine, ...]
    findings: tuple[Finding, ...]


class TakeOffCounter:
    """Answers requests; lengths on the ground are kept while plans and heights are the same."""

    def answer(self, request: TakeOffRequest) -> TakeOffAnswer:
        raise NotImplementedError
