"""How long rows are along the ground, by which wires and drip lines are cut."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model import RowPlan
from ..terrain.surface import Surface

_LONGEST_STEP_M = 3.0
_LEAST_STEP_M = 0.5
_PLACES_AT_MOST = 400_000
"""Of one site: more are spread farther apart along the rows."""
_TOO_SMALL_M = 1e-6


@dataclass(frozen=True, eq=False)
class GroundLengths:
    """Length of every segment along the ground, plan after plan.

    Attributes
    ----------
    length_m : float array, shape (s,)
        Along the ground; in plan where heights are not known. [m]
    basis : str
        "plan", "ground" or "ground where known".
    unknown_m : float
        Metres of row whose rise is not known; all of them with no terrain. [m]
    """

    length_m: np.ndarray
    basis: str
    unknown_m: float


def ground_lengths(plans: Sequence[RowPlan], surface: Surface | None = None) -> GroundLengths:
    """Lengths of all segments: along the ground with a surface, else in plan.

    Of one plan they are those of `core.terrain.grades.row_grades`, from a sixth of its heights: no
    grade is wanted here.
    """
    in_plan = np.concatenate([np.empty(0), *(p.segments.length_m for p in plans)])
    total = float(in_plan.sum())
    if surface is None:
        return GroundLengths(in_plan, "plan", total)
    step = max(min(surface.spacing_m, _LONGEST_STEP_M), _LEAST_STEP_M, total / _PLACES_AT_MOST)
    found = [_along_ground(p, surface, step) for p in plans if p.n_segments]
    unknown = sum(u for _, u in found)
    basis = "ground where known" if unknown > _TOO_SMALL_M else "ground"
    return GroundLengths(np.concatenate([np.empty(0), *(g for g, _ in found)]), basis, unknown)


def _along_ground(plan: RowPlan, surface: Surface, step_m: float) -> tuple[np.ndarray, float]:
    """Length of every segment over the heights at equal steps, and metres not known. [m]"""
    s = plan.segments
    count = np.maximum(np.ceil(s.length_m / step_m), 1).astype(np.intp)
    step = s.length_m / count
    places = np.repeat(np.arange(len(s)), count + 1)
    rank = np.arange(len(places)) - np.repeat(np.cumsum(count + 1) - (count + 1), count + 1)
    z = surface.heights_m(plan.places(places, s.start_m[places] + rank * step[places]))
    rise = np.diff(z)[places[1:] == places[:-1]]
    segment = np.repeat(np.arange(len(s)), count)
    each, known = step[segment], np.isfinite(rise)
    slope = np.hypot(each, np.where(known, rise, 0.0))
    return np.bincount(segment, slope, minlength=len(s)), float(each[~known].sum())
