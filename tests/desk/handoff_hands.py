"""Hands on the hand-off stage: opened, worked out, values typed, measured points read."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest

from layoutdesk.core.model import HandOff
from layoutdesk.core.model.handoff import POINT_KINDS
from layoutdesk.session.hand_off_set import hand_off_of
from layoutdesk.session.staked import codes_of, taken_points
from tests.desk.hands import CTRL, LEFT, pump_until, rest

Key = Qt.Key


def worked_out(window) -> None:
    """Wait until the hand-off is that of the document, and the file in hand is compared."""
    rest(window)
    assert not window.handing_off.is_going_on


def to_handoff(window, page: str = "points") -> None:
    """Go to the stage by its key, turn to a page by a click, and wait."""
    QTest.keyClick(window, Key.Key_7, CTRL)
    QTest.mouseClick(window.handing_off.card.bar.buttons[page], LEFT)
    worked_out(window)


def turn_to(window, page: str) -> None:
    QTest.mouseClick(window.handing_off.card.bar.buttons[page], LEFT)
    worked_out(window)


def hand_off(window) -> HandOff:
    return hand_off_of(window.document.project)


def press(window, words: str) -> None:
    """Click a button of the page on show."""
    from PySide6.QtWidgets import QPushButton

    page = window.handing_off.card.stack.currentWidget()
    found = [b for b in page.findChildren(QPushButton) if b.text() == words]
    assert found, f"no button {words!r} on the page"
    assert found[0].isEnabled(), f"{words!r} is barred"
    QTest.mouseClick(found[0], LEFT)


def type_value(window, key: str, text: str, end=Key.Key_Tab) -> None:
    """Type over a value of a paragraph and leave it by a key."""
    value = window.handing_off.card.paragraph_with(key).fields[key]
    value.setFocus(Qt.FocusReason.TabFocusReason)
    pump_until(value.hasFocus, f"{key} has the keyboard", 5)
    QTest.keyClicks(value, text)
    QTest.keyClick(value, end)


def lines(window, key: str) -> tuple:
    """The lines of a list."""
    return window.handing_off.side.tables[key].lines


def told(window, page: str) -> str:
    """All that is said above the lists of a page."""
    side = window.handing_off.side
    return f"{side.firsts[page].text()}\n{side.sentences[page].text()}"


def field_file(window, path: Path, moved=lambda en: en, noise_m: float = 0.005) -> Path:
    """A table as a crew brings it back: all end posts where they are planned, but for noise and what moves them."""
    hand = window.handing_off.counting.answer.hand
    points = hand.points.all()
    ends = points.kind == POINT_KINDS.index("end_post")
    some = taken_points(points, ends)
    en = hand.placing.placed(some.xy_m)
    noise = np.random.default_rng(7).normal(0.0, noise_m / hand.placing.unit_m, en.shape)
    rows = [
        f"{i},{n:.4f},{e:.4f},,{code}"
        for i, (code, (e, n)) in enumerate(
            zip(codes_of(hand.points, some), (moved(en) + noise).tolist(), strict=True), 1
        )
    ]
    text = "\n".join(("point,northing,easting,elevation,description", *rows)) + "\n"
    path.write_text(text, encoding="utf-8")
    return path
