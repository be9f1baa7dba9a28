"""Lengths and bearings as typed: what is read, exactly, and what is refused in one sentence."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk.core.model import InputProblem
from layoutdesk.session.units import bearing_parts, length_m, unit_length_m


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("2.4", 2.4),
        ("2,4", 2.4),
        (" 2.4 m", 2.4),
        ("2.4m", 2.4),
        (".5", 0.5),
        ("3.", 3.0),
        ("+3", 3.0),
        ("-3", -3.0),
        ("−3", -3.0),
        ("-8ft", -8 * 0.3048),
        ("240 cm", 2.4),
        ("2400mm", 2.4),
        ("0.1 km", 100.0),
        ("8ft", 8 * 0.3048),
        ("8 FT", 8 * 0.3048),
        ("8ft6in", 2.5908),
        ("8ft 6in", 2.5908),
        ("8'6\"", 2.5908),
        ("8' 6\"", 2.5908),
        ("8′6″", 2.5908),
        ("8’6”", 2.5908),
        ("8'6''", 2.5908),
        ("5''", 0.127),
        ("6in", 0.1524),
        ("1 yd", 0.9144),
        ("8usft", 9600 / 3937),
        ("8 ftUS", 9600 / 3937),
    ],
)
def test_lengths_people_type(text, metres):
    assert length_m(text) == pytest.approx(metres, rel=1e-15, abs=0)


@pytest.mark.parametrize(
    "text",
    [
        "", " ", "m", "nan", "inf", "-inf", "1e3", "abc", "1.2.3", "1,2,3", "1,000 ft", "8 ft 6", "8 kg",
        "2.4 m/s", "5 lightning", "5 degC", "5 m'", "5 ft\"\"", "5 ''''", "5''' ", "5 =", "0x10", "5 m 3", "½",
        "5 e", "5 count", "5 m²", "1/2", "- ft", "5 in in", "()", "5 None", "\u0000", "5\nm\nx",
    ],
)  # fmt: skip
def test_what_is_no_length_is_refused_in_one_sentence(text):
    with pytest.raises(InputProblem) as refused:
        length_m(text)
    sentence = str(refused.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    assert "use m, cm" in sentence or "write it like" in sentence or "two ways" in sentence


@given(
    st.one_of(
        st.text(max_size=8),
        st.from_regex(r"\A *-?\d{1,3}[.,]?\d? *[a-z'\"µ]{0,4}\d?[a-zA-Z'\"]{0,3}\Z"),
    )
)
def test_any_text_is_a_length_or_refused(text):
    try:
        assert math.isfinite(length_m(text))
    except InputProblem as problem:
        assert str(problem)


@pytest.mark.parametrize(
    ("unit", "metres"),
    [
        ("m", Fraction(1)),
        ("cm", Fraction(1, 100)),
        ("mm", Fraction(1, 1000)),
        ("ft", Fraction(3048, 10000)),  # international foot, 1959 agreement
        ("in", Fraction(254, 10000)),
        ("yd", Fraction(9144, 10000)),
        ("usft", Fraction(1200, 3937)),  # US survey foot, NIST SP 811
    ],
)
def test_units_have_their_exact_length(unit, metres):
    assert unit_length_m(unit) == float(metres)


def test_the_two_feet_are_two_units():
    # 2 ppm: 30 cm in 150 km of state plane northing
    assert unit_length_m("usft") / unit_length_m("ft") - 1 == pytest.approx(2.000004e-6, rel=1e-6)


def test_a_bare_number_is_in_the_unit_on_show():
    assert length_m("8", "ft") == 8 * 0.3048
    assert length_m("8m", "ft") == 8.0
    assert length_m("8usft", "ft") == 8 * (1200 / 3937)


@given(st.floats(0.01, 5000), st.sampled_from(["m", "cm", "mm", "ft", "in", "usft"]))
def test_a_length_and_its_unit_come_back(amount, unit):
    text = f"{amount:.6f}{unit}"
    assert length_m(text) == pytest.approx(float(f"{amount:.6f}") * unit_length_m(unit), rel=1e-15)


@pytest.mark.parametrize(
    ("text", "degrees", "north"),
    [
        ("18", 18.0, "true"),
        ("018.5°", 18.5, "true"),
        ("18,5", 18.5, "true"),
        ("18°30'15\"", 18 + 30 / 60 + 15 / 3600, "true"),
        ("18 30 15", 18 + 30 / 60 + 15 / 3600, "true"),
        ("18d30m", 18.5, "true"),
        ("-10", 350.0, "true"),
        ("360", 0.0, "true"),
        ("N18°30'E", 18.5, "true"),
        ("s10°30'w", 190.5, "true"),
        ("N 10 W", 350.0, "true"),
        ("S20E", 160.0, "true"),
        ("17.4 grid", 17.4, "grid"),
        ("17.4 Magnetic", 17.4, "magnetic"),
        ("17.4mag", 17.4, "magnetic"),
        ("N10W grid", 350.0, "grid"),
        ("18 true", 18.0, "true"),
    ],
)
def test_bearings_people_type(text, degrees, north):
    found, convention = bearing_parts(text)
    assert found == pytest.approx(degrees, abs=1e-12)
    assert convention == north


@pytest.mark.parametrize(
    "text",
    ["", "abc", "grid", "nan", "inf", "1e1", "721", "-361", "N91E", "NE", "N E", "N-5E", "18°61'", "1.2.3",
     "18 30 15 7", "north", "18 grid true"],
)  # fmt: skip
def test_what_is_no_bearing_is_refused_in_one_sentence(text):
    with pytest.raises(
        InputProblem, match=r"is no bearing: write degrees clockwise from north.*\.$"
    ):
        bearing_parts(text)


@given(st.text(max_size=12))
def test_any_text_is_a_bearing_or_refused(text):
    try:
        degrees, convention = bearing_parts(text)
    except InputProblem:
        return
    assert 0 <= degrees < 360
    assert convention in ("true", "grid", "magnetic")
