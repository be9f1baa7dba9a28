"""The hand-off sheet prints what a surveyor can reckon again: factors, lines, bearings, units, checksums."""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import replace

import numpy as np
import pdfplumber
import pytest
from pyproj import CRS, Geod, Proj, Transformer

from layoutdesk.core.model import ControlPoint, SiteFrame
from layoutdesk.formats.hand_off_pdf import write_hand_off_pdf
from layoutdesk.formats.seal import read_seal
from layoutdesk.session.check_line_words import check_rows, checked_lines
from layoutdesk.session.hand_off_lines import WrittenFile
from layoutdesk.session.hand_off_numbers import WorkedFactor
from layoutdesk.session.hand_off_set import hand_off_set
from layoutdesk.session.hand_off_sheet import hand_off_sheet
from layoutdesk.session.places import resource
from tests.staked_project import FEET, project

DAY = datetime.date(2026, 11, 28)
SOUTH = SiteFrame(-34.5, 138.7, 120.0)
UTM_54_SOUTH = "EPSG:32754"
FILE = WrittenFile("points.csv", "csv", "posts", "a grid", 1234, 48_120, "0123456789abcdef" * 4)


def handed(survey_crs=UTM_54_SOUTH, frame=SOUTH, **said):
    return hand_off_set(project(survey_crs, frame, **said), day=DAY)


def printed(tmp_path, hand, unit="m"):
    path = tmp_path / "hand-off.pdf"
    write_hand_off_pdf(path, hand_off_sheet(hand, (FILE,), unit), resource("fonts"))
    with pdfplumber.open(path) as pdf:
        sizes = [(float(p.width), float(p.height)) for p in pdf.pages]
        text = "\n".join(p.extract_text() for p in pdf.pages)
    return path, " ".join(re.sub(r"[\u202f\u00a0]", " ", text).split()), sizes


def test_the_published_combined_factor_is_reckoned():
    # Surveyors' worked example: 0.999981 × 20,906,000 / 20,906,500 = 0.999957
    example = WorkedFactor(0.999981, 20_906_000, 500)
    assert round(example.combined, 6) == 0.999957
    assert example.words(6).endswith("= 0.999957")


def test_lengths_and_bearings_are_those_of_geodesics_and_of_the_grid():
    hand = handed()
    checked = checked_lines(hand)
    assert 6 <= len(checked) <= 10
    earth = Geod(ellps="WGS84")
    to_utm = Transformer.from_crs(4326, 32754, always_xy=True)
    radius = SOUTH.mean_radius_m
    for c in checked:
        (lon0, lat0), (lon1, lat1) = hand.to_wgs84(np.array(c.line.ends_m)).tolist()
        azimuth, _, length = earth.inv(lon0, lat0, lon1, lat1)
        assert c.ground_m == pytest.approx(length * (radius + 120) / radius, abs=1e-4)
        assert c.true_deg == pytest.approx(azimuth % 360, abs=2e-3)  # norths converge over the site
        start, end = to_utm.transform(lon0, lat0), to_utm.transform(lon1, lat1)
        assert c.grid_m == pytest.approx(math.dist(start, end), abs=1e-4)
        assert c.grid_deg == pytest.approx(
            math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360, abs=1e-5
        )
        factor = hand.placing.grid.combined_factor
        assert c.grid_m == pytest.approx(c.ground_m * factor, abs=1e-4)


def test_the_sheet_prints_factor_convergence_and_check_lines(tmp_path):
    hand = handed()
    path, text, sizes = printed(tmp_path, hand)
    assert sizes[0] == pytest.approx((595.28, 841.89), abs=0.1)
    # checks: UTM 54 south at −34.5, 138.7: k 1.000149667733, convergence +1.303216315°
    assert "1.000149668" in text
    assert "1.303216° east of true north" in text
    factors = Proj(CRS.from_epsg(32754)).get_factors(138.7, -34.5)
    assert f"{factors.meridional_scale / SOUTH.scale:.9f}" in text
    for row in check_rows(hand):
        for figure in (row.grid, row.ground):
            assert figure.replace("\u202f", " ") in text
    assert "0123456789ab" in text
    assert "48.1 kB" in text
    assert "Not stated: ask before levels are used" in text
    assert "The site lies in it" in text
    found = read_seal(path)
    assert found.is_whole
    assert found.seal.revision == hand.revision
    path.write_bytes(path.read_bytes().replace(b"/Title", b"/Titel", 1))
    assert not read_seal(path).is_whole


def test_the_worked_line_comes_to_the_grid_length_that_is_printed(tmp_path):
    _, text, _ = printed(tmp_path, handed())
    pattern = r"([\d.]+) m on the ground × ([\d.]+) = ([\d.]+) m on the grid; their grid coordinates give ([\d.]+) m"
    ground, factor, by_factor, on_grid = map(float, re.search(pattern, text).groups())
    assert ground * factor == pytest.approx(by_factor, abs=1.1e-3)
    assert on_grid == pytest.approx(by_factor, abs=1.1e-3)
    pattern = r"([\d.]+)° true − ([\d.]+)° = ([\d.]+)° grid; their grid coordinates give ([\d.]+)°"
    true, convergence, worked, by_grid = map(float, re.search(pattern, text).groups())
    assert true - convergence == pytest.approx(worked, abs=2e-4)
    assert by_grid == pytest.approx(worked, abs=2e-3)


def test_feet_are_told_apart_on_letter_paper(tmp_path):
    hand = handed(FEET, SiteFrame(47.0, -120.5, 300.0))
    _, text, sizes = printed(tmp_path, hand, "usft")
    assert sizes[0] == pytest.approx((612, 792), abs=0.1)
    assert "1200/3937 m exactly" in text
    assert "It is not the international foot" in text
    row = check_rows(hand, "m")[0]
    grid, metres = row.ground.replace("\u202f", "").split(" = ")
    assert float(grid.split()[0]) * 1200 / 3937 == pytest.approx(float(metres.split()[0]), abs=1e-3)


def test_ground_coordinates_have_lengths_of_their_own(tmp_path):
    hand = handed(coordinates="ground")
    for c in checked_lines(hand):
        assert c.written_m == pytest.approx(c.ground_m, abs=1e-4)
        assert abs(c.grid_m - c.ground_m) > 1e-3
    _, text, _ = printed(tmp_path, hand)
    assert "As written" in text
    assert "Ground coordinates of WGS 84 / UTM zone 54S" in text


def test_a_calibration_that_turns_has_a_bearing_of_its_own(tmp_path):
    hand = handed()
    to_grid = hand.placing.to_grid(np.array([[-20.0, -20.0], [150.0, -10.0], [80.0, 120.0]]))
    turn = np.radians(3.0)
    turned = (to_grid - to_grid[0]) @ [
        [np.cos(turn), -np.sin(turn)],
        [np.sin(turn), np.cos(turn)],
    ] + [5000.0, 2000.0]
    control = tuple(
        ControlPoint(f"CP{i}", *known.tolist(), None, *measured.tolist())
        for i, (known, measured) in enumerate(zip(to_grid, turned, strict=True), 1)
    )
    hand = handed(coordinates="calibrated", control=control, stated_in=UTM_54_SOUTH)
    assert hand.placing.coordinates == "calibrated"
    for c in checked_lines(hand):
        assert (c.written_deg - c.grid_deg) % 360 == pytest.approx(3.0, abs=1e-4)
    _, text, _ = printed(tmp_path, hand)
    assert "which are calibrated, it is" in text
    assert "CP3" in text


def test_what_is_wrong_is_said_first_and_contacts_are_printed_or_left_open(tmp_path):
    hand = handed(coordinates="calibrated", contacts=(("surveyor", "Desk 4"), ("crew", "")))
    wrong = [f for f in hand.findings if f.severity != "note"]
    assert wrong
    _, text, _ = printed(tmp_path, hand)
    start = " ".join(wrong[0].message.split()[:4])
    assert text.index(start) < text.index("SHA-256 begins")
    assert "Desk 4" in text
    assert "Surveyor: name" not in text
    assert "Crew: name" in text


def test_a_machine_caution_stands_where_machines_are_steered(tmp_path):
    hand = handed()
    _, plain, _ = printed(tmp_path, hand)
    steered = replace(hand, hand=replace(hand.hand, formats=("csv", "lines")))
    _, text, _ = printed(tmp_path, steered)
    assert "Guidance lines steer machines" in text
    assert "Guidance lines steer machines" not in plain
    for words in ("buried services", "overhead lines", "licensed surveyor"):
        assert words in plain
