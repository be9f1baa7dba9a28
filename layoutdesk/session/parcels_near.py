"""Which exclusions can reach which parcels, so that each parcel travels with its own."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
import shapely

from ..core.model import Exclusion
from ..formats.reading.parcels import Parcel, crs_of_text

_DEGREE_M = 111_000.0
_SLACK_DEG = 0.01
"""More than any two datums are apart; the layout itself looks at clearances exactly. [deg]"""


@dataclass(frozen=True)
class NearShape:
    """An exclusion as it travels: its shape in its own coordinate system."""

    wkb: bytes = field(repr=False)
    crs: str
    clearance_m: float
    name: str = ""
    kind: str = ""


@lru_cache(maxsize=64)
def _to_degrees(crs: str):
    import pyproj

    return pyproj.Transformer.from_crs(crs_of_text(crs), "OGC:CRS84", always_xy=True)


def _boxes(bounds: np.ndarray, crs: str, reach_m) -> np.ndarray:
    """Bounds (n, 4) in a system as generous bounds in degrees; NaN where there is none."""
    x0, y0, x1, y1 = bounds.T
    lon, lat = _to_degrees(crs).transform(np.r_[x0, x0, x1, x1], np.r_[y0, y1, y0, y1])
    lon, lat = lon.reshape(4, -1), lat.reshape(4, -1)
    lat0, lat1 = lat.min(axis=0), lat.max(axis=0)
    up = np.asarray(reach_m) / _DEGREE_M + _SLACK_DEG
    aside = up / np.maximum(np.cos(np.radians(np.clip(np.abs(lat).max(axis=0), 0, 89))), 0.01)
    boxes = [lon.min(axis=0) - aside, lat0 - up, lon.max(axis=0) + aside, lat1 + up]
    boxes = np.column_stack(boxes)
    return np.where(np.isfinite(boxes), boxes, np.nan)


class Neighbours:
    """Exclusions that are asked for by parcel."""

    def __init__(self, shapes: list[tuple[Exclusion, str]]):
        """Each exclusion in its own coordinate system, with that system's text."""
        self._shapes = [
            NearShape(shapely.to_wkb(e.shape), crs, e.clearance_m, e.name, e.kind)
            for e, crs in shapes
        ]
        boxes = np.empty((len(shapes), 4))
        for crs in {crs for _, crs in shapes}:
            mine = np.flatnonzero([c == crs for _, c in shapes])
            bounds = shapely.bounds([shapes[i][0].shape for i in mine])
            boxes[mine] = _boxes(bounds, crs, [shapes[i][0].clearance_m for i in mine])
        self._tree = shapely.STRtree(shapely.box(*boxes.T)) if len(boxes) else None

    def near(self, parcels: tuple[Parcel, ...]) -> tuple[tuple[NearShape, ...], ...]:
        """For each parcel the exclusions that may reach it, in their order."""
        if self._tree is None:
            return ((),) * len(parcels)
        found: list[set[int]] = [set() for _ in parcels]
        for crs in {p.crs for p in parcels if p.wkb}:
            mine = [k for k, p in enumerate(parcels) if p.crs == crs and p.wkb]
            read = shapely.from_wkb([parcels[k].wkb for k in mine], on_invalid="fix")
            boxes = _boxes(shapely.bounds(read), crs, np.zeros(len(mine)))
            for turn in (-360.0, 0.0, 360.0):  # the antimeridian
                there = shapely.box(*(boxes + [turn, 0, turn, 0]).T)
                for k, shape in self._tree.query(there).T.tolist():
                    found[mine[k]].add(shape)
        return tuple(tuple(self._shapes[i] for i in sorted(which)) for which in found)
