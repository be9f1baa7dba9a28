"""Codes are read back as what they were made from."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.layout.numbering import (
    INDEX_DIGITS,
    Place,
    mark_code,
    place_of_code,
    segment_code,
    segment_letter,
)

few = settings(derandomize=True, deadline=None)
names = st.one_of(
    st.text("ABC019-_ .R", min_size=1, max_size=12).filter(lambda t: t.strip() == t),
    st.sampled_from(["B1", "B-R2", "B1-R001A", "NORTH-R012A-V001", "Ä 4"]),
)
numbers, letters, indexes = st.integers(0, 100_000), st.integers(0, 2000), st.integers(1, 100_000)


@few
@given(names, numbers, letters, st.sampled_from(list(INDEX_DIGITS)), indexes)
def test_a_code_names_what_it_was_made_from(block, number, letter, kind, index):
    code = mark_code(block, number, letter, kind, index)
    assert place_of_code(code) == Place(block, number, letter, kind, index)
    assert place_of_code(f" {code.lower()} ") == Place(block, number, letter, kind, index)


@few
@given(names, numbers, letters)
def test_a_segment_code_stops_at_the_segment(block, number, letter):
    assert place_of_code(segment_code(block, number, letter)) == Place(block, number, letter)


def test_a_row_is_named_without_its_letter():
    assert place_of_code("b1-r12") == Place("B1", 12)


def test_letters_are_unique_and_run_on_past_z():
    every = [segment_letter(k) for k in range(2000)]
    assert len(set(every)) == 2000
    assert every == sorted(every, key=lambda t: (len(t), t))
    assert every[701:703] == ["ZZ", "AAA"]


def test_what_is_no_code_is_none():
    for text in (
        "",
        "B1",
        "R012A",
        "-R012A",
        "B1-R",
        "B1-R012A-",
        "B1-R012A-V",
        "B1-R012-X1",
        "B1-R012A-V01 2",
    ):
        assert place_of_code(text) is None, text
