"""What every card on the plan has in common."""

from __future__ import annotations

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPen
from PySide6.QtWidgets import QAbstractButton, QFrame, QWidget

from ..session.tally import grouped
from .look import Theme

__all__ = ["Card", "grouped", "paint_focus_ring"]


class Card(QFrame):
    """A panel on the plan. What a hand does on it never reaches the plan behind."""

    def __init__(self, parent: QWidget | None = None):
        super().__init__(parent)
        self.setObjectName("card")
        # Qt hands unused clicks and wheel turns on to the parent, which is the plan.
        self.setAttribute(Qt.WidgetAttribute.WA_NoMousePropagation)

    def wheelEvent(self, event):
        event.accept()

    def keyPressEvent(self, event):
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):  # a field hands them on
            super().keyPressEvent(event)
        elif isinstance(self.focusWidget(), QAbstractButton) and self.focusWidget().hasFocus():
            self.focusWidget().click()


def paint_focus_ring(painter: QPainter, widget: QWidget, theme: Theme, radius_px: float) -> None:
    """Draw the ring that shows where the keyboard is, just inside a widget's rim."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(QPen(theme["accent"], 2.0))
    painter.setBrush(Qt.BrushStyle.NoBrush)
    painter.drawRoundedRect(QRectF(widget.rect()).adjusted(1, 1, -1, -1), radius_px, radius_px)
