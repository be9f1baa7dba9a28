"""Text and tables set down a sheet and on to the next, for lists of any length."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from .pdf_pen import MARGIN_MM, Pen, kept_together

_MM_PER_PT = 25.4 / 72
"""Source: ISO 32000-1 (2008), 8.3.2.3."""
_CELL_GAP_MM = 3.0


@dataclass(frozen=True)
class Column:
    """One column of a table.

    Attributes
    ----------
    title : str
    align : str
        "left" or "right".
    strong : bool
    wraps : bool
        Whether it takes what room is left, its words in several lines.
    """

    title: str
    align: str = "right"
    strong: bool = False
    wraps: bool = False


class Flow:
    """Pages that are filled from the top; what is set is drawn later, when pages are counted."""

    def __init__(self, pen: Pen, top_mm: float, bottom_mm: float):
        self.pen, self.top_mm, self.bottom_mm = pen, top_mm, bottom_mm
        self.left_mm, self.right_mm = MARGIN_MM, pen.width_mm - MARGIN_MM
        self.pages: list[list[Callable[[], None]]] = [[]]
        self.y_mm = top_mm

    @property
    def wide_mm(self) -> float:
        return self.right_mm - self.left_mm

    def turn(self) -> None:
        """Go on at the top of a new page."""
        self.pages.append([])
        self.y_mm = self.top_mm

    def room_for(self, high_mm: float) -> bool:
        """Turn the page where so much does not fit; tells whether it was turned."""
        if self.y_mm + high_mm <= self.bottom_mm + 1e-6 or self.y_mm == self.top_mm:
            return False
        self.turn()
        return True

    def draw(self, draw: Callable[[], None]) -> None:
        """Draw on the page in hand."""
        self.pages[-1].append(draw)

    def gap(self, high_mm: float) -> None:
        """Leave so much free, unless at the top of a page."""
        if self.y_mm > self.top_mm:
            self.y_mm += high_mm

    def text(self, text: str, face="sans", size=8.5, colour="ink", keep_mm: float = 0.0) -> None:
        """A text in lines as wide as the sheet; with `keep_mm` it stays with so much after it."""
        leading = leading_mm(size)
        lines = broken(self.pen, text, face, size, self.wide_mm)
        self.room_for(leading * min(len(lines), 2) + keep_mm)
        for line in lines:
            self.room_for(leading)
            self.y_mm += leading
            self._text(self.left_mm, self.y_mm - 0.28 * leading, line, face, size, "left", colour)

    def _text(self, x, y, text, face, size, align, colour) -> None:
        self.draw(lambda: self.pen.text(x, y, text, face, size, align, colour))

    def table(self, columns: tuple[Column, ...], rows, size: float = 8.5, after=None) -> None:
        """A table whose head stands on every page that it goes on to.

        Parameters
        ----------
        columns : tuple of Column
            One of them wraps.
        rows : sequence of tuple of str
        size : float
            Of type. [pt]
        after : tuple of str, optional
            The last line, in bold, under a rule.
        """
        rows = [*rows, *([after] if after else [])]
        widths = self._widths(columns, rows, size)
        self._table_head(columns, widths, size, 2 * leading_mm(size))
        for i, row in enumerate(rows):
            last = after is not None and i == len(rows) - 1
            cells = [
                broken(self.pen, text, self._face(c, last), size, wide - _CELL_GAP_MM)
                if c.wraps
                else [text]
                for c, text, wide in zip(columns, row, widths, strict=True)
            ]
            high = leading_mm(size) * max(map(len, cells)) + 1.4
            if self.room_for(high):
                self._table_head(columns, widths, size, 0.0)
            self._table_row(columns, widths, cells, size, last)

    @staticmethod
    def _face(column: Column, last: bool = False) -> str:
        return "sans strong" if column.strong or last else "sans"

    def _widths(self, columns, rows, size: float) -> list[float]:
        """Columns as wide as what stands in them; the one that wraps takes the rest."""
        widths = []
        for k, column in enumerate(columns):
            texts = [row[k] for row in rows]
            most = max((self.pen.width_of_mm(t, "sans strong", size) for t in texts), default=0.0)
            title = self._title_mm(column.title, size - 1)
            widths.append(max(most, title) + _CELL_GAP_MM)
        flexible = next(k for k, c in enumerate(columns) if c.wraps)
        widths[flexible] = self.wide_mm - sum(w for k, w in enumerate(widths) if k != flexible)
        return widths

    def _title_mm(self, title: str, size: float) -> float:
        """Width at which a column's title stands in two lines at most."""
        words = title.split(" ")
        ways = [(" ".join(words[:k]), " ".join(words[k:])) for k in range(1, len(words) + 1)]
        return min(max(self.pen.width_of_mm(t, "sans", size) for t in way) for way in ways)

    def _table_head(self, columns, widths, size: float, keep_mm: float) -> None:
        small = size - 1
        titles = [
            broken(self.pen, c.title, "sans", small, w - _CELL_GAP_MM)
            for c, w in zip(columns, widths, strict=True)
        ]
        lines = max(map(len, titles))
        leading = leading_mm(small)
        self.room_for(leading * lines + 1.5 + keep_mm)
        x = self.left_mm
        for column, wide, title in zip(columns, widths, titles, strict=True):
            for down, text in enumerate(title, lines - len(title) + 1):
                y = self.y_mm + down * leading - 0.2 * leading
                self._cell(column, x, wide, y, text, "sans", small, "soft")
            x += wide
        self.y_mm += leading * lines + 0.8
        self._rule("soft", 0.25)

    def _table_row(self, columns, widths, cells, size: float, last: bool) -> None:
        leading = leading_mm(size)
        x = self.left_mm
        for column, wide, lines in zip(columns, widths, cells, strict=True):
            for down, text in enumerate(lines, 1):
                y = self.y_mm + 0.7 + down * leading - 0.28 * leading
                self._cell(column, x, wide, y, text, self._face(column, last), size, "ink")
            x += wide
        self.y_mm += leading * max(map(len, cells)) + 1.4
        self._rule("soft" if last else "hairline", 0.15)

    def _cell(self, column: Column, x, wide, y, text, face, size, colour) -> None:
        at = (
            x
            if column.align == "left"
            else x + wide - (_CELL_GAP_MM if x + wide < self.right_mm - 1 else 0)
        )
        self._text(at, y, text, face, size, column.align, colour)

    def _rule(self, colour: str, width_mm: float) -> None:
        y = self.y_mm
        self.draw(lambda: self.pen.line(self.left_mm, y, self.right_mm, y, colour, width_mm))

    def fields(self, names: tuple[str, ...]) -> None:
        """Places to be filled in by hand: a name over a line each, side by side."""
        high = 13.0
        self.room_for(high)
        wide = self.wide_mm / len(names)
        y = self.y_mm + high - 3.5
        for k, name in enumerate(names):
            x = self.left_mm + k * wide
            self.draw(lambda x=x, y=y: self.pen.line(x, y, x + wide - 5, y, "soft", 0.2))
            self._text(x, y + 3, name, "sans", 7.0, "left", "soft")
        self.y_mm += high + 1


def leading_mm(size: float) -> float:
    """From line to line of a size of type. [mm]"""
    return 1.32 * size * _MM_PER_PT


_HAIR_MM = 1e-6
"""Columns are as wide as their widest word: rounding is to break none. [mm]"""


def broken(pen: Pen, text: str, face: str, size: float, wide_mm: float) -> list[str]:
    """A text as lines that are no wider; a word that is wider is broken itself.

    Figures keep to their units and thousands: it is broken at plain spaces alone.
    """
    lines: list[str] = []
    line = ""
    for word in kept_together(text).split(" "):
        longer = f"{line} {word}" if line else word
        if pen.width_of_mm(longer, face, size) <= wide_mm + _HAIR_MM:
            line = longer
            continue
        if line:
            lines.append(line)
        line = word
        while len(line) > 1 and pen.width_of_mm(line, face, size) > wide_mm + _HAIR_MM:
            fits = len(line) - 1
            while fits > 1 and pen.width_of_mm(line[:fits], face, size) > wide_mm + _HAIR_MM:
                fits -= 1
            lines.append(line[:fits])
            line = line[fits:]
    return [*lines, line]
