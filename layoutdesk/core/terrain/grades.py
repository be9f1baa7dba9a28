"""How steep rows are: rise along them and tilt across them, sampled along every row."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..model import RowPlan
from .surface import Surface, mean_gradient

__all__ = ["RowGrades", "mean_gradient", "row_grades"]

_LEAST_STEP_M = 0.5
_SAMPLES_AT_MOST = 400_000
"""Of one block: more are spread farther apart along the rows."""


@dataclass(frozen=True, eq=False)
class RowGrades:
    """Grades of a plan's rows, only where heights are known.

    Attributes
    ----------
    along_pct : float array, shape (n,)
        Rise along the bearing over the machine's length, positive uphill. [%]
    across_pct : float array, shape (n,)
        Rise to the right over the machine's width, positive where the right side is higher. [%]
    weight_m : float array, shape (n,)
        Metres of row each sample stands for.
    segment : int array, shape (n,)
    mean_pct, steepest_pct : float array, shape (s,)
        Of each segment: from end to end, signed; the greatest along, without a sign. NaN where an
        end, or the whole segment, is not known. [%]
    ground_length_m : float array, shape (s,)
        Along the ground; where heights are not known, in plan. [m]
    height_range_m : float array, shape (s,)
        Highest less lowest, NaN where nothing is known. [m]
    unknown_m : float
        Metres of row left out of the grades.
    """

    along_pct: np.ndarray
    across_pct: np.ndarray
    weight_m: np.ndarray
    segment: np.ndarray
    mean_pct: np.ndarray
    steepest_pct: np.ndarray
    ground_length_m: np.ndarray
    height_range_m: np.ndarray
    unknown_m: float


def row_grades(
    plan: RowPlan, surface: Surface, machine_length_m: float = 3.0, machine_width_m: float = 1.5
) -> RowGrades:
    """Grades along and across the rows of a plan.

    Samples stand at the middle of steps of equal length within each segment, about as far apart as
    the surface's own samples. A grade is a difference of heights over the machine, so it tells what
    the machine stands on and not every bump of the ground.

    Parameters
    ----------
    machine_length_m, machine_width_m : float
        Between axles along the row, between wheels across it. [m]
    """
    s = plan.segments
    length = s.length_m
    step = max(min(surface.spacing_m, machine_length_m), _LEAST_STEP_M)
    step = max(step, length.sum() / _SAMPLES_AT_MOST)
    count = np.maximum(np.ceil(length / step), 1).astype(np.intp)
    segment = np.repeat(np.arange(len(s)), count)
    rank = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
    each = (length / count)[segment]
    along = s.start_m[segment] + (rank + 0.5) * each
    half = machine_length_m / 2
    ahead, behind = _heights(plan, surface, segment, along + half, along - half)
    across = (plan.places(segment, along + 0.01) - plan.places(segment, along - 0.01)) / 0.02
    to_right = np.column_stack([across[:, 1], -across[:, 0]]) * (machine_width_m / 2)
    middle = plan.places(segment, along)
    right, left = surface.heights_m(middle + to_right), surface.heights_m(middle - to_right)
    along_pct = 100 * (ahead - behind) / machine_length_m
    across_pct = 100 * (right - left) / machine_width_m
    known = np.isfinite(along_pct) & np.isfinite(across_pct)
    steepest = np.full(len(s), np.nan)
    np.fmax.at(steepest, segment[known], np.abs(along_pct[known]))
    return RowGrades(
        along_pct[known],
        across_pct[known],
        each[known],
        segment[known],
        *_of_segments(plan, surface, count, segment, rank, each, steepest),
        float(each[~known].sum()),
    )


def _heights(plan: RowPlan, surface: Surface, segment, *along):
    return [surface.heights_m(plan.places(segment, a)) for a in along]


def _of_segments(plan: RowPlan, surface: Surface, count, segment, rank, each, steepest):
    """Mean grade, steepest, length on the ground and range of heights of every segment."""
    s = plan.segments
    n = len(s)
    if not n:
        return (np.empty(0),) * 4
    # Heights at the ends of all steps: one more than steps in every segment.
    nodes = np.repeat(np.arange(n), count + 1)
    first = np.cumsum(count + 1) - (count + 1)
    at = np.arange(len(nodes)) - first[nodes]
    step = s.length_m / count
    z = surface.heights_m(plan.places(nodes, s.start_m[nodes] + at * step[nodes]))
    joined = nodes[1:] == nodes[:-1]
    rise = np.diff(z)[joined]
    slope = np.hypot(each, np.where(np.isfinite(rise), rise, 0.0))
    ground = np.bincount(segment, slope, minlength=n)
    with np.errstate(invalid="ignore"):
        high = np.fmax.reduceat(z, first) - np.fmin.reduceat(z, first)
        mean = 100 * (z[first + count] - z[first]) / s.length_m
    return mean, steepest, ground, high
