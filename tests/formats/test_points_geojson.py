"""The hand-off as GeoJSON, checked by a validator of the standard and by GDAL."""

import dataclasses
import json
from collections import Counter

import numpy as np
import pyogrio
import pytest
import shapely
from geojson_validator import validate_geometries, validate_structure

from layoutdesk import Block, Exclusion, InputProblem, RowRules
from layoutdesk.core.model.handoff import PointChoice
from layoutdesk.formats.points_geojson import write_points_geojson
from layoutdesk.formats.seal import read_seal
from tests.formats.point_hands import EVERYTHING, HIGH, LOW, POND, SEAL, hand_of, slope, told
from tests.formats.test_points_dxf import BENT
from tests.formats.test_stakes_dxf import DITCH, TREE

OWN = {"outline": "outline_corner", "exclusion": "exclusion_corner"}


def written(path, hand, **more):
    count = write_points_geojson(path, hand, SEAL, **more)
    document = json.loads(path.read_text(encoding="utf-8"))
    assert count == len(document["features"])
    assert read_seal(path).is_whole
    return document


def points_of(document):
    return [f for f in document["features"] if "point" in f["properties"]]


def test_every_point_comes_in_order_with_what_is_known_of_it(tmp_path):
    hand = hand_of(EVERYTHING, heights=slope, description='{feature} "{code}"')
    document = written(tmp_path / "p.geojson", hand)
    found, wanted = points_of(document), told(hand)
    assert len(found) == len(wanted)
    for feature, w in zip(found, wanted, strict=True):
        properties = dict(feature["properties"])
        properties.pop("elevation")
        assert properties == {
            "kind": OWN.get(w["kind"], w["kind"]),
            "block": w["block"] or None,
            "row": int(w["row"]) if w["row"] else None,
            "segment": w["segment"] or None,
            "index": int(w["index"]) if w["index"] else None,
            "code": w["code"],
            "point": int(w["number"]),
            "description": f'{w["kind"].replace("_", " ")} "{w["code"]}"',
        }
    xy_m = hand.points.all().xy_m
    degrees = np.array([f["geometry"]["coordinates"] for f in found])
    assert degrees.shape[1] == 2  # a third one would be taken for a height above the ellipsoid
    np.testing.assert_allclose(degrees, hand.to_wgs84(xy_m), rtol=0, atol=0.51e-9)
    z = [f["properties"]["elevation"] for f in found]
    known = np.array([np.nan if v is None else v for v in z])
    np.testing.assert_allclose(known, slope(xy_m), rtol=0, atol=0.501e-4)
    assert None in z


def test_gdal_reads_the_same(tmp_path):
    hand = hand_of(EVERYTHING, heights=slope)
    written(tmp_path / "p.geojson", hand)
    table = pyogrio.read_dataframe(tmp_path / "p.geojson")
    table = table[table.point.notna()]
    wanted = told(hand)
    assert table.code.tolist() == [w["code"] for w in wanted]
    assert table.point.astype(int).tolist() == [int(w["number"]) for w in wanted]
    found = shapely.get_coordinates(table.geometry.values)
    np.testing.assert_allclose(found, hand.to_wgs84(hand.points.all().xy_m), rtol=0, atol=1e-9)


def test_a_validator_of_the_standard_finds_nothing(tmp_path):
    hand = hand_of(EVERYTHING, blocks=(LOW, HIGH, BENT), exclusions=(POND, TREE, DITCH))
    document = written(tmp_path / "p.geojson", hand)
    assert validate_structure(document) == {}
    found = validate_geometries(document)
    assert found["invalid"] == {}
    assert found["problematic"].keys() == {"excessive_coordinate_precision"}  # nine decimals


def test_chosen_rows_all_outlines_and_exclusions_of_every_shape_are_lines_and_areas(tmp_path):
    both = Exclusion(shapely.GeometryCollection([POND.shape, shapely.Point(3, 3)]), 1.0, "both")
    site = {"blocks": (HIGH, BENT), "exclusions": (POND, TREE, DITCH, both)}
    n = sum(p.n_segments for p in hand_of(**site).plans)
    some = np.zeros(n, bool)
    some[[1, n - 1]] = True
    hand = hand_of(**site, segments=some)
    document = written(tmp_path / "p.geojson", hand)
    told_of = [
        (f["properties"]["kind"], f["properties"]["code"], f["geometry"]["type"])
        for f in document["features"]
        if "point" not in f["properties"]
    ]
    codes = hand.points.owners.code
    assert told_of == [
        ("outline", "B2", "Polygon"),
        ("row", codes[1], "LineString"),
        ("outline", "Bent", "Polygon"),
        ("row", codes[n - 1], "LineString"),
        ("exclusion", "pond", "Polygon"),
        ("exclusion", "tree", "Point"),
        ("exclusion", "ditch", "LineString"),
        ("exclusion", "both", "Polygon"),
        ("exclusion", "both", "Point"),
    ]
    rows = [f["geometry"]["coordinates"] for f in document["features"]
            if f["properties"]["kind"] == "row"]  # fmt: skip
    assert len(rows[0]) == 2 < len(rows[1])
    lines = hand.lines
    for row, i in zip(rows, np.flatnonzero(lines.kind == 0).tolist(), strict=True):
        xy = hand.to_wgs84(lines.xy_m[lines.first[i] : lines.first[i + 1]])
        np.testing.assert_allclose(row, xy, rtol=0, atol=0.51e-9)
    blocks = Counter(f["properties"]["block"] for f in points_of(document))
    assert set(blocks) == {"B2", "Bent"}


def test_the_head_says_in_which_unit_and_above_what_elevations_stand(tmp_path):
    hand = hand_of(heights=slope)
    said = dataclasses.replace(hand.hand, vertical_datum="AHD")
    hand = dataclasses.replace(hand, hand=said)
    about = written(tmp_path / "p.geojson", hand)["layoutdesk"]
    assert about["statement"] == hand.statement
    assert about["elevation_unit"] == "metre"
    assert about["vertical_datum"] == "AHD"
    assert about["heights"] == "made for a test"
    assert (about["revision"], about["plan"], about["day"]) == ("r7", "p1", "2026-11-28")


def test_nothing_is_said_of_elevations_where_no_ground_is_known(tmp_path):
    document = written(tmp_path / "p.geojson", hand_of())
    assert not any("elevation" in f["properties"] for f in document["features"])


def test_rows_and_areas_are_parted_at_the_antimeridian(tmp_path):
    block = Block("Date", shapely.box(-50, -40, 50, 40), RowRules(bearing_deg=90))
    hand = hand_of(blocks=(block,), exclusions=(Exclusion(shapely.box(-5, 60, 5, 70), 1.0),))

    def to_wgs84(xy):
        degrees = xy / [91_000.0, 111_000.0] + np.array([180.0, -16.0])
        degrees[degrees[:, 0] > 180, 0] -= 360
        return degrees

    document = written(tmp_path / "p.geojson", dataclasses.replace(hand, to_wgs84=to_wgs84))
    assert validate_structure(document) == {}
    shapes = [shapely.geometry.shape(f["geometry"]) for f in document["features"]]
    areas = [s for s in shapes if s.geom_type == "MultiPolygon"]
    assert [a.area * 91_000 * 111_000 for a in areas] == pytest.approx([8000.0, 100.0], rel=1e-5)
    rows = [s for s in shapes if s.geom_type == "MultiLineString"]
    assert [r.length * 91_000 for r in rows] == pytest.approx(
        hand.plans[0].segments.length_m.tolist(), abs=1e-3
    )


@pytest.mark.parametrize("name", ["Côte d'été 北", "back\\slash", "tab\tstop", "100 % {x}"])
def test_any_name_comes_back_as_it_was(tmp_path, name):
    hand = hand_of(
        EVERYTHING, blocks=(dataclasses.replace(LOW, name=name),), control=((name, 1.0, 2.0),)
    )
    document = written(tmp_path / "p.geojson", hand)
    assert {f["properties"]["block"] for f in document["features"]} == {name, None}
    codes = {f["properties"]["code"] for f in document["features"]}
    assert {name, f"{name}-R003A-V001", f"{name}-C001"} <= codes


def test_no_points_are_still_a_collection(tmp_path):
    hand = hand_of(PointChoice(kinds=()), blocks=(), exclusions=())
    assert written(tmp_path / "p.geojson", hand)["features"] == []


def test_progress_rises_to_one_and_may_cancel(tmp_path):
    shares = []
    written(tmp_path / "p.geojson", hand_of(EVERYTHING), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_points_geojson(tmp_path / "p.geojson", hand_of(), SEAL, progress=stop)


def test_a_site_with_no_place_on_wgs84_is_refused_in_a_sentence(tmp_path):
    hand = dataclasses.replace(hand_of(), to_wgs84=lambda xy: xy * np.nan)
    with pytest.raises(InputProblem, match="no place on WGS 84"):
        write_points_geojson(tmp_path / "p.geojson", hand, SEAL)
