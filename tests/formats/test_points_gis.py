"""LandXML, KML, GPX, GeoPackage, Shapefiles and guidance lines, read back by readers that are not ours.

Coordinates are held against PROJ (pyproj) directly; LandXML is read by survte, KML checked against the OGC schema that
fastkml carries, task data against the ISO 11783-10 schema that isoxml-writer carries, the rest read by GDAL.
"""

from __future__ import annotations

import dataclasses
import importlib
import sys
import types
import zipfile
from pathlib import Path

import numpy as np
import pyogrio
import pytest
from lxml import etree
from pyproj import CRS, Proj, Transformer

from layoutdesk.core.model import Guide, HandOff, InputProblem, PointTable
from layoutdesk.core.staking.points import CHUNK
from layoutdesk.formats.crs import frame_crs
from layoutdesk.formats.point_limits import limit_findings
from layoutdesk.formats.points_gpkg import gpkg_seal
from layoutdesk.formats.seal import read_seal
from layoutdesk.session.hand_off_files import write_one
from tests.formats.handed_off import many
from tests.staked_project import BLOCKS, FEET, FRAME, UTM, Staked, project

WASHINGTON = dataclasses.replace(FRAME, latitude_deg=46.6, longitude_deg=-120.5)
DESCRIBED = PointTable(description='{feature} & "{block}" <{row}{segment}>')


@pytest.fixture(scope="module")
def metres():
    return with_heights(Staked(project(UTM, table=DESCRIBED)).hand)


@pytest.fixture(scope="module")
def feet():
    return Staked(project(FEET, WASHINGTON)).hand


def with_heights(hand):
    """Ground that is known but for a strip in the middle."""

    def heights(xy):
        return np.where(np.abs(xy[:, 0] - 40) < 3, np.nan, 250 + 0.02 * xy[:, 0] + 0.01 * xy[:, 1])

    return dataclasses.replace(hand, heights=heights, heights_said="invented")


def written(hand, key, folder) -> Path:
    (name,) = write_one(folder, hand, key)
    return folder / name


def codes_of(hand):
    points = hand.points.all()
    fields = (points.owner, points.kind, points.index)
    return [hand.points.code(*p) for p in zip(*(f.tolist() for f in fields), strict=True)]


def by_proj(hand, crs):
    """Places of all points by PROJ alone."""
    xy = hand.points.all().xy_m
    frame = frame_crs(hand.project.site.frame)
    onto = Transformer.from_crs(frame, frame.geodetic_crs, always_xy=True)
    degrees = onto.transform(*xy.T)
    if CRS(crs).is_geographic:
        return np.column_stack(degrees)
    return np.column_stack(Proj(crs, preserve_units=True)(*degrees))


# LandXML


@pytest.mark.parametrize("which", ["metres", "feet"])
def test_landxml_has_its_unit_its_system_and_northings_first(which, request, tmp_path):
    hand = request.getfixturevalue(which)
    path = written(hand, "landxml", tmp_path)
    root = etree.parse(path).getroot()
    space = {"x": root.nsmap[None]}
    assert root.get("version") == "1.2"
    assert root.get("date") == hand.day.isoformat()
    unit = root.find("x:Units/*", space)
    assert unit.get("linearUnit") == {"metres": "meter", "feet": "USSurveyFoot"}[which]
    assert root.find("x:CoordinateSystem", space).get("epsgCode") == hand.placing.grid.crs[5:]
    points = root.findall("x:CgPoints/x:CgPoint", space)
    names = [p.get("name") for p in points]
    assert len(set(names)) == len(names) == len(hand.points)
    assert [p.get("code") for p in points] == codes_of(hand)
    values = [[float(v) for v in p.text.split()] for p in points]
    north_east = np.array([v[:2] for v in values])
    expected = by_proj(hand, hand.placing.grid.crs)[:, ::-1]
    assert np.abs(north_east - expected).max() < 1e-4
    if which == "metres":
        heights = hand.heights(hand.points.all().xy_m)
        told = np.array([v[2] if len(v) == 3 else np.nan for v in values])
        assert np.allclose(told, heights, atol=1e-4, equal_nan=True)
        assert np.isnan(told).any()
        assert points[0].get("desc").startswith('end post & "B1" <')
    assert read_seal(path).is_whole


def test_landxml_is_understood_by_an_independent_reader(metres, tmp_path, monkeypatch):
    hand = dataclasses.replace(metres, heights=lambda xy: 250 + 0.02 * xy[:, 0])
    found = landxml_points(written(hand, "landxml", tmp_path), monkeypatch)
    expected = np.column_stack([by_proj(hand, UTM)[:, ::-1], hand.heights(hand.points.all().xy_m)])
    assert len(found) == len(expected)
    assert np.abs(np.array([(p.north, p.east, p.elevation) for p in found]) - expected).max() < 1e-4
    assert [p.attributes["code"] for p in found] == codes_of(hand)


def landxml_points(path, monkeypatch):
    """Points as survte's parser has them; the window it can also show them in is not wanted."""
    import survte2

    window = types.SimpleNamespace(QMessageBox=None, QFileDialog=None)
    monkeypatch.setitem(sys.modules, "PyQt5", types.SimpleNamespace(QtWidgets=window))
    monkeypatch.setitem(sys.modules, "PyQt5.QtWidgets", window)
    monkeypatch.syspath_prepend(str(Path(survte2.__file__).parent))
    parser = importlib.import_module("landxml_parser").LandXMLParser()
    parser.parse(path)
    return parser.parse_points()


def test_landxml_draws_rows_straight_and_bent(tmp_path):
    bent = dataclasses.replace(BLOCKS[1], guide=Guide(((112, -20), (120, 30), (112, 80))))
    hand = Staked(project(blocks=(BLOCKS[0], bent))).hand
    root = etree.parse(written(hand, "landxml", tmp_path)).getroot()
    space = {"x": root.nsmap[None]}
    rows = root.findall("x:PlanFeatures[@name='rows']/x:PlanFeature", space)
    assert [r.get("name") for r in rows] == [
        c for c, k in zip(hand.lines.code, hand.lines.kind, strict=True) if k == 0
    ]
    n_bent = hand.plans[1].n_segments
    assert len(root.findall(".//x:PlanFeature[@desc='row']//x:IrregularLine", space)) == n_bent > 3
    start = [float(v) for v in rows[0].findtext(".//x:Start", namespaces=space).split()]
    expected = hand.placing.placed(hand.plans[0].segment_ends_m[0])[0, ::-1]
    assert np.allclose(start, expected, atol=1e-4)


def test_landxml_refuses_a_unit_it_has_no_word_for(metres, tmp_path):
    placing = dataclasses.replace(metres.placing, unit="link", unit_m=0.2011684)
    with pytest.raises(InputProblem, match="LandXML knows no link"):
        written(dataclasses.replace(metres, placing=placing), "landxml", tmp_path)


# KML and GPX


def test_kml_obeys_the_schema_and_gdal_reads_it(metres, tmp_path):
    import fastkml

    path = written(metres, "kml", tmp_path)
    schema = Path(fastkml.__file__).parent / "schema" / "ogckml22.xsd"
    etree.XMLSchema(etree.parse(schema)).assertValid(etree.parse(path))
    layers = [name for name, _ in pyogrio.list_layers(path)]
    assert {"Rows", "Outline", "Exclusions", "Vines", "End posts"} <= set(layers)
    vines = [name for name in layers if name.startswith("Vines")]
    assert len(vines) == len(metres.plans)  # a folder a block
    read = [pyogrio.read_dataframe(path, layer=name) for name in vines]
    codes = codes_of(metres)
    vine = [i for i, c in enumerate(codes) if "-V" in c]
    assert [name for part in read for name in part["Name"]] == [codes[i] for i in vine]
    expected = by_proj(metres, "EPSG:4326")[vine]
    found = np.concatenate([part.geometry.get_coordinates().to_numpy() for part in read])
    assert np.abs(found - expected).max() < 2e-9
    assert read_seal(path).is_whole


def test_kmz_is_the_same_zipped_and_sealed(metres, tmp_path):
    path = written(metres, "kmz", tmp_path)
    with zipfile.ZipFile(path) as archive:
        inside = archive.read("doc.kml")
    plain = written(metres, "kml", tmp_path).read_bytes()
    assert plain.startswith(inside.rstrip().removesuffix(b"</kml>"))
    assert read_seal(path).is_whole


def test_gpx_by_gdal_with_heights_where_they_are_known(metres, tmp_path):
    path = written(metres, "gpx", tmp_path)
    read = pyogrio.read_dataframe(path, layer="waypoints")
    assert read["name"].tolist() == codes_of(metres)
    expected = by_proj(metres, "EPSG:4326")
    assert np.abs(read.geometry.get_coordinates().to_numpy() - expected).max() < 2e-9
    heights = metres.heights(metres.points.all().xy_m)
    assert np.allclose(read["ele"].to_numpy(float), heights, atol=6e-4, equal_nan=True)
    routes = pyogrio.read_dataframe(path, layer="routes")
    assert len(routes) == sum(p.n_segments for p in metres.plans)


# layers of a GIS


@pytest.mark.parametrize("key", ["gpkg", "shp"])
@pytest.mark.parametrize("which", ["metres", "feet"])
def test_layers_by_gdal(which, key, request, tmp_path):
    hand = request.getfixturevalue(which)
    path = written(hand, key, tmp_path)
    source = f"/vsizip/{path}" if key == "shp" else path
    read = pyogrio.read_dataframe(source, layer="points")
    assert read["code"].tolist() == codes_of(hand)
    assert read.crs.to_epsg() == int(hand.placing.grid.crs[5:])
    expected = by_proj(hand, hand.placing.grid.crs)
    assert np.abs(read.geometry.get_coordinates().to_numpy() - expected).max() < 1e-4
    assert read["number"].tolist() == hand.points.all().number.tolist()
    if which == "metres":
        heights = hand.heights(hand.points.all().xy_m)
        assert np.allclose(read["elevation"].to_numpy(float), heights, atol=1e-6, equal_nan=True)
        assert read["description" if key == "gpkg" else "descr"][0] == 'end post & "B1" <2A>'
    outlines = pyogrio.read_dataframe(source, layer="outlines")
    areas = [p.block.outline.area for p in hand.plans]
    factor = (hand.placing.grid.combined_factor / hand.placing.grid.unit_m) ** 2
    assert np.allclose(outlines.area / factor, areas, rtol=2e-5)
    assert len(pyogrio.read_dataframe(source, layer="rows")) == int((hand.lines.kind == 0).sum())
    found = gpkg_seal(path) if key == "gpkg" else read_seal(path)
    assert found.is_whole
    assert found.seal.plan == hand.plan


@pytest.mark.parametrize("key", ["gpkg", "shp"])
def test_many_points_keep_their_order_and_their_own_values(key, tmp_path):
    hand = many()
    assert len(hand.points) > CHUNK
    path = written(hand, key, tmp_path)
    read = pyogrio.read_dataframe(
        f"/vsizip/{path}" if key == "shp" else path, layer="points", fid_as_index=True
    )
    points = hand.points.all()
    assert read["number"].tolist() == points.number.tolist()
    assert read["code"].tolist() == codes_of(hand)
    assert read["idx"].tolist() == points.index.tolist()
    found = read.geometry.get_coordinates().to_numpy()
    assert np.abs(found - hand.placing.placed(points.xy_m)).max() < 1e-9
    heights = hand.heights(points.xy_m)
    assert np.allclose(read["elevation"].to_numpy(float), heights, atol=6e-5, equal_nan=True)
    assert (gpkg_seal(path) if key == "gpkg" else read_seal(path)).is_whole


def test_layers_on_the_ground_are_told_to_be_in_no_system(tmp_path):
    hand = Staked(project(coordinates="ground")).hand
    for key in ("gpkg", "shp"):
        path = written(hand, key, tmp_path)
        read = pyogrio.read_dataframe(f"/vsizip/{path}" if key == "shp" else path, layer="points")
        assert read.crs is None or read.crs.to_epsg() is None
        expected = hand.placing.placed(hand.points.all().xy_m)
        assert np.allclose(read.geometry.get_coordinates().to_numpy(), expected, atol=1e-6)
    told = " ".join(f.message for f in limit_findings(hand, ("gpkg", "landxml")))
    assert "no system" in told
    assert "LandXML" in told


def test_a_changed_geopackage_is_found_out(metres, tmp_path):
    import sqlite3

    path = written(metres, "gpkg", tmp_path)
    with sqlite3.connect(path) as db:
        for (name,) in db.execute(
            "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'points'"
        ).fetchall():  # these call functions of a spatial database
            db.execute(f'DROP TRIGGER "{name}"')
        db.execute("UPDATE points SET code = 'B1-R001A-V999' WHERE fid = 7")
    db.close()
    assert gpkg_seal(path).is_whole is False


# guidance lines


def test_guidance_lines_lie_on_the_rows_and_midway_between(metres, tmp_path):
    path = written(metres, "lines", tmp_path)
    for name in ("guidance.geojson", "guidance.shp"):
        read = pyogrio.read_dataframe(f"/vsizip/{path}/{name}").to_crs(UTM)
        rows = read[(read["line"] == "row") & (read["block"] == "B1")]
        paths = read[(read["line"] == "path") & (read["block"] == "B1")]
        assert len(rows) == metres.plans[0].n_rows
        assert len(paths) == len(rows) - 1
        spacing = metres.plans[0].rules.row_spacing_m * metres.placing.grid.combined_factor
        for i in (0, 5, len(paths) - 1):
            for side in (i, i + 1):
                ends = rows.geometry.iloc[side].boundary.geoms
                off = [paths.geometry.iloc[i].distance(end) for end in ends]
                assert np.allclose(off, spacing / 2, atol=0.002)
    assert read_seal(path).is_whole
    with zipfile.ZipFile(path) as archive:
        assert "operator is responsible" in archive.read("guidance.geojson").decode()


def test_task_data_obeys_the_schema(metres, tmp_path):
    import isoxml_writer

    path = written(metres, "taskdata", tmp_path)
    with zipfile.ZipFile(path) as archive:
        root = etree.fromstring(archive.read("TASKDATA/TASKDATA.XML"))
    folder = Path(isoxml_writer.__file__).parent / "ISOXML_schema"
    schema = etree.XMLSchema(etree.parse(folder / "ISO11783_TaskFile_V4-3.xsd"))
    schema.assertValid(root)
    assert [f.get("C") for f in root.findall("PFD")] == ["B1", "North bank"]
    pattern = root.find("PFD/GGP/GPN")
    assert (pattern.get("C"), pattern.get("I")) == ("1", "16")
    swaths = int(pattern.get("N")) + int(pattern.get("O")) + 1
    assert swaths == metres.plans[0].n_rows - 1
    assert pattern.find("LSG").get("C") == "2500"
    kinds = [p.get("A") for p in pattern.findall("LSG/PNT")]
    assert kinds == ["6", "7"]
    # the line of the terminal, repeated by its swath, meets the row on its left half a spacing on
    ends = np.array([[float(p.get("D")), float(p.get("C"))] for p in pattern.findall("LSG/PNT")])
    into = Transformer.from_crs("EPSG:4326", frame_crs(FRAME), always_xy=True)
    a, b = np.column_stack(into.transform(*ends.T))
    axes = metres.plans[0].axes
    across = axes.to_axes(np.stack([a, b]))[:, 1]
    lines = np.unique(metres.plans[0].segments.across_m)
    left = lines[int(pattern.get("N"))]
    assert np.allclose(across - left, 1.25, atol=0.002)


def test_bent_rows_are_curves_of_their_own_in_task_data(tmp_path):
    import isoxml_writer

    bent = dataclasses.replace(BLOCKS[1], guide=Guide(((112, -20), (120, 30), (112, 80))))
    hand = Staked(project(blocks=(BLOCKS[0], bent))).hand
    with zipfile.ZipFile(written(hand, "taskdata", tmp_path)) as archive:
        root = etree.fromstring(archive.read("TASKDATA/TASKDATA.XML"))
    folder = Path(isoxml_writer.__file__).parent / "ISOXML_schema"
    etree.XMLSchema(etree.parse(folder / "ISO11783_TaskFile_V4-3.xsd")).assertValid(root)
    patterns = root.findall("PFD")[1].findall("GGP/GPN")
    assert len(patterns) == 2 * hand.plans[1].n_rows - 1
    assert {p.get("C") for p in patterns} == {"3"}
    assert {p.get("E") for p in patterns} == {"4"}
    points = patterns[0].findall("LSG/PNT")
    assert [points[0].get("A"), points[1].get("A"), points[-1].get("A")] == ["6", "9", "7"]


def test_writing_can_be_stopped_on_the_way(metres, tmp_path):
    class Stopped(Exception):
        pass

    def stop(share):
        raise Stopped

    for key in ("landxml", "kml", "kmz", "gpx", "gpkg", "shp", "lines", "taskdata"):
        with pytest.raises(Stopped):
            write_one(tmp_path, metres, key, stop)


def test_hand_off_says_what_a_format_cannot_hold(metres):
    asked = dataclasses.replace(
        HandOff(), table=PointTable(unit="US survey foot"), formats=("shp", "gpkg", "taskdata")
    )
    hand = Staked(dataclasses.replace(metres.project, hand_off=asked)).hand
    told = [f.message for f in limit_findings(hand, hand.hand.formats)]
    assert any("10 letters" in t for t in told)
    assert any("grid's own unit, metre" in t for t in told)
    assert any("Task data" in t for t in told)
