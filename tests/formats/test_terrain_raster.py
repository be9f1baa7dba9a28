"""Heights from rasters, against planes and against PROJ itself."""

import numpy as np
import pytest
import rasterio
from pyproj import Transformer
from rasterio.transform import from_origin

from layoutdesk import InputProblem
from layoutdesk.core.model import Terrain
from layoutdesk.formats import terrain_raster
from layoutdesk.formats.crs import crs_named, frame_crs, make_frame
from layoutdesk.formats.terrain import described_terrain, read_terrain

EAST, NORTH = 289_000.0, 6_180_000.0
GRID = "EPSG:32754"
FRAME = make_frame(crs_named(GRID), np.array([EAST]), np.array([NORTH]), 100.0)
SITE = (-200.0, -150.0, 200.0, 150.0)
PLACES = np.random.default_rng(4).uniform((-200, -150), (200, 150), (500, 2))


def plane(x, y):
    """A slope of 5 % east and 2 % south, 120 m high at the site's middle. [m]"""
    return 120.0 + 0.05 * (x - EAST) - 0.02 * (y - NORTH)


def cells(transform, shape):
    """Coordinates of the middles of a raster's cells."""
    rows, columns = np.indices(shape) + 0.5
    return transform.c + transform.a * columns, transform.f + transform.e * rows


def raster(path, heights, transform, crs=GRID, units=None, scale=None, **profile):
    bands = heights if heights.ndim == 3 else heights[None]
    options = {"driver": "GTiff", "dtype": bands.dtype.name, "crs": crs, "transform": transform}
    with rasterio.open(
        path,
        "w",
        count=len(bands),
        height=bands.shape[1],
        width=bands.shape[2],
        **options | profile,
    ) as file:
        file.write(bands)
        if units:
            file.units = [units] * len(bands)
        if scale:
            file.scales, file.offsets = [scale[0]], [scale[1]]
    return path


def sloping(path, cell=5.0, n=160, times=1.0, **how):
    """A square raster of the plane about the site."""
    transform = from_origin(EAST - n * cell / 2, NORTH + n * cell / 2, cell, cell)
    x, y = cells(transform, (n, n))
    return raster(path, (plane(x, y) * times).astype("float32"), transform, **how)


def read(path, site_crs=None, **said):
    return read_terrain(Terrain(str(path), **said), FRAME, SITE, site_crs)


def truth(xy_m, crs=GRID):
    x, y = Transformer.from_crs(frame_crs(FRAME), crs, always_xy=True).transform(*xy_m.T)
    return plane(x, y)


def codes(found):
    return sorted(f.code for f in found.findings)


FLOAT32_M = 2e-5  # heights about 120 m are kept in steps of 7.6e-6 m


def test_heights_between_cells_lie_on_the_plane_and_it_is_said_where_they_come_from(tmp_path):
    found = read(sloping(tmp_path / "dem.tif", units="m"), datum="EGM96")
    assert np.abs(found.surface.heights_m(PLACES) - truth(PLACES)).max() < FLOAT32_M
    slope = found.surface.gradients(PLACES)
    # Grid north is turned from the frame's, by the convergence of about 1.3 degrees here.
    assert np.hypot(*slope.T) == pytest.approx(np.hypot(0.05, 0.02), rel=1e-3)
    assert found.statement == (
        "Heights from dem.tif, cells of 5.00 m; unit metre (as the file says); above EGM96"
    )
    assert found.findings == ()


@pytest.mark.parametrize(
    ("crs", "cell"), [("EPSG:4326", 1 / 21_600), ("EPSG:32753", 5.0), ("EPSG:3857", 6.0)]
)
def test_a_raster_in_another_system_is_placed_as_proj_places_it(tmp_path, crs, cell):
    way = Transformer.from_crs(GRID, crs, always_xy=True)
    x0, y0 = way.transform(EAST, NORTH)
    n = 260
    transform = from_origin(x0 - n * cell / 2, y0 + n * cell / 2, cell, cell)
    x, y = cells(transform, (n, n))
    per = 100_000.0 if crs == "EPSG:4326" else 1.0
    heights = 120 + 0.05 * per * (x - x0) - 0.02 * per * (y - y0)
    surface = read(raster(tmp_path / "dem.tif", heights.astype("float32"), transform, crs)).surface
    back = Transformer.from_crs(frame_crs(FRAME), crs, always_xy=True)
    px, py = back.transform(*PLACES.T)
    wanted = 120 + 0.05 * per * (px - x0) - 0.02 * per * (py - y0)
    assert np.abs(surface.heights_m(PLACES) - wanted).max() < FLOAT32_M
    # The fitted placing is within a micrometre of PROJ's own: no height differs by more than that.
    assert surface.to_cells.worst_m < 1e-6


def test_only_the_ground_round_the_site_is_read(tmp_path):
    found = read(sloping(tmp_path / "dem.tif", n=1000))
    assert found.surface.heights.shape < (140, 140)
    assert found.surface.heights.dtype == np.float32


def test_feet_become_metres_by_the_bands_unit_or_the_users(tmp_path):
    dem = sloping(tmp_path / "dem.tif", times=1 / 0.3048, units="ft")
    assert read(dem).surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=1e-4)
    plain = sloping(tmp_path / "plain.tif", times=3937 / 1200)
    assert "terrain-unit-assumed" in codes(read(plain))
    found = read(plain, unit="usft")
    assert found.surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=1e-4)
    assert codes(found) == ["terrain-datum-unknown"]
    other = read(dem, unit="m")  # the user is obeyed against the file, and told so
    assert other.surface.heights_m(PLACES) == pytest.approx(truth(PLACES) / 0.3048, abs=1e-4)
    (told,) = (f for f in other.findings if f.code == "terrain-unit-assumed")
    assert told.severity == "caution"
    assert "unit of its heights is the foot; the metre was taken" in told.message


def test_the_vertical_part_of_a_compound_system_is_the_datum_and_unit(tmp_path):
    dem = sloping(tmp_path / "dem.tif", crs="EPSG:32754+5773")
    assert described_terrain(dem).datum == "EGM96 height"
    assert read(dem).findings == ()
    assert read(dem).statement.endswith("unit metre (as the file says); above EGM96 height")
    feet = sloping(tmp_path / "feet.tif", crs="EPSG:32754+6360", times=3937 / 1200)
    assert described_terrain(feet).unit == "usft"  # EPSG:6360 is NAVD88 height (ftUS)
    assert read(feet).surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=1e-4)


@pytest.mark.parametrize("mark", ["declared", "nan", "undeclared", "zero"])
def test_a_hole_is_not_known_whatever_stands_in_for_it(tmp_path, mark):
    value = {"declared": -32768.0, "nan": np.nan, "undeclared": -9999.0, "zero": 0.0}[mark]
    transform = from_origin(EAST - 400, NORTH + 400, 5, 5)
    heights = plane(*cells(transform, (160, 160))).astype("float32")
    heights[80:90, 80:90] = value  # 0 to 50 m east, 0 to 50 m south of the middle
    nodata = value if mark == "declared" else None
    found = read(raster(tmp_path / "dem.tif", heights, transform, nodata=nodata))
    z = found.surface.heights_m(np.array([[25.0, -25.0], [-1.0, -25.0], [-30.0, -25.0], [80, 80]]))
    assert np.isnan(z).tolist() == [True, True, False, False]  # nor half a cell beside a hole
    known = found.surface.heights_m(PLACES)
    kept = np.isfinite(known)
    assert known[kept] == pytest.approx(truth(PLACES[kept]), abs=1e-4)
    assert ("terrain-points-dropped" in codes(found)) == (mark in ("undeclared", "zero"))


def test_low_ground_by_the_sea_keeps_its_zeros(tmp_path):
    transform = from_origin(EAST - 400, NORTH + 400, 5, 5)
    heights = np.maximum(plane(*cells(transform, (160, 160))) - 120, 0).astype("float32")
    found = read(raster(tmp_path / "dem.tif", heights, transform))
    assert found.surface.heights_m(np.array([[-100.0, 0.0]])) == 0.0
    assert "terrain-points-dropped" not in codes(found)


def test_scale_and_offset_of_a_band_are_applied(tmp_path):
    transform = from_origin(EAST - 400, NORTH + 400, 5, 5)
    tenths = np.round((plane(*cells(transform, (160, 160))) - 100) * 10).astype("int16")
    tenths[0, 0] = -1
    dem = raster(tmp_path / "dem.tif", tenths, transform, scale=(0.1, 100.0), nodata=-1)
    assert read(dem).surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=0.051)


def test_heights_at_corners_of_a_net_are_not_half_a_cell_off(tmp_path):
    n, cell = 160, 5.0
    west, south = EAST - 400, NORTH - 400
    x, y = np.meshgrid(west + np.arange(n) * cell, south + np.arange(n)[::-1] * cell)
    heights = plane(x, y)
    lines = "\n".join(" ".join(f"{z:.6f}" for z in row) for row in heights)
    text = f"ncols {n}\nnrows {n}\nxllcenter {west}\nyllcenter {south}\ncellsize {cell}\n{lines}\n"
    (tmp_path / "dem.asc").write_text(text)
    found = read(tmp_path / "dem.asc", crs=GRID)
    assert found.surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=1e-4)
    # GeoTIFF's PixelIsPoint: the corner it names is the middle of the first cell.
    with rasterio.Env(GTIFF_POINT_GEO_IGNORE=True):
        transform = from_origin(west, y.max(), cell, cell)
        dem = raster(tmp_path / "dem.tif", heights.astype("float32"), transform)
        with rasterio.open(dem, "r+") as file:
            file.update_tags(AREA_OR_POINT="Point")
            file.transform = transform
    assert read(dem).surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=1e-4)


def test_too_many_cells_are_read_reduced_and_it_is_said(tmp_path, monkeypatch):
    dem = sloping(tmp_path / "dem.tif", cell=1.0, n=800)
    monkeypatch.setattr(terrain_raster, "MOST_CELLS", 20_000)
    found = read(dem, unit="m", datum="EGM96")
    assert codes(found) == ["terrain-reduced"]
    assert "of 4." in found.findings[0].message
    assert found.surface.heights.size <= 20_000
    near = pytest.approx(truth(PLACES), abs=1e-3)  # GDAL's means over 4.3 cells are so exact
    assert found.surface.heights_m(PLACES) == near


def test_the_first_of_several_bands_is_taken_and_it_is_said(tmp_path):
    transform = from_origin(EAST - 400, NORTH + 400, 5, 5)
    heights = plane(*cells(transform, (160, 160))).astype("float32")
    found = read(raster(tmp_path / "dem.tif", np.stack([heights, heights * 0]), transform))
    assert found.surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=1e-4)
    assert "terrain-reduced" in codes(found)


def test_a_system_the_file_does_not_name_is_asked_for_or_taken_and_said(tmp_path):
    dem = sloping(tmp_path / "dem.tif", crs=None, units="m")
    with pytest.raises(InputProblem, match="names no coordinate system: give it"):
        read(dem)
    assert codes(read(dem, GRID)) == ["terrain-crs-assumed", "terrain-datum-unknown"]
    found = read(dem, crs=GRID)
    assert codes(found) == ["terrain-datum-unknown"]
    assert found.surface.heights_m(PLACES) == pytest.approx(truth(PLACES), abs=1e-4)


def test_what_is_no_raster_of_heights_is_refused_in_one_sentence(tmp_path):
    transform = from_origin(EAST - 400, NORTH + 400, 5, 5)
    picture = np.full((3, 160, 160), 90, dtype="uint8")
    raster(tmp_path / "photo.tif", picture, transform)
    (tmp_path / "text.tif").write_text("no raster")
    (tmp_path / "empty.tif").write_bytes(b"")
    raster(tmp_path / "void.tif", np.full((160, 160), -1, dtype="int16"), transform, nodata=-1)
    sloping(tmp_path / "whole.tif")
    (tmp_path / "cut.tif").write_bytes((tmp_path / "whole.tif").read_bytes()[:20_000])
    away = raster(tmp_path / "away.tif", np.ones((9, 9), "float32"), from_origin(3e5, 6.5e6, 5, 5))
    for name, why in (
        ("photo.tif", "is a picture"),
        ("text.tif", "holds no heights"),
        ("empty.tif", "is empty"),
        ("void.tif", "all of it is without data"),
        ("cut.tif", "damaged or cut short"),
        ("none.tif", "no file"),
        (away.name, "lies 320 km from the site"),
    ):
        with pytest.raises(InputProblem, match=why) as problem:
            read(tmp_path / name)
        assert "\n" not in str(problem.value)
