"""What other people's programs say of the files written: validators, GDAL, ezdxf, geodesics."""

from __future__ import annotations

import csv
import json
from functools import cache

import ezdxf
import numpy as np
import pyogrio
import pytest
import shapely
from geojson_validator import validate_geometries, validate_structure
from pyproj import CRS, Geod, Transformer

from layoutdesk.formats.crs import frame_crs
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import stake_set, write_stake_set

SAMPLES = {s.name: s for s in samples()}
each_sample = pytest.mark.parametrize("name", SAMPLES)


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    """Folder, summary and stake set of a sample, written once."""

    @cache
    def of(name):
        folder = tmp_path_factory.mktemp(name)
        stakes = stake_set(open_sample(SAMPLES[name]))
        return folder, write_stake_set(folder, stakes), stakes

    return of


def table(folder):
    """Codes and eastings, northings of stakes.csv."""
    with open(folder / "stakes.csv", newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    xy = np.array([[float(r["easting"]), float(r["northing"])] for r in rows])
    return [r["description"] for r in rows], xy


def points_of(document) -> dict[str, list[float]]:
    return {
        f["properties"]["code"]: f["geometry"]["coordinates"]
        for f in document["features"]
        if f["geometry"]["type"] == "Point"
    }


# geojson-validator lists what some programs stumble over as problems too; these two are meant here.
MEANT = {"holes", "excessive_coordinate_precision"}


@each_sample
def test_a_geojson_validator_finds_nothing(written, name):
    """RFC 7946 by the geojson-validator package; points, which it is slow on, are thinned."""
    folder, _, _ = written(name)
    document = json.loads((folder / "stakes.geojson").read_text(encoding="utf-8"))
    features = document["features"]
    kept = [f for i, f in enumerate(features) if f["geometry"]["type"] != "Point" or i % 50 == 0]
    thin = document | {"features": kept}
    assert validate_structure(thin, check_crs=True) == {}
    found = validate_geometries(thin)
    assert found["invalid"] == {}
    assert set(found["problematic"]) <= MEANT


@each_sample
def test_gdal_and_the_table_have_the_same_points_in_the_drawing(written, name):
    folder, _, stakes = written(name)
    codes, xy = table(folder)
    pyogrio.set_gdal_config_options({"DXF_INLINE_BLOCKS": "FALSE"})
    try:
        read = pyogrio.read_dataframe(folder / "stakes.dxf", layer="entities")
    finally:
        pyogrio.set_gdal_config_options({"DXF_INLINE_BLOCKS": None})
    marks = read[read["BlockName"].isin(["VINE", "END_POST", "LINE_POST", "ANCHOR"])]
    named = [dict(a.split(" ", 1) for a in texts)["CODE"] for texts in marks["BlockAttributes"]]
    assert named == codes
    found = shapely.get_coordinates(marks.geometry)
    assert np.abs(found - xy).max() * stakes.survey.unit_m < 1e-9


def test_ezdxf_has_nothing_to_mend(written):
    folder, summary, _ = written("curved_terrace")
    drawing = ezdxf.readfile(folder / "stakes.dxf")
    audit = drawing.audit()
    assert [str(e) for e in audit.errors + audit.fixes] == []
    codes, xy = table(folder)
    placed = {
        insert.get_attrib_text("CODE"): insert.dxf.insert
        for insert in drawing.modelspace().query("INSERT")
    }
    assert set(placed) == set(codes)
    found = np.array([[placed[c].x, placed[c].y] for c in codes])
    assert np.abs(found - xy).max() < 1e-9
    assert len(drawing.modelspace().query("INSERT[layer=='VINE']")) == summary["vines"]


@each_sample
def test_geojson_and_the_table_are_the_same_places(written, name):
    """PROJ from the survey grid to WGS 84, by the shift the set says it used."""
    folder, _, stakes = written(name)
    codes, xy = table(folder)
    places = points_of(json.loads((folder / "stakes.geojson").read_text(encoding="utf-8")))
    assert set(places) == set(codes)
    lonlat = np.array([places[c] for c in codes])
    survey = CRS.from_user_input(stakes.survey.crs)
    back = Transformer.from_crs(survey, frame_crs(stakes.project.site.frame), always_xy=True)
    degrees = stakes.to_wgs84(np.column_stack(back.transform(*xy.T)))
    metres = np.abs(lonlat - degrees) * (111_320 * np.cos(np.radians(lonlat[0, 1])), 111_320)
    # half a unit in the last place of both files: 0.05 mm and 0.06 mm, and 0.02 mm of the cubics
    assert metres.max() < 1.5e-4


@each_sample
def test_gdal_reads_the_geojson_with_its_kinds(written, name):
    folder, summary, _ = written(name)
    read = pyogrio.read_dataframe(folder / "stakes.geojson")
    assert read.crs.to_epsg() == 4326
    counts = read["kind"].value_counts()
    assert counts["vine"] == summary["vines"]
    assert counts["row"] == summary["segments"]
    assert read["code"].notna().all()


def geodesic_area_m2(project, shape) -> float:
    """Area on the ellipsoid, raised to the site's height. [m²]"""
    frame = project.site.frame
    to = Transformer.from_crs(frame_crs(frame), frame_crs(frame).geodetic_crs, always_xy=True)
    # Straight edges of the plane are no geodesics: cut short, the difference is gone.
    short = shapely.segmentize(shape, 5.0)
    degrees = shapely.transform(short, lambda xy: np.column_stack(to.transform(*xy.T)))
    geod = Geod(a=frame.semi_major_m, rf=frame.inverse_flattening)
    return (
        abs(geod.geometry_area_perimeter(shapely.geometry.polygon.orient(degrees))[0])
        * frame.scale**2
    )


@each_sample
def test_the_outlines_area_is_the_geodesic_one_at_the_sites_height(written, name):
    """Karney's geodesics (PROJ): the frame keeps areas to 0.2 ppm, twice the 0.1 of its lengths."""
    _, summary, stakes = written(name)
    wanted = sum(geodesic_area_m2(stakes.project, b.outline) for b in stakes.project.blocks)
    assert summary["outline_m2"] == pytest.approx(wanted, rel=4e-7)


@each_sample
def test_row_lengths_are_geodesic_lengths_at_the_sites_height(written, name):
    _, summary, stakes = written(name)
    frame = stakes.project.site.frame
    to = Transformer.from_crs(frame_crs(frame), frame_crs(frame).geodetic_crs, always_xy=True)
    ends = np.concatenate([p.segment_ends_m for p in stakes.plans]).reshape(-1, 2)
    lon, lat = to.transform(*ends.T)
    geod = Geod(a=frame.semi_major_m, rf=frame.inverse_flattening)
    _, _, length = geod.inv(lon[::2], lat[::2], lon[1::2], lat[1::2])
    # height differs along the two radii of curvature by up to 0.53 ppm per km of it
    assert summary["row_length_m"] == pytest.approx(
        length.sum() * frame.scale, rel=1e-7 + 6e-7 * frame.height_m / 1000
    )


@each_sample
def test_the_combined_factor_is_grid_over_ground_distance(written, name):
    """Geodesics of 40 m with the origin in their middle, in four directions."""
    _, summary, stakes = written(name)
    frame = stakes.project.site.frame
    survey = CRS.from_user_input(stakes.survey.crs)
    to = Transformer.from_crs(survey.geodetic_crs, survey, always_xy=True)
    geod = Geod(a=frame.semi_major_m, rf=frame.inverse_flattening)
    unit_m = survey.axis_info[0].unit_conversion_factor
    for azimuth in (0, 45, 90, 135):
        lon, lat, _ = geod.fwd(
            [frame.longitude_deg] * 2,
            [frame.latitude_deg] * 2,
            [azimuth + 180, azimuth],
            [20.0] * 2,
        )
        (x0, x1), (y0, y1) = to.transform(lon, lat)
        grid_m = np.hypot(x1 - x0, y1 - y0) * unit_m
        factor = grid_m / (40.0 * frame.scale)  # PROJ's metres are good to some nanometres
        assert factor == pytest.approx(summary["survey"]["combined_factor"], abs=1e-9)
        bearing = np.degrees(np.arctan2(x1 - x0, y1 - y0))
        convergence = (azimuth - bearing + 180) % 360 - 180
        assert convergence == pytest.approx(summary["survey"]["convergence_deg"], abs=1e-6)


@each_sample
def test_the_geopackage_validator_of_gdal_finds_nothing(written, name):
    """validate_gpkg of gdal-utils, where somebody has it: it needs GDAL's own Python package."""
    validate_gpkg = pytest.importorskip("osgeo_utils.samples.validate_gpkg")
    folder, _, _ = written(name)
    assert validate_gpkg.check(str(folder / "project.gpkg"), abort_at_first_error=False) == []
