"""Where the ground's heights come from."""

from __future__ import annotations

import math
from dataclasses import dataclass

VERTICAL_UNITS = ("m", "ft", "usft")


@dataclass(frozen=True)
class Terrain:
    """A file with the heights of the ground; the project keeps its path and what it does not say.

    Attributes
    ----------
    path : str
    unit, datum, crs : str
        Of its heights, one of VERTICAL_UNITS; what they count from; its horizontal system: as the
        user says. Empty where the file is to be believed.
    contour_m : float
        Interval of the contours drawn; 0 for none. [m]
    relief : bool
        Whether the shaded relief is drawn.
    """

    path: str
    unit: str = ""
    datum: str = ""
    crs: str = ""
    contour_m: float = 1.0
    relief: bool = True

    def __post_init__(self):
        if self.unit and self.unit not in VERTICAL_UNITS:
            raise ValueError(f"unit: {self.unit!r} is none of {', '.join(VERTICAL_UNITS)}")
        if not (math.isfinite(self.contour_m) and 0 <= self.contour_m <= 1000):
            raise ValueError(f"contour_m: {self.contour_m!r} is outside 0 to 1000")
