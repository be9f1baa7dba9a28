"""The table of a comparison on paper: groups of lines, one column a candidate that is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from .compareset import CompareSet, Line, grouped_lines, shown_number
from .pdf_pen import MARGIN_MM, SMALLEST_PT, Pen

_HEAD_MM = 15.0
"""Of the candidates' names, and of what is said of them under these. [mm]"""
_STANDING_LINES = 2
_FOOT_LEADING_MM = 3.4
_CLOSEST_MM, _WIDEST_MM = 3.5, 6.2
"""How near to and how far from one another lines stand. [mm]"""
_HEADING_LINES = 1.35
"""Height of a group's heading, in lines."""
_WIDEST_COLUMN_MM = 80.0
_DOT_MM = 3.0


@dataclass(frozen=True)
class _Set:
    """How the table is set: sizes of type [pt] and widths [mm], alike on all its pages."""

    pitch_mm: float
    size: float
    small: float
    label_mm: float
    column_mm: float
    difference_mm: float


def table_pages(pen: Pen, compare: CompareSet, shown: tuple[int, ...], top: float) -> list:
    """Functions that draw one page each; broken between groups where one page is too little."""
    groups = grouped_lines(compare)
    words = " ".join(_foot_words(compare, shown))
    foot = pen.broken(words, "sans", 7.5, pen.width_mm - 2 * MARGIN_MM)
    room = pen.height_mm - MARGIN_MM - top - _HEAD_MM - _FOOT_LEADING_MM * (len(foot) + 1)
    parts = _parts(groups, room / _CLOSEST_MM)
    most = max(sum(map(_high, part)) for part in parts)
    how = _how_set(pen, compare, shown, min(room / most, _WIDEST_MM))

    def page(part):
        return lambda: _draw_table(pen, compare, shown, part, top, how, foot)

    return [page(part) for part in parts]


def _high(group) -> float:
    return len(group[1]) + _HEADING_LINES


def _parts(groups, most_lines: float) -> list[list]:
    """Groups on as few pages as they need, on all of them as nearly the same as can be."""
    for pages in range(1, len(groups) + 1):
        ways = []
        for cuts in combinations(range(1, len(groups)), pages - 1):
            ends = (0, *cuts, len(groups))
            parts = [groups[a:b] for a, b in pairwise(ends)]
            ways.append((max(sum(map(_high, part)) for part in parts), parts))
        fullest, parts = min(ways, key=lambda way: way[0])
        if fullest <= most_lines:
            break
    return parts


def _how_set(pen: Pen, compare: CompareSet, shown, pitch: float) -> _Set:
    """The largest type at which labels, figures and differences stand side by side."""
    wide = pen.width_mm - 2 * MARGIN_MM
    lines = [line for _, group in grouped_lines(compare) for line in group]
    base, count = compare.study.base, len(shown)
    most = float(np.clip(1.75 * pitch, 7.0, 9.5))
    for size in np.arange(most, 6.49, -0.25).tolist():
        small = max(SMALLEST_PT, size - 1.75)
        label = max(pen.width_of_mm(x.heading, "sans", size) for x in lines) + 4
        figure = max(
            pen.width_of_mm(shown_number(x.values[i], x.decimals), "sans strong", size)
            for x in lines
            for i in shown
        )
        changes = [_change(compare, x, i, base) for x in compare.lines for i in shown]
        difference = max((pen.width_of_mm(c, "sans", small) for c in changes if c), default=0.0)
        difference = difference + 2 if count > 1 and difference else 0.0
        column = figure + _DOT_MM + difference + 3
        if label + count * column <= wide:
            break
    column = max(column, min((wide - label) / count, _WIDEST_COLUMN_MM))
    return _Set(pitch, size, small, label, column, difference)


def _draw_table(pen: Pen, compare: CompareSet, shown, groups, top, how: _Set, foot) -> None:
    left = MARGIN_MM + how.label_mm
    right = left + how.column_mm * len(shown)
    for place, i in enumerate(shown):
        _draw_column_head(pen, compare, i, left + place * how.column_mm, top + 5, how)
    y = top + _HEAD_MM - 2
    for title, lines in groups:
        y += _HEADING_LINES * how.pitch_mm
        pen.text(MARGIN_MM, y - 0.28 * how.pitch_mm, title, "serif strong", how.size + 1)
        pen.line(MARGIN_MM, y, right, y, "soft", 0.25)
        for line in lines:
            y += how.pitch_mm
            at = y - 0.3 * how.pitch_mm
            pen.text(MARGIN_MM, at, line.heading, "sans", how.size)
            for place, i in enumerate(shown):
                end = left + (place + 1) * how.column_mm
                _draw_cell(pen, compare, line, i, end, at, how)
            pen.line(MARGIN_MM, y, right, y, "hairline", 0.15)
    pen.text_lines(MARGIN_MM, y + 5, foot, "sans", 7.5, _FOOT_LEADING_MM, "soft")


def _draw_column_head(pen: Pen, compare: CompareSet, i: int, x, y, how: _Set) -> None:
    """Name and standing over the figures, from the left where they are wider."""
    end = x + how.column_mm - how.difference_mm - _DOT_MM
    said = ["base"] if i == compare.study.base and len(compare) > 1 else []
    beaten = int(compare.beaten[i])
    if beaten >= 0:
        said.append(f"beaten by {compare.names[beaten]}")
    colour = "accent" if i == compare.study.base else "soft"
    name, most = compare.names[i], how.column_mm - 3
    right = end if pen.width_of_mm(name, "sans strong", how.size + 0.5) <= end - x - 1 else None
    at = right or x + how.column_mm - 1
    pen.text_within(at, y, name, "sans strong", how.size + 0.5, most, align="right")
    standing = ", ".join(said)
    if pen.width_of_mm(standing, "sans", how.small) > end - x - 1:
        at = x + how.column_mm - 1
    lines = pen.broken(standing, "sans", how.small, most - (x + how.column_mm - 1 - at))
    for down, text in enumerate(lines[:_STANDING_LINES]):
        more = "…" if down == _STANDING_LINES - 1 and len(lines) > _STANDING_LINES else ""
        foot = y + 3.6 + 2.8 * down
        pen.text_within(at, foot, text + more, "sans", how.small, most, colour, "right")


def _change(compare: CompareSet, line: Line, i: int, base: int) -> str:
    """Difference of two figures as they are shown, in words; empty where there is none to tell."""
    change = np.round(line.values[i], line.decimals) - np.round(line.values[base], line.decimals)
    if i == base or not np.isfinite(change):
        return ""
    return shown_number(change, line.decimals, signed=True)


def _draw_cell(pen: Pen, compare: CompareSet, line: Line, i: int, right, y, how: _Set) -> None:
    """A figure, a dot where it is best, and its difference from the base."""
    end = right - how.difference_mm - _DOT_MM
    best = bool(line.best[i]) and len(compare) > 1
    face, colour = ("sans strong", "better") if best else ("sans", "ink")
    text = shown_number(line.values[i], line.decimals)
    pen.text(end, y, text, face, how.size, "right", colour)
    if best:
        pen.dot(end + 1.6, y - 0.11 * how.size, 0.07 * how.size, "better")
    if how.difference_mm and line in compare.lines:
        change = _change(compare, line, i, compare.study.base)
        pen.text(right - 1, y, change, "sans", how.small, "right", "soft")


def _foot_words(compare: CompareSet, shown) -> list[str]:
    words = []
    if len(compare) > 1:
        words.append(
            "A dot and bold figures: best of all candidates in this line. Small figures: "
            "difference from the base. No line is added to another."
        )
    words.append(compare.beaten_words)
    if compare.terrain:
        said = compare.terrain["statement"].rstrip(".")
        words.append(f"{said}. On a slope the machine's manual governs, not this table.")
    else:
        words.append("Heights of the ground are not known: grades are left out.")
    left_out = len(compare) - len(shown)
    if left_out:
        more = "candidate is" if left_out == 1 else "candidates are"
        words.append(f"{left_out} more {more} in compare.csv and compare.xlsx.")
    return [w for w in words if w]
