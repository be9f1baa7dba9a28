"""The hand-off as a GeoPackage: what the standard asks for, what each column says, and its seal."""

from __future__ import annotations

import sqlite3
from contextlib import closing

import numpy as np
import pyogrio
import pytest
import shapely

from layoutdesk.core.model.handoff import Calibration, PointChoice, PointTable
from layoutdesk.formats.points_gpkg import gpkg_seal, write_points_gpkg
from tests.formats.handed_off import (
    EXCLUSIONS,
    HOLED,
    NAMES,
    codes_of,
    control_beside,
    described,
    ground_m,
    handed_off,
    sealed,
)
from tests.staked_project import FEET, FRAME, Staked, project


@pytest.fixture(scope="module")
def hand():
    return handed_off(control=(control_beside(handed_off(), 100, 70),))


@pytest.fixture(scope="module")
def path(hand, tmp_path_factory):
    path = tmp_path_factory.mktemp("gpkg") / "plan.gpkg"
    assert write_points_gpkg(path, hand, sealed(hand)) == len(hand.points)
    return path


def asked(path, query):
    with closing(sqlite3.connect(path)) as db:
        return db.execute(query).fetchall()


def test_every_column_of_a_point_is_what_the_plan_says(hand, path):
    rows = asked(
        path,
        "SELECT number, code, description, kind, block, row, segment, idx FROM points ORDER BY fid",
    )
    points, owners = hand.points.all(), hand.points.owners
    assert [r[0] for r in rows] == points.number.tolist()
    assert [r[1] for r in rows] == codes_of(hand)
    assert [r[2] for r in rows] == described(hand)
    of = points.owner.tolist()
    assert [r[4] for r in rows] == [owners.block[i] or None for i in of]
    assert [r[5] for r in rows] == [int(owners.row[i]) or None for i in of]
    assert [r[6] for r in rows] == [owners.letter[i] or None for i in of]
    assert [r[7] for r in rows] == [i or None for i in points.index.tolist()]
    assert {r[3] for r in rows} >= {"vine", "end_post", "outline_corner", "control"}
    assert rows[-1][1:4] == ("CP-7", f'control "" / #{rows[-1][0]}', "control")


def test_elevations_are_doubles_or_null(hand, path):
    found = [r[0] for r in asked(path, "SELECT elevation FROM points ORDER BY fid")]
    expected = ground_m(hand.points.all().xy_m)
    assert [v is None for v in found] == np.isnan(expected).tolist()
    assert {type(v) for v in found} == {float, type(None)}
    assert np.allclose(np.array(found, float), expected, atol=5.1e-5, equal_nan=True)
    assert min(v for v in found if v is not None) < 0


def test_the_file_is_what_the_standard_asks_for(hand, path):
    assert asked(path, "PRAGMA application_id")[0][0] == 0x47504B47
    assert asked(path, "PRAGMA integrity_check") == [("ok",)]
    assert asked(path, "PRAGMA foreign_key_check") == []
    systems = {
        r[0]: r for r in asked(path, "SELECT srs_id, organization FROM gpkg_spatial_ref_sys")
    }
    assert {-1, 0, 4326, 32633} <= systems.keys()
    contents = asked(
        path, "SELECT table_name, data_type, srs_id, min_x, max_x, description FROM gpkg_contents"
    )
    tables = {r[0] for r in asked(path, "SELECT name FROM sqlite_master WHERE type = 'table'")}
    layers = {r[0] for r in contents if r[1] == "features"}
    assert layers == {"points", "rows", "outlines", "exclusions"}
    assert {r[0] for r in contents} <= tables
    assert {r[0] for r in asked(path, "SELECT table_name FROM gpkg_geometry_columns")} == layers
    for table, kind, srs_id, low, high, words in contents:
        if kind == "features":
            assert srs_id == 32633
            assert hand.statement in words
            assert "above Old Pier 1911" in words
            blobs = asked(path, f'SELECT geom FROM "{table}"')
            x = [shapely.from_wkb(b[8 if b[3] == 1 else 40 :]).bounds for (b,) in blobs]
            assert (low, high) == (min(b[0] for b in x), max(b[2] for b in x))


def test_outlines_keep_their_holes_and_exclusions_their_kinds(hand, path):
    outlines = pyogrio.read_dataframe(path, layer="outlines")
    assert outlines["code"].tolist() == list(NAMES)
    assert [len(g.interiors) for g in outlines.geometry] == [0, 1]
    back = shapely.transform(outlines.geometry[1], hand.placing.back)
    assert back.symmetric_difference(HOLED).area < 1e-3
    exclusions = pyogrio.read_dataframe(path, layer="exclusions")
    assert dict(zip(exclusions["code"], exclusions.geom_type, strict=True)) == {
        e.name: e.shape.geom_type for e in EXCLUSIONS
    }


@pytest.mark.parametrize("coordinates", ["ground", "calibrated"])
def test_what_is_not_on_the_grid_stands_in_the_undefined_system(coordinates, tmp_path):
    known = control_beside(handed_off(), 0, 0)
    measured = {"measured_easting": known.easting + 0.4, "measured_northing": known.northing - 0.3}
    control = (type(known)(known.name, known.easting, known.northing, **measured),)
    hand = handed_off(coordinates=coordinates, control=control, calibration=Calibration("shift"))
    assert hand.placing.coordinates == coordinates
    path = tmp_path / "plan.gpkg"
    write_points_gpkg(path, hand, sealed(hand))
    told = asked(path, "SELECT srs_id, description FROM gpkg_contents WHERE data_type = 'features'")
    assert {srs_id for srs_id, _ in told} == {-1}
    assert all(coordinates in words for _, words in told)
    read = pyogrio.read_dataframe(path, layer="points").geometry.get_coordinates().to_numpy()
    assert np.abs(read - hand.placing.placed(hand.points.all().xy_m)).max() < 1e-9


def test_another_unit_is_not_written_into_a_grid_and_the_file_and_its_seal_say_so(tmp_path):
    frame = type(FRAME)(46.6, -120.5, 90.0)
    asked_for = project(FEET, frame, table=PointTable(unit="foot"))
    hand = Staked(asked_for).hand
    path = tmp_path / "plan.gpkg"
    write_points_gpkg(path, hand, sealed(hand))
    read = pyogrio.read_dataframe(path, layer="points").geometry.get_coordinates().to_numpy()
    assert np.abs(read - hand.placing.to_grid(hand.points.all().xy_m)).max() < 1e-6
    assert gpkg_seal(path).seal.unit == "US survey foot"
    (words,) = asked(path, "SELECT description FROM gpkg_contents WHERE table_name = 'rows'")[0]
    assert "the unit is the grid's own, US survey foot" in words


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE points SET number = 999999 WHERE fid = 3",
        "UPDATE points SET elevation = 12.0 WHERE fid = 3",
        "UPDATE points SET geom = (SELECT geom FROM points WHERE fid = 4) WHERE fid = 3",
        "DELETE FROM points WHERE fid = 3",
        "UPDATE rows SET geom = (SELECT geom FROM rows WHERE fid = 2) WHERE fid = 1",
        "UPDATE outlines SET code = 'B3' WHERE fid = 2",
        "DROP TABLE exclusions",
    ],
)
def test_the_seal_shows_any_change_of_the_plan(path, change, tmp_path):
    other = tmp_path / "changed.gpkg"
    other.write_bytes(path.read_bytes())
    assert gpkg_seal(other).is_whole is True
    with closing(sqlite3.connect(other)) as db, db:
        db.execute(change)
    assert gpkg_seal(other).is_whole is False


def test_the_seal_stays_whole_when_the_file_is_merely_worked_with(path, tmp_path):
    other = tmp_path / "used.gpkg"
    other.write_bytes(path.read_bytes())
    with closing(sqlite3.connect(other)) as db:
        db.execute("CREATE INDEX by_code ON points (code)")
        db.commit()
        db.execute("VACUUM")
    assert gpkg_seal(other).is_whole is True
    assert gpkg_seal(tmp_path / "none.gpkg") is None


def test_without_heights_or_points_it_is_still_whole(tmp_path):
    for points in (PointChoice(), PointChoice(kinds=("control",))):
        hand = handed_off(heights=False, points=points)
        path = tmp_path / f"{len(hand.points)}.gpkg"
        assert write_points_gpkg(path, hand, sealed(hand)) == len(hand.points)
        info = pyogrio.read_info(path, layer="points")
        assert info["features"] == len(hand.points)
        assert "elevation" not in info["fields"].tolist()
        assert gpkg_seal(path).is_whole
