"""Coordinates of a hand-off in words: read, typed and stepped, and what they do at the site."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model import HandOff, InputProblem
from layoutdesk.session.control_points import typed_control, with_measured
from layoutdesk.session.coordinate_effect import effect_arrows, effect_words
from layoutdesk.session.coordinate_words import (
    QUANTITIES,
    calibration_paragraph,
    coordinates_paragraph,
    with_stepped_coordinate,
    with_typed_coordinate,
)
from layoutdesk.session.hand_off_set import hand_off_set
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.specification import Value, as_text
from layoutdesk.session.stakeout import lay_project


@pytest.fixture(scope="module")
def site():
    return open_sample(next(s for s in samples() if s.name == "slope_two_blocks"))


@pytest.fixture(scope="module")
def plans(site):
    return lay_project(site)


def _said(project, **typed):
    hand = project.hand_off or HandOff()
    for key, text in typed.items():
        hand = with_typed_coordinate(hand, project, key.replace("__", "."), text)
    return replace(project, hand_off=hand)


def _values(project):
    paragraphs = (*coordinates_paragraph(project), *calibration_paragraph(project))
    return {v.rule: v for sentence in paragraphs for v in sentence if isinstance(v, Value)}


_GROUND = {
    "coordinates": "ground",
    "vertical_datum": "AHD71",
    "ground__about": "E 648900 N 6184500.5",
    "ground__factor": "0.99978",
    "ground__offset_e": "100000",
    "ground__offset_n": "-2000",
    "calibration__heights": "plane",
    "calibration__worst_m": "4 cm",
}


def test_every_value_is_shown_and_what_is_shown_can_be_typed_again(site):
    project = _said(site, **_GROUND)
    values = _values(project)
    assert set(values) == set(QUANTITIES)
    for key, value in values.items():
        again = with_typed_coordinate(project.hand_off, project, key, value.text)
        assert again == project.hand_off, key
    usual = _said(site, coordinates="ground")
    for key, value in _values(usual).items():
        again = with_typed_coordinate(usual.hand_off, usual, key, value.text)
        assert replace(again, stated_in="") == usual.hand_off, key
    assert project.hand_off.stated_in == "EPSG:7855"


def test_the_paragraph_tells_what_nobody_stated(site):
    text = as_text(coordinates_paragraph(_said(site, coordinates="ground")))
    assert "the site's middle" in text
    assert "the combined factor there is 0.999785" in text
    assert "100 metres on the grid are 100.0215 on the ground" in text
    assert "not stated" in text


def test_values_are_stepped_within_their_limits(site):
    hand = HandOff()
    there = with_stepped_coordinate(hand, site, "coordinates", 1)
    assert there.coordinates == "ground"
    offset = with_stepped_coordinate(hand, site, "ground.offset_e", 3).ground.offset_e
    assert offset == 3000
    factor = with_stepped_coordinate(hand, site, "ground.factor", 2).ground.factor
    assert factor == pytest.approx(0.999787, abs=1e-9)
    low = with_stepped_coordinate(hand, site, "calibration.worst_m", -100)
    assert low.calibration.worst_m == 0.001


@pytest.mark.parametrize(
    ("key", "text", "words"),
    [
        ("ground.about", "6184500 648900", "50 km from the site"),
        ("ground.about", "648900", "no easting and northing"),
        ("ground.factor", "1000", "must lie between"),
        ("ground.offset_e", "100 ft", "another unit than the survey grid"),
        ("calibration.moves", "bend", "choose one of"),
    ],
)
def test_what_cannot_be_typed_is_refused_in_a_sentence(site, key, text, words):
    with pytest.raises(InputProblem, match=words):
        with_typed_coordinate(HandOff(), site, key, text)


def test_the_effect_of_ground_coordinates_is_that_of_the_factor(site, plans):
    project = _said(site, coordinates="ground", ground__factor="0.9998", ground__offset_e="50000")
    hand = hand_off_set(project, plans)
    arrows = effect_arrows(hand)
    middle = hand.placing.from_grid(np.round(hand.placing.to_grid(np.zeros((1, 2)))))[0]
    wanted = (arrows.at_m - middle) * (1 / 0.9998 - 1) * hand.placing.grid.combined_factor
    # steps are those on the grid, brought into the frame: the factors differ by 2e-4 of centimetres
    assert arrows.step_m == pytest.approx(wanted, abs=1e-4)
    assert arrows.label[0] == f"{np.hypot(*arrows.step_m[0]) * 100:.1f} cm"
    assert not arrows.amiss.any()
    assert "offsets aside" in arrows.said
    assert f"drawn {arrows.times:g} times as long" in arrows.said
    longest = np.hypot(*arrows.step_m.T).max()
    assert f"up to {longest * 1000:.0f} mm" in effect_words(hand)
    assert effect_arrows(hand_off_set(site, plans)) is None
    assert "21 mm shorter on the grid" in effect_words(hand_off_set(site, plans))


def test_a_refused_calibration_shows_its_residuals_and_moves_no_corner(site, plans):
    project = _said(site, coordinates="calibrated")
    for text in (
        "K1 648400 6184300",
        "K2 649200 6184300",
        "K3 649200 6184700",
        "K4 648400 6184700",
    ):
        project = typed_control(project, None, "known", text)
    for point in project.hand_off.control:
        project = with_measured(project, point.name, point.easting + 0.2, point.northing - 0.1)
    good = hand_off_set(project, plans)
    arrows = effect_arrows(good)
    corners = [not label.startswith("K") for label in arrows.label]
    assert np.hypot(*arrows.step_m[corners].T) == pytest.approx(np.hypot(0.2, 0.1), rel=1e-3)
    assert "moves the corners" in effect_words(good)
    assert "shifts by +0.200 E, −0.100 N" in as_text(calibration_paragraph(project))
    bad = typed_control(project, "K3", "measured_northing", "6184700.3")
    refused = hand_off_set(bad, plans)
    arrows = effect_arrows(refused)
    assert [label.split()[0] for label in arrows.label] == ["K1", "K2", "K3", "K4"]
    assert arrows.amiss.all()
    assert "Coordinates stay on the grid" in effect_words(refused)
    assert "without K3" in as_text(calibration_paragraph(bad))
