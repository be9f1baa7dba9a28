"""From a file a person has to a project: what is taken from where, and what is said about it."""

from __future__ import annotations

import datetime
import re
from dataclasses import replace

import geopandas
import numpy as np
import pytest
import shapely
from pyproj import CRS, Geod, Transformer

from layoutdesk.core.model import Alley, InputProblem, RowRules
from layoutdesk.formats.crs import frame_crs
from layoutdesk.formats.project_file import save_project
from layoutdesk.session.opening import (
    at_height,
    longest_edge_bearing_deg,
    open_any,
    project_from_outline,
    with_exclusions,
    with_survey_crs,
)
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import lay_project, project_findings
from layoutdesk.session.survey import survey_view

SAMPLES = {s.name: s for s in samples()}
TERRACE = SAMPLES["curved_terrace"]
FIELD = SAMPLES["field_with_pond"]


def codes(project) -> list[str]:
    return [f.code for f in project.site.findings]


def on_earth(project, shape):
    """Longitudes and latitudes of a shape of the site frame."""
    frame = frame_crs(project.site.frame)
    to = Transformer.from_crs(frame, frame.geodetic_crs, always_xy=True)
    return np.column_stack(to.transform(*shapely.get_coordinates(shape).T))


@pytest.mark.parametrize("name", SAMPLES)
def test_the_frame_gives_back_the_coordinates_of_the_file(name):
    sample = SAMPLES[name]
    project = open_sample(sample)
    read = geopandas.read_file(sample.outline)
    source = CRS.from_user_input(project.site.source_crs)
    assert read.crs.to_2d().equals(source, ignore_axis_order=True)
    back = Transformer.from_crs(frame_crs(project.site.frame), source, always_xy=True)
    outlines = [b.outline for b in project.blocks]
    corners = np.column_stack(back.transform(*shapely.get_coordinates(outlines).T))
    unit_m = 111_320 if source.is_geographic else source.axis_info[0].unit_conversion_factor
    tree = shapely.STRtree(shapely.points(shapely.get_coordinates(read.geometry.tolist())))
    _, away = tree.query_nearest(shapely.points(corners), return_distance=True, all_matches=False)
    assert away.max() * unit_m < 1e-6


def test_a_site_without_choices_says_what_was_chosen_for_it():
    project = project_from_outline(TERRACE.outline)
    assert {"height-assumed", "survey-crs-chosen", "bearing-chosen"} <= set(codes(project))
    assert project.site.frame.height_m == 0.0
    assert project.site.survey_crs == "EPSG:32638"
    (block,) = project.blocks
    assert block.name == "B1"
    assert block.rules == RowRules(bearing_deg=longest_edge_bearing_deg(block.outline))
    assert project.day == datetime.date.today()


def test_what_was_given_is_not_said_to_be_chosen():
    project = project_from_outline(
        TERRACE.outline, height_m=0.0, survey_crs="EPSG:32638", rules=RowRules(bearing_deg=5)
    )
    assert not {"height-assumed", "survey-crs-chosen", "bearing-chosen"} & set(codes(project))


def test_every_outline_is_a_block_with_its_own_longest_edge():
    project = project_from_outline(SAMPLES["slope_two_blocks"].outline)
    assert [b.name for b in project.blocks] == ["B1", "B2"]
    said = [f.where for f in project.site.findings if f.code == "bearing-chosen"]
    assert said == ["B1", "B2"]


@pytest.mark.parametrize("bearing", [0.0, 18.25, 90.0, 133.5])
def test_rows_follow_the_longest_edge_corners_along_it_aside(bearing):
    box = shapely.segmentize(shapely.box(0, 0, 40, 100), 25.0)
    turned = shapely.affinity.rotate(box, -bearing, origin=(0, 0))
    for way_round in (turned, shapely.reverse(turned), shapely.affinity.rotate(turned, 180)):
        assert longest_edge_bearing_deg(way_round) == pytest.approx(bearing, abs=1e-4)


def test_the_height_lengthens_the_ground_by_the_radius():
    """h / R: 560 m at latitude 41.42 are 87.837 ppm."""
    low = project_from_outline(TERRACE.outline, height_m=0.0)
    high = project_from_outline(TERRACE.outline, height_m=560.0)
    ratio = np.sqrt(high.blocks[0].outline.area / low.blocks[0].outline.area)
    assert (ratio - 1) * 1e6 == pytest.approx(560 / low.site.frame.mean_radius_m * 1e6, rel=1e-6)
    assert (ratio - 1) * 1e6 == pytest.approx(87.837, abs=0.001)


def test_one_metre_of_the_frame_is_one_metre_on_the_ground():
    project = project_from_outline(TERRACE.outline, height_m=0.0)
    corners = shapely.get_coordinates(project.blocks[0].outline)
    lonlat = on_earth(project, project.blocks[0].outline)
    _, _, geodesic = Geod(ellps="WGS84").inv(*lonlat[:-1].T, *lonlat[1:].T)
    plane = np.hypot(*np.diff(corners, axis=0).T)
    assert np.abs(plane / geodesic - 1).max() < 1e-7


def test_another_height_moves_nothing_on_the_earth():
    rules = RowRules(alleys=(Alley(400.0, -250.0, 6.0),))
    project = project_from_outline(FIELD.outline, rules=rules, exclusions=FIELD.exclusions)
    assert "height-assumed" in codes(project)
    high = at_height(project, 1000.0)
    assert high.site.frame.height_m == 1000.0
    assert "height-assumed" not in codes(high)

    def places(p):
        alley = shapely.Point(p.blocks[0].rules.alleys[0].x_m, p.blocks[0].rules.alleys[0].y_m)
        return np.concatenate(
            [on_earth(p, s) for s in (p.blocks[0].outline, *(e.shape for e in p.exclusions), alley)]
        )

    assert np.abs(places(high) - places(project)).max() < 1e-12  # degrees: a tenth of a micrometre
    fresh = project_from_outline(FIELD.outline, rules=rules, height_m=1000.0)
    assert shapely.equals_exact(high.blocks[0].outline, fresh.blocks[0].outline, 1e-8)
    back = at_height(high, 0.0)
    assert shapely.equals_exact(back.blocks[0].outline, project.blocks[0].outline, 1e-9)


def test_a_height_of_zero_is_a_height_that_was_given():
    project = at_height(project_from_outline(TERRACE.outline), 0.0)
    assert "height-assumed" not in codes(project)


def test_another_survey_grid_moves_no_shape_and_is_no_longer_chosen():
    project = project_from_outline(TERRACE.outline)
    other = with_survey_crs(project, "EPSG:32639")
    assert other.blocks == project.blocks
    assert other.site.survey_crs == "EPSG:32639"
    assert "survey-crs-chosen" not in codes(other)


def test_a_survey_grid_on_another_datum_is_a_finding():
    sample = SAMPLES["slope_two_blocks"]
    project = with_survey_crs(open_sample(sample), "EPSG:28355")  # GDA94 / MGA zone 55
    found = [
        f for f in project_findings(project, lay_project(project)) if f.code == "datum-not-shifted"
    ]
    assert len(found) == 1
    assert found[0].severity == "caution"
    assert "GDA2020" in found[0].message
    assert "GDA94" in found[0].message


@pytest.mark.parametrize(
    ("survey", "said"),
    [
        ("EPSG:4326", "is no survey grid"),
        ("EPSG:2193000", "is not known"),
        ("nonsense", "is not known"),
        ("", "is not known"),
        ("EPSG:2048", "do not run east and north"),  # axes west and south
    ],
)
def test_a_survey_system_no_stake_can_be_set_in_is_refused(survey, said):
    project = project_from_outline(TERRACE.outline)
    with pytest.raises(InputProblem, match=said):
        with_survey_crs(project, survey)


# --------------------------------------------------------------------------------------- exclusions


def exclusion_file(path, shapes, crs, **columns):
    geopandas.GeoDataFrame(columns, geometry=shapes, crs=crs).to_file(path)
    return path


def test_exclusions_keep_their_own_clearances_unless_one_is_given():
    project = open_sample(FIELD)
    own = [e.clearance_m for e in project.exclusions]
    assert len(set(own)) > 1
    outline = replace(project, exclusions=())
    (path, _), *_ = FIELD.exclusions
    assert [e.clearance_m for e in with_exclusions(outline, [(path, None)]).exclusions] == own
    assert {e.clearance_m for e in with_exclusions(outline, [(path, 7.5)]).exclusions} == {7.5}
    assert {e.clearance_m for e in with_exclusions(outline, [(path, 0.0)]).exclusions} == {0.0}


def test_exclusions_come_from_another_system_to_the_same_place(tmp_path):
    project = project_from_outline(TERRACE.outline)
    grid = CRS.from_epsg(32638)
    to_grid = Transformer.from_crs(frame_crs(project.site.frame), grid, always_xy=True)
    wanted = shapely.box(-5, -5, 5, 5)
    on_grid = shapely.transform(wanted, lambda xy: np.column_stack(to_grid.transform(*xy.T)))
    path = exclusion_file(tmp_path / "x.gpkg", [on_grid], grid)
    (exclusion,) = with_exclusions(project, [(path, 2.0)]).exclusions
    assert shapely.hausdorff_distance(exclusion.shape, wanted) < 1e-6
    assert exclusion.clearance_m == 2.0


def test_more_exclusions_are_added_to_those_there_in_order():
    project = open_sample(FIELD)
    (path, _), *_ = FIELD.exclusions
    more = with_exclusions(project, [(path, 1.0)])
    n = len(project.exclusions)
    assert more.exclusions[:n] == project.exclusions
    assert [e.shape for e in more.exclusions[n:]] == [e.shape for e in project.exclusions]


def test_no_files_change_nothing():
    project = open_sample(FIELD)
    assert with_exclusions(project, []) is project


@pytest.mark.parametrize(
    ("east_deg", "severity", "said"),
    [
        (0.012, "note", "touches no block"),
        (0.05, "caution", r"lies \d km from the nearest block: wrong coordinate system\?"),
        (10.0, "caution", r"lies [89]\d\d km from the nearest block: wrong coordinate system\?"),
    ],
)
def test_an_exclusion_apart_from_all_blocks_is_said_the_louder_the_farther(
    tmp_path, east_deg, severity, said
):
    project = project_from_outline(TERRACE.outline)
    frame = project.site.frame
    path = exclusion_file(
        tmp_path / "far.geojson",
        [shapely.Point(frame.longitude_deg + east_deg, frame.latitude_deg)],
        "EPSG:4326",
    )
    project = with_exclusions(project, [(path, 5.0)])
    [finding] = [
        f for f in project_findings(project, lay_project(project)) if f.code == "exclusion-apart"
    ]
    assert finding.severity == severity
    assert re.search(said, finding.message)


# ----------------------------------------------------------------------------------- any file at all


def test_a_project_file_opens_as_it_was_saved(tmp_path):
    project = open_sample(FIELD)
    save_project(tmp_path / "x.gpkg", project)
    assert open_any(tmp_path / "x.gpkg") == project


def test_options_change_a_project_as_they_would_an_outline(tmp_path):
    save_project(tmp_path / "x.gpkg", project_from_outline(FIELD.outline))
    how = {"height_m": 350.0, "survey_crs": "EPSG:25830", "exclusions": FIELD.exclusions}
    opened = open_any(tmp_path / "x.gpkg", **how)
    fresh = project_from_outline(FIELD.outline, **how)
    assert opened.site.frame == fresh.site.frame
    assert opened.site.survey_crs == fresh.site.survey_crs
    assert [e.clearance_m for e in opened.exclusions] == [e.clearance_m for e in fresh.exclusions]
    assert sorted(codes(opened)) == sorted(codes(fresh))
    assert shapely.equals_exact(opened.blocks[0].outline, fresh.blocks[0].outline, 1e-8)


@pytest.mark.parametrize(("option", "value"), [("crs", "EPSG:25831"), ("unit", "ft")])
def test_a_project_has_its_coordinate_system_already(tmp_path, option, value):
    save_project(tmp_path / "x.gpkg", open_sample(FIELD))
    with pytest.raises(InputProblem) as refused:
        open_any(tmp_path / "x.gpkg", **{option: value})
    assert str(refused.value) == (
        f"x.gpkg is a project and has its coordinate system already: leave out --{option}."
    )


@pytest.mark.parametrize("survey", ["EPSG:32616", "EPSG:3857", "EPSG:2154"])
def test_a_survey_grid_made_for_another_place_is_a_finding(survey):
    project = project_from_outline(TERRACE.outline, survey_crs=survey)
    found = [f for f in project_findings(project, ()) if f.code == "grid-unsuitable"]
    assert len(found) == 1
    assert "ppm off at this site" in found[0].message


# ------------------------------------------------------------------------------- as people read it


def test_the_survey_view_reads_coordinates_in_the_grids_own_unit():
    feet = survey_view(open_sample(SAMPLES["bench_in_feet"]))
    assert feet.people_unit == "usft"
    x, y = feet.to_survey(np.array([[0.0, 0.0]]))[0]
    text = feet.coordinates(0.0, 0.0)
    assert text == f"E {x:,.2f}   N {y:,.2f} US ft".replace(",", "\u202f")
    metres = survey_view(open_sample(FIELD))
    assert metres.people_unit == "m"
    assert metres.coordinates(0.0, 0.0).endswith(" m")


def test_the_survey_view_says_what_the_combined_factor_does():
    view = survey_view(open_sample(FIELD))
    # 0.99986915: 130.85 ppm less, which is 13.1 mm in 100 m
    assert view.factor == "Combined factor 0.999869: 13.1 mm less per 100 m on the grid"
