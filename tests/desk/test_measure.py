"""Measuring on the plan by clicks; places snap to corners and posts."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from layoutdesk.session.measuring import measured

from .hands import LEFT, PLAIN, move_hand, pixel_of, rest


def click(window, x, y, off=0):
    QTest.mouseClick(window.canvas, LEFT, PLAIN, pixel_of(window, x, y) + QPoint(off, 0))


def test_from_corner_to_corner_is_the_edge_though_clicked_beside_it(desk):
    (a, b, c) = desk.document.project.blocks[0].outline.exterior.coords[:3]
    desk.actions_by_id["measure"].trigger()
    for x, y in (a, b, c):
        click(desk, x, y, off=3)
    assert [pytest.approx(p, abs=1e-9) for p in (a, b, c)] == desk.measure.places
    m = measured([a, b, c])
    desk.measure.leave()  # the pointer is off the plan
    told = desk.measure.lines()
    assert told[0] == f"{m.leg_m:.2f} m"
    assert "true" in told[1]
    assert told[2] == f"{m.length_m:.2f} m in all"
    assert told[3].endswith("ha inside")


def test_clicks_measure_and_change_nothing_then_escape_gives_the_plan_back(desk):
    before = desk.document.project
    point = before.blocks[0].outline.representative_point()
    desk.actions_by_id["measure"].trigger()
    click(desk, point.x, point.y)
    move_hand(desk, pixel_of(desk, point.x + 20, point.y), button=Qt.MouseButton.NoButton)
    assert desk.measure.lines()
    QTest.keyClick(desk.canvas, Qt.Key.Key_Backspace)
    assert desk.measure.places == []
    QTest.keyClick(desk.canvas, Qt.Key.Key_Escape)
    assert desk.canvas.tool is None
    assert desk.document.project == before
    assert desk.edges.view is None
    rest(desk)


def test_a_chain_that_crosses_itself_has_no_area():
    assert measured([(0, 0), (10, 10), (10, 0), (0, 10)]).area_m2 is None
    assert measured([(0, 0), (0, 0)]).bearing_deg is None
