"""What stages with a card on either side of the plan have in common, where something is worked out for them."""

from __future__ import annotations

from PySide6.QtCore import QObject, QRect, QTimer

from ..core.model import Finding
from .background import Asked

WORKING = "Working it out…"
_GAP_PX, _PATIENCE_MS = 10, 250


class SideWork(QObject):
    """Follows the document while its stage is on show; what takes a moment only is not said to be going on.

    Subclasses make `card`, `side` and `legend`, say in `follow` what is asked, and show in `show` what came.

    Attributes
    ----------
    stage : str
        Its key in `stages.STAGES`.
    counting : Asked
        What works it out.
    """

    stage = ""

    def __init__(self, window, counting: Asked):
        super().__init__(window)
        self.window, self.counting = window, counting
        self.counting.came.connect(self._come)
        self._found: tuple[Finding, ...] = ()
        self._patience = QTimer(self)
        self._patience.setSingleShot(True)
        self._patience.setInterval(_PATIENCE_MS)
        self._patience.timeout.connect(self._say_state)

    @property
    def is_shown(self) -> bool:
        return self.window.stage == self.stage and self.window.document is not None

    @property
    def answer(self):
        """The newest answer, None until there is one."""
        return self.counting.answer

    @property
    def holds(self) -> bool:
        """Whether the newest answer is of the rows on show."""
        return self.counting.holds_for_the_rows

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be said besides the findings of the layout."""
        return self._found

    def close(self) -> None:
        self._patience.stop()
        self.counting.close()

    def forget(self) -> None:
        """Put down everything of the project that is left."""
        self._patience.stop()
        self.counting.forget()
        self._found = ()

    def follow(self) -> None:
        """Show the document as it is, and have worked out what is not yet."""
        raise NotImplementedError

    def show(self) -> None:
        """Show the newest answer."""
        raise NotImplementedError

    def legend_px(self) -> int:
        """How high the legend is to be; 0 where the plan needs none."""
        raise NotImplementedError

    def _wait(self) -> None:
        """Say that something is going on, once it has taken a moment."""
        if self.counting.is_going_on and not self._patience.isActive():
            self._patience.start()

    def _say_state(self) -> None:
        state, counting = self.side.state, self.counting
        if counting.problem:
            state.say(counting.problem, amiss=True)
        elif counting.is_going_on and (counting.newest is None or not self._patience.isActive()):
            state.say(WORKING)
        else:
            state.say("")

    def _come(self) -> None:
        """Something came: show it, its findings too, and make room for the legend where there is one now."""
        if not self.is_shown:
            return
        had = bool(self.legend_px())
        self.show()
        found = self.found_now()
        if found is not None and found != self._found:
            self._found = found
            self.window.show_findings()
            self.window.arrange()
        elif had != bool(self.legend_px()):
            self.window.arrange()

    def found_now(self) -> tuple[Finding, ...] | None:
        """Findings of the newest answer; None while those told before are to stay."""
        return None if self.answer is None else self.answer.findings

    def arrange(self, left: QRect, right: QRect) -> None:
        """Stand left and right of the plan while the stage is on show."""
        shown = self.is_shown
        high = self.legend_px() if shown else 0
        if shown:
            room = left.height() - (high + _GAP_PX if high else 0)
            self.card.setGeometry(left.x(), left.y(), left.width(), room)
            self.legend.setGeometry(left.x(), left.y() + room + _GAP_PX, left.width(), high)
            self.side.setGeometry(right)
        for part in (self.card, self.side):
            part.setVisible(shown)
        self.legend.setVisible(bool(high))
