"""Rules of several blocks at once: what they show, and that an edit reaches just the right ones."""

from __future__ import annotations

import importlib.util
from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.model import (
    Alley,
    Block,
    Exclusion,
    InputProblem,
    Project,
    RowRules,
    Site,
    SiteFrame,
)
from layoutdesk.session.rule_scope import (
    edit_name,
    names_edited,
    scoped_paragraph,
    with_common,
    with_stepped_value,
    with_turned_rows,
    with_typed_value,
)
from layoutdesk.session.specification import Value, as_text

ALL = ("B1", "B2", "B3")


def a_project(*rules: RowRules, common=()) -> Project:
    site = Site(SiteFrame(47.0, 8.0), "EPSG:25832", "EPSG:25832")
    rules = rules or tuple(RowRules(bearing_deg=b) for b in (101.9, 117.9, 10))
    blocks = tuple(
        Block(f"B{i}", shapely.box(200 * i, 0, 200 * i + 150, 120), r, common=f"B{i}" in common)
        for i, r in enumerate(rules, 1)
    )
    pond = Exclusion(shapely.Point(260, 50).buffer(5), 5.0, kind="pond")
    return Project("Test", site, blocks, (pond,))


def each(project: Project, rule: str) -> list:
    return [getattr(b.rules, rule) for b in project.blocks]


def value(project: Project, names, rule: str, unit: str = "m") -> Value:
    parts = [p for s in scoped_paragraph(project, names, unit) for p in s]
    return next(p for p in parts if isinstance(p, Value) and p.rule == rule)


def test_a_step_shifts_each_block_from_its_own_value():
    project = with_stepped_value(a_project(), ALL, "bearing_deg", 2)
    assert each(project, "bearing_deg") == [103.0, 119.0, 11.0]


def test_typing_sets_all_blocks_in_scope_and_no_other():
    project = with_typed_value(a_project(), ("B1", "B3"), "row_spacing_m", "8ft")
    assert each(project, "row_spacing_m") == [2.4384, 2.4, 2.4384]
    assert each(project, "bearing_deg") == [101.9, 117.9, 10.0]


def test_a_refused_value_says_why():
    with pytest.raises(InputProblem, match=r"^Row spacing must lie between"):
        with_typed_value(a_project(), ALL, "row_spacing_m", "70")


def test_turning_turns_all_by_as_much():
    project = with_turned_rows(a_project(), ALL, 111.9)
    assert each(project, "bearing_deg") == [111.9, 127.9, 20.0]
    same = a_project(RowRules(bearing_deg=1 / 3), RowRules(bearing_deg=1 / 3))
    assert set(each(with_turned_rows(same, ("B1", "B2"), 12.3), "bearing_deg")) == {12.3}


def test_the_value_of_one_block_is_its_own_and_of_several_tells_all():
    project = a_project()
    assert value(project, ("B2",), "bearing_deg").text == "117.9°"
    assert value(project, ("B1", "B2"), "bearing_deg").text == "101.9° / 117.9°"
    assert value(project, ALL, "bearing_deg").text == "differs"
    assert value(project, ALL, "row_spacing_m").text == "2.40 m"


def test_an_edit_of_one_common_block_is_an_edit_of_all_of_them():
    rules = RowRules(bearing_deg=20)
    project = a_project(rules, rules, RowRules(), common=("B1", "B2"))
    assert names_edited(project, ("B2",)) == ("B1", "B2")
    assert names_edited(project, ("B3",)) == ("B3",)
    assert names_edited(project, ("B3", "B1")) == ALL
    changed = with_typed_value(project, ("B2",), "headland_m", "9")
    assert each(changed, "headland_m") == [9.0, 9.0, 8.0]
    changed = with_stepped_value(project, ("B1",), "bearing_deg", 1)
    assert each(changed, "bearing_deg") == [20.5, 20.5, 0.0]


def test_a_block_that_joins_takes_the_common_rules_with_bearing_and_alleys():
    shared = RowRules(bearing_deg=20, alleys=(Alley(300, 60, 6.0),))
    project = a_project(shared, RowRules(bearing_deg=77), RowRules(), common=("B1",))
    joined = with_common(project, "B2", True)
    assert joined.block("B2").rules == shared
    assert joined.block("B2").common
    left = with_common(joined, "B2", False)
    assert left.block("B2").rules == shared
    assert not left.block("B2").common
    assert names_edited(left, ("B2",)) == ("B2",)


def test_the_first_block_to_share_keeps_its_rules():
    project = with_common(a_project(), "B2", True)
    assert each(project, "bearing_deg") == [101.9, 117.9, 10.0]


def test_sharing_is_a_value_of_the_paragraph_where_there_are_several_blocks():
    project = a_project()
    assert "The rules of B2 are its own." in as_text(scoped_paragraph(project, ("B2",)))
    assert "rules of" not in as_text(scoped_paragraph(project, ALL))
    alone = replace(project, blocks=project.blocks[:1])
    assert "rules of" not in as_text(scoped_paragraph(alone, ("B1",)))
    project = with_typed_value(project, ("B1",), "common", "shared")
    project = with_typed_value(project, ("B2",), "common", "shared")
    assert "The rules of B2 are shared with B1." in as_text(scoped_paragraph(project, ("B2",)))
    assert project.block("B2").rules == project.block("B1").rules
    assert not with_typed_value(project, ("B2",), "common", "own").block("B2").common


@pytest.mark.parametrize(
    ("names", "rule", "name"),
    [
        (("B2",), "bearing_deg", "bearing of B2"),
        (ALL, "row_spacing_m", "row spacing of all blocks"),
        (("B1", "B3"), "leftover", "leftover of B1 and B3"),
        (("B1",), "clearance 0", "clearance of the pond"),
        (("B1",), "start_corner", "starting corner of B1"),
    ],
)
def test_undo_names_the_block(names, rule, name):
    assert edit_name(a_project(), names, rule) == name


def test_undo_names_no_block_where_there_is_one_and_all_that_share():
    project = a_project()
    alone = replace(project, blocks=project.blocks[:1])
    assert edit_name(alone, ("B1",), "bearing_deg") == "bearing"
    shared = a_project(RowRules(), RowRules(), RowRules(), common=("B1", "B2"))
    assert edit_name(shared, ("B2",), "bearing_deg") == "bearing of B1 and B2"
    assert edit_name(shared, ("B2",), "common") == "shared rules of B2"


def test_alleys_in_place_are_values_with_their_places():
    rules = RowRules(alleys=(Alley(260, 40, 6.0), Alley(260, 80, 4.0, 95.0)))
    project = a_project(rules, RowRules())
    text = as_text(scoped_paragraph(project, ("B1",)))
    assert (
        "No alleys cross the rows at intervals; one 6.0 m wide lies 40.0 m along them, and one 4.0 m "
        "wide lies 80.0 m along them at 095.0°."
    ) in text
    assert "one 6.0 m wide lies 40.0 m along those of B1" in as_text(
        scoped_paragraph(project, ("B1", "B2"))
    )
    wider = with_typed_value(project, ("B1",), "alley 1 B1", "20ft")
    assert [a.width_m for a in wider.block("B1").rules.alleys] == [6.0, 6.096]
    assert edit_name(project, ("B1",), "alley 1 B1") == "width of alley 2 of B1"
    assert [
        a.width_m
        for a in with_stepped_value(project, ("B1",), "alley 0 B1", 1).block("B1").rules.alleys
    ] == [6.5, 4.0]


def test_an_alley_typed_away_is_gone_and_stepping_never_takes_it_away():
    project = a_project(RowRules(alleys=(Alley(260, 40, 6.0), Alley(260, 80, 4.0))), RowRules())
    gone = with_typed_value(project, ("B1",), "alley 0 B1", "none")
    assert [a.width_m for a in gone.block("B1").rules.alleys] == [4.0]
    low = with_stepped_value(project, ("B1",), "alley 0 B1", -99)
    assert [a.width_m for a in low.block("B1").rules.alleys] == [0.5, 4.0]
    with pytest.raises(InputProblem, match=r"^Alley width must lie between"):
        with_typed_value(project, ("B1",), "alley 0 B1", "2 km")


def test_an_alley_of_common_rules_is_told_once_and_changed_in_all():
    rules = RowRules(alleys=(Alley(260, 40, 6.0),))
    project = a_project(rules, rules, common=("B1", "B2"))
    assert as_text(scoped_paragraph(project, ("B1", "B2"))).count(" wide lies ") == 1
    wider = with_typed_value(project, ("B2",), "alley 0 B2", "8")
    assert [b.rules.alleys[0].width_m for b in wider.blocks] == [8.0, 8.0]


def test_the_starting_corner_is_chosen_for_each_block_in_scope():
    project = a_project(RowRules(bearing_deg=10), RowRules(bearing_deg=100), RowRules())
    assert value(project, ALL, "start_corner").text == "south-west corner / north-west corner"
    changed = with_typed_value(project, ALL, "start_corner", "north-west corner")
    assert value(changed, ALL, "start_corner").text == "north-west corner"
    assert each(changed, "bearing_deg") == [190.0, 100.0, 180.0]


def test_stepping_the_starting_corner_goes_round_the_block():
    project, seen = a_project(), []
    for _ in range(4):
        seen.append(value(project, ("B3",), "start_corner").chosen)
        project = with_stepped_value(project, ("B3",), "start_corner", 1)
    assert sorted(seen) == ["north-east", "north-west", "south-east", "south-west"]
    assert project.block("B3").rules.bearing_deg == 10.0


def test_common_blocks_whose_rows_would_move_are_not_turned_about():
    rules = RowRules(bearing_deg=10)
    project = a_project(rules, rules, common=("B1", "B2"))
    wide = replace(project.block("B2"), outline=shapely.box(0, 0, 91.3, 80))
    with pytest.raises(InputProblem, match=r"^B1 and B2 share their rules, and rows of some would"):
        with_typed_value(project.with_block(wide), ("B1",), "start_corner", "north-west")
    turned = with_typed_value(project, ("B1",), "start_corner", "north-west")  # outlines alike
    assert turned.block("B1").rules == turned.block("B2").rules
    assert each(turned, "bearing_deg") == [190.0, 190.0]
    sides = with_typed_value(project.with_block(wide), ("B1",), "start_corner", "south-east")
    assert each(sides, "number_from") == ["right", "right"]


def test_codes_begin_with_the_name_of_the_block():
    project = a_project()
    assert "codes begin with B2." in as_text(scoped_paragraph(project, ("B2",)))
    assert "codes begin with the block's name." in as_text(scoped_paragraph(project, ALL))
    assert with_typed_value(project, ("B2",), "block_name", " B2 ") == project


@pytest.mark.skipif(
    importlib.util.find_spec("layoutdesk.session.ground_edits") is None, reason="no renaming yet"
)
def test_typing_a_name_renames_the_block():
    project = with_typed_value(a_project(), ("B2",), "block_name", "Ridge")
    assert [b.name for b in project.blocks] == ["B1", "Ridge", "B3"]


def test_steps_in_feet_are_round_in_feet():
    project = with_stepped_value(a_project(), ("B1",), "headland_m", 1, "ft")
    assert value(project, ("B1",), "headland_m", "ft").text == "27.0 ft"
    project = with_stepped_value(project, ("B1",), "clearance 0", 1, "ft")
    assert value(project, ("B1",), "clearance 0", "ft").text == "17.0 ft"
