"""How far measured points are from the plan: along and across their row, and in height."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..model import RowPlan
from ..model.handoff import POINT_KINDS
from .points import Points

_HALF_CHORD_M = 0.5
"""A curved row's direction at a place is that of its chord from so far before to so far behind. [m]"""
_AT_ENDS = tuple(POINT_KINDS.index(kind) for kind in ("row_end", "end_post", "anchor"))
_STEPS_M = (0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
_MOST_BARS = 16


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

    def __len__(self) -> int:
        return len(self.distance_m)


@dataclass(frozen=True, eq=False)
class Histogram:
    """Counts between edges, at evenly rounded ones; the last bar reaches to the farthest. [m]"""

    edge_m: np.ndarray
    count: np.ndarray


def residuals(
    planned_m: np.ndarray,
    measured_m: np.ndarray,
    direction: np.ndarray,
    heights_m: np.ndarray | None = None,
) -> Residuals:
    """What measured points are off, pair by pair.

    Parameters
    ----------
    planned_m, measured_m : float array, shape (m, 2)
        Site frame. [m]
    direction : float array, shape (m, 2)
        Unit step along each point's row, as `directions` gives it.
    heights_m : float array, shape (m, 2), optional
        Planned and measured, NaN where not known. [m]

    Examples
    --------
    A post that stands 3 cm too far on and 1 cm to the left of a row that runs east:

    >>> off = residuals(np.zeros((1, 2)), np.array([[0.03, 0.01]]), np.array([[1.0, 0.0]]))
    >>> off.along_m, off.across_m
    (array([0.03]), array([-0.01]))
    """
    offset = np.asarray(measured_m, float) - planned_m
    along = np.einsum("ij,ij->i", offset, direction)
    across = offset[:, 0] * direction[:, 1] - offset[:, 1] * direction[:, 0]
    height = np.full(len(offset), np.nan)
    if heights_m is not None:
        height = heights_m[:, 1] - heights_m[:, 0]
    return Residuals(along, across, height, np.hypot(*offset.T), offset)


def directions(plans: Sequence[RowPlan], points: Points) -> np.ndarray:
    """Unit step along the row at each point, with the bearing, (n, 2); north for what stands in no row.

    In a curved row it is the row's direction at the point.
    """
    out = np.tile([0.0, 1.0], (len(points), 1))
    first = 0
    for plan in plans:
        mine = np.flatnonzero((points.owner >= first) & (points.owner < first + plan.n_segments))
        if len(mine):
            some = (points.owner[mine] - first, points.kind[mine], points.index[mine])
            out[mine] = _along_rows(plan, *some, points.xy_m[mine])
        first += plan.n_segments
    return out


def _along_rows(plan: RowPlan, segment, kind, index, xy_m) -> np.ndarray:
    ends = plan.segment_ends_m
    chord = (ends[:, 1] - ends[:, 0])[segment]
    step = chord / np.maximum(np.hypot(*chord.T), 1e-12)[:, None]
    _, count = plan.paths
    bent = count[segment] > 2
    if bent.any():
        at_end = bent & np.isin(kind, _AT_ENDS)
        outward = plan.outward[segment[at_end], index[at_end] - 1]
        step[at_end] = np.where((index[at_end] == 1)[:, None], -outward, outward)
        between = bent & ~at_end
        step[between] = _along_bent(plan.shapes[segment[between]], xy_m[between])
    return step


def _along_bent(rows: np.ndarray, xy_m: np.ndarray) -> np.ndarray:
    along = shapely.line_locate_point(rows, shapely.points(xy_m))
    # At an end the chord is shorter, not to one side alone.
    half = np.minimum(np.minimum(along, shapely.length(rows) - along), _HALF_CHORD_M)
    half = np.maximum(half, 0.05)
    before = shapely.get_coordinates(
        shapely.line_interpolate_point(rows, np.maximum(along - half, 0))
    )
    behind = shapely.get_coordinates(shapely.line_interpolate_point(rows, along + half))
    step = behind - before
    return step / np.hypot(*step.T)[:, None]


def histogram(distance_m: np.ndarray, tolerance_m: float) -> Histogram:
    """Distances counted between round edges, finer than the tolerance.

    Bars are even up to five tolerances or the farthest, whichever is less, and one bar holds what is
    farther.

    Examples
    --------
    >>> counted = histogram(np.array([0.004, 0.012, 0.013, 2.5]), 0.03)
    >>> counted.edge_m.tolist()[:3], counted.count.tolist()[:3], counted.count.tolist()[-1]
    ([0.0, 0.01, 0.02], [1, 2, 0], 1)
    """
    known = distance_m[np.isfinite(distance_m)]
    farthest = float(known.max(initial=0.0))
    reach = max(min(farthest, 5 * tolerance_m), tolerance_m)
    step = next((s for s in _STEPS_M if reach / s <= _MOST_BARS), _STEPS_M[-1])
    n = max(int(np.ceil(reach / step - 1e-9)), 1)
    edge = np.round(step * np.arange(n + 1), 6)
    if farthest >= edge[-1]:
        last = step * (np.floor(farthest / step) + 1)
        edge = np.append(edge, round(float(last), 6))
    count = np.bincount(np.searchsorted(edge, known, side="right") - 1, minlength=len(edge) - 1)
    return Histogram(edge, count)


@dataclass(frozen=True)
class Figures:
    """What many distances come to.

    Attributes
    ----------
    n : int
    rms_m : float
        Root mean square of the distances in plan. [m]
    most_95_m : float
        95 of 100 points are no farther off. [m]
    worst_m : float
    mean_along_m, mean_across_m : float
        What all are off together: the systematic part. [m]
    mean_height_m, rms_height_m : float
        NaN where no heights are known. [m]
    n_heights : int
    """

    n: int
    rms_m: float
    most_95_m: float
    worst_m: float
    mean_along_m: float
    mean_across_m: float
    mean_height_m: float
    rms_height_m: float
    n_heights: int


def figures(off: Residuals, which: np.ndarray | None = None) -> Figures:
    """Figures of all pairs, or of some.

    Examples
    --------
    >>> off = residuals(np.zeros((2, 2)), np.array([[0.0, 0.03], [0.0, 0.04]]), np.array([[0.0, 1.0]] * 2))
    >>> round(figures(off).rms_m, 6), round(figures(off).mean_along_m, 6)
    (0.035355, 0.035)
    """
    every = slice(None) if which is None else which
    distance, height = off.distance_m[every], off.height_m[every]
    n = len(distance)
    if not n:
        return Figures(0, *(float("nan"),) * 7, 0)
    height = height[np.isfinite(height)]
    return Figures(
        n,
        _rms(distance),
        float(np.quantile(distance, 0.95, method="inverted_cdf")),
        float(distance.max()),
        float(off.along_m[every].mean()),
        float(off.across_m[every].mean()),
        float(height.mean()) if len(height) else float("nan"),
        _rms(height) if len(height) else float("nan"),
        len(height),
    )


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(values**2)))
