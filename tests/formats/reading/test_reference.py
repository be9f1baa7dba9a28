"""Coordinate systems given, wrong, or unlikely."""

import pytest

from layoutdesk.core.model.findings import InputProblem
from layoutdesk.formats.reading import read_exclusions, read_outlines
from tests.formats.reading.files import (
    EAST,
    NORTH,
    UTM,
    box,
    codes,
    finding,
    geojson,
    layer,
    polygon,
    square,
    text,
)


@pytest.mark.parametrize(
    ("ring", "expected"),
    [
        ([(y, x + 100) for x, y in square()], "look swapped"),
        (square(EAST, NORTH, 300, 300), "no degrees"),
        (square(0, 0, 300, 80), "no degrees"),
    ],
)
def test_numbers_that_are_no_degrees_are_refused_with_the_cause(tmp_path, ring, expected):
    path = text(tmp_path / "a.geojson", geojson(polygon(ring)))
    with pytest.raises(InputProblem, match=expected):
        read_outlines(path)


def test_degrees_tagged_as_metres_are_refused(tmp_path):
    import shapely

    path = layer(tmp_path / "a.gpkg", [shapely.Polygon(square())])
    with pytest.raises(InputProblem, match="look like degrees although EPSG:32734"):
        read_outlines(path)
    point = layer(tmp_path / "p.gpkg", [shapely.Point(18.8, -33.9)], geometry_type="Point")
    with pytest.raises(InputProblem, match="look like degrees although EPSG:32734"):
        read_exclusions(point)


def test_a_grid_with_its_origin_on_the_site_is_no_degrees(tmp_path):
    local = "+proj=tmerc +lat_0=-34 +lon_0=18.8 +ellps=GRS80 +units=m"
    found = read_outlines(layer(tmp_path / "a.gpkg", [box(-60, -40, 120, 80)], crs=local))
    assert found.shapes[0].geometry.area == 9600
    assert found.findings == ()


def test_a_system_given_over_the_files_own_is_a_declaration(tmp_path):
    path = layer(tmp_path / "a.gpkg", [box()])
    found = read_outlines(path, crs="EPSG:32735")
    assert found.crs.to_epsg() == 32735
    assert found.shapes[0].geometry.equals(box())
    said = finding(found, "crs-given")
    assert said.severity == "caution"
    assert "EPSG:32734" in said.message
    assert read_outlines(path, crs=UTM).findings == ()


@pytest.mark.parametrize(
    ("crs", "expected"),
    [
        ("EPSG:9999999", "no known coordinate system"),
        ("somewhere", "no known coordinate system"),
        ("", "no known coordinate system"),
        ("EPSG:5703", "not a map"),
        ("EPSG:4978", "not a map"),
    ],
)
def test_a_bad_crs_is_refused_with_what_was_typed(tmp_path, crs, expected):
    with pytest.raises(InputProblem, match=expected) as caught:
        read_outlines(layer(tmp_path / "a.gpkg", [box()]), crs=crs)
    assert repr(crs) in str(caught.value)


def test_a_unit_for_a_file_that_has_its_own_is_said(tmp_path):
    assert codes(read_outlines(layer(tmp_path / "a.gpkg", [box()]), unit="ft")) == ["unit-unused"]


def test_shapes_far_from_their_grids_area_are_cautioned(tmp_path):
    found = read_outlines(layer(tmp_path / "a.gpkg", [box()], crs="EPSG:27700"))
    assert codes(found) == ["grid-unsuitable"]
    assert "EPSG:27700" in finding(found, "grid-unsuitable").message


def test_a_neighbouring_zone_within_a_degree_is_left_in_peace(tmp_path):
    found = read_outlines(layer(tmp_path / "a.gpkg", [box(180_000)]))  # 17.5°E, zone from 18°E
    assert found.findings == ()


@pytest.mark.parametrize(
    ("shape", "crs"), [(box(NORTH, EAST), UTM), (box(-33.9, 18.8, 0.003, 0.003), "EPSG:4148")]
)
def test_swapped_axes_are_suspected_but_not_changed(tmp_path, shape, crs):
    found = read_outlines(layer(tmp_path / "a.gpkg", [shape], crs=crs))
    assert codes(found) == ["axes-swapped"]
    assert found.shapes[0].geometry.equals(shape)


@pytest.mark.parametrize(
    ("side_m", "words"),
    [
        (9.9, "metres read as centimetres"),
        (300_000.0, "millimetres read as metres (it would be 9.00 ha)"),
        (10_000.0, None),
    ],
)
def test_unlikely_sizes_come_with_a_likely_cause(tmp_path, side_m, words):
    depth = side_m if words else 49_000_000 / side_m
    found = read_outlines(layer(tmp_path / "a.gpkg", [box(EAST, NORTH - 1_000_000, side_m, depth)]))
    if words:
        assert words in finding(found, "size-unlikely").message
    else:
        assert found.findings == ()


def test_sizes_in_degrees_are_geodesic(tmp_path):
    # 0.0001° squared at 60° north is about 62 m², though 123 m² at the equator
    north = text(tmp_path / "n.geojson", geojson(polygon(square(10, 60, 1e-4, 1e-4))))
    south = text(tmp_path / "s.geojson", geojson(polygon(square(10, 0, 1e-4, 1e-4))))
    assert codes(read_outlines(north)) == ["size-unlikely"]
    assert codes(read_outlines(south)) == []
