"""Smooth coordinate transforms replaced by a cubic, where that is exact enough."""

from __future__ import annotations

import numpy as np

CHECKED_TO_M = 1e-5
"""Most the cubic may differ from the exact transform at the points checked. [m]"""

_CHUNK = 8192
_POWERS = [(i, j) for i in range(4) for j in range(4 - i)]


def fitted(transform, bounds_m, metres_per_unit=(1.0, 1.0)):
    """A cubic that stands in for `transform` inside `bounds_m`, or `transform` itself.

    Fitted at Chebyshev nodes and checked at other points; where any of these is off by more than
    CHECKED_TO_M the exact transform is returned. Not for transforms by a grid of shifts, which are
    not smooth between the points checked.

    Parameters
    ----------
    transform : function of (n, 2) to (n, 2)
    bounds_m : (x0, y0, x1, y1)
    metres_per_unit : (float, float)
        Size of the two results' units on the ground, to judge the error. [m]

    Returns
    -------
    function of (n, 2) to (n, 2)
        A cubic has the attribute `worst_m`, the largest error found. [m]
    """
    x0, y0, x1, y1 = bounds_m
    centre = np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    half = np.maximum(np.array([x1 - x0, y1 - y0]) / 2, 1.0)
    nodes = np.cos((np.arange(7) + 0.5) * np.pi / 7)
    u, v = (q.ravel() for q in np.meshgrid(nodes, nodes))
    exact = transform(np.column_stack([u, v]) * half + centre)
    if not np.isfinite(exact).all():
        return transform
    offset = exact.mean(axis=0)
    matrix = np.column_stack([u**i * v**j for i, j in _POWERS])
    found, *_ = np.linalg.lstsq(matrix, exact - offset, rcond=None)
    terms = {power: found[k] for k, power in enumerate(_POWERS)}

    def cubic(xy):
        out = np.empty((len(xy), 2))
        for begin in range(0, len(xy), _CHUNK):
            part = (xy[begin : begin + _CHUNK] - centre) / half
            x, y = np.ascontiguousarray(part[:, 0]), np.ascontiguousarray(part[:, 1])
            for axis in (0, 1):
                c = {p: t[axis] for p, t in terms.items()}
                sum_ = c[3, 0] * x
                sum_ += c[2, 1] * y + c[2, 0]
                sum_ *= x
                sum_ += (c[1, 2] * y + c[1, 1]) * y + c[1, 0]
                sum_ *= x
                sum_ += ((c[0, 3] * y + c[0, 2]) * y + c[0, 1]) * y + (c[0, 0] + offset[axis])
                out[begin : begin + _CHUNK, axis] = sum_
        return out

    grid = np.linspace(-1, 1, 9)
    u, v = (q.ravel() for q in np.meshgrid(grid, grid))
    points = np.column_stack([u, v]) * half + centre
    error = np.abs(cubic(points) - transform(points)) * np.asarray(metres_per_unit)
    worst = float(error.max())
    if not worst <= CHECKED_TO_M:
        return transform
    cubic.worst_m = worst
    return cubic
