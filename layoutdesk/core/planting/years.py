"""What is to be done in the first years after planting, and the crop to expect.

Days are those of a temperate season, mirrored in the south: common practice, as are rates and the ramp of the
crop. Not a forecast: a site's own frost, heat and vigour move every day of it.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from ..model.planting import YEAR_TASKS, Years
from .counting_leaves import counting_words, first_small_leaf
from .duties import MILESTONE, Duty, DutyPlan
from .growing_seasons import Seasons

FEWEST_YEARS = 3
"""A vine is not raised in fewer: the calendar goes so far even where the ramp ends before."""


@dataclass(frozen=True)
class CropYear:
    """A harvest after planting.

    Attributes
    ----------
    number : int
        Of harvests, 1 for the first after planting.
    leaf : int
        Season of leaves, 1 for the first; the same number, as a harvest ends each.
    harvest, harvest_ends : datetime.date
        First and last day of the usual window.
    share_pct : float
        Of a mature crop. [%]
    crop_kg : float
    is_first_small : bool
        Whether the first small crop is expected then, by the way of counting that is set.
    """

    number: int
    leaf: int
    harvest: datetime.date
    share_pct: float
    crop_kg: float
    is_first_small: bool
    harvest_ends: datetime.date


@dataclass(frozen=True)
class FirstYears:
    """The calendar, the crop and labour.

    Attributes
    ----------
    duties : tuple of Duty
        In the order of their days.
    crops : tuple of CropYear
        One for each share of the ramp.
    labour : tuple of (int, str, float)
        Year, task of YEAR_TASKS and person-hours, in the order of both.
    counting_words : tuple of str
        Both ways of counting to the first small crop, and the one that is set.
    cautions : tuple of str
        What is special about this planting day or latitude.
    notes : tuple of str
        How all of it is meant.
    planted : datetime.date
    vines : int
    settings : Years
    spans : tuple of (datetime.date, datetime.date)
        First and last day of every growing year.
    """

    duties: tuple[Duty, ...]
    crops: tuple[CropYear, ...]
    labour: tuple[tuple[int, str, float], ...]
    counting_words: tuple[str, ...]
    cautions: tuple[str, ...]
    notes: tuple[str, ...]
    planted: datetime.date
    vines: int
    settings: Years
    spans: tuple[tuple[datetime.date, datetime.date], ...]


def first_years(
    years: Years, planted: datetime.date, latitude_deg: float, vines: int
) -> FirstYears:
    """The calendar from a planting day.

    The growing year that begins in spring is counted from the first season of leaves: what is planted in
    autumn or winter has it in the next spring. Labour is vines over the rate, in every round; of picking it is
    that times the share of a mature crop. Losses are not taken off.

    Parameters
    ----------
    years : Years
    planted : datetime.date
    latitude_deg : float
        Positive north; it mirrors the seasons.
    vines : int

    Raises
    ------
    ValueError
        Where vines are negative.

    Examples
    --------
    >>> found = first_years(Years(), datetime.date(2027, 4, 20), 45.0, 1200)
    >>> [d.begins.isoformat() for d in found.duties if d.task == "pruning"]
    ['2028-01-15']
    >>> [(c.harvest.year, round(c.crop_kg)) for c in found.crops if c.is_first_small]
    [(2029, 1050)]
    """
    if vines < 0:
        raise ValueError(f"vines: {vines!r} is negative")
    seasons = Seasons(planted, latitude_deg)
    plan = DutyPlan(years, seasons, vines)
    length = max(len(years.shares_pct), FEWEST_YEARS)
    found = [d for year in range(1, length + 1) for d in plan.duties_of(year)]
    duties = tuple(sorted(found, key=lambda d: (d.begins, d.ends, _ORDER[d.task], d.number)))
    return FirstYears(
        duties,
        tuple(_crop(plan, number) for number in range(1, len(years.shares_pct) + 1)),
        _labour(duties),
        counting_words(years, seasons),
        _cautions(seasons),
        _NOTES,
        planted,
        vines,
        years,
        tuple(seasons.span(year) for year in range(1, length + 1)),
    )


_ORDER = {task: i for i, task in enumerate((MILESTONE, *YEAR_TASKS))}
_NOTES = (
    "Days, rates and the ramp of the crop are common practice: frost, heat, soil and vigour of the site "
    "move them.",
    "Hours are those of one person for all vines that are planted; losses are not taken off. Picking is "
    "counted by the rate for a full crop, times the share that is expected.",
    "A block stands 25 to 30 years (common practice): what is done badly in these years stays in it.",
)


def _crop(plan: DutyPlan, number: int) -> CropYear:
    share = plan.years.shares_pct[number - 1]
    first, last = plan.window(number, "picking")
    return CropYear(
        number,
        number,
        first,
        share,
        share / 100 * plan.years.mature_kg_vine * plan.vines,
        number == first_small_leaf(plan.years.counting),
        last,
    )


def _labour(duties: tuple[Duty, ...]) -> tuple[tuple[int, str, float], ...]:
    hours: dict[tuple[int, str], float] = {}
    for duty in duties:
        if duty.task != MILESTONE:
            key = duty.year, duty.task
            hours[key] = hours.get(key, 0.0) + duty.hours
    return tuple((y, t, hours[y, t]) for y, t in sorted(hours, key=lambda k: (k[0], _ORDER[k[1]])))


def _cautions(seasons: Seasons) -> tuple[str, ...]:
    if seasons.is_tropical:
        return (
            "The site lies between the tropics, where winter does not make the seasons: vines may grow all "
            "year and be pruned by wet and dry months. Days are counted from planting, as if the first season "
            "began then; ask growers and the advisory service nearby when vines are rested and pruned.",
        )
    if seasons.is_late:
        return (
            "Planted late: little of the season is left for the first leaf, and shoots may not ripen before "
            "the cold. Look at the vines in the next spring before a year is counted.",
        )
    return ()
