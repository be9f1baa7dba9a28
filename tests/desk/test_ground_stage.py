"""Outlines and exclusions drawn, reshaped, named, joined and cut on the ground stage."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
import shapely
from PySide6.QtTest import QTest

from layoutdesk.session.reshaping import ShapeId

from .conftest import _box, _outline
from .ground_hands import (
    Key,
    click,
    corner,
    drag,
    middle,
    outline,
    places,
    take_shape,
    type_in,
    undone,
)
from .hands import (
    CTRL,
    field,
    notices,
    pump_until,
    rest,
)
from .test_site import answer

# what is in hand


def test_a_click_takes_a_shape_a_corner_an_edge_and_escape_lets_go_one_by_one(ground):
    take_shape(ground)
    tool, card = ground.ground.tool, ground.ground_card
    assert tool.held == ShapeId("block", "B1")
    assert card.name.text() == "B1"
    assert not card.place.isVisible()
    click(ground, *corner(ground, 1))
    assert tool.corner == (0, 1)
    assert card.place.isVisible()
    assert not card.leg.isVisible()
    click(ground, *middle(ground, 0))
    assert tool.edge == (0, 0)
    assert card.leg.isVisible()
    assert card.leg.text().startswith("120.")
    QTest.keyClick(ground.canvas, Key.Key_Escape)
    assert tool.held is not None
    assert tool.edge is None
    QTest.keyClick(ground.canvas, Key.Key_Escape)
    assert tool.held is None


def test_the_list_and_the_plan_name_the_same_shape(pair):
    card = pair.ground_card
    assert [card.list.item(i).text()[:2] for i in range(card.list.count())] == ["B1", "B2"]
    card.list.setCurrentRow(1)
    assert pair.ground.tool.held == ShapeId("block", "B2")
    take_shape(pair, 0)
    assert card.list.currentRow() == 0
    assert card.name.text() == "B1"


def test_the_next_corner_by_the_keyboard_alone(desk):
    desk.actions_by_id["next-corner"].trigger()
    assert desk.stage == "ground"
    assert desk.ground.tool.corner == (0, 0)
    desk.actions_by_id["next-corner"].trigger()
    assert desk.ground.tool.corner == (0, 1)
    desk.actions_by_id["previous-corner"].trigger()
    desk.actions_by_id["previous-corner"].trigger()
    assert desk.ground.tool.corner == (0, 3)


# whole shapes


def test_a_hole_is_cut_its_rows_gone_and_given_back(ground):
    before, vines = ground.document.project, ground.answer.tally.vines
    ground.actions_by_id["draw-hole"].trigger()
    places(ground, (-15, -15), (15, -15), (10, 20), (-12, 16))
    assert len(outline(ground).interiors) == 1
    assert ground.document.undo_label == "hole in B1"
    rest(ground)
    assert ground.answer.tally.vines < vines
    take_shape(ground)
    click(ground, *outline(ground).interiors[0].coords[0])
    assert ground.ground.tool.corner[0] == 1
    ground.actions_by_id["delete-shape"].trigger()
    assert len(outline(ground).interiors) == 0
    assert shapely.equals(outline(ground), before.blocks[0].outline)
    undone(ground, before, 2)


def test_a_hole_outside_is_refused_and_stays_to_be_mended(ground):
    before = ground.document.project
    x1 = outline(ground).bounds[2]
    ground.actions_by_id["draw-hole"].trigger()
    places(ground, (x1 + 10, 0), (x1 + 30, 0), (x1 + 30, 30))
    assert "inside" in ground.sketch_bar.refusal.text()
    assert ground.document.project is before


def test_a_block_is_split_and_joined_again(ground):
    before = ground.document.project
    x0, _, x1, _ = outline(ground).bounds
    ground.actions_by_id["split"].trigger()
    places(ground, (x0 - 10, 0.0), (x1 + 10, 5.0))
    names = [b.name for b in ground.document.project.blocks]
    assert names == ["B1", "B2"]
    areas = [b.outline.area for b in ground.document.project.blocks]
    assert sum(areas) == pytest.approx(before.blocks[0].outline.area)
    rest(ground)
    assert [p.block.name for p in ground.answer.plans] == names
    card = answer(ground, "join", "b1, B9")
    assert card.isVisible()
    assert "B9" in card.problem_text()
    card = answer(ground, "join", "b1, B2")
    assert not card.isVisible()
    (whole,) = ground.document.project.blocks
    assert whole.outline.area == pytest.approx(before.blocks[0].outline.area)
    undone(ground, before, 2)


def test_a_line_that_does_not_cut_is_said(ground):
    before = ground.document.project
    ground.actions_by_id["split"].trigger()
    places(ground, (-10, 0), (10, 0))
    assert "does not cut B1" in ground.sketch_bar.refusal.text()
    assert ground.document.project is before


def test_blocks_apart_are_not_joined_and_one_alone_has_none_to_join(pair):
    before = pair.document.project
    card = answer(pair, "join", "B1, B2")
    assert "apart" in card.problem_text()
    assert pair.document.project is before
    pair.site.leave()


def test_one_block_alone_has_none_to_join(ground):
    ground.actions_by_id["join"].trigger()
    (sentence,) = notices(ground)
    assert "one block only" in sentence


def test_a_copy_and_a_move_go_from_place_to_place(ground):
    before = ground.document.project
    take_shape(ground)
    ground.actions_by_id["move-shape"].trigger()
    x, y = outline(ground).centroid.coords[0]
    click(ground, x, y)
    ground.sketch_bar.field.setFocus()
    QTest.keyClicks(ground.sketch_bar.field, "20 090")
    QTest.keyClick(ground.sketch_bar.field, Key.Key_Return)
    moved = outline(ground)
    assert moved.centroid.coords[0] == pytest.approx((x + 20, y), abs=1e-6)
    assert ground.canvas.tool is None
    ground.actions_by_id["copy-shape"].trigger()
    click(ground, x, y)
    ground.sketch_bar.field.setFocus()
    QTest.keyClicks(ground.sketch_bar.field, "200 090")
    QTest.keyClick(ground.sketch_bar.field, Key.Key_Return)
    assert outline(ground, 1).area == pytest.approx(moved.area)
    assert ground.document.project.blocks[1].rules == before.blocks[0].rules
    undone(ground, before, 2)


def test_a_shape_grows_by_a_length_and_shrinks_by_a_negative_one(ground):
    before = ground.document.project
    take_shape(ground)
    answer(ground, "grow-shape", "5")
    grown = outline(ground)
    assert grown.contains(before.blocks[0].outline)
    assert ground.document.undo_label == "grown shape"
    answer(ground, "grow-shape", "-5")
    assert outline(ground).area == pytest.approx(before.blocks[0].outline.area, rel=1e-6)
    card = answer(ground, "grow-shape", "-500")
    assert card.problem_text().endswith(".")
    ground.site.leave()
    undone(ground, before, 2)


def test_nothing_in_hand_is_said_and_nothing_changes(ground):
    before = ground.document.project
    for name in ("copy-shape", "move-shape", "grow-shape", "delete-shape"):
        ground.work.clear()
        ground.actions_by_id[name].trigger()
        assert ground.work.text().startswith("Click an outline"), name
    assert ground.canvas.tool is None
    assert ground.document.project is before


def test_a_block_is_deleted_but_not_the_last(pair):
    before = pair.document.project
    take_shape(pair, 1)
    pair.actions_by_id["delete-shape"].trigger()
    assert [b.name for b in pair.document.project.blocks] == ["B1"]
    assert pair.ground.tool.held is None
    rest(pair)
    take_shape(pair, 0)
    pair.actions_by_id["delete-shape"].trigger()
    assert len(notices(pair)) == 1
    undone(pair, before)


def test_a_block_renamed_in_the_card_has_codes_of_that_name(ground):
    before = ground.document.project
    take_shape(ground)
    type_in(ground.ground_card.name, "East")
    assert [b.name for b in ground.document.project.blocks] == ["East"]
    assert ground.ground.tool.held == ShapeId("block", "East")
    rest(ground)
    assert ground.answer.plans[0].block.name == "East"
    type_in(ground.ground_card.name, "no spaces")
    assert len(notices(ground)) == 1
    assert [b.name for b in ground.document.project.blocks] == ["East"]
    undone(ground, before)


def test_enter_in_the_card_ends_no_sketch_in_hand(ground):
    take_shape(ground)
    x1 = outline(ground).bounds[2]
    ground.actions_by_id["draw-block"].trigger()
    tool = ground.canvas.tool
    places(ground, (x1 + 20, 0), (x1 + 50, 0), (x1 + 50, 30), end=False)
    type_in(ground.ground_card.name, "East")
    assert [b.name for b in ground.document.project.blocks] == ["East"]
    assert ground.canvas.tool is tool
    QTest.keyClick(ground.canvas, Key.Key_Return)
    assert len(ground.document.project.blocks) == 2
    rest(ground)


# exclusions


@pytest.mark.parametrize(
    ("form", "kind", "clearance", "clicks"),
    [
        ("point", "tree", 5.0, [(0, 0)]),
        ("line", "track", 3.0, [(-40, 0), (40, 10)]),
        ("area", "pond", 5.0, [(-10, -10), (12, -10), (0, 14)]),
    ],
)
def test_an_exclusion_of_a_kind_begins_with_its_clearance(ground, form, kind, clearance, clicks):
    before, vines = ground.document.project, ground.answer.tally.vines
    box = ground.ground_card.kind_box
    box.setFocus()
    box.setCurrentText(kind)
    ground.actions_by_id[f"draw-exclusion-{form}"].trigger()
    assert kind in ground.sketch_bar.words.text()
    places(ground, *clicks, end=form != "point")
    (one,) = ground.document.project.exclusions
    assert (one.kind, one.clearance_m) == (kind, clearance)
    assert ground.ground.tool.held == ShapeId("exclusion", 0)
    assert ground.ground_card.clearance.text() == f"{clearance:.2f} m"
    rest(ground)
    assert ground.answer.tally.vines < vines
    undone(ground, before)


def test_what_can_hurt_someone_is_told_with_whom_to_ask(ground):
    ground.ground_card.kind_box.setCurrentText("overhead line")
    ground.actions_by_id["draw-exclusion-line"].trigger()
    places(ground, (-40, 0), (40, 10))
    (sentence,) = notices(ground)
    assert "owner" in sentence
    rest(ground)


@pytest.fixture
def with_tree(ground):
    ground.ground_card.kind_box.setCurrentText("tree")
    ground.actions_by_id["draw-exclusion-point"].trigger()
    click(ground, 0, 0)
    rest(ground)
    return ground


def test_kind_and_clearance_are_changed_in_the_card(with_tree):
    window, card = with_tree, with_tree.ground_card
    before = window.document.project
    card.kind_box.setFocus()
    QTest.keyClicks(card.kind_box, "pole")
    assert card.kind_box.currentText() == "pole"
    assert window.document.project.exclusions[0].kind == "pole"
    assert window.document.project.exclusions[0].clearance_m == 2.0
    assert card.clearance.text() == "2.00 m"
    type_in(card.clearance, "12 ft")
    assert window.document.project.exclusions[0].clearance_m == pytest.approx(3.6576)
    assert window.document.project.exclusions[0].kind == "pole"
    type_in(card.clearance, "far")
    assert len(notices(window)) == 1
    undone(window, before, 2)


def test_a_clearance_kept_for_its_kind_is_what_the_next_one_begins_with(with_tree):
    window = with_tree
    type_in(window.ground_card.clearance, "7.5")
    window.actions_by_id["kind-default"].trigger()
    assert "7.50 m" in window.work.text()
    window.actions_by_id["draw-exclusion-point"].trigger()
    click(window, 20, 20)
    assert window.document.project.exclusions[1].clearance_m == 7.5
    assert window.ground.defaults["tree"] == 7.5
    assert json.loads(window.settings.value("kind_clearances")) == {"tree": 7.5}
    rest(window)


def test_an_exclusion_is_moved_by_its_corner_and_deleted(with_tree):
    window = with_tree
    before = window.document.project
    drag(window, (0, 0), (20, 15))
    at = window.document.project.exclusions[0].shape
    assert (at.x, at.y) == pytest.approx((20, 15), abs=1)
    window.actions_by_id["delete-shape"].trigger()
    assert window.document.project.exclusions == ()
    undone(window, before, 2)


# files


def test_outlines_of_a_file_become_more_blocks(ground, asked, tmp_path):
    before = ground.document.project
    asked.path = str(_outline(tmp_path / "more.geojson", _box(160, 0, 90, 150)))
    ground.actions_by_id["import-outlines"].trigger()
    names = [b.name for b in ground.document.project.blocks]
    assert names == ["B1", "B2"]
    assert "more.geojson" in ground.document.undo_label
    rest(ground)
    assert len(ground.answer.plans) == 2
    undone(ground, before)


def test_a_file_without_a_system_is_asked_for_it(ground, asked, no_crs_file):
    before = ground.document.project
    asked.path = str(no_crs_file)
    ground.actions_by_id["import-outlines"].trigger()
    card = ground.site.card
    assert card.isVisible()
    line = card.fields["crs"].line
    line.setFocus()
    QTest.keyClicks(line, "EPSG:32754")
    QTest.keyClick(line, Key.Key_Return)
    assert not card.isVisible(), card.problem_text()
    assert len(ground.document.project.blocks) == 2
    undone(ground, before)


def test_a_file_that_cannot_be_read_is_told(ground, asked, tmp_path):
    before = ground.document.project
    path = tmp_path / "notes.geojson"
    path.write_text("no shapes", encoding="utf-8")
    asked.path = str(path)
    ground.actions_by_id["import-outlines"].trigger()
    assert len(notices(ground)) == 1
    assert ground.document.project is before


# the stage itself


def test_stages_by_their_keys_change_what_is_beside_the_plan(desk):
    cards = {
        "ground": lambda: desk.ground_card,
        "rows": lambda: desk.specification_card,
        "compare": lambda: desk.compare_stage,
        "materials": lambda: desk.materials.card,
        "water": lambda: desk.watering.card,
        "planting": lambda: desk.planting.card,
        "handoff": lambda: desk.handoff_card,
    }
    keys = (Key.Key_1, Key.Key_7, Key.Key_6, Key.Key_5, Key.Key_4, Key.Key_3, Key.Key_2)
    stages = ("ground", "handoff", "planting", "water", "materials", "compare", "rows")
    for key, stage in zip(keys, stages, strict=True):
        QTest.keyClick(desk, key, CTRL)
        assert desk.stage == stage
        assert [n for n, card in cards.items() if card().isVisible()] == [stage]
        assert desk.stage_bar.buttons[stage].isChecked()


def test_no_word_of_the_ground_card_is_cut_off_with_all_its_lines(with_tree):
    card = with_tree.ground_card
    click(with_tree, 0, 0)
    for widget in (card.name, card.clearance, card.place, card.hint, card.list):
        if widget.isVisible():
            assert card.rect().contains(widget.geometry()), widget.accessibleName()
    for i in range(card.buttons.count()):
        button = card.buttons.itemAt(i).widget()
        assert card.rect().contains(button.geometry()), button.text()
        assert button.width() >= button.sizeHint().width(), button.text()
    assert card.hint.height() >= card.hint.heightForWidth(card.hint.width())


def test_a_value_of_the_rules_in_hand_is_taken_before_the_stage_changes(desk):
    value = field(desk, "row_spacing_m")
    QTest.keyClicks(value, "3")
    desk.actions_by_id["stage-ground"].trigger()
    pump_until(lambda: desk.document.project.blocks[0].rules.row_spacing_m == 3.0, "it is taken", 5)
    rest(desk)


def test_another_projects_shape_is_not_in_hand(ground, two_block_project):
    take_shape(ground)
    click(ground, *corner(ground, 1))
    ground.show_project(replace(two_block_project, name="other"))
    assert ground.ground.tool.held is None
    assert ground.stage == "ground"
    rest(ground)
