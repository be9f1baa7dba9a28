"""Row numbers clear in the headland, along their rows, and on the frame where a sheet cuts a row."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from .pdf_pen import Pen

_PT = 6.5
HALF_MM = 1.15
"""Half the height of a number with its ground. [mm]"""
_PAD_MM = 0.35
_ROOM_MM = 2.5
"""From row to row for every row to be numbered. [mm]"""
_ONE_IN = (1, 2, 5, 10, 20, 50, 100, 200, 500)


@dataclass(frozen=True, eq=False)
class RowEnds:
    """Ends of rows on a sheet, k of them.

    Attributes
    ----------
    at_mm, out_mm : float array, shape (k, 2)
        Where each is on the page, and the unit step along the row that its number is written in. [mm]
    gap_mm : float array, shape (k,)
        From there to the number. [mm]
    texts : list of str
    first : bool array, shape (k,)
        Those that are wanted most.
    """

    at_mm: np.ndarray
    out_mm: np.ndarray
    gap_mm: np.ndarray
    texts: list[str]
    first: np.ndarray


def one_in(row_mm: float) -> int:
    """Of so many rows one is numbered, rows being so far apart on paper.

    Examples
    --------
    >>> one_in(4.8), one_in(2.4), one_in(0.3)
    (1, 2, 10)
    """
    return next((k for k in _ONE_IN if k * row_mm >= _ROOM_MM), _ONE_IN[-1])


class RowNumbers:
    """Writes numbers at row ends of one sheet, none over another, nor over what is kept free.

    Parameters
    ----------
    pen : Pen
    frame : (float, float, float, float)
        Left, top, width and height of the plan; nothing is written beyond. [mm]
    """

    def __init__(self, pen: Pen, frame):
        x, y, wide, high = frame
        self._pen, self._inside = pen, shapely.box(x, y, x + wide, y + high)
        self._kept: list = []
        self._waiting: list[tuple[list[float], float, str]] = []

    def keep(self, x: float, y: float, half_wide: float, half_high: float) -> None:
        """Keep a place free of numbers."""
        self._kept.append(shapely.box(x - half_wide, y - half_high, x + half_wide, y + half_high))

    def say(self, ends: RowEnds) -> int:
        """Take in numbers where there is room, those wanted most first; returns how many."""
        if not ends.texts:
            return 0
        wide = np.array([self._pen.width_of_mm(t, "sans strong", _PT) for t in ends.texts])
        middle = ends.at_mm + ends.out_mm * (ends.gap_mm + wide / 2)[:, None]
        boxes = _oriented(middle, ends.out_mm, wide / 2 + _PAD_MM, HALF_MM)
        inside = shapely.contains(self._inside, boxes)
        order = np.argsort(~ends.first, kind="stable")
        n_before = len(self._waiting)
        tree = shapely.STRtree(boxes)
        refused = ~inside
        for kept in self._kept:
            refused[tree.query(kept, predicate="intersects")] = True
        near = {}
        for a, b in tree.query(boxes, predicate="intersects").T.tolist():
            if a != b:
                near.setdefault(a, []).append(b)
        accepted = np.zeros(len(boxes), bool)
        for i in order.tolist():
            if refused[i] or any(accepted[j] for j in near.get(i, ())):
                continue
            accepted[i] = True
            self._waiting.append((middle[i].tolist(), _angle(ends.out_mm[i]), ends.texts[i]))
            self._kept.append(boxes[i])
        return len(self._waiting) - n_before

    def draw(self) -> None:
        for (x, y), angle, text in self._waiting:
            self._pen.text_turned(x, y, text, "sans strong", _PT, angle, ground_mm=_PAD_MM)


def _angle(out_mm: np.ndarray) -> float:
    """Turn of a text along a row, read from below or from the right. [deg]"""
    angle = math.degrees(math.atan2(-out_mm[1], out_mm[0]))
    if angle > 90.01:
        return angle - 180
    return angle + 180 if angle <= -90.0 else angle


def _oriented(middle: np.ndarray, along: np.ndarray, half_long, half_high: float) -> np.ndarray:
    """Rectangles along rows, as shapely polygons."""
    u = along * np.asarray(half_long)[:, None]
    v = np.column_stack([-along[:, 1], along[:, 0]]) * half_high
    return shapely.polygons(np.stack([middle - u - v, middle + u - v, middle + u + v, middle - u + v], axis=1))  # fmt: skip
