"""Reference evapotranspiration ET0 from weather, as the FAO has it.

All numbers of equations are those of Allen, Pereira, Raes and Smith, Crop evapotranspiration, FAO
Irrigation and Drainage Paper 56, 1998. Every function takes arrays of one shape, a day or a month
each, or plain numbers. Radiation is in MJ on a square metre in a day, vapour pressure in kPa, ET0 in
mm a day; wind is that at 2 m above grass.
"""

from __future__ import annotations

import numpy as np

SOLAR_CONSTANT_MJ_M2_MIN = 0.0820
"""Eq. 21. [MJ/(m² min)]"""
STEFAN_BOLTZMANN_MJ_K4_M2_DAY = 4.903e-9
"""Eq. 39. [MJ/(K⁴ m² day)]"""
ALBEDO = 0.23
"""Of the reference grass, eq. 38."""
ANGSTROM = (0.25, 0.50)
"""a_s and b_s of eq. 35 where nobody calibrated them."""
HARGREAVES_RAISES_C = 17.8
"""Eq. 52. [°C]"""
_MM_PER_MJ = 0.408
"""Water that a MJ on a square metre evaporates: 1/2.45, eq. 20. [mm/(MJ/m²)]"""


def air_pressure_kpa(height_m):
    """Mean air pressure at a height above the sea, eq. 7. [kPa]

    >>> round(air_pressure_kpa(1800.0), 1)
    81.8
    """
    return 101.3 * ((293 - 0.0065 * height_m) / 293) ** 5.26


def psychrometric_kpa_c(height_m):
    """Psychrometric constant at a height, eq. 8. [kPa/°C]"""
    return 0.665e-3 * air_pressure_kpa(height_m)


def saturation_kpa(temperature_c):
    """Vapour pressure of saturated air, eq. 11. [kPa]

    >>> round(float(saturation_kpa(24.5)), 3)
    3.075
    """
    temperature = np.asarray(temperature_c, dtype=float)
    return 0.6108 * np.exp(17.27 * temperature / (temperature + 237.3))


def mean_saturation_kpa(tmin_c, tmax_c):
    """Mean saturation of a day between two temperatures, eq. 12: not that of their mean. [kPa]"""
    return (saturation_kpa(tmax_c) + saturation_kpa(tmin_c)) / 2


def saturation_slope_kpa_c(temperature_c):
    """Rise of the saturation pressure with temperature, eq. 13. [kPa/°C]"""
    temperature = np.asarray(temperature_c, dtype=float)
    return 4098 * saturation_kpa(temperature) / (temperature + 237.3) ** 2


def vapour_kpa(tmin_c, tmax_c, *, rh_min_pct=None, rh_max_pct=None, rh_pct=None, dew_c=None):
    """Actual vapour pressure, by the best of what is known. [kPa]

    From the dew point (eq. 14), from lowest and highest relative humidity (eq. 17), from the highest
    alone (eq. 18), from the mean (eq. 19); with nothing, the night is taken to reach the dew point
    (eq. 48), which is too moist for a dry place.
    """
    low, high = saturation_kpa(tmin_c), saturation_kpa(tmax_c)
    if dew_c is not None:
        return saturation_kpa(dew_c)
    if rh_max_pct is not None and rh_min_pct is not None:
        return (low * rh_max_pct + high * rh_min_pct) / 200
    if rh_max_pct is not None:
        return low * rh_max_pct / 100
    if rh_pct is not None:
        return rh_pct / 100 * (low + high) / 2
    return low


def wind_at_2m_m_s(wind_m_s, measured_at_m):
    """Wind at 2 m from that at another height above grass, eq. 47. [m/s]

    >>> round(float(wind_at_2m_m_s(3.2, 10.0)), 1)
    2.4
    """
    return wind_m_s * 4.87 / np.log(67.8 * measured_at_m - 5.42)


def sun_of_day(latitude_deg, day_of_year):
    """Inverse relative distance of the sun, its declination, and the hour angle at sunset, eq. 23 to 25.

    [1], [rad], [rad]. Beyond the polar circles the angle is 0 or π where the sun stays below or above.
    """
    turn = 2 * np.pi * np.asarray(day_of_year, dtype=float) / 365
    nearness = 1 + 0.033 * np.cos(turn)
    declination = 0.409 * np.sin(turn - 1.39)
    tangents = -np.tan(np.radians(latitude_deg)) * np.tan(declination)
    return nearness, declination, np.arccos(np.clip(tangents, -1.0, 1.0))


def extraterrestrial_mj_m2(latitude_deg, day_of_year):
    """Radiation Ra above the air, eq. 21. [MJ/(m² day)]

    >>> round(float(extraterrestrial_mj_m2(-20.0, 246)), 1)
    32.2
    """
    nearness, declination, sunset = sun_of_day(latitude_deg, day_of_year)
    latitude = np.radians(latitude_deg)
    height = sunset * np.sin(latitude) * np.sin(declination)
    height = height + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    return 24 * 60 / np.pi * SOLAR_CONSTANT_MJ_M2_MIN * nearness * height


def daylight_h(latitude_deg, day_of_year):
    """Hours N between sunrise and sunset, eq. 34. [h]"""
    return 24 / np.pi * sun_of_day(latitude_deg, day_of_year)[2]


def solar_from_sunshine_mj_m2(sun_h, latitude_deg, day_of_year):
    """Solar radiation Rs from hours of bright sun, eq. 35. [MJ/(m² day)]"""
    a, b = ANGSTROM
    longest = daylight_h(latitude_deg, day_of_year)
    share = np.clip(np.asarray(sun_h, float) / np.maximum(longest, 1e-9), 0.0, 1.0)
    return (a + b * share) * extraterrestrial_mj_m2(latitude_deg, day_of_year)


def clear_sky_mj_m2(height_m, latitude_deg, day_of_year):
    """Solar radiation Rso under a clear sky, eq. 37. [MJ/(m² day)]"""
    return (0.75 + 2e-5 * height_m) * extraterrestrial_mj_m2(latitude_deg, day_of_year)


def net_longwave_mj_m2(tmin_c, tmax_c, vapour, solar, clear_sky):
    """Net outgoing long-wave radiation Rnl, eq. 39. [MJ/(m² day)]

    `vapour` in kPa, `solar` and `clear_sky` in MJ/(m² day); solar is at most that of a clear sky.
    """
    warmth = ((np.asarray(tmax_c) + 273.16) ** 4 + (np.asarray(tmin_c) + 273.16) ** 4) / 2
    moist = 0.34 - 0.14 * np.sqrt(vapour)
    share = np.minimum(solar / np.maximum(clear_sky, 1e-9), 1.0)
    return STEFAN_BOLTZMANN_MJ_K4_M2_DAY * warmth * moist * (1.35 * share - 0.35)


def net_radiation_mj_m2(tmin_c, tmax_c, vapour, solar, clear_sky):
    """Net radiation Rn, eq. 38 less eq. 39. [MJ/(m² day)]"""
    return (1 - ALBEDO) * solar - net_longwave_mj_m2(tmin_c, tmax_c, vapour, solar, clear_sky)


def soil_heat_of_months_mj_m2(tmean_c):
    """Heat that goes into the soil in each of 12 months, eq. 43, the year taken to repeat itself.

    >>> soil_heat_of_months_mj_m2([0.0] * 11 + [10.0]).round(2).tolist()[-2:]
    [0.7, 0.0]
    """
    mean = np.asarray(tmean_c, dtype=float)
    return 0.07 * (np.roll(mean, -1) - np.roll(mean, 1))


def penman_monteith_mm(tmean_c, tmin_c, tmax_c, vapour, wind_2m_m_s, net, soil_heat, height_m):
    """ET0 by Penman and Monteith, eq. 6. Never below 0. [mm/day]

    Parameters
    ----------
    tmean_c, tmin_c, tmax_c : float array
        The mean is that of lowest and highest, eq. 9, where the station tells no other. [°C]
    vapour : float array
        Actual vapour pressure. [kPa]
    wind_2m_m_s : float array
        [m/s]
    net, soil_heat : float array
        Net radiation, and heat into the soil: 0 for a day (eq. 42). [MJ/(m² day)]
    height_m : float
        Above the sea. [m]
    """
    slope, gamma = saturation_slope_kpa_c(tmean_c), psychrometric_kpa_c(height_m)
    dry = mean_saturation_kpa(tmin_c, tmax_c) - vapour
    tmean_c, wind = np.asarray(tmean_c, dtype=float), np.asarray(wind_2m_m_s, dtype=float)
    above = _MM_PER_MJ * slope * (net - soil_heat)
    above = above + gamma * 900 / (tmean_c + 273) * wind * np.maximum(dry, 0.0)
    return np.maximum(above / (slope + gamma * (1 + 0.34 * wind)), 0.0)


def hargreaves_mm(tmin_c, tmax_c, extraterrestrial):
    """ET0 by Hargreaves from temperatures alone, eq. 52. Never below 0. [mm/day]

    Over-predicts where the air is moist, under-predicts where wind is strong (so paper 56 says): for
    places whose weather is known no better. `extraterrestrial` in MJ/(m² day).

    >>> round(float(hargreaves_mm(14.8, 26.6, 40.55)), 1)
    5.0
    """
    low, high = np.asarray(tmin_c, dtype=float), np.asarray(tmax_c, dtype=float)
    spread = np.sqrt(np.maximum(high - low, 0.0))
    raised = (low + high) / 2 + HARGREAVES_RAISES_C
    return np.maximum(0.0023 * raised * spread * _MM_PER_MJ * extraterrestrial, 0.0)
