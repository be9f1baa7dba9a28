"""A year's evapotranspiration by months: what is taken where nobody gave any, and days of months."""

from __future__ import annotations

import numpy as np

from .evapotranspiration import extraterrestrial_mj_m2, hargreaves_mm

MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July"),
    *("August", "September", "October", "November", "December"),
)
MONTH_DAYS = np.array([31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
"""Of the Gregorian calendar's mean year, January first."""
MID_MONTH = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349])
"""Day of the year of each month's 15th, which stands for the month."""

ASSUMED_TEXT = (
    "Evapotranspiration is assumed from the latitude alone: by Hargreaves (FAO-56, eq. 52) from "
    "temperatures such as low inland ground may have there, with days 12 °C warmer than nights, and no "
    "rain."
)
_DAY_OVER_NIGHT_K = 12.0


def assumed_temperatures_c(latitude_deg: float) -> np.ndarray:
    """Mean temperature of 12 months that is taken for a latitude, (12,). [°C]

    The year's mean falls from 27 °C at the equator with the square of the latitude, and summer is
    above it by a fifth of a degree a degree; July is warmest in the north, January in the south.
    Common practice, assumed: within some 3 °C of lowland wine-growing places, and of no use beyond.

    >>> assumed_temperatures_c(-35.0).round(1).tolist()[::6]
    [24.8, 10.8]
    """
    away = abs(latitude_deg)
    warmest = 6 if latitude_deg >= 0 else 0
    season = np.cos(2 * np.pi * (np.arange(12) - warmest) / 12)
    return 27.0 - 0.0075 * away**2 + 0.2 * away * season


def assumed_et0_mm_day(latitude_deg: float) -> np.ndarray:
    """ET0 of 12 months where nobody gave a climate, (12,). [mm/day]

    See `ASSUMED_TEXT`. For a first look: a station's own figures must take its place.

    >>> assumed_et0_mm_day(45.0).round(1).tolist()[6]
    5.1
    """
    mean = assumed_temperatures_c(latitude_deg)
    half = _DAY_OVER_NIGHT_K / 2
    return hargreaves_mm(mean - half, mean + half, extraterrestrial_mj_m2(latitude_deg, MID_MONTH))
