"""What is needed of every plant, what came, and when the rest must be ordered."""

from __future__ import annotations

import calendar
import datetime
import math
from dataclasses import dataclass

import numpy as np

from ..layout.numbering import mark_code
from ..model.findings import Finding
from ..model.planting import GROWN, USES, Lot, Plant, Tag
from .assigned import Assigned

_DUE_DAYS = 60
"""An order is told as due so long before its last day (common practice). [days]"""
_WAYS = {"potted": "potted plants", "bare root": "dormant plants with bare roots"}
_TAGGED = 20
"""One plant in so many carries a tag (common practice)."""


@dataclass(frozen=True)
class Need:
    """Of one plant, over the whole site; all counts are plants.

    `wanted` is vines and spares; `usable` came and was not rejected; `on_order` is ordered and has not come
    (a lot is one delivery: once it came, nothing more of it is waited for); `short` is what neither came nor
    is ordered, `surplus` what is more than wanted. `order_by` is the last
    day to place the order, for potted and for bare-root plants, by the planting day; None where no day is
    said. `vines_by_use` tells buffer, pollinator and trial vines apart. `grown` is how plants of its lots are
    grown, either way where there is no lot.
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
    grown: tuple[str, ...] = GROWN

    @property
    def wanted(self) -> int:
        return self.vines + self.spares

    @property
    def order_by(self) -> tuple[tuple[str, datetime.date], ...]:
        """Last day to order for each way that it is grown; empty where no planting day is said."""
        days = dict(zip(GROWN, (self.order_potted_by, self.order_bare_root_by), strict=True))
        return tuple((way, days[way]) for way in self.grown if days[way] is not None)


@dataclass(frozen=True)
class LotUse:
    """Of one lot: vines it is assigned to, what is left or missing of it, and what its tags say.

    Until something came, `left` is of what is ordered. Tags that were struck do not count.
    """

    lot: Lot
    vines: int
    left: int
    tags: int
    tagged_plants: int
    contradictions: tuple[str, ...]

    @property
    def is_counted(self) -> bool:
        """Whether anybody said how many plants it has."""
        return bool(self.lot.delivered or self.lot.ordered)

    @property
    def usual_tags(self) -> int:
        """How many plants of what came usually carry a tag (common practice)."""
        return -(-self.lot.delivered // _TAGGED)

    @property
    def has_few_tags(self) -> bool:
        """Whether far fewer tags are in the ledger than is usual for what came."""
        return 2 * self.tagged_plants < self.usual_tags


def needs(found: Assigned, begins: datetime.date | None) -> tuple[Need, ...]:
    """One for each plant of `found.plants`.

    Parameters
    ----------
    found : Assigned
    begins : datetime.date or None
        Day of planting; None where nobody said.
    """
    planting, setting = found.planting, found.planting.setting
    n_plants = len(found.plants)
    use_of = np.array([USES.index(a.use) for a in planting.assignments] or [0])
    held = found.plant >= 0
    key = found.plant[held].astype(np.intp) * len(USES) + use_of[found.assignment[held]]
    by_use = np.bincount(key, minlength=n_plants * len(USES)).reshape(n_plants, len(USES))
    vines = by_use.sum(axis=1)
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
                begins and begins - datetime.timedelta(math.ceil(7 * setting.potted_weeks)),
                begins and months_before(begins, setting.bare_root_months),
                tuple(g for g in GROWN if g in {lot.grown for lot in lots}) or GROWN,
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
    stands: np.ndarray | None = None,
) -> tuple[Finding, ...]:
    """What is amiss: vines without a plant, lots over-assigned, mixed tags, tags not recorded, late orders.

    `begins` is the day planting begins, None where nobody said; `today` the day that delays are told by;
    `stands` a mask of the vines that are planted already.
    """
    if not found.planting.assignments and not found.planting.lots:
        return ()
    return (
        *_without_day(begins),
        *_unassigned(found, stands),
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


def _unassigned(found: Assigned, stands):
    bare = found.plant < 0
    bare = np.flatnonzero(bare if stands is None else bare & ~stands)
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
    lost: dict[int, list[str]] = {}
    for i, k in found.unfit:
        lost.setdefault(i, []).append(found.planting.assignments[i].parts[k].block)
    for i, names in lost.items():
        said, blocks = found.planting.assignments[i], ", ".join(dict.fromkeys(names))
        what = f"lot {said.lot}" if said.lot else str(said.plant)
        yield Finding(
            "assignment-unfit",
            f"Assignment {i + 1}, {what}: rows or vines of it in {blocks} are not on the plan. Take it back, "
            "or assign it anew.",
            blocks,
        )
    known = {lot.name.casefold() for lot in found.planting.lots}
    for i, said in enumerate(found.planting.assignments, 1):
        if said.lot and said.lot.strip().casefold() not in known:
            yield Finding(
                "assignment-unfit",
                f"Assignment {i}: there is no lot {said.lot}. Add it to the lots, or assign another one.",
                said.lot,
            )


def _of_lot(use: LotUse):
    lot, name = use.lot, use.lot.name
    if use.left < 0 and use.is_counted:
        has = "came and can be planted" if lot.delivered else "are ordered"
        yield Finding(
            "lot-over-assigned",
            f"Lot {name} is assigned to {use.vines:,} vines, {use.vines + use.left:,} plants of it {has}.",
            name,
        )
    if use.contradictions:
        yield Finding(
            "tags-contradict",
            f"Lot {name} may be mixed: {'; '.join(use.contradictions[:3])}. Part the plants before any is set.",
            name,
        )
    if not use.vines or not lot.delivered:
        return
    ledger = (
        f"the ledger has those of {use.tagged_plants:,} plant{'s' * (use.tagged_plants != 1)}, about {use.usual_tags:,} of {lot.delivered:,} "
        "usually carry one (common practice)"
    )
    if not lot.tags_recorded:
        yield Finding(
            "tags-missing",
            f"Lot {name} waits for its tags: {ledger}. Record what they say, then say that all are recorded.",
            name,
        )
    elif use.has_few_tags:
        yield Finding(
            "tags-missing",
            f"All tags of lot {name} are said to be recorded; {ledger}. Look for tags that are still on plants.",
            name,
            severity="note",
        )


def _of_need(need: Need, begins: datetime.date | None, today: datetime.date):
    if not need.short:
        return
    amount, plant = f"{need.short:,} of {need.wanted:,} plants of {need.plant}", str(need.plant)
    yield Finding("plants-short", f"{amount} are neither there nor ordered.", plant)
    if not need.order_by:
        return
    way, latest = max(need.order_by, key=lambda told: told[1])
    if today > latest:
        yield Finding(
            "order-late",
            f"{amount} are not ordered, and {_WAYS[way]} would have had to be ordered by "
            f"{latest.isoformat()} to be planted on {begins.isoformat()}. Ask nurseries what they have, or plant "
            "later.",
            plant,
        )
        return
    for way, by in need.order_by:
        if today <= by <= today + datetime.timedelta(days=_DUE_DAYS):
            yield Finding(
                "order-due",
                f"{amount} are not ordered: {_WAYS[way]} must be by {by.isoformat()}, by usual times (common "
                "practice).",
                plant,
            )
