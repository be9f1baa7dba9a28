"""What of planting and the first years goes into a calendar: days, wetting, orders and duties."""

from __future__ import annotations

import datetime
from pathlib import Path

from ..core.model import Project
from ..core.planting.day_cautions import clock
from ..core.planting.years import FirstYears
from ..formats.icalendar import Event, stable_uid, write_icalendar
from .day_cards import NO_DAY, NO_VINES
from .day_words import (
    lots_brought,
    lots_of_day,
    rows_text,
    sets_text,
    vines_text,
    weekday_text,
    wetting_text,
)
from .first_year_lines import duty_words, labour_text
from .planted import PlantingAnswer, planting_of
from .tally import grouped

_DAY_BEFORE, _WEEK_BEFORE, _ORDER_BEFORE = 1, 7, 14
"""An event is called to mind so many days before. [days]"""
_ORDERS = {
    # way of growing: words
    "potted": "as potted plants",
    "bare root": "as dormant plants with bare roots",
}


def planting_events(answer: PlantingAnswer, unit: str = "m") -> tuple[Event, ...]:
    """Every day of planting, the wetting before it, days to order by, and the duties of the first years.

    An event keeps its UID by site, kind and number: where days move, so do the events that a calendar holds.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    """
    events = [*_days(answer), *_wettings(answer), *_orders(answer)]
    if answer.years is not None:
        events += duty_events(answer.project, answer.years, unit)
    return tuple(events)


def uid_of(project: Project, kind: str, ordinal) -> str:
    """UID of an event: of the site's name and place, which no edit moves, its kind and number."""
    frame = project.site.frame
    place = f"{frame.latitude_deg!r} {frame.longitude_deg!r}"
    return stable_uid(project.name, place, kind, ordinal)


def _days(answer: PlantingAnswer):
    if answer.days is None:
        return
    project, crew = answer.project, planting_of(answer.project).crew
    for at, day in enumerate(answer.days.days):
        rows = rows_text(answer.plans, answer.days, at)
        lots = lots_of_day(answer.assigned, day)
        words = (
            *(f"Waits: {text}" for text in day.waits),
            f"{vines_text(day.vines)}: {crew.people} {'person' if crew.people == 1 else 'people'} from "
            f"{clock(crew.starts_h)}, {day.crew_hours:.1f} h of work without breaks.",
            f"That morning: {lots_brought(answer.assigned, lots)}.",
            wetting_text(day),
        )
        yield Event(
            uid_of(project, "planting", day.number),
            day.day,
            day.day,
            f"{project.name}: plant rows {rows} (day {day.number} of {answer.days.days[-1].number})",
            "\n".join(words),
            categories=("Planting",),
            alarm_days=_DAY_BEFORE,
        )


def _wettings(answer: PlantingAnswer):
    if answer.days is None:
        return
    project = answer.project
    for at, day in enumerate(answer.days.days):
        rows = rows_text(answer.plans, answer.days, at)
        what = f"run set{'s' * (len(day.sets) > 1)} {sets_text(day.sets)}" if day.sets else "wet"
        yield Event(
            uid_of(project, "wetting", day.number),
            day.wet_on,
            day.wet_on,
            f"{project.name}: {what} for rows {rows}",
            f"They are planted on {weekday_text(day.day)}. {wetting_text(day)}",
            categories=("Water",),
            alarm_days=_DAY_BEFORE,
        )


def _orders(answer: PlantingAnswer):
    """The last days to order what is neither there nor ordered, for each way that plants are grown."""
    project = answer.project
    for need in answer.needs:
        if not need.short:
            continue
        for kind, by in need.order_by:
            words = _ORDERS[kind]
            plants = f"{grouped(need.short)} plant{'s' * (need.short != 1)}"
            yield Event(
                uid_of(project, f"order {kind}", need.plant),
                by,
                by,
                f"{project.name}: last day to order {plants} of {need.plant}, if {words}",
                f"{grouped(need.wanted)} are wanted with spares; {grouped(need.usable)} are there and "
                f"{grouped(need.on_order)} on order. Nurseries differ: ask yours.",
                categories=("Order",),
                alarm_days=_ORDER_BEFORE,
            )


def duty_events(project: Project, years: FirstYears, unit: str = "m") -> tuple[Event, ...]:
    """What is to be done in the first years, each for all of its days."""
    events = []
    for duty in years.duties:
        words = duty_words(duty, years.settings, unit)
        if duty.hours:
            words += f"\n{labour_text(duty.hours)} of one person."
        if duty.is_common_practice:
            words += "\nUsual days (common practice): the site decides."
        events.append(
            Event(
                uid_of(project, "duty", duty.name),
                duty.begins,
                duty.ends,
                f"{project.name}: {duty.title[:1].lower()}{duty.title[1:]}",
                words,
                categories=("First years",),
                alarm_days=_WEEK_BEFORE if duty.hours else None,
            )
        )
    return tuple(events)


def write_planting_calendar(
    path, answer: PlantingAnswer, unit: str = "m", stamp: datetime.datetime | None = None
) -> None:
    """Write calendar.ics; without a day of planting it has a task that says so.

    Parameters
    ----------
    stamp : datetime.datetime, optional
        The moment of writing, with its zone; now where it is left out.
    """
    missing = NO_DAY if answer.days is None else NO_VINES
    name = f"{answer.project.name}: planting and first years"
    stamp = stamp or datetime.datetime.now(datetime.UTC)
    events = planting_events(answer, unit)
    write_icalendar(Path(path), events, name, stamp, missing=missing)
