"""Distances, bearings and areas between places on the plan."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from ..core.geometry.axes import bearing_of


@dataclass(frozen=True)
class Measured:
    """What a chain of places measures on the ground.

    Attributes
    ----------
    leg_m, bearing_deg : float or None
        Of the last leg; None with fewer than two places. The bearing is true. [m], [deg]
    length_m : float
        Of all legs. [m]
    area_m2 : float or None
        Inside the chain, closed; None with fewer than three places or where it crosses itself. [m²]
    """

    leg_m: float | None
    bearing_deg: float | None
    length_m: float
    area_m2: float | None


def measured(places_m) -> Measured:
    """Measures of a chain of places in the site frame.

    Examples
    --------
    >>> measured([(0, 0), (30, 0), (30, 40)])
    Measured(leg_m=40.0, bearing_deg=0.0, length_m=70.0, area_m2=600.0)
    """
    xy = np.asarray(places_m, dtype=float).reshape(-1, 2)
    if len(xy) < 2:
        return Measured(None, None, 0.0, None)
    steps = np.diff(xy, axis=0)
    legs = np.hypot(*steps.T)
    area = None
    if len(xy) >= 3:
        ring = shapely.Polygon(xy)
        area = float(ring.area) if ring.is_valid else None
    bearing = float(bearing_of(*steps[-1])) if legs[-1] > 0 else None
    return Measured(float(legs[-1]), bearing, float(legs.sum()), area)
