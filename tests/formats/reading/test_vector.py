"""GeoJSON, GeoPackage, KML and GPX as people send them."""

import sqlite3

import numpy as np
import pyproj
import pytest
import shapely

from layoutdesk.core.model.findings import InputProblem
from layoutdesk.formats.project_file import is_project
from layoutdesk.formats.reading import read_exclusions, read_outlines
from tests.formats.reading.files import (
    EAST,
    LAT,
    LON,
    NORTH,
    UTM,
    box,
    codes,
    crs_member,
    finding,
    geojson,
    kml,
    kml_polygon,
    layer,
    polygon,
    square,
    text,
)


@pytest.mark.parametrize("content", [geojson(polygon(square())), polygon(square())])
def test_a_plain_geojson_is_read_without_a_word(tmp_path, capfd, content):
    found = read_outlines(text(tmp_path / "a.geojson", content))
    (shape,) = found.shapes
    assert list(shape.geometry.exterior.coords) == square()
    assert found.crs == pyproj.CRS.from_epsg(4326)
    assert found.source == "a.geojson"
    assert found.findings == ()
    assert capfd.readouterr() == ("", "")


def test_content_decides_when_the_extension_is_unknown(tmp_path):
    assert read_outlines(text(tmp_path / "a.xyzzy", geojson(polygon(square())))).shapes


@pytest.mark.parametrize("name", ["EPSG:32734", "urn:ogc:def:crs:EPSG::32734"])
def test_an_old_crs_member_is_obeyed_and_said(tmp_path, name):
    ring = square(EAST, NORTH, 300, 300)
    found = read_outlines(text(tmp_path / "a.json", geojson(polygon(ring), head=crs_member(name))))
    assert found.crs.to_epsg() == 32734
    assert codes(found) == ["old-crs-member"]


def test_a_crs_member_that_says_wgs84_changes_nothing(tmp_path):
    head = crs_member("urn:ogc:def:crs:OGC:1.3:CRS84")
    assert (
        read_outlines(text(tmp_path / "a.json", geojson(polygon(square()), head=head))).findings
        == ()
    )


@pytest.mark.parametrize("head", [crs_member("EPSG:98989898"), ',"crs":null'])
def test_a_crs_member_without_meaning_asks_instead_of_taking_wgs84(tmp_path, head):
    path = text(tmp_path / "a.json", geojson(polygon(square(EAST, NORTH, 300, 300)), head=head))
    with pytest.raises(InputProblem, match=r"9\.00 ha.*--crs EPSG:nnnn"):
        read_outlines(path)
    assert read_outlines(path, crs=UTM).crs.to_epsg() == 32734


def test_an_attribute_called_crs_is_no_crs_member(tmp_path):
    content = geojson(polygon(square()), properties='{"crs": null}')
    assert read_outlines(text(tmp_path / "a.geojson", content)).findings == ()


def test_attributes_are_found_whatever_their_case(tmp_path):
    point = f'{{"type":"MultiPoint","coordinates":[[{LON},{LAT}],[18.81,{LAT}]]}}'
    properties = '{"Name": "north well", "TYPE": "well", "Clearance_M": "7,5"}'
    path = text(tmp_path / "a.geojson", geojson(point, properties=properties))
    found = read_exclusions(path)
    assert [s.geometry.geom_type for s in found.shapes] == ["Point", "Point"]
    assert {(s.name, s.kind, s.clearance_m) for s in found.shapes} == {("north well", "well", 7.5)}


def test_a_clearance_that_is_no_number_is_said(tmp_path):
    point = f'{{"type":"Point","coordinates":[{LON},{LAT}]}}'
    path = text(tmp_path / "a.geojson", geojson(point, properties='{"clearance": "wide"}'))
    found = read_exclusions(path)
    assert found.shapes[0].clearance_m is None
    assert "'wide'" in finding(found, "clearance-unread").message


def test_heights_are_dropped_with_a_note_unless_all_zero(tmp_path):
    high = [(*c, 120.5) for c in square()]
    flat = [(*c, 0.0) for c in square()]
    found = read_outlines(text(tmp_path / "h.geojson", geojson(polygon(high))))
    assert codes(found) == ["height-dropped"]
    assert not found.shapes[0].geometry.has_z
    assert len(found.crs.axis_info) == 2
    assert read_outlines(text(tmp_path / "f.geojson", geojson(polygon(flat)))).findings == ()


def test_names_in_an_old_encoding_are_read_and_said(tmp_path):
    content = geojson(polygon(square()), properties='{"name": "Höhe"}')
    found = read_outlines(text(tmp_path / "a.geojson", content, "cp1252"))
    assert found.shapes[0].name == "Höhe"
    assert codes(found) == ["text-decoded"]


def test_kml_polygons_in_folders_and_multigeometry(tmp_path, capfd):
    two = kml_polygon(square()) + kml_polygon(square(18.9))
    body = (
        f"<Folder><name>F</name><Folder><name>G</name><Placemark><name>Block A</name>"
        f"<MultiGeometry>{two}</MultiGeometry></Placemark></Folder>"
        "<Placemark><name>gate</name><Point><coordinates>18.8,-33.9</coordinates></Point>"
        "</Placemark></Folder>"
    )
    path = text(tmp_path / "a.kml", kml(body))
    found = read_outlines(path)
    assert [s.name for s in found.shapes] == ["Block A", "Block A"]
    assert codes(found) == ["shapes-skipped"]
    assert len(read_exclusions(path).shapes) == 3
    assert capfd.readouterr().err == ""


def test_all_polygon_layers_of_a_geopackage_are_read_and_named(tmp_path):
    path = layer(tmp_path / "a.gpkg", [box()], layer="north")
    assert read_outlines(path).findings == ()
    layer(path, [box(EAST + 500)], layer="south")
    layer(path, [shapely.Point(EAST, NORTH)], geometry_type="Point", layer="wells")
    found = read_outlines(path)
    assert len(found.shapes) == 2
    assert "north, south" in finding(found, "layers-read").message
    assert len(read_exclusions(path).shapes) == 3


def test_layers_in_different_systems_are_refused(tmp_path):
    path = layer(tmp_path / "a.gpkg", [box()], layer="north")
    layer(path, [box()], crs="EPSG:32733", layer="south")
    with pytest.raises(InputProblem, match="different coordinate systems"):
        read_outlines(path)


def test_the_horizontal_part_of_a_compound_system_is_used(tmp_path):
    found = read_outlines(layer(tmp_path / "a.gpkg", [box()], crs="EPSG:32734+5773"))
    assert found.crs.to_epsg() == 32734
    assert found.findings == ()


def test_a_geopackage_without_a_system_asks(tmp_path):
    with pytest.raises(InputProblem, match=r"as metres it would be 9\.00 ha, as feet 0\.84 ha"):
        read_outlines(layer(tmp_path / "a.gpkg", [box()], crs=None))


@pytest.mark.parametrize(("last", "expected"), [(-1, ["ring-closed"]), (None, [])])
def test_a_gpx_track_is_closed_and_said_if_it_was_open(tmp_path, last, expected):
    points = "".join(f'<trkpt lat="{y}" lon="{x}"/>' for x, y in square()[:last])
    content = (
        '<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><name>t</name><trkseg>{points}</trkseg></trk></gpx>"
    )
    found = read_outlines(text(tmp_path / "a.gpx", content))
    assert found.shapes[0].geometry.equals(shapely.Polygon(square()))
    assert codes(found) == expected


def test_a_closed_line_is_taken_as_outline_and_an_open_one_is_not(tmp_path):
    ring = [list(c) for c in square()]
    closed = text(tmp_path / "c.geojson", f'{{"type":"LineString","coordinates":{ring}}}')
    found = read_outlines(closed)
    assert found.shapes[0].geometry.equals(shapely.Polygon(square()))
    assert codes(found) == ["ring-closed"]
    opened = text(tmp_path / "o.geojson", f'{{"type":"LineString","coordinates":{ring[:-1]}}}')
    with pytest.raises(InputProblem, match="holds no polygon, only 1 line"):
        read_outlines(opened)


REFUSED = {
    "missing.geojson": (None, "does not exist"),
    "zero.geojson": ("", r"empty \(0 bytes\)"),
    "none.geojson": (geojson(), "without any feature"),
    "null.geojson": (geojson("null"), "1 feature but no geometry"),
    "cut.geojson": (geojson(polygon(square()))[:120], "cannot be read as GeoJSON"),
    "words.kml": ("hello", "cannot be read as KML"),
    "none.kml": (kml(""), "without any feature"),
    "words.gpkg": ("hello", "not a GeoPackage"),
    "cut.gpkg": (b"SQLite format 3\x00" + b"\x07" * 3000, "cannot be read as GeoPackage"),
    "words.shp": ("hello", "not a Shapefile"),
    "words.doc": ("hello", "no format that can be read here; give GeoJSON"),
    "point.geojson": ('{"type":"Point","coordinates":[18,-33]}', "only 1 point"),
}


def test_each_refusal_is_one_sentence_of_its_own_and_nothing_leaks(tmp_path, capfd):
    said = set()
    for name, (content, expected) in REFUSED.items():
        if content is not None:
            text(tmp_path / name, content)
        with pytest.raises(InputProblem, match=expected) as caught:
            read_outlines(tmp_path / name)
        sentence = str(caught.value)
        assert name in sentence
        assert sentence.endswith(".")
        assert "\n" not in sentence
        said.add(sentence.replace(name, ""))
    assert len(said) >= len(REFUSED) - 1  # two files without any feature differ in format only
    assert capfd.readouterr() == ("", "")


def test_a_project_is_told_from_every_other_file(tmp_path):
    project = tmp_path / "p.gpkg"
    connection = sqlite3.connect(project)
    connection.execute("CREATE TABLE layoutdesk_document (body TEXT)")
    connection.commit()
    connection.close()
    assert is_project(project)
    assert is_project(str(project))
    others = [
        layer(tmp_path / "a.gpkg", [box()]),
        text(tmp_path / "t.gpkg", "layoutdesk_document"),
        text(tmp_path / "d.gpkg", b"SQLite format 3\x00" + b"\x07" * 99),
        tmp_path / "missing.gpkg",
        tmp_path,
    ]
    assert not any(is_project(p) for p in others)
    with pytest.raises(InputProblem, match="open it as a project"):
        read_outlines(project)


def test_a_ring_of_very_many_corners_comes_through_whole(tmp_path):
    angle = np.linspace(0, 2 * np.pi, 200_000, endpoint=False)
    ring = shapely.Polygon(
        np.column_stack([EAST + 300 * np.cos(angle), NORTH + 300 * np.sin(angle)])
    )
    found = read_outlines(layer(tmp_path / "a.gpkg", [ring]))
    assert shapely.get_num_coordinates(found.shapes[0].geometry) == 200_001
    assert found.findings == ()
