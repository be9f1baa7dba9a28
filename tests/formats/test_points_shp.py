"""The hand-off as Shapefiles: bytes by the printed layout, texts, shapes, and what the format cannot hold."""

from __future__ import annotations

import dataclasses
import struct
import zipfile

import numpy as np
import pyogrio
import pytest
import shapely

from layoutdesk.core.model import InputProblem
from layoutdesk.core.model.handoff import PointChoice
from layoutdesk.formats import shapefile
from layoutdesk.formats.point_limits import limit_findings
from layoutdesk.formats.points_shp import most_points, write_points_shp
from layoutdesk.formats.seal import read_seal
from tests.formats.handed_off import (
    HOLED,
    NAMES,
    TABLE,
    codes_of,
    control_beside,
    described,
    ground_m,
    handed_off,
    sealed,
)


@pytest.fixture(scope="module")
def hand():
    return handed_off(order="serpentine", control=(control_beside(handed_off(), 100, 70),))


@pytest.fixture(scope="module")
def path(hand, tmp_path_factory):
    path = tmp_path_factory.mktemp("shp") / "shapefiles.zip"
    assert write_points_shp(path, hand, sealed(hand)) == len(hand.points)
    return path


def layer(path, name, **more):
    return pyogrio.read_dataframe(f"/vsizip/{path}/{name}.shp", **more)


def member(path, name):
    with zipfile.ZipFile(path) as archive:
        return archive.read(name)


def test_every_column_of_a_point_is_what_the_plan_says(hand, path):
    read = layer(path, "points")
    points, owners = hand.points.all(), hand.points.owners
    assert read.columns.tolist() == [
        *("number", "code", "descr", "kind", "block", "row", "segment", "idx", "elevation"),
        "geometry",
    ]
    assert read["number"].tolist() == points.number.tolist()
    assert read["code"].tolist() == codes_of(hand)
    assert read["descr"].tolist() == described(hand)
    assert read["block"].fillna("").tolist() == [owners.block[i] for i in points.owner]
    assert read["row"].tolist() == owners.row[points.owner].tolist()
    assert read["segment"].fillna("").tolist() == [owners.letter[i] for i in points.owner]
    assert read["idx"].tolist() == points.index.tolist()
    expected = ground_m(points.xy_m)
    assert np.allclose(read["elevation"].to_numpy(float), expected, atol=5.1e-5, equal_nan=True)
    assert np.isnan(expected).any()
    assert expected[~np.isnan(expected)].min() < 0
    found = read.geometry.get_coordinates().to_numpy()
    assert np.array_equal(found, hand.placing.placed(points.xy_m))
    assert read.crs.to_epsg() == 32633


def test_the_index_leads_to_the_same_points(hand, path):
    """GDAL finds records by the index where it is asked for some in the middle."""
    n = len(hand.points)
    read = layer(path, "points", skip_features=n - 5, max_features=3)
    assert read["code"].tolist() == codes_of(hand)[n - 5 : n - 2]
    rows = layer(path, "rows", skip_features=4, max_features=2)
    assert rows["code"].tolist() == list(hand.lines.code[4:6])


def test_heads_are_as_the_technical_description_prints_them(hand, path):
    """ESRI Shapefile Technical Description, 1998, tables 1, 2 and page 23."""
    shp, shx, dbf = (member(path, f"points.{end}") for end in ("shp", "shx", "dbf"))
    n = len(hand.points)
    for content, length in ((shp, 100 + 28 * n), (shx, 100 + 8 * n)):
        code, *_, words = struct.unpack(">7i", content[:28])
        version, kind, *bounds = struct.unpack("<2i8d", content[28:100])
        assert (code, 2 * words, version, kind) == (9994, len(content), 1000, 1)
        assert len(content) == length
        xy = hand.placing.placed(hand.points.all().xy_m)
        assert bounds == [*xy.min(axis=0), *xy.max(axis=0), 0, 0, 0, 0]
    assert struct.unpack(">2i", shp[100:108]) == (1, 10)
    assert struct.unpack(">2i", shx[108:116]) == ((100 + 28) // 2, 10)
    version, year, month, day, records, head, row = struct.unpack("<4BIHH", dbf[:12])
    assert (version, 1900 + year, month, day) == (3, *hand.day.timetuple()[:3])
    assert (records, len(dbf)) == (n, head + n * row + 1)
    assert dbf[head - 1] == 0x0D
    assert dbf[-1] == 0x1A


def test_outlines_keep_their_holes_the_printed_way_round(hand, path):
    read = layer(path, "outlines")
    assert read["code"].tolist() == list(NAMES)
    back = shapely.transform(read.geometry[1], hand.placing.back)
    assert len(back.interiors) == 1
    assert back.symmetric_difference(HOLED).area < 1e-3
    raw = member(path, "outlines.shp")
    at = 100 + 8 + 2 * struct.unpack(">i", raw[104:108])[0] + 8
    kind, *_, n_parts, n_points = struct.unpack("<i4d2i", raw[at : at + 44])
    first = struct.unpack(f"<{n_parts}i", raw[at + 44 : at + 44 + 4 * n_parts])
    xy = np.frombuffer(raw[at + 44 + 4 * n_parts :], "<f8", 2 * n_points).reshape(-1, 2)
    assert (kind, first) == (5, (0, 5))
    assert not shapely.LinearRing(xy[:5]).is_ccw
    assert shapely.LinearRing(xy[5:]).is_ccw


def test_exclusions_have_a_file_for_each_kind_of_shape(path):
    for name, kind, code in (
        ("exclusions", "Polygon", "Pond"),
        ("exclusions-points", "Point", "Well"),
        ("exclusions-lines", "LineString", "Ditch"),
    ):
        read = layer(path, name)
        assert read.geom_type.tolist() == [kind]
        assert read["code"].tolist() == [code]
        assert member(path, f"{name}.cpg") == b"UTF-8"


def test_ground_coordinates_come_without_a_system_and_the_seal_says_which(tmp_path):
    hand = handed_off(coordinates="ground")
    path = tmp_path / "ground.zip"
    write_points_shp(path, hand, sealed(hand))
    with zipfile.ZipFile(path) as archive:
        assert not [n for n in archive.namelist() if n.endswith(".prj")]
        assert hand.statement in archive.read("seal.txt").decode()
    found = read_seal(path)
    assert found.is_whole
    assert found.seal.coordinates == "ground"
    assert np.allclose(found.seal.matrix, hand.placing.matrix.ravel(), rtol=0, atol=0)


def test_long_texts_are_cut_between_characters_and_that_is_said(tmp_path):
    table = dataclasses.replace(TABLE, description="北" * 90 + "{code}")
    hand = handed_off(table=table, heights=False)
    path = tmp_path / "long.zip"
    write_points_shp(path, hand, sealed(hand))
    assert set(layer(path, "points")["descr"]) == {"北" * 84}  # 3 bytes each, 254 there are
    told = [f.message for f in limit_findings(hand, ("shp",))]
    assert any("longer than 254 bytes are cut" in t for t in told)
    short = [f.message for f in limit_findings(handed_off(), ("shp",))]
    assert not any("are cut" in t for t in short)


def test_more_points_than_two_gigabytes_hold_are_refused_before_anything_is_written(
    hand, tmp_path, monkeypatch
):
    monkeypatch.setattr(shapefile, "MOST_BYTES", 100_000)
    assert 0 < most_points(hand) < len(hand.points)
    path = tmp_path / "large.zip"
    with pytest.raises(InputProblem, match="more than the 2 GB"):
        write_points_shp(path, hand, sealed(hand))
    assert not path.exists()
    told = limit_findings(hand, ("shp",))
    assert any(f.severity == "wrong" and "cannot be written" in f.message for f in told)


def test_without_points_the_files_are_still_read(tmp_path):
    hand = handed_off(heights=False, points=PointChoice(kinds=("control",)))
    path = tmp_path / "none.zip"
    assert write_points_shp(path, hand, sealed(hand)) == 0
    assert len(layer(path, "points")) == 0
    assert len(layer(path, "rows")) == int((hand.lines.kind == 0).sum())
