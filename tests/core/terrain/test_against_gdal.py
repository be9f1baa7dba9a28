"""Slope, aspect, shade and contours against GDAL's own programs, on real ground.

The heights are matplotlib's sample data `jacksboro_fault_dem.npz` (Jacksboro fault, Tennessee), brought
onto square cells by sampling the surface; GDAL reads exactly the cells we do.
"""

from __future__ import annotations

import json
import shutil
import subprocess

import numpy as np
import pytest

from layoutdesk.core.terrain.contours import contours
from layoutdesk.core.terrain.relief import hillshade, sampled_grid, slope_and_aspect
from layoutdesk.core.terrain.surface import GridSurface
from tests.core.terrain.test_surface import grid, plane

needs_gdal = pytest.mark.skipif(
    shutil.which("gdaldem") is None, reason="GDAL's command-line programs are not installed"
)
CELL_M = 90.0


@pytest.fixture(scope="module")
def ground():
    """Real heights on square cells, north up. [m]"""
    matplotlib = pytest.importorskip("matplotlib.cbook")
    data = matplotlib.get_sample_data("jacksboro_fault_dem.npz")
    return data["elevation"].astype(np.float32)


@pytest.fixture(scope="module")
def raster(ground, tmp_path_factory):
    import rasterio
    from rasterio.transform import from_origin

    path = tmp_path_factory.mktemp("dem") / "dem.tif"
    rows, columns = ground.shape
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=columns,
        height=rows,
        count=1,
        dtype="float32",
        crs="EPSG:26916",
        transform=from_origin(0.0, rows * CELL_M, CELL_M, CELL_M),
    ) as file:
        file.write(ground, 1)
    return path


def by_gdal(raster, what: str) -> np.ndarray:
    import rasterio

    out = raster.with_name(f"{what}.tif")
    subprocess.run(["gdaldem", what, "-q", str(raster), str(out)], check=True)
    with rasterio.open(out) as file:
        return file.read(1).astype(float)[1:-1, 1:-1]


@needs_gdal
def test_slope_and_aspect_are_gdal_s(ground, raster):
    slope, aspect = slope_and_aspect(ground, CELL_M)
    assert np.abs(slope - by_gdal(raster, "slope")).max() < 1e-4
    theirs = by_gdal(raster, "aspect")
    sloped = (theirs >= 0) & (slope > 0.1)
    apart = (aspect - theirs + 180) % 360 - 180
    assert np.abs(apart[sloped]).max() < 0.01


@needs_gdal
def test_the_shade_is_gdal_s(ground, raster):
    apart = hillshade(ground, CELL_M).astype(float) - by_gdal(raster, "hillshade")
    assert np.abs(apart).max() <= 1  # of 255: rounding


@needs_gdal
def test_contours_run_where_gdal_s_do(ground, raster, tmp_path):
    import shapely

    out = tmp_path / "lines.geojson"
    subprocess.run(
        ["gdal_contour", "-q", "-a", "h", "-i", "50", "-f", "GeoJSON", str(raster), str(out)],
        check=True,
    )
    said = json.loads(out.read_text())["features"]
    rows, columns = ground.shape
    bounds = (0.0, 0.0, columns * CELL_M, rows * CELL_M)

    def to_cells(xy):
        return np.column_stack([xy[:, 0] / CELL_M, rows - xy[:, 1] / CELL_M])

    ours = contours(GridSurface(ground, to_cells, CELL_M, bounds), 50.0, bounds)
    levels = {level for level, _ in ours}
    assert levels == {f["properties"]["h"] for f in said}
    level = sorted(levels)[len(levels) // 2]
    theirs = [shapely.geometry.shape(f["geometry"]) for f in said if f["properties"]["h"] == level]
    theirs = shapely.union_all(theirs)
    mine = shapely.union_all([shapely.LineString(xy) for h, xy in ours if h == level])
    # GDAL draws on half a cell round the rim and resolves saddles in its own way.
    inner = shapely.box(*bounds).buffer(-2 * CELL_M)
    mine, theirs = mine.intersection(inner), theirs.intersection(inner)
    assert mine.length == pytest.approx(theirs.length, rel=0.01)
    assert shapely.area(mine.difference(theirs.buffer(1.0)).buffer(1.0)) < 0.01 * mine.length


def test_a_plane_has_the_slope_and_aspect_that_gdal_prints():
    # gdaldem on z = 100 + 0.10 x + 0.05 y: 6.379370° and 243.434949°.
    heights, _, step = sampled_grid(grid(plane), (20, 20, 120, 90), 5.0)
    slope, aspect = slope_and_aspect(heights, step)
    assert slope == pytest.approx(6.379370, abs=1e-6)
    assert aspect == pytest.approx(243.434949, abs=1e-6)


def test_contours_of_a_round_hill_are_circles():
    # z = 50 exp(-r² / 2 / 200²): r = 200 sqrt(2 ln(50 / z)), by definition.
    def hill(x, y):
        return 50 * np.exp(-((x - 500) ** 2 + (y - 500) ** 2) / 2 / 200**2)

    surface = grid(hill, columns=500, rows=500, cell=2.0)
    lines = contours(surface, 10.0, (10, 10, 990, 990))
    assert {level for level, _ in lines} == {10.0, 20.0, 30.0, 40.0}
    for level, xy in lines:
        r = np.hypot(*(xy - 500).T)
        assert r == pytest.approx(200 * np.sqrt(2 * np.log(50 / level)), abs=0.01)
        assert np.allclose(xy[0], xy[-1])


def test_contours_keep_out_of_what_is_not_known_and_of_too_small_an_interval():
    surface = grid(plane, hole=(slice(10, 20), slice(10, 30)))
    for _, xy in contours(surface, 1.0, (5, 5, 295, 195)):
        assert np.isfinite(surface.heights_m(xy)).all()
    assert contours(surface, 0.0, (5, 5, 295, 195)) == []
    assert contours(surface, 1e-4, (5, 5, 295, 195)) == []
    assert contours(surface, 1.0, (900, 900, 950, 950)) == []


def test_shade_is_light_towards_the_light_and_blank_where_nothing_is_known():
    falls_north_west = np.add.outer(np.arange(5.0), np.arange(5.0))
    facing, away = hillshade(falls_north_west, 1.0), hillshade(-falls_north_west, 1.0)
    assert len(np.unique(facing)) == len(np.unique(away)) == 1
    assert facing[0, 0] > 200 > 50 > away[0, 0]
    level = hillshade(np.zeros((4, 4)), 1.0)
    assert level == pytest.approx(1 + 254 * np.sin(np.radians(45)), abs=0.5)
    holed = np.zeros((5, 5))
    holed[2, 2] = np.nan
    assert (hillshade(holed, 1.0) == 0).all()
