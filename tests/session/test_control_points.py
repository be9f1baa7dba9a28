"""Control points: read from tables in any habit, typed, measured, used or left out, and how they are listed."""

from __future__ import annotations

from dataclasses import replace

import pytest

from layoutdesk.core.model import HandOff, InputProblem
from layoutdesk.core.model.handoff import GroundScale
from layoutdesk.session.calibrating import calibrated
from layoutdesk.session.control_lines import control_lines
from layoutdesk.session.control_points import (
    read_control_csv,
    typed_control,
    with_control,
    with_control_used,
    with_measured,
    without_control,
)
from layoutdesk.session.coordinate_words import with_typed_coordinate
from layoutdesk.session.samples import open_sample, samples


@pytest.fixture(scope="module")
def site():
    return open_sample(next(s for s in samples() if s.name == "slope_two_blocks"))


@pytest.fixture(scope="module")
def site_in_feet():
    return open_sample(next(s for s in samples() if s.name == "bench_in_feet"))


def _read(tmp_path, project, text, name="control.csv", **how):
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    points, told = read_control_csv(path, project, **how)
    return with_control(project, points), told


_KNOWN = (
    "elevation,point,northing,easting\n"
    "120.3,K1,6184300.1,648400.25\n"
    ",K2,6184310,649200\n"
    "119,K3,6184700,649210\n"
)


def _three(project):
    return {
        p.name: (p.easting, p.northing, p.elevation, p.measured_easting, p.measured_elevation)
        for p in project.hand_off.control
    }


def test_columns_are_told_by_their_names_in_any_order(tmp_path, site):
    project, told = _read(tmp_path, site, _KNOWN)
    assert not told
    assert _three(project)["K1"] == (648400.25, 6184300.1, 120.3, None, None)
    assert _three(project)["K2"][2] is None
    assert project.hand_off.stated_in == "EPSG:7855"


@pytest.mark.parametrize(
    "header",
    [
        "point;easting;northing;measured easting;measured northing;measured elevation",
        "Name;E;N;E_meas;N_meas;Z_meas",
        "id;Known E;Known N;Observed E;Observed N;Observed height",
        "pt;E;N;E_m;N_m;measured z",
    ],
)
def test_one_table_may_hold_known_and_measured_coordinates(tmp_path, site, header):
    project, told = _read(
        tmp_path,
        site,
        f"{header}\nK1;648400,25;6184300,1;1000,5;5000,25;99,5\nK2;649200;6184310;;;\n",
    )
    one, two = project.hand_off.control
    assert (one.easting, one.northing) == (648400.25, 6184300.1)
    assert (one.measured_easting, one.measured_northing) == (1000.5, 5000.25)
    assert one.measured_elevation == 99.5
    assert not two.is_measured
    assert not told


def test_a_table_of_measured_points_is_put_to_known_ones_by_name(tmp_path, site):
    project, _ = _read(tmp_path, site, _KNOWN)
    measured = "point,easting,northing,elevation\nk1,100,200,10\nK3,910,590,8.5\n"
    project, told = _read(tmp_path, project, measured, "measured.csv")
    assert [f.code for f in told] == ["columns-assumed"]
    by_name = {p.name: p for p in project.hand_off.control}
    assert by_name["K1"].easting == 648400.25
    assert by_name["K1"].measured_easting == 100
    assert by_name["K3"].measured_elevation == 8.5
    again, told = _read(tmp_path, project, _KNOWN)  # the same known ones once more change nothing
    assert again == project
    assert not told
    strange = "point,easting,northing\nK1,101,201\nQ9,1,2\n"
    _, told = _read(tmp_path, project, strange, holds="measured")
    assert "Q9" in next(f.message for f in told if f.code == "staked-strange")


@pytest.mark.parametrize("order", ["K1,648400,6184300,120\n", "K1,6184300,648400,120\n"])
def test_a_table_without_a_header_is_read_the_way_round_that_lies_on_the_site(
    tmp_path, site, order
):
    project, told = _read(tmp_path, site, order + order.replace("K1", "K2").replace("648", "649"))
    assert _three(project)["K1"][:3] == (648400, 6184300, 120)
    assert [f.code for f in told] == ["columns-assumed"]


def test_feet_are_never_taken_for_other_feet_silently(tmp_path, site_in_feet):
    """The grid has US survey feet: 2,120,000 feet are 4.24 ft less of them."""
    text = "point,easting (ft),northing (ft),elevation (m)\nA,2120000,350000,30.48\n"
    project, told = _read(tmp_path, site_in_feet, text)
    (point,) = project.hand_off.control
    assert point.easting == pytest.approx(2_120_000 * 0.3048 / (1200 / 3937), rel=1e-15)
    assert 2_120_000 - point.easting == pytest.approx(4.24, abs=1e-4)
    assert point.elevation == pytest.approx(99.9998, abs=1e-6)
    assert [f.code for f in told] == ["unit-scaled", "unit-scaled"]
    own = text.replace("(ft)", "(usft)").replace("(m)", "(usft)")
    project, told = _read(tmp_path, site_in_feet, own)
    assert project.hand_off.control[0].easting == 2_120_000
    assert not told
    with pytest.raises(InputProblem, match="US survey foot"):
        typed_control(project, "A", "easting", "2120000 ft")
    same = typed_control(project, "A", "easting", "2 120 001 usft".replace(" ", "\u202f", 2))
    assert same.hand_off.control[0].easting == 2_120_001


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("point,easting,northing\nK1,648400,x\n", "line 2: 'x' is no northing"),
        ("point,easting,northing\nK1,648400,6184300\nk1,648401,6184300\n", "stands in line 2"),
        ("point,easting,northing\n,648400,6184300\n", "has no name"),
        ("point,lat,lon\nK1,-34.1,146.2\n", "latitudes and longitudes"),
        ("point,easting,northing\nK1,6184300,648400\n", "look exchanged"),
        ("point,easting,northing\nK1,148400,6184300\n", "lies more than 50 km from the site"),
        ("easting,northing\n648400,6184300\n", "no column of names"),
        ("point,easting,northing\n", "no points"),
        ("K1,1000,5000\nK2,1100,5000\n", "far from the site either way"),
    ],
)
def test_a_table_that_cannot_be_used_says_what_where_and_what_to_do(tmp_path, site, text, words):
    with pytest.raises(InputProblem, match=words):
        _read(tmp_path, site, text)


@pytest.mark.parametrize(
    "text",
    [
        "K4 648400.5 6184300.25 120",
        "K4, 648400.5, 6184300.25, 120",
        "K4 E 648400.5 N 6184300.25 Z 120",
        "K4 N 6184300.25 E 648400.5 Z 120",
        "K4;648400,5;6184300,25;120",
        "K4 648,400.5 6,184,300.25 120 m",
        "K4 648\u202f400.500, 6\u202f184\u202f300.250, 120.000",
    ],
)
def test_a_new_point_is_typed_in_one_line(site, text):
    (point,) = typed_control(site, None, "known", text).hand_off.control
    assert (point.name, point.easting, point.northing) == ("K4", 648400.5, 6184300.25)
    assert point.elevation == 120


def test_what_is_listed_can_be_typed_again(site):
    project = typed_control(site, None, "known", "K1 648400.123 6184300.456 120.789")
    project = with_measured(project, "K1", 1000.5, 5000.25, 99.5)
    (line,) = control_lines(project)
    for key, shown in (("known", line.known), ("measured", line.measured), ("used", line.used)):
        assert typed_control(project, "K1", key, shown) == project


def test_measurements_are_typed_taken_back_and_points_renamed_and_taken_away(site):
    project = typed_control(site, None, "known", "K1 648400 6184300")
    project = typed_control(project, None, "known", "K2 649200 6184300")
    project = typed_control(project, "K1", "measured", "1000.5 5000.25")
    assert project.hand_off.control[0].measured_northing == 5000.25
    assert not typed_control(project, "K1", "measured", "none").hand_off.control[0].is_measured
    with pytest.raises(InputProblem, match="K2 is there already"):
        typed_control(project, "K1", "name", "k2")
    assert typed_control(project, "K1", "name", "k1").hand_off.control[0].name == "k1"
    with pytest.raises(InputProblem, match="needs an easting"):
        typed_control(project, "K1", "easting", "")
    with pytest.raises(InputProblem, match="two ways"):
        typed_control(project, "K1", "elevation", "1,234")
    with pytest.raises(InputProblem, match="no control point"):
        without_control(project, "K9")
    left = without_control(without_control(project, "K1"), "k2")
    assert left.hand_off == HandOff()


def test_control_of_another_survey_system_is_not_mixed_with_this_one(site):
    project = typed_control(site, None, "known", "K1 648400 6184300")
    project = replace(
        project, hand_off=replace(project.hand_off, ground=GroundScale(offset_e=1000.0))
    )
    other = replace(project, site=replace(project.site, survey_crs="EPSG:28355"))
    with pytest.raises(InputProblem, match="EPSG:7855"):
        typed_control(other, "K1", "known", "648401 6184300")
    anew = typed_control(other, None, "known", "L1 648400 6184300")
    assert [p.name for p in anew.hand_off.control] == ["L1"]
    assert anew.hand_off.ground == GroundScale()
    assert anew.hand_off.stated_in == "EPSG:28355"
    ground = with_typed_coordinate(other.hand_off, other, "ground.offset_n", "500")
    assert (ground.control, ground.ground) == ((), GroundScale(offset_n=500.0))
    measured = with_measured(project, "K1", 1.0, 2.0)
    elsewhere = replace(measured, site=other.site)
    assert "another survey system" in calibrated(elsewhere).refused


def test_residuals_are_listed_and_a_point_left_out_stays_as_a_check(site):
    project = site
    for text in (
        "K1 648400 6184300",
        "K2 649200 6184300",
        "K3 649200 6184700",
        "K4 648400 6184700",
    ):
        project = typed_control(project, None, "known", text)
    assert calibrated(project) is None
    for point in project.hand_off.control:
        off = 0.30 if point.name == "K3" else 0.0
        project = with_measured(project, point.name, point.easting + 5, point.northing + 7 + off)
    lines = {line.name: line for line in control_lines(project)}
    assert all(line.flag == "wrong" for line in lines.values())
    project = with_control_used(project, "K3", False, False)
    lines = {line.name: line for line in control_lines(project)}
    assert {name: line.flag for name, line in lines.items()} == {
        **dict.fromkeys(("K1", "K2", "K4"), ""),
        "K3": "wrong",
    }
    assert lines["K3"].plan == "+0 mm E, +30.0 cm N"
    assert "as a check" in lines["K3"].told
    assert lines["K3"].used == "left out"
    assert control_lines(project, "ft")[2].plan == "+0.000 ft E, +0.984 ft N"
