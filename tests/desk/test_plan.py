"""What a hand does on the plan: turn the rows, zoom, pan, point at rows, go to findings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from layoutdesk.core.model import Finding
from tests.desk.hands import (
    LEFT,
    MIDDLE,
    PLAIN,
    SHIFT,
    field,
    follow,
    let_go,
    move_hand,
    pixel_of,
    press_grip,
    rest,
    turn_to,
    wheel,
)

Key = Qt.Key


def bearing(window) -> float:
    return window.document.project.blocks[0].rules.bearing_deg


def test_rows_turn_under_the_hand_before_it_lets_go(desk):
    before = desk.document.project
    vines = desk.tally.vines.text()
    press_grip(desk)
    turn_to(desk, 30)
    turn_to(desk, 55)
    assert bearing(desk) == pytest.approx(55, abs=0.5)
    follow(desk)
    assert desk.canvas.drawing.answer.plans[0].rules.bearing_deg == bearing(desk)
    assert desk.tally.vines.text() != vines
    assert desk.tally.difference.text()[:1] in "+−"
    assert desk.paragraph.fields["bearing_deg"].text() == f"{bearing(desk):05.1f}°"
    let_go(desk)
    rest(desk)
    assert desk.tally.difference.text()  # still told until the next change
    assert desk.document.undo_label == "Change bearing"
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project == before
    assert desk.document.undo_label is None


def test_a_turn_comes_to_tenths_of_a_degree(desk):
    press_grip(desk)
    turn_to(desk, 33.3)
    let_go(desk)
    assert round(bearing(desk) * 10) == pytest.approx(bearing(desk) * 10, abs=1e-9)
    assert bearing(desk) == pytest.approx(33.3, abs=0.5)


def test_shift_turns_in_steps_of_five_degrees(desk):
    press_grip(desk)
    for wanted in (21, 34, 47.8):
        turn_to(desk, wanted, SHIFT)
        assert bearing(desk) % 5 == 0
    let_go(desk)
    assert bearing(desk) == 50


def test_escape_during_a_turn_puts_the_bearing_back_with_no_step_left(desk):
    before = desk.document.project
    press_grip(desk)
    turn_to(desk, 80)
    assert desk.document.project != before
    QTest.keyClick(desk.canvas, Key.Key_Escape)
    turn_to(desk, 120)  # the hand still moves, and nothing follows it
    let_go(desk, QPoint(5, 5))
    assert desk.document.project == before
    assert desk.document.undo_label is None


def test_a_press_on_the_grip_alone_changes_nothing(desk):
    press_grip(desk)
    let_go(desk)
    assert desk.document.undo_label is None


def test_undo_and_redo_of_a_turn_give_back_the_identical_project(desk):
    before = desk.document.project
    press_grip(desk)
    turn_to(desk, 70)
    let_go(desk)
    after = desk.document.project
    for _ in range(2):
        desk.actions_by_id["undo"].trigger()
        assert desk.document.project is before
        desk.actions_by_id["redo"].trigger()
        assert desk.document.project is after
    rest(desk)
    assert desk.answer.project is after


def test_a_settled_layout_follows_a_turn(desk):
    press_grip(desk)
    turn_to(desk, 66)
    let_go(desk)
    rest(desk)
    assert desk.answer.settled
    assert desk.answer.strips
    assert desk.answer.tally.planted_m2 is not None


@pytest.mark.parametrize("notches", [3, -4])
def test_the_wheel_keeps_the_place_under_the_pointer(desk, notches):
    at = QPoint(610, 240)
    place = desk.canvas.view.to_site(at.x(), at.y())
    scale = desk.canvas.view.scale
    wheel(desk.canvas, at, notches)
    assert desk.canvas.view.scale == pytest.approx(scale * 1.2**notches)
    assert desk.canvas.view.to_site(at.x(), at.y()) == pytest.approx(place, abs=1e-6)


def test_the_wheel_stops_at_the_ends_of_its_range(desk):
    for notches in (200, -400):
        wheel(desk.canvas, QPoint(500, 300), notches)
        view = desk.canvas.view
        assert view.LEAST <= view.scale <= view.MOST


@pytest.mark.parametrize("button", [LEFT, MIDDLE])
def test_the_plan_follows_a_dragging_hand(desk, button):
    start, end = QPoint(450, 420), QPoint(520, 380)
    place = desk.canvas.view.to_site(start.x(), start.y())
    QTest.mousePress(desk.canvas, button, PLAIN, start)
    move_hand(desk, QPoint(480, 400), button)
    move_hand(desk, end, button)
    let_go(desk, end, button)
    assert desk.canvas.view.to_site(end.x(), end.y()) == pytest.approx(place, abs=1e-6)
    assert desk.document.undo_label is None


def test_space_and_drag_pans_even_on_the_grip(desk):
    view = desk.canvas.view
    desk.canvas.setFocus()
    QTest.keyPress(desk.canvas, Key.Key_Space)
    press_grip(desk)
    turn_to(desk, 90)
    let_go(desk)
    QTest.keyRelease(desk.canvas, Key.Key_Space)
    assert desk.document.undo_label is None
    assert desk.canvas.view != view
    press_grip(desk)  # and without the space bar it turns again
    turn_to(desk, 90)
    let_go(desk)
    assert desk.document.undo_label == "Change bearing"


def test_a_space_bar_let_go_elsewhere_is_not_held_for_ever(desk):
    desk.canvas.setFocus()
    QTest.keyPress(desk.canvas, Key.Key_Space)
    field(desk, "bearing_deg")
    desk.canvas.setFocus()
    press_grip(desk)
    turn_to(desk, 90)
    let_go(desk)
    assert desk.document.undo_label == "Change bearing"


def test_another_button_during_a_turn_leaves_the_turn_one_step(desk):
    before = desk.document.project
    press_grip(desk)
    turn_to(desk, 40)
    QTest.mousePress(desk.canvas, MIDDLE, PLAIN, QPoint(500, 300))
    let_go(desk, QPoint(500, 300), MIDDLE)
    let_go(desk)
    press_grip(desk)
    turn_to(desk, 80)
    let_go(desk)
    desk.actions_by_id["undo"].trigger()
    assert bearing(desk) == pytest.approx(40, abs=0.5)
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project == before


@pytest.mark.parametrize(
    ("key", "east", "north"),
    [(Key.Key_Left, -1, 0), (Key.Key_Right, 1, 0), (Key.Key_Up, 0, 1), (Key.Key_Down, 0, -1)],
)
def test_arrow_keys_look_further_that_way(desk, key, east, north):
    view = desk.canvas.view
    desk.canvas.setFocus()
    QTest.keyClick(desk.canvas, key)
    moved = desk.canvas.view
    assert np.sign(moved.x_m - view.x_m) == east
    assert np.sign(moved.y_m - view.y_m) == north


def test_home_shows_all_again(desk):
    fitted = desk.canvas.view
    wheel(desk.canvas, QPoint(500, 300), 9)
    QTest.keyClick(desk.canvas, Key.Key_Right)
    assert desk.canvas.view != fitted
    QTest.keyClick(desk.canvas, Key.Key_Home)
    assert desk.canvas.view == fitted


def test_the_whole_site_lies_in_the_room_the_cards_leave(desk):
    x0, y0, x1, y1 = desk.canvas.drawing.bounds_m
    a, b = pixel_of(desk, x0, y1), pixel_of(desk, x1, y0)
    assert a.x() >= desk.specification_card.geometry().right()
    assert b.x() <= desk.tally.geometry().left()
    assert a.y() >= 0
    assert b.y() <= desk.strip.geometry().top()


def test_a_fitted_plan_stays_fitted_when_the_window_grows(desk, qtbot):
    desk.resize(1600, 1000)
    qtbot.waitUntil(lambda: desk.canvas.width() == 1600)
    view = desk.canvas.view
    desk.canvas.fit()
    assert desk.canvas.view == view


def test_zoom_keys_zoom(desk):
    scale = desk.canvas.view.scale
    desk.actions_by_id["zoom-in"].trigger()
    assert desk.canvas.view.scale == pytest.approx(scale * 1.5)
    desk.actions_by_id["zoom-out"].trigger()
    assert desk.canvas.view.scale == pytest.approx(scale)


# rows on the plan and in the strip


def middle_of_segment(window, segment: int) -> QPoint:
    """A third along, clear of the bearing ring."""
    a, b = window.answer.plans[0].segment_ends_m[segment]
    return pixel_of(window, *(a + (b - a) / 3))


def test_pointing_at_a_row_lights_up_its_bar(desk):
    QTest.mouseMove(desk.canvas, middle_of_segment(desk, 7))
    assert desk.canvas.pointed == (0, 7)
    assert desk.strip.hovered == (0, 7)
    QTest.mouseMove(desk.canvas, QPoint(500, 5))
    assert desk.canvas.pointed is None
    assert desk.strip.hovered is None


def test_pointing_at_a_bar_lights_up_its_row(desk):
    band, n = desk.strip._band(), desk.answer.plans[0].n_segments
    for i in (0, 7, n - 1):
        x = band.left() + (i + 0.5) * band.width() / n
        QTest.mouseMove(desk.strip, QPoint(round(x), round(band.center().y())))
        assert desk.canvas.pointed == (0, i)
        assert desk.strip.hovered == (0, i)
    QTest.mouseMove(desk.strip, QPoint(3, 3))
    assert desk.canvas.pointed is None


def test_a_row_that_is_gone_is_not_pointed_at(desk):
    last = desk.answer.plans[0].n_segments - 1
    desk.canvas.point_at((0, last))
    desk.rules.edit("row_spacing_m", lambda r: replace(r, row_spacing_m=5.0))
    rest(desk)
    assert desk.canvas.pointed is None
    desk.grab()


def test_the_cursor_s_coordinates_stand_in_the_foot(desk):
    x, y = desk.answer.plans[0].segment_ends_m[3, 0]
    at = pixel_of(desk, x, y)
    QTest.mouseMove(desk.canvas, at)
    seen = desk.survey.coordinates(*desk.canvas.view.to_site(at.x(), at.y()))
    assert desk.cursor_label.text() == seen
    assert seen.startswith("E 500")


# findings


def test_a_finding_s_whole_sentence_goes_to_its_place_in_the_free_room(desk):
    place = (21.0, 34.0)
    finding = Finding("anchor-outside", "An anchor stands outside.", place=place)
    desk.findings.show_findings((finding,), desk.unit, desk.theme)
    rest(desk)
    [line] = desk.findings.lines
    QTest.mouseClick(line, LEFT, PLAIN, line.label.geometry().center())
    at = pixel_of(desk, *place)
    assert desk.specification_card.geometry().right() < at.x() < desk.tally.geometry().left()
    assert 0 < at.y() < desk.strip.geometry().top()
    assert desk.canvas.view.scale >= 6


# several blocks


def test_rules_for_all_blocks_or_one(two_blocks):
    window = two_blocks
    assert [window.block_choice.itemText(i) for i in range(3)] == [
        "All blocks",
        "Block B1",
        "Block B2",
    ]
    window.rules.type("row_spacing_m", "3")
    assert [b.rules.row_spacing_m for b in window.document.project.blocks] == [3, 3]
    window.block_choice.setCurrentIndex(2)
    window.block_choice.activated.emit(2)
    window.rules.type("row_spacing_m", "2")
    assert [b.rules.row_spacing_m for b in window.document.project.blocks] == [3, 2]
    assert window.paragraph.fields["row_spacing_m"].text() == "2.00 m"


def test_a_click_on_another_block_chooses_it_but_never_narrows_all_blocks(two_blocks):
    window = two_blocks
    inside = window.document.project.block("B2").outline.representative_point()
    QTest.mouseClick(window.canvas, LEFT, PLAIN, pixel_of(window, inside.x, inside.y))
    assert window.block_choice.currentText() == "All blocks"
    window.rules.choose_block("B1")
    inside = window.document.project.block("B2").outline.representative_point()
    at = pixel_of(window, inside.x, inside.y)
    QTest.mouseClick(window.canvas, LEFT, PLAIN, at)
    assert window.block_choice.currentText() == "Block B2"
    x, y, _ = window.canvas.handle
    assert window.document.project.block("B2").outline.contains(
        window.document.project.block("B2").outline.centroid
    )
    assert (x, y) == pytest.approx(
        window.document.project.block("B2").outline.centroid.coords[0], abs=1e-9
    )


def test_turning_one_of_two_blocks_leaves_the_other(two_blocks):
    window = two_blocks
    window.rules.choose_block("B2")
    press_grip(window)
    turn_to(window, 60)
    let_go(window)
    bearings = [b.rules.bearing_deg for b in window.document.project.blocks]
    assert bearings[0] == 10.0
    assert bearings[1] == pytest.approx(60, abs=0.5)


def test_one_block_needs_no_choice(desk):
    assert not desk.block_choice.isVisible()
    assert desk.block_label.text() == "Block B1, how it is laid out"
