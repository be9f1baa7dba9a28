"""Rows and vines as typed: what is read, what is refused, and that what is shown can be typed again."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.model import Block, InputProblem, Part, Project, Site, SiteFrame
from layoutdesk.core.planting.assigned import vines_of_parts
from layoutdesk.session.part_words import (
    parts_of_selection,
    parts_text,
    typed_parts,
    vines_of_text,
)
from layoutdesk.session.selection import rows_named
from tests.core.planting.planted_rows import PLANS

NAMES = ("B1", "Old Mill", "North; low", "Rows", "8", "Süd-Straße", "B1-R2", "every 3")


def project(*names) -> Project:
    site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    outline = shapely.box(0, 0, 50, 50)
    return Project("Plain", site, tuple(Block(name, outline) for name in names))


PLAIN = project("B1", "Old Mill")


@st.composite
def parts(draw) -> Part:
    rows = draw(st.one_of(st.none(), st.tuples(st.integers(0, 2000), st.integers(0, 2000))))
    first, last = rows or (None, None)
    if rows and draw(st.booleans()):
        last = first
    begin = draw(st.integers(1, 400))
    end = draw(st.one_of(st.none(), st.integers(begin, 500)))
    letter = draw(st.sampled_from(["", "A", "B", "Z", "AA"]))
    every = st.one_of(st.just(1), st.integers(1, 120))
    return Part(
        draw(st.sampled_from(NAMES)), first, last, letter, begin, end, draw(every), draw(every)
    )


@given(st.lists(parts(), min_size=1, max_size=4))
@settings(max_examples=400, deadline=None)
def test_what_is_shown_can_be_typed_again(some):
    assert typed_parts(parts_text(tuple(some)), project(*NAMES)) == tuple(some)


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("B1", Part("B1")),
        ("b1 rows 12–40", Part("B1", 12, 40)),
        ("B1: 12 to 40", Part("B1", 12, 40)),
        ("OLD MILL row 7", Part("Old Mill", 7, 7)),
        ("B1 rows 3-30 every 9th", Part("B1", 3, 30, every_row=9)),
        ("B1 rows 3-30 every 9 rows, every 5th vine", Part("B1", 3, 30, "", 1, None, 9, 5)),
        ("B1 every 9th vine", Part("B1", every_vine=9)),
        ("B1 all rows every 4", Part("B1", every_row=4)),
        ("b1-r012a", Part("B1", 12, 12, "A")),
        ("B1-R012", Part("B1", 12, 12)),
        ("B1-R012A-V034", Part("B1", 12, 12, "A", 34, 34)),
        ("B1-R012A-V034..V060", Part("B1", 12, 12, "A", 34, 60)),
        ("B1-R012A-V034..end", Part("B1", 12, 12, "A", 34)),
        ("B1 row 5 segment b vines 10-20", Part("B1", 5, 5, "B", 10, 20)),
    ],
)
def test_rows_and_vines_are_read_as_people_write_them(text, meant):
    assert typed_parts(text, PLAIN) == (meant,)


def test_a_block_goes_on_for_those_behind_it_and_the_only_one_needs_no_name():
    assert typed_parts("B1 rows 3-5, 9; 12; Old Mill; B1-R020B", PLAIN) == (
        Part("B1", 3, 5), Part("B1", 9, 9), Part("B1", 12, 12), Part("Old Mill"), Part("B1", 20, 20, "B"),
    )  # fmt: skip
    assert typed_parts("rows 3-5", project("B1")) == (Part("B1", 3, 5),)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Nothing is said of where"),
        ("rows 3-5", "begins with no block's name; there are B1 and Old Mill"),
        ("B12 rows 3", "begins with no block's name"),
        ("B1 here", "says no rows or vines"),
        ("B1 rows 3-5 Old Mill", "says no rows or vines"),
        ("B1 vines 30-20", "the first comes before the last"),
        ("B1-R012A-V000", "counts begin with 1"),
        ("B1 rows 3-30 every 0", "counts begin with 1"),
        ("B1 row 99999999999", "too large"),
    ],
)
def test_what_is_no_part_is_refused_with_an_example(text, said):
    with pytest.raises(InputProblem, match=said):
        typed_parts(text, PLAIN)


def test_a_long_list_is_cut_short():
    some = tuple(Part("B1", r, r) for r in range(1, 20, 2))
    assert parts_text(some, 2) == "B1 row 1; B1 row 3; 8 more"


def test_a_selection_is_the_same_vines_whether_plans_are_at_hand_or_not():
    selection = rows_named(PLANS, "B1: 2-4; B1-R007B; Old Mill: 5")
    with_plans = parts_of_selection(selection, PLANS)
    assert with_plans == (Part("B1", 2, 4), Part("B1", 7, 7, "B"), Part("Old Mill", 5, 5))
    without = parts_of_selection(selection)
    assert np.array_equal(vines_of_parts(PLANS, without), vines_of_parts(PLANS, with_plans))
    assert typed_parts(parts_text(without), PLAIN) == without


def test_vines_that_are_nowhere_are_refused():
    assert len(vines_of_text(PLAIN, PLANS, "B1-R002A-V001..V003")) == 3
    with pytest.raises(InputProblem, match="No vine stands at B1-R002A-V004"):
        vines_of_text(PLAIN, PLANS, "B1-R002A-V004")  # left out on the plan
