"""A project keeps its trellises, what is ordered, and its water, and older projects get on without."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import (
    Block,
    Climate,
    Conditions,
    Demand,
    Drip,
    FoliageWire,
    Materials,
    Product,
    Project,
    SaleUnit,
    SettledTakeOff,
    Site,
    SiteFrame,
    Source,
    Supply,
    Trellis,
    Water,
    Wire,
)
from layoutdesk.formats.document import VERSION, document_of, project_from
from layoutdesk.formats.project_file import open_project, revision_of, save_project
from layoutdesk.session.opening import at_height

TRELLIS = Trellis(
    ends="slanted brace",
    end_angle_deg=80.0,
    foliage_wires=(FoliageWire(1.15), FoliageWire(1.6, paired=False)),
    drip_wire_height_m=None,
    fruiting_wire=Wire(3.15, 1300.0, 1500.0),
    spares_pct={"shelters": 4.0, "end_posts": 1.0},
)
MATERIALS = Materials(
    (("B1", TRELLIS),),
    (
        Supply(
            Product("line_posts", (2.4,)),
            "Post, locust, 2.4 m",
            "posts and anchors",
            SaleUnit("bundle", 40, 212.5, 380.0, 4, True),
        ),
        Supply(Product("shelters"), "Shelter", "stakes and shelters"),
    ),
    "CHF",
    Conditions(25.0, 20.0, 4.5),
    SettledTakeOff(datetime.date(2026, 11, 2), (("B1", (("line_posts", 230.0),)), ("", ()))),
)
WATER = Water(
    (
        ("B1", Drip(4.0, exponent=0.5, inline_m=0.6, fed="line", line_m=((0, 5), (90, 7.25)))),
        ("B2", Drip(sets=3, law="hazen-williams")),
    ),
    Source((12.5, -3.0), 431.2, ((0, 62), (18.5, 44.0), (25, 30)), 5.0, 1.2, 8.0, False),
    ((40.0, 35.2), (63.0, 55.4)),
    Climate((0.5,) * 12, (60.0,) * 12, "a station, 1995 to 2024"),
    Demand(soil="clay", planting=datetime.date(2027, 4, 20), shaded_pct=(4, 12), days_a_week=3),
)


def project() -> Project:
    site = Site(SiteFrame(47.1, 8.2), "EPSG:25832", "EPSG:25832")
    blocks = (
        Block("B1", shapely.box(0, 0, 90, 120)),
        Block("B2", shapely.box(100, 0, 190, 120)),
    )
    return Project("Two ways", site, blocks, materials=MATERIALS, water=WATER)


def test_materials_and_water_read_back_as_they_were(tmp_path):
    saved = project()
    save_project(tmp_path / "p.gpkg", saved)
    again = open_project(tmp_path / "p.gpkg")
    assert again == saved
    assert revision_of(again) == revision_of(saved)


@pytest.mark.parametrize("without", ["materials", "water"])
def test_nothing_said_stays_apart_from_the_usual(tmp_path, without):
    usual = {"materials": Materials(), "water": Water()}[without]
    for number, value in enumerate((None, usual)):
        saved = replace(project(), **{without: value})
        save_project(tmp_path / f"{number}.gpkg", saved)
        assert getattr(open_project(tmp_path / f"{number}.gpkg"), without) == value


def test_a_project_of_the_third_version_opens_with_neither():
    said = json.loads(json.dumps(document_of(project())))
    del said["materials"], said["water"]
    outlines = [b.outline for b in project().blocks]
    old = project_from(said | {"version": 3}, outlines, [])
    assert (old.materials, old.water, VERSION) == (None, None, 6)


def test_places_of_the_water_move_with_the_frame():
    low, high = project(), at_height(project(), 640.0)
    stretch = 1 + 640 / 6_371_000  # the frame's scale with height, mean earth radius
    x, y = high.water.source.place_m
    assert (x, y) == pytest.approx((12.5 * stretch, -3.0 * stretch), abs=2e-4)
    assert (x, y) != low.water.source.place_m
    assert high.water.drip_of("B1").line_m[1][0] == pytest.approx(90 * stretch, abs=2e-4)
    assert high.water.source.level_m == 431.2
