"""Heights from a raster that GDAL reads."""

from __future__ import annotations

import contextlib
import math
import warnings
from pathlib import Path

import numpy as np

from ..core.model import Finding, InputProblem, SiteFrame
from ..core.terrain.surface import GridSurface
from .backdrop import transform_of
from .backdrop_placing import Placing
from .crs import crs_named, horizontal
from .rasters import raster_library
from .smooth import fitted
from .terrain import Draft, Said, is_ground, settled_unit_m, unit_of_text

MOST_CELLS = 16_000_000
"""More than these round one site are read reduced."""

_PAD_CELLS = 3


@contextlib.contextmanager
def _opened(path: Path):
    rasterio = raster_library()
    from rasterio.errors import NotGeoreferencedWarning, RasterioError

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        try:
            dataset = rasterio.open(path)
        except RasterioError:
            raise InputProblem(
                f"{path.name} holds no heights that can be read: give a raster such as a GeoTIFF, or "
                "points as CSV, LandXML or DXF."
            ) from None
    with dataset:
        if dataset.count == 0 or min(dataset.width, dataset.height) < 2:
            raise InputProblem(f"{path.name} holds no raster of heights: give another file.")
        bytes_only = all(d == "uint8" for d in dataset.dtypes)
        if bytes_only and (dataset.count >= 3 or dataset.colorinterp[0].name == "palette"):
            raise InputProblem(
                f"{path.name} is a picture and no raster of heights: give the terrain model itself."
            )
        yield dataset


def _said(dataset) -> Said:
    unit, datum, name = unit_of_text(dataset.units[0]), None, None
    known = dataset.crs
    if known:
        import pyproj

        with contextlib.suppress(pyproj.exceptions.CRSError):
            whole = pyproj.CRS.from_wkt(known.to_wkt())
            whole = whole.source_crs if whole.is_bound else whole
            name = whole.name
            if whole.is_compound:
                vertical = whole.sub_crs_list[-1]
                vertical = vertical.source_crs if vertical.is_bound else vertical
                datum = vertical.name
                unit = unit or unit_of_text(vertical.axis_info[0].unit_name)
            elif len(whole.axis_info) == 3:
                datum = f"the ellipsoid {whole.ellipsoid.name}"
                unit = unit or unit_of_text(whole.axis_info[2].unit_name)
    return Said("raster", unit, datum, name)


def described_raster(path: Path) -> Said:
    """What a raster says of its heights."""
    with _opened(path) as dataset:
        return _said(dataset)


def _crs_of(dataset, name: str, given: str | None, site_crs: str | None, findings):
    from rasterio.errors import CRSError

    if given:
        return crs_named(given)
    known = dataset.crs or dataset.gcps[1]
    if known:
        with contextlib.suppress(InputProblem, CRSError):
            crs = horizontal(crs_named(known.to_wkt()))
            if crs.is_projected or crs.is_geographic:
                return crs
    if site_crs is None:
        raise InputProblem(
            f"{name} names no coordinate system: give it with --terrain-crs EPSG:nnnn."
        )
    crs = crs_named(site_crs)
    findings.append(
        Finding(
            "terrain-crs-assumed",
            f"{name} names no coordinate system; the outline's, {crs.name}, was taken.",
            name,
        )
    )
    return crs


def read_raster(path: Path, given_crs, given_unit_m, frame: SiteFrame, around_m, site_crs) -> Draft:
    """The heights of a raster's first band round a site."""
    raster_library()
    from rasterio.enums import Resampling
    from rasterio.errors import RasterioError
    from rasterio.windows import Window

    with _opened(path) as dataset:
        draft = Draft(_said(dataset))
        crs = _crs_of(dataset, path.name, given_crs, site_crs, draft.findings)
        to_crs, _ = transform_of(dataset, path.name)
        placing = Placing(crs, to_crs, frame, dataset.width)
        low, high = _window(placing, around_m, dataset.width, dataset.height, path.name)
        size = high - low
        factor = max(1.0, math.sqrt(float(size[0]) * float(size[1]) / MOST_CELLS))
        shape = max(int(size[1] / factor), 2), max(int(size[0] / factor), 2)
        try:
            band = dataset.read(
                1,
                window=Window(int(low[0]), int(low[1]), int(size[0]), int(size[1])),
                out_shape=shape,
                masked=True,
                resampling=Resampling.average if factor > 1 else Resampling.nearest,
            )
        except RasterioError:
            raise InputProblem(
                f"{path.name} is damaged or cut short: copy it again from where it came."
            ) from None
        scale, offset = dataset.scales[0], dataset.offsets[0]
        n_bands = dataset.count
    unit_m = settled_unit_m(draft.said.unit, given_unit_m)
    heights = np.ma.filled(band.astype(np.float32), np.nan)
    if (scale, offset) != (1.0, 0.0):
        heights = heights * np.float32(scale) + np.float32(offset)
    if unit_m != 1.0:
        heights *= np.float32(unit_m)
    ground, filled = is_ground(heights), np.isfinite(heights)
    n_strange = int((filled & ~ground).sum())
    if n_strange:
        heights[~ground] = np.nan
        text = (
            f"{n_strange:,} cells of {path.name} hold no height of ground, such as 0 or -9999, and "
            "count as without data."
        )
        draft.findings.append(Finding("terrain-points-dropped", text, path.name))
    if not ground.any():
        raise InputProblem(f"{path.name} has no heights round the site: all of it is without data.")
    if n_bands > 1:
        text = f"{path.name} has {n_bands} bands; the first was taken for heights."
        draft.findings.append(Finding("terrain-reduced", text, path.name))
    ratio = size / np.array(shape[::-1])
    corners = placing.to_frame(np.array([low, [high[0], low[1]], high, [low[0], high[1]]], float))
    middle = (low + high) / 2
    step = placing.to_frame(middle + np.array([[0.0, 0.0], [ratio[0], 0.0], [0.0, ratio[1]]]))
    cell_m = math.sqrt(abs(_cross(step[1] - step[0], step[2] - step[0])))
    if factor > 1:
        text = (
            f"{path.name} has {int(size[0]) * int(size[1]):,} cells round the site; they were read as "
            f"cells of {cell_m:.2f} m."
        )
        draft.findings.append(Finding("terrain-reduced", text, path.name))

    def to_cells(xy_m):
        return (placing.to_pixels(xy_m) - low) / ratio

    (x0, y0), (x1, y1) = corners.min(axis=0), corners.max(axis=0)
    bounds = (float(x0), float(y0), float(x1), float(y1))
    smooth = fitted(to_cells, around_m, (cell_m, cell_m))
    draft.surface = GridSurface(heights, smooth, cell_m, bounds)
    draft.samples = f"cells of {cell_m:.2f} m"
    return draft


def _cross(a, b) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _window(placing: Placing, around_m, width: int, height: int, name: str):
    """Lowest and highest pixel that can matter round the site, whole numbers."""
    x0, y0, x1, y1 = around_m
    x, y = (q.ravel() for q in np.meshgrid(np.linspace(x0, x1, 9), np.linspace(y0, y1, 9)))
    pixels = placing.to_pixels(np.column_stack([x, y]))
    pixels = pixels[np.isfinite(pixels).all(axis=1)]
    if len(pixels):
        low = np.clip(np.floor(pixels.min(axis=0)) - _PAD_CELLS, 0, (width, height)).astype(int)
        high = np.clip(np.ceil(pixels.max(axis=0)) + _PAD_CELLS, 0, (width, height)).astype(int)
        if (high - low >= 2).all():
            return low, high
    away = placing.away_m(
        np.stack(np.meshgrid(np.linspace(0, width, 9), np.linspace(0, height, 9)), -1).reshape(
            -1, 2
        )
    )
    far = f"{away / 1000:,.0f} km from" if math.isfinite(away) and away > 1000 else "beside"
    raise InputProblem(
        f"{name} lies {far} the site: check that it is the right file and that its coordinate system "
        "is right."
    )
