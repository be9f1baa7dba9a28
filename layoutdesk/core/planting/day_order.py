"""In which order vines are planted, and which row end their trays go to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .assigned import Assigned

TRAY_ENDS = ("start", "far")


@dataclass(frozen=True, eq=False)
class PlantingOrder:
    """Vines to plant, one after another.

    Attributes
    ----------
    vines : int array, shape (k,)
        As in `Assigned`: segment after segment, in each from the row end that its trays go to.
    segment : int array, shape (g,)
        Segments that have any, counted through all plans, in order.
    count : int array, shape (g,)
        Vines to plant of each.
    is_far : bool array, shape (g,)
        Whether its trays go to the far end.
    """

    vines: np.ndarray
    segment: np.ndarray
    count: np.ndarray
    is_far: np.ndarray


def planting_order(found: Assigned, todo: np.ndarray) -> PlantingOrder:
    """Vines to plant in the order of block, row and segment.

    The trays of the first segment go to its start end; those of every other one to the end that is nearer to
    where the last ones went, so that whoever sets them out drives along one headland. A row is planted from
    the end that its trays are at.

    Parameters
    ----------
    found : Assigned
    todo : bool array, shape (n,)
        Vines that are to be planted.
    """
    n_segments = sum(p.n_segments for p in found.plans)
    of_segment = np.bincount(found.segment[todo], minlength=n_segments)
    segment = np.flatnonzero(of_segment)
    is_far = _far_ends(found, segment)
    count = of_segment[segment]
    vines = np.flatnonzero(todo)
    if len(vines):
        # Segments whose trays are at the far end are turned round, each within its own stretch.
        first = np.repeat(np.cumsum(count) - count, count)
        last = first + np.repeat(count, count) - 1
        at = np.arange(len(vines))
        vines = vines[np.where(np.repeat(is_far, count), first + last - at, at)]
    return PlantingOrder(vines, segment, count, is_far)


def _far_ends(found: Assigned, segment: np.ndarray) -> np.ndarray:
    """Of each segment, whether its far end is nearer to where the last trays went."""
    ends = [p.segment_ends_m for p in found.plans if p.n_segments]
    if not len(segment):
        return np.zeros(0, bool)
    is_far, at = np.zeros(len(segment), bool), None
    for i, (start, far) in enumerate(np.concatenate(ends)[segment].tolist()):
        is_far[i] = at is not None and _apart2(far, at) < _apart2(start, at)
        at = far if is_far[i] else start
    return is_far


def _apart2(a, b) -> float:
    return (a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2
