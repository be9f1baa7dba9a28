"""The table of measures is one that files and people can rely on."""

from __future__ import annotations

import re
from importlib.resources import files

import pytest

from layoutdesk.core.compare import catalogue
from layoutdesk.core.compare.catalogue import MEASURES
from layoutdesk.core.compare.sweep import SWEPT
from layoutdesk.core.model import Study

SUFFIX = {
    "m": "_m",
    "%": "_pct",
    "h/day": "_h",
    "MJ/m2/day": "_mj_m2",
    "deg": "_deg",
    "money": "_cost",
}

by_name = pytest.mark.parametrize("measure", MEASURES.values(), ids=MEASURES)


@by_name
def test_a_name_ends_in_its_unit(measure):
    endings = [e for e in (*SUFFIX.values(), "_m2", "_ha") if measure.name.endswith(e)]
    if measure.unit:
        assert max(endings, key=len) == SUFFIX[measure.unit]
    else:
        assert not endings


@by_name
def test_a_definition_is_one_sentence(measure):
    text = measure.definition
    assert re.match(r"[A-Z0-9]", text)
    assert text.endswith(".")
    assert not re.search(r"[.!?] ", text)


@by_name
def test_what_is_better_and_needed_is_one_of_the_known_words(measure):
    assert measure.better in ("more", "less", "")
    assert measure.needs in ("", "terrain", "sun", "wind", "prices")
    assert measure.decimals in (0, 1, 2)
    assert measure.unit or measure.decimals == 0  # counts are whole


def test_no_name_or_label_stands_twice():
    assert len(MEASURES) == len(catalogue._TABLE)
    assert len({m.label for m in MEASURES.values()}) == len(MEASURES)


def test_names_that_others_read_are_there():
    outside = """vines rows segments row_length_m mean_row_m short_rows end_posts
        grade_along_max_pct grade_across_p95_pct sun_left_h sun_right_h"""
    assert set(outside.split()) <= set(MEASURES)
    assert set(SWEPT) <= set(MEASURES)


def test_a_new_study_chooses_measures_by_which_one_candidate_may_beat_another():
    assert Study().chosen
    assert all(MEASURES[name].better for name in Study().chosen)


@pytest.mark.parametrize(
    "word",
    """candidate;study;measure;base;best;chosen;beaten;adopt;sweep;short row;pass;terrain;relief
    contour;grade along;side tilt;canopy;face;light caught;parcel""".replace("\n", ";").split(";"),
)
def test_the_glossary_says_what_the_words_of_comparing_mean(word):
    text = (files("layoutdesk") / "NAMES.md").read_text(encoding="utf-8")
    section = text.split("\n## Comparing\n")[1].split("\n## ")[0]
    assert re.search(rf"^\| {word.strip()} \| \S.*\|$", section, re.MULTILINE)
