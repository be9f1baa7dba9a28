"""The strip of row lengths below the plan: every segment as a bar, picked by mouse or keyboard."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, Qt, Signal
from PySide6.QtGui import QKeySequence
from PySide6.QtWidgets import QWidget

from ..session.layouts import LayoutAnswer
from ..session.row_bars import SHORT_SHARE, Place, row_bars
from .bar_chart import BarChart
from .look import Theme

_ENTER = (Qt.Key.Key_Return, Qt.Key.Key_Enter)
_STEPS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}
_ENDS = (Qt.Key.Key_Home, Qt.Key.Key_End)


class RowStrip(BarChart):
    """Every segment as a bar of its length, in row order; linked with the plan both ways.

    One bar can be *picked*; it stays so until another is, also while others are pointed at and
    while the rows are laid anew. *Selected* are the picked one and those taken in with it.

    Signals
    -------
    pointed : Place or None
        What is to be lit up on the plan: the bar under the pointer, else the picked one.
    picked : Place or None
    selected : list of Place
        In row order.
    wanted : Place
        Enter or a double click: go there.
    copy_wanted
        Ctrl+C: the rows selected, or all where none is, as a table.
    """

    pointed = Signal(object)
    picked = Signal(object)
    selected = Signal(list)
    wanted = Signal(object)
    copy_wanted = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None):
        super().__init__(theme, parent)
        self.setAccessibleName("Row lengths")
        self.setToolTip(
            "Click picks a row, Shift and click all up to it, Ctrl and click one more. Left and "
            "Right walk from row to row, Home and End to the first and the last; Enter or a double "
            f"click goes there. Amber: under {SHORT_SHARE:.0%} of the longest."
        )
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self._reached: int | None = None  # as far as Shift has taken the selection

    # what is shown

    def show_answer(self, answer: LayoutAnswer) -> None:
        """Show the rows of all blocks, block after block; picked rows are found again by number."""
        before = self.picked_place, self.selection
        known, pick = self._bars, self._pick
        chosen = self._chosen if _same_site(self._answer, answer) else np.zeros(len(known), bool)
        self._answer, self._bars = answer, row_bars(answer)
        self._chosen = self._bars.found_again(known, np.flatnonzero(chosen))
        again = ()
        if pick is not None and chosen[pick]:
            again = np.flatnonzero(self._bars.found_again(known, np.array([pick])))
        self._pick = int(again[0]) if len(again) else None
        self._reached = self._pick
        self._tell_changes(before)
        self.update()

    def mark(self, place: Place | None) -> None:
        """Light up the bar of a row that is pointed at; what is picked stays picked."""
        if place != self._hovered:
            self._hovered = place
            self.update()

    @property
    def hovered(self) -> Place | None:
        """The row that is pointed at."""
        return self._hovered

    @property
    def picked_place(self) -> Place | None:
        """The picked row."""
        return None if self._pick is None else self._bars.place(self._pick)

    @property
    def selection(self) -> list[Place]:
        """The selected rows in row order."""
        return self._bars.places(self._chosen)

    def pick(self, place: Place | None) -> None:
        """Pick one row, or none; it alone is selected then."""
        bar = self._bars.bar(place)
        chosen = np.zeros(len(self._length), bool)
        if bar is not None:
            chosen[bar] = True
        self._take(bar, chosen)

    def select(self, places: set[Place]) -> None:
        """Mark many rows; the picked one stays picked where it is among them."""
        chosen = np.zeros(len(self._length), bool)
        bars = [b for b in map(self._bars.bar, places) if b is not None]
        chosen[bars] = True
        pick = self._pick if self._pick in bars else (min(bars) if bars else None)
        self._take(pick, chosen)

    def _take(self, pick: int | None, chosen: np.ndarray, reached: int | None = None) -> None:
        before = self.picked_place, self.selection
        self._pick, self._chosen = pick, chosen
        self._reached = pick if reached is None else reached
        self._tell_changes(before)
        self.update()

    def _tell_changes(self, before: tuple[Place | None, list[Place]]) -> None:
        place, selection = self.picked_place, self.selection
        if place != before[0]:
            self.setAccessibleDescription("" if place is None else f"Picked: {self._told(place)}")
            self.picked.emit(place)
            self.pointed.emit(place)
        if selection != before[1]:
            self.selected.emit(selection)

    # mouse and keyboard

    def mouseMoveEvent(self, event):
        bar = self._bar_at(event.position())
        self.pointed.emit(self.picked_place if bar is None else self._bars.place(bar))

    def mousePressEvent(self, event):
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        event.accept()
        bar = self._bar_at(event.position())
        if bar is None or event.button() != Qt.MouseButton.LeftButton:
            return
        keys = event.modifiers()
        if keys & Qt.KeyboardModifier.ShiftModifier and self._pick is not None:
            self._extend(bar)
        elif keys & Qt.KeyboardModifier.ControlModifier:
            chosen = self._chosen.copy()
            chosen[bar] = not chosen[bar]
            left = np.flatnonzero(chosen)
            pick = bar if chosen[bar] else self._pick if self._pick != bar else None
            if pick is None and len(left):
                pick = int(left[np.argmin(np.abs(left - bar))])
            self._take(pick, chosen)
        else:
            self.pick(self._bars.place(bar))

    def mouseDoubleClickEvent(self, event):
        event.accept()
        bar = self._bar_at(event.position())
        if bar is not None and event.button() == Qt.MouseButton.LeftButton:
            self.wanted.emit(self._bars.place(bar))

    def mouseReleaseEvent(self, event):
        event.accept()

    def leaveEvent(self, event):
        self.pointed.emit(self.picked_place)
        super().leaveEvent(event)

    def event(self, event):
        if event.type() == QEvent.Type.ShortcutOverride and self._answers(event):
            event.accept()  # Home is "Show all" elsewhere
            return True
        return super().event(event)

    def _answers(self, event) -> bool:
        """Whether a key press means something here."""
        copies = event.matches(QKeySequence.StandardKey.Copy)
        takes_all = event.matches(QKeySequence.StandardKey.SelectAll)
        keypad = Qt.KeyboardModifier.KeypadModifier
        plain = not event.modifiers() & ~(Qt.KeyboardModifier.ShiftModifier | keypad)
        own = (*_STEPS, *_ENDS, *_ENTER)
        return copies or takes_all or (plain and event.key() in own)

    def keyPressEvent(self, event):
        n, key = len(self._length), event.key()
        if key == Qt.Key.Key_Escape and self._chosen.any():
            self._take(None, np.zeros(n, bool))
        elif not n or not self._answers(event):
            super().keyPressEvent(event)
        elif event.matches(QKeySequence.StandardKey.Copy):
            self.copy_wanted.emit()
        elif event.matches(QKeySequence.StandardKey.SelectAll):
            self._take(self._pick if self._pick is not None else 0, np.ones(n, bool))
        elif key in _ENTER:
            if self._pick is not None:
                self.wanted.emit(self.picked_place)
        else:
            self._walk(key, bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))

    def _walk(self, key, extending: bool) -> None:
        last = len(self._length) - 1
        extending = extending and self._pick is not None
        at = self._reached if extending else self._pick
        if key in _ENDS:
            to = 0 if key == Qt.Key.Key_Home else last
        elif at is None:
            hovered = self._bars.bar(self._hovered)
            to = hovered if hovered is not None else 0 if _STEPS[key] > 0 else last
        else:
            to = min(max(at + _STEPS[key], 0), last)
        if extending:
            self._extend(to)
        else:
            self.pick(self._bars.place(to))

    def _extend(self, bar: int) -> None:
        chosen = np.zeros(len(self._length), bool)
        first, last = sorted((self._pick, bar))
        chosen[first : last + 1] = True
        self._take(self._pick, chosen, bar)

    def focusInEvent(self, event):
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event):
        super().focusOutEvent(event)
        self.update()


def _same_site(a: LayoutAnswer | None, b: LayoutAnswer) -> bool:
    """Whether row numbers of one layout mean the same in another."""
    if a is None:
        return False
    origins = {
        (x.project.site.frame.latitude_deg, x.project.site.frame.longitude_deg) for x in (a, b)
    }
    names = {tuple(p.block.name for p in x.plans) for x in (a, b)}
    return len(origins) == len(names) == 1
