"""Words on a drawn plan that stay clear of one another."""

from __future__ import annotations

import numpy as np

from .pdf_ground import draw_label
from .pdf_pen import Pen


class Labels:
    """Words on a plan, none over another: what is asked for first stays.

    Parameters
    ----------
    pen : Pen
    frame : (float, float, float, float)
        Left, top, width and height of the plan; nothing is said outside. [mm]
    """

    def __init__(self, pen: Pen, frame):
        self._pen, self._waiting = pen, []
        self._taken: list[tuple[float, float, float, float]] = []
        x, y, wide, high = frame
        self._frame = x, y, x + wide, y + high

    def take(self, x: float, y: float, half_wide: float, half_high: float) -> bool:
        """Keep a place free; False where something is there already, or it is off the plan."""
        x0, y0, x1, y1 = x - half_wide, y - half_high, x + half_wide, y + half_high
        left, top, right, foot = self._frame
        if x0 < left or y0 < top or x1 > right or y1 > foot:
            return False
        if any(x0 < b[2] and x1 > b[0] and y0 < b[3] and y1 > b[1] for b in self._taken):
            return False
        self._taken.append((x0, y0, x1, y1))
        return True

    def say(self, text: str, places, face: str, size: float, colour: str) -> bool:
        """Words at the first of the places that is free."""
        wide = self._pen.width_of_mm(text, face, size) / 2 + 0.8
        for place in places:
            if self.take(float(place[0]), float(place[1]), wide, 0.3 * size):
                self._waiting.append((text, np.asarray(place, dtype=float), face, size, colour))
                return True
        return False

    def draw(self) -> None:
        for text, place, face, size, colour in self._waiting:
            draw_label(self._pen, text, place, face, size, colour)
