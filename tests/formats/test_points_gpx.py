"""The hand-off as GPX: order of elements by the schema, texts, and what elevations count from."""

from __future__ import annotations

import numpy as np
from lxml import etree

from layoutdesk.formats.points_gpx import write_points_gpx
from layoutdesk.formats.seal import read_seal
from tests.formats.handed_off import codes_of, described, handed_off, sealed

SPACE = {"g": "http://www.topografix.com/GPX/1/1"}
IN_A_POINT = ["ele", "name", "cmt", "desc", "type"]
"""Order of these elements in the wptType of the GPX 1.1 schema (Topografix 2004; from memory)."""


def written(folder, hand):
    path = folder / "points.gpx"
    assert write_points_gpx(path, hand, sealed(hand, wgs84=True)) == len(hand.points)
    return path


def test_waypoints_have_code_number_description_and_metres(tmp_path):
    hand = handed_off(order="serpentine")
    path = written(tmp_path, hand)
    root = etree.parse(path).getroot()
    assert [etree.QName(e).localname for e in root][:2] == ["metadata", "wpt"]
    points = root.findall("g:wpt", SPACE)
    for point in points:
        found = [etree.QName(e).localname for e in point]
        assert found in (IN_A_POINT, IN_A_POINT[1:])

    def texts(name):
        return [p.findtext(f"g:{name}", namespaces=SPACE) for p in points]

    chosen = hand.points.all()
    assert texts("name") == codes_of(hand)
    assert texts("desc") == described(hand)
    assert texts("cmt") == [str(n) for n in chosen.number.tolist()]
    heights = np.array([float(t) if t else np.nan for t in texts("ele")])
    assert np.allclose(heights, hand.heights(chosen.xy_m), atol=5.1e-4, equal_nan=True)
    places = np.array([[float(p.get("lon")), float(p.get("lat"))] for p in points])
    assert np.abs(places - hand.to_wgs84(chosen.xy_m)).max() < 0.51e-9
    assert read_seal(path).is_whole


def test_elevations_are_told_to_count_from_the_datum_of_the_survey_or_not_told_at_all(tmp_path):
    for hand, told in ((handed_off(), True), (handed_off(heights=False), False)):
        root = etree.parse(written(tmp_path, hand)).getroot()
        about = root.findtext("g:metadata/g:desc", namespaces=SPACE)
        assert hand.wgs84_shift in about
        assert ("metres above Old Pier 1911" in about) is told
        assert (root.find(".//g:ele", SPACE) is not None) is told


def test_rows_are_routes_between_their_end_posts(tmp_path):
    hand = handed_off()
    root = etree.parse(written(tmp_path, hand)).getroot()
    routes = root.findall("g:rte", SPACE)
    n = int((hand.lines.kind == 0).sum())
    assert [r.findtext("g:name", namespaces=SPACE) for r in routes] == list(hand.lines.code[:n])
    ends = [
        [[float(p.get("lon")), float(p.get("lat"))] for p in r.findall("g:rtept", SPACE)]
        for r in routes
    ]
    expected = hand.to_wgs84(hand.lines.xy_m[: 2 * n]).reshape(n, 2, 2)
    assert np.abs(np.array(ends) - expected).max() < 0.51e-9
