"""Corners and edges of outlines on the ground stage, by hand, key and typing."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint
from PySide6.QtTest import QTest

from layoutdesk.session.typed_places import survey_transforms

from .conftest import _outline
from .ground_hands import (
    ALT,
    Key,
    click,
    corner,
    drag,
    middle,
    outline,
    take_shape,
    type_in,
    undone,
)
from .hands import (
    CTRL,
    LEFT,
    PLAIN,
    SHIFT,
    let_go,
    move_hand,
    notices,
    pixel_of,
    rest,
)

# corners


def test_a_dragged_corner_is_one_step_and_the_rows_follow(ground):
    before, vines = ground.document.project, ground.answer.tally.vines
    take_shape(ground)
    x, y = corner(ground, 1)
    drag(ground, (x, y), (x - 30, y + 20))
    assert corner(ground, 1) == pytest.approx((x - 30, y + 20), abs=2)
    assert ground.document.undo_label == "corner"
    rest(ground)
    assert ground.answer.tally.vines < vines
    undone(ground, before)
    assert ground.answer.tally.vines == vines
    assert ground.document.undo_label is None


def test_a_dragged_corner_snaps_to_another_blocks_corner_unless_alt_is_held(pair):
    take_shape(pair, 0)
    other = corner(pair, 0, 1)
    near = pixel_of(pair, *other) + QPoint(3, -2)
    before = pair.document.project
    drag(pair, corner(pair, 1), near)
    assert corner(pair, 1) == pytest.approx(other, abs=1e-9)
    undone(pair, before)
    start = pixel_of(pair, *corner(pair, 1))
    QTest.mousePress(pair.canvas, LEFT, ALT, start)
    move_hand(pair, near, LEFT, ALT)
    let_go(pair, near)
    away = np.hypot(*np.subtract(corner(pair, 1), other))
    assert 1e-6 < away < 9 / pair.canvas.view.scale


def test_escape_during_a_drag_puts_the_corner_back(ground):
    before = ground.document.project
    take_shape(ground)
    x, y = corner(ground, 1)
    end = drag(ground, (x, y), (x + 25, y - 15), release=False)
    assert ground.document.project != before
    QTest.keyClick(ground.canvas, Key.Key_Escape)
    assert ground.document.project is before
    let_go(ground, end)
    assert ground.document.project is before
    assert ground.document.undo_label is None
    rest(ground)


def test_a_bow_tie_is_refused_on_release_with_one_sentence_and_can_never_come_back(ground):
    before = ground.document.project
    take_shape(ground)
    a, b, _, d = outline(ground).exterior.coords[:4]
    drag(ground, b, ((a[0] + d[0]) / 2 - 30, (a[1] + d[1]) / 2))
    (sentence,) = notices(ground)
    assert "cross itself" in sentence
    assert ground.document.project is before
    assert ground.document.undo_label is None
    rest(ground)
    assert not ground.notice.isVisible()
    ground.actions_by_id["redo"].trigger()
    assert shapely.is_valid(outline(ground))


def test_a_bow_tie_left_by_escape_cannot_come_back_by_redo(ground):
    before = ground.document.project
    take_shape(ground)
    a, b, _, d = outline(ground).exterior.coords[:4]
    end = drag(ground, b, ((a[0] + d[0]) / 2 - 30, (a[1] + d[1]) / 2), release=False)
    QTest.keyClick(ground.canvas, Key.Key_Escape)
    let_go(ground, end)
    assert ground.document.project is before
    ground.actions_by_id["redo"].trigger()
    assert shapely.is_valid(outline(ground))
    rest(ground)


def test_a_double_click_on_an_edge_adds_a_corner_and_delete_takes_it_out(ground):
    before = ground.document.project
    take_shape(ground)
    at = pixel_of(ground, *middle(ground, 1))
    QTest.mouseClick(ground.canvas, LEFT, PLAIN, at)
    QTest.mouseDClick(ground.canvas, LEFT, PLAIN, at)
    assert len(outline(ground).exterior.coords) == 6
    assert ground.ground.tool.corner == (0, 2)
    assert outline(ground).area == pytest.approx(before.blocks[0].outline.area)
    QTest.keyClick(ground.canvas, Key.Key_Delete)
    assert shapely.equals(outline(ground), before.blocks[0].outline)
    assert len(outline(ground).exterior.coords) == 5
    undone(ground, before, 2)


def test_insert_puts_a_corner_midway_in_the_picked_edge_and_undo_leaves_no_edge_of_air(ground):
    before = ground.document.project
    take_shape(ground)
    wanted = middle(ground, 3)
    click(ground, *wanted)
    QTest.keyClick(ground.canvas, Key.Key_Insert)
    assert corner(ground, 4) == pytest.approx(wanted)
    click(ground, *middle(ground, 4))
    assert ground.ground.tool.edge == (0, 4)
    ground.actions_by_id["undo"].trigger()
    assert ground.document.project is before
    assert ground.ground.tool.edge is None
    assert not ground.ground_card.leg.isVisible()
    rest(ground)


def test_the_last_three_corners_stay(ground):
    take_shape(ground)
    click(ground, *corner(ground, 0))
    QTest.keyClick(ground.canvas, Key.Key_Delete)
    kept = ground.document.project
    click(ground, *corner(ground, 0))
    QTest.keyClick(ground.canvas, Key.Key_Delete)
    (sentence,) = notices(ground)
    assert "three corners" in sentence
    assert ground.document.project is kept
    rest(ground)


def test_arrow_keys_nudge_by_a_decimetre_a_metre_and_a_centimetre(ground):
    before = ground.document.project
    take_shape(ground)
    x, y = corner(ground, 1)
    click(ground, x, y)
    QTest.keyClick(ground.canvas, Key.Key_Right)
    QTest.keyClick(ground.canvas, Key.Key_Up, SHIFT)
    QTest.keyClick(ground.canvas, Key.Key_Left, CTRL)
    assert corner(ground, 1) == pytest.approx((x + 0.09, y + 1.0), abs=1e-9)
    first = ground.document.project
    click(ground, *corner(ground, 2))
    QTest.keyClick(ground.canvas, Key.Key_Up)
    ground.actions_by_id["undo"].trigger()
    assert ground.document.project is first  # nudges of another corner are another step
    undone(ground, before)


def test_survey_coordinates_typed_for_a_corner_put_it_there(ground):
    before = ground.document.project
    take_shape(ground)
    click(ground, *corner(ground, 1))
    card = ground.ground_card
    type_in(card.place, "E 500150.25 N 6100020.5")
    to_survey = survey_transforms(ground.document.project)[0]
    at = to_survey(np.array([corner(ground, 1)]))[0]
    assert at == pytest.approx([500150.25, 6100020.5], abs=1e-3)
    assert "500150.25" in card.place.text().replace("\u202f", "")
    undone(ground, before)


def test_the_shown_place_of_a_corner_typed_back_moves_it_by_no_centimetre(ground):
    take_shape(ground)
    click(ground, *corner(ground, 1))
    was = corner(ground, 1)
    type_in(ground.ground_card.place, ground.ground_card.place.text())
    assert notices(ground) == []
    assert corner(ground, 1) == pytest.approx(was, abs=0.01)


def test_a_length_and_bearing_from_the_corner_before_put_a_corner_too(ground):
    take_shape(ground)
    click(ground, *corner(ground, 1))
    type_in(ground.ground_card.place, "100 m @ 90")
    ax, ay = corner(ground, 0)
    assert corner(ground, 1) == pytest.approx((ax + 100, ay), abs=1e-6)


def test_nonsense_for_a_corner_is_told_and_changes_nothing(ground):
    before = ground.document.project
    take_shape(ground)
    click(ground, *corner(ground, 1))
    type_in(ground.ground_card.place, "over there")
    assert len(notices(ground)) == 1
    type_in(ground.ground_card.place, "E 1 N 2")
    assert "km from the site" in notices(ground)[0]
    assert ground.document.project is before


def test_an_edge_has_the_length_and_bearing_typed_for_it(ground):
    before = ground.document.project
    take_shape(ground)
    click(ground, *middle(ground, 0))
    type_in(ground.ground_card.leg, "100 @ 90")
    (ax, ay), (bx, by) = outline(ground).exterior.coords[:2]
    assert (bx - ax, by - ay) == pytest.approx((100, 0), abs=1e-6)
    assert ground.ground_card.leg.text().startswith("100.00 m @ 090")
    kept = ground.document.project
    type_in(ground.ground_card.leg, ground.ground_card.leg.text())  # as shown, it is the same
    assert notices(ground) == []
    assert corner(ground, 1) == pytest.approx(kept.blocks[0].outline.exterior.coords[1], abs=0.1)
    rest(ground)
    ground.actions_by_id["undo"].trigger()
    if ground.document.project is not before:
        ground.actions_by_id["undo"].trigger()
    assert ground.document.project is before


def test_a_corner_of_an_outline_with_5000_corners_is_dragged(window, tmp_path):
    from layoutdesk.session.opening import project_from_outline

    turn = np.linspace(0, 2 * np.pi, 5000, endpoint=False)
    radius = 100 + 3 * np.sin(40 * turn)
    ring = [
        (500_100 + r * np.cos(t), 6_100_100 + r * np.sin(t))
        for r, t in zip(radius, turn, strict=True)
    ]
    window.show_project(project_from_outline(_outline(tmp_path / "round.geojson", ring)))
    rest(window)
    window.actions_by_id["stage-ground"].trigger()
    before = window.document.project
    take_shape(window)
    window.canvas.go_to(*corner(window, 700))
    window.canvas.zoom(40)
    x, y = corner(window, 700)
    drag(window, (x, y), (x * 1.001, y * 1.001))
    assert notices(window) == []
    assert corner(window, 700) != (x, y)
    assert len(outline(window).exterior.coords) == len(before.blocks[0].outline.exterior.coords)
    undone(window, before)
