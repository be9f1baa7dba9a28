"""Site frames of many parcels, each its own, without the cost of a coordinate system for each.

`crs.make_frame` and `crs.to_frame` describe a frame to any program and look transformations up in
a database, which takes some 6 ms; here the way onto the datum is kept for each source system and
the frame is a projection alone, some 0.06 ms. The numbers are the same to a nanometre or so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np

from ..core.model import InputProblem, SiteFrame
from .crs import ORIGIN_DECIMALS, make_frame


@lru_cache(maxsize=64)
def _system(text: str):
    import pyproj

    return pyproj.CRS.from_user_input(text)


@lru_cache(maxsize=64)
def _onto_datum(crs: str, datum: str):
    import pyproj

    return pyproj.Transformer.from_crs(_system(crs), _system(datum), always_xy=True)


_DATUMS: dict[str, SiteFrame] = {}
"""For each source system a frame on its datum, from which others are made."""


def frame_at(crs: str, xy: np.ndarray, height_m: float = 0.0) -> SiteFrame:
    """The frame that `make_frame` gives for source coordinates (n, 2) in a system known by its text.

    Raises
    ------
    InputProblem
    """
    middle = (xy.min(axis=0) + xy.max(axis=0)) / 2
    if crs not in _DATUMS:
        _DATUMS[crs] = make_frame(_system(crs), xy[:, 0], xy[:, 1])
    like = _DATUMS[crs]
    longitude, latitude = _onto_datum(crs, like.datum).transform(*middle)
    if not (np.isfinite(longitude) and np.isfinite(latitude)):
        raise InputProblem(
            f"The outline's middle {middle[0]:g}, {middle[1]:g} cannot lie in {_system(crs).name}: "
            "check the coordinate system, give another with --crs EPSG:nnnn."
        )
    return replace(
        like,
        latitude_deg=round(float(latitude), ORIGIN_DECIMALS),
        longitude_deg=round((float(longitude) + 180) % 360 - 180, ORIGIN_DECIMALS),
        height_m=float(height_m),
    )


def onto_frame(frame: SiteFrame) -> Callable[[str, np.ndarray], np.ndarray]:
    """Function from a system's text and (n, 2) coordinates in it to (n, 2) in the frame. [m]"""
    import pyproj

    shape = f"+a={frame.semi_major_m!r} " + (
        f"+rf={frame.inverse_flattening!r}"
        if frame.inverse_flattening
        else f"+b={frame.semi_major_m!r}"
    )
    project = pyproj.Transformer.from_pipeline(
        "+proj=pipeline +step +proj=unitconvert +xy_in=deg +xy_out=rad +step +proj=tmerc "
        f"+lat_0={frame.latitude_deg!r} +lon_0={frame.longitude_deg!r} +k_0={frame.scale!r} {shape}"
    )

    def moved(crs: str, xy: np.ndarray) -> np.ndarray:
        degrees = _onto_datum(crs, frame.datum).transform(xy[:, 0], xy[:, 1])
        return np.column_stack(project.transform(*degrees))

    return moved
