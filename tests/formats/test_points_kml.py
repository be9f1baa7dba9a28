"""The hand-off as KML: folders by block and kind whatever the order, every name, and its seal."""

from __future__ import annotations

from pathlib import Path

import fastkml
import numpy as np
import pytest
from lxml import etree

from layoutdesk.core.model.handoff import POINT_KINDS, PointChoice
from layoutdesk.formats.point_limits import limit_findings
from layoutdesk.formats.points_kml import write_points_kml
from layoutdesk.formats.seal import read_seal
from tests.formats.handed_off import (
    NAMES,
    codes_of,
    control_beside,
    described,
    handed_off,
    sealed,
)

SPACE = {"k": "http://www.opengis.net/kml/2.2"}


def written(folder, hand):
    path = folder / "plan.kml"
    assert write_points_kml(path, hand, sealed(hand, wgs84=True)) == len(hand.points)
    assert [p.name for p in folder.iterdir()] == ["plan.kml"]  # nothing is left beside it
    return path


@pytest.mark.parametrize("order", ["by kind", "row by row", "serpentine"])
def test_points_stand_in_folders_by_block_and_kind_in_their_order(order, tmp_path):
    hand = handed_off(order=order, control=(control_beside(handed_off(), 100, 70),))
    root = etree.parse(written(tmp_path, hand)).getroot()
    schema = Path(fastkml.__file__).parent / "schema" / "ogckml22.xsd"
    etree.XMLSchema(etree.parse(schema)).assertValid(root)
    top = root.findall("k:Document/k:Folder", SPACE)
    names = [f.findtext("k:name", namespaces=SPACE) for f in top]
    corners = ["Exclusions", "Outline corners", "Exclusion corners", "Control points"]
    assert names == [*NAMES, *corners]
    inside = [f.findtext("k:name", namespaces=SPACE) for f in top[0].findall("k:Folder", SPACE)]
    assert inside == ["Outline", "Rows", "End posts", "Line posts", "Anchors", "Vines"]
    points = hand.points.all()
    codes, texts = codes_of(hand), described(hand)
    degrees = hand.to_wgs84(points.xy_m)
    for kind, title in (("end_post", "End posts"), ("vine", "Vines")):
        for folder, name in zip(top, NAMES, strict=False):
            path = f"k:Folder[k:name='{title}']/k:Placemark"
            marks = folder.findall(path, SPACE)
            own = [
                i
                for i in np.flatnonzero(points.kind == POINT_KINDS.index(kind)).tolist()
                if hand.points.owners.block[points.owner[i]] == name
            ]
            assert [m.findtext("k:name", namespaces=SPACE) for m in marks] == [
                codes[i] for i in own
            ]
            assert [m.findtext("k:description", namespaces=SPACE) for m in marks] == [
                f"{points.number[i]}: {texts[i]}" for i in own
            ]
            found = [
                [float(v) for v in m.findtext(".//k:coordinates", namespaces=SPACE).split(",")]
                for m in marks
            ]
            assert np.abs(np.array(found) - degrees[own]).max() < 0.51e-9


def test_rings_are_closed_and_a_place_alone_is_a_point(tmp_path):
    hand = handed_off()
    root = etree.parse(written(tmp_path, hand)).getroot()
    rings = root.findall(".//k:Folder[k:name='Outline']/k:Placemark", SPACE)
    assert [r.findtext("k:name", namespaces=SPACE) for r in rings] == [*NAMES, f"{NAMES[1]} 2"]
    for ring in rings:
        places = ring.findtext(".//k:coordinates", namespaces=SPACE).split()
        assert places[0] == places[-1]
    well = root.find(".//k:Placemark[k:name='Well']", SPACE)
    assert well.find("k:Point", SPACE) is not None
    assert root.find(".//k:altitudeMode", SPACE) is None
    assert all(c.text.count(",") == c.text.count(" ") + 1 for c in root.iterfind(".//k:coordinates", SPACE))  # fmt: skip


def test_the_file_says_which_datum_shift_it_rests_on_and_is_sealed(tmp_path):
    hand = handed_off()
    path = written(tmp_path, hand)
    about = etree.parse(path).getroot().findtext("k:Document/k:description", namespaces=SPACE)
    assert hand.wgs84_shift in about
    assert hand.statement in about
    found = read_seal(path)
    assert found.is_whole
    assert found.seal.coordinates == "wgs84"
    path.write_bytes(path.read_bytes().replace(b"-V002", b"-V003", 1))
    assert read_seal(path).is_whole is False


def test_that_a_phone_may_struggle_with_many_points_is_said(monkeypatch):
    hand = handed_off(heights=False)
    assert not limit_findings(hand, ("kml", "kmz"))
    monkeypatch.setattr("layoutdesk.formats.point_limits.PHONE_POINTS", len(hand.points) - 1)
    (told,) = limit_findings(hand, ("kmz",))
    assert f"{len(hand.points):,} points" in told.message
    assert "nothing is left out" in told.message


def test_a_hand_off_of_no_points_still_shows_blocks_and_rows(tmp_path):
    hand = handed_off(points=PointChoice(kinds=("control",)))
    root = etree.parse(written(tmp_path, hand)).getroot()
    rows = root.findall(".//k:Folder[k:name='Rows']/k:Placemark", SPACE)
    assert len(rows) == int((hand.lines.kind == 0).sum())
