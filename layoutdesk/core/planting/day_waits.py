"""What days of planting wait for: lots that have not come, run short, or whose tags are not on record."""

from __future__ import annotations

import datetime

import numpy as np

from ..model.findings import Finding
from ..model.planting import Lot
from .assigned import Assigned


def lot_stocks(found: Assigned, done: np.ndarray | None) -> list[int]:
    """Plants of each lot that are there to be planted: what is usable, less vines of it that stand already."""
    stocks = [lot.usable for lot in found.planting.lots]
    if done is not None and stocks:
        used = found.lot[done & (found.lot >= 0)]
        stood = np.bincount(used, minlength=len(stocks))
        stocks = [max(0, s - int(u)) for s, u in zip(stocks, stood.tolist(), strict=True)]
    return stocks


def waits_of_days(
    found: Assigned, numbers, dates, runs, stocks: list[int]
) -> tuple[list[tuple[str, ...]], tuple[Finding, ...]]:
    """Sentences of every day, and findings that tell each of them once for all its days.

    Parameters
    ----------
    found : Assigned
    numbers : sequence of int
        Of the days.
    dates : sequence of datetime.date
    runs : sequence of tuple of Run
        Of the same days.
    stocks : list of int
        As `lot_stocks` has it.
    """
    lots = found.planting.lots
    wanted = _vines_by_lot(runs, len(lots))
    planted = [0] * len(lots)
    said: list[list[str]] = [[] for _ in dates]
    days_of: dict[str, list[int]] = {}
    for d, day in enumerate(dates):
        for i, vines in _vines_of_day(runs[d]).items():
            if i < 0:
                continue
            for words, once in _lot_waits(lots[i], day, planted[i], vines, stocks[i], wanted[i]):
                said[d].append(words)
                days_of.setdefault(once, []).append(numbers[d])
            planted[i] += vines
        for plant, vines in _without_lot(runs[d]).items():
            named = f"{found.plants[plant]}"
            said[d].append(
                f"Nobody has said from which lot {many(vines, 'vine')} of {named} come: assign one."
            )
            days_of.setdefault(f"nobody has said from which lot {named} comes", []).append(
                numbers[d]
            )
    findings = tuple(
        Finding("planting-waits", f"{days_said(days)}: {once}.") for once, days in days_of.items()
    )
    return [tuple(s) for s in said], findings


def _lot_waits(lot: Lot, day: datetime.date, planted: int, vines: int, stock: int, wanted: int):
    """Pairs of the day's sentence, and of the words for all days together."""
    name = lot.name
    if not lot.delivered:
        expected = f"; it is expected on {day_text(lot.came)}" if lot.came else ""
        yield f"Lot {name} has not come{expected}.", f"lot {name} has not come{expected}"
    elif lot.came is not None and lot.came > day:
        comes = f"comes on {day_text(lot.came)}, after the day"
        yield f"Lot {name} {comes}.", f"lot {name} {comes}"
    elif planted + vines > stock:
        short = f"lot {name} runs out after {grouped(stock)} of {many(wanted, 'vine')}"
        if planted < stock or (not stock and not planted):
            yield f"{_capital(short)}.", short
        else:
            yield f"Lot {name} is used up by then.", short
    if not lot.tags_recorded:
        tags = f"tags of lot {name} are not all recorded"
        yield f"{_capital(tags)}: what they say goes on record before they come off.", tags


def _vines_of_day(runs) -> dict[int, int]:
    vines: dict[int, int] = {}
    for run in runs:
        vines[run.lot] = vines.get(run.lot, 0) + run.vines
    return vines


def _vines_by_lot(runs, n_lots: int) -> list[int]:
    wanted = [0] * n_lots
    for day in runs:
        for i, vines in _vines_of_day(day).items():
            if i >= 0:
                wanted[i] += vines
    return wanted


def _without_lot(runs) -> dict[int, int]:
    vines: dict[int, int] = {}
    for run in runs:
        if run.lot < 0:
            vines[run.plant] = vines.get(run.plant, 0) + run.vines
    return vines


def days_said(numbers: list[int]) -> str:
    """Days by number.

    Examples
    --------
    >>> days_said([3]), days_said([1, 2, 3, 7]), days_said([1, 3, 5, 7, 9, 11])
    ('Day 3', 'Days 1 to 3, 7', '6 days from day 1 to 11')
    """
    spans: list[list[int]] = []
    for n in numbers:
        if spans and n == spans[-1][1] + 1:
            spans[-1][1] = n
        else:
            spans.append([n, n])
    if len(spans) > 4:
        return f"{len(numbers)} days from day {numbers[0]} to {numbers[-1]}"
    texts = [f"{a}" if a == b else f"{a} to {b}" for a, b in spans]
    return f"Day{'s' * (len(numbers) > 1)} {', '.join(texts)}"


_MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)


def month_text(month: int) -> str:
    return _MONTHS[month - 1]


def day_text(day: datetime.date) -> str:
    """A day as people say it, without its weekday."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def grouped(number: int) -> str:
    return f"{number:,}"


def many(number: int, word: str) -> str:
    """A number of things.

    Examples
    --------
    >>> many(1, "vine"), many(1200, "vine")
    ('1 vine', '1,200 vines')
    """
    return f"{grouped(number)} {word}{'s' * (number != 1)}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
