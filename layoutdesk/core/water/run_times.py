"""How long each set is run: before planting, after it, and week by week in the first years."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model import RowPlan
from .design import WaterDesign


@dataclass(frozen=True, eq=False)
class RunTimes:
    """Hours for every set, s sets and w weeks.

    Attributes
    ----------
    wetting_h, first_h : float array, shape (s,)
        The day before planting, and right after. [h]
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
        Of every set in the week. [h]
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
    design: WaterDesign, plans: tuple[RowPlan, ...], latitude_deg: float, day=None
) -> RunTimes:
    """Run times of a design. `day` is the project's date, where planting is not said."""
    raise NotImplementedError
