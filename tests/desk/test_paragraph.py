"""The specification: values are typed, stepped, scrubbed, chosen and put back in place."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QEnterEvent, QMouseEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QMenu, QScrollArea

from layoutdesk.session.specification import Value
from tests.desk.hands import (
    CTRL,
    LEFT,
    PLAIN,
    field,
    follow,
    open_sample_named,
    rest,
    type_into,
    wheel,
)

Key = Qt.Key


def rules(window):
    return window.document.project.blocks[0].rules


def test_a_length_in_feet_and_inches_is_taken_with_tab(desk):
    rows = desk.answer.tally.rows
    type_into(desk, "row_spacing_m", "8ft6in")
    assert rules(desk).row_spacing_m == pytest.approx(2.5908)
    assert desk.paragraph.fields["row_spacing_m"].text() == "2.591 m"
    assert desk.paragraph.fields["vine_spacing_m"].hasFocus()
    assert desk.document.undo_label == "Change row spacing"
    follow(desk)
    assert desk.answer.tally.rows < rows


def test_enter_takes_a_value_and_stays_on_it(desk):
    type_into(desk, "vine_spacing_m", "1.8", Key.Key_Return)
    assert rules(desk).vine_spacing_m == 1.8
    assert desk.paragraph.fields["vine_spacing_m"].hasFocus()
    assert desk.paragraph.fields["vine_spacing_m"].selectedText() == "1.80 m"


def test_leaving_a_value_as_it_is_changes_nothing(desk):
    for _ in range(len(desk.paragraph.fields)):
        QTest.keyClick(field(desk, "bearing_deg"), Key.Key_Tab)
    type_into(desk, "row_spacing_m", "2.40 m")
    assert desk.document.undo_label is None


@pytest.mark.parametrize("end", [Key.Key_Tab, Key.Key_Return])
def test_refused_text_stays_for_mending_with_the_reason_under_its_line(desk, end):
    before, value = desk.document.project, desk.paragraph.fields["row_spacing_m"]
    height = desk.paragraph.height()
    type_into(desk, "row_spacing_m", "wide", end)
    assert desk.document.project is before
    assert desk.document.undo_label is None
    assert (value.text(), value.selectedText(), value.hasFocus()) == ("wide", "wide", True)
    sentence = desk.paragraph.reason("row_spacing_m")
    assert sentence.startswith("'wide' is no length: write it like")
    assert sentence.count(". ") == 0
    label = next(w for w in desk.paragraph.findChildren(QLabel) if w.text() == sentence)
    assert label.isVisible()
    assert 0 <= label.y() - value.geometry().bottom() < 10
    below = [f.geometry() for f in desk.paragraph.fields.values() if f.y() > value.y()]
    assert not any(box.intersects(label.geometry()) for box in below)
    QApplication.processEvents()
    assert desk.paragraph.height() > height
    QTest.keyClicks(value, "2.5")
    QTest.keyClick(value, Key.Key_Return)
    assert rules(desk).row_spacing_m == 2.5
    assert desk.paragraph.reason("row_spacing_m") == ""
    assert not label.isVisible()


def test_refused_text_is_marked_with_a_wavy_line(desk):
    value = desk.paragraph.fields["row_spacing_m"]

    def caution_pixels() -> int:
        picture, box = desk.paragraph.grab().toImage(), value.geometry()
        wanted = desk.theme["caution"]
        return sum(
            abs(picture.pixelColor(x, y).red() - wanted.red()) < 40
            and abs(picture.pixelColor(x, y).blue() - wanted.blue()) < 40
            for x in range(box.left(), box.right())
            for y in range(box.bottom() + 1, box.bottom() + 6)
        )

    assert caution_pixels() == 0
    type_into(desk, "row_spacing_m", "wide", Key.Key_Return)
    assert caution_pixels() > 10


@pytest.mark.parametrize("way", ["escape", "click elsewhere", "second tab"])
def test_a_refused_value_that_is_left_is_put_back(desk, way):
    type_into(desk, "row_spacing_m", "wide")
    value = desk.paragraph.fields["row_spacing_m"]
    if way == "escape":
        QTest.keyClick(value, Key.Key_Escape)
        assert value.hasFocus()
    elif way == "click elsewhere":
        QTest.mouseClick(desk.canvas, LEFT, PLAIN, QPoint(560, 400))
    else:
        QTest.keyClick(value, Key.Key_Tab)
        assert desk.paragraph.fields["vine_spacing_m"].hasFocus()
    assert value.text() == "2.40 m"
    assert desk.paragraph.reason("row_spacing_m") == ""
    assert desk.document.undo_label is None


def test_text_refused_by_a_first_click_elsewhere_is_not_lost(desk):
    value = field(desk, "row_spacing_m")
    QTest.keyClicks(value, "wide")
    desk.canvas.setFocus(Qt.FocusReason.MouseFocusReason)
    assert value.text() == "wide"
    assert desk.paragraph.reason("row_spacing_m").startswith("'wide' is no length")
    field(desk, "row_spacing_m")
    desk.canvas.setFocus(Qt.FocusReason.MouseFocusReason)
    assert value.text() == "2.40 m"


@pytest.mark.parametrize("text", ["0", "-2", "500"])
def test_a_value_out_of_bounds_says_its_bounds(desk, text):
    type_into(desk, "row_spacing_m", text)
    assert (
        desk.paragraph.reason("row_spacing_m") == "Row spacing must lie between 0.50 m and 20.00 m."
    )
    assert rules(desk).row_spacing_m == 2.4


@pytest.mark.parametrize(
    ("rule", "key", "after"),
    [
        ("row_spacing_m", Key.Key_Up, 2.45),
        ("row_spacing_m", Key.Key_Down, 2.35),
        ("row_spacing_m", Key.Key_PageUp, 2.9),
        ("bearing_deg", Key.Key_PageDown, 5.0),
        ("line_post_every", Key.Key_Up, 5),
    ],
)
def test_arrow_and_page_keys_step(desk, rule, key, after):
    QTest.keyClick(field(desk, rule), key)
    assert getattr(rules(desk), rule) == pytest.approx(after)


def test_stepping_with_keys_is_one_step_of_undo(desk):
    before = desk.document.project
    value = field(desk, "headland_m")
    for _ in range(5):
        QTest.keyClick(value, Key.Key_Up)
    assert rules(desk).headland_m == 10.5
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project == before


def enter(value) -> None:
    """The pointer comes onto a value."""
    at = QPointF(5, 5)
    QApplication.sendEvent(value, QEnterEvent(at, at, QPointF(value.mapToGlobal(QPoint(5, 5)))))


def test_the_wheel_steps_a_value_that_has_the_keyboard(desk):
    value = field(desk, "row_spacing_m")
    wheel(value, QPoint(5, 5), 1)
    wheel(value, QPoint(5, 5), 1)
    assert rules(desk).row_spacing_m == pytest.approx(2.5)


def test_a_wheel_over_a_value_without_the_keyboard_changes_nothing(desk):
    value = desk.paragraph.fields["row_spacing_m"]
    before = desk.document.project
    desk.canvas.setFocus()
    wheel(value, QPoint(5, 5), -3)
    assert desk.document.project is before


def test_the_wheel_over_the_card_never_reaches_the_plan(desk):
    view, card = desk.canvas.view, desk.specification_card
    for widget in (card, desk.paragraph, desk.norths, desk.block_label):
        for notches in (1, -1):
            wheel(widget, QPoint(3, 3), notches)
            assert desk.canvas.view == view, widget
    wheel(desk.canvas, QPoint(640, 300), 1)
    assert desk.canvas.view != view


def scrub(window, value, by_px: int, *, release=True) -> QPoint:
    """Drag sideways over a value; gives back where the hand is."""
    at = QPoint(8, value.height() // 2)
    QTest.mousePress(value, LEFT, PLAIN, at)
    for k in range(1, 9):
        drag_over(value, at + QPoint(by_px * k // 8, 0))
    if release:
        QTest.mouseRelease(value, LEFT, PLAIN, at + QPoint(by_px, 0))
    return at + QPoint(by_px, 0)


def drag_over(value, at: QPoint) -> None:
    event = QMouseEvent(
        QEvent.Type.MouseMove,
        QPointF(at),
        QPointF(value.mapToGlobal(at)),
        Qt.MouseButton.NoButton,
        LEFT,
        PLAIN,
    )
    QApplication.sendEvent(value, event)


def test_a_sideways_drag_scrubs_and_is_one_step_of_undo(desk):
    before = desk.document.project
    scrub(desk, desk.paragraph.fields["row_spacing_m"], 70)
    assert rules(desk).row_spacing_m == pytest.approx(2.9)
    assert desk.document.undo_label == "Change row spacing"
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project == before
    assert desk.document.undo_label is None


def test_two_scrubs_are_two_steps(desk):
    value = desk.paragraph.fields["row_spacing_m"]
    scrub(desk, value, 35)
    scrub(desk, value, 35)
    assert rules(desk).row_spacing_m == pytest.approx(2.9)
    desk.actions_by_id["undo"].trigger()
    assert rules(desk).row_spacing_m == pytest.approx(2.65)


def test_figures_follow_while_the_hand_still_scrubs(desk):
    before = desk.tally.vines.text()
    value = desk.paragraph.fields["row_spacing_m"]
    at = scrub(desk, value, 70, release=False)
    follow(desk)
    assert desk.tally.vines.text() != before
    assert desk.tally.difference.text().startswith("−")
    QTest.mouseRelease(value, LEFT, PLAIN, at)


def test_a_finished_drag_is_settled_and_escape_leaves_it(desk):
    value = desk.paragraph.fields["row_spacing_m"]
    scrub(desk, value, 42)
    QTest.keyClick(value, Key.Key_Escape)
    assert rules(desk).row_spacing_m == pytest.approx(2.7)
    assert desk.document.undo_label == "Change row spacing"


def test_escape_goes_back_to_what_was_typed_and_settled_and_redo_brings_the_rest_again(desk):
    type_into(desk, "row_spacing_m", "3", Key.Key_Return)
    value = desk.paragraph.fields["row_spacing_m"]
    for _ in range(2):
        QTest.keyClick(value, Key.Key_Up)
    assert rules(desk).row_spacing_m == pytest.approx(3.1)
    for _ in range(2):
        QTest.keyClick(value, Key.Key_Escape)
        assert rules(desk).row_spacing_m == 3.0
    assert desk.document.redo_label == "Change row spacing"
    desk.actions_by_id["redo"].trigger()
    assert rules(desk).row_spacing_m == pytest.approx(3.1)


def test_escape_in_a_value_leaves_other_commands_alone(desk):
    value = field(desk, "row_spacing_m")
    QTest.keyClick(value, Key.Key_Up)
    desk.rules.edit("headland_m", lambda r: replace(r, headland_m=9.0))
    QTest.keyClick(value, Key.Key_Escape)
    assert rules(desk).headland_m == 9.0
    assert rules(desk).row_spacing_m == pytest.approx(2.45)


def test_escape_while_the_button_is_held_puts_it_back_with_no_step_left(desk):
    before = desk.document.project
    value = desk.paragraph.fields["row_spacing_m"]
    at = scrub(desk, value, 42, release=False)
    QTest.keyClick(value, Key.Key_Escape)
    QTest.mouseRelease(value, LEFT, PLAIN, at)
    assert desk.document.project == before
    assert desk.document.undo_label is None


def test_escape_puts_stepped_values_back_with_no_step_left(desk):
    before = desk.document.project
    value = field(desk, "headland_m")
    for _ in range(3):
        QTest.keyClick(value, Key.Key_Up)
    QTest.keyClick(value, Key.Key_Escape)
    assert desk.document.project == before
    assert desk.document.undo_label is None


def test_escape_drops_text_that_is_being_typed(desk):
    value = field(desk, "headland_m")
    QTest.keyClicks(value, "12")
    QTest.keyClick(value, Key.Key_Escape)
    assert value.text() == "8.0 m"
    QTest.keyClick(value, Key.Key_Tab)
    assert rules(desk).headland_m == 8.0
    assert desk.document.undo_label is None


def test_ctrl_z_undoes_the_project_while_a_value_has_the_keyboard(desk):
    before = desk.document.project
    type_into(desk, "row_spacing_m", "3")
    value = desk.paragraph.fields["vine_spacing_m"]
    assert value.hasFocus()
    QTest.keyClick(value, Key.Key_Z, CTRL)
    assert desk.document.project == before
    QTest.keyClick(value, Key.Key_Z, CTRL | Qt.KeyboardModifier.ShiftModifier)
    assert rules(desk).row_spacing_m == 3.0


def test_ctrl_z_undoes_typing_where_something_is_typed(desk):
    type_into(desk, "row_spacing_m", "3")
    value = desk.paragraph.fields["vine_spacing_m"]
    QTest.keyClicks(value, "9")
    QTest.keyClick(value, Key.Key_Z, CTRL)
    assert rules(desk).row_spacing_m == 3.0  # the project is as it was
    QTest.keyClick(value, Key.Key_Escape)


@pytest.mark.parametrize("opener", [Key.Key_Space, Key.Key_Return])
def test_a_choice_is_made_with_the_keyboard(desk, opener):
    value = field(desk, "leftover")
    assert "stretch_max_pct" not in desk.paragraph.fields
    QTest.keyClick(value, opener)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    choices = [a for a in menu.actions() if a.isEnabled()]
    assert [a.text() for a in choices] == ["the far end", "both ends", "stretch", "across"]
    assert [a.text() for a in choices if a.isChecked()] == ["the far end"]
    assert menu.activeAction() is choices[0]
    for _ in range(2):
        QTest.keyClick(menu, Key.Key_Down)
    QTest.keyClick(menu, Key.Key_Return)
    assert rules(desk).leftover == "stretch"
    assert desk.paragraph.fields["stretch_max_pct"].isVisible()
    assert desk.paragraph.fields["stretch_max_pct"].text() == "5 %"
    assert desk.document.undo_label == "Change leftover"
    desk.actions_by_id["undo"].trigger()
    assert "stretch_max_pct" not in desk.paragraph.fields


def test_a_choice_is_stepped_with_arrows(desk):
    QTest.keyClick(field(desk, "leftover"), Key.Key_Up)
    assert rules(desk).leftover == "both ends"
    before = rules(desk).bearing_deg
    corner = field(desk, "start_corner")
    assert corner.text() == "south-west corner"
    QTest.keyClick(corner, Key.Key_Down)
    assert corner.text() == "south-east corner"
    assert rules(desk).number_from == "right"
    QTest.keyClick(corner, Key.Key_Down)
    assert corner.text() == "north-east corner" or rules(desk).bearing_deg == before


def test_each_choice_has_a_line_of_meaning_that_can_be_clicked_too(desk):
    value = field(desk, "leftover")
    QTest.keyClick(value, Key.Key_Space)
    menu = QApplication.activePopupWidget()
    actions = menu.actions()
    meanings = [a for a in actions if not a.isEnabled()]
    assert len(meanings) == len(actions) // 2 == 4
    assert "gap" in meanings[1].text()
    QTest.mouseClick(menu, LEFT, PLAIN, menu.actionGeometry(meanings[1]).center())
    assert rules(desk).leftover == "both ends"
    assert QApplication.activePopupWidget() is None


def test_a_menu_left_with_escape_changes_nothing(desk):
    value = field(desk, "leftover")
    QTest.keyClick(value, Key.Key_Space)
    QTest.keyClick(QApplication.activePopupWidget(), Key.Key_Escape)
    assert desk.document.undo_label is None


def reading_order(window) -> list[str]:
    return [
        part.rule
        for sentence in window.rules.paragraph()
        for part in sentence
        if isinstance(part, Value)
    ]


@pytest.mark.parametrize("leftover", ["far end", "stretch", "across"])
def test_tab_goes_through_the_paragraph_as_it_is_read(desk, leftover):
    desk.rules.edit("leftover", lambda r: type(r)(**{**vars(r), "leftover": leftover}))
    names = {v: k for k, v in desk.paragraph.fields.items()}
    expected = reading_order(desk)
    field(desk, expected[0])
    seen = []
    for _ in expected:
        seen.append(names.get(QApplication.focusWidget()))
        QTest.keyClick(QApplication.focusWidget(), Key.Key_Tab)
    assert seen == expected
    assert ("stretch_max_pct" in seen) is (leftover == "stretch")


def test_every_value_of_the_paragraph_can_be_read_and_tells_its_name(desk):
    for rule, value in desk.paragraph.fields.items():
        assert value.accessibleName(), rule
        assert value.width() >= value.wanted_width() - 1, rule
        assert value.geometry().right() <= desk.paragraph.width(), rule


def test_values_never_overlap(desk):
    boxes = [f.geometry() for f in desk.paragraph.fields.values()]
    for i, a in enumerate(boxes):
        assert not any(a.intersects(b) for b in boxes[i + 1 :])


def test_a_grid_bearing_is_turned_into_a_true_one(desk):
    type_into(desk, "bearing_deg", "20 grid")
    convergence = desk.survey.grid.convergence_deg
    assert rules(desk).bearing_deg == pytest.approx(20 + convergence, abs=1e-9)
    assert "Grid bearing 020.0°" in desk.norths.text()


def test_going_to_the_rules_puts_the_keyboard_on_the_bearing(desk):
    QTest.keyClick(desk.canvas, Key.Key_R, CTRL)
    assert desk.paragraph.fields["bearing_deg"].hasFocus()


def test_the_same_value_typed_again_is_no_step(desk):
    type_into(desk, "row_spacing_m", "240cm")
    rest(desk)
    assert desk.document.undo_label is None


def test_clearances_are_values_of_the_paragraph(window):
    open_sample_named(window, "field_with_pond")
    rest(window)
    pond = next(r for r, f in window.paragraph.fields.items() if "pond" in f.value.name)
    before, vines = window.document.project, window.answer.tally.vines
    type_into(window, pond, "15")
    rest(window)
    assert window.document.undo_label == "Change clearance of the pond"
    assert window.answer.tally.vines < vines
    changed = [
        (e.kind, e.clearance_m)
        for e, b in zip(window.document.project.exclusions, before.exclusions, strict=True)
        if e != b
    ]
    assert changed == [("pond", 15.0)]
    window.actions_by_id["undo"].trigger()
    assert window.document.project == before


def test_home_in_a_value_that_is_wholly_selected_shows_all(desk):
    value = field(desk, "row_spacing_m")
    fitted = desk.canvas.view
    desk.canvas.look_at(fitted.panned(200, 0))
    QTest.keyClick(value, Key.Key_Home)
    assert desk.canvas.view == fitted
    desk.canvas.look_at(fitted.panned(200, 0))
    QTest.keyClicks(value, "25")
    QTest.keyClick(value, Key.Key_Home)
    assert desk.canvas.view != fitted
    assert value.cursorPosition() == 0
    QTest.keyClick(value, Key.Key_Escape)


def test_a_value_that_gets_the_keyboard_is_scrolled_into_sight(desk):
    desk.resize(1280, 600)
    QApplication.processEvents()
    area = desk.specification_card.findChild(QScrollArea)

    def in_sight(rule: str) -> bool:
        value = desk.paragraph.fields[rule]
        box = QRect(value.mapTo(area.viewport(), QPoint(0, 0)), value.size())
        return area.viewport().rect().contains(box)

    assert not in_sight("first_number")
    desk.paragraph.fields["first_number"].setFocus(Qt.FocusReason.ShortcutFocusReason)
    assert in_sight("first_number")
    assert not in_sight("bearing_deg")
    QTest.keyClick(desk.canvas, Key.Key_R, CTRL)
    assert in_sight("bearing_deg")


def test_a_value_that_differs_tells_each_block_and_steps_each(two_blocks):
    window = two_blocks
    window.rules.choose_block("B2")
    type_into(window, "bearing_deg", "20", Key.Key_Return)
    assert window.document.undo_label == "Change bearing of B2"
    window.block_choice.setCurrentIndex(0)
    window.show_rules()
    value = field(window, "bearing_deg")
    assert value.text() == "010.0° / 020.0°"
    assert value.font().italic()
    assert "B1: 010.0°\nB2: 020.0°" in value.toolTip()
    QTest.keyClick(value, Key.Key_Up)
    assert [b.rules.bearing_deg for b in window.document.project.blocks] == [10.5, 20.5]
    assert window.document.undo_label == "Change bearing of all blocks"
    type_into(window, "bearing_deg", "33", Key.Key_Return)
    assert [b.rules.bearing_deg for b in window.document.project.blocks] == [33, 33]
    assert not value.font().italic()


def test_a_block_shares_rules_by_a_value_of_the_paragraph(two_blocks):
    window = two_blocks
    for name in ("B1", "B2"):
        window.rules.choose_block(name)
        window.rules.type("common", "shared")
    type_into(window, "headland_m", "9", Key.Key_Return)
    assert [b.rules.headland_m for b in window.document.project.blocks] == [9, 9]
    assert window.document.undo_label == "Change headland of all blocks"


def test_another_block_shown_drops_text_that_was_refused(two_blocks):
    window = two_blocks
    window.rules.choose_block("B1")
    type_into(window, "row_spacing_m", "wide")
    window.rules.choose_block("B2")
    assert window.paragraph.fields["row_spacing_m"].text() == "2.40 m"
    assert window.paragraph.reason("row_spacing_m") == ""


def test_the_choice_of_blocks_follows_their_names(two_blocks):
    window = two_blocks
    window.rules.choose_block("B2")
    blocks = window.document.project.blocks
    window.document.edit(
        "Rename", lambda p: replace(p, blocks=(blocks[0], replace(blocks[1], name="Ridge")))
    )
    assert window.block_choice.currentText() == "Block Ridge"
    assert window.paragraph.fields["block_name"].text() == "Ridge"
    window.undo()
    assert window.block_choice.currentText() == "Block B2"
