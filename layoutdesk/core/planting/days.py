"""Which rows are planted on which day, by which lots, and what must be ready that morning."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np

from ..model.findings import Finding
from ..model.planting import TASKS, Crew
from .assigned import Assigned
from .day_order import TRAY_ENDS, PlantingOrder, planting_order
from .day_waits import lot_stocks, waits_of_days
from .daylight import daylight_h

LEFT_FROM = 0.9
"""A row that does not fit into a day any more is left for the next one where so much of the day's work is done:
else it is split at a vine. Our rule."""
MOST_DAYS = 1000
"""Longer plans are cut off, and it is said."""


@dataclass(frozen=True)
class Run:
    """Vines of one segment and one lot that are planted one after the other on a day.

    `plan` and `segment` tell the segment (segment within its plan), `first` and `last` the indices of its
    first and last vine, `vines` how many there are to plant, `lot` the index of `planting.lots` or -1.
    `trays` go to the row end `tray_end` ("start" or "far") that morning; 0 where the lot's opened tray is enough,
    or nobody said how many plants a tray holds. Vines of another lot, and vines that stand already, may lie
    between the first and the last: they are not counted.
    """

    plan: int
    segment: int
    first: int
    last: int
    vines: int
    lot: int
    plant: int
    trays: int
    tray_end: str


@dataclass(frozen=True)
class DayPlan:
    """One day of planting.

    `hours` is by task of TASKS, person-hours; `crew_hours` how long the crew works; `sets` are the numbers of
    sets that are wetted on `wet_on`, the day before (an earlier day where that is a day off is not sought: water
    runs on any day). `light_h` is daylight in hours; `waits` says in words what the day waits for.
    """

    number: int
    day: datetime.date
    runs: tuple[Run, ...]
    vines: int
    hours: tuple[tuple[str, float], ...]
    crew_hours: float
    wet_on: datetime.date
    sets: tuple[int, ...]
    light_h: float
    waits: tuple[str, ...]


@dataclass(frozen=True)
class DaysPlan:
    """All days of planting, in order, with what is amiss.

    `unassigned` are vines without a plant: no day is planned for them.
    """

    days: tuple[DayPlan, ...]
    vines: int
    person_hours: float
    findings: tuple[Finding, ...]
    unassigned: int = 0


def day_of_vines(found: Assigned, plan: DaysPlan) -> np.ndarray:
    """Number of the day, 1 first, that each vine is to be planted on, 0 for none; int array, shape (n,)."""
    starts, offset = [], 0
    for rows in found.plans:
        counts = rows.vines_of_segment
        starts.append(offset + np.cumsum(counts) - counts)
        offset += int(counts.sum())
    number = np.zeros(len(found.plant), np.int64)
    for i, day in enumerate(plan.days, 1):
        for run in day.runs:  # runs are spans of neighbours in one segment
            begin = int(starts[run.plan][run.segment])
            n = int(found.plans[run.plan].vines_of_segment[run.segment])
            index = found.index[begin : begin + n]
            mine = (
                (index >= run.first) & (index <= run.last) & (found.plant[begin : begin + n] >= 0)
            )
            number[begin : begin + n][mine] = i
    return number


def vines_a_day(crew: Crew) -> int:
    """Vines that a crew plants in a day: people times hours, over the person-hours that one vine takes.

    Never less than one: a crew that is slower works longer.

    Examples
    --------
    >>> vines_a_day(Crew(people=8, hours_a_day=8.0))
    1920
    """
    return max(1, int(crew.people * crew.hours_a_day / person_hours_a_vine(crew) + 1e-9))


def person_hours_a_vine(crew: Crew) -> float:
    """Of all tasks together. [h]"""
    return sum(1 / getattr(crew, f"{task}_per_h") for task in TASKS)


def working_days(begins: datetime.date, crew: Crew) -> Iterator[datetime.date]:
    """Days from `begins` on that are worked: no weekday off, no day off, no day that was missed.

    Examples
    --------
    >>> days = working_days(datetime.date(2027, 4, 2), Crew(days_off=(datetime.date(2027, 4, 5),)))
    >>> next(days).isoformat(), next(days).isoformat()
    ('2027-04-02', '2027-04-06')
    """
    off = {*crew.days_off, *crew.missed}
    day = begins
    while True:
        if day.weekday() not in crew.weekdays_off and day not in off:
            yield day
        day += datetime.timedelta(days=1)


def plan_days(
    found: Assigned,
    begins: datetime.date,
    latitude_deg: float,
    *,
    done: np.ndarray | None = None,
    set_of_segment: np.ndarray | None = None,
    warm_c: tuple[float, ...] = (),
    planted_on: Iterable[datetime.date] = (),
) -> DaysPlan:
    """Share the vines out over working days, row after row.

    Rows follow one another by block, number and segment. A row is finished before the next is begun; one
    that does not fit into the day any more is left whole for the next day where nine tenths of the day's
    vines are planted by then, else it is split at a vine. A day that was missed moves everything behind it.
    Trays of a lot are counted on through its runs, over nights too: what is left of an opened one serves the
    next run. Lots that have not come, run short or whose tags are not recorded are planned all the same; the day
    says that it waits. Vines without a plant are not planned.

    Parameters
    ----------
    found : Assigned
    begins : datetime.date
        First day that may be worked on.
    latitude_deg : float
    done : bool array, shape (n,), optional
        Vines that stand already.
    set_of_segment : int array, shape (s,), optional
        Number of the set that waters each segment, over all plans; 0 for none.
    warm_c : tuple of 12 floats, optional
        Mean daily greatest temperature of each month, where known. [°C]
    planted_on : iterable of datetime.date, optional
        Days on which vines were planted by now. Those from `begins` on are behind the crew: what is left begins
        after the last of them, and days are counted on.
    """
    from .day_cautions import day_findings

    crew = found.planting.crew
    todo = found.plant >= 0
    unassigned = int(len(todo) - todo.sum())
    if done is not None:
        unassigned = int((~todo & ~done).sum())
        todo &= ~done
    order = planting_order(found, todo)
    whole = len(order.vines)
    per_day = vines_a_day(crew)
    stops = _stops_of_days(order.count, per_day)
    is_cut_off = len(stops) > MOST_DAYS
    stops = stops[:MOST_DAYS]
    order = _first_of(order, stops[-1] if len(stops) else 0)
    runs = _runs_of_days(found, order, stops)
    behind = sorted({day for day in planted_on if day >= begins})
    first = behind[-1] + datetime.timedelta(days=1) if behind else begins
    calendar = working_days(first, crew)
    dates = tuple(next(calendar) for _ in stops)
    numbers = range(len(behind) + 1, len(behind) + len(stops) + 1)
    waits, waiting = waits_of_days(found, numbers, dates, runs, lot_stocks(found, done))
    sets = _sets_of_days(order, stops, set_of_segment)
    days = tuple(
        _day(number, dates[i], runs[i], crew, sets[i], latitude_deg, waits[i])
        for i, number in enumerate(numbers)
    )
    vines = sum(d.vines for d in days)
    findings = waiting + day_findings(
        found, days, latitude_deg, warm_c, _without_set(order, set_of_segment), whole if is_cut_off else 0
    )  # fmt: skip
    return DaysPlan(days, vines, vines * person_hours_a_vine(crew), findings, unassigned)


def _day(number, day, runs, crew: Crew, sets, latitude_deg, waits) -> DayPlan:
    vines = sum(r.vines for r in runs)
    hours = tuple((task, vines / getattr(crew, f"{task}_per_h")) for task in TASKS)
    return DayPlan(
        number=number,
        day=day,
        runs=runs,
        vines=vines,
        hours=hours,
        crew_hours=sum(h for _, h in hours) / crew.people,
        wet_on=day - datetime.timedelta(days=1),
        sets=sets,
        light_h=daylight_h(latitude_deg, day),
        waits=waits,
    )


def _stops_of_days(count: np.ndarray, per_day: int) -> list[int]:
    """How many vines are planted by the end of each day, by the rule of `LEFT_FROM`."""
    stops, planted, today = [], 0, 0
    for vines in count.tolist():
        if today and today + vines > per_day and today >= LEFT_FROM * per_day:
            stops.append(planted)
            today = 0
        while today + vines > per_day:
            planted += per_day - today
            vines -= per_day - today
            stops.append(planted)
            today = 0
            if len(stops) > MOST_DAYS:
                return stops
        planted += vines
        today += vines
    if today:
        stops.append(planted)
    return stops


def _first_of(order: PlantingOrder, vines: int) -> PlantingOrder:
    """The order up to so many vines."""
    if vines == len(order.vines):
        return order
    before = np.cumsum(order.count) - order.count
    kept = before < vines
    count = np.minimum(order.count, vines - before)[kept]
    return PlantingOrder(order.vines[:vines], order.segment[kept], count, order.is_far[kept])


def _runs_of_days(found: Assigned, order: PlantingOrder, stops: list[int]) -> list[tuple[Run, ...]]:
    """Runs of every day, in the order they are planted, with their trays."""
    if not stops:
        return []
    row = np.repeat(np.arange(len(order.segment)), order.count)
    day = np.searchsorted(stops, np.arange(len(order.vines)), side="right")
    lot, plant = found.lot[order.vines], found.plant[order.vines]
    index = found.index[order.vines]
    keys = np.column_stack([day, row, lot, plant]).astype(np.int64)
    cut = np.flatnonzero(np.any(np.diff(keys, axis=0) != 0, axis=1)) + 1
    begin = np.concatenate([[0], cut])
    length = np.diff(np.concatenate([begin, [len(keys)]]))
    low, high = np.minimum.reduceat(index, begin), np.maximum.reduceat(index, begin)
    # Lots that take turns along a row are one run each: stretches of the same key are joined.
    joined, at, of = np.unique(keys[begin], axis=0, return_index=True, return_inverse=True)
    of = of.ravel()
    vines = np.bincount(of, weights=length).astype(np.int64)
    first, last = np.full(len(joined), 2**31), np.zeros(len(joined), np.int64)
    np.minimum.at(first, of, low)
    np.maximum.at(last, of, high)
    turn = np.argsort(at)
    joined, vines, first, last = joined[turn], vines[turn], first[turn], last[turn]
    trays = _trays(found, joined[:, 2], vines)
    offsets = np.cumsum([0, *(p.n_segments for p in found.plans)])
    segment = order.segment[joined[:, 1]]
    plan = np.searchsorted(offsets, segment, side="right") - 1
    within = segment - offsets[plan]
    far = order.is_far[joined[:, 1]]
    runs: list[list[Run]] = [[] for _ in stops]
    table = (joined[:, 0], plan, within, first, last, vines, joined[:, 2], joined[:, 3], trays, far)
    for d, p, s, a, b, n, lo, pl, t, f in zip(*(c.tolist() for c in table), strict=True):
        runs[d].append(Run(p, s, a, b, n, lo, pl, t, TRAY_ENDS[f]))
    return [tuple(r) for r in runs]


def _trays(found: Assigned, lot: np.ndarray, vines: np.ndarray) -> np.ndarray:
    """Trays that are opened for each run, what is left of the lot's last one being used first."""
    trays = np.zeros(len(lot), np.int64)
    for i, known in enumerate(found.planting.lots):
        mine = np.flatnonzero(lot == i)
        if known.tray and len(mine):
            opened = -(-np.cumsum(vines[mine]) // known.tray)
            trays[mine] = np.diff(opened, prepend=0)
    return trays


def _sets_of_days(order: PlantingOrder, stops: list[int], set_of_segment) -> list[tuple[int, ...]]:
    """Sets that wet the rows of each day, in the order rows are planted."""
    if set_of_segment is None or not stops:
        return [()] * len(stops)
    sets = np.asarray(set_of_segment)[order.segment]
    ends = np.cumsum(order.count)
    begins = ends - order.count
    found = []
    for a, b in zip([0, *stops[:-1]], stops, strict=True):
        low, high = np.searchsorted(ends, a, side="right"), np.searchsorted(begins, b)
        found.append(tuple(s for s in dict.fromkeys(sets[low:high].tolist()) if s > 0))
    return found


def _without_set(order: PlantingOrder, set_of_segment) -> int:
    """Vines of rows that no set waters; all of them where nothing is known of sets."""
    if set_of_segment is None:
        return int(order.count.sum())
    return int(order.count[np.asarray(set_of_segment)[order.segment] <= 0].sum())
