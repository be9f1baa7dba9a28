"""What stands under a plan of an irrigation sheet: north, scale, the ramp, signs, and words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from .pdf_ground import box, draw_north_and_scale
from .pdf_pen import Pen
from .waterset import WaterFiles

if TYPE_CHECKING:
    from .water_pdf_plan import PlanPage

LEGEND_MM = 38.0
"""Of all of it. [mm]"""
DRY = "ink"
"""Colour of vines without water."""
DASH = (2.2, 1.2)
"""Of mains. [mm]"""
_LEADING_MM = 3.3


def draw_legend(pen: Pen, water: WaterFiles, page: PlanPage) -> None:
    """Everything that is needed to read a plan, under it."""
    x0, y, wide, high = page.frame
    top = y + high + 1.0
    draw_north_and_scale(pen, x0, top, page.bar_label, page.bar_mm, page.scale_words)
    drawing = water.drawing
    line = top + 17.0
    words = "A vine's flow, of the mean of its block:"
    pen.text(x0, line, words, "sans", 7.5)
    x = x0 + pen.width_of_mm(words, "sans", 7.5) + 3
    swatches = [(f"share {k}", step.label) for k, step in enumerate(drawing.ramp)]
    if (drawing.vine_class < 0).any():
        swatches.append((DRY, "no water"))
    for colour, text in swatches:
        need = 6 + pen.width_of_mm(text, "sans", 7.5)
        if x + need > x0 + wide:
            x, line = x0, line + 4.2
        pen.area(box(x, line - 2.2, 4.5, 2.2), colour)
        pen.text(x + 5.5, line, text, "sans", 7.5)
        x += need + 3
    line += 5.0
    x = x0
    for draw, text in _SIGNS:
        need = 9.5 + pen.width_of_mm(text, "sans", 7.5)
        if x + need > x0 + wide:
            x, line = x0, line + 4.2
        draw(pen, x, line - 1.0)
        pen.text(x + 8.5, line, text, "sans", 7.5)
        x += need + 4
    said = " ".join(_legend_words(water, page))
    lines = pen.broken(said, "sans", 7.5, wide)
    pen.text_lines(x0, line + 4.5, lines, "sans", 7.5, _LEADING_MM, "soft")


def _legend_words(water: WaterFiles, page: PlanPage) -> list[str]:
    words = []
    if page.one_in > 1:
        words.append(
            f"Of drip lines that get what is usual one in {page.one_in} is drawn; all others are."
        )
    if water.worst:
        words.append("Red figures: share of the worst stretches.")
    words.append("Figures at row ends: first and last row of a set.")
    words.append(water.contour_words)
    words.append(
        "Pipes carry their outer diameter; where mains share a trench the widest is laid. "
        f"{page.paper} printed at its full size."
    )
    return [w for w in words if w]


def _sign_line(colour: str, width_mm: float, dash=()):
    return lambda pen, x, y: pen.line(x, y, x + 7, y, colour, width_mm, dash)


def _sign_valve(pen: Pen, x: float, y: float) -> None:
    pen.dot(x + 3.5, y, 1.5, "water")
    pen.dot(x + 3.5, y, 1.2, "white")


def _sign_source(pen: Pen, x: float, y: float) -> None:
    pen.area(box(x + 2.3, y - 1.2, 2.4, 2.4), "white", "ink", 0.4)
    pen.dot(x + 3.5, y, 0.6, "ink")


_SIGNS = (
    (_sign_line("row", 0.12), "Drip line"),
    (_sign_line("water", 0.9), "Submain"),
    (_sign_line("ink", 1.2, DASH), "Main"),
    (_sign_valve, "Valve with the set's number"),
    (_sign_source, "Source with filter"),
)
