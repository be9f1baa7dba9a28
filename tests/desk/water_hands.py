"""Hands on the water stage: opened, worked out, values typed, vines pointed at."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from layoutdesk.core.model import Water
from layoutdesk.session.vine_places import place_of_vine
from tests.desk.hands import CTRL, move_hand, pixel_of, pump_until, rest

Key = Qt.Key


def worked_out(window) -> None:
    """Wait until the drip system is that of the document, and all of it is shown."""
    rest(window)
    pump_until(lambda: window.watering.designing.is_done, "the drip system is worked out")
    rest(window)


def to_water(window) -> None:
    """Go to the stage by its key, and wait."""
    QTest.keyClick(window, Key.Key_5, CTRL)
    worked_out(window)


def water_of(window) -> Water:
    return window.document.project.water or Water()


def field(window, key: str):
    """A value of one of the paragraphs, with the keyboard on it."""
    value = window.watering.card.paragraph_with(key).fields[key]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    pump_until(value.hasFocus, f"{key} has the keyboard", 5)
    return value


def type_water(window, key: str, text: str, end=Key.Key_Tab) -> None:
    """Type over a value and leave it by a key."""
    value = field(window, key)
    QTest.keyClicks(value, text)
    QTest.keyClick(value, end)


def vine_pixel(window, vine) -> QPoint:
    """The canvas pixel of a vine, told by plan and index."""
    return pixel_of(window, *place_of_vine(window.answer.plans, vine))


def point_at_vine(window, vine) -> None:
    """Move the pointer onto a vine."""
    move_hand(window, vine_pixel(window, vine), Qt.MouseButton.NoButton)
