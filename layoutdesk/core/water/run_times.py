"""How long each set is run: before planting, after it, and week by week in the first years."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import Finding, RowPlan
from ..model.water import Demand, Water
from .climate import ASSUMED_TEXT, MONTH_DAYS, MONTHS, assumed_et0_mm_day
from .design import WaterDesign
from .soil_water import litres_over_area, wetting_litres

GROWING_DAYS, FULL_DAYS, FADING_DAYS = 90, 40, 80
"""The canopy grows from the season's first day, stays, and fades: the stages 30 + 60, 40 and 80 days of
grapes in FAO Irrigation and Drainage Paper 56, 1998, table 11 (second-hand). [days]"""
SEASON_MONTH = {"north": 4, "south": 10}
"""Whose first day the season begins on; common practice."""
PLANTED_SHARE = 0.2
"""Shade of a vine as it is planted, of its first year's greatest; assumed."""
EXAMPLE_YEAR = 2027
"""Planting's year where nobody said one."""


@dataclass(frozen=True, eq=False)
class RunTimes:
    """Hours for every set, s sets and w weeks.

    Attributes
    ----------
    wetting_h, first_h : float array, shape (s,)
        The day before planting, and right after; NaN for a set that gives nothing. [h]
    wetting_l, first_l : float array, shape (s,)
        The same for one vine. [L]
    weeks : numpy.datetime64 array, shape (w,)
        First day of every week, from planting, over the first years.
    year : int array, shape (w,)
        1 for the first.
    et0_mm, rain_mm, shaded_pct, kc, need_mm : float array, shape (w,)
        Of each week: reference evapotranspiration, rain that vines can use, shaded ground, crop
        coefficient, and what must be watered over the whole ground.
    vine_l : float array, shape (w, b)
        To be given to a vine of every block in the week. [L]
    hours : float array, shape (w, s)
        Of every set in the week; NaN for a set that gives nothing. [h]
    days_a_week : int
    is_assumed : bool
        Whether the climate was assumed, since nobody gave one.
    statement : str
        Where evapotranspiration and rain come from, and how hours follow.
    most_hours_a_day : float
        All sets one after another on the busiest day. [h]
    """

    wetting_h: np.ndarray
    first_h: np.ndarray
    wetting_l: np.ndarray
    first_l: np.ndarray
    weeks: np.ndarray
    year: np.ndarray
    et0_mm: np.ndarray
    rain_mm: np.ndarray
    shaded_pct: np.ndarray
    kc: np.ndarray
    need_mm: np.ndarray
    vine_l: np.ndarray
    hours: np.ndarray
    days_a_week: int
    is_assumed: bool
    statement: str
    most_hours_a_day: float


def run_times(
    design: WaterDesign,
    plans: Sequence[RowPlan],
    latitude_deg: float,
    day: datetime.date | None = None,
) -> RunTimes:
    """Run times of a design.

    Days take the mean of their month, in steps; a week sums its seven days. Litres for a vine are what
    its share of the ground needs; a set runs until its vines have that on average. What rain brings too
    much in one week is not kept for the next. Evaporation from bare ground is in the crop coefficient.

    Parameters
    ----------
    plans : sequence of RowPlan
        As the design was made from.
    latitude_deg : float
        Positive north.
    day : datetime.date, optional
        The project's date: planting is taken to be in the next spring, where it is not said; without
        either an example year is taken, and the statement says so.
    """
    water, demand = design.water, design.water.demand
    planting = planting_day(demand, latitude_deg, day)
    et0_of_month, rain_of_month = _months(water, latitude_deg)
    days, weeks, year = _calendar(planting, len(demand.shaded_pct))
    month = days.astype("datetime64[M]").astype(int) % 12

    def weekly(values):
        return values.reshape(-1, 7)

    et0 = weekly(et0_of_month[month]).sum(axis=1)
    rain = weekly(rain_of_month[month]).sum(axis=1) * demand.rain_used_pct / 100
    shaded = weekly(shaded_share_pct(days, planting, demand, latitude_deg < 0)).mean(axis=1)
    kc = demand.kc_per_shaded_pct * shaded
    need = np.maximum(kc * et0 - rain, 0.0) / (demand.efficiency_pct / 100)
    vine_l = litres_over_area(need[:, None], design.area_per_vine_m2[None, :])

    block = np.array([s.block for s in design.sets], dtype=np.intp)
    flow = set_mean_l_h(design)
    flowing = np.where(flow > 0, flow, np.nan)
    spacing = [(p.rules.row_spacing_m, p.rules.vine_spacing_m) for p in plans]
    rows_m, vines_m = np.array(spacing, dtype=float).reshape(-1, 2).T
    wetting = wetting_litres(demand, rows_m, vines_m)[block]
    first = np.full(len(block), demand.first_watering_l)
    hours = vine_l[:, block] / flowing
    a_day = np.nansum(hours, axis=1) / demand.days_a_week
    return RunTimes(
        wetting / flowing,
        first / flowing,
        wetting,
        first,
        weeks,
        year,
        et0,
        rain,
        shaded,
        kc,
        need,
        vine_l,
        hours,
        demand.days_a_week,
        not water.climate.et0_mm_day,
        _statement(water, planting, latitude_deg, day),
        float(a_day.max(initial=0.0)),
    )


def set_mean_l_h(design: WaterDesign) -> np.ndarray:
    """Flow that a vine of every set gets on average, (s,); 0 without vines. [L/h]"""
    of_vine = design.set_of_lateral[design.lines.vine_lateral]
    served = of_vine >= 0
    n = len(design.sets)
    count = np.bincount(of_vine[served], minlength=n)
    total = np.bincount(of_vine[served], design.vine_flow_l_h[served], minlength=n)
    return total / np.maximum(count, 1)


def planting_day(
    demand: Demand, latitude_deg: float, day: datetime.date | None = None
) -> datetime.date:
    """The day weeks count from: as said, else the first season to begin on `day` or after it.

    >>> planting_day(Demand(), -35.0, datetime.date(2031, 6, 30)).isoformat()
    '2031-10-01'
    """
    if demand.planting is not None:
        return demand.planting
    month = SEASON_MONTH["south" if latitude_deg < 0 else "north"]
    if day is None:
        return datetime.date(EXAMPLE_YEAR, month, 1)
    begins = datetime.date(day.year, month, 1)
    return begins if begins >= day else begins.replace(year=day.year + 1)


def shaded_share_pct(days, planting: datetime.date, demand: Demand, south: bool) -> np.ndarray:
    """Ground in the vines' shade on days from planting on, (d,). [%]

    In winter none. From the season's first day the shade of bare vines grows in a straight line, for
    GROWING_DAYS, to the year's greatest; it stays for FULL_DAYS and fades in a straight line over
    FADING_DAYS. In the first season it grows from the day of planting, from PLANTED_SHARE of the
    year's greatest; vines planted in winter wait for spring. After the last year that `demand` has a
    share for, seasons are like the last one.

    Parameters
    ----------
    days : numpy.datetime64 array, shape (d,)
    planting : datetime.date
    demand : Demand
    south : bool
        Whether seasons are those south of the equator.
    """
    days = np.asarray(days, dtype="datetime64[D]")
    start = _season_start(days, south)
    into = (days - start).astype(int)
    season_days = GROWING_DAYS + FULL_DAYS + FADING_DAYS
    planted = np.array([planting], dtype="datetime64[D]")
    first = _season_start(planted, south)
    planted_into = int((planted - first).astype(int)[0])
    years = start.astype("datetime64[Y]").astype(int) - first.astype("datetime64[Y]").astype(int)
    in_season = planted_into < season_days
    season = years if in_season else years - 1
    greatest = np.array(demand.shaded_pct)
    last = len(greatest) - 1
    peak = greatest[np.clip(season, 0, last)]
    before = np.where(season == 0, PLANTED_SHARE * greatest[0], 0.0)
    begun = np.where((season == 0) & in_season, planted_into, 0)
    grown = np.clip((into - begun) / GROWING_DAYS, 0.0, 1.0)
    left = np.clip((season_days - into) / FADING_DAYS, 0.0, 1.0)
    return np.where(season < 0, 0.0, (before + (peak - before) * grown) * left)


def run_time_findings(times: RunTimes, water: Water) -> tuple[Finding, ...]:
    """What of the run times their user should look at: an assumed climate, days that are too short."""
    found = []
    if times.is_assumed:
        found.append(
            Finding(
                "climate-assumed",
                "Nobody gave evapotranspiration or rain: both are assumed from the latitude alone. Type "
                "in monthly figures of a station nearby, or read them from a file, before you rely on "
                "weekly run times.",
            )
        )
    limit = water.source.hours_a_day
    if times.most_hours_a_day > limit * (1 + 1e-9):
        busiest = int(np.nansum(times.hours, axis=1).argmax())
        found.append(
            Finding(
                "watering-too-long",
                f"In the week of {_said(times.weeks[busiest])} all sets take {times.most_hours_a_day:.1f} h "
                f"on each of {times.days_a_week} days; the source runs for {limit:g} h a day. Water on "
                "more days, or let more rows be watered together.",
            )
        )
    wetting = float(np.nansum(times.wetting_h))
    if wetting > limit:
        found.append(
            Finding(
                "wetting-takes-days",
                f"Wetting the ground before planting takes {wetting:.0f} h for all sets, one after "
                f"another: at {limit:g} h a day begin {math.ceil(wetting / limit)} days before.",
            )
        )
    return tuple(found)


def _season_start(days: np.ndarray, south: bool) -> np.ndarray:
    """First day of the season that each day is in or after."""
    month = SEASON_MONTH["south" if south else "north"] - 1
    start = days.astype("datetime64[Y]").astype("datetime64[M]") + month
    late = start.astype("datetime64[D]") > days
    return np.where(late, start - 12, start).astype("datetime64[D]")


def _calendar(planting: datetime.date, years: int):
    """All days of whole weeks that cover so many years, the weeks' first days, and each one's year."""
    first = np.datetime64(planting, "D")
    ends = [_same_day(planting, k) for k in range(1, years + 1)]
    n_weeks = math.ceil(int((ends[-1] - first).astype(int)) / 7)
    days = first + np.arange(7 * n_weeks)
    weeks = days[::7]
    return days, weeks, 1 + np.searchsorted(np.array(ends), weeks, side="right")


def _same_day(day: datetime.date, years: int) -> np.datetime64:
    """The same day so many years later; 1 March for a leap day."""
    try:
        return np.datetime64(day.replace(year=day.year + years), "D")
    except ValueError:
        return np.datetime64(datetime.date(day.year + years, 3, 1), "D")


def _months(water: Water, latitude_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """ET0 and rain of a day in each month, (12,). [mm/day]"""
    climate = water.climate
    et0 = climate.et0_mm_day or assumed_et0_mm_day(latitude_deg)
    rain = np.array(climate.rain_mm or np.zeros(12)) / MONTH_DAYS
    return np.asarray(et0, dtype=float), rain


def _said(day) -> str:
    date = np.datetime64(day, "D").astype(datetime.date)
    return f"{date.day} {MONTHS[date.month - 1]} {date.year}"


def _statement(water: Water, planting: datetime.date, latitude_deg: float, day) -> str:
    climate, demand = water.climate, water.demand
    if climate.et0_mm_day:
        weather = f"Evapotranspiration: {climate.source or 'monthly figures as typed in'}."
        weather += "" if climate.rain_mm else " No rain is counted, as none was given."
    else:
        weather = ASSUMED_TEXT
        if climate.rain_mm:
            weather = weather.replace(", and no rain.", "; rain as it was given.")
    begins = SEASON_MONTH["south" if latitude_deg < 0 else "north"]
    parts = [weather]
    if demand.planting is None:
        parts.append(
            f"Planting is taken to be on {_said(np.datetime64(planting))}"
            + ("." if day else ", an example year, as none is known.")
        )
    parts.append(
        f"Days have the mean of their month; {demand.rain_used_pct:g} % of the rain counts. What vines "
        f"need is {demand.kc_per_shaded_pct:g} × shaded ground in % × evapotranspiration, less that rain, "
        f"over an efficiency of {demand.efficiency_pct:g} %. A set runs until its vines have that on "
        "average."
    )
    parts.append(
        f"Shade grows for {GROWING_DAYS} days from 1 {MONTHS[begins - 1]}, from leafless vines to "
        f"the year's greatest share, in the first year from planting on; it stays for {FULL_DAYS} days and "
        f"fades over {FADING_DAYS}; in winter there is none."
    )
    parts.append(
        "Roots of young vines reach little of the rain between the rows: look at the soil, and count less "
        "rain where it is dry."
    )
    return " ".join(parts)
