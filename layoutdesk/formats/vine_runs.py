"""Neighbouring vines of one class in one segment, as pieces of row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core.model import RowPlan


@dataclass(frozen=True, eq=False)
class VineRuns:
    """Runs of vines, k of them, segment after segment.

    Attributes
    ----------
    xy_m : float array, shape (v, 2)
        All vines, plan after plan. [m]
    first, last : int array, shape (k,)
        Vines, both in the run.
    begin_m, end_m : float array, shape (k, 2)
        Site frame; midway to neighbours of another class. [m]
    kind, segment : int array, shape (k,)
        `segment` counts through all plans.
    is_curved : bool array, shape (k,)
    """

    xy_m: np.ndarray
    first: np.ndarray
    last: np.ndarray
    begin_m: np.ndarray
    end_m: np.ndarray
    kind: np.ndarray
    segment: np.ndarray
    is_curved: np.ndarray

    def path_m(self, i: int) -> np.ndarray:
        """A run from its begin through its vines to its end. [m]"""
        inner = self.xy_m[self.first[i] : self.last[i] + 1]
        return np.vstack([self.begin_m[i], inner, self.end_m[i]])


def vine_runs(plans: Sequence[RowPlan], vine_class: np.ndarray) -> VineRuns:
    """Runs of classes along all segments; vines are in the order of the plans."""
    xy = np.concatenate([np.empty((0, 2)), *(p.vines.xy_m for p in plans)])
    n, none = len(xy), np.empty(0, np.intp)
    if not n:
        return VineRuns(xy, none, none, xy, xy, none, none, np.empty(0, bool))
    counts = np.concatenate([p.vines_of_segment for p in plans])
    segment = np.repeat(np.arange(len(counts)), counts)
    kind = np.asarray(vine_class, dtype=np.intp)
    joined = np.diff(segment) == 0
    cut = ~joined | (np.diff(kind) != 0)
    first = np.concatenate([[0], np.flatnonzero(cut) + 1])
    last = np.concatenate([np.flatnonzero(cut), [n - 1]])
    begin, end = xy[first].copy(), xy[last].copy()
    inner = np.flatnonzero(joined[first[1:] - 1]) + 1
    half = (xy[first[inner]] + xy[first[inner] - 1]) / 2
    begin[inner], end[inner - 1] = half, half
    curved = np.concatenate([np.full(p.n_segments, p.course is not None) for p in plans])
    return VineRuns(
        xy, first, last, begin, end, kind[first], segment[first], curved[segment[first]]
    )
