"""Days of growing years from a planting day: northern months of a season, mirrored in the south.

Months that stand for a season are common practice for a temperate climate; nobody prints them for a site.
"""

from __future__ import annotations

import calendar
import datetime
from dataclasses import dataclass
from functools import cached_property

TROPIC_DEG = 23.5
"""Nearer to the equator than this, winter does not make the seasons: the sun stands overhead twice a year
within 23.44° (obliquity of the ecliptic, from memory). [deg]"""

BUDBREAK = (4, 1)
"""Month and day that a growing year begins on in the north; common practice. So are all of those below."""
LEAF_FALL = (11, 1)
AUTUMN = (9, 1)
"""What is planted from here on has its first leaf in the next spring."""
SUMMER = (7, 1)
"""What is planted from here on has little of its first season left."""

_SEASON_OF_MONTH = (
    ("winter",) * 2 + ("spring",) * 3 + ("summer",) * 3 + ("autumn",) * 3 + ("winter",)
)
_OTHER_HALF = {"winter": "summer", "summer": "winter", "spring": "autumn", "autumn": "spring"}


def months_later(day: datetime.date, months: int) -> datetime.date:
    """The same day so many months later, or the month's last where it has no such day.

    Examples
    --------
    >>> months_later(datetime.date(2028, 2, 29), 12), months_later(datetime.date(2027, 8, 31), 6)
    (datetime.date(2029, 2, 28), datetime.date(2028, 2, 29))
    """
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return datetime.date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


@dataclass(frozen=True)
class Seasons:
    """Seasons at a latitude for what is planted on a day.

    A growing year runs from budbreak to the next budbreak, so that it is one season of leaves and the rest
    after it; the first one begins with the planting, whenever that is. Between the tropics a growing year is
    twelve months from the planting day.

    Attributes
    ----------
    planted : datetime.date
    latitude_deg : float
        Positive north.
    """

    planted: datetime.date
    latitude_deg: float

    @property
    def is_tropical(self) -> bool:
        return abs(self.latitude_deg) < TROPIC_DEG

    @property
    def is_south(self) -> bool:
        return self.latitude_deg < 0

    @cached_property
    def first_budbreak(self) -> datetime.date:
        """Day that the first season of leaves is counted from."""
        if self.is_tropical:
            return self.planted
        year = self.planted.year - 1
        while True:
            budbreak = datetime.date(year, *BUDBREAK)
            if self.is_south:
                budbreak = months_later(budbreak, 6)
            if self.planted < months_later(budbreak, _months_after_budbreak(AUTUMN[0])):
                return budbreak
            year += 1

    @property
    def is_dormant(self) -> bool:
        """Whether it was planted in the rest before its first season of leaves."""
        return self.planted < self.first_budbreak

    @property
    def is_late(self) -> bool:
        """Whether little of the first season is left."""
        return not self.is_tropical and self.planted >= self.day(1, SUMMER)

    def day(self, year: int, at: tuple[int, int]) -> datetime.date:
        """A day of a growing year.

        Parameters
        ----------
        year : int
            1 for the first.
        at : (int, int)
            Month and day as in the north, the day no greater than 28.

        Examples
        --------
        >>> north = Seasons(datetime.date(2027, 4, 20), 45.0)
        >>> south = Seasons(datetime.date(2027, 10, 20), -35.0)
        >>> north.day(1, (1, 15)), south.day(1, (1, 15))
        (datetime.date(2028, 1, 15), datetime.date(2028, 7, 15))
        """
        month, day = at
        months = 12 * (year - 1) + _months_after_budbreak(month)
        return months_later(self.first_budbreak, months) + datetime.timedelta(days=day - 1)

    def span(self, year: int) -> tuple[datetime.date, datetime.date]:
        """First and last day of a growing year; the first begins with the planting."""
        last = self.day(year + 1, BUDBREAK) - datetime.timedelta(days=1)
        return (self.planted if year == 1 else self.day(year, BUDBREAK)), last

    def called(self, day: datetime.date) -> str:
        """The season of a day; between the tropics its month from planting.

        Examples
        --------
        >>> Seasons(datetime.date(2027, 4, 20), 45.0).called(datetime.date(2028, 1, 15))
        'winter 2027–28'
        >>> Seasons(datetime.date(2027, 4, 20), -8.0).called(datetime.date(2028, 1, 15))
        'month 9 from planting'
        """
        if self.is_tropical:
            months = (day.year - self.planted.year) * 12 + day.month - self.planted.month
            whole = months - (day < months_later(self.planted, months))
            return f"month {whole + 1} from planting"
        season = _SEASON_OF_MONTH[day.month - 1]
        if self.is_south:
            season = _OTHER_HALF[season]
        if day.month not in (12, 1, 2):
            return f"{season} {day.year}"
        begun = day.year - (day.month < 12)
        return f"{season} {begun}–{(begun + 1) % 100:02d}"


def _months_after_budbreak(month: int) -> int:
    return (month - BUDBREAK[0]) % 12
