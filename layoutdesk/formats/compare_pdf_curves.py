"""Measures over all bearings on paper: one curve a measure, the candidates as broken lines."""

from __future__ import annotations

import numpy as np

from .compareset import CompareSet, Line, drawn_lines, shown_number
from .pdf_pen import MARGIN_MM, Pen

CURVES = 6
"""So many measures at most."""
_GUTTER_MM = 8.0
_LABEL_MM = 8.5
"""Taken by a candidate's bearing over a curve. [mm]"""


def curve_pages(pen: Pen, compare: CompareSet, shown: tuple[int, ...], top: float) -> list:
    """A function that draws the page; none where no measure is known over bearings."""
    lines = drawn_lines(compare, CURVES) if len(compare.bearings_deg) > 1 else []
    return [lambda: _draw_curves(pen, compare, shown, lines, top)] if lines else []


def _draw_curves(pen: Pen, compare: CompareSet, shown, lines: list[Line], top: float) -> None:
    columns = 2 if len(lines) > 1 else 1
    rows = -(-len(lines) // columns)
    words = (
        "Straight rows at every bearing, with the rules of the base. Broken lines: the candidates "
        "that are drawn. Heights begin where the curve does, not at nothing."
    )
    said = pen.broken(words, "sans", 7.5, pen.width_mm - 2 * MARGIN_MM)
    wide = (pen.width_mm - 2 * MARGIN_MM - (columns - 1) * _GUTTER_MM) / columns
    high = min((pen.height_mm - MARGIN_MM - top - 3.4 * len(said)) / rows, 100)
    scales = [_scale(line) for line in lines]
    figures = [shown_number(tick, decimals) for ticks, decimals in scales for tick in ticks]
    beside = max(pen.width_of_mm(figure, "sans", 6.5) for figure in figures) + 2.5
    for place, (line, scale) in enumerate(zip(lines, scales, strict=True)):
        down, across = divmod(place, columns)
        x = MARGIN_MM + across * (wide + _GUTTER_MM)
        box = (x, top + down * high, wide, high - 4)
        _draw_curve(pen, compare, shown, line, scale, beside, box)
    pen.text_lines(MARGIN_MM, top + rows * high + 2, said, "sans", 7.5, 3.4, "soft")


def _scale(line: Line) -> tuple[list[float], int]:
    known = line.curve[np.isfinite(line.curve)]
    return round_ticks(float(known.min()), float(known.max()))


def _draw_curve(pen: Pen, compare: CompareSet, shown, line: Line, scale, beside, box) -> None:
    """One curve in a box, its figures so wide beside it."""
    x, y, wide, high = box
    known = np.isfinite(line.curve)
    bearings, curve = compare.bearings_deg[known], line.curve[known]
    ticks, decimals = scale
    figures = [shown_number(tick, decimals) for tick in ticks]
    left = x + beside
    right, head, foot = x + wide - 3, y + 11, y + high - 8

    def px(bearing):
        return left + np.asarray(bearing) / 180.0 * (right - left)

    def py(value):
        share = (np.asarray(value) - ticks[0]) / (ticks[-1] - ticks[0])
        return foot - share * (foot - head)

    pen.text(x, y + 3, line.heading, "sans strong", 8.5)
    if line.better:
        pen.text(right, y + 3, f"{line.better} is better", "sans", 7, "right", "soft")
    for tick, figure in zip(ticks, figures, strict=True):
        at = float(py(tick))
        pen.line(left, at, right, at, "hairline", 0.15)
        pen.text(left - 1.5, at + 0.8, figure, "sans", 6.5, "right")
    for bearing in range(0, 181, 30):
        at = float(px(bearing))
        pen.line(at, foot, at, foot + 1, "soft", 0.15)
        pen.text(at, foot + 3.6, f"{bearing:03d}°", "sans", 6.5, "centre")
    pen.text(
        (left + right) / 2, foot + 7, "Bearing of the rows, true", "sans", 6.5, "centre", "soft"
    )
    candidates = [compare.candidates[i].bearing_deg for i in shown]
    _draw_candidates(pen, sorted({b % 180.0 for b in candidates if b is not None}), px, head, foot)
    pen.path(np.column_stack([px(bearings), py(curve)]), "row", 0.4)


def _draw_candidates(pen: Pen, bearings, px, head, foot) -> None:
    """A broken line a candidate; its bearing on one of two lines over it, where there is room."""
    taken = [-np.inf, -np.inf]
    for bearing in bearings:
        at = float(px(bearing))
        pen.line(at, head, at, foot, "accent", 0.2, dash=(0.9, 0.9))
        begin = min(at, float(px(180)) + 3 - _LABEL_MM)
        free = [level for level in (0, 1) if taken[level] <= begin]
        if free:
            level = free[0]
            if level:
                pen.line(at, head - 3, at, head, "accent", 0.2)
            text = f"{bearing:05.1f}°" if bearing % 1 else f"{bearing:03.0f}°"
            pen.text(begin + 0.4, head - 0.7 - 2.7 * level, text, "sans", 6.5, colour="accent")
            taken[level] = begin + _LABEL_MM


def round_ticks(low: float, high: float, most: int = 5) -> tuple[list[float], int]:
    """Round values that span a range, and the decimals they need.

    Examples
    --------
    >>> round_ticks(22868.0, 23703.0)
    ([22800.0, 23000.0, 23200.0, 23400.0, 23600.0, 23800.0], 0)
    """
    span = max(high - low, 1e-9 * max(abs(high), 1.0))
    power = 10.0 ** np.floor(np.log10(span / most))
    step = next(s * power for s in (1, 2, 2.5, 5, 10) if s * power * most >= span * (1 - 1e-9))
    first, last = np.floor(low / step + 1e-9), np.ceil(high / step - 1e-9)
    decimals = next(d for d in range(10) if abs(round(step, d) - step) < 1e-9 * step or d == 9)
    ticks = (step * np.arange(first, max(last, first + 1) + 1)).tolist()
    return [round(t, decimals) for t in ticks], decimals
