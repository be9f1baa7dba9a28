"""Beside the plan of a sheet: its name, the key map, the legend, all words, and the title block at the foot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .orders_pdf_flow import broken, leading_mm
from .pdf_ground import box
from .pdf_pen import Pen
from .plan_sheet_frame import draw_crosses, draw_key_map, key_map_mm
from .plansheet import PlanSheet, SheetSection, SheetTile
from .row_numbers_pdf import one_in
from .vine_marks_pdf import LOST_COLOUR, QUIET_COLOUR, QUIET_FORM, colour_of, draw_marks, form_of

Draw = Callable[[], None]

_NAME_PT, _HEADING_PT, _RULES_PT, _TEXT_PT, _LEGEND_PT = 14.0, 10.0, 8.5, 7.5, 7.5
_KEY_MAP_MM = 34.0
_FIELD_MM = 5.4
_FIELD_NAME_MM = 19.0
_GAP_MM = {"heading": 3.2, "text": 0.9}
_SIGN_MM = 8.0
_WHOLE_LINES = 9
"""Paragraphs of so many lines are not parted."""


@dataclass(frozen=True)
class WordLine:
    """One line of words: what it takes from above it to its foot, what draws it, and whether it stays with the next."""

    gap_mm: float
    high_mm: float
    draw: Callable[[float, float], None]
    keeps: bool = False


def word_lines(pen: Pen, sections: tuple[SheetSection, ...], wide: float) -> list[WordLine]:
    """Sections broken to a width, line by line."""
    lines: list[WordLine] = []
    for section in sections:
        for i, text in enumerate(broken(pen, section.heading, "serif strong", _HEADING_PT, wide)):
            gap = _GAP_MM["heading"] if i == 0 else 0.0
            lines.append(_line(pen, text, "serif strong", _HEADING_PT, gap, keeps=True))
        face, size = ("serif", _RULES_PT) if section.kind == "rules" else ("sans", _TEXT_PT)
        for text in section.paragraphs:
            parts = broken(pen, text, face, size, wide)
            for i, part in enumerate(parts):
                gap = _GAP_MM["text"] if i == 0 else 0.0
                keeps = i < len(parts) - 1 and len(parts) <= _WHOLE_LINES
                lines.append(_line(pen, part, face, size, gap, keeps))
        for name, value in section.figures:
            lines += _figure(pen, name, value, wide)
    return lines


def _line(pen: Pen, text: str, face: str, size: float, gap: float, keeps=False) -> WordLine:
    leading = leading_mm(size)

    def draw(x: float, y: float) -> None:
        pen.text(x, y + 0.72 * leading, text, face, size)

    return WordLine(gap, leading, draw, keeps)


def _figure(pen: Pen, name: str, value: str, wide: float) -> list[WordLine]:
    """A name with its value at the right; the name above it where there is no room for both."""
    leading = leading_mm(_TEXT_PT)
    value_mm = pen.width_of_mm(value, "sans strong", _TEXT_PT)
    parts = broken(pen, name, "sans", _TEXT_PT, max(wide - value_mm - 3, 0.45 * wide))
    lines = []
    for i, part in enumerate(parts):
        last = i == len(parts) - 1

        def draw(x, y, part=part, last=last):
            pen.text(x, y + 0.72 * leading, part, "sans", _TEXT_PT)
            if last:
                pen.text(x + wide, y + 0.72 * leading, value, "sans strong", _TEXT_PT, "right")

        lines.append(WordLine(0.35 if i == 0 else 0.0, leading, draw, keeps=not last))
    return lines


def placed_lines(lines: list[WordLine], boxes) -> tuple[list[list[Draw]], list[WordLine]]:
    """Lines set into boxes one after another; gives what draws each box, and the lines left over.

    Parameters
    ----------
    lines : list of WordLine
    boxes : sequence of (x, y, width, height)
        [mm]
    """
    drawn: list[list[Draw]] = []
    at = 0
    for x, y, _, high in boxes:
        draws, used = [], 0.0
        while at < len(lines):
            need, behind = 0.0, at
            while True:  # a heading goes with what is under it
                line = lines[behind]
                need += (line.gap_mm if used or need else 0.0) + line.high_mm
                behind += 1
                if not line.keeps or behind == len(lines):
                    break
            if used + need > high + 1e-6 and (draws or need <= high):
                break
            for line in lines[at:behind]:
                used += line.gap_mm if used else 0.0
                draws.append(lambda line=line, x=x, y=y + used: line.draw(x, y))
                used += line.high_mm
            at = behind
        drawn.append(draws)
    return drawn, lines[at:]


class SheetColumn:
    """The column beside the plan.

    Parameters
    ----------
    pen : Pen
    sheet : PlanSheet
    """

    def __init__(self, pen: Pen, sheet: PlanSheet):
        self.pen, self.sheet = pen, sheet
        self.x, self.top, self.wide, self.high = sheet.column

    def draw(
        self,
        title: str,
        tile: SheetTile | None,
        number: str,
        scale_words: str,
        lines: list[WordLine],
        *,
        shows_vines: bool,
        is_index: bool,
    ) -> list[WordLine]:
        """Draw it; gives back the lines for which there was no room.

        Parameters
        ----------
        title : str
            Of the sheet.
        tile : SheetTile or None
            The one that is drawn, where there are several.
        number, scale_words : str
            Of the sheet, as they stand in the title block.
        lines : list of WordLine
        shows_vines : bool
        is_index : bool
        """
        y = self._draw_name(title)
        if tile is not None and len(self.sheet.tiles) > 1:
            high = key_map_mm(self.sheet, self.wide, _KEY_MAP_MM)
            draw_key_map(self.pen, self.sheet, tile, self.x, y, self.wide, high)
            y += high + 2.5
        y = self._draw_legend(y, shows_vines, is_index)
        foot = self._draw_title_block(number, scale_words)
        drawn, rest = placed_lines(lines, [(self.x, y + 1.5, self.wide, foot - y - 4.0)])
        for draw in drawn[0]:
            draw()
        return rest

    def _draw_name(self, title: str) -> float:
        pen, y = self.pen, self.top
        leading = leading_mm(_NAME_PT)
        for text in broken(pen, self.sheet.name, "serif strong", _NAME_PT, self.wide):
            pen.text(self.x, y + 0.75 * leading, text, "serif strong", _NAME_PT)
            y += leading
        pen.text_within(self.x, y + 3.6, title, "sans strong", 9.5, self.wide)
        for text in broken(pen, self.sheet.said_of, "sans", 7.5, self.wide):
            pen.text(self.x, y + 7.6, text, "sans", 7.5, colour="soft")
            y += 3.4
        pen.line(self.x, y + 6.2, self.x + self.wide, y + 6.2, "hairline", 0.2)
        return y + 8.5

    # legend

    def _draw_legend(self, y: float, shows_vines: bool, is_index: bool) -> float:
        pen, leading = self.pen, leading_mm(_LEGEND_PT) + 0.55
        for sign, text in self._signs(shows_vines, is_index):
            parts = broken(pen, text, "sans", _LEGEND_PT, self.wide - _SIGN_MM - 2)
            sign(self.x, y + 0.5 * leading)
            for part in parts:
                pen.text(self.x + _SIGN_MM + 2, y + 0.7 * leading, part, "sans", _LEGEND_PT)
                y += leading - 0.55
            y += 0.55
        for text in self._legend_words(shows_vines, is_index):
            for part in broken(pen, text, "sans", 7, self.wide):
                pen.text(self.x, y + 0.7 * leading, part, "sans", 7, colour="soft")
                y += leading_mm(7)
            y += 0.4
        pen.line(self.x, y + 1.4, self.x + self.wide, y + 1.4, "hairline", 0.2)
        return y + 2.0

    def _signs(self, shows_vines: bool, is_index: bool):
        pen, sheet = self.pen, self.sheet
        if not is_index:
            for k, mark in enumerate(sheet.marks):
                letter = f"{mark.letter}  " if mark.letter else ""
                text = f"{letter}{mark.label}: {mark.count}"
                if shows_vines:
                    yield self._vine_sign(k, mark.is_quiet), text
                else:
                    yield self._run_sign(k, mark.is_quiet), text
            if sheet.lost is not None and sheet.lost.any() and shows_vines:
                lost = f"{int(sheet.lost.sum()):,}".replace(",", "\u202f")
                yield (
                    lambda x, y: draw_marks(pen, np.array([[x + 4, y]]), "cross", LOST_COLOUR, 2.2),
                    f"Missing or dead by the register: {lost}",
                )
            yield self._row_sign, "Row with its number; end posts, anchors beyond them"
        else:
            yield (lambda x, y: pen.line(x, y, x + _SIGN_MM, y, "row", 0.15)), "Row"
            yield self._box_sign(None, "accent", (2.4, 1.2)), "Sheet with its number"
        yield self._box_sign(None, "ink"), "Outline of a block"
        if sheet.alleys:
            yield self._box_sign("kept clear", "soft", (1.2, 0.8)), "Alley"
        if sheet.exclusions:
            yield self._box_sign("exclusion", "soft"), "Exclusion; water is blue, dashes are lines"
            yield self._box_sign("kept clear", None), "Kept clear round it"
        axes = np.eye(2)
        yield (
            lambda x, y: draw_crosses(pen, np.array([[x + 4.0, y]]), axes * 0.7),
            f"Round easting and northing, {sheet.grid_unit}",
        )

    def _legend_words(self, shows_vines: bool, is_index: bool):
        sheet = self.sheet
        if not is_index and any(mark.letter for mark in sheet.marks):
            yield "Small letters behind row numbers: the plants of that row."
        every = one_in(sheet.row_mm)
        if not is_index and every > 1:
            yield f"Of rows one in {every} is numbered, and the outermost ones."
        if not is_index and not shows_vines:
            yield (
                "At this scale vines would run together: rows are drawn, in the dashes of their plants."
            )
        yield from sheet.notes

    def _vine_sign(self, k: int, is_quiet: bool):
        form, colour = (QUIET_FORM, QUIET_COLOUR) if is_quiet else (form_of(k), colour_of(k))

        def draw(x, y):
            self.pen.line(x, y, x + _SIGN_MM, y, "row", 0.12)
            at = np.array([[x + d, y] for d in (1.5, 4.0, 6.5)])
            draw_marks(self.pen, at, form, colour, 1.35)

        return draw

    def _run_sign(self, k: int, is_quiet: bool):
        from .day_plan_pdf import MARKS

        colour, dash = ("row", ()) if is_quiet else MARKS[k % len(MARKS)]
        wide = 0.15 if is_quiet else 0.5
        return lambda x, y: self.pen.line(x, y, x + _SIGN_MM, y, colour, wide, dash)

    def _row_sign(self, x: float, y: float) -> None:
        pen = self.pen
        pen.line(x, y, x + _SIGN_MM - 2.5, y, "row", 0.15)
        pen.line(x + _SIGN_MM - 2.5, y, x + _SIGN_MM - 1, y, "ink", 0.15)
        draw_marks(pen, np.array([[x + _SIGN_MM - 2.5, y]]), "square", "ink", 0.9)

    def _box_sign(self, fill, edge, dash=()):
        def draw(x, y):
            self.pen.area(box(x, y - 1.2, _SIGN_MM, 2.4), fill, edge, 0.3, dash)

        return draw

    # title block

    def _draw_title_block(self, number: str, scale_words: str) -> float:
        """Names and values at the foot of the column, empty ones as lines; gives where it begins. [mm]"""
        pen, sheet = self.pen, self.sheet
        fields = [
            *sheet.title,
            ("Sheet", number),
            ("Scale", f"{scale_words}, {sheet.paper}"),
            *sheet.own,
        ]
        heights = []
        for _, text in fields:
            lines = broken(pen, text, "sans strong", 8, self.wide - _FIELD_NAME_MM - 3)
            heights.append(_FIELD_MM + (len(lines) - 1) * 3.4)
        foot = self.top + self.high
        y = begin = foot - sum(heights)
        pen.area(box(self.x, begin, self.wide, foot - begin), "white", "ink", 0.3)
        for (name, text), high in zip(fields, heights, strict=True):
            pen.text(self.x + 1.5, y + 3.6, name, "sans", 7, colour="soft")
            lines = broken(pen, text, "sans strong", 8, self.wide - _FIELD_NAME_MM - 3)
            pen.text_lines(self.x + _FIELD_NAME_MM, y + 3.7, lines, "sans strong", 8, 3.4)
            y += high
            if y < foot - 0.1:
                pen.line(self.x, y, self.x + self.wide, y, "hairline", 0.2)
        pen.line(
            self.x + _FIELD_NAME_MM - 1.5, begin, self.x + _FIELD_NAME_MM - 1.5, foot, "hairline", 0.2
        )  # fmt: skip
        return begin
