"""What is to be done in the first years after planting, and the crop to expect."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from ..model.planting import Years


@dataclass(frozen=True)
class Duty:
    """Something to do: `task` of YEAR_TASKS (or "milestone"), its first and last day, words, and labour.

    `year` is the growing year from planting (1 first), `season` names it in words; `hours` are person-hours
    for all vines; `is_common_practice` says that the day is a usual one with no printed source.
    """

    task: str
    title: str
    words: str
    begins: datetime.date
    ends: datetime.date
    year: int
    season: str
    hours: float
    is_common_practice: bool = True


@dataclass(frozen=True)
class CropYear:
    """Harvest `number` (1 = that of the planting year), its `leaf` (1 first), share of a mature crop [%] and mass [kg]."""

    number: int
    leaf: int
    harvest: datetime.date
    share_pct: float
    crop_kg: float
    is_first_small: bool


@dataclass(frozen=True)
class FirstYears:
    """The calendar, the crop, labour by year and task, and the two ways of counting in words."""

    duties: tuple[Duty, ...]
    crops: tuple[CropYear, ...]
    labour: tuple[tuple[int, str, float], ...]
    counting_words: tuple[str, ...]


def first_years(
    years: Years, planted: datetime.date, latitude_deg: float, vines: int
) -> FirstYears:
    """The calendar from a planting day; seasons by the hemisphere."""
    raise NotImplementedError
