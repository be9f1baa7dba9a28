"""What the hand holds on the plan: one object takes clicks, keys and drags while it is in hand."""

from __future__ import annotations

from PySide6.QtCore import QPointF, Qt

from .gestures import Gesture


class Tool:
    """Does nothing; tools override what they need. Places are in the site frame. [m]"""

    cursor = Qt.CursorShape.ArrowCursor
    points = False
    """Whether the arrow keys move a pointer on the plan and Enter clicks with it."""

    def press(self, at: QPointF, modifiers) -> Gesture | None:
        """The gesture that a press of the left button begins, None where it may become a click."""
        return None

    def click(self, x: float, y: float, modifiers) -> None: ...

    def double_click(self, x: float, y: float) -> None: ...

    def hover(self, x: float, y: float) -> None: ...

    def leave(self) -> None:
        """The pointer has left the plan."""

    def key(self, event) -> bool:
        """Whether a key was the tool's."""
        return False

    def paint(self, painter, view, theme) -> None: ...
