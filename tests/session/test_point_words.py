"""The choice of points and the table in words: what is shown can be typed, and what cannot be is told in one sentence."""

from __future__ import annotations

import pytest
import shapely

from layoutdesk.core.model import Block, HandOff, InputProblem, Project, RowRules, Site, SiteFrame
from layoutdesk.core.model.handoff import FORMATS
from layoutdesk.session.point_words import (
    QUANTITIES,
    points_paragraph_of,
    table_paragraph_of,
    with_stepped_point,
    with_typed_point,
)
from layoutdesk.session.specification import Value

PROJECT = Project(
    "Bench",
    Site(SiteFrame(-34.5, 138.7, 0.0), "EPSG:4326", "EPSG:32754"),
    (Block("B1", shapely.box(0, 0, 60, 90), RowRules()),),
)


def typed(key, text, hand=None):
    return with_typed_point(hand or HandOff(), PROJECT, key, text)


def values(hand):
    paragraphs = points_paragraph_of(PROJECT, hand) + table_paragraph_of(PROJECT, hand)
    return {p.rule: p for s in paragraphs for p in s if isinstance(p, Value)}


def test_what_is_shown_can_be_typed_again():
    hand = typed("points.kinds", "vines, row ends and control points")
    for key, text in (
        ("points.parts", "B1 rows 3-9 every 2"),
        ("points.day", "2"),
        ("points.vine_every", "5"),
        ("points.order", "serpentine"),
        ("points.most_points", "5000"),
        ("formats", "kmz, csv"),
        ("table.columns", "code, easting; northing"),
        ("table.separator", "semicolon"),
        ("table.decimal_mark", "comma"),
        ("table.unit", "US survey foot"),
        ("table.description", "{feature} {row}{segment}"),
        ("feature.vine", "VN"),
        ("table.is_sealed", "its last point"),
    ):
        hand = typed(key, text, hand)
    shown = values(hand)
    assert set(shown) >= {"points.kinds", "points.parts", "feature.vine", "table.unit"}
    for key, value in shown.items():
        assert typed(key, value.text, hand) == hand, key
    assert hand.points.kinds == ("row_end", "vine", "control")
    assert hand.formats == ("csv", "kmz")
    assert hand.table.columns == ("code", "easting", "northing")
    assert hand.table.feature("vine") == "VN"
    assert hand.table.feature("end_post") == "end post"


def test_nothing_said_is_the_whole_site_every_day_and_tables_of_any_size():
    hand = typed("points.parts", "the whole site", typed("points.parts", "B1 row 2"))
    hand = typed("points.day", "all days", typed("points.day", "3", hand))
    assert hand == HandOff()
    assert typed("formats", "all").formats == tuple(FORMATS)


@pytest.mark.parametrize(
    ("key", "text", "told"),
    [
        ("points.kinds", "vines, gnomes", "gnomes"),
        ("points.kinds", "", "some of"),
        ("points.parts", "B7 rows 2-3", "B7"),
        ("formats", "csv, doc", "doc"),
        ("table.columns", "northing, northing", "twice"),
        ("table.columns", "", "some of"),
        ("table.decimals", "12", "between"),
        ("table.description", "", "{code}"),
        ("points.first_number", "-4", "between"),
        ("points.order", "zigzag", "by kind"),
    ],
)
def test_what_cannot_be_is_told_in_one_sentence(key, text, told):
    with pytest.raises(InputProblem) as problem:
        typed(key, text)
    assert told in str(problem.value)
    assert str(problem.value).endswith(".")


def test_a_comma_cannot_part_columns_and_decimals_both():
    with pytest.raises(InputProblem, match="both be a comma"):
        typed("table.decimal_mark", "comma")
    assert (
        typed("table.decimal_mark", "comma", typed("table.separator", "tab")).table.decimal_mark
        == "comma"
    )


def test_steps_stay_within_their_limits():
    hand = HandOff()
    for key in QUANTITIES:
        for steps in (-3, 1, 40):
            with_stepped_point(hand, key, steps)
    assert with_stepped_point(hand, "points.vine_every", -5).points.vine_every == 1
    assert with_stepped_point(hand, "table.decimals", 9).table.decimals == 6
    assert with_stepped_point(hand, "points.order", 1).points.order == "row by row"
