"""Days of planting as lines of the window's list."""

from __future__ import annotations

from dataclasses import dataclass

from .day_words import (
    lots_brought,
    lots_of_day,
    lots_text,
    rows_text,
    sets_text,
    vines_text,
    weekday_text,
    wetting_text,
)
from .planted import PlantingAnswer
from .tally import grouped


@dataclass(frozen=True)
class DayLine:
    """A day of planting as text.

    Attributes
    ----------
    key : str
        The day itself, 2027-04-05.
    number : int
    day, rows, lots, vines, trays, hours, sets, waits : str
        `hours` is how long the crew works; `waits` is empty where the day waits for nothing.
    told : str
        All of it in words.
    flag : str
        "caution" where the day waits for something.
    """

    key: str
    number: int
    day: str
    rows: str
    lots: str
    vines: str
    trays: str
    hours: str
    sets: str
    waits: str
    told: str
    flag: str


def day_lines(answer: PlantingAnswer, unit: str = "m") -> tuple[DayLine, ...]:
    """One line a day; none where no day is planned."""
    if answer.days is None:
        return ()
    return tuple(_line(answer, i) for i in range(len(answer.days.days)))


def _line(answer: PlantingAnswer, at: int) -> DayLine:
    day, found = answer.days.days[at], answer.assigned
    lots = lots_of_day(found, day)
    rows = rows_text(answer.plans, answer.days, at)
    hours = f"{day.crew_hours:.1f}"
    trays = sum(one.trays for one in lots)
    waits = " ".join(day.waits)
    told = (
        f"Day {day.number}, {weekday_text(day.day)}: rows {rows}, {vines_text(day.vines)} in {hours} h. "
        f"That morning: {lots_brought(found, lots)}. {wetting_text(day)}"
    )
    return DayLine(
        key=day.day.isoformat(),
        number=day.number,
        day=weekday_text(day.day, short=True),
        rows=rows,
        lots=lots_text(lots),
        vines=grouped(day.vines),
        trays=grouped(trays) if trays else "",
        hours=hours,
        sets=sets_text(day.sets),
        waits=waits,
        told=f"{waits} {told}".strip(),
        flag="caution" if waits else "",
    )


def days_sentences(answer: PlantingAnswer) -> tuple[str, ...]:
    """What stands above the list: how many days, from when to when, and what has none."""
    if answer.days is None:
        return ("Say when planting begins, and its days are planned.",)
    days = answer.days
    if not days.days:
        return (f"No vine is left to plant.{_unassigned(days)}",)
    first, last = days.days[0], days.days[-1]
    if len(days.days) == 1:
        when = f"One day, {weekday_text(first.day)}"
    else:
        when = f"{len(days.days)} days, {weekday_text(first.day)} to {weekday_text(last.day)}"
    text = f"{when}: {vines_text(days.vines)}, {grouped(days.person_hours)} hours of one person."
    waiting = sum(bool(d.waits) for d in days.days)
    if waiting:
        text += f" {waiting} of them wait{'s' * (waiting == 1)} for something."
    return (text + _unassigned(days),)


def _unassigned(days) -> str:
    if not days.unassigned:
        return ""
    have = "has" if days.unassigned == 1 else "have"
    return f" {vines_text(days.unassigned)} {have} no plant yet and no day."
