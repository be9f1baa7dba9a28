"""Bearings and row axes: turning a plane so that rows run along one coordinate."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

_CARDINAL = {0: (0.0, 1.0), 90: (1.0, 0.0), 180: (0.0, -1.0), 270: (-1.0, 0.0)}


def sine_cosine(bearing_deg: float) -> tuple[float, float]:
    """Sine and cosine of a bearing, exact at the four cardinal directions.

    Examples
    --------
    >>> sine_cosine(90.0), sine_cosine(-180.0)
    ((1.0, 0.0), (0.0, -1.0))
    """
    turned = bearing_deg % 360.0
    if turned in _CARDINAL:
        return _CARDINAL[int(turned)]
    return math.sin(math.radians(turned)), math.cos(math.radians(turned))


@dataclass(frozen=True)
class RowAxes:
    """Axes turned to a bearing: `along` grows with the bearing, `across` to its right.

    A rotation about (0, 0) and nothing else, so lengths and areas keep.

    Parameters
    ----------
    bearing_deg : float
        Clockwise from north (the y axis). [deg]

    Examples
    --------
    >>> RowAxes(90.0).to_axes(np.array([[3.0, 4.0]]))
    array([[ 3., -4.]])
    """

    bearing_deg: float

    @property
    def unit_along(self) -> tuple[float, float]:
        """The (x, y) step of one metre along the bearing."""
        return sine_cosine(self.bearing_deg)

    def to_axes(self, xy_m: np.ndarray) -> np.ndarray:
        """(n, 2) of along, across from (n, 2) of x, y. [m]"""
        s, c = self.unit_along
        x, y = xy_m[..., 0], xy_m[..., 1]
        out = np.empty(xy_m.shape)
        out[..., 0] = x * s + y * c
        out[..., 1] = x * c - y * s
        return out

    def to_plane(self, along_across_m: np.ndarray) -> np.ndarray:
        """(n, 2) of x, y from (n, 2) of along, across. [m]"""
        s, c = self.unit_along
        u, v = along_across_m[..., 0], along_across_m[..., 1]
        out = np.empty(along_across_m.shape)
        out[..., 0] = u * s + v * c
        out[..., 1] = u * c - v * s
        return out


def bearing_of(dx_m, dy_m):
    """Bearing of a step, clockwise from the y axis, in [0, 360). [deg]

    Examples
    --------
    >>> float(bearing_of(1.0, 0.0)), float(bearing_of(0.0, -2.0))
    (90.0, 180.0)
    """
    return np.degrees(np.arctan2(dx_m, dy_m)) % 360.0


def angle_between_lines_deg(bearing_a_deg, bearing_b_deg):
    """Acute angle between two undirected lines, in [0, 90]. [deg]

    Examples
    --------
    >>> float(angle_between_lines_deg(350.0, 20.0)), float(angle_between_lines_deg(0.0, 180.0))
    (30.0, 0.0)
    """
    apart = np.abs(np.asarray(bearing_a_deg) - bearing_b_deg) % 180.0
    return np.minimum(apart, 180.0 - apart)
