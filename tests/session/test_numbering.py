"""Corners where numbering begins: their words, and changing them with every row left in place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import (
    Alley,
    Block,
    EdgeWidth,
    Exclusion,
    InputProblem,
    Override,
    Project,
    RowRules,
    Site,
    SiteFrame,
)
from layoutdesk.session.numbering import (
    COMPASS,
    corners,
    nearest_corner,
    start_corner,
    typed_corner,
    with_start_corner,
)

SITE = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
OUTLINE = shapely.Polygon([(0, 0), (180, 12), (171, 140), (90, 171), (-8, 120)])
POND = Exclusion(shapely.Point(80, 70).buffer(9), 4.0, kind="pond")


def a_project(rules: RowRules, **block) -> Project:
    return Project("Test", SITE, (Block("B1", OUTLINE, rules, **block),), (POND,))


def laid(project: Project):
    return lay_rows(project.blocks[0], None, project.exclusions)


def ends_by_number(plan) -> dict[int, np.ndarray]:
    """Both ends of each row's segments in the plane, in an order that direction does not change."""
    found = {}
    for number in np.unique(plan.segments.number):
        ends = plan.segment_ends_m[plan.segments.number == number].reshape(-1, 2)
        found[int(number)] = ends[np.lexsort(np.round(ends, 4).T)]
    return found


def assert_rows_in_place(before: Project, after: Project) -> None:
    was, now = ends_by_number(laid(before)), ends_by_number(laid(after))
    assert list(was) == list(now)
    for number, ends in was.items():
        np.testing.assert_allclose(now[number], ends, rtol=0, atol=1e-6)


@given(st.floats(0, 360, exclude_max=True))
def test_the_four_corners_of_a_block_always_have_four_words(bearing_deg):
    words = [c.word for c in corners(bearing_deg)]
    assert len(set(words)) == 4
    assert set(words) <= set(COMPASS)


@pytest.mark.parametrize("eighth", range(16))
def test_corners_at_the_very_bounds_of_the_winds_have_four_words(eighth):
    for nudge in (0.0, 1e-13, -1e-13):
        assert len({c.word for c in corners(22.5 * eighth + nudge)}) == 4


@pytest.mark.parametrize(
    ("bearing_deg", "number_from", "word"),
    [
        (0, "left", "south-west"),
        (18, "right", "south-east"),
        (90, "left", "north-west"),
        (90, "right", "south-west"),
        (180, "left", "north-east"),
        (45, "left", "west"),
    ],
)
def test_numbering_begins_where_a_person_would_point(bearing_deg, number_from, word):
    rules = RowRules(bearing_deg=bearing_deg, number_from=number_from)
    assert start_corner(rules).word == word


def test_a_corner_says_what_it_does_to_rows_and_numbers():
    meanings = {c.word: c.meaning for c in corners(18)}
    assert meanings["south-west"] == "rows run north, numbers grow to the east"
    assert meanings["north-east"] == "rows run south, numbers grow to the west"


def test_the_first_row_stands_at_the_corner_chosen():
    project = a_project(RowRules(bearing_deg=18))
    towards = {"south-west": (-1, -1), "south-east": (1, -1)}
    towards |= {"north-west": (-1, 1), "north-east": (1, 1)}
    for word, (east, north) in towards.items():
        plan = laid(with_start_corner(project, "B1", word))
        starts = plan.segment_ends_m[:, 0]
        first, rest = plan.segments.number == plan.segments.number.min(), starts.mean(axis=0)
        assert np.sign((starts[first].mean(axis=0) - rest)[0]) == east
        ends = plan.segment_ends_m.mean(axis=0)
        assert np.sign(ends[0, 1] - ends[1, 1]) == north


def test_the_other_side_keeps_every_row_where_it_is_and_the_bearing():
    project = a_project(RowRules(bearing_deg=18, first_row_m=0.7))
    after = with_start_corner(project, "B1", "south-east")
    assert after.blocks[0].rules == replace(project.blocks[0].rules, number_from="right")
    assert with_start_corner(after, "B1", "south-west") == project


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0, 360, exclude_max=True),
    st.sampled_from([0.0, 0.35, 2.39]),
    st.floats(0.7, 4.0),
    st.sampled_from(["left", "right"]),
)
def test_the_other_end_keeps_every_row_line_and_its_number(bearing, first, spacing, side):
    rules = RowRules(
        bearing_deg=bearing,
        first_row_m=min(first, spacing * 0.99),
        row_spacing_m=spacing,
        number_from=side,
        first_number=7,
    )
    project = a_project(rules, edge_widths=(EdgeWidth(0, 1, 14.0),))
    here = start_corner(rules)
    across = next(c for c in corners(bearing) if c.end == "far" and c.side == here.side)
    after = with_start_corner(project, "B1", across.word)
    assert after.blocks[0].rules.bearing_deg == pytest.approx((bearing + 180) % 360)
    assert_rows_in_place(project, after)
    assert start_corner(after.blocks[0].rules).word == across.word


def test_exact_alignments_keep_their_last_row():
    block = Block("B1", shapely.box(0, 0, 24, 166), RowRules(side_margin_m=1.2))
    project = Project("Test", SITE, (block,))
    after = with_start_corner(project, "B1", "north-west")
    assert laid(project).n_rows == 10
    assert_rows_in_place(project, after)


def test_alleys_stay_where_they_are():
    rules = RowRules(bearing_deg=18, alley_every_m=50.0, alleys=(Alley(90, 100, 5.0, 100.0),))
    project = a_project(rules)
    after = with_start_corner(project, "B1", "north-west")
    assert_rows_in_place(project, after)
    assert after.blocks[0].rules.alley_every_m == 0.0
    assert after.blocks[0].rules.alleys[0] == rules.alleys[0]


def test_alleys_at_an_interval_that_come_to_lie_the_same_stay_a_rule():
    block = Block("B1", shapely.box(0, 0, 100, 150), RowRules(alley_every_m=50.0))
    project = Project("Test", SITE, (block,))
    after = with_start_corner(project, "B1", "north-west")
    assert after.blocks[0].rules.alley_every_m == 50.0
    assert_rows_in_place(project, after)


def test_what_was_decided_for_single_rows_goes_with_their_lines():
    plain = laid(a_project(RowRules(bearing_deg=18)))
    line, (x, y) = int(plain.segments.line[3]), plain.segment_ends_m[3].mean(axis=0).tolist()
    left_out = Override("row left out", line, x, y)
    after = with_start_corner(
        a_project(RowRules(bearing_deg=18), overrides=(left_out,)), "B1", "north-west"
    )
    turned = laid(with_start_corner(a_project(RowRules(bearing_deg=18)), "B1", "north-west"))
    away_m = np.abs(turned.axes.to_axes(np.array([x, y]))[1] - turned.segments.across_m)
    override = after.blocks[0].overrides[0]
    assert override.line == turned.segments.line[away_m.argmin()]
    assert away_m.min() < 1e-6
    assert (override.what, override.x_m, override.y_m) == ("row left out", x, y)


def test_the_best_place_stays_a_wish():
    after = with_start_corner(a_project(RowRules(first_row_m="best")), "B1", "north-west")
    assert after.blocks[0].rules.first_row_m == "best"


def test_rows_far_from_the_edge_cannot_be_told_from_the_other_end():
    project = a_project(RowRules(bearing_deg=18, first_row_m=9.0))
    with pytest.raises(InputProblem, match=r"^Rows of B1 cannot begin at the other end while"):
        with_start_corner(project, "B1", "north-west")


@pytest.mark.parametrize("text", ["south-west corner", "SW", "South West", " south-west "])
def test_corners_people_type(text):
    assert typed_corner(text) == "south-west"


def test_what_is_no_corner_is_refused():
    with pytest.raises(InputProblem, match=r"^Starting corner: 'middle' is none of north, "):
        typed_corner("middle")


def test_a_word_a_block_has_not_takes_the_nearest_corner():
    assert nearest_corner(45, "south-west").word in ("west", "south")
    assert nearest_corner(0, "south-west").word == "south-west"
