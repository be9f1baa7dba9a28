"""The first years as lines of text: what is to be done when, the crop and labour, in people's units."""

from __future__ import annotations

import datetime
import itertools
from dataclasses import dataclass

from ..core.model.planting import COUNTINGS, YEAR_TASKS, Years
from ..core.planting.counting_leaves import first_small_leaf
from ..core.planting.duties import MILESTONE, Duty
from ..core.planting.years import CropYear, FirstYears
from ..formats.yearset import KG_PER_TONNE, KG_PER_US_TON, CropRow, DutyRow, FirstYearsSet
from .quantities import KG_PER_LB
from .stakeout import SLOPE_CAUTION
from .study_words import MONTHS
from .tally import grouped

CAUTIONS = (
    "Sprays and weedkillers: the label and the law come first, on dose, weather, clothing, waiting times and who "
    "may use them. A young trunk outside its shelter is not to be hit.",
    "Pruning tools cut fingers and eyes: gloves and eye protection, apart from each other, blades locked when "
    "carried. Wires under tension recoil when they are moved.",
    "Heat: water, shade and rest; employer's and local rules say when work stops. Bending and lifting all day wear "
    "people out: change tasks.",
    "Wasps, spiders and snakes live in shelters: look before a hand goes in.",
    SLOPE_CAUTION,
    "The local advisory service knows frost, pests and pruning dates of the place, and which diseases are "
    "to be reported.",
)
"""Printed with every calendar of the first years."""

NO_DAY = "No planting day is said yet: say when planting begins, and the years are counted from it."
NO_VINES = "There is no vine to plant yet: lay out a block first."
_ROUNDS_LISTED = 12
"""Days of more rounds are told by their first and last."""
_TASK_TITLES = {task: words[:1].upper() + words[1:] for task, (words, _) in YEAR_TASKS.items()} | {
    # What is done in more ways than one through the years.
    "pruning": "Prune to two buds",
    "wood": "Lay canes or cordons on the fruiting wire",
}


@dataclass(frozen=True)
class DutyLine:
    """A duty as text, in the order of its day.

    Attributes
    ----------
    name : str
        What it is known by when its day moves.
    index : int
        Of the duty.
    when, what, words, season, hours : str
        `hours` is empty for a milestone.
    year : int
    flag : str
        "now" where today is within its days, "past" where they are over, else "".
    """

    name: str
    index: int
    when: str
    what: str
    words: str
    season: str
    hours: str
    year: int
    flag: str


@dataclass(frozen=True)
class LabourLine:
    """Hours of one year and task, as text; `task` is empty in the line of a year's sum."""

    year: int
    task: str
    what: str
    hours: str

    @property
    def key(self) -> str:
        return f"{self.year} {self.task}"


def duty_lines(answer, unit: str = "m", today: datetime.date | None = None) -> tuple[DutyLine, ...]:
    """What is to be done, one line a round; none without a planting day.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    today : datetime.date, optional
        Tells what is past and what is on.
    """
    years = answer.years
    if years is None:
        return ()
    return tuple(
        DutyLine(
            duty.name,
            i,
            span_text(duty.begins, duty.ends, short=True),
            duty.title,
            duty_words(duty, years.settings, unit),
            duty.season,
            "" if duty.task == MILESTONE else labour_text(duty.hours),
            duty.year,
            _flag(duty, today),
        )
        for i, duty in enumerate(years.duties)
    )


def _flag(duty: Duty, today: datetime.date | None) -> str:
    if today is None or today < duty.begins:
        return ""
    return "now" if today <= duty.ends else "past"


def duty_words(duty: Duty, settings: Years, unit: str = "m") -> str:
    """How a duty is done, with lengths in inches where people read feet.

    Examples
    --------
    >>> from layoutdesk.core.planting.years import first_years
    >>> duties = first_years(Years(), datetime.date(2027, 4, 1), 45.0, 9).duties
    >>> union = next(d for d in duties if d.task == "union")
    >>> duty_words(union, Years(), "ft")[:24].replace("\\u00a0", " ")
    'At least 2.0 in above it'
    """
    if duty.task != "union" or unit == "m":
        return duty.words
    cm = f"{settings.union_check_m * 100:.3g} cm"
    return duty.words.replace(cm, f"{settings.union_check_m / 0.0254:.1f}\u00a0in").replace(
        "10 to 13 cm", "4 to 5\u00a0in"
    )


def crop_lines(answer, unit: str = "m") -> tuple[CropRow, ...]:
    """The crop to expect, one line a harvest."""
    return () if answer.years is None else _crop_rows(answer.years, unit, short=True)


def labour_lines(answer) -> tuple[LabourLine, ...]:
    """Hours by year and task, each year followed by its sum."""
    if answer.years is None:
        return ()
    lines: list[LabourLine] = []
    for year, group in itertools.groupby(answer.years.labour, key=lambda found: found[0]):
        found = list(group)
        lines += [LabourLine(year, t, _TASK_TITLES[t], labour_text(h)) for _, t, h in found]
        lines.append(LabourLine(year, "", "Together", labour_text(sum(h for *_, h in found))))
    return tuple(lines)


def labour_text(hours: float) -> str:
    """Hours of work as read.

    Examples
    --------
    >>> labour_text(0.44), labour_text(83.3), labour_text(1250.2).replace("\\u202f", " ")
    ('0.4\\xa0h', '83\\xa0h', '1 250\\xa0h')
    """
    if 0 < hours < 0.05:
        return "under 0.1\u00a0h"
    return f"{grouped(hours, 0 if hours >= 9.95 else 1)}\u00a0h"


def crop_text(crop_kg: float, unit: str = "m") -> str:
    """A crop in kilograms or tonnes, or in pounds or US tons.

    Examples
    --------
    >>> crop_text(850.0), crop_text(8750.0), crop_text(8750.0, "ft"), crop_text(0.0)
    ('850\\xa0kg', '8.75\\xa0t', '9.65\\xa0US tons', 'none')
    """
    if crop_kg <= 0:
        return "none"
    light, light_kg, heavy, heavy_kg = (
        ("kg", 1.0, "t", KG_PER_TONNE)
        if unit == "m"
        else ("lb", KG_PER_LB, "US tons", KG_PER_US_TON)
    )
    if crop_kg < heavy_kg:
        return f"{grouped(crop_kg / light_kg)}\u00a0{light}"
    tons = crop_kg / heavy_kg
    return f"{grouped(tons, 2 if tons < 10 else 1 if tons < 100 else 0)}\u00a0{heavy}"


def day_said(day: datetime.date, *, short: bool = False) -> str:
    """A day as people say it."""
    return f"{_day_of_month(day, short)} {day.year}"


def _day_of_month(day: datetime.date, short: bool) -> str:
    return f"{day.day} {MONTHS[day.month - 1][: 3 if short else None]}"


def span_text(begins: datetime.date, ends: datetime.date, *, short: bool = False) -> str:
    """A stretch of days; `short` has three letters of the months' names.

    Examples
    --------
    >>> day = datetime.date
    >>> span_text(day(2027, 5, 4), day(2027, 5, 10)), span_text(day(2027, 5, 4), day(2027, 5, 4))
    ('4–10 May 2027', '4 May 2027')
    >>> span_text(day(2028, 1, 15), day(2028, 3, 15)), span_text(day(2027, 12, 9), day(2028, 1, 5))
    ('15 January – 15 March 2028', '9 December 2027 – 5 January 2028')
    >>> span_text(day(2028, 1, 15), day(2028, 3, 15), short=True)
    '15 Jan – 15 Mar 2028'
    """
    last = day_said(ends, short=short)
    if begins == ends:
        return last
    if begins.year != ends.year:
        return f"{day_said(begins, short=short)} – {last}"
    if begins.month != ends.month:
        return f"{_day_of_month(begins, short)} – {last}"
    return f"{begins.day}–{last}"


def rounds_text(days: list[datetime.date]) -> str:
    """Days of rounds.

    Examples
    --------
    >>> day = datetime.date
    >>> rounds_text([day(2028, 5, 10), day(2028, 5, 20), day(2028, 6, 9)])
    '10, 20 May, 9 June 2028'
    """
    if len(days) > _ROUNDS_LISTED:
        return f"{len(days)} rounds, {span_text(days[0], days[-1])}"
    told = []
    for (year, month), group in itertools.groupby(days, key=lambda d: (d.year, d.month)):
        numbers = ", ".join(str(d.day) for d in group)
        told.append((year, f"{numbers} {MONTHS[month - 1]}"))
    texts = [
        f"{words} {year}" if i == len(told) - 1 or told[i + 1][0] != year else words
        for i, (year, words) in enumerate(told)
    ]
    return ", ".join(texts)


def first_years_set(
    answer, unit: str = "m", day: datetime.date | None = None, *, revision: str = ""
) -> FirstYearsSet:
    """What the files of the first years are written from; they say so where no planting day is known.

    Parameters
    ----------
    answer : PlantingAnswer
    unit : str
        Of lengths for people, and of what goes with them.
    day : datetime.date, optional
        Printed on the files; the project's own where it is left out.
    revision : str
        The project's own where it is left out.
    """
    from ..formats.project_file import revision_of
    from .planted import planting_of
    from .take_off_set import people_units

    project, years = answer.project, answer.years
    unit = "ft" if unit == "usft" else unit  # no mass goes with the survey foot
    head = (
        project,
        years,
        people_units(unit),
        revision or revision_of(project),
        day or project.day,
    )
    if years is None:
        return FirstYearsSet(*head, missing=NO_DAY if answer.begins is None else NO_VINES)
    return FirstYearsSet(
        *head,
        summary=_summary(years),
        duty_rows=_duty_rows(years, unit),
        how={d.name: duty_words(d, years.settings, unit) for d in years.duties},
        crop_rows=_crop_rows(years, unit),
        year_titles=tuple(
            f"Year {n}, leaf {n}: {span_text(*span)}" for n, span in enumerate(years.spans, 1)
        ),
        decided=_decided(years.settings, unit),
        notes=years.notes,
        counting=years.counting_words,
        cautions=(*years.cautions, *CAUTIONS),
        task_names=_TASK_TITLES,
        hours_a_day=planting_of(project).crew.hours_a_day,
    )


def _summary(years: FirstYears) -> str:
    hours = labour_text(sum(h for *_, h in years.labour))
    vines = f"{grouped(years.vines)} vine{'' if years.vines == 1 else 's'}"
    return (
        f"{vines}, counted from planting on {day_said(years.planted)}: {len(years.spans)} growing years, "
        f"{hours} of work."
    )


def _duty_rows(years: FirstYears, unit: str) -> tuple[DutyRow, ...]:
    """Rounds of a task stand in one row, at the first of them."""
    rounds: dict[tuple[int, str, str], list[Duty]] = {}
    for duty in years.duties:
        rounds.setdefault((duty.year, duty.task, duty.what), []).append(duty)
    rows = []
    for (year, task, what), duties in rounds.items():
        first = duties[0]
        when = (
            span_text(first.begins, first.ends)
            if len(duties) == 1
            else rounds_text([d.begins for d in duties])
        )
        if task == "foliage":  # rounds of weeks, not of days
            when = "; ".join(span_text(d.begins, d.ends) for d in duties)
        hours = "" if task == MILESTONE else labour_text(sum(d.hours for d in duties))
        rows.append(DutyRow(year, when, what, duty_words(first, years.settings, unit), hours))
    return tuple(sorted(rows, key=lambda r: r.year))


def _crop_rows(years: FirstYears, unit: str, *, short: bool = False) -> tuple[CropRow, ...]:
    return tuple(
        CropRow(
            span_text(crop.harvest, crop.harvest_ends, short=short),
            f"{crop.leaf}",
            f"{crop.number}",
            f"{crop.share_pct:g} %",
            crop_text(crop.crop_kg, unit),
            _counted(crop, years.settings),
        )
        for crop in years.crops
    )


def _counted(crop: CropYear, settings: Years) -> str:
    """Which ways of counting name a harvest."""
    named = [c for c in COUNTINGS if first_small_leaf(c) == crop.leaf]
    told = [f"{c}: the first small crop" if c == settings.counting else c for c in named]
    return "; ".join(told)


def _decided(settings: Years, unit: str) -> tuple[str, ...]:
    shares = ", ".join(f"{s:g}" for s in settings.shares_pct)
    days = f"{settings.tie_days:g} days" if settings.tie_days != 1 else "day"
    form = "canes" if settings.form == "cane" else "a cordon"
    mass = (
        f"{settings.mature_kg_vine:g} kg"
        if unit == "m"
        else f"{settings.mature_kg_vine / KG_PER_LB:.1f} lb"
    )
    clear = (
        f"{settings.union_check_m * 100:.3g} cm"
        if unit == "m"
        else f"{settings.union_check_m / 0.0254:.1f} in"
    )
    return (
        f"Vines are raised to {form}; while a trunk grows it is tied about every {days}. The graft union stays at "
        f"least {clear} above the soil.",
        f"A mature vine bears {mass}. Year after year {shares} % of that are expected. The usual ramp, common "
        "practice: 0, 0 to 10, 25 to 50, 60 to 80 and 100 %.",
    )
