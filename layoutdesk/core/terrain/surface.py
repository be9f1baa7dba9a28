"""The ground as a surface: heights and gradients at places of the site frame, NaN where not known."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np

from .finder import TriangleFinder

_AT_ONCE = 16_384
"""Places that are looked up together: their arrays stay in the cache."""

_ONE_PLACE_M = 1e-4
"""Points nearer than about this are at one place. [m]"""

_IN_LINE_M = 1e-3
"""Points that leave a line by no more than this lie in it. [m]"""


class Surface(Protocol):
    """Heights of the ground.

    Attributes
    ----------
    spacing_m : float
        Usual distance of its samples: nothing finer is known. [m]
    bounds_m : (float, float, float, float)
        x0, y0, x1, y1 of the frame outside which nothing is known. [m]
    """

    spacing_m: float
    bounds_m: tuple[float, float, float, float]

    def heights_m(self, xy_m: np.ndarray) -> np.ndarray:
        """Heights at (n, 2) places, NaN where they are not known, (n,). [m]"""
        ...

    def gradients(self, xy_m: np.ndarray) -> np.ndarray:
        """Rise for a metre east and for a metre north at (n, 2) places, (n, 2). [1]"""
        ...


def _in_parts(work, xy_m: np.ndarray, width: int) -> np.ndarray:
    """`work` done on some places at a time."""
    xy = np.asarray(xy_m, dtype=float).reshape(-1, 2)
    out = np.empty((len(xy), width))
    for begin in range(0, len(xy), _AT_ONCE):
        part = slice(begin, begin + _AT_ONCE)
        out[part] = work(xy[part]).reshape(-1, width)
    return out


class GridSurface:
    """Heights at the middles of a raster's cells, bilinear between them.

    Parameters
    ----------
    heights_m : float array, shape (r, c)
        NaN where not known. [m]
    to_cells : function
        (n, 2) site frame to (n, 2) columns and rows, counted from the raster's upper left corner.
    spacing_m : float
        Size of a cell. [m]
    bounds_m : (float, float, float, float)
        x0, y0, x1, y1 of the raster in the frame. [m]
    """

    def __init__(
        self,
        heights_m: np.ndarray,
        to_cells: Callable[[np.ndarray], np.ndarray],
        spacing_m: float,
        bounds_m: tuple[float, float, float, float],
    ):
        heights = np.asarray(heights_m)
        if heights.ndim != 2 or min(heights.shape) < 2:
            raise ValueError(f"heights_m: two rows and columns are needed, not {heights.shape}")
        self.heights, self.to_cells = heights, to_cells
        self.spacing_m, self.bounds_m = float(spacing_m), tuple(bounds_m)

    def heights_m(self, xy_m: np.ndarray) -> np.ndarray:
        """Heights, (n,). [m]"""
        return _in_parts(self._heights, xy_m, 1)[:, 0]

    def _heights(self, xy: np.ndarray) -> np.ndarray:
        cells = self.to_cells(xy)
        rows, columns = self.heights.shape
        with np.errstate(invalid="ignore"):
            u, v = cells[:, 0] - 0.5, cells[:, 1] - 0.5
            # A hair beyond the outermost middles is rounding, not ground that is not known.
            known = (u >= -1e-9) & (u <= columns - 1 + 1e-9)
            known &= (v >= -1e-9) & (v <= rows - 1 + 1e-9)
        u = np.where(known, np.clip(u, 0, columns - 1), 0.0)
        v = np.where(known, np.clip(v, 0, rows - 1), 0.0)
        i = np.minimum(u.astype(np.intp), columns - 2)
        j = np.minimum(v.astype(np.intp), rows - 2)
        a, b = u - i, v - j
        flat = self.heights.ravel()
        at = j * columns + i
        corners = [flat[at + k].astype(float) for k in (0, 1, columns, columns + 1)]
        weights = [(1 - a) * (1 - b), a * (1 - b), (1 - a) * b, a * b]
        total = np.zeros(len(u))
        for corner, weight in zip(corners, weights, strict=True):
            total += np.where(weight == 0, 0.0, corner * weight)
        return np.where(known, total, np.nan)

    def gradients(self, xy_m: np.ndarray) -> np.ndarray:
        """Rise a metre east and north over the width of a cell, (n, 2). [1]"""
        return _central_gradients(self.heights_m, xy_m, self.spacing_m)


def _central_gradients(heights, xy_m, over_m: float) -> np.ndarray:
    xy = np.asarray(xy_m, dtype=float).reshape(-1, 2)
    half = over_m / 2
    out = np.empty((len(xy), 2))
    for k, step in enumerate(((half, 0.0), (0.0, half))):
        out[:, k] = (heights(xy + step) - heights(xy - np.array(step))) / over_m
    return out


class TriangleSurface:
    """Plane triangles between points.

    Parameters
    ----------
    points_m : float array, shape (n, 3)
        Site frame and height. [m]
    triangles : int array, shape (t, 3)
        Corners by number; they may be any triangles that do not overlap in plan.
    """

    def __init__(self, points_m: np.ndarray, triangles: np.ndarray):
        points = np.asarray(points_m, dtype=float)
        triangles = np.asarray(triangles, dtype=np.intp).reshape(-1, 3)
        a, b, c = (points[triangles[:, k]] for k in range(3))
        double = _cross(b - a, c - a)
        real = np.abs(double) > 1e-9
        if not real.any():
            raise ValueError("triangles: none of them has an area in plan")
        self.points, self.triangles = points, triangles[real]
        a, ab, ac, double = a[real], (b - a)[real], (c - a)[real], double[real, None]
        east = (ab[:, 2:] * ac[:, 1:2] - ac[:, 2:] * ab[:, 1:2]) / double
        north = (ac[:, 2:] * ab[:, :1] - ab[:, 2:] * ac[:, :1]) / double
        self.slopes = np.column_stack([east, north])
        self._planes = np.column_stack([a, self.slopes])
        corners = points[self.triangles, :2]
        (x0, y0), (x1, y1) = corners.min(axis=(0, 1)), corners.max(axis=(0, 1))
        self.bounds_m = (float(x0), float(y0), float(x1), float(y1))
        self.spacing_m = float(np.sqrt(np.median(np.abs(double))))
        self._finder = TriangleFinder(corners)

    def triangle_at(self, xy_m: np.ndarray) -> np.ndarray:
        """Number of the triangle that each place lies in, -1 for none, int (n,)."""
        return _in_parts(self._finder.find, xy_m, 1)[:, 0].astype(np.intp)

    def heights_m(self, xy_m: np.ndarray) -> np.ndarray:
        """Heights, (n,). [m]"""
        return _in_parts(self._heights, xy_m, 1)[:, 0]

    def _heights(self, xy: np.ndarray) -> np.ndarray:
        t = self._finder.find(xy)
        x, y, z, east, north = self._planes.take(t, axis=0, mode="wrap").T
        return np.where(t >= 0, z + (xy[:, 0] - x) * east + (xy[:, 1] - y) * north, np.nan)

    def gradients(self, xy_m: np.ndarray) -> np.ndarray:
        """Slope of the triangle a place lies in, (n, 2). [1]"""

        def slopes(xy):
            t = self._finder.find(xy)
            return np.where((t >= 0)[:, None], self.slopes[t], np.nan)

        return _in_parts(slopes, xy_m, 2)


def _cross(a, b):
    return a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]


def surface_of_points(points_m: np.ndarray) -> TriangleSurface:
    """The surface of triangles between points that has the least sharp ones (Delaunay).

    Of points at one place the mean height is taken.

    Parameters
    ----------
    points_m : float array, shape (n, 3)
        Site frame and height. [m]

    Raises
    ------
    ValueError
        Where there are fewer than three points that lie in no one line.

    Examples
    --------
    >>> corners = np.array([[0, 0, 0], [10, 0, 1], [10, 10, 3], [0, 10, 2.0]])
    >>> surface_of_points(corners).heights_m(np.array([[5.0, 5.0], [20.0, 5.0]])).round(6).tolist()
    [1.5, nan]
    """
    from scipy.spatial import Delaunay, QhullError

    points = np.asarray(points_m, dtype=float).reshape(-1, 3)
    points = points[np.isfinite(points).all(axis=1)]
    _, which, count = np.unique(
        np.round(points[:, :2] / _ONE_PLACE_M), axis=0, return_inverse=True, return_counts=True
    )
    if len(count) < 3:
        raise ValueError(f"points_m: three places are needed, there are {len(count)}")
    merged = [np.bincount(which.ravel(), values) / count for values in points.T]
    places = np.column_stack(merged[:2])
    middle = places.mean(axis=0)
    # The narrowest strip they all lie in, by its half: a hair's breadth is rounding and no ground.
    _, _, turned = np.linalg.svd((places - middle).T @ (places - middle))
    if np.abs((places - middle) @ turned[1]).max() < _IN_LINE_M:
        raise ValueError("points_m: all places lie in one line")
    try:
        triangles = Delaunay(places - middle).simplices
    except QhullError:
        raise ValueError("points_m: all places lie in one line") from None
    return TriangleSurface(np.column_stack([places, merged[2]]), triangles)


def mean_gradient(surface: Surface, outline) -> tuple[float, float]:
    """Rise for a metre east and north of the plane that fits the ground of a polygon best. [1]

    (0, 0) where hardly anything of it is known.
    """
    import shapely

    x0, y0, x1, y1 = outline.bounds
    size = np.sqrt(outline.area)
    step = min(max(surface.spacing_m, size / 60), size / 10)
    x = np.arange(x0 + step / 2, x1, step)
    y = np.arange(y0 + step / 2, y1, step)
    xy = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    shapely.prepare(outline)
    xy = xy[shapely.contains_xy(outline, xy[:, 0], xy[:, 1])]
    z = surface.heights_m(xy)
    known = np.isfinite(z)
    if known.sum() < 3:
        return 0.0, 0.0
    xy, z = xy[known], z[known]
    design = np.column_stack([xy - xy.mean(axis=0), np.ones(len(z))])
    (gx, gy, _), _, rank, _ = np.linalg.lstsq(design, z, rcond=None)
    return (float(gx), float(gy)) if rank == 3 else (0.0, 0.0)
