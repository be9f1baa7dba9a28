"""Rows selected on the plan, in the strip, by box, lasso, number and code."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from .hands import CTRL, LEFT, PLAIN, SHIFT, let_go, move_hand, pixel_of, rest, type_into
from .test_rows_stage import click, middle_row, on_row, plan_of
from .test_site import answer

Key = Qt.Key


def codes(window):
    return sorted(f"{b}-R{n:03d}" for b, n, _ in window.selecting.selection)


def test_ctrl_and_click_take_rows_in_and_out(desk):
    i = middle_row(desk)
    click(desk, *on_row(desk, i))
    click(desk, *on_row(desk, i + 2), CTRL)
    click(desk, *on_row(desk, i + 4), CTRL)
    assert {s for _, s in desk.canvas.selected} == {i, i + 2, i + 4}
    click(desk, *on_row(desk, i + 2), CTRL)
    assert {s for _, s in desk.canvas.selected} == {i, i + 4}
    assert desk.picked_card.heading.text() == "2 rows selected"
    click(desk, *on_row(desk, i + 1))
    assert {s for _, s in desk.canvas.selected} == {i + 1}


def test_shift_and_a_drag_take_the_rows_that_the_box_touches(desk):
    before = desk.document.project
    i = middle_row(desk)
    start, end = pixel_of(desk, *on_row(desk, i)), pixel_of(desk, *on_row(desk, i + 5))
    QTest.mousePress(desk.canvas, LEFT, SHIFT, start - QPoint(2, 2))
    move_hand(desk, end, LEFT, SHIFT)
    let_go(desk, end)
    chosen = {s for _, s in desk.canvas.selected}
    assert {i, i + 1, i + 2, i + 3, i + 4} <= chosen
    assert len(chosen) < plan_of(desk).n_segments / 2
    assert desk.document.project is before
    n = len(chosen)
    assert desk.picked_card.heading.text() == f"{n} rows selected"


def test_a_lasso_takes_the_rows_inside_of_it(desk):
    i = middle_row(desk)
    desk.actions_by_id["snapping"].setChecked(False)
    desk.actions_by_id["select-lasso"].trigger()
    a, b = np.array(on_row(desk, i)), np.array(on_row(desk, i + 3))
    up = np.array([0.0, 12.0])
    for place in (a, b, b + up, a + up):
        click(desk, *place)
    QTest.keyClick(desk.canvas, Key.Key_Return)
    assert desk.canvas.tool is None
    assert {i, i + 1, i + 2} <= {s for _, s in desk.canvas.selected}


def test_a_box_by_two_corners_needs_no_mouse_button_held(desk):
    i = middle_row(desk)
    desk.actions_by_id["select-box"].trigger()
    click(desk, *on_row(desk, i))
    click(desk, *on_row(desk, i + 3))
    assert desk.canvas.tool is None
    assert {i + 1, i + 2} <= {s for _, s in desk.canvas.selected}


def test_all_and_none_by_their_keys(desk):
    QTest.keyClick(desk, Key.Key_A, CTRL)
    n = plan_of(desk).n_segments
    assert len(desk.canvas.selected) == len(desk.strip.selection) == n
    f = desk.picked_card.figures.text()
    assert f"{desk.answer.tally.vines:,}".replace(",", "") in f.replace("\u202f", "").replace(
        " ", ""
    ).replace(",", "")
    QTest.keyClick(desk, Key.Key_A, CTRL | SHIFT)
    assert desk.canvas.selected == ()
    assert desk.strip.selection == []
    assert not desk.picked_card.isVisible()


def test_rows_by_number_and_what_names_none_stays_to_be_mended(desk):
    card = answer(desk, "select-rows", "12-15, 20")
    assert not card.isVisible()
    assert codes(desk) == [f"B1-R{n:03d}" for n in (12, 13, 14, 15, 20)]
    card = answer(desk, "select-rows", "900")
    assert card.isVisible()
    assert "no row 900" in card.problem_text()
    assert len(desk.selecting.selection) == 5
    desk.site.leave()


def test_a_code_leads_to_its_vine_and_a_wrong_one_keeps_the_card(desk):
    card = answer(desk, "go-to-code", "B1-R020A-V999")
    assert card.isVisible()
    assert "Nothing on the plan is called" in card.problem_text()
    line = card.fields["code"].line
    line.selectAll()
    QTest.keyClicks(line, "b1-r020a-v007")
    QTest.keyClick(line, Key.Key_Return)
    assert not card.isVisible()
    assert codes(desk) == ["B1-R020"]
    assert desk.rows.picked.kind == "vine"
    assert desk.picked_card.heading.text() == "Vine B1-R020A-V007"
    left, top, right, bottom = desk.canvas.margins
    at = pixel_of(desk, *desk.rows.picked.place_m)
    assert left < at.x() < desk.canvas.width() - right
    assert top < at.y() < desk.canvas.height() - bottom


@pytest.mark.parametrize(
    ("code", "heading"),
    [
        ("20", "Row B1-R020A"),
        ("B1-R020A", "Row B1-R020A"),
        ("B1-R020A-E2", "End post B1-R020A-E2"),
        ("B1-R020A-L003", "Line post B1-R020A-L003"),
    ],
)
def test_a_code_leads_to_what_bears_it(desk, code, heading):
    from layoutdesk.core.layout.numbering import mark_code

    if heading.startswith("End"):
        code = mark_code("B1", 20, 0, "end_post", 2)
    elif heading.startswith("Line"):
        code = mark_code("B1", 20, 0, "line_post", 3)
    card = answer(desk, "go-to-code", code)
    assert not card.isVisible(), card.problem_text()
    words = heading.rpartition(" ")[0]
    wanted = code if "-" in code else "B1-R020A"
    assert desk.picked_card.heading.text() == f"{words} {wanted}"


def test_a_code_is_gone_to_from_another_stage(desk):
    desk.actions_by_id["stage-ground"].trigger()
    answer(desk, "go-to-code", "B1-R020A-V007")
    assert desk.stage == "rows"
    assert desk.picked_card.isVisible()


def test_the_selection_is_shown_as_large_as_may_be(desk):
    answer(desk, "select-rows", "12-13")
    scale = desk.canvas.view.scale
    desk.actions_by_id["zoom-selection"].trigger()
    assert desk.canvas.view.scale >= scale
    left, top, right, bottom = desk.canvas.margins
    for p, s in desk.canvas.selected:
        for end in plan_of(desk, p).segment_ends_m[s]:
            at = pixel_of(desk, *end)
            assert left < at.x() < desk.canvas.width() - right
            assert top < at.y() < desk.canvas.height() - bottom
    desk.selecting.clear()
    desk.actions_by_id["zoom-selection"].trigger()
    assert desk.work.text().startswith("Nothing is selected")


def test_the_table_on_the_clipboard_has_the_selected_rows_or_all(desk):
    answer(desk, "select-rows", "12-14")
    desk.actions_by_id["copy-table"].trigger()
    lines = QApplication.clipboard().text().strip().split("\n")
    assert [line.split("\t")[0] for line in lines[1:]] == ["B1-R012A", "B1-R013A", "B1-R014A"]
    plan = plan_of(desk)
    i = int(np.flatnonzero(plan.segments.number == 12)[0])
    row = lines[1].split("\t")
    assert row[1:4] == [
        f"{plan.segments.length_m[i]:.2f}",
        str(plan.vines_of_segment[i]),
        str(plan.line_posts.count[i]),
    ]
    assert "3 row segments copied" in desk.work.text()
    desk.selecting.clear()
    desk.actions_by_id["copy-table"].trigger()
    lines = QApplication.clipboard().text().strip().split("\n")
    assert len(lines) == plan.n_segments + 1
    desk.preferences.choose_unit("ft")
    desk.actions_by_id["copy-table"].trigger()
    lines = QApplication.clipboard().text().split("\n")
    assert "[ft]" in lines[0]
    assert float(lines[1 + i].split("\t")[1]) == pytest.approx(
        plan.segments.length_m[i] / 0.3048, abs=0.01
    )


def test_strip_and_plan_show_the_same_selection_both_ways(desk):
    i = middle_row(desk)
    click(desk, *on_row(desk, i))
    assert desk.strip.selection == [(0, i)]
    assert desk.strip.picked_place == (0, i)
    desk.strip.setFocus()
    QTest.keyClick(desk.strip, Key.Key_Right)
    assert desk.canvas.selected == ((0, i + 1),)
    number = plan_of(desk).segments.number[i + 1]
    assert desk.picked_card.heading.text() == f"Row B1-R{number:03d}A"
    QTest.keyClick(desk.strip, Key.Key_Right, SHIFT)
    assert {s for _, s in desk.canvas.selected} == {i + 1, i + 2}
    QTest.keyClick(desk.strip, Key.Key_Escape)
    assert desk.canvas.selected == ()


def test_a_picked_vine_gives_way_to_a_row_taken_in_the_strip(desk):
    answer(desk, "go-to-code", "B1-R020A-V007")
    desk.strip.setFocus()
    QTest.keyClick(desk.strip, Key.Key_Right)
    assert desk.picked_card.heading.text().startswith("Row B1-R")
    assert desk.rows.picked is None or desk.rows.picked.kind == "row"


def test_a_selection_outlives_a_change_of_rules_even_where_rows_are_gone_meanwhile(desk):
    answer(desk, "select-rows", "12-15")
    type_into(desk, "vine_spacing_m", "1.1")
    rest(desk)
    wanted = [f"B1-R{n:03d}" for n in (12, 13, 14, 15)]
    assert codes(desk) == wanted
    assert len(desk.canvas.selected) == len(desk.strip.selection) == 4
    type_into(desk, "min_row_m", "400")
    rest(desk)
    assert desk.canvas.selected == ()
    desk.actions_by_id["undo"].trigger()
    rest(desk)
    assert codes(desk) == wanted
    assert len(desk.canvas.selected) == len(desk.strip.selection) == 4


def test_a_selection_outlives_another_block(two_blocks):
    window = two_blocks
    answer(window, "select-rows", "B2: 5-6")
    assert codes(window) == ["B2-R005", "B2-R006"]
    window.actions_by_id["stage-ground"].trigger()
    window.actions_by_id["snapping"].setChecked(False)
    window.actions_by_id["draw-block"].trigger()
    x1 = max(b.outline.bounds[2] for b in window.document.project.blocks)
    window.canvas.go_to(x1 + 30, 0)
    for place in ((x1 + 20, 0), (x1 + 60, 0), (x1 + 40, 30)):
        click(window, *place)
    QTest.keyClick(window.canvas, Key.Key_Return)
    rest(window)
    window.actions_by_id["stage-rows"].trigger()
    assert codes(window) == ["B2-R005", "B2-R006"]
    assert len(window.canvas.selected) == len(window.strip.selection) == 2


def test_rows_of_two_blocks_are_told_in_one_card(two_blocks):
    window = two_blocks
    click(window, *on_row(window, 10, plan=0))
    click(window, *on_row(window, 8, plan=1), CTRL)
    assert set(window.canvas.selected) == {(0, 10), (1, 8)}
    a, b = window.answer.plans
    vines = int(a.vines_of_segment[10] + b.vines_of_segment[8])
    assert f"{vines} vines" in window.picked_card.figures.text()
    window.picked_card.buttons["copy"].click()
    lines = QApplication.clipboard().text().strip().split("\n")
    assert [line[:2] for line in lines[1:]] == ["B1", "B2"]
    before = window.document.project
    window.picked_card.buttons["leave-out"].click()
    assert [len(x.overrides) for x in window.document.project.blocks] == [1, 1]
    window.actions_by_id["undo"].trigger()
    assert window.document.project is before
    rest(window)


def test_a_click_beside_everything_selects_nothing(desk):
    QTest.keyClick(desk, Key.Key_A, CTRL)
    x0, _, _, y1 = desk.document.project.blocks[0].outline.bounds
    QTest.mouseClick(desk.canvas, LEFT, PLAIN, pixel_of(desk, x0 - 12, y1 - 10))
    assert desk.selecting.selection == frozenset()
