"""What a person does on the ground stage."""

from __future__ import annotations

from PySide6.QtCore import QPoint, Qt
from PySide6.QtTest import QTest

from .hands import (
    LEFT,
    PLAIN,
    let_go,
    move_hand,
    pixel_of,
    rest,
)

Key = Qt.Key
ALT = Qt.KeyboardModifier.AltModifier


def outline(window, i=0):
    return window.document.project.blocks[i].outline


def corner(window, i, block=0):
    return outline(window, block).exterior.coords[i]


def middle(window, i, block=0):
    (ax, ay), (bx, by) = outline(window, block).exterior.coords[i : i + 2]
    return (ax + bx) / 2, (ay + by) / 2


def click(window, x, y, keys=PLAIN):
    QTest.mouseClick(window.canvas, LEFT, keys, pixel_of(window, x, y))


def places(window, *places, end=True):
    for place in places:
        click(window, *place)
    if end:
        QTest.keyClick(window.canvas, Key.Key_Return)


def take_shape(window, block=0):
    """Take a block in hand by a click inside of it, off its rows' labels."""
    p = outline(window, block).representative_point()
    click(window, p.x, p.y)


def drag(window, place, to, *, release=True):
    start = pixel_of(window, *place)
    end = to if isinstance(to, QPoint) else pixel_of(window, *to)
    QTest.mousePress(window.canvas, LEFT, PLAIN, start)
    for share in (0.3, 0.7, 1.0):
        move_hand(window, start + (end - start) * share)
    if release:
        let_go(window, end)
    return end


def type_in(line, text):
    line.setFocus()
    line.selectAll()
    if text.isascii():
        QTest.keyClicks(line, text)
    else:  # QTest has no keys for degree signs and narrow spaces
        line.insert(text)
    QTest.keyClick(line, Key.Key_Return)


def undone(window, before, steps=1):
    for _ in range(steps):
        window.actions_by_id["undo"].trigger()
    assert window.document.project is before
    rest(window)
