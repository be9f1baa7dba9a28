"""The crew and its days, in plain language."""

from __future__ import annotations

import datetime

from ..core.model.planting import CREW_LIMITS, TASKS, Crew
from ..core.planting.days import person_hours_a_vine, vines_a_day
from .planting_values import in_steps, planting_value, usual_words
from .quantities import Quantity
from .specification import Paragraph
from .tally import grouped

BEGINS = "begins"


def _of(name: str, field: str, kind: str, **more) -> Quantity:
    return Quantity(name, kind, *CREW_LIMITS[field], **more)


_RATE_NAMES = {
    "holes": "holes one person digs in an hour",
    "setting": "vines one person sets in an hour",
    "firming": "vines one person fills and firms in an hour",
    "shelter": "shelters and drip tubes one person sets in an hour",
    "checking": "vines one person checks for tags and containers in an hour",
}
QUANTITIES: dict[str, Quantity] = {
    BEGINS: Quantity("day planting begins", "day"),
    "crew.people": _of("people who plant", "people", "whole"),
    "crew.hours_a_day": _of("hours of work a day", "hours_a_day", "hours"),
    "crew.starts_h": _of("time work begins", "starts_h", "clock"),
    **{
        f"crew.{task}_per_h": _of(_RATE_NAMES[task], f"{task}_per_h", "number", decimals=1, **in_steps(10))
        for task in TASKS
    },
    "crew.weekdays_off": Quantity("days off in every week", "weekdays"),
    "crew.days_off": Quantity("days off", "days"),
    "crew.missed": Quantity("days that were missed", "days"),
    "crew.hottest_c": _of("temperature above which nobody plants", "hottest_c", "warmth_c"),
}  # fmt: skip
_WORDS = {
    **dict.fromkeys((f"{task}_per_h" for task in TASKS), "rates"),
    "hottest_c": "the temperature",
}


def crew_paragraph_of(crew: Crew, begins: datetime.date | None, unit: str = "m") -> Paragraph:
    """Who plants, how fast, and when.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(crew_paragraph_of(Crew(), datetime.date(2027, 4, 5))).splitlines()[0]
    'Planting begins on 5 April 2027.'
    """

    def v(field: str):
        key, said = f"crew.{field}", getattr(crew, field)
        usual = getattr(Crew(), field) if field in _WORDS else None
        return planting_value(key, QUANTITIES[key], said, unit, usual)

    begin = planting_value(BEGINS, QUANTITIES[BEGINS], begins, unit)
    works = " person works " if crew.people == 1 else " people work "
    return (
        ("Planting begins on ", begin, ".")
        if begins is not None
        else ("The day planting begins is ", begin, ": say it, and days are planned."),
        (
            *(v("people"), works, v("hours_a_day"), " a day from ", v("starts_h"), ", and rest on "),
            *(v("weekdays_off"), ". Days off beside those: ", v("days_off"), "."),
        ),
        (
            *("In an hour one person digs ", v("holes_per_h"), " holes, takes ", v("setting_per_h")),
            *(" plants out of their containers and sets them, fills and firms ", v("firming_per_h")),
            *(", puts ", v("shelter_per_h"), " shelters on and their drip tubes in, or checks "),
            *(v("checking_per_h"), " vines for tags and containers."),
        ),
        (_together(crew) + usual_words(crew, Crew(), _WORDS),),
        (
            *("Above ", v("hottest_c"), " nobody plants. Days that were missed: ", v("missed")),
            "; what was planned for them moves on.",
        ),
    )  # fmt: skip


def _together(crew: Crew) -> str:
    rate = 1 / person_hours_a_vine(crew)
    vines = vines_a_day(crew)
    shown = f"{rate:.0f}" if rate >= 9.5 else f"{rate:.1f}"
    who = "that person" if crew.people == 1 else "all of them"
    return (
        f"In all one person plants about {shown} vines an hour, and {who} {grouped(vines)} a day. Crews plant 25 "
        "to 50 a person and hour; whoever does it for the first time plants 2 or 3 (one published account)."
    )
