"""Points at regular steps along pieces of line."""

from __future__ import annotations

import numpy as np

ALIGN_M = 1e-6
"""Lengths that differ by less count as equal when whole steps are counted. [m]"""


def whole_steps(span_m, step_m):
    """Number of whole steps in a span, a span short by ALIGN_M counted as full; -1 where negative.

    Examples
    --------
    >>> whole_steps(np.array([150.0 - 1e-9, 149.9, -0.2]), 1.5).tolist()
    [100, 99, -1]
    """
    span = np.asarray(span_m, dtype=float)
    steps = np.floor((span + ALIGN_M) / step_m).astype(np.int64)
    return np.where(span < -ALIGN_M, -1, steps)


def points_along(start_xy_m, unit_xy, first_m, step_m, count) -> np.ndarray:
    """Coordinates of the points of many pieces, piece after piece.

    Parameters
    ----------
    start_xy_m : float array, shape (s, 2)
        Where each piece begins. [m]
    unit_xy : (float, float), or float array, shape (s, 2)
        Direction common to all pieces, or of each.
    first_m, step_m : float array, shape (s,)
        Distance of the first point from the beginning, and from point to point. [m]
    count : int array, shape (s,)

    Returns
    -------
    float array, shape (n, 2), n = count.sum()
        [m]

    Examples
    --------
    >>> points_along(np.zeros((1, 2)), (0.0, 1.0), np.array([1.0]), np.array([1.5]), np.array([3]))
    array([[0. , 1. ],
           [0. , 2.5],
           [0. , 4. ]])
    """
    # x + iy: one add of a scalar to a contiguous run a piece, the least memory traffic there is.
    total = int(count.sum())
    out = np.empty(total, dtype=np.complex128)
    each = np.ndim(unit_xy) == 2
    unit = unit_xy[:, 0] + 1j * unit_xy[:, 1] if each else complex(*unit_xy)
    first_m = np.asarray(first_m)
    origin = start_xy_m[:, 0] + 1j * start_xy_m[:, 1] + first_m * unit
    stops = np.cumsum(count)
    ramp = np.arange(count.max(initial=0))
    begin = 0
    common = not each and len(step_m) > 0 and bool((step_m == step_m[0]).all())
    if common:
        ramp = ramp * (step_m[0] * unit)
        for stop, o in zip(stops.tolist(), origin.tolist(), strict=True):
            np.add(ramp[: stop - begin], o, out=out[begin:stop])
            begin = stop
    else:
        steps = (step_m * unit).tolist()
        for stop, o, step in zip(stops.tolist(), origin.tolist(), steps, strict=True):
            piece = out[begin:stop]
            np.multiply(ramp[: stop - begin], step, out=piece)
            piece += o
            begin = stop
    return out.view(np.float64).reshape(total, 2)


def index_along(count) -> np.ndarray:
    """1, 2, … within each piece, piece after piece.

    Examples
    --------
    >>> index_along(np.array([2, 0, 3])).tolist()
    [1, 2, 1, 2, 3]
    """
    stops = np.cumsum(count)
    return np.arange(1, (stops[-1] if len(stops) else 0) + 1) - np.repeat(stops - count, count)
