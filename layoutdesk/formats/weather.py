"""Evapotranspiration and rain of a usual year from a station's file: monthly figures, or weather."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..core.model import Climate, InputProblem
from .weather_table import WeatherTable, read_weather_table

_PENMAN_SHARE = 0.8
"""Of the lines with temperatures that must have all Penman and Monteith ask for; else none is used."""
_TOTALS_FROM_MM = 20.0
"""A month's mean evapotranspiration of a day never is as much, a summer month's total always more."""


def read_climate(path: Path | str, latitude_deg: float, height_m: float) -> Climate:
    """Mean months of evapotranspiration and rain.

    The file is a table with a header: either `month` with `et0` (mm a day, or month's totals) and
    `rain`, or a `date`, or year and month, with weather: `tmin`, `tmax`, and where the station has
    them humidity (`rh_min`, `rh_max`, `rh`, or the dew point), `wind` and `sun` hours or solar
    radiation. With all of those ET0 is by Penman and Monteith, else by Hargreaves. Separators may be
    commas, semicolons or tabs, decimals points or commas; units are read from the header (`tmax_f`,
    `rain (in)`), else they are °C, mm, m/s, hours and MJ/m² a day. Wind is that at 2 m unless the
    header says 10 m (`wind_10m`).

    Parameters
    ----------
    path : path of the file
    latitude_deg : float
        Positive north.
    height_m : float
        Of the station above the sea. [m]

    Returns
    -------
    Climate
        Its `source` says file, method and years.

    Raises
    ------
    InputProblem
        Where columns, months or numbers are missing, or units cannot be as they are said.
    """
    from ..core.water.climate import MONTHS

    path = Path(path)
    table = read_weather_table(path)
    if "et0" in table.columns:
        et0, method = _given_et0(table, path.name)
    else:
        et0, method = _computed_et0(table, path.name, latitude_deg, height_m)
    rain = _monthly_rain(table, path.name)
    too_much = np.flatnonzero(et0 > 20.0)
    if len(too_much):
        raise InputProblem(
            f"{path.name} gives {et0[too_much[0]]:.0f} mm of evapotranspiration a day in "
            f"{MONTHS[too_much[0]]}, which no place has; check its units and columns."
        )
    source = ", ".join(part for part in (path.name, method, _years_said(table)) if part)
    return Climate(
        tuple(et0.round(3).tolist()),
        () if rain is None else tuple(rain.round(1).tolist()),
        source,
        _warm_months(table),
    )


def _warm_months(table: WeatherTable) -> tuple[float, ...]:
    """Mean greatest temperature of each month; empty where a month lacks it. [°C]"""
    high = table.columns.get("tmax")
    if high is None:
        return ()
    known = np.isfinite(high)
    count = np.bincount(table.month[known] - 1, minlength=12)
    if not count.all():
        return ()
    mean = np.bincount(table.month[known] - 1, high[known], minlength=12) / count
    return tuple(mean.round(1).tolist())


@dataclass(frozen=True)
class _Kind:
    """What Penman and Monteith need of one thing: any of these sets of columns."""

    name: str
    ways: tuple[tuple[str, ...], ...]


_NEEDED = (
    _Kind("humidity", (("dew",), ("rhmin", "rhmax"), ("rh",), ("rhmax",))),
    _Kind("wind", (("wind",),)),
    _Kind("sun hours or solar radiation", (("solar",), ("sun",))),
)


def _given_et0(table: WeatherTable, name: str) -> tuple[np.ndarray, str]:
    et0 = table.columns["et0"]
    if np.nanmin(et0, initial=0.0) < 0:
        raise InputProblem(
            f"{name} has evapotranspiration below 0; mend it or take those lines out."
        )
    said = table.units.get("et0", "")
    totals = said == "month" or (
        not said and not table.is_daily and np.nanmax(et0, initial=0.0) > _TOTALS_FROM_MM
    )
    how = "evapotranspiration as it stands there"
    if totals:
        _refuse_mixture(et0, table, name, said)
        et0 = et0 / _days_of(table.month)
        how = "evapotranspiration from its monthly totals"
    return _by_month(et0, table, name, "evapotranspiration"), how


def _refuse_mixture(et0: np.ndarray, table: WeatherTable, name: str, said: str) -> None:
    """Where one figure alone looks like a month's total it is a slip, or the others are."""
    known = np.sort(et0[np.isfinite(et0)])
    if said or not len(known) or np.median(known) >= _TOTALS_FROM_MM / 2:
        return
    if (known > _TOTALS_FROM_MM).sum() * 2 <= len(known):
        at = int(np.nanargmax(et0))
        raise InputProblem(
            f"{name}, line {table.line[at]}: {et0[at]:g} mm is no evapotranspiration of a day, and the other "
            "months are no totals of a month: mend it, or head the column et0 (mm/day) or et0 (mm/month)."
        )


def _computed_et0(table: WeatherTable, name: str, latitude_deg: float, height_m: float):
    from ..core.water.climate import MID_MONTH

    c = table.columns
    missing = [word for word in ("tmin", "tmax") if word not in c]
    if missing:
        have = ", ".join(sorted(c)) or "none"
        raise InputProblem(
            f"{name} has neither a column et0 nor temperatures tmin and tmax (known columns: {have}); "
            "name its columns so in the header."
        )
    if (crossed := np.flatnonzero(c["tmin"] > c["tmax"])).size:
        raise InputProblem(
            f"{name}, line {table.line[crossed[0]]}: the lowest temperature is above the highest; mend it "
            "or take the line out."
        )
    day = table.day_of_year if table.is_daily else MID_MONTH[table.month - 1]
    used = _penman_columns(table)
    step = "daily" if table.is_daily else "monthly"
    if used is None:
        return _hargreaves(table, name, latitude_deg, day, step)
    et0 = _penman(table, used, latitude_deg, height_m, day)
    text = f"Penman–Monteith (FAO-56) from {step} weather"
    return _by_month(et0, table, name, "complete weather"), text


def _penman_columns(table: WeatherTable) -> list[str] | None:
    """The columns used for humidity, wind and sun; None where any of the three is not there."""
    c = table.columns
    warm = np.isfinite(c["tmin"]) & np.isfinite(c["tmax"])
    chosen: list[str] = []
    for kind in _NEEDED:
        for way in kind.ways:
            if all(w in c for w in way):
                filled = warm & np.all([np.isfinite(c[w]) for w in way], axis=0)
                if filled.sum() >= _PENMAN_SHARE * max(warm.sum(), 1):
                    chosen += way
                    break
        else:
            return None
    whole = warm & np.all([np.isfinite(c[w]) for w in chosen], axis=0)
    return chosen if whole.sum() >= _PENMAN_SHARE * max(warm.sum(), 1) else None


def _penman(table: WeatherTable, used: list[str], latitude_deg: float, height_m: float, day):
    from ..core.water import evapotranspiration as et

    c = table.columns
    low, high = c["tmin"], c["tmax"]
    mean = (low + high) / 2
    humidity = {
        "dew_c": c["dew"] if "dew" in used else None,
        "rh_min_pct": c["rhmin"] if "rhmin" in used else None,
        "rh_max_pct": c["rhmax"] if "rhmax" in used else None,
        "rh_pct": c["rh"] if "rh" in used else None,
    }
    vapour = et.vapour_kpa(low, high, **humidity)
    if "solar" in used:
        solar = c["solar"]
    else:
        solar = et.solar_from_sunshine_mj_m2(c["sun"], latitude_deg, day)
    wind = et.wind_at_2m_m_s(c["wind"], 10.0) if table.units.get("wind") == "10 m" else c["wind"]
    clear = et.clear_sky_mj_m2(height_m, latitude_deg, day)
    net = et.net_radiation_mj_m2(low, high, vapour, solar, clear)
    heat = np.zeros(len(mean))
    if not table.is_daily:
        usual = _by_month(mean, table, "", "") if len(np.unique(table.month)) == 12 else None
        if usual is not None:
            heat = et.soil_heat_of_months_mj_m2(usual)[table.month - 1]
    return et.penman_monteith_mm(mean, low, high, vapour, wind, net, heat, height_m)


def _hargreaves(table: WeatherTable, name: str, latitude_deg: float, day, step: str):
    from ..core.water import evapotranspiration as et

    above = et.extraterrestrial_mj_m2(latitude_deg, day)
    et0 = et.hargreaves_mm(table.columns["tmin"], table.columns["tmax"], above)
    lacking = [
        k.name for k in _NEEDED if not any(all(w in table.columns for w in way) for way in k.ways)
    ]
    why = f", as {' and '.join(lacking)} are not there" if lacking else ", as the rest has gaps"
    text = f"Hargreaves (FAO-56, eq. 52) from {step} temperatures{why}"
    return _by_month(et0, table, name, "temperatures"), text


def _monthly_rain(table: WeatherTable, name: str) -> np.ndarray | None:
    """Mean rain of each month; lines without it are left out. [mm]"""
    rain = table.columns.get("rain")
    if rain is None or not np.isfinite(rain).any():
        return None
    if np.nanmin(rain) < 0:
        raise InputProblem(f"{name} has rain below 0; mend it or take those lines out.")
    if table.is_daily:
        return _by_month(rain, table, name, "rain") * _days_of(np.arange(1, 13))
    return _by_month(rain, table, name, "rain")


def _by_month(values: np.ndarray, table: WeatherTable, name: str, what: str) -> np.ndarray:
    """Mean over all lines of each month, (12,), unknown ones left out."""
    from ..core.water.climate import MONTHS

    known = np.isfinite(values)
    count = np.bincount(table.month[known] - 1, minlength=12)
    if not count.all():
        lacking = [m for m, n in zip(MONTHS, count, strict=True) if not n]
        told = ", ".join(lacking[:-1]) + " and " + lacking[-1] if len(lacking) > 1 else lacking[0]
        raise InputProblem(
            f"{name} has no {what} of {told}; a whole year is needed, January to December."
        )
    return np.bincount(table.month[known] - 1, values[known], minlength=12) / count


def _days_of(month: np.ndarray) -> np.ndarray:
    from ..core.water.climate import MONTH_DAYS

    return MONTH_DAYS[np.asarray(month) - 1]


def _years_said(table: WeatherTable) -> str:
    if table.year is None:
        return ""
    first, last = int(table.year.min()), int(table.year.max())
    return f"{first}" if first == last else f"{first} to {last}"
