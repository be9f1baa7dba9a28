"""Pictures under the plan: that they lie where they should, at any size, and what is refused."""

from __future__ import annotations

import os

import numpy as np
import pytest
import rasterio
from affine import Affine
from pyproj import CRS, Transformer
from rasterio.control import GroundControlPoint
from rasterio.enums import ColorInterp
from rasterio.errors import NotGeoreferencedWarning
from rasterio.windows import Window

from layoutdesk.core.model import InputProblem
from layoutdesk.formats import backdrop_levels, backdrop_overviews
from layoutdesk.formats.backdrop import BackdropReader, picture, read_about
from layoutdesk.formats.crs import crs_named, frame_crs, make_frame, to_frame

COLOURED_PX = 60
"""Side of a raster whose red is 4 per pixel to the right and whose green is 4 per pixel down."""

PLACES = {  # system, upper left corner in it, side of a pixel in its unit
    "UTM south": ("EPSG:32754", (310_000.0, 6_100_000.0), (0.5, 0.5)),
    "US survey feet": ("EPSG:2278", (2_100_000.0, 13_700_000.0), (2.0, 2.0)),
    "degrees": ("EPSG:4326", (-71.5, 46.2), (8e-6, 6e-6)),
    "far from the zone's middle": ("EPSG:32754", (150_000.0, 6_100_000.0), (0.5, 0.5)),
}


def coloured(n=COLOURED_PX, step=4):
    down, across = np.mgrid[0:n, 0:n]
    red, green = (step * (across + 0.5)), (step * (down + 0.5))
    return np.stack([red, green, np.full((n, n), 77.0)]).astype(np.uint8)


def write(path, values, crs, to_crs, **more):
    count, height, width = values.shape
    tags = more.pop("inks", None)
    palette, points = more.pop("palette", None), more.pop("gcps", None)
    mask = more.pop("mask", None)
    profile = {"driver": "GTiff", "width": width, "height": height, "count": count}
    profile |= {"dtype": values.dtype, "crs": crs, "transform": to_crs} | more
    with (
        rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True),
        rasterio.open(path, "w", **{k: v for k, v in profile.items() if v is not None}) as out,
    ):
        if tags:
            out.colorinterp = tags
        if palette:
            out.write_colormap(1, palette)
        if points:
            out.gcps = points, CRS_OF(crs)
        out.write(values)
        if mask is not None:
            out.write_mask(mask)
    return path


def CRS_OF(text):
    return rasterio.crs.CRS.from_user_input(text)


def frame_by_hand(frame):
    """The frame again, by a PROJ string of our own."""
    e = f"+a={frame.semi_major_m} +rf={frame.inverse_flattening}"
    return CRS.from_user_input(
        f"+proj=tmerc +lat_0={frame.latitude_deg} +lon_0={frame.longitude_deg} "
        f"+k={frame.scale!r} {e} +units=m"
    )


def frame_at(crs, to_crs, n, height_m=0.0):
    x, y = to_crs @ (np.array([0, n]), np.array([0, n]))
    return make_frame(crs_named(crs), x, y, height_m)


def bounds_of(corners_m, beyond=0.0):
    (x0, y0), (x1, y1) = corners_m.min(axis=0) - beyond, corners_m.max(axis=0) + beyond
    return x0, y0, x1, y1


def centres_m(bounds_m, width, height):
    x0, y0, x1, y1 = bounds_m
    return np.meshgrid(
        x0 + (np.arange(width) + 0.5) * (x1 - x0) / width,
        y1 - (np.arange(height) + 0.5) * (y1 - y0) / height,
    )


def expected_uv(frame, crs, to_crs, bounds_m, width, height):
    """Raster pixels of the picture's pixels: (height, width) right and down, by projection alone."""
    crs = CRS.from_user_input(crs)
    by_hand = frame_by_hand(frame)
    # both made geographic on their own ellipsoid, so that no shift is looked for
    lonlat = Transformer.from_crs(by_hand, by_hand.geodetic_crs, always_xy=True)
    longitude, latitude = lonlat.transform(*centres_m(bounds_m, width, height))
    x, y = Transformer.from_crs(crs.geodetic_crs, crs, always_xy=True).transform(
        longitude, latitude
    )
    return ~to_crs @ (x, y)


def worst_px(rgba, u, v, n, step=4):
    """Largest distance of what is shown from what should be, in raster pixels, rims left out."""
    inner = (u > 1) & (u < n - 1) & (v > 1) & (v < n - 1)
    assert inner.sum() > 500
    assert (rgba[inner, 3] == 255).all()
    off = np.hypot(rgba[..., 0] / step - u, rgba[..., 1] / step - v)
    return off[inner].max()


@pytest.mark.parametrize("place", PLACES)
@pytest.mark.parametrize("turn_deg", [0.0, 33.0])
def test_a_pixel_lands_where_its_coordinates_say(tmp_path, place, turn_deg):
    crs, corner, (sx, sy) = PLACES[place]
    to_crs = Affine.translation(*corner) @ Affine.scale(sx, -sy) @ Affine.rotation(turn_deg)
    path = write(tmp_path / "map.tif", coloured(), crs, to_crs)
    frame = frame_at(crs, to_crs, COLOURED_PX, height_m=250.0)
    source = read_about(path, frame)
    for bounds_m, size in (
        (bounds_of(source.corners_m), (60, 70)),
        (bounds_of(source.corners_m, -6.0), (211, 190)),
    ):
        shown = picture(source, frame, bounds_m, *size)
        u, v = expected_uv(frame, crs, to_crs, bounds_m, *size)
        assert not shown.coarse
        assert worst_px(shown.rgba, u, v, COLOURED_PX) < 0.3  # a level of red is 0.25 pixels
        away = (u < -0.1) | (u > COLOURED_PX + 0.1) | (v < -0.1) | (v > COLOURED_PX + 0.1)
        assert not shown.rgba[away, 3].any()


@pytest.mark.parametrize("place", ["UTM south", "US survey feet", "degrees"])
def test_a_reduced_picture_stays_in_its_place(tmp_path, place):
    crs, corner, (sx, sy) = PLACES[place]
    to_crs = Affine.translation(*corner) @ Affine.scale(sx / 8, -sy / 8)
    n = 2000
    down, across = np.mgrid[0:n, 0:n]
    values = np.stack([across // 8, down // 8, across * 0]).astype(np.uint8)
    path = write(tmp_path / "map.tif", values, crs, to_crs, tiled=True)
    with rasterio.open(path, "r+") as dataset:
        dataset.build_overviews([2, 4, 8], rasterio.enums.Resampling.average)
    frame = frame_at(crs, to_crs, n)
    source = read_about(path, frame)
    assert source.has_overviews
    for size in ((700, 640), (230, 250), (90, 80)):
        bounds_m = bounds_of(source.corners_m)
        shown = picture(source, frame, bounds_m, *size).rgba
        u, v = expected_uv(frame, crs, to_crs, bounds_m, *size)
        a_pixel = n / size[0]
        inner = (u > 80) & (u < n - 80) & (v > 80) & (v < n - 80)
        # red is 1 for 8 pixels, 3.5 in their middle, and cut off to whole numbers once or twice
        off = np.stack([shown[..., 0] * 8.0 + 4 - u, shown[..., 1] * 8.0 + 4 - v])[:, inner]
        assert abs(np.median(off, axis=1)).max() < 0.5 * max(a_pixel, 8)
        assert abs(off).max() < 0.5 * a_pixel + 9


def test_size_place_and_system_are_told(tmp_path):
    crs, corner, _ = PLACES["US survey feet"]
    to_crs = Affine.translation(*corner) @ Affine.scale(2, -2)
    path = write(tmp_path / "map.tif", coloured(), crs, to_crs)
    frame = frame_at(crs, to_crs, 60)
    source = read_about(path, frame)
    assert (source.width, source.height, source.bands) == (60, 60, 3)
    assert source.pixel_m == pytest.approx(2 * 1200 / 3937, rel=2e-4)
    assert "Texas" in source.crs
    assert (source.has_overviews, source.wants_overviews, source.notes) == (False, False, ())
    upper_left, upper_right, _lower_right, lower_left = source.corners_m
    assert upper_left[1] > lower_left[1]
    assert upper_right[0] > upper_left[0]
    corners = to_crs @ (np.array([0, 60, 60, 0]), np.array([0, 0, 60, 60]))
    np.testing.assert_allclose(
        source.corners_m, to_frame(crs_named(crs), frame)(np.column_stack(corners)), atol=1e-6
    )


def test_another_datum_is_shifted_and_the_shift_is_told(tmp_path):
    to_crs = Affine(0.5, 0, 310_000.0, 0, -0.5, 6_100_000.0)
    path = write(tmp_path / "old.tif", coloured(), "EPSG:28354", to_crs)  # GDA94
    frame = frame_at("EPSG:7854", to_crs, COLOURED_PX)  # GDA2020, the same numbers
    source = read_about(path, frame)
    assert any("Shifted from GDA94" in note and "accuracy" in note for note in source.notes)
    bounds_m = bounds_of(source.corners_m, -5)
    shown = picture(source, frame, bounds_m, 120, 120).rgba
    moved = Transformer.from_crs(frame_crs(frame), "EPSG:28354", always_xy=True)
    u, v = ~to_crs @ moved.transform(*centres_m(bounds_m, 120, 120))
    assert worst_px(shown, u, v, COLOURED_PX) < 0.3
    unshifted = expected_uv(frame, "EPSG:7854", to_crs, bounds_m, 120, 120)
    assert 2 < np.hypot(unshifted[0] - u, unshifted[1] - v).min() < 5  # 1.8 m: half pixels


def test_a_raster_across_the_antimeridian_is_found(tmp_path):
    to_crs = Affine(1e-5, 0, 179.9997, 0, -1e-5, -17.0)
    path = write(tmp_path / "map.tif", coloured(), "EPSG:4326", to_crs)
    frame = make_frame(crs_named("EPSG:4326"), [-179.9999], [-17.0003])
    source = read_about(path, frame)
    shown = picture(source, frame, (-40, -40, 40, 40), 80, 80).rgba
    assert (shown[20:60, :50, 3] == 255).all()


def test_ground_control_points_place_a_scan(tmp_path):
    crs, corner, _ = PLACES["UTM south"]
    to_crs = Affine.translation(*corner) @ Affine.scale(0.5, -0.5) @ Affine.rotation(10)
    points = [
        GroundControlPoint(row, col, *(to_crs @ (col, row)))
        for row, col in ((0, 0), (0, 60), (60, 0), (60, 60), (30, 20))
    ]
    path = tmp_path / "scan.tif"
    with pytest.warns(NotGeoreferencedWarning):
        write(path, coloured(), crs, None, gcps=points)
    frame = frame_at(crs, to_crs, COLOURED_PX)
    source = read_about(path, frame)
    assert any("5 control points" in note and "0.0 pixels" in note for note in source.notes)
    bounds_m = bounds_of(source.corners_m)
    u, v = expected_uv(frame, crs, to_crs, bounds_m, 90, 90)
    assert worst_px(picture(source, frame, bounds_m, 90, 90).rgba, u, v, COLOURED_PX) < 0.3


# how numbers become colours

TO_UTM = Affine(0.5, 0, 310_000.0, 0, -0.5, 6_100_000.0)


def shown_of(path, n=COLOURED_PX, size=120, inset_m=0.0):
    frame = frame_at("EPSG:32754", TO_UTM, n)
    source = read_about(path, frame)
    bounds_m = bounds_of(source.corners_m, -inset_m)
    return source, picture(source, frame, bounds_m, size, size).rgba


def test_no_data_is_transparent_and_bleeds_no_colour(tmp_path):
    values = coloured()
    values[:] = 200
    values[:, :, :30] = 0
    path = write(tmp_path / "map.tif", values, "EPSG:32754", TO_UTM, nodata=0)
    rgba = shown_of(path)[1]
    assert not rgba[20:100, 5:55, 3].any()
    assert (rgba[20:100, 66:110] == [200, 200, 200, 255]).all()
    seen = rgba[20:100][rgba[20:100, :, 3] > 0]
    assert (seen[:, :3] >= 199).all()  # the rim fades, it does not darken


def test_black_in_one_band_of_a_colour_picture_is_no_hole(tmp_path):
    values = np.stack([np.zeros((60, 60)), np.full((60, 60), 90), np.full((60, 60), 30)])
    path = write(tmp_path / "map.tif", values.astype(np.uint8), "EPSG:32754", TO_UTM, nodata=0)
    assert (shown_of(path)[1][20:100, 20:100] == [0, 90, 30, 255]).all()


def test_an_internal_mask_and_an_opacity_band_are_obeyed(tmp_path):
    mask = np.full((60, 60), 255, dtype=np.uint8)
    mask[:30] = 0
    masked = write(tmp_path / "masked.tif", coloured(), "EPSG:32754", TO_UTM, mask=mask)
    with_alpha = np.concatenate([coloured(), np.where(mask, 128, 0)[None].astype(np.uint8)])
    inks = [ColorInterp.red, ColorInterp.green, ColorInterp.blue, ColorInterp.alpha]
    glassy = write(tmp_path / "alpha.tif", with_alpha, "EPSG:32754", TO_UTM, inks=inks)
    for path, opacity in ((masked, 255), (glassy, 128)):
        rgba = shown_of(path)[1]
        assert not rgba[:55, 10:110, 3].any()
        assert (rgba[65:110, 10:110, 3] == opacity).all()


def test_a_fourth_band_that_is_no_opacity_is_left_out(tmp_path):
    values = np.concatenate([coloured(), np.full((1, 60, 60), 3, dtype=np.uint8)])
    inks = [ColorInterp.red, ColorInterp.green, ColorInterp.blue, ColorInterp.undefined]
    path = write(tmp_path / "infrared.tif", values, "EPSG:32754", TO_UTM, inks=inks)
    assert (shown_of(path)[1][10:110, 10:110, 3] == 255).all()


def test_a_palette_is_looked_up_before_pixels_are_mixed(tmp_path):
    numbers = np.zeros((1, 60, 60), dtype=np.uint8)
    numbers[:, :, 30:] = 2
    palette = {0: (200, 10, 10, 255), 1: (0, 255, 0, 255), 2: (10, 10, 200, 255)}
    path = write(tmp_path / "map.tif", numbers, "EPSG:32754", TO_UTM, palette=palette)
    rgba = shown_of(path)[1]
    assert (rgba[20:100, 10:50] == palette[0]).all()
    assert (rgba[20:100, 70:110] == palette[2]).all()
    assert rgba[20:100, 10:110, 1].max() == 10  # no green of number 1 on the way from 0 to 2


def test_grey_is_grey(tmp_path):
    path = write(tmp_path / "map.tif", coloured()[:1], "EPSG:32754", TO_UTM)
    rgba = shown_of(path)[1]
    assert (rgba[..., 0] == rgba[..., 1]).all()
    assert (rgba[..., 0] == rgba[..., 2]).all()
    assert rgba[60, 100, 0] > rgba[60, 20, 0]


@pytest.mark.parametrize("kind", ["uint16", "float32"])
def test_numbers_that_are_no_bytes_are_stretched_between_percentiles(tmp_path, kind):
    values = np.tile(np.linspace(3000, 5000, 60), (60, 1))[None].astype(kind)
    values[0, 0, 0] = 60_000  # a speck of light must not darken all the rest
    values[0, -1, :5] = 0
    path = write(tmp_path / "map.tif", values, "EPSG:32754", TO_UTM, nodata=0)
    source, rgba = shown_of(path)
    ((black, white),) = source.look.black_white
    kept = values[values > 0]
    np.testing.assert_allclose([black, white], np.percentile(kept, [2, 98]))
    assert any("stretched" in note for note in source.notes)
    middle = rgba[60, :, 0].astype(int)
    assert middle[5] < 25
    assert middle[-6] > 230
    assert (np.diff(middle[2:-2]) >= 0).all()


def test_not_a_number_is_transparent(tmp_path):
    values = np.full((1, 60, 60), 5.0, dtype=np.float32)
    values[0, :30] = np.nan
    path = write(tmp_path / "map.tif", values, "EPSG:32754", TO_UTM)
    rgba = shown_of(path)[1]
    assert not rgba[:50, :, 3].any()
    assert (rgba[70:110, 10:110, 3] == 255).all()


def test_a_scan_of_one_bit_is_black_and_white(tmp_path):
    values = np.zeros((1, 60, 60), dtype=np.uint8)
    values[:, :, 30:] = 1
    path = write(tmp_path / "map.tif", values, "EPSG:32754", TO_UTM, nbits=1)
    rgba = shown_of(path)[1]
    assert rgba[60, 20].tolist() == [0, 0, 0, 255]
    assert rgba[60, 100].tolist() == [255, 255, 255, 255]


# large rasters


class Counting:
    """Counts the pixels read from datasets, all blocks of a window whole."""

    def __init__(self, monkeypatch):
        self.pixels = 0
        for module in (backdrop_levels, backdrop_overviews):
            for name in ("colours", "values_and_valid"):
                if hasattr(module, name):
                    monkeypatch.setattr(module, name, self._around(getattr(module, name)))

    def _around(self, read):
        def counted(dataset, window, look):
            high, wide = dataset.block_shapes[0]
            (r0, r1), (c0, c1) = window.toranges()
            self.pixels += (
                (-(-r1 // high) - r0 // high) * (-(-c1 // wide) - c0 // wide) * high * wide
            )
            return read(dataset, window, look)

        return counted


def large(path, n=20_000, overviews=(), tiled=True, count=3):
    """A mostly empty file with a red square in the second quarter each way."""
    profile = {"driver": "GTiff", "width": n, "height": n, "count": count, "dtype": "uint8"}
    profile |= {"crs": "EPSG:32754", "transform": TO_UTM, "tiled": tiled, "sparse_ok": True}
    profile |= {"compress": "deflate", "interleave": "pixel"}
    if count == 3:
        profile |= {"photometric": "rgb"}
    if not tiled:
        profile |= {"blockysize": 8}
    with rasterio.open(path, "w", **profile) as out:
        q = n // 4
        square = np.zeros((count, 500 if tiled else q, q), dtype=np.uint8)
        square[0] = 250
        for top in range(q, 2 * q, square.shape[1]):
            out.write(square, window=Window(q, top, q, square.shape[1]))
    if overviews:
        with rasterio.open(path, "r+") as out:
            out.build_overviews(list(overviews), rasterio.enums.Resampling.nearest)
    return path


def test_the_whole_of_a_large_raster_is_read_from_its_overviews(tmp_path, monkeypatch):
    path = large(tmp_path / "large.tif", overviews=(2, 4, 8, 16, 32), count=1)
    frame = frame_at("EPSG:32754", TO_UTM, 20_000)
    count = Counting(monkeypatch)
    source = read_about(path, frame)
    assert not source.wants_overviews
    with BackdropReader(source, frame) as reader:
        for inset_m in (0, 2000, 4000, 4900):  # 20 to 0.4 pixels of the raster for one
            count.pixels = 0
            bounds_m = bounds_of(source.corners_m, -inset_m)
            shown = reader.picture(bounds_m, 1000, 1000)
            assert not shown.coarse
            assert count.pixels < 8_000_000  # of 400 million
        count.pixels = 0
        rgba = reader.picture(bounds_of(source.corners_m), 1000, 1000).rgba
    assert (rgba[300:450, 300:450, 0] == 250).all()
    assert not rgba[550:900, 550:900, 0].any()


@pytest.mark.parametrize("tiled", [True, False])
def test_without_overviews_a_sample_is_shown_and_said_to_be_coarse(tmp_path, monkeypatch, tiled):
    monkeypatch.setattr(backdrop_levels, "MOST_READ", 12_000_000)
    path = large(tmp_path / "large.tif", n=8000, tiled=tiled)
    frame = frame_at("EPSG:32754", TO_UTM, 8000)
    count = Counting(monkeypatch)
    source = read_about(path, frame)
    assert source.wants_overviews
    count.pixels = 0
    bounds_m = bounds_of(source.corners_m)
    shown = picture(source, frame, bounds_m, 200, 200)
    assert shown.coarse
    assert count.pixels <= 4_100_000  # of 64 million, three numbers each
    assert (shown.rgba[74:82, 74:82, 0] > 150).all()
    assert (shown.rgba[140:180, 140:180, :3] == 0).all()
    assert (shown.rgba[5:195, 5:195, 3] == 255).all()
    near = picture(source, frame, bounds_of(source.corners_m, -2000), 400, 400)
    assert not near.coarse


def test_overviews_are_made_in_the_cache_and_nowhere_else(tmp_path, monkeypatch):
    monkeypatch.setattr(backdrop_levels, "MOST_READ", 3_000_000)
    theirs, cache = tmp_path / "theirs", tmp_path / "cache"
    theirs.mkdir()
    n = 3001  # odd, and so are some of its halves
    values = np.zeros((3, n, n), dtype=np.uint8)
    values[0, 1000:2000, 1000:2000] = 240
    values[2] = 60
    values[:, :500] = 0
    path = write(theirs / "large.tif", values, "EPSG:32754", TO_UTM, tiled=True, nodata=0)
    before = path.read_bytes()
    frame = frame_at("EPSG:32754", TO_UTM, n)
    source = read_about(path, frame)
    bounds_m = bounds_of(source.corners_m)
    assert picture(source, frame, bounds_m, 250, 250, cache).coarse
    shares = []
    folder = backdrop_overviews.build_overviews(source, cache, shares.append)
    assert folder.parent == cache
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(shares) > 6
    assert [p.name for p in theirs.iterdir()] == ["large.tif"]
    assert path.read_bytes() == before
    for size in (250, 700, 1000):
        shown = picture(source, frame, bounds_m, size, size, cache)
        u, v = expected_uv(frame, "EPSG:32754", TO_UTM, bounds_m, size, size)
        rim = 18 * n / size  # as far as JPEG smears
        red = (abs(u - 1500) < 500 - rim) & (abs(v - 1500) < 500 - rim)
        other = ((abs(u - 1500) > 500 + rim) | (abs(v - 1500) > 500 + rim)) & (v > 500 + rim)
        other &= (u > rim) & (u < n - rim) & (v < n - rim)
        assert not shown.coarse
        assert abs(shown.rgba[red].astype(int) - [240, 0, 60, 255]).max() <= 6  # JPEG
        assert abs(shown.rgba[other].astype(int) - [0, 0, 60, 255]).max() <= 6
        assert not shown.rgba[v < 500 - rim, 3].any()
        # the square's rim is within half a pixel of its place
        column = shown.rgba[size // 2, :, 0].astype(float)
        middle = int(np.argmin(abs(u[size // 2] - 1000)))
        near = slice(middle - 6, middle + 7)
        assert np.interp(120, column[near], u[size // 2][near]) == pytest.approx(
            1000, abs=0.5 * n / size
        )
    assert backdrop_overviews.build_overviews(source, cache) == folder  # not made twice


def test_overviews_that_stop_too_early_are_made_up_for(tmp_path, monkeypatch):
    monkeypatch.setattr(backdrop_levels, "MOST_READ", 3_000_000)
    path = large(tmp_path / "large.tif", n=4000, overviews=(2,))
    frame = frame_at("EPSG:32754", TO_UTM, 4000)
    source = read_about(path, frame)
    assert source.has_overviews
    assert source.wants_overviews
    backdrop_overviews.build_overviews(source, tmp_path / "cache")
    bounds_m = bounds_of(source.corners_m)
    shown = picture(source, frame, bounds_m, 100, 100, tmp_path / "cache")
    assert not shown.coarse
    assert (shown.rgba[32:44, 32:44, 0] > 240).all()


def test_making_overviews_can_be_stopped_and_leaves_nothing(tmp_path):
    path = write(tmp_path / "map.tif", np.zeros((3, 2000, 2000), np.uint8), "EPSG:32754", TO_UTM)
    source = read_about(path, frame_at("EPSG:32754", TO_UTM, 2000))
    cache = tmp_path / "cache"
    seen = []

    def stop_at_a_third(share):
        seen.append(share)
        return share < 0.3

    assert backdrop_overviews.build_overviews(source, cache, stop_at_a_third) is None
    assert seen[-1] < 0.8
    assert list(cache.iterdir()) == []


def test_overviews_of_a_changed_picture_are_made_anew(tmp_path):
    path = write(tmp_path / "map.tif", coloured(), "EPSG:32754", TO_UTM)
    frame = frame_at("EPSG:32754", TO_UTM, COLOURED_PX)
    source = read_about(path, frame)
    first = backdrop_overviews.build_overviews(source, tmp_path / "cache")
    os.utime(path, (1, 1))
    with pytest.raises(InputProblem, match="has changed"):
        picture(source, frame, (0, 0, 10, 10), 10, 10)
    again = read_about(path, frame)
    assert backdrop_levels.reduced_folder(again, tmp_path / "cache") != first


def test_a_damaged_copy_in_the_cache_is_thrown_away(tmp_path, monkeypatch):
    monkeypatch.setattr(backdrop_levels, "MOST_READ", 3_000_000)
    path = large(tmp_path / "large.tif", n=4000)
    frame = frame_at("EPSG:32754", TO_UTM, 4000)
    source = read_about(path, frame)
    folder = backdrop_overviews.build_overviews(source, tmp_path / "cache")
    for copy in folder.iterdir():
        copy.write_bytes(copy.read_bytes()[:3000])
    bounds_m = bounds_of(source.corners_m)
    shown = picture(source, frame, bounds_m, 100, 100, tmp_path / "cache")
    assert shown.coarse
    assert not folder.exists()


def test_the_cache_is_kept_small(tmp_path):
    for name, used in (("old", 1000), ("new", 2000), ("newest", 3000)):
        (tmp_path / name).mkdir()
        (tmp_path / name / "1.tif").write_bytes(bytes(100))
        os.utime(tmp_path / name, (used, used))
    backdrop_overviews.prune(tmp_path, most_bytes=250)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["new", "newest"]


# what cannot be shown


def refusal(path, frame=None, **more):
    with pytest.raises(InputProblem) as caught:
        read_about(path, frame or frame_at("EPSG:32754", TO_UTM, 60), **more)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert os.path.basename(path) in sentence
    return sentence


def test_what_is_no_raster_is_refused(tmp_path):
    (tmp_path / "notes.tif").write_text("rows run north")
    assert "no picture that can be read" in refusal(tmp_path / "notes.tif")
    assert "no file" in refusal(tmp_path / "gone.tif")


@pytest.mark.parametrize("left", [20, 2000, 8000])
def test_a_file_cut_short_is_called_damaged(tmp_path, left):
    noise = np.random.default_rng(1).integers(0, 255, (3, 60, 60), dtype=np.uint8)
    path = write(tmp_path / "map.tif", noise, "EPSG:32754", TO_UTM)
    path.write_bytes(path.read_bytes()[:left])
    assert "damaged" in refusal(path)


def test_a_raster_without_a_place_is_refused(tmp_path):
    with pytest.warns(NotGeoreferencedWarning):
        path = write(tmp_path / "photo.tif", coloured(), None, None)
    assert "where it lies" in refusal(path)
    assert "where it lies" in refusal(path, site_crs="EPSG:32754")


def test_without_a_coordinate_system_the_sites_is_taken_and_said(tmp_path):
    path = write(tmp_path / "map.tif", coloured(), None, TO_UTM)
    assert "no coordinate system" in refusal(path)
    frame = frame_at("EPSG:32754", TO_UTM, 60)
    source = read_about(path, frame, site_crs="EPSG:32754")
    assert any("site's, WGS 84 / UTM zone 54S, was taken" in note for note in source.notes)
    assert picture(source, frame, (-5, -5, 5, 5), 20, 20).rgba[..., 3].all()


@pytest.mark.parametrize(("moved_m", "told"), [((120_000, 0), " 120 km"), ((0, 4_000_000), "4,0")])
def test_a_raster_far_from_the_site_is_refused_with_the_distance(tmp_path, moved_m, told):
    there = Affine.translation(*moved_m) @ TO_UTM
    path = write(tmp_path / "map.tif", coloured(), "EPSG:32754", there)
    assert told in refusal(path).replace("119 km", "120 km")


def test_a_raster_on_the_other_side_of_the_earth_is_refused(tmp_path):
    path = write(tmp_path / "map.tif", coloured(), "EPSG:4326", Affine(1e-5, 0, -42, 0, -1e-5, 38))
    assert "km from the site" in refusal(path)


def test_a_map_of_the_whole_earth_shows_the_site(tmp_path):
    values = np.full((1, 180, 360), 90, dtype=np.uint8)
    path = write(tmp_path / "earth.tif", values, "EPSG:4326", Affine(1, 0, -180, 0, -1, 90))
    frame = frame_at("EPSG:32754", TO_UTM, 60)
    source = read_about(path, frame)
    assert np.isfinite(source.corners_m).all()
    assert 90_000 < source.pixel_m < 112_000
    assert (picture(source, frame, (-500, -500, 500, 500), 50, 50).rgba == [90, 90, 90, 255]).all()
    wide = picture(source, frame, (-2e6, -2e6, 2e6, 2e6), 300, 300)
    assert (wide.rgba[150, 150] == [90, 90, 90, 255]).all()


def test_beyond_the_raster_all_is_transparent(tmp_path):
    path = write(tmp_path / "map.tif", coloured(), "EPSG:32754", TO_UTM)
    frame = frame_at("EPSG:32754", TO_UTM, 60)
    source = read_about(path, frame)
    assert not picture(source, frame, (5000, 5000, 5100, 5100), 40, 30).rgba.any()
