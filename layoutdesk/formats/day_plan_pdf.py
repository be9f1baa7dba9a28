"""The plan of a day card: the day's rows strong on the ground around them, trays at their ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from .pdf_ground import PlanGround, box, draw_north_and_scale
from .pdf_labels import Labels
from .pdf_pen import Pen

MARKS: tuple[tuple[str, tuple[float, ...]], ...] = (
    ("accent", ()),
    ("water", (2.4, 1.0)),
    ("better", (0.9, 0.7)),
    ("contour words", (3.2, 0.8, 0.8, 0.8)),
    ("ink", (0.4, 0.8)),
)
"""Colour and dashes of a day's lots, in order; beyond the last the first comes again, and the letter tells."""
LEGEND_MM = 14.0
"""Of north, scale and bar under the plan. [mm]"""
STRONG_MM, _THINNEST_MM, _QUIET_MM = 0.9, 0.25, 0.15
_ROW_SHARE = 0.6
"""Width of a row of the day as drawn, of the space between rows at most."""
_DOT_SHARE = 0.6
"""Radius of a vine drawn by itself, of the width of its row."""
_LABEL_GAP_MM, _LABEL_STEP_MM, _LABEL_TRIES = 0.8, 1.5, 8
_ROW_PT, _TRAY_PT = 6.5, 7.0


@dataclass(frozen=True, eq=False)
class DayPicture:
    """What a day's plan shows, in the site frame, and how it lies on the paper.

    Attributes
    ----------
    width_mm, height_mm : float
        Of the plan. [mm]
    ratio : float
        Scale 1 : ratio.
    scale_words, bar_label : str
    bar_mm : float
        A scale bar of round length. [mm]
    centre_m : (float, float)
        Place at the middle of the plan. [m]
    spacing_mm : float
        Between rows, on the paper. [mm]
    one_in : int
        Of so many rows of other days one is drawn, where all would run together.
    blocks : tuple of Block
        Those that lie in the plan, and `exclusions` too.
    names : tuple of ((x, y), str)
        Of blocks, and where they have room; none where there is one block. [m]
    quiet : tuple of float array, shape (n, 2)
        Rows of other days. [m]
    strokes, dots : tuple of (float array, shape (n, 2); int)
        Vines of a run, as a line or one by one, and the lot's place in the day's list. [m]
    tray_ends, row_ends : tuple of ((x, y), (x, y), str)
        Place, unit step out of the row, and words: trays at one end of a row, its number at the other. [m]
    """

    width_mm: float
    height_mm: float
    ratio: float
    scale_words: str
    bar_label: str
    bar_mm: float
    centre_m: tuple[float, float]
    spacing_mm: float
    one_in: int
    blocks: tuple
    exclusions: tuple
    names: tuple[tuple, ...]
    quiet: tuple[np.ndarray, ...]
    strokes: tuple[tuple[np.ndarray, int], ...]
    dots: tuple[tuple[np.ndarray, int], ...]
    tray_ends: tuple[tuple, ...]
    row_ends: tuple[tuple, ...]


def lot_letter(at: int) -> str:
    """What a lot of the day is called on the plan.

    Examples
    --------
    >>> lot_letter(0), lot_letter(27)
    ('a', 'bb')
    """
    return chr(97 + at % 26) * (at // 26 + 1)


def draw_mark(pen: Pen, at: int, x: float, y: float, long_mm: float = 9.0) -> None:
    """A stroke as the rows of a lot have it on the plan."""
    colour, dash = MARKS[at % len(MARKS)]
    pen.line(x, y, x + long_mm, y, colour, STRONG_MM, dash)


def draw_day_plan(pen: Pen, picture: DayPicture, x: float, y: float) -> None:
    """The plan with its left and top at a place, north and scale under it. [mm]"""
    wide, high = picture.width_mm, picture.height_mm
    ground = PlanGround(
        picture.blocks,
        picture.exclusions,
        (),
        picture.ratio,
        picture.centre_m,
        named=False,
    )
    middle = np.array([x + wide / 2, y + high / 2])

    def mm(xy_m):
        return ground.mm(xy_m) + middle

    pen.clipped(x, y, wide, high)
    ground.draw_under(pen, middle)
    straight = [line for line in picture.quiet if len(line) == 2]
    pen.lines(mm(np.reshape(straight, (-1, 2, 2))), "row", _QUIET_MM)
    for line in picture.quiet:
        if len(line) > 2:
            pen.path(mm(line), "row", _QUIET_MM)
    strong = float(np.clip(_ROW_SHARE * picture.spacing_mm, _THINNEST_MM, STRONG_MM))
    for line, at in picture.strokes:
        colour, dash = MARKS[at % len(MARKS)]
        pen.path(mm(line), colour, strong, dash)
    for places, at in picture.dots:
        for px, py in mm(places).tolist():
            pen.dot(px, py, _DOT_SHARE * strong, MARKS[at % len(MARKS)][0])
    ground.draw_over(pen, middle)
    labels = Labels(pen, (x, y, wide, high))
    marked = [mm(line) for line, _ in (*picture.strokes, *picture.dots) if len(line) > 1]
    kept = shapely.STRtree([shapely.linestrings(line) for line in marked])
    for place, name in picture.names:
        labels.say(name, [mm(np.array(place))], "sans strong", 7.5, "ink")
    _say_ends(pen, labels, kept, picture.tray_ends, mm, "sans strong", _TRAY_PT, "ink")
    _say_ends(pen, labels, kept, picture.row_ends, mm, "sans", _ROW_PT, "soft")
    labels.draw()
    pen.free()
    pen.area(box(x, y, wide, high), None, "hairline", 0.25)
    after = draw_north_and_scale(
        pen, x, y + high + 1.0, picture.bar_label, picture.bar_mm, picture.scale_words
    )
    if picture.one_in > 1:
        words = f"Of rows of other days one in {picture.one_in} is drawn."
        pen.text(after + 6, y + high + 9.5, words, "sans", 7.5, colour="soft")


def _say_ends(pen: Pen, labels: Labels, kept, ends, mm, face: str, size: float, colour) -> None:
    """Words beyond row ends, farther out where there is no room; a hairline ties those to their row.

    They stay off the day's rows (`kept`, a tree of lines). Those that find no room at all are left out: they
    stand in the list of rows. The first and the last are asked for first.
    """
    order = [*range(0, len(ends), max(1, len(ends) - 1)), *range(1, len(ends) - 1)]
    for i in order:
        place, outward, text = ends[i]
        at = mm(np.array(place))
        out = np.array([outward[0], -outward[1]])
        wide, high = pen.width_of_mm(text, face, size) / 2 + 0.6, 0.3 * size
        first = wide * abs(out[0]) + high * abs(out[1]) + _LABEL_GAP_MM
        for k in range(_LABEL_TRIES):
            to = at + (first + k * _LABEL_STEP_MM) * out
            around = shapely.box(*(to - (wide, high)), *(to + (wide, high)))
            if len(kept.query(around, predicate="intersects")):
                continue
            if labels.say(text, [to], face, size, colour):
                pen.line(*at.tolist(), *to.tolist(), "soft", 0.1)
                break
