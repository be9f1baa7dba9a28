"""The hand-off as LandXML: what each unit and each kind of coordinates may say, and shapes."""

from __future__ import annotations

import numpy as np
import pytest
from lxml import etree

from layoutdesk.core.model.handoff import PointTable
from layoutdesk.formats.points_landxml import write_points_landxml
from tests.formats.handed_off import NAMES, described, ground_m, handed_off, sealed

SPACE = {"x": "http://www.landxml.org/schema/LandXML-1.2"}


def written(folder, hand):
    path = folder / "plan.xml"
    assert write_points_landxml(path, hand, sealed(hand)) == len(hand.points)
    return etree.parse(path).getroot()


def test_ground_coordinates_carry_no_code_of_a_system_but_say_what_they_are(tmp_path):
    hand = handed_off(coordinates="ground")
    system = written(tmp_path, hand).find("x:CoordinateSystem", SPACE)
    assert system.get("epsgCode") is None
    assert "ground coordinates" in system.get("desc")
    assert system.get("verticalDatum") == "Old Pier 1911"
    assert written(tmp_path, handed_off()).find("x:CoordinateSystem", SPACE).get("epsgCode") == "32633"  # fmt: skip


@pytest.mark.parametrize(
    ("unit", "family", "word", "length_m"),
    [
        ("", "Metric", "meter", 1.0),
        ("foot", "Imperial", "foot", 0.3048),
        ("US survey foot", "Imperial", "USSurveyFoot", 1200 / 3937),
    ],
)
def test_coordinates_and_heights_are_in_the_unit_that_is_named(
    unit, family, word, length_m, tmp_path
):
    hand = handed_off(table=PointTable(unit=unit))
    root = written(tmp_path, hand)
    (units,) = root.find("x:Units", SPACE)
    assert etree.QName(units).localname == family
    assert units.get("linearUnit") == word
    points = hand.points.all()
    values = [[float(v) for v in p.text.split()] for p in root.iterfind(".//x:CgPoint", SPACE)]
    on_grid = hand.placing.to_grid(points.xy_m) / length_m
    assert np.abs(np.array([v[1::-1] for v in values]) - on_grid).max() < 1e-4
    heights = ground_m(points.xy_m) / length_m
    told = [v[2] if len(v) == 3 else np.nan for v in values]
    assert np.allclose(told, heights, atol=1e-4, equal_nan=True)


def test_texts_stand_unchanged_and_outlines_are_closed(tmp_path):
    hand = handed_off()
    root = written(tmp_path, hand)
    points = root.findall("x:CgPoints/x:CgPoint", SPACE)
    assert [p.get("desc") for p in points] == described(hand)
    assert [int(p.get("name")) for p in points] == hand.points.all().number.tolist()
    outlines = root.findall("x:PlanFeatures[@name='outlines']/x:PlanFeature", SPACE)
    assert [o.get("name") for o in outlines] == [*NAMES, f"{NAMES[1]} 2"]
    for outline in outlines:
        geometry = outline.find("x:CoordGeom/x:IrregularLine", SPACE)
        assert [etree.QName(e).localname for e in geometry] == ["Start", "End", "PntList2D"]
        start, end, places = (e.text.split() for e in geometry)
        assert start == end == places[:2] == places[-2:]
    kept = root.findall("x:PlanFeatures[@name='exclusions']/x:PlanFeature", SPACE)
    assert [k.get("name") for k in kept] == ["Ditch", "Pond"]  # a place alone is a point
