"""Invented parcels: irregular fields of about 5 ha on a survey grid, and workers that die over them."""

from __future__ import annotations

import os
import signal
from pathlib import Path

import geopandas
import numpy as np
import shapely

PORTUGAL, CHILE, SOUTH_AFRICA = "EPSG:32629", "EPSG:32719", "EPSG:32734"
_CORNER = {
    PORTUGAL: (560_000.0, 4_250_000.0),
    CHILE: (280_000.0, 6_150_000.0),
    SOUTH_AFRICA: (300_000.0, 6_230_000.0),
}
_APART_M = 450.0


def fields(n: int, crs: str = PORTUGAL, seed: int = 3) -> geopandas.GeoDataFrame:
    """Fields in a square of them, with a code and a name each."""
    rng = np.random.default_rng(seed)
    x0, y0 = _CORNER[crs]
    side = int(np.ceil(np.sqrt(n)))
    made = []
    for k in range(n):
        corners = int(rng.integers(6, 40))
        angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
        # 126 m make 5 ha; the corners of a polygon lie farther out than a circle of its area.
        r = 133.0 * rng.uniform(0.8, 1.2, corners)
        x, y = x0 + _APART_M * (k % side), y0 + _APART_M * (k // side)
        ring = np.column_stack([x + r * np.cos(angle), y + r * np.sin(angle)])
        made.append(
            shapely.convex_hull(shapely.Polygon(ring)) if k % 7 == 0 else shapely.Polygon(ring)
        )
    codes = [f"Q{k:05d}" for k in range(n)]
    return geopandas.GeoDataFrame(
        {"code": codes, "name": [f"Field {k}" for k in range(n)]}, geometry=made, crs=crs
    )


def layer(path: Path, n: int, crs: str = PORTUGAL, seed: int = 3) -> Path:
    """The same as a layer in a GeoPackage."""
    fields(n, crs, seed).to_file(path, layer="parcels")
    return path


def dying_work(settings, task):
    """As `work_parcels`, but the process dies of a parcel called "dies", and once of "dies once FILE"."""
    from layoutdesk.session.parcels_work import work_parcels

    for parcel in task.parcels:
        if parcel.name == "dies":
            os.kill(os.getpid(), signal.SIGKILL)
        if parcel.name.startswith("dies once "):
            mark = Path(parcel.name.removeprefix("dies once "))
            if not mark.exists():
                mark.touch()
                os.kill(os.getpid(), signal.SIGKILL)
    return work_parcels(settings, task)
