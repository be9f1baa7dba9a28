"""Where a hand-off puts its points: grid, ground, calibrated, in which unit, and back again."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from pyproj import Geod

from layoutdesk.core.model import ControlPoint, HandOff
from layoutdesk.core.model.handoff import Calibration, GroundScale, PointTable
from layoutdesk.formats import crs as systems
from layoutdesk.formats.placing import ground_factor, ground_point, placing_of
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import bounds_of


@pytest.fixture(scope="module")
def projects():
    return {s.name: open_sample(s) for s in samples()}


def _placed(project, **said):
    project = replace(project, hand_off=HandOff(**said))
    return project, *placing_of(project, bounds_of(project))


def _around(project, n=200, times=1.0):
    x0, y0, x1, y1 = bounds_of(project)
    rng = np.random.default_rng(2)
    return times * rng.uniform([x0, y0], [x1, y1], (n, 2))


NAMES = ("bench_in_feet", "curved_terrace", "field_with_pond", "slope_two_blocks")


@pytest.mark.parametrize("name", NAMES)
def test_grid_coordinates_are_those_of_the_stake_out_inside_the_site_and_far_from_it(
    projects, name
):
    project, placing, told = _placed(projects[name])
    exact = systems.frame_to_survey(project.site.frame, project.site.survey_crs)
    for times in (1.0, 40.0):
        xy = _around(project, times=times)
        off = (placing.placed(xy) - exact(xy)) * placing.unit_m
        assert np.abs(off).max() < 1.1e-5
    assert not told
    assert "grid coordinates" in placing.statement
    assert "vertical datum not stated" in placing.statement


_CALIBRATION = Calibration("shift, turn and scale", "plane")


def _control(project, turn_deg=0.02, scale=1.0001, shift=(120.0, -40.0), reach_m=400.0):
    """Four control points about the site, measured without noise in a system that is turned a little."""
    to_grid = systems.frame_to_survey(project.site.frame, project.site.survey_crs)
    unit_m = systems.survey_grid(project.site.frame, project.site.survey_crs).unit_m
    xy = reach_m * np.array([[-1, -1], [1.1, -0.9], [1, 1.2], [-0.8, 1]])
    known = to_grid(xy)
    t, middle = np.radians(turn_deg), known.mean(axis=0)
    turned = np.array([[np.cos(t), np.sin(t)], [-np.sin(t), np.cos(t)]])
    measured = scale * (known - middle) @ turned.T + middle + shift
    up = (known - middle) @ [1e-3, -2e-3] + 1.5
    return tuple(
        ControlPoint(f"K{i}", *k.tolist(), 100.0 / unit_m, *m.tolist(), 100.0 / unit_m + u)
        for i, (k, m, u) in enumerate(zip(known, measured, up.tolist(), strict=True))
    )


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("unit", ["", "foot"])
def test_written_coordinates_lead_back_to_where_they_came_from(projects, name, unit):
    table = PointTable(unit=unit)
    said = (
        {"table": table},
        {"table": table, "coordinates": "ground", "ground": GroundScale(offset_e=50_000.0)},
        {
            "table": table,
            "coordinates": "calibrated",
            "control": _control(projects[name]),
            "calibration": _CALIBRATION,
        },
    )
    for one in said:
        project, placing, _ = _placed(projects[name], **one)
        assert placing.coordinates == one.get("coordinates", "grid")
        for times in (1.0, 20.0):
            xy = _around(project, times=times)
            # 7 m off in 1 km by a wrong inverse; a hundredth of a millimetre by the quick transforms
            assert np.abs(placing.back(placing.placed(xy)) - xy).max() < 2.5e-5


@pytest.mark.parametrize("name", NAMES)
def test_a_kilometre_between_written_ground_points_is_a_kilometre_on_the_ground(projects, name):
    """Karney's geodesics (PROJ) raised to the site's height, in eight directions through the ground point."""
    project, placing, _ = _placed(
        replace(projects[name], hand_off=None),
        coordinates="ground",
        ground=GroundScale(offset_e=7000.0, offset_n=-300.0),
    )
    frame, unit_m = project.site.frame, placing.unit_m
    survey = systems.crs_named(project.site.survey_crs)
    datum = survey.geodetic_crs
    from pyproj import Transformer

    to_datum = Transformer.from_crs(survey, datum, always_xy=True)
    to_grid = Transformer.from_crs(datum, survey, always_xy=True)
    lon, lat = to_datum.transform(*ground_point(project, placing.grid))
    geod = Geod(a=frame.semi_major_m, rf=frame.inverse_flattening)
    for azimuth in range(0, 180, 23):
        ends = []
        for way in (azimuth, azimuth + 180):
            x, y, _ = geod.fwd(lon, lat, way, 500.0 / frame.scale)
            ends.append(to_grid.transform(x, y))
        on_grid = placing.matrix[:, :2] @ np.array(ends).T + placing.matrix[:, 2:]
        length = np.hypot(*(on_grid[:, 0] - on_grid[:, 1])) * unit_m
        # 0.1 mm; the two radii of curvature differ by up to 0.53 ppm for each km of height
        assert length == pytest.approx(1000.0, abs=1e-4 + 5e-4 * frame.height_m / 1000)
        grid_length = np.hypot(*np.subtract(*ends)) * unit_m
        assert abs(grid_length - 1000.0) > 0.1  # what there is to be taken away


def test_ground_coordinates_keep_their_point_and_say_all_of_it(projects):
    ground = GroundScale(648_900.0, 6_184_500.0, 0.9998, 100_000.0, -20_000.0)
    _, placing, told = _placed(projects["slope_two_blocks"], coordinates="ground", ground=ground)
    xy = placing.from_grid(np.array([[648_900.0, 6_184_500.0], [649_900.0, 6_184_500.0]]))
    written = placing.placed(xy)
    assert written[0] == pytest.approx([748_900.0, 6_164_500.0], abs=1e-4)
    assert written[1, 0] - written[0, 0] == pytest.approx(1000 / 0.9998, abs=1e-4)
    for words in ("0.999800000", "E 648900, N 6184500", "+100000 E and -20000 N"):
        assert words in placing.statement
    assert {f.code for f in told} == {"ground-coordinates"}
    assert "offsets aside" in told[0].message


def test_a_combined_factor_that_is_upside_down_or_far_off_is_told(projects):
    site = projects["slope_two_blocks"]
    project = replace(site, hand_off=HandOff(coordinates="ground"))
    grid = systems.survey_grid(site.site.frame, site.site.survey_crs)
    here = ground_factor(project, grid)
    at = ground_point(project, grid)

    def told(factor, point=at):
        return _placed(site, coordinates="ground", ground=GroundScale(*point, factor))[2]

    assert [f.severity for f in told(here)] == ["caution"]
    upside_down = [f for f in told(1 / here) if f.severity == "wrong"]
    assert len(upside_down) == 1
    assert "upside down" in upside_down[0].message
    assert any("ppm off" in f.message for f in told(here + 60e-6))
    away = [f for f in told(here, (at[0] + 90_000, at[1])) if f.severity == "wrong"]
    assert "90 km from the site" in away[0].message


def test_ground_coordinates_stay_where_they_are_when_an_outline_is_edited(projects):
    import shapely

    site = projects["field_with_pond"]
    project, before, _ = _placed(site, coordinates="ground")
    block = site.blocks[0]
    wider = replace(block, outline=shapely.box(*shapely.bounds(block.outline.buffer(200.0))))
    _, after, _ = _placed(replace(site, blocks=(wider, *site.blocks[1:])), coordinates="ground")
    xy = _around(project)
    assert after.placed(xy) == pytest.approx(before.placed(xy), abs=2e-5)


def test_another_foot_is_converted_and_told_with_what_a_mix_would_do(projects):
    project, placing, told = _placed(projects["bench_in_feet"], table=PointTable(unit="foot"))
    assert placing.grid.unit == "US survey foot"
    own = _placed(projects["bench_in_feet"])[1]
    xy = _around(project)
    assert placing.placed(xy) == pytest.approx(
        own.placed(xy) * (1200 / 3937 / 0.3048), rel=1e-13, abs=1e-6
    )
    assert [f.code for f in told] == ["hand-off-unit"]
    far_m = np.hypot(*own.placed(xy).T).max() * 0.3048 * 2e-6
    assert f"{far_m:.1f} m away" in told[0].message
    assert "foot = 0.3048 m" in placing.statement
    assert "the grid's own is US survey foot" in placing.statement
    heights = np.array([0.0, 304.8])
    assert placing.elevations(xy[:2], heights) == pytest.approx([0.0, 1000.0])


@pytest.mark.parametrize("name", ["bench_in_feet", "curved_terrace"])
def test_calibrated_points_are_what_the_crew_measured(projects, name):
    control = _control(projects[name])
    _, placing, told = _placed(
        projects[name], coordinates="calibrated", control=control, calibration=_CALIBRATION
    )
    assert not told
    xy = placing.from_grid(np.array([(p.easting, p.northing) for p in control]))
    measured = [(p.measured_easting, p.measured_northing) for p in control]
    assert placing.placed(xy) == pytest.approx(np.array(measured), abs=1e-5)
    known_m = np.array([p.elevation for p in control]) * placing.grid.unit_m
    wanted = [p.measured_elevation for p in control]
    assert placing.elevations(xy, known_m) == pytest.approx(wanted, abs=1e-6)
    assert "calibrated on control points K0, K1, K2, K3" in placing.statement


def test_a_refused_calibration_leaves_coordinates_on_the_grid_and_is_wrong(projects):
    site = projects["curved_terrace"]
    control = list(_control(site))
    control[1] = replace(control[1], measured_easting=control[1].measured_easting + 0.5)
    project, placing, told = _placed(site, coordinates="calibrated", control=tuple(control))
    assert placing.coordinates == "grid"
    assert [(f.code, f.severity) for f in told] == [("calibration-refused", "wrong")]
    xy = _around(project)
    assert placing.placed(xy) == pytest.approx(_placed(site)[1].placed(xy), abs=1e-9)


@pytest.mark.parametrize("coordinates", ["ground", "calibrated"])
def test_what_is_stated_in_another_system_moves_nothing(projects, coordinates):
    site = projects["curved_terrace"]
    _, placing, told = _placed(
        site,
        coordinates=coordinates,
        ground=GroundScale(600_000.0, 4_500_000.0),
        control=_control(site),
        stated_in="EPSG:32637",
    )
    assert placing.coordinates == "grid"
    assert [(f.code, f.severity) for f in told] == [("stated-elsewhere", "wrong")]


def test_control_far_from_the_site_is_told_with_what_its_errors_become(projects):
    site = projects["slope_two_blocks"]
    near, far = _control(site, reach_m=400.0), _control(site, reach_m=15.0)
    said = {"coordinates": "calibrated", "calibration": _CALIBRATION}
    assert not _placed(site, control=near, **said)[2]
    told = _placed(site, control=far, **said)[2]
    assert [f.code for f in told] == ["control-far"]
    assert "span" in told[0].message


def test_the_way_back_undoes_a_datum_carried_over_unshifted(projects):
    frame = projects["slope_two_blocks"].site.frame
    xy = _around(projects["slope_two_blocks"])
    for survey in ("EPSG:7855", "EPSG:20255", "EPSG:28355"):
        there = systems.frame_to_survey(frame, survey)(xy)
        assert systems.survey_to_frame(frame, survey)(there) == pytest.approx(xy, abs=1e-7)
