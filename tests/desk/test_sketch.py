"""Places set on the plan by clicks, by typing and by the keyboard's own pointer."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from .hands import LEFT, PLAIN, move_hand, pixel_of, rest

Key = Qt.Key


def click(window, x, y):
    QTest.mouseClick(window.canvas, LEFT, PLAIN, pixel_of(window, x, y))


def east_of(window, by_m=30.0):
    """A place outside of all blocks, east of the first, in view."""
    _, y0, x1, y1 = window.document.project.blocks[0].outline.bounds
    return x1 + by_m, (y0 + y1) / 2


def started(window, action="draw-block"):
    window.actions_by_id[action].trigger()
    assert window.sketch_bar.isVisible()
    return window.canvas.tool


def test_a_block_is_drawn_by_clicks_and_enter_and_undone_to_the_identical_project(desk):
    before = desk.document.project
    x, y = east_of(desk)
    started(desk)
    assert desk.stage == "ground"
    for place in ((x, y), (x + 40, y), (x + 40, y + 60)):
        click(desk, *place)
    assert desk.document.project is before  # nothing before it is ended
    QTest.keyClick(desk.canvas, Key.Key_Return)
    fresh = desk.document.project.blocks[1]
    assert fresh.name == "B2"
    assert fresh.outline.area == pytest.approx(1200, rel=0.1)
    assert fresh.rules == before.blocks[0].rules
    assert desk.ground.tool.held.key == "B2"
    assert not desk.sketch_bar.isVisible()
    assert desk.canvas.tool is None
    rest(desk)
    assert [p.block.name for p in desk.answer.plans] == ["B1", "B2"]
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project is before
    assert desk.ground.tool.held is None


def test_a_click_on_the_first_place_closes_an_area(desk):
    x, y = east_of(desk)
    started(desk)
    for place in ((x, y), (x + 40, y), (x + 40, y + 60), (x, y)):
        click(desk, *place)
    assert desk.canvas.tool is None
    assert len(desk.document.project.blocks[1].outline.exterior.coords) == 4


def test_a_double_click_ends_an_area_with_no_place_twice(desk):
    x, y = east_of(desk)
    started(desk)
    click(desk, x, y)
    click(desk, x + 40, y)
    click(desk, x + 40, y + 60)
    QTest.mouseDClick(desk.canvas, LEFT, PLAIN, pixel_of(desk, x + 40, y + 60))
    assert desk.canvas.tool is None
    assert len(desk.document.project.blocks[1].outline.exterior.coords) == 4


def test_legs_typed_on_the_plan_run_as_long_and_that_way(desk):
    x, y = east_of(desk)
    tool = started(desk)
    click(desk, x, y)
    for leg in ("100 090", "50 180", "100 270"):
        QTest.keyClick(desk.canvas, leg[0])
        field = desk.sketch_bar.field
        assert field.hasFocus()
        QTest.keyClicks(field, leg[1:])
        assert field.text() == leg
        QTest.keyClick(field, Key.Key_Return)
        assert field.text() == ""
    steps = np.diff(np.array(tool.places), axis=0)
    assert steps == pytest.approx(np.array([[100, 0], [0, -50], [-100, 0]]), abs=1e-6)
    QTest.keyClick(desk.sketch_bar.field, Key.Key_Return)  # an empty line ends it
    assert desk.document.project.blocks[1].outline.area == pytest.approx(5000)


def test_survey_coordinates_typed_are_that_place(desk):
    from layoutdesk.session.typed_places import survey_transforms

    tool = started(desk)
    field = desk.sketch_bar.field
    field.setFocus()
    QTest.keyClicks(field, "E 500200 N 6100050")
    QTest.keyClick(field, Key.Key_Return)
    to_survey = survey_transforms(desk.document.project)[0]
    (place,) = tool.places
    assert to_survey(np.array([place]))[0] == pytest.approx([500200, 6100050], abs=1e-3)


def test_what_cannot_be_a_place_is_said_in_the_bar_and_can_be_mended(desk):
    tool = started(desk)
    field = desk.sketch_bar.field
    field.setFocus()
    QTest.keyClicks(field, "over there")
    QTest.keyClick(field, Key.Key_Return)
    assert desk.sketch_bar.refusal.text().endswith(".")
    assert field.text() == "over there"
    assert tool.places == []
    field.selectAll()
    QTest.keyClicks(field, "E 500200 N 6100050")
    QTest.keyClick(field, Key.Key_Return)
    assert not desk.sketch_bar.refusal.isVisible()
    assert len(tool.places) == 1


def test_arrows_and_enter_set_places_and_enter_again_there_ends(desk):
    tool = started(desk)
    canvas = desk.canvas
    x, y = east_of(desk, 60.0)
    canvas.go_to(x, y)
    for key in (Key.Key_Right, Key.Key_Down, Key.Key_Left):
        for _ in range(20):
            QTest.keyClick(canvas, key)
        QTest.keyClick(canvas, Key.Key_Return)
    assert len(tool.places) == 3
    QTest.keyClick(canvas, Key.Key_Return)
    assert canvas.tool is None
    assert len(desk.document.project.blocks) == 2
    assert canvas.cross is None


def test_the_keyboards_pointer_steps_finely_with_ctrl_and_far_with_shift(desk):
    started(desk)
    canvas = desk.canvas
    steps = []
    QTest.keyClick(canvas, Key.Key_Right)
    for keys in (PLAIN, Qt.KeyboardModifier.ControlModifier, Qt.KeyboardModifier.ShiftModifier):
        before = canvas.cross.x()
        QTest.keyClick(canvas, Key.Key_Right, keys)
        steps.append(canvas.cross.x() - before)
    assert steps == [8, 1, 40]


def test_backspace_takes_a_place_back_and_escape_leaves_all(desk):
    before = desk.document.project
    tool = started(desk)
    x, y = east_of(desk)
    click(desk, x, y)
    click(desk, x + 30, y)
    QTest.keyClick(desk.canvas, Key.Key_Backspace)
    assert len(tool.places) == 1
    QTest.keyClick(desk.canvas, Key.Key_Escape)
    assert desk.canvas.tool is None
    assert not desk.sketch_bar.isVisible()
    assert desk.document.project is before


def test_escape_in_the_bar_leaves_too_and_the_plan_has_the_keyboard(desk):
    started(desk)
    desk.sketch_bar.field.setFocus()
    QTest.keyClick(desk.sketch_bar.field, Key.Key_Escape)
    assert desk.canvas.tool is None
    assert desk.canvas.hasFocus()


def test_an_area_that_crosses_itself_is_refused_in_the_bar_and_stays_in_hand(desk):
    before = desk.document.project
    tool = started(desk)
    x, y = east_of(desk)
    for place in ((x, y), (x + 40, y + 40), (x + 40, y), (x, y + 40)):
        click(desk, *place)
    QTest.keyClick(desk.canvas, Key.Key_Return)
    assert "cross" in desk.sketch_bar.refusal.text()
    assert desk.sketch_bar.refusal.isVisible()
    assert desk.canvas.tool is tool
    assert desk.document.project is before


def test_too_few_places_are_said(desk):
    started(desk)
    click(desk, *east_of(desk))
    desk.sketch_bar.end_button.click()
    assert "3 places" in desk.sketch_bar.refusal.text()


def test_a_place_near_a_corner_is_the_corner_unless_alt_is_held(desk):
    x, y = desk.document.project.blocks[0].outline.exterior.coords[0]
    tool = started(desk)
    near = pixel_of(desk, x, y) + QPoint(3, 2)
    move_hand(desk, near, Qt.MouseButton.NoButton)
    assert tool.pointer == pytest.approx((x, y), abs=1e-9)
    assert "corner of B1" in tool.lines()[-1]
    alt = Qt.KeyboardModifier.AltModifier
    QTest.mouseClick(desk.canvas, LEFT, alt, near)
    assert tool.places[0] != pytest.approx((x, y), abs=1e-6)
    QTest.mouseMove(desk.canvas, near)  # the key is up again


def test_snapping_can_be_switched_off(desk):
    x, y = desk.document.project.blocks[0].outline.exterior.coords[0]
    desk.actions_by_id["snapping"].trigger()
    tool = started(desk)
    QTest.mouseClick(desk.canvas, LEFT, PLAIN, pixel_of(desk, x, y) + QPoint(3, 2))
    assert tool.places[0] != pytest.approx((x, y), abs=1e-6)


def test_places_fall_on_whole_steps_of_the_survey_grid(desk):
    from layoutdesk.session.typed_places import survey_transforms

    from .test_site import answer

    answer(desk, "grid-step", "5")
    tool = started(desk)
    x, y = east_of(desk)
    click(desk, x, y)
    at = survey_transforms(desk.document.project)[0](np.array(tool.places))[0]
    assert at / 5 == pytest.approx(np.round(at / 5), abs=1e-5)


def test_a_hand_that_pans_sets_no_place(desk):
    tool = started(desk)
    at = pixel_of(desk, *east_of(desk))
    QTest.mousePress(desk.canvas, LEFT, PLAIN, at)
    move_hand(desk, at + QPoint(30, 10))
    QTest.mouseRelease(desk.canvas, LEFT, PLAIN, at + QPoint(30, 10))
    assert tool.places == []


def test_a_tool_is_put_down_with_the_site_and_with_the_stage(desk, two_block_project):
    started(desk)
    desk.actions_by_id["stage-rows"].trigger()
    assert desk.canvas.tool is None
    started(desk)
    desk.show_project(two_block_project)
    rest(desk)
    assert desk.canvas.tool is None
    assert not desk.sketch_bar.isVisible()


def test_undo_of_the_block_under_a_sketch_leaves_no_trap(desk):
    x, y = east_of(desk)
    started(desk)
    for place in ((x, y), (x + 60, y), (x + 60, y + 80), (x, y + 80)):
        click(desk, *place)
    QTest.keyClick(desk.canvas, Key.Key_Return)
    started(desk, "draw-hole")
    desk.actions_by_id["undo"].trigger()
    for place in ((x + 10, y + 10), (x + 30, y + 10), (x + 30, y + 40)):
        click(desk, *place)
    QTest.keyClick(desk.canvas, Key.Key_Return)
    assert "B2" in desk.sketch_bar.refusal.text()
    assert len(desk.document.project.blocks) == 1


def test_the_bar_lies_in_the_free_room_of_a_small_window(desk):
    started(desk)
    bar = desk.sketch_bar.geometry()
    for card in (desk.ground_card, desk.tally, desk.strip, desk.findings):
        assert not (card.isVisible() and card.geometry().intersects(bar)), card.accessibleName()
    assert desk.canvas.rect().contains(bar)


def test_a_place_typed_out_of_sight_is_brought_into_view(desk):
    tool = started(desk)
    click(desk, *east_of(desk))
    QTest.keyClick(desk.canvas, "9")
    QTest.keyClicks(desk.sketch_bar.field, "00 090")
    QTest.keyClick(desk.sketch_bar.field, Key.Key_Return)
    at = pixel_of(desk, *tool.places[-1])
    assert desk.canvas.rect().contains(at)
    assert shapely.Point(*tool.places[-1]).distance(shapely.Point(*tool.places[0])) == (
        pytest.approx(900)
    )
