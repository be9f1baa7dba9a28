"""A project keeps its heights and its study, and older projects get on without."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import (
    Block,
    Candidate,
    Canopy,
    Prices,
    Project,
    Season,
    Site,
    SiteFrame,
    Study,
    Terrain,
)
from layoutdesk.formats.crs import crs_text, make_frame
from layoutdesk.formats.document import VERSION, document_of, project_from
from layoutdesk.formats.project_file import open_project, revision_of, save_project
from layoutdesk.session.opening import at_height

STUDY = Study(
    candidates=(
        Candidate(),
        Candidate(bearing_deg=96.1234567, first_row_m="best", name="along the ridge"),
        Candidate(45, 2.2, 1.2, 9.0, 2.5, 0.3, note="less to mow\nbut steeper"),
    ),
    base=1,
    blocks=("B1",),
    chosen=("vines", "turns"),
    short_row_m=60.0,
    canopy=Canopy(1.8, 0.6, 0.35),
    season=Season(5, 9, 12.5, 16.0),
    prices=Prices(31.5, None, "EUR"),
    wind_from_deg=310.0,
)


def project() -> Project:
    from pyproj import CRS

    crs = CRS("EPSG:32754")
    frame = make_frame(crs, [288800.0], [6180000.0], 0.0)
    site = Site(frame, crs_text(crs), "EPSG:32754", "x.csv")
    assert isinstance(frame, SiteFrame)
    return Project(
        "Two ways",
        site,
        (Block("B1", shapely.box(0, 0, 90, 120)),),
        day=datetime.date(2026, 5, 4),
        terrain=Terrain("heights.tif", "usft", "NAVD 88", "EPSG:6350", 0.5, False),
        study=STUDY,
    )


def test_a_study_and_the_heights_read_back_as_they_were(tmp_path):
    saved = project()
    save_project(tmp_path / "p.gpkg", saved)
    again = open_project(tmp_path / "p.gpkg")
    assert again == saved
    assert again.study.candidates[1].first_row_m == "best"
    assert revision_of(again) == revision_of(saved)


def test_another_study_is_another_revision():
    saved = project()
    assert revision_of(replace(saved, study=None)) != revision_of(saved)


def test_a_project_of_the_second_version_opens_without_either():
    said = json.loads(json.dumps(document_of(project())))
    del said["study"], said["terrain"]
    outline = [b.outline for b in project().blocks]
    old = project_from(said | {"version": 2}, outline, [])
    assert (old.study, old.terrain, old.name) == (None, None, "Two ways")
    assert VERSION == 6


def test_a_site_at_another_height_keeps_its_heights_and_its_study():
    higher = at_height(project(), 420.0)
    assert higher.site.frame.height_m == 420.0
    assert (higher.terrain, higher.study) == (project().terrain, STUDY)


def test_a_study_with_nothing_said_keeps_what_is_not_known_apart_from_nought(tmp_path):
    plain = replace(project(), study=Study(wind_from_deg=None, prices=Prices(0.0, None)))
    zero = replace(project(), study=Study(wind_from_deg=0.0, prices=Prices(None, 0.0)))
    for number, saved in enumerate((plain, zero, replace(project(), study=None, terrain=None))):
        save_project(tmp_path / f"{number}.gpkg", saved)
        again = open_project(tmp_path / f"{number}.gpkg")
        assert (again.study, again.terrain) == (saved.study, saved.terrain)


@pytest.mark.parametrize(
    ("make", "named"),
    [
        (lambda: Candidate(row_spacing_m=0.1), "row_spacing_m"),
        (lambda: Canopy(height_m=0.5, foot_m=0.9), "foot_m"),
        (lambda: Season(first_month=13), "first_month"),
        (lambda: Season(hot_from_h=17, hot_to_h=13), "hot_from_h"),
        (lambda: Prices(end_assembly=-1), "end_assembly"),
        (lambda: Study(candidates=(Candidate(),), base=1), "base"),
        (lambda: Study(machine_length_m=float("nan")), "machine_length_m"),
        (lambda: Terrain("x", "fathom"), "unit"),
        (lambda: Terrain("x", contour_m=-1), "contour_m"),
    ],
)
def test_a_value_outside_its_range_is_named(make, named):
    with pytest.raises(ValueError, match=named):
        make()
