"""Hands on the planting stage: opened, worked out, values typed, cards filled in, vines clicked."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from layoutdesk.core.model import Planting
from layoutdesk.session.vine_places import place_of_vine
from tests.desk.hands import CTRL, LEFT, PLAIN, pixel_of, pump_until, rest

Key = Qt.Key


def worked_out(window) -> None:
    """Wait until the planting is that of the document, and all of it is shown."""
    rest(window)
    pump_until(lambda: window.planting.planning.is_done, "the planting is worked out")
    rest(window)


def to_planting(window) -> None:
    """Go to the stage by its key, and wait."""
    QTest.keyClick(window, Key.Key_6, CTRL)
    worked_out(window)


def turn_to(window, page: str) -> None:
    """Turn to a page by a click on its button, and wait."""
    QTest.mouseClick(window.planting.card.bar.buttons[page], LEFT)
    worked_out(window)


def planting_of(window) -> Planting:
    return window.document.project.planting or Planting()


def button(window, words: str):
    """The button of the page on show that has these words."""
    from PySide6.QtWidgets import QPushButton

    page = window.planting.card.stack.currentWidget()
    found = [b for b in page.findChildren(QPushButton) if b.text() == words]
    assert found, f"no button {words!r} on the page"
    return found[0]


def press(window, words: str) -> None:
    """Click a button of the page on show."""
    QTest.mouseClick(button(window, words), LEFT)


def field(window, key: str):
    """A value of one of the paragraphs, with the keyboard on it."""
    value = window.planting.card.paragraph_with(key).fields[key]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    pump_until(value.hasFocus, f"{key} has the keyboard", 5)
    return value


def type_planting(window, key: str, text: str, end=Key.Key_Tab) -> None:
    """Type over a value and leave it by a key."""
    value = field(window, key)
    QTest.keyClicks(value, text)
    QTest.keyClick(value, end)


def fill_in(window, end=Key.Key_Return, **texts: str):
    """Type into fields of the card that asks, and end it by a key in the last; the card."""
    card = window.site.card
    assert card is not None, "nothing was asked"
    assert card.isVisible(), "the card is closed"
    line = next(r.line for r in card.fields.values() if r.isVisible())
    for name, text in texts.items():
        line = card.fields[name].line
        assert line.isVisible(), f"{name} is not asked"
        line.setFocus()
        line.selectAll()
        QTest.keyClick(line, Key.Key_Delete)
        QTest.keyClicks(line, text)
    QTest.keyClick(line, end)
    return card


def vine_pixel(window, vine) -> QPoint:
    """The canvas pixel of a vine, told by plan and index."""
    return pixel_of(window, *place_of_vine(window.answer.plans, vine))


def click_vine(window, vine, modifiers=PLAIN) -> None:
    """Bring a vine into the middle of the plan and click it."""
    window.canvas.go_to(*place_of_vine(window.answer.plans, vine))
    rest(window)
    QTest.mouseClick(window.canvas, LEFT, modifiers, vine_pixel(window, vine))
