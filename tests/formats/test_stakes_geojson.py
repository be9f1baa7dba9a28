"""The stake-out as GeoJSON."""

import dataclasses
import json
import re

import numpy as np
import pytest
import shapely
from geojson_validator import validate_geometries, validate_structure

from layoutdesk import Block, InputProblem, RowRules
from layoutdesk.core.layout.numbering import mark_code, segment_code, segment_letter
from layoutdesk.formats.stakes_geojson import write_stakes_geojson
from tests.formats.test_stakes_csv import HIGH, LOW, POND, expected_marks, stakes_of

RING = Block(
    "Ring",
    shapely.Polygon(
        shapely.box(200, 0, 280, 120).exterior.coords,
        [shapely.box(230, 40, 250, 60).exterior.coords],
    ),
)
KEYS = ["kind", "block", "row", "segment", "index", "code"]


def written(path, stakes, **more):
    count = write_stakes_geojson(path, stakes, **more)
    document = json.loads(path.read_text(encoding="utf-8"))
    assert count == len(document["features"])
    assert "crs" not in document
    return document


def of_kind(document, *kinds):
    return [f for f in document["features"] if f["properties"]["kind"] in kinds]


def test_every_mark_is_a_point_with_the_properties_of_its_place(tmp_path):
    stakes = stakes_of(LOW, HIGH, exclusions=[POND])
    document = written(tmp_path / "s.geojson", stakes)
    wanted = list(expected_marks(stakes))
    marks = of_kind(document, "end_post", "line_post", "anchor", "vine")
    assert [list(f["properties"]) for f in marks] == [KEYS] * len(wanted)
    assert [tuple(f["properties"].values()) for f in marks] == [
        (kind, block, row, segment_letter(i), index, mark_code(block, row, i, kind, index))
        for block, row, i, kind, index, _ in wanted
    ]
    placed = stakes.to_wgs84(np.array([w[-1] for w in wanted]))
    found = np.array([f["geometry"]["coordinates"] for f in marks])
    np.testing.assert_allclose(found, placed, rtol=0, atol=0.51e-9)
    assert {f["properties"]["segment"] for f in marks} == {"A", "B"}


def test_rows_run_from_the_start_end_post_to_the_far_one(tmp_path):
    stakes = stakes_of(LOW, HIGH, exclusions=[POND])
    rows = of_kind(written(tmp_path / "s.geojson", stakes), "row")
    plans = [(p, i) for p in stakes.plans for i in range(p.n_segments)]
    assert len(rows) == len(plans)
    for feature, (plan, i) in zip(rows, plans, strict=True):
        number, letter = int(plan.segments.number[i]), int(plan.segments.letter[i])
        name = plan.block.name
        code = segment_code(name, number, letter)
        assert feature["properties"] == dict(
            zip(KEYS, ("row", name, number, segment_letter(letter), None, code), strict=True)
        )
        assert feature["geometry"]["type"] == "LineString"
        np.testing.assert_allclose(
            feature["geometry"]["coordinates"],
            stakes.to_wgs84(plan.segment_ends_m[i]),
            rtol=0,
            atol=0.51e-9,
        )


def test_outlines_follow_the_right_hand_rule_and_keep_their_holes(tmp_path):
    stakes = stakes_of(dataclasses.replace(LOW, outline=shapely.reverse(LOW.outline)), RING)
    outlines = of_kind(written(tmp_path / "s.geojson", stakes), "outline")
    assert [f["properties"]["block"] for f in outlines] == ["Unten-Süd", "Ring"]
    for feature in outlines:
        name = feature["properties"]["block"]
        assert [feature["properties"][k] for k in KEYS[2:]] == [None, None, None, name]
        shell, *holes = map(shapely.LinearRing, feature["geometry"]["coordinates"])
        assert shell.is_ccw
        assert len(holes) == (name == "Ring")
        assert not any(hole.is_ccw for hole in holes)


def test_the_file_says_first_in_which_systems_it_stands(tmp_path):
    stakes = stakes_of(LOW)
    path = tmp_path / "s.geojson"
    about = written(path, stakes)["layoutdesk"]
    assert about["statement"] == stakes.statement
    assert about["wgs84_shift"] == "none needed"
    assert about["revision"] == "r7"
    assert about["survey_crs"] == "EPSG:32754"
    text = path.read_text(encoding="utf-8")
    assert text.index('"layoutdesk"') < text.index('"features"')


def test_a_validator_of_the_standard_finds_nothing(tmp_path):
    document = written(tmp_path / "s.geojson", stakes_of(LOW, HIGH, RING, exclusions=[POND]))
    assert validate_structure(document) == {}
    found = validate_geometries(document)
    assert found["invalid"] == {}
    # Nine decimals are the contract, and one of the outlines has a hole.
    assert found["problematic"].keys() == {"excessive_coordinate_precision", "holes"}
    assert len(found["problematic"]["holes"]) == 1


@pytest.mark.parametrize("degrees", [(-0.0003, 0.0004), (-9.9995, -9.9992), (99.9998, 0.0)])
def test_degrees_around_zero_and_a_change_of_digits_stay_valid_numbers(tmp_path, degrees):
    stakes = stakes_of(LOW, degrees=degrees)
    document = written(tmp_path / "s.geojson", stakes)
    found = np.array([f["geometry"]["coordinates"] for f in of_kind(document, "vine")])
    np.testing.assert_allclose(
        found, stakes.to_wgs84(stakes.plans[0].vines.xy_m), atol=0.51e-9, rtol=0
    )
    text = (tmp_path / "s.geojson").read_text(encoding="utf-8")
    vines = [line for line in text.split("\n") if '"vine"' in line]
    assert all(re.search(r"\[-?\d+\.\d{9},-?\d+\.\d{9}\]\}\},?$", line) for line in vines)


@pytest.mark.parametrize("name", ["Côte d'été 北", "back\\slash", "tab\tstop", "100 % {x}"])
def test_any_block_name_comes_back_as_it_was(tmp_path, name):
    document = written(tmp_path / "s.geojson", stakes_of(dataclasses.replace(LOW, name=name)))
    assert {f["properties"]["block"] for f in document["features"]} == {name}
    codes = {f["properties"]["code"] for f in document["features"]}
    assert {name, f"{name}-R003A", f"{name}-R003A-V001"} <= codes


@pytest.mark.parametrize("blocks", [(), (Block("Tiny", shapely.box(0, 0, 5, 5)),)])
def test_a_project_without_rows_is_still_a_collection(tmp_path, blocks):
    document = written(tmp_path / "s.geojson", stakes_of(*blocks))
    assert len(document["features"]) == len(blocks)


def test_outline_and_rows_are_parted_at_the_antimeridian(tmp_path):
    block = Block("Date", shapely.box(-50, -40, 50, 40), RowRules(bearing_deg=90))
    stakes = stakes_of(block)

    def to_wgs84(xy):
        degrees = xy / [91_000.0, 111_000.0] + np.array([180.0, -16.0])
        degrees[degrees[:, 0] > 180, 0] -= 360
        return degrees

    document = written(tmp_path / "s.geojson", dataclasses.replace(stakes, to_wgs84=to_wgs84))
    outline = shapely.geometry.shape(of_kind(document, "outline")[0]["geometry"])
    assert outline.geom_type == "MultiPolygon"
    assert outline.area * 91_000 * 111_000 == pytest.approx(block.outline.area, rel=1e-5)
    rows = [shapely.geometry.shape(f["geometry"]) for f in of_kind(document, "row")]
    assert len(rows) == stakes.plans[0].n_segments
    lengths_m = [row.length * 91_000 for row in rows]
    assert lengths_m == pytest.approx(stakes.plans[0].segments.length_m.tolist(), abs=1e-3)
    codes = [f["properties"]["code"] for f in of_kind(document, "row")]
    assert codes[:2] == ["Date-R001A", "Date-R002A"]
    assert validate_structure(document) == {}


def test_progress_rises_to_one_and_may_cancel(tmp_path):
    shares = []
    written(tmp_path / "s.geojson", stakes_of(LOW, HIGH), progress=shares.append)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0

    def stop(share):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_stakes_geojson(tmp_path / "s.geojson", stakes_of(LOW), progress=stop)


def test_a_site_with_no_place_on_wgs84_is_refused_in_a_sentence(tmp_path):
    stakes = dataclasses.replace(stakes_of(LOW), to_wgs84=lambda xy: xy * np.nan)
    with pytest.raises(InputProblem, match="no place on WGS 84"):
        write_stakes_geojson(tmp_path / "s.geojson", stakes)
