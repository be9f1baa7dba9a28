"""How far measured points are from the plan: along and across their row, and in height."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class Residuals:
    """Ground less plan, pair by pair.

    Attributes
    ----------
    along_m, across_m : float array, shape (m,)
        With the row's bearing, and to its right; north and east for what stands in no row. [m]
    height_m : float array, shape (m,)
        NaN where either height is not known. [m]
    distance_m : float array, shape (m,)
        In plan. [m]
    offset_m : float array, shape (m, 2)
        In the site frame. [m]
    """

    along_m: np.ndarray
    across_m: np.ndarray
    height_m: np.ndarray
    distance_m: np.ndarray
    offset_m: np.ndarray


@dataclass(frozen=True, eq=False)
class Histogram:
    """Counts between edges. [m]"""

    edge_m: np.ndarray
    count: np.ndarray
