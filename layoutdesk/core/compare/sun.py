"""Direct sun on the two faces of a grown hedgerow through its season.

Rows are an endless series of like boxes on a plane. Clear sky and direct light alone: what is told
ranks bearings, it forecasts no weather.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..model import Canopy, Season

YEAR = 2001
"""Positions are those of this year, so that results do not change with the calendar."""

_DAYS_A_MONTH = 4
_STEP_MIN = 5
_DELTA_T_S = 64.1
"""Terrestrial time less UT1 in YEAR. Source: Astronomical Almanac (from memory). [s]"""
_REFRACTION_DEG = 0.5667
"""Of the air at sunrise and sunset; pvlib's usual value."""
_TEMPERATURE_C = 15.0
"""Of the air, for refraction; standard atmosphere at sea level."""
_AEROSOL_DEPTH = 0.1
_WATER_CM = 1.0
_EXTRATERRESTRIAL_W_M2 = 1364.0
"""Sunlight above the air, pvlib's usual value for this model. Left out is that it is 3.3 % stronger
in January and weaker in July. [W/m²]"""
_NEAREST_PLACES = 1
"""Decimals of a degree that places are rounded to, so that parcels side by side share positions:
the sun stands at most 0.07° elsewhere then."""
_NEAREST_M = 50.0
"""Heights are rounded to this, for the same reason: at most 0.1 % of the light. [m]"""
_VALUES_AT_ONCE = 50_000
"""Samples times bearings in one go. Small arrays stay in the processor's cache: all bearings took
four times as long with eight times as many at once."""


@dataclass(frozen=True, eq=False)
class SunPath:
    """The sun through an average day of the season, only while it is up.

    Attributes
    ----------
    east, north, up : float array, shape (n,)
        Unit vector towards the sun as it is seen, refraction included.
    dni_w_m2 : float array, shape (n,)
        Direct light at right angles to it, clear sky. [W/m²]
    hour_h : float array, shape (n,)
        Apparent solar time, [0, 24): 12 is when the sun stands highest. [h]
    weight_h : float array, shape (n,)
        Hours of the average day each sample stands for: the season's days are already shared out.
    step_h : float
        Time between the samples of a day; each stands in the middle of its own. [h]
    """

    east: np.ndarray
    north: np.ndarray
    up: np.ndarray
    dni_w_m2: np.ndarray
    hour_h: np.ndarray
    weight_h: np.ndarray
    step_h: float

    def share_within(self, from_h: float, to_h: float) -> np.ndarray:
        """How much of each sample's time lies between two hours, (n,), in [0, 1]."""
        half = self.step_h / 2
        inside = np.minimum(self.hour_h + half, to_h) - np.maximum(self.hour_h - half, from_h)
        return np.clip(inside / self.step_h, 0.0, 1.0)


def sun_positions(
    unix_s,
    latitude_deg: float,
    longitude_deg: float,
    height_m: float = 0.0,
    pressure_hpa: float = 1013.25,
    temperature_c: float = _TEMPERATURE_C,
    delta_t_s: float = _DELTA_T_S,
):
    """Zenith angle and azimuth of the sun, and the equation of time, (n,) each. [deg], [deg], [min]

    The zenith angle is that of the sun as it is seen: refraction is included.

    Parameters
    ----------
    unix_s : float array, shape (n,)
        Seconds from 1 January 1970, UTC.
    delta_t_s : float
        Terrestrial time less UT1.

    Sources: Reda and Andreas, Solar position algorithm for solar radiation applications, NREL
    TP-560-34302, 2003 (revised 2008), through pvlib; within 0.0003° for the years -2000 to 6000.
    """
    from pvlib.spa import solar_position

    found = solar_position(
        np.atleast_1d(np.asarray(unix_s, dtype=float)),
        latitude_deg,
        longitude_deg,
        height_m,
        pressure_hpa,
        temperature_c,
        delta_t_s,
        _REFRACTION_DEG,
        numthreads=1,
    )
    return found[0], found[4], found[5]


def sun_path(
    latitude_deg: float, longitude_deg: float, season: Season, height_m: float = 0.0
) -> SunPath:
    """The sun through the season at a place, of the nearest 0.1° and the nearest 50 m of height.

    Four days of each month, every five minutes: over the usual season energy is within 0.1 % of that
    of every day and every minute, and hours are within 0.6 %, most near the equator for rows close
    to east and west; over a single month energy is within 0.2 % and hours within 1.2 %. Light is the
    simplified Solis clear sky with an aerosol depth of 0.1 at 700 nm, 1 cm of water, and the
    pressure that goes with the height in the standard atmosphere.

    Sources: Ineichen, A broadband simplified version of the Solis clear sky model, Solar Energy
    82:758, 2008, through pvlib.
    """
    latitude, longitude = (round(v, _NEAREST_PLACES) + 0.0 for v in (latitude_deg, longitude_deg))
    height = round(height_m / _NEAREST_M) * _NEAREST_M
    return _sun_path(latitude, longitude, season.months(latitude_deg), height)


@lru_cache(maxsize=128)
def _sun_path(latitude_deg: float, longitude_deg: float, months, height_m: float) -> SunPath:
    return path_of_days(latitude_deg, longitude_deg, months, height_m)


def path_of_days(
    latitude_deg: float,
    longitude_deg: float,
    months: tuple[int, ...],
    height_m: float = 0.0,
    days_a_month: int = _DAYS_A_MONTH,
    step_min: float = _STEP_MIN,
) -> SunPath:
    """A sun path from so many days of each month, every so many minutes, at exactly this place."""
    from pvlib.atmosphere import alt2pres
    from pvlib.clearsky import simplified_solis

    starts, share = _days(months, days_a_month)
    minutes = (np.arange(round(1440 / step_min)) + 0.5) * step_min
    midnight_s = starts * 86_400 - longitude_deg * 240  # of local mean solar time
    unix = (midnight_s[:, None] + minutes * 60).ravel()
    pressure_pa = float(alt2pres(height_m))
    zenith, azimuth, equation = sun_positions(
        unix, latitude_deg, longitude_deg, height_m, pressure_pa / 100
    )
    weight = np.repeat(share, len(minutes)) * step_min / 60
    hour = (np.tile(minutes, len(starts)) + equation) / 60 % 24
    is_up = zenith < 90.0
    zenith, azimuth = np.radians(zenith[is_up]), np.radians(azimuth[is_up])
    light = simplified_solis(
        90 - np.degrees(zenith), _AEROSOL_DEPTH, _WATER_CM, pressure_pa, _EXTRATERRESTRIAL_W_M2
    )
    columns = (
        np.sin(zenith) * np.sin(azimuth),
        np.sin(zenith) * np.cos(azimuth),
        np.cos(zenith),
        np.asarray(light["dni"]),
        hour[is_up],
        weight[is_up],
    )
    for column in columns:  # shared by all who ask for this place
        column.flags.writeable = False
    return SunPath(*columns, step_min / 60)


def _days(months, days_a_month: int):
    """Days from 1 January 1970 spread through months, and the share of the season each stands for."""
    days, shares = [], []
    for month in months:
        first = np.datetime64(f"{YEAR}-{month:02d}-01", "D")
        following = (np.datetime64(f"{YEAR}-{month:02d}", "M") + 1).astype("datetime64[D]")
        length = int((following - first).astype(int))
        at = (np.arange(days_a_month) + 0.5) * length / days_a_month
        days.append(first.astype(int) + np.floor(at))
        shares.append(np.full(days_a_month, length / days_a_month))
    share = np.concatenate(shares)
    return np.concatenate(days), share / share.sum()


def face_sun(
    path: SunPath,
    bearings_deg,
    row_spacing_m: float,
    canopy: Canopy,
    season: Season,
    gradient: tuple[float, float] = (0.0, 0.0),
) -> dict[str, np.ndarray]:
    """What the sun does to rows at each bearing, by the names of the measures, (b,).

    On a slope faces stay vertical and boxes keep their height above the ground; a sun below the
    slope's own plane gives nothing. Left and right are as seen along the bearing. The share of
    light caught is NaN where none falls.

    Parameters
    ----------
    bearings_deg : float array, shape (b,)
        True. [deg]
    gradient : (float, float)
        Rise of the ground for a metre east and north. [1]

    Raises
    ------
    ValueError
        Where the hedge is as wide as the row spacing, or the gradient is not known.
    """
    if canopy.width_m >= row_spacing_m:
        raise ValueError(
            f"width_m: a hedge {canopy.width_m:g} m wide fills rows {row_spacing_m:g} m apart"
        )
    if not np.isfinite(gradient).all():
        raise ValueError(f"gradient: {gradient!r} is not two finite numbers")
    bearings = np.radians(np.atleast_1d(np.asarray(bearings_deg, dtype=float)))
    climb = path.up - gradient[0] * path.east - gradient[1] * path.north
    group = max(_VALUES_AT_ONCE // max(len(climb), 1), 1)
    parts = [
        _of_bearings(path, climb, bearings[k : k + group], row_spacing_m, canopy, season)
        for k in range(0, max(len(bearings), 1), group)
    ]
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _of_bearings(path: SunPath, climb, bearings, spacing_m, canopy: Canopy, season: Season):
    """The measures at some bearings, from how far each ray climbs above the ground for its length.

    A ray that leaves a face at height h above the ground is h + (spacing - width) * climb / across
    above it where it meets the next row, if that is below the top. So the lowest part of a face is
    dark, and the rest of it, (spacing - width) * climb / across from the top down, is lit. The gap
    under the hedge lets no light on a face, as rays climb and set out above the foot; nor do rows
    farther off take any that the next one leaves, as rays are higher there.
    """
    above = climb > 0
    climb, weight = climb[above], path.weight_h[above]
    light = weight * path.dni_w_m2[above] * 3600e-6  # MJ on a square metre across the ray
    morning = path.share_within(0.0, 12.0)[above]
    hot = path.share_within(season.hot_from_h, season.hot_to_h)[above]
    towards = np.stack([np.cos(bearings), -np.sin(bearings)], axis=1)  # to the right of the rows
    across = towards @ np.stack([path.east[above], path.north[above]])
    tall_m = canopy.height_m - canopy.foot_m
    reach = (spacing_m - canopy.width_m) / tall_m * climb
    with np.errstate(divide="ignore"):
        lit = np.minimum(reach / np.abs(across), 1.0)
    by_part = np.stack([light, light * morning, light * hot], axis=1)
    # Lit share times the cosine of incidence, which is how far the ray goes across.
    right = np.minimum(np.maximum(across, 0.0), reach) @ by_part
    left = np.minimum(np.maximum(-across, 0.0), reach) @ by_part
    # The shadow of a row on the ground, side by side with those of its neighbours.
    shadow = np.minimum((canopy.width_m * climb + tall_m * np.abs(across)) / spacing_m, climb)
    fallen = climb @ light
    both = left + right
    return {
        "sun_left_h": (lit * (across < 0)) @ weight,
        "sun_right_h": (lit * (across > 0)) @ weight,
        "sun_left_mj_m2": left[:, 0],
        "sun_right_mj_m2": right[:, 0],
        "sun_morning_mj_m2": both[:, 1],
        "sun_afternoon_mj_m2": both[:, 0] - both[:, 1],
        "sun_hot_mj_m2": np.maximum(left[:, 2], right[:, 2]),
        "sun_share_pct": 100 * (shadow @ light) / fallen if fallen > 0 else bearings * np.nan,
    }
