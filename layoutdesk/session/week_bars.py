"""Run times week by week, as bars to look at and words to read."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..core.water.run_times import RunTimes
from .quantities import Quantity, shown
from .study_words import MONTHS

_DEPTH, _VOLUME = Quantity("depth", "depth"), Quantity("volume", "volume")


@dataclass(frozen=True, eq=False)
class WeekBars:
    """The weeks of one year, for one set or for all of them one after another.

    Attributes
    ----------
    hours : float array, shape (w,)
        In each week; 0 where nothing is watered. [h]
    starts : tuple of datetime.date
        First day of each week.
    months : tuple of (int, str)
        The week that each month begins in, and the month's short name.
    heading : str
        The years that the weeks are of.
    """

    hours: np.ndarray
    starts: tuple[datetime.date, ...]
    months: tuple[tuple[int, str], ...]
    heading: str
    _tell: Callable[[int], str]

    def told(self, week: int) -> str:
        """A week in words."""
        return self._tell(week)

    @property
    def fullest(self) -> int | None:
        """The week with the most hours, None where nothing is watered."""
        return int(np.argmax(self.hours)) if len(self.hours) and self.hours.max() > 0 else None


def years_of(times: RunTimes) -> tuple[int, ...]:
    """Years from planting that there are run times for, 1 for the first."""
    return tuple(np.unique(times.year).tolist())


def week_bars(
    times: RunTimes, year: int, set_index: int | None = None, unit: str = "m", block: int = 0
) -> WeekBars:
    """The weeks of one year from planting.

    Parameters
    ----------
    times : RunTimes
    year : int
        1 for the first.
    set_index : int, optional
        Of one set; None adds up all of them.
    unit : str
        Of lengths, which others go with.
    block : int
        Whose vines are told of, where a set is.
    """
    which = np.flatnonzero(times.year == year)
    each = times.hours[which]
    hours = np.nansum(each, axis=1) if set_index is None else np.nan_to_num(each[:, set_index])
    starts = tuple(times.weeks[which].astype("datetime64[D]").astype(datetime.date).tolist())

    def told(week: int) -> str:
        whole = int(which[week])
        return _told(times, whole, float(hours[week]), starts[week], set_index, unit, block)

    months = []
    for i, day in enumerate(starts):
        last = day + datetime.timedelta(days=6)
        if not i or last.month != (starts[i - 1] + datetime.timedelta(days=6)).month:
            months.append((i, MONTHS[last.month - 1][:3]))
    span = sorted({starts[0].year, starts[-1].year}) if starts else []
    return WeekBars(hours, starts, tuple(months), "–".join(map(str, span)), told)


def hours_text(hours: float) -> str:
    """A time in hours and minutes.

    Examples
    --------
    >>> hours_text(3.25).replace("\\u00a0", " "), hours_text(0.5).replace("\\u00a0", " "), hours_text(2)
    ('3 h 15 min', '30 min', '2\\xa0h')
    """
    if not np.isfinite(hours):
        return "none"
    whole, minutes = divmod(round(hours * 60), 60)
    parts = [f"{whole}\u00a0h"] if whole else []
    parts += [f"{minutes}\u00a0min"] if minutes or not whole else []
    return "\u00a0".join(parts)


def _told(times, week: int, hours: float, day, set_index, unit: str, block: int) -> str:
    words = f"Week of {day.day} {MONTHS[day.month - 1]} {day.year}: "
    if hours <= 0:
        words += "nothing to water"
    else:
        n = times.days_a_week
        who = "all sets, " if set_index is None else ""
        runs = f" on {n} days, {hours_text(hours / n)} each" if n > 1 else " on one day"
        words += f"{who}{hours_text(hours)}{runs}"
        if set_index is not None:
            words += f"; {shown(_VOLUME, float(times.vine_l[week, block]), unit)} a vine"
    words += (
        f". Evapotranspiration {shown(_DEPTH, float(times.et0_mm[week]), unit)}, "
        f"rain used {shown(_DEPTH, float(times.rain_mm[week]), unit)}, "
        f"shade {float(times.shaded_pct[week]):.0f}\u00a0%."
    )
    return words


def year_words(times: RunTimes) -> tuple[str, ...]:
    """Every year from planting, with the calendar years it lies in."""
    words = []
    for year in years_of(times):
        days = times.weeks[times.year == year].astype("datetime64[Y]").astype(int) + 1970
        span = f"{days[0]}" if days[0] == days[-1] else f"{days[0]}–{days[-1] % 100:02d}"
        words.append(f"Year {year}, {span}")
    return tuple(words)


def before_words(times: RunTimes, set_index: int | None = None, unit: str = "m") -> str:
    """What is run before planting and right after it, of one set or of all one after another."""
    if set_index is None:
        wetting, first = float(np.nansum(times.wetting_h)), float(np.nansum(times.first_h))
        who, litres = "all sets one after another, ", ("", "")
    else:
        wetting, first = float(times.wetting_h[set_index]), float(times.first_h[set_index])
        who = ""
        litres = tuple(
            f" ({shown(_VOLUME, float(each[set_index]), unit)} a vine)"
            for each in (times.wetting_l, times.first_l)
        )
    when = "Before planting" if set_index is None else "The day before planting"
    return (
        f"{when}, wetting the soil: {who}{hours_text(wetting)}{litres[0]}. "
        f"Right after planting: {hours_text(first)}{litres[1]}."
    )
