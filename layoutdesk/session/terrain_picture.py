"""What of the ground's heights is drawn: contours in order of height, and the light on slopes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.terrain.contours import contours
from ..core.terrain.relief import hillshade, sampled_grid
from ..formats.terrain import TerrainRead

EMPHASIS = 5
"""Every so many contours one is drawn stronger, with its height."""

_AROUND_M = 60.0
_WIDEST_CELLS = 900
_LEVEL = 181
"""Light on level ground, of 255, with the light at 45°."""


@dataclass(frozen=True, eq=False)
class Contour:
    """One line of equal height; `strong` ones carry their height. [m]"""

    height_m: float
    xy_m: np.ndarray
    strong: bool


@dataclass(frozen=True, eq=False)
class TerrainPicture:
    """Contours, and the relief as a picture.

    Attributes
    ----------
    contours : tuple of Contour
    relief : uint8 array, shape (r, c, 4), or None
        Black where slopes lie in the shade and white where they face the light, see-through by how
        much; north up.
    bounds_m : (x0, y0, x1, y1)
        Of the relief. [m]
    """

    contours: tuple[Contour, ...] = ()
    relief: np.ndarray | None = None
    bounds_m: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


def terrain_picture(read: TerrainRead, bounds_m, contour_m: float, relief: bool) -> TerrainPicture:
    """What is drawn of the ground round some bounds.

    Parameters
    ----------
    bounds_m : (x0, y0, x1, y1)
        Of the site. [m]
    contour_m : float
        Interval; 0 for no contours. [m]
    relief : bool
        Whether light and shade are wanted.
    """
    x0, y0, x1, y1 = bounds_m
    wide = (x0 - _AROUND_M, y0 - _AROUND_M, x1 + _AROUND_M, y1 + _AROUND_M)
    lines = tuple(
        Contour(height, xy, round(height / contour_m) % EMPHASIS == 0)
        for height, xy in contours(read.surface, contour_m, wide)
    )
    if not relief:
        return TerrainPicture(lines)
    span = max(wide[2] - wide[0], wide[3] - wide[1])
    step = max(read.surface.spacing_m, span / _WIDEST_CELLS)
    heights, (a0, b0, a1, b1), step = sampled_grid(read.surface, wide, step)
    shade = hillshade(heights, step)
    return TerrainPicture(lines, _see_through(shade), (a0 + step, b0 + step, a1 - step, b1 - step))


def _see_through(shade: np.ndarray) -> np.ndarray:
    """Shade as black or white, the stronger the more it differs from that of level ground."""
    known = shade > 0
    light = shade.astype(np.int16) - _LEVEL
    rgba = np.zeros((*shade.shape, 4), dtype=np.uint8)
    rgba[..., :3] = np.where(light > 0, 255, 0)[..., None]
    rgba[..., 3] = np.where(known, np.clip(np.abs(light) * 0.9, 0, 140), 0)
    return rgba
