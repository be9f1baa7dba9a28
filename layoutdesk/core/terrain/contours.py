"""Lines of equal height."""

from __future__ import annotations

import numpy as np

from .relief import sampled_grid
from .surface import Surface, TriangleSurface
from .triangle_contours import triangle_contours, triangles_in

MOST_LEVELS = 400
"""More levels than these make no contours: the interval is too small for the ground."""


def contours(surface: Surface, interval_m: float, bounds_m) -> list[tuple[float, np.ndarray]]:
    """Contours of a surface, as heights that are whole intervals and their lines, (n, 2). [m]

    Of triangles exactly; else from heights sampled as finely as the surface's own, straight between
    samples. None where the interval is 0 or would make more than MOST_LEVELS.

    Parameters
    ----------
    bounds_m : (x0, y0, x1, y1)
        Where they are wanted. [m]
    """
    if interval_m <= 0:
        return []
    if isinstance(surface, TriangleSurface):
        near = triangles_in(surface.points, surface.triangles, bounds_m)
        levels = _levels(surface.points[near, 2], interval_m)
        return triangle_contours(surface.points, near, levels, bounds_m)
    heights, (x0, y0, _, _), step = sampled_grid(surface, bounds_m, surface.spacing_m)
    levels = _levels(heights, interval_m)
    if not len(levels):
        return []
    from contourpy import LineType, contour_generator

    rows, columns = heights.shape
    made = contour_generator(
        x0 + step * (np.arange(columns) + 0.5),
        y0 + step * (np.arange(rows) + 0.5),
        np.ma.masked_invalid(heights[::-1]),
        line_type=LineType.Separate,
        corner_mask=False,  # no line across a square of which a corner is not known
    )
    found = []
    for level in levels.tolist():
        found += [(level, np.asarray(line)) for line in made.lines(level) if len(line) > 1]
    return found


def _levels(heights_m: np.ndarray, interval_m: float) -> np.ndarray:
    """Whole intervals between the lowest and the highest height; none where they would be too many."""
    known = heights_m[np.isfinite(heights_m)]
    if not len(known) or float(np.ptp(known)) / interval_m > MOST_LEVELS:
        return np.empty(0)
    first, last = np.ceil(known.min() / interval_m), np.floor(known.max() / interval_m)
    return interval_m * np.arange(first, last + 1)
