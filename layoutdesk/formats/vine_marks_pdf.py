"""Vines as small marks on a page: every class has a form and a colour of its own."""

from __future__ import annotations

import numpy as np

from .day_plan_pdf import MARKS
from .pdf_pen import COLOURS, Pen

FORMS = ("dot", "square", "ring", "triangle", "cross", "diamond", "open square")
"""Told apart in print without colour; beyond the last the first comes again in another colour."""
QUIET_FORM, QUIET_COLOUR = "dot", "row"
LOST_COLOUR = "accent"

_CORNERS = {
    # corners about the middle, in parts of the mark's width, y down
    "square": ((-0.44, -0.44), (0.44, -0.44), (0.44, 0.44), (-0.44, 0.44)),
    "open square": ((-0.4, -0.4), (0.4, -0.4), (0.4, 0.4), (-0.4, 0.4)),
    "triangle": ((0.0, -0.6), (0.55, 0.4), (-0.55, 0.4)),
    "diamond": ((0.0, -0.62), (0.62, 0.0), (0.0, 0.62), (-0.62, 0.0)),
}
_STROKES = ((-0.5, -0.5), (0.5, 0.5)), ((-0.5, 0.5), (0.5, -0.5))
_ROUND_PT = 0.001
"""A line this long with round ends is a disc. [pt]"""


def form_of(at: int) -> str:
    """Form of a class of vines, by its place in the legend."""
    return FORMS[at % len(FORMS)]


def colour_of(at: int) -> str:
    """Colour of a class of vines, by its place in the legend."""
    return MARKS[at % len(MARKS)][0]


def draw_marks(pen: Pen, xy_mm: np.ndarray, form: str, colour: str, size_mm: float) -> None:
    """Marks of one form, their middles at places (n, 2), as one path. [mm]"""
    if not len(xy_mm):
        return
    xy = pen.points(xy_mm)
    unit = pen.points([[size_mm, 0.0]])[0, 0] - pen.points([[0.0, 0.0]])[0, 0]
    canvas = pen.canvas
    canvas.saveState()
    canvas.setDash()
    if form in ("dot", "ring"):
        _discs(canvas, xy, COLOURS[colour], unit)
        if form == "ring":
            _discs(canvas, xy, COLOURS["white"], 0.52 * unit)
    elif form == "cross":
        canvas.setStrokeColor(COLOURS[colour])
        canvas.setLineWidth(0.24 * unit)
        for a, b in _STROKES:
            ends = np.hstack([xy + unit * _up(a), xy + unit * _up(b)])
            _append(canvas, "%.2f %.2f m %.2f %.2f l\n", ends, "S")
    else:
        corners = np.hstack([xy + unit * _up(corner) for corner in _CORNERS[form]])
        moves = ["%.2f %.2f m", *["%.2f %.2f l"] * (len(_CORNERS[form]) - 1), "h\n"]
        if form == "open square":
            canvas.setStrokeColor(COLOURS[colour])
            canvas.setFillColor(COLOURS["white"])
            canvas.setLineWidth(0.2 * unit)
            _append(canvas, " ".join(moves), corners, "B")
        else:
            canvas.setFillColor(COLOURS[colour])
            _append(canvas, " ".join(moves), corners, "f")
    canvas.restoreState()


def _up(corner) -> np.ndarray:
    return np.array(corner) * (1, -1)


def _discs(canvas, xy: np.ndarray, colour: str, wide: float) -> None:
    canvas.setStrokeColor(colour)
    canvas.setLineWidth(wide)
    canvas.setLineCap(1)
    ends = np.hstack([xy, xy + (_ROUND_PT, 0.0)])
    _append(canvas, "%.2f %.2f m %.3f %.2f l\n", ends, "S")


def _append(canvas, form: str, values: np.ndarray, paint: str) -> None:
    """One path of many like pieces: written by one formatting, not mark by mark."""
    canvas._code.append((form * len(values)) % tuple(values.ravel().tolist()) + paint)
