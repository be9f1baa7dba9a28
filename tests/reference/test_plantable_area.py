"""The plantable area against an offset engine that shares no code with GEOS."""

from __future__ import annotations

import pyclipper
import pytest
import shapely

from layoutdesk import Block, Exclusion, RowRules
from layoutdesk.core.layout.clearances import plantable_area
from tests.core.slow_rows import Ground
from tests.zoo import ZOO, turned

SCALE = 1e6
"""Clipper counts in whole micrometres."""

NAMES = ["hole", "comb", "L", "U", "T", "star", "annulus", "needle", "notch on a row", "spiral"]


def offset_by_clipper(polygon: shapely.Polygon, width_m: float) -> float:
    """Area of the polygon less a strip of one width along all its edges. [m²]"""
    engine = pyclipper.PyclipperOffset(2.0, 1e-5 * SCALE)
    for i, ring in enumerate([polygon.exterior, *polygon.interiors]):
        path = [(round(x * SCALE), round(y * SCALE)) for x, y in ring.coords[:-1]]
        if pyclipper.Orientation(path) != (i == 0):  # shells turn left, holes right
            path.reverse()
        engine.AddPath(path, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    return sum(pyclipper.Area(p) for p in engine.Execute(-width_m * SCALE)) / SCALE**2


@pytest.mark.parametrize("name", NAMES)
def test_area_with_one_width_all_round(name):
    polygon = turned(ZOO[name], 17.0)
    rules = RowRules(bearing_deg=17.0, headland_m=3.0, side_margin_m=3.0)
    area = plantable_area(Block("B1", polygon), rules, quad_segs=256)
    # Chords of 256 a quarter turn at 3 m leave out 4e-4 m² of a full circle.
    assert area.area == pytest.approx(offset_by_clipper(polygon, 3.0), abs=2e-2)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("turn", range(0, 90, 15))
def test_area_reaches_no_corner_a_headland_took(name, turn):
    """A sliver left along an edge has no area but stretches what is drawn and zoomed to."""
    polygon = turned(ZOO[name], turn)
    rules = RowRules(bearing_deg=turn, headland_m=8, side_margin_m=0)
    area = plantable_area(Block("B1", polygon), rules)
    assert area.is_empty or area.geom_type in ("Polygon", "MultiPolygon")
    ground = Ground(Block("B1", polygon), rules, ())
    # Chords of 48 a quarter turn at 8 m lie up to 1 mm inside, more where they graze an edge.
    assert ground.turn.shape(area).bounds == pytest.approx(ground.area(48).bounds, abs=1e-2)


def test_an_exclusion_is_taken_out_with_its_clearance():
    block = Block("B1", shapely.box(0, 0, 60, 150))
    rules = RowRules(headland_m=0, side_margin_m=0)
    well = Exclusion(shapely.Point(30, 75), 5.0)
    apart = Exclusion(shapely.Point(-30, 75), 5.0)
    area = plantable_area(block, rules, (well, apart), quad_segs=512)
    assert 9000 - area.area == pytest.approx(78.5398, abs=1e-3)
