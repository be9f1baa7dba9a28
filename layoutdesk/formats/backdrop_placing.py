"""Where a raster lies in the site frame, and which of its pixels a picture's pixels are."""

from __future__ import annotations

import math

import numpy as np

from ..core.model import InputProblem, SiteFrame
from .crs import frame_crs

FARTHEST_M = 50_000.0
"""A picture farther from the site's origin than this is a mistake. [m]"""

_WIDEST_M = 100_000.0
"""Of a picture that reaches farther than this from the origin, only so much is told of. [m]"""

_NODE_PX = 32
"""Every so many pixels a place is projected; straight between: 0.02 px off at worst, from sag."""


class Placing:
    """From a raster's pixels to the site frame and back, as PROJ knows best.

    Pixels are counted right and down from the raster's upper left corner. `to_crs` are the six
    numbers of the way from pixels to coordinates in `crs`, as rasterio orders them.
    """

    def __init__(self, crs, to_crs, frame: SiteFrame, width: int):
        from affine import Affine
        from pyproj import Transformer

        self._onto, self._back = tuple(to_crs)[:6], tuple(~Affine(*to_crs))[:6]
        self._crs, self._frame = crs, frame
        self._way = Transformer.from_crs(crs, frame_crs(frame), always_xy=True)
        self._turn = None
        if crs.is_geographic:  # longitudes of the site and of the raster may be a turn apart
            self._turn = 2 * math.pi / crs.axis_info[0].unit_conversion_factor
            self._least = through(self._onto, width / 2, 0)[0] - self._turn / 2

    def to_frame(self, uv: np.ndarray) -> np.ndarray:
        """(…, 2) site frame of (…, 2) pixels; inf where there is no way. [m]"""
        x, y = through(self._onto, uv[..., 0], uv[..., 1])
        return np.stack(self._way.transform(x, y), axis=-1)

    def to_pixels(self, xy_m: np.ndarray) -> np.ndarray:
        """(…, 2) pixels of (…, 2) site frame; not finite where there is no way."""
        x, y = self._way.transform(xy_m[..., 0], xy_m[..., 1], direction="INVERSE")
        with np.errstate(invalid="ignore"):
            if self._turn:
                x = self._least + np.remainder(x - self._least, self._turn)
            return np.stack(through(self._back, x, y), axis=-1)

    def away_m(self, uv: np.ndarray) -> float:
        """Shortest geodesic distance from the site's origin to (n, 2) pixels; inf for unknown. [m]"""
        from pyproj import Transformer

        datum = frame_crs(self._frame).geodetic_crs
        way = Transformer.from_crs(self._crs, datum, always_xy=True)
        longitude, latitude = way.transform(*through(self._onto, uv[:, 0], uv[:, 1]))
        known = np.isfinite(longitude) & np.isfinite(latitude)
        n = int(known.sum())
        origin = np.full(n, self._frame.longitude_deg), np.full(n, self._frame.latitude_deg)
        away = datum.get_geod().inv(*origin, longitude[known], latitude[known])[2]
        return float(np.min(away, initial=math.inf))


def through(six, x, y):
    """x and y carried through the six numbers of an affine map."""
    a, b, c, d, e, f = six
    return a * x + b * y + c, d * x + e * y + f


def corners_in_frame(placing: Placing, width: int, height: int, name: str, assumed) -> np.ndarray:
    """Upper left, upper right, lower right and lower left of a raster near the site, (4, 2). [m]

    Of one far larger than a site, those of the part around it.

    Raises
    ------
    InputProblem
        Where it lies nowhere near the site; `assumed` is the system that was taken, if one was.
    """
    whole = np.array([[0, 0], [width, 0], [width, height], [0, height]], dtype=float)
    origin = placing.to_pixels(np.zeros(2))
    if not ((origin >= 0) & (origin <= (width, height))).all():
        lattice = np.stack(np.meshgrid(np.linspace(0, 1, 33), np.linspace(0, 1, 33)), axis=-1)
        away_m = placing.away_m(lattice.reshape(-1, 2) * (width, height))
        if away_m > FARTHEST_M:
            far = f"{away_m / 1000:,.0f} km" if math.isfinite(away_m) else "out of reach"
            system = f", its coordinates taken as {assumed}" if assumed else ""
            raise InputProblem(
                f"{name} lies {far} from the site{system}: check that it is the right picture and "
                "that its coordinate system is right."
            )
    corners = placing.to_frame(whole)
    if not (np.abs(corners) <= 2 * _WIDEST_M).all():  # unknown ones too
        box = placing.to_pixels(_WIDEST_M * np.array([[-1, 1], [1, 1], [1, -1], [-1, -1]]))
        low, high = np.clip([box.min(axis=0), box.max(axis=0)], 0, (width, height))
        corners = placing.to_frame(np.where(whole > 0, high, low))
    return corners


def nodes_of(placing: Placing, bounds_m, width: int, height: int):
    """Raster pixels (n, m, 2) at some pixels of a picture, and those pixels across and down."""
    x0, y0, x1, y1 = bounds_m
    across = np.linspace(0, width, -(-width // _NODE_PX) + 1)
    down = np.linspace(0, height, -(-height // _NODE_PX) + 1)
    xy_m = np.stack(
        np.meshgrid(x0 + (x1 - x0) * across / width, y1 - (y1 - y0) * down / height), axis=-1
    )
    return placing.to_pixels(xy_m), (across, down)


def pixels_a_pixel(nodes, at, low, high) -> tuple[float, float]:
    """Raster pixels for one pixel of the picture, right and down, where the raster is seen."""
    (across, down), near = at, (low + high) / 2
    with np.errstate(invalid="ignore", over="ignore"):
        far = ((nodes[:-1, :-1] - near) ** 2).sum(axis=-1)
    j, i = np.unravel_index(np.nanargmin(np.where(np.isfinite(far), far, np.inf)), far.shape)
    right = (nodes[j, i + 1] - nodes[j, i]) / (across[1] - across[0])
    below = (nodes[j + 1, i] - nodes[j, i]) / (down[1] - down[0])
    per_px = np.hypot(right, below)
    per_px = np.where(np.isfinite(per_px), per_px, 1e9)
    return float(per_px[0]), float(per_px[1])


def between_nodes(nodes, at, width: int, height: int):
    """Raster pixels right, (height, width), and down, at the middle of every pixel of a picture."""
    (across, down), out = at, []
    i, a = _fractions(across, width)
    j, b = _fractions(down, height)
    for k in (0, 1):
        lines = nodes[j, :, k] * (1 - b)[:, None] + nodes[j + 1, :, k] * b[:, None]
        out.append(lines[:, i] * (1 - a) + lines[:, i + 1] * a)
    return out


def _fractions(places, n: int):
    step = places[1] - places[0]
    middle = (np.arange(n) + 0.5) / step
    i = np.minimum(middle.astype(int), len(places) - 2)
    return i, middle - i
