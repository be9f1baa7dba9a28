"""Places typed instead of clicked: what is read, what is refused in one sentence, and how exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS, Transformer

from layoutdesk.core.model import InputProblem, Project, Site
from layoutdesk.formats.bearings import NorthOffsets
from layoutdesk.formats.crs import frame_crs, frame_to_survey, make_frame
from layoutdesk.session.typed_places import survey_transforms, typed_leg, typed_place

NORTHS = NorthOffsets(1.25, 10.0)
MIDDLE = np.array([512_000.0, 6_101_000.0])


def from_survey(easting_northing):
    return np.asarray(easting_northing) - MIDDLE


def leg(text, unit="m"):
    return typed_leg(text, unit, NORTHS.true_from)


def typed(text, anchor=(100.0, 50.0), unit="m", grid_unit="m", back=from_survey):
    return typed_place(
        text,
        anchor=anchor,
        unit=unit,
        from_survey=back,
        true_from=NORTHS.true_from,
        grid_unit=grid_unit,
    )


@pytest.mark.parametrize(
    ("text", "length", "bearing"),
    [
        ("25.4m 018.5", 25.4, 18.5),
        ("25.4 @ 18.5", 25.4, 18.5),
        ("25.4@18.5", 25.4, 18.5),
        ("25.4, 18.5 grid", 25.4, 19.75),
        ("25.4, 18.5 magnetic", 25.4, 28.5),
        ("25.4 18.5 mag", 25.4, 28.5),
        ("25.4 18.5 true", 25.4, 18.5),
        ("25.4 18.5", 25.4, 18.5),
        ("25.4,18.5", 25.4, 18.5),
        ("25,4 18,5", 25.4, 18.5),
        ("25,4; 18,5", 25.4, 18.5),
        ("25.4 m 018.5°", 25.4, 18.5),
        ("25.4 18°30'", 25.4, 18.5),
        ("25.4 18 30 00", 25.4, 18.5),
        ("25.4 N18°30'E", 25.4, 18.5),
        ("25.4 S 10 W", 25.4, 190.0),
        ("25.4 N10W grid", 25.4, 351.25),
        ("25.4 @ -10", 25.4, 350.0),
        ("25.4 360", 25.4, 0.0),
        ("8' 6\" 18", 2.5908, 18.0),
        ("8 ft 6 in 18 30", 2.5908, 18.5),
        ("8ft6in @ 18", 2.5908, 18.0),
        ("100 usft, 90", 120_000 / 3937, 90.0),
        ("100 US ft 90", 120_000 / 3937, 90.0),
        ("1'234.5 m 90", 1234.5, 90.0),
        ("1\u2009234.5 90", 1234.5, 90.0),
        ("1\u202f234.5m @ 90", 1234.5, 90.0),
        ("25.4\u00a0m 90", 25.4, 90.0),
        ("12 km @ 90", 12_000.0, 90.0),
        ("9999 0", 9999.0, 0.0),
    ],
)
def test_legs_people_type(text, length, bearing):
    found = leg(text)
    assert found == pytest.approx((length, bearing), abs=1e-9)


def test_a_bare_length_is_in_the_unit_on_show():
    assert leg("100 90", "ft")[0] == pytest.approx(30.48)
    assert leg("100m 90", "ft")[0] == 100.0


def test_a_leg_goes_from_the_anchor_along_its_bearing():
    assert typed("40 @ 90") == (140.0, 50.0)
    assert typed("10 N30E") == pytest.approx((105.0, 50 + 10 * math.cos(math.pi / 6)), abs=1e-12)
    assert typed("10 88.75 grid") == pytest.approx((110.0, 50.0), abs=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "E 512345.67 N 6101234.5",
        "N 6101234.5 E 512345.67",
        "e512345.67, n6101234.5",
        "N6101234.5,E512345.67",
        "E: 512345.67; N: 6101234.5",
        "E=512345.67 N=6101234.5",
        "Easting 512345.67 Northing 6101234.5",
        "512345.67E 6101234.5N",
        "6101234.5 N, 512345.67 E",
        "E 512'345.67 N 6'101'234.5",
        "E 512\u2009345.67 N 6\u2009101\u2009234.5",
        "E 512\u202f345.67   N 6\u202f101\u202f234.50 m",  # as the foot of the window tells it
        "E 512345.67 m N 6101234.5 m",
        "E 512345,67 N 6101234,5",
        "E 512,345.67 N 6,101,234.5",
    ],
)
def test_coordinates_in_any_order_by_their_letters(text):
    assert typed(text, anchor=None) == pytest.approx((345.67, 234.5), abs=1e-9)


def test_coordinates_may_be_negative_and_whole():
    assert typed("E -12 N +7", back=lambda en: en) == (-12.0, 7.0)
    assert typed("E −12.5 N 7.", back=lambda en: en) == (-12.5, 7.0)


def test_a_bearing_by_quadrant_is_no_pair_of_coordinates():
    assert typed("25 N18E") == pytest.approx(
        (100 + 25 * math.sin(math.radians(18)), 50 + 25 * math.cos(math.radians(18)))
    )
    assert typed("25 N 18 E") == typed("25 N18E")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("512345.67 6101234.5", "write E 512345.67 N 6101234.5 for survey coordinates, or 25.4m @"),
        ("512345.67, 6101234.5", "has no letters"),
        ("10000 90", "has no letters"),
        ("25.4 361", "from 0 to 360"),
        ("25.4 -10", "from 0 to 360"),
        ("25.4 @ 800", "is no place: write"),
        ("25.4", "is no place: write"),
        ("", "is no place: write"),
        ("10 m 5 m", "is no place: write"),
        ("north", "is no place: write"),
        ("1,000 45", "two ways: write 1.000 or 1000"),
        ("0 45", "more than 0"),
        ("-5 45", "more than 0"),
        ("E 512,345 N 6101234.5", "two ways: write 512.345 or 512345"),
        ("E 512345 E 6101234", "E twice"),
        ("E 1.2.3 N 6101234", "is no number"),
        ("E 512345 ft N 6101234 ft", "are in m here"),
        ("E 512345", "is no place: write"),
        ("W 512345 N 6101234", "is no place: write"),
        ("E 6101234.5 N 512345.67", "km from the site: check the numbers"),
    ],
)
def test_what_is_refused_says_what_to_write_in_one_sentence(text, says):
    with pytest.raises(InputProblem) as refused:
        typed(text)
    sentence = str(refused.value)
    assert says in sentence
    assert sentence.endswith(".")
    assert "\n" not in sentence


def test_a_leg_needs_a_place_to_start_from_and_coordinates_a_survey_grid():
    with pytest.raises(InputProblem, match=r"need a place to start from: set the first place, or"):
        typed("25.4 18.5", anchor=None)
    with pytest.raises(InputProblem, match=r"needs a survey grid, which is not set"):
        typed("E 512345.67 N 6101234.5", back=None)
    with pytest.raises(InputProblem, match=r"have no unit here"):
        typed("E 512345.67 N 6101234.5 m", grid_unit="")


def test_feet_of_the_grid_are_told_apart():
    assert typed("E 512345.67 N 6101234.5 US ft", grid_unit="usft") == pytest.approx(
        (345.67, 234.5)
    )
    with pytest.raises(InputProblem, match="are in usft here"):
        typed("E 512345.67 N 6101234.5 ft", grid_unit="usft")


def test_a_magnetic_bearing_without_a_declination_is_refused():
    with pytest.raises(
        InputProblem, match="no magnetic declination is known for this date; give a"
    ):
        typed_leg("25 18 magnetic", "m", NorthOffsets(1.0, None).true_from)


@given(
    st.floats(0.001, 9000), st.floats(0, 359.999), st.sampled_from([" ", ", ", " @ ", "m ", " m, "])
)
def test_a_leg_comes_back_as_typed(length, bearing, between):
    found = leg(f"{length:.4f}{between}{bearing:.4f}")
    assert found == pytest.approx(
        (float(f"{length:.4f}"), float(f"{bearing:.4f}") % 360), abs=1e-12
    )


@given(st.floats(-9e6, 9e6), st.floats(-9e6, 9e6), st.booleans(), st.booleans())
def test_coordinates_come_back_as_typed(easting, northing, swapped, marked):
    parts = [f"{c} {v:,.4f}" for c, v in zip("EN", (easting, northing), strict=True)]
    text = " ".join(parts[::-1] if swapped else parts).replace(",", "\u202f" if marked else "")
    seen = []

    def keep(en):
        seen.append(en[0])
        return np.zeros((1, 2))

    typed(text, back=keep)
    assert seen[0] == pytest.approx((easting, northing), abs=6e-5)


@given(
    st.one_of(st.text(max_size=20), st.from_regex(r"\A[NEne]? ?\d{1,3}[.,']?\d{0,3}[ ,@mft']{1,3}[NEne]?\d{1,3}[°'\"]?[NEne]?\Z"))
)  # fmt: skip
def test_any_text_is_a_place_or_refused(text):
    try:
        x, y = typed(text)
    except InputProblem as problem:
        assert str(problem).endswith(".")
        return
    assert math.isfinite(x)
    assert math.isfinite(y)


SITES = {
    "metres of UTM": (CRS.from_epsg(32754), (512_000.0, 6_101_000.0), "EPSG:32754", 120.0),
    # Oregon South, NAD83, Lambert; the easting is far from its meridian
    "US survey feet of a state plane": (CRS.from_epsg(2270), (4_100_000.0, 250_000.0), "EPSG:2270", 400.0),
    "degrees": (CRS.from_epsg(4326), (173.9, -41.5), "EPSG:2193", 0.0),
    # an outline in WGS 84 degrees for a grid on another datum: carried over unshifted
    "degrees on another datum": (CRS.from_epsg(4326), (9.2, 48.9), "EPSG:31467", 250.0),
    "an oblique grid": (CRS.from_epsg(4258), (7.4, 46.9), "EPSG:2056", 550.0),
}  # fmt: skip


@pytest.fixture(scope="module", params=SITES)
def site(request):
    source, middle, survey, height = SITES[request.param]
    frame = make_frame(source, *(np.array([c]) for c in middle), height)
    return Project("x", Site(frame, source.to_string(), survey), ())


def test_the_way_back_from_the_survey_grid_is_exact(site):
    to_survey, back = survey_transforms(site)
    rng = np.random.default_rng(7)
    for reach in (2_000.0, 40_000.0):
        xy = rng.uniform(-reach, reach, (400, 2))
        assert np.abs(back(to_survey(xy)) - xy).max() < 1e-6
        assert np.abs(to_survey(back(to_survey(xy))) - to_survey(xy)).max() < 1e-6
    frame = site.site.frame
    assert (to_survey(xy) == frame_to_survey(frame, site.site.survey_crs)(xy)).all()


def test_the_way_back_is_the_inverse_that_proj_gives_where_no_datum_is_carried_over():
    source, middle, survey, height = SITES["US survey feet of a state plane"]
    frame = make_frame(source, *(np.array([c]) for c in middle), height)
    there = Transformer.from_crs(frame_crs(frame), CRS.from_epsg(2270), always_xy=True)
    _, back = survey_transforms(Project("x", Site(frame, survey, survey), ()))
    en = np.array([[4_100_123.45, 250_678.9], [4_099_000.0, 249_000.0]])
    proj = np.column_stack(there.transform(*en.T, direction="INVERSE"))
    assert np.abs(back(en) - proj).max() < 1e-6


def test_a_typed_place_lies_where_the_survey_grid_says(site):
    to_survey, back = survey_transforms(site)
    wanted = np.round(to_survey(np.array([[31.0, -62.0]]))[0], 2)
    text = f"N {wanted[1]:.2f} E {wanted[0]:.2f}"
    place = typed(text, anchor=None, back=back)
    assert to_survey(np.array([place]))[0] == pytest.approx(wanted, abs=1e-6)
    assert np.hypot(place[0] - 31, place[1] + 62) < 0.01


def test_what_lies_off_the_site_is_refused_and_never_a_wrong_place(site):
    _, back = survey_transforms(site)
    for text in ("E 1 N 1", "E 99999999 N 99999999", "E 1e9 N 0", "E 999999999999 N 5"):
        with pytest.raises(InputProblem):
            typed(text, back=back)


def test_one_lost_place_takes_no_other_with_it(site):
    to_survey, back = survey_transforms(site)
    good = to_survey(np.array([[10.0, 20.0]]))
    both = back(np.concatenate([good, [[1e12, 1e12]]]))
    assert both[0] == pytest.approx((10.0, 20.0), abs=1e-6)
    assert not (np.abs(both[1]) < 1e5).all()
