"""An edge of the outline in hand: picked on the plan or by the keyboard, changed in its card."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from .hands import LEFT, PLAIN, pixel_of, rest


def middle_of(window, i):
    (ax, ay), (bx, by) = window.document.project.blocks[0].outline.exterior.coords[i : i + 2]
    return pixel_of(window, (ax + bx) / 2, (ay + by) / 2)


def click_edge(window, i):
    QTest.mouseClick(window.canvas, LEFT, PLAIN, middle_of(window, i))


def test_a_click_takes_an_edge_in_hand_and_a_click_beside_lets_go(desk):
    click_edge(desk, 0)
    assert desk.edges.view.edge == 0
    assert desk.edge_card.isVisible()
    assert "true" in desk.edge_card.place.text()
    block = desk.document.project.blocks[0].outline.representative_point()
    QTest.mouseClick(desk.canvas, LEFT, PLAIN, pixel_of(desk, block.x, block.y))
    assert desk.edges.view is None
    assert not desk.edge_card.isVisible()


def test_a_width_typed_for_an_edge_is_its_own_and_undone_in_one_step(desk):
    before = desk.document.project
    click_edge(desk, 0)
    field = desk.edge_card.width_field
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "14.5")
    QTest.keyClick(field, Qt.Key.Key_Return)
    rest(desk)
    (own,) = desk.document.project.blocks[0].edge_widths
    assert (own.ring, own.edge, own.width_m) == (0, 0, 14.5)
    assert desk.edge_card.why.text().startswith("a width of its own")
    desk.edge_card.back.click()
    assert desk.document.project == before
    desk.actions_by_id["undo"].trigger()
    desk.actions_by_id["undo"].trigger()
    assert desk.document.project == before
    assert desk.document.undo_label is None


def test_rows_along_an_edge_by_the_keyboard_alone(desk):
    desk.actions_by_id["next-edge"].trigger()
    desk.actions_by_id["next-edge"].trigger()
    assert desk.edges.view.edge == 1
    wanted = desk.edges.view.bearing_deg
    desk.actions_by_id["rows-along"].trigger()
    rest(desk)
    assert desk.document.project.blocks[0].rules.bearing_deg == pytest.approx(wanted)
    assert desk.document.undo_label == "rows along an edge"
    QTest.keyClick(desk.edge_card, Qt.Key.Key_Escape)
    assert desk.edges.view is None


def test_nonsense_for_a_width_is_said_and_changes_nothing(desk):
    before = desk.document.project
    click_edge(desk, 1)
    field = desk.edge_card.width_field
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "wide")
    QTest.keyClick(field, Qt.Key.Key_Return)
    assert "no length" in desk.notice.text()
    assert desk.document.project == before


def test_an_edge_is_let_go_with_its_site(desk, two_block_project):
    click_edge(desk, 0)
    desk.show_project(two_block_project)
    rest(desk)
    assert desk.edges.view is None
    assert desk.canvas.edge_m is None
