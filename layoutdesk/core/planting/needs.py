"""What is needed of every plant, what came, and when the rest must be ordered."""

from __future__ import annotations

import calendar
import datetime
import math
from dataclasses import dataclass

import numpy as np

from ..layout.numbering import mark_code
from ..model.findings import Finding
from ..model.planting import USES, Lot, Plant, Tag
from .assigned import Assigned, vines_of_parts

_DUE_DAYS = 60
"""An order is told as due so long before its last day (common practice). [days]"""
_TAGGED = 20
"""One plant in so many carries a tag (common practice)."""


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
    planting, setting = found.planting, found.planting.setting
    n_plants = len(found.plants)
    vines = np.bincount(found.plant[found.plant >= 0], minlength=n_plants)
    use_of = np.array([USES.index(a.use) for a in planting.assignments] or [0])
    by_use = np.zeros((n_plants, len(USES)), np.int64)
    held = found.plant >= 0
    np.add.at(by_use, (found.plant[held], use_of[found.assignment[held]]), 1)
    lines = []
    for i, plant in enumerate(found.plants):
        lots = [lot for lot in planting.lots if lot.plant == plant]
        n = int(vines[i])
        # Less a hair: 2 % of 50 is one plant and not two.
        spares = math.ceil(n * setting.spares_pct / 100 - 1e-9)
        usable = sum(lot.usable for lot in lots)
        on_order = sum(lot.ordered for lot in lots if lot.came is None and not lot.delivered)
        there = usable + on_order
        lines.append(
            Need(
                plant,
                n,
                spares,
                sum(lot.ordered for lot in lots),
                usable,
                on_order,
                max(n + spares - there, 0),
                max(there - n - spares, 0),
                tuple((use, int(by_use[i, u])) for u, use in enumerate(USES) if by_use[i, u]),
                begins and begins - datetime.timedelta(weeks=setting.potted_weeks),
                begins and months_before(begins, setting.bare_root_months),
            )
        )
    return tuple(lines)


def months_before(day: datetime.date, months: float) -> datetime.date:
    """A day so many months earlier: the same day of the month, or the last there is; parts of a month
    count as parts of 30 days.

    Examples
    --------
    >>> months_before(datetime.date(2027, 3, 31), 13)
    datetime.date(2026, 2, 28)
    """
    whole, rest = divmod(months, 1)
    year, month = divmod(day.year * 12 + day.month - 1 - int(whole), 12)
    last = calendar.monthrange(year, month + 1)[1]
    found = datetime.date(year, month + 1, min(day.day, last))
    return found - datetime.timedelta(days=round(rest * 30))


def lot_uses(found: Assigned) -> tuple[LotUse, ...]:
    """One for each lot, in order."""
    planting = found.planting
    vines = np.bincount(found.lot[found.lot >= 0], minlength=len(planting.lots))
    uses = []
    for lot, n in zip(planting.lots, vines.tolist(), strict=False):
        tags = [t for t in planting.tags if not t.struck and _plain(t.lot) == _plain(lot.name)]
        there = lot.usable if lot.delivered else lot.ordered
        told = dict.fromkeys(text for tag in tags for text in contradictions(tag, lot))
        tagged = sum(tag.plants for tag in tags)
        uses.append(LotUse(lot, n, there - n, len(tags), tagged, tuple(told)))
    return tuple(uses)


def contradictions(tag: Tag, lot: Lot) -> tuple[str, ...]:
    """What a tag says otherwise than its lot; case and spaces do not count, nor what it does not say."""
    pairs = (
        ("variety", tag.variety, lot.plant.variety),
        ("clone", tag.clone, lot.plant.clone),
        ("rootstock", tag.rootstock, lot.plant.rootstock),
        ("day of grafting", tag.grafted, lot.grafted),
        ("day of potting", tag.potted, lot.potted),
    )
    return tuple(
        f"{what} {said} on a tag, {known} of the lot"
        for what, said, known in pairs
        if said and known and _plain(said) != _plain(known)
    )


def _plain(value) -> str:
    return "".join(str(value).casefold().split())


def planting_findings(
    found: Assigned,
    needed: tuple[Need, ...],
    uses: tuple[LotUse, ...],
    begins: datetime.date | None,
    today: datetime.date,
) -> tuple[Finding, ...]:
    """What is amiss: vines without a plant, lots over-assigned, mixed tags, tags not recorded, late orders.

    `begins` is the day planting begins, None where nobody said; `today` the day that delays are told by.
    """
    if not found.planting.assignments and not found.planting.lots:
        return ()
    return (
        *_without_day(begins),
        *_unassigned(found),
        *_unfit(found),
        *(f for use in uses for f in _of_lot(use)),
        *(f for need in needed for f in _of_need(need, begins, today)),
    )


def _without_day(begins):
    if begins is None:
        yield Finding(
            "planting-day-unknown",
            "Nobody said when planting begins: days, last days to order and the first years are not told.",
        )


def _unassigned(found: Assigned):
    bare = np.flatnonzero(found.plant < 0)
    if not len(bare) or not found.planting.assignments:
        return
    code, place = _code_and_place(found, int(bare[0]))
    n = len(bare)
    yield Finding(
        "vines-unassigned",
        f"{n:,} vine{'s have' if n > 1 else ' has'} no plant assigned, the first is {code}.",
        code,
        place,
    )


def _code_and_place(found: Assigned, vine: int) -> tuple[str, tuple[float, float]]:
    for plan in found.plans:
        if vine < plan.n_vines:
            break
        vine -= plan.n_vines
    s, i = plan.segments, int(plan.vines.segment[vine])
    index = int(plan.vines.index[vine])
    code = mark_code(plan.block.name, int(s.number[i]), int(s.letter[i]), "vine", index)
    return code, tuple(plan.vines.xy_m[vine].tolist())


def _unfit(found: Assigned):
    for i, said in enumerate(found.planting.assignments, 1):
        lost = [part for part in said.parts if not len(vines_of_parts(found.plans, (part,)))]
        if lost:
            blocks = ", ".join(dict.fromkeys(part.block for part in lost))
            what = f"lot {said.lot}" if said.lot else str(said.plant)
            yield Finding(
                "assignment-unfit",
                f"Assignment {i}, {what}: some of its rows or vines in {blocks} are not there (any more). "
                "Take it back, or assign it anew.",
                blocks,
            )


def _of_lot(use: LotUse):
    lot, name = use.lot, use.lot.name
    if use.left < 0:
        has = "came" if lot.delivered else "are ordered"
        yield Finding(
            "lot-over-assigned",
            f"Lot {name} is assigned to {use.vines:,} vines, {use.vines + use.left:,} plants of it {has} "
            "and can be planted.",
            name,
        )
    if use.contradictions:
        yield Finding(
            "tags-contradict",
            f"Lot {name} may be mixed: {'; '.join(use.contradictions[:3])}. Part the plants before any is set.",
            name,
        )
    if use.vines and lot.delivered and not lot.tags_recorded:
        usual = max(lot.delivered // _TAGGED, 1)
        yield Finding(
            "tags-missing",
            f"Lot {name} waits for its tags: {use.tags:,} recorded, about {usual:,} of {lot.delivered:,} plants "
            "usually carry one. Record what they say, then say that all are recorded.",
            name,
        )


def _of_need(need: Need, begins, today: datetime.date):
    if not need.short:
        return
    amount = f"{need.short:,} of {need.wanted:,} plants of {need.plant}"
    yield Finding("plants-short", f"{amount} are neither there nor ordered.", str(need.plant))
    if begins is None:
        return
    if today > need.order_potted_by:
        yield Finding(
            "order-late",
            f"{amount} are not ordered, and potted ones would have had to be ordered by "
            f"{need.order_potted_by.isoformat()} to be planted on {begins.isoformat()}.",
            str(need.plant),
        )
        return
    for grown, by in (("Bare-root", need.order_bare_root_by), ("Potted", need.order_potted_by)):
        if today <= by <= today + datetime.timedelta(days=_DUE_DAYS):
            yield Finding(
                "order-due",
                f"{amount} are not ordered. {grown} ones must be ordered by {by.isoformat()}.",
                str(need.plant),
            )
