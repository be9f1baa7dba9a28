"""Fitting one set of places onto another by least squares: shift, turn, scale; a plane through height differences."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class PlanFit:
    """A similarity that takes `source` onto `target`.

    Attributes
    ----------
    matrix : float array, shape (2, 3)
        target = matrix[:, :2] @ source + matrix[:, 2].
    turn_deg : float
        Clockwise, as bearings are. [deg]
    scale : float
    shift_m : (float, float)
        Of the middle of the sources. [m]
    residual_m : float array, shape (n, 2)
        Target less fitted. [m]
    rms_m : float
        Root mean square of the residuals' lengths. [m]
    redundancy : int
        Equations more than unknowns; 0 says that nothing checks the fit.
    """

    matrix: np.ndarray
    turn_deg: float
    scale: float
    shift_m: tuple[float, float]
    residual_m: np.ndarray
    rms_m: float
    redundancy: int


def plan_fit(source_m, target_m, moves: str, weight=None) -> PlanFit:
    """The least-squares fit that may do what `moves` says (of MOVES)."""
    raise NotImplementedError


@dataclass(frozen=True, eq=False)
class HeightFit:
    """A shift or plane added to heights.

    Attributes
    ----------
    plane : (float, float, float)
        Added to a height at easting e and northing n: plane[0] + plane[1] (e - middle[0]) + plane[2] (n - middle[1]).
    middle_m : (float, float)
    residual_m : float array, shape (n,)
    redundancy : int
    """

    plane: tuple[float, float, float]
    middle_m: tuple[float, float]
    residual_m: np.ndarray
    redundancy: int


def height_fit(at_m, source_m, target_m, heights: str) -> HeightFit:
    """The least-squares shift or plane (of HEIGHT_MOVES, not "none")."""
    raise NotImplementedError
