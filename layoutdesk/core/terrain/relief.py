"""Slope, aspect and shaded relief of heights on a grid, and a surface sampled on one.

Slopes are by Horn's weights over the eight neighbours. Source: Horn, Hill shading and the
reflectance map, Proceedings of the IEEE 69:14, 1981.
"""

from __future__ import annotations

import math

import numpy as np

from .surface import Surface

_CELLS_AT_MOST = 2_000_000


def sampled_grid(surface: Surface, bounds_m, step_m: float):
    """Heights at the middles of square cells, north up, and the bounds of these cells.

    Parameters
    ----------
    bounds_m : (x0, y0, x1, y1)
    step_m : float
        Side of a cell; larger where they would be too many. [m]

    Returns
    -------
    heights_m : float array, shape (r, c)
        NaN where not known. [m]
    bounds_m : (x0, y0, x1, y1)
        At least those asked for. [m]
    step_m : float
    """
    x0, y0, x1, y1 = bounds_m
    step = max(step_m, math.sqrt(max((x1 - x0) * (y1 - y0), 0.0) / _CELLS_AT_MOST))
    columns, rows = (max(math.ceil(span / step - 1e-9), 2) for span in (x1 - x0, y1 - y0))
    x = x0 + step * (np.arange(columns) + 0.5)
    y = y0 + step * (rows - 0.5 - np.arange(rows))
    xy = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    heights = surface.heights_m(xy).reshape(rows, columns)
    return heights, (x0, y0, x0 + step * columns, y0 + step * rows), step


def horn_slopes(heights_m: np.ndarray, cell_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Rise for a metre east and north at the inner cells of a grid that is north up, (r-2, c-2). [1]

    Not known where a cell or any of its neighbours is not: Horn's weights leave the cell itself out.
    """
    z = np.asarray(heights_m, dtype=float)
    a, b, c = z[:-2, :-2], z[:-2, 1:-1], z[:-2, 2:]
    d, f = z[1:-1, :-2], z[1:-1, 2:]
    g, h, i = z[2:, :-2], z[2:, 1:-1], z[2:, 2:]
    east = ((c + 2 * f + i) - (a + 2 * d + g)) / (8 * cell_m)
    north = ((a + 2 * b + c) - (g + 2 * h + i)) / (8 * cell_m)
    known = np.isfinite(z[1:-1, 1:-1])
    return np.where(known, east, np.nan), np.where(known, north, np.nan)


def slope_and_aspect(heights_m: np.ndarray, cell_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Steepness, and the direction that falls most, clockwise from north, of the inner cells. [deg]

    Level ground falls nowhere: its aspect is NaN.

    Examples
    --------
    >>> x, y = np.meshgrid(np.arange(3.0), np.arange(3.0)[::-1])
    >>> slope, aspect = slope_and_aspect(100 + 0.10 * x + 0.05 * y, 1.0)
    >>> slope.round(6).tolist(), aspect.round(6).tolist()
    ([[6.37937]], [[243.434949]])
    """
    east, north = horn_slopes(heights_m, cell_m)
    steep = np.hypot(east, north)
    aspect = np.degrees(np.arctan2(-east, -north)) % 360
    return np.degrees(np.arctan(steep)), np.where(steep > 0, aspect, np.nan)


def hillshade(
    heights_m: np.ndarray, cell_m: float, azimuth_deg: float = 315.0, altitude_deg: float = 45.0
) -> np.ndarray:
    """Light on the inner cells of a grid, 1 dark to 255 light, 0 where not known, uint8 (r-2, c-2).

    Parameters
    ----------
    azimuth_deg, altitude_deg : float
        Where the light comes from, clockwise from north, and how high it stands. [deg]
    """
    east, north = horn_slopes(heights_m, cell_m)
    azimuth, altitude = math.radians(azimuth_deg), math.radians(altitude_deg)
    towards = east * math.sin(azimuth) + north * math.cos(azimuth)
    light = (math.sin(altitude) - math.cos(altitude) * towards) / np.sqrt(1 + east**2 + north**2)
    shade = 1.0 + 254.0 * np.maximum(light, 0.0)
    return np.where(np.isfinite(shade), np.rint(shade), 0).astype(np.uint8)
