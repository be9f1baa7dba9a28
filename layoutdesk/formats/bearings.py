"""Bearings as people read them: true, grid and magnetic. True is what is stored.

Magnetic declination is by the World Magnetic Model 2025 (NOAA NCEI and British Geological Survey),
through the pygeomag package; the model holds from 2025.0 to 2030.0.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from ..core.model import SiteFrame

MODEL_SPAN = (2025.0, 2030.0)


@dataclass(frozen=True)
class NorthOffsets:
    """Directions of grid north and magnetic north, clockwise from true north, at the site. [deg]

    `declination_deg` is None where the date is outside the magnetic model's span.
    """

    convergence_deg: float
    declination_deg: float | None

    def grid(self, true_deg: float) -> float:
        """Grid bearing of a true one. [deg]

        Examples
        --------
        >>> NorthOffsets(1.25, None).grid(0.25)
        359.0
        """
        return (true_deg - self.convergence_deg) % 360

    def magnetic(self, true_deg: float) -> float | None:
        """Magnetic bearing of a true one; None without a declination. [deg]"""
        if self.declination_deg is None:
            return None
        return (true_deg - self.declination_deg) % 360

    def true_from(self, convention: str, bearing_deg: float) -> float:
        """True bearing of one read as "true", "grid" or "magnetic". [deg]

        Raises
        ------
        ValueError
            For another convention, or for "magnetic" outside the model's span.
        """
        if convention == "true":
            return bearing_deg % 360
        if convention == "grid":
            return (bearing_deg + self.convergence_deg) % 360
        if convention == "magnetic":
            if self.declination_deg is None:
                raise ValueError("bearing_deg: no magnetic declination is known for this date")
            return (bearing_deg + self.declination_deg) % 360
        raise ValueError(f"convention: {convention!r} is none of 'true', 'grid', 'magnetic'")


def decimal_year(day: datetime.date) -> float:
    """A date as a fraction of years.

    Examples
    --------
    >>> decimal_year(datetime.date(2025, 1, 1)), round(decimal_year(datetime.date(2027, 7, 2)), 2)
    (2025.0, 2027.5)
    """
    start = datetime.date(day.year, 1, 1)
    return day.year + (day - start).days / (datetime.date(day.year + 1, 1, 1) - start).days


def declination_deg(
    latitude_deg: float, longitude_deg: float, height_m: float, year: float
) -> float | None:
    """Magnetic declination, positive where the needle points east of true north; None out of span."""
    if not MODEL_SPAN[0] <= year <= MODEL_SPAN[1]:
        return None
    from pygeomag import GeoMag

    model = GeoMag(base_year=2025)
    return float(
        model.calculate(glat=latitude_deg, glon=longitude_deg, alt=height_m / 1000, time=year).d
    )


def north_offsets(
    frame: SiteFrame, convergence_deg: float, day: datetime.date | None
) -> NorthOffsets:
    """Grid and magnetic north at the frame's origin on a day."""
    if day is None:
        return NorthOffsets(convergence_deg, None)
    return NorthOffsets(
        convergence_deg,
        declination_deg(frame.latitude_deg, frame.longitude_deg, frame.height_m, decimal_year(day)),
    )
