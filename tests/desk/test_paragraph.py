"""The specification: values are typed, stepped, scrubbed, chosen and put back in place."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu

from layoutdesk.session.specification import Value, specification
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


def test_bad_text_is_one_sentence_and_changes_nothing(desk):
    before = desk.document.project
    type_into(desk, "row_spacing_m", "wide")
    assert desk.document.project is before
    assert desk.notice.isVisible()
    assert desk.notice.text().startswith("'wide' is no length: write it like")
    assert desk.notice.text().count(". ") == 0
    assert desk.paragraph.fields["row_spacing_m"].text() == "2.40 m"
    assert desk.document.undo_label is None
    type_into(desk, "row_spacing_m", "2.5")
    assert not desk.notice.isVisible()


@pytest.mark.parametrize("text", ["0", "-2", "500"])
def test_a_value_out_of_bounds_says_its_bounds(desk, text):
    type_into(desk, "row_spacing_m", text)
    assert desk.notice.text() == "Row spacing must lie between 0.50 m and 20.00 m."
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


def test_the_wheel_steps_the_value_with_the_keyboard_only(desk):
    value = desk.paragraph.fields["row_spacing_m"]
    desk.canvas.setFocus()
    wheel(value, QPoint(5, 5), 1)
    assert rules(desk).row_spacing_m == 2.4  # a wheel that scrolls past must not change rules
    field(desk, "row_spacing_m")
    wheel(value, QPoint(5, 5), 1)
    wheel(value, QPoint(5, 5), 1)
    assert rules(desk).row_spacing_m == pytest.approx(2.5)


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
    from PySide6.QtCore import QEvent, QPointF
    from PySide6.QtGui import QMouseEvent

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


def test_escape_puts_a_scrubbed_value_back_with_no_step_left(desk):
    before = desk.document.project
    value = desk.paragraph.fields["row_spacing_m"]
    scrub(desk, value, 42)
    assert desk.document.project != before
    QTest.keyClick(value, Key.Key_Escape)
    assert desk.document.project == before
    assert value.text() == "2.40 m"
    assert desk.document.undo_label is None


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
    assert [a.text() for a in menu.actions()][:3] == ["the far end", "both ends", "stretch"]
    for _ in range(3):
        QTest.keyClick(menu, Key.Key_Down)
    QTest.keyClick(menu, Key.Key_Return)
    assert rules(desk).leftover == "stretch"
    assert desk.paragraph.fields["stretch_max_pct"].isVisible()
    assert desk.paragraph.fields["stretch_max_pct"].text() == "5 %"
    assert desk.document.undo_label == "Change leftover"
    desk.actions_by_id["undo"].trigger()
    assert "stretch_max_pct" not in desk.paragraph.fields


def test_a_choice_is_stepped_with_arrows(desk):
    QTest.keyClick(field(desk, "number_from"), Key.Key_Down)
    assert rules(desk).number_from == "right"


def test_a_menu_left_with_escape_changes_nothing(desk):
    value = field(desk, "leftover")
    QTest.keyClick(value, Key.Key_Space)
    QTest.keyClick(QApplication.activePopupWidget(), Key.Key_Escape)
    assert desk.document.undo_label is None


def reading_order(window) -> list[str]:
    return [
        part.rule
        for sentence in specification(rules(window), window.unit)
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
    assert "grid bearing 020.0°" in desk.norths.text()


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
