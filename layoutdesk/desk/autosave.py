"""Saving by itself, every so many minutes, where that can surprise nobody."""

from __future__ import annotations

import datetime

from PySide6.QtCore import QObject, Qt, QTimer
from PySide6.QtWidgets import QApplication

MINUTES = (0, 1, 5, 15)
"""How often the program may save by itself; 0 is never. [min]"""

_BUSY_MS = 5000
"""So long it waits where a hand or another piece of work is busy. [ms]"""


class Autosave(QObject):
    """A clock that has the document saved to its own file.

    Never: a document without a file, recovered work (it replaces its file only when told to), and a
    file that another window holds.
    """

    def __init__(self, filing):
        super().__init__(filing)
        self.filing = filing
        self._failed = False
        self._clock = QTimer(self)
        self._clock.setSingleShot(True)
        self._clock.timeout.connect(self.tick)
        self._wind()

    def minutes(self) -> int:
        """How often, as the settings say; 0 for never. [min]"""
        try:
            minutes = int(self.filing.window.settings.value("autosave_minutes", 0))
        except (TypeError, ValueError):
            return 0
        return minutes if minutes in MINUTES else 0

    def choose(self, minutes: int) -> None:
        """Save every so many minutes from now on, one of MINUTES."""
        if minutes not in MINUTES:
            raise ValueError(f"minutes: {minutes!r} is not one of {MINUTES}")
        self.filing.window.settings.setValue("autosave_minutes", minutes)
        self._wind()

    def _wind(self) -> None:
        minutes = self.minutes()
        if minutes:
            self._clock.start(minutes * 60_000)
        else:
            self._clock.stop()

    def tick(self) -> None:
        """Save now where there is something to save and nothing is in hand."""
        document = self.filing.window.document
        if (
            document is None
            or document.path is None
            or not document.is_dirty
            or document.recovered
            or self.filing.changed_elsewhere()
            or (self.filing.held is not None and self.filing.held.elsewhere(document.path))
        ):
            self._wind()
        elif self.filing.task is not None or QApplication.mouseButtons() != Qt.MouseButton.NoButton:
            self._clock.start(_BUSY_MS)
        else:
            self.filing.save_to(document.path, by_itself=True)
            self._wind()

    def went_well(self, by_itself: bool) -> None:
        """Note that the project was saved; said where nobody asked for it."""
        self._failed = False
        if by_itself:
            self.filing.say(f"saved by itself at {datetime.datetime.now():%H:%M}")

    def may_complain(self, by_itself: bool) -> bool:
        """Whether a failure is to be said: once for a row of failures nobody asked for."""
        said, self._failed = self._failed, by_itself
        return not (by_itself and said)
