"""Fitting one set of places onto another by least squares: shift, turn, scale; a plane through height differences.

In plan all three fits have a closed form about the weighted middles of both sets, which also keeps eastings of
millions of metres from costing digits.

Sources: IOGP Publication 373-7-2, Geomatics Guidance Note 7 part 2, "Similarity transformation" (EPSG method
9621), for the form of the four-parameter fit; for shift and turn alone the best turn is the direction of the same
two sums (the two-dimensional case of the orthogonal Procrustes problem; from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..model.handoff import HEIGHT_MOVES, MOVES

FEWEST = {"shift": 1, "shift and turn": 2, "shift, turn and scale": 2}
"""Points that each of MOVES needs at least."""
FEWEST_HEIGHTS = {"none": 0, "shift": 1, "plane": 3}
"""Points that each of HEIGHT_MOVES needs at least; those of a plane must not stand in one line."""
_UNKNOWNS = {"shift": 2, "shift and turn": 3, "shift, turn and scale": 4}

THINNEST = 0.02
"""Points whose spread across their line is a smaller share of that along it stand in one line: a plane through them
would be carried by millimetres of noise. Common practice."""


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
        Root mean square of the residuals' lengths, weighted where weights are given. [m]
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

    def moved(self, xy_m: np.ndarray) -> np.ndarray:
        """(n, 2) of places as the fit moves them. [m]"""
        return np.asarray(xy_m, dtype=float) @ self.matrix[:, :2].T + self.matrix[:, 2]

    @property
    def worst_m(self) -> float:
        """Length of the longest residual. [m]"""
        return float(np.hypot(*self.residual_m.T).max())


def plan_fit(source_m, target_m, moves: str, weight=None) -> PlanFit:
    """The least-squares fit that may do what `moves` says.

    Not for places that are mirrored: a similarity keeps left and right.

    Parameters
    ----------
    source_m, target_m : float array, shape (n, 2)
        Easting and northing. [m]
    moves : str
        Of MOVES.
    weight : float array, shape (n,), optional
        Of each point's squared residual; all alike where it is left out.

    Raises
    ------
    ValueError
        Where there are too few points, or a turn is asked for and all sources are at one place.

    Examples
    --------
    >>> fit = plan_fit([[0, 0], [100, 0]], [[10, 20], [10, -80]], "shift and turn")
    >>> round(fit.turn_deg, 9), [round(s, 9) for s in fit.shift_m], fit.redundancy
    (90.0, [-40.0, -30.0], 1)
    """
    source = np.asarray(source_m, dtype=float).reshape(-1, 2)
    target = np.asarray(target_m, dtype=float).reshape(-1, 2)
    if moves not in MOVES:
        raise ValueError(f"moves: {moves!r} is none of {MOVES}")
    if source.shape != target.shape or len(source) < FEWEST[moves]:
        raise ValueError(f"source_m, target_m: {len(source)} and {len(target)} points for {moves}")
    weights = np.ones(len(source)) if weight is None else np.asarray(weight, dtype=float)
    if weights.shape != (len(source),) or not (weights > 0).all():
        raise ValueError("weight: one number above nought is needed for each point")
    share = weights / weights.sum()
    from_middle, to_middle = share @ source, share @ target
    (e, n), (e_to, n_to) = (source - from_middle).T, (target - to_middle).T
    along = float(share @ (e * e_to + n * n_to))
    aside = float(share @ (n * e_to - e * n_to))
    spread = float(share @ (e * e + n * n))
    turn, scale = 0.0, 1.0
    if moves != "shift":
        if spread <= 0.0 or math.hypot(along, aside) <= 1e-14 * spread:
            raise ValueError("source_m, target_m: all points of one of them stand at one place")
        turn = math.atan2(aside, along)
        if moves == "shift, turn and scale":
            scale = math.hypot(along, aside) / spread
    c, s = scale * math.cos(turn), scale * math.sin(turn)
    turned = np.array([[c, s], [-s, c]])
    fitted = np.column_stack([c * e + s * n, c * n - s * e])
    residual = np.column_stack([e_to, n_to]) - fitted
    return PlanFit(
        np.column_stack([turned, to_middle - turned @ from_middle]),
        math.degrees(turn),
        scale,
        tuple((to_middle - from_middle).tolist()),
        residual,
        math.sqrt(float(share @ (residual**2).sum(axis=1))),
        2 * len(source) - _UNKNOWNS[moves],
    )


@dataclass(frozen=True, eq=False)
class HeightFit:
    """A shift or plane added to heights.

    Attributes
    ----------
    plane : (float, float, float)
        Added to a height at easting e and northing n: plane[0] + plane[1] (e - middle[0]) + plane[2] (n - middle[1]).
    middle_m : (float, float)
    residual_m : float array, shape (n,)
        Target less fitted. [m]
    redundancy : int
    """

    plane: tuple[float, float, float]
    middle_m: tuple[float, float]
    residual_m: np.ndarray
    redundancy: int

    def added_m(self, at_m: np.ndarray) -> np.ndarray:
        """(n,) of what is added to heights at these places. [m]"""
        e, n = (np.asarray(at_m, dtype=float).reshape(-1, 2) - self.middle_m).T
        return self.plane[0] + self.plane[1] * e + self.plane[2] * n

    @property
    def tilt(self) -> float:
        """Steepest rise of the plane, as a share."""
        return math.hypot(self.plane[1], self.plane[2])

    @property
    def worst_m(self) -> float:
        """Size of the largest residual. [m]"""
        return float(np.abs(self.residual_m).max())


def height_fit(at_m, source_m, target_m, heights: str) -> HeightFit:
    """The least-squares shift or plane (of HEIGHT_MOVES, not "none").

    Parameters
    ----------
    at_m : float array, shape (n, 2)
        Easting and northing of the points. [m]
    source_m, target_m : float array, shape (n,)
        Heights. [m]
    heights : str

    Raises
    ------
    ValueError
        Where there are too few points, or a plane is asked of points in one line.

    Examples
    --------
    >>> at = [[0, 0], [100, 0], [0, 100]]
    >>> fit = height_fit(at, [10, 10, 10], [11, 11.3, 11.4], "plane")
    >>> [round(p, 6) for p in fit.plane], round(fit.tilt, 6), fit.redundancy
    ([1.233333, 0.003, 0.004], 0.005, 0)
    """
    at = np.asarray(at_m, dtype=float).reshape(-1, 2)
    added = np.asarray(target_m, dtype=float) - np.asarray(source_m, dtype=float)
    if heights not in HEIGHT_MOVES[1:]:
        raise ValueError(f"heights: {heights!r} is none of {HEIGHT_MOVES[1:]}")
    if added.shape != (len(at),) or len(at) < FEWEST_HEIGHTS[heights]:
        raise ValueError(f"at_m, source_m, target_m: {len(at)} points for a {heights}")
    middle = at.mean(axis=0)
    centred = at - middle
    plane = np.array([added.mean(), 0.0, 0.0])
    if heights == "plane":
        if stand_in_one_line(at):
            raise ValueError("at_m: all points stand in one line")
        plane[1:] = np.linalg.lstsq(centred, added - plane[0], rcond=None)[0]
    return HeightFit(
        tuple(plane.tolist()),
        tuple(middle.tolist()),
        added - plane[0] - centred @ plane[1:],
        len(at) - (3 if heights == "plane" else 1),
    )


def stand_in_one_line(at_m) -> bool:
    """Whether places lie so nearly in one line that no plane can be laid through their heights.

    Examples
    --------
    >>> stand_in_one_line([[0, 0], [100, 1], [200, 0]]), stand_in_one_line([[0, 0], [100, 20], [200, 0]])
    (True, False)
    """
    at = np.asarray(at_m, dtype=float).reshape(-1, 2)
    if len(at) < 3:
        return True
    along, across = np.linalg.svd(at - at.mean(axis=0), compute_uv=False)[:2]
    return bool(across <= THINNEST * along)
