"""Which of many triangles a place lies in."""

from __future__ import annotations

import numpy as np

_SQUARES_PER_TRIANGLE = 2
"""More of them leave fewer triangles to try in each, and take more memory."""

_SLACK = 1e-9
"""A place so near beyond a side counts as in the triangle, as a share of the triangle's height."""


class TriangleFinder:
    """Triangles in a net of squares, each square with those that reach into it.

    Parameters
    ----------
    corners_m : float array, shape (t, 3, 2)
        Triangles of any kind with an area; where they overlap, the larger is found. [m]
    """

    def __init__(self, corners_m: np.ndarray):
        low = corners_m.min(axis=(0, 1))
        span = np.maximum(corners_m.max(axis=(0, 1)) - low, 1e-6)
        side = np.sqrt(span[0] * span[1] / (_SQUARES_PER_TRIANGLE * len(corners_m)))
        # A net for a strip as thin as a hair would have squares without number along it.
        self._side = max(float(side), float(span.max()) / (1000 + 2 * len(corners_m)))
        self._low, self._span = low, span
        self._columns, self._rows = (int(n) for n in span / self._side + 1)
        local = corners_m - low
        # The largest stand first in each square: a place is most likely in one of them.
        double = _cross(local[:, 1] - local[:, 0], local[:, 2] - local[:, 0])
        order = np.argsort(-np.abs(double), kind="stable")
        self._weights = _weights(local, double)
        square, owner = _covered(local[order] / self._side, self._columns, self._rows)
        by_square = np.argsort(square, kind="stable")
        self._members = order[owner[by_square]]
        per = np.bincount(square, minlength=self._columns * self._rows)
        self._begin = np.concatenate([[0], np.cumsum(per)])

    def find(self, xy_m: np.ndarray) -> np.ndarray:
        """Number of the triangle that each of (n, 2) places lies in, -1 for none, int (n,)."""
        x, y = xy_m[:, 0] - self._low[0], xy_m[:, 1] - self._low[1]
        found = np.full(len(x), -1, dtype=np.intp)
        slack = _SLACK * self._span
        with np.errstate(invalid="ignore"):
            near = (x >= -slack[0]) & (x <= self._span[0] + slack[0])
            near &= (y >= -slack[1]) & (y <= self._span[1] + slack[1])
        left = np.flatnonzero(near)
        x, y = x[left], y[left]
        column = np.clip((x / self._side).astype(np.intp), 0, self._columns - 1)
        row = np.clip((y / self._side).astype(np.intp), 0, self._rows - 1)
        square = column + self._columns * row
        at, stop = self._begin[square], self._begin[square + 1]
        keep = at < stop
        while True:
            # Only places that are in none of the triangles tried so far go on to the next one.
            left, x, y, at, stop = left[keep], x[keep], y[keep], at[keep], stop[keep]
            if not len(left):
                return found
            triangle = self._members[at]
            w = self._weights.take(triangle, axis=0)
            b = w[:, 0] * x + w[:, 1] * y + w[:, 2]
            c = w[:, 3] * x + w[:, 4] * y + w[:, 5]
            hit = (b >= -_SLACK) & (c >= -_SLACK) & (b + c <= 1 + _SLACK)
            found[left[hit]] = triangle[hit]
            at = at + 1
            keep = ~hit & (at < stop)


def _cross(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def _weights(local: np.ndarray, double: np.ndarray) -> np.ndarray:
    """For each triangle what x, y and 1 are multiplied with to give its second and third weight."""
    a, ab, ac = local[:, 0], local[:, 1] - local[:, 0], local[:, 2] - local[:, 0]
    b = np.column_stack([ac[:, 1], -ac[:, 0]]) / double[:, None]
    c = np.column_stack([-ab[:, 1], ab[:, 0]]) / double[:, None]
    return np.column_stack([b, -(a * b).sum(axis=1), c, -(a * c).sum(axis=1)])


def _covered(corners: np.ndarray, columns: int, rows: int):
    """Every square that a triangle reaches into, and the triangle; corners in sides of a square.

    Row by row, so that a long thin triangle is not in all squares of the box around it.
    """
    pad = 1e-6
    y = corners[:, :, 1]
    low = np.clip((y.min(axis=1) - pad).astype(np.intp), 0, rows - 1)
    high = np.clip((y.max(axis=1) + pad).astype(np.intp), 0, rows - 1)
    owner, rank = _runs(high - low + 1)
    row = low[owner] + rank
    first, last = np.full(len(owner), np.inf), np.full(len(owner), -np.inf)
    for k in range(3):
        p, q = corners[owner, k], corners[owner, (k + 1) % 3]
        below = p[:, 1] <= q[:, 1]
        p, q = np.where(below[:, None], p, q), np.where(below[:, None], q, p)
        met = (p[:, 1] <= row + 1 + pad) & (q[:, 1] >= row - pad)
        rise = np.where(q[:, 1] > p[:, 1], q[:, 1] - p[:, 1], 1.0)
        for bound in (row - pad, row + 1 + pad):
            share = np.clip((bound - p[:, 1]) / rise, 0.0, 1.0)
            level = q[:, 1] <= p[:, 1]
            share = np.where(level, bound > row, share)
            x = p[:, 0] + share * (q[:, 0] - p[:, 0])
            first = np.where(met, np.minimum(first, x), first)
            last = np.where(met, np.maximum(last, x), last)
    low = np.clip((first - pad).astype(np.intp), 0, columns - 1)
    high = np.clip((last + pad).astype(np.intp), 0, columns - 1)
    piece, rank = _runs(high - low + 1)
    return low[piece] + rank + columns * row[piece], owner[piece]


def _runs(count: np.ndarray):
    """0, 0, …, 1, 1, … each as often as its count says, and the rank within each run."""
    owner = np.repeat(np.arange(len(count)), count)
    return owner, np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
