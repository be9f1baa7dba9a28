"""Measures in words: units of people, figures, and what sets candidates apart."""

from __future__ import annotations

import numpy as np
import pytest

from layoutdesk.core.compare.catalogue import MEASURES
from layoutdesk.core.model import Prices, Study
from layoutdesk.session.measure_words import (
    measure_heading,
    measure_text,
    measure_unit,
    what_differs,
)


def told(unit="m", study=None, **values) -> str:
    arrays = {name: np.array(v, dtype=float) for name, v in values.items()}
    return what_differs(arrays, unit, study).replace("\u202f", " ")


@pytest.mark.parametrize("name", MEASURES)
def test_a_heading_says_the_unit_that_the_name_carries(name):
    heading = measure_heading(name, study=Study(prices=Prices(currency="NZD")))
    unit = next(
        (
            said
            for end, said in (
                ("_mj_m2", "MJ/m² a day"),
                ("_m", "m"),
                ("_pct", "%"),
                ("_h", "h a day"),
                ("_deg", "°"),
                ("_cost", "NZD"),
            )
            if name.endswith(end)
        ),
        "",
    )
    assert heading == (f"{MEASURES[name].label}, {unit}" if unit else MEASURES[name].label)


@pytest.mark.parametrize(
    ("unit", "heading", "text"),
    [
        ("m", "Mean row, m", "152.4"),
        ("ft", "Mean row, ft", "500.0"),
        ("usft", "Mean row, US ft", "500.0"),
    ],
)
def test_lengths_are_in_peoples_unit(unit, heading, text):
    assert measure_heading("mean_row_m", unit) == heading
    assert measure_text("mean_row_m", 152.4, unit) == text


@pytest.mark.parametrize("name", ["sun_hot_mj_m2", "grade_along_max_pct", "vines", "posts_cost"])
def test_what_is_no_length_is_the_same_figure_in_feet(name):
    assert measure_text(name, 12.0, "ft") == measure_text(name, 12.0, "m")
    assert measure_unit(name, "ft") == measure_unit(name, "m")


def test_thousands_stand_apart():
    assert measure_text("vines", 23_495.0) == "23\u202f495"


def test_it_is_told_how_little_vines_differ_and_what_does():
    text = told(
        vines=[23_495, 23_425, 23_430],
        segments=[149, 171, 160],
        mean_row_m=[240.0, 209.0, 223.0],
        short_rows=[4, 16, 8],
        end_posts=[298, 342, 320],
        sun_hot_mj_m2=[2.01, 3.95, 3.0],
    )
    assert text == (
        "Vines differ by 0.3 %. Farthest apart: short rows, 4 to 16; load in the hottest hours, 2.01 to "
        "3.95 MJ/m² a day; mean row, 209.0 to 240.0 m."
    )


def test_of_one_subject_only_the_widest_is_told():
    text = told(vines=[100, 100], mean_row_m=[100, 80], end_posts=[40, 60])
    assert "end posts" in text
    assert "mean row" not in text


def test_a_part_too_small_to_matter_is_passed_over_however_far_apart():
    few = {"vines": [100, 100], "row_length_m": [9000, 9000], "idle_share_pct": [4, 5]}
    assert "over the limit" not in told(**few, steep_across_m=[0, 80])
    assert "row over the limit of tilt, 0 to 900 m" in told(**few, steep_across_m=[0, 900])


def test_what_differs_less_than_the_vines_is_left_out():
    assert told(vines=[100, 50], mean_row_m=[100, 90]) == "Vines differ by 50 %."


def test_figures_that_look_equal_do_not_differ():
    assert told(vines=[100, 100], mean_row_m=[90.01, 90.04]) == "All have as many vines."


def test_the_least_difference_that_there_is_is_no_zero():
    assert told(vines=[1_000_000, 999_999]).startswith("Vines differ by less than 0.1 %.")


def test_lengths_and_money_are_told_in_peoples_units():
    study = Study(prices=Prices(30, 6, "NZD"))
    text = told("ft", study, vines=[9, 9], mean_row_m=[152.4, 30.48], posts_cost=[1000, 1200])
    assert "mean row, 100.0 to 500.0 ft" in text
    assert "cost of posts and ends, 1 000 to 1 200 NZD" in text


@pytest.mark.parametrize("values", [{}, {"vines": [5]}, {"vines": [5, np.nan]}])
def test_with_fewer_than_two_to_compare_nothing_is_said(values):
    assert told(**values) == ""
