"""Points of a hand-off as text in columns of fixed width."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..core.model.handoff import DECIMAL_MARKS
from ..core.staking.points import Points
from .digits import PAD, Chosen, Decimal, DecimalOrBlank, Records, Whole
from .handoffset import HandOffSet
from .point_records import placed
from .points_csv import NUMBERS, ColumnTexts

WIDTHS_SHARE = 0.3
"""Of the time of writing, how much it takes to find the widths."""

GAP = 2
"""Blanks between columns."""

_BLANK, _MINUS = ord(" "), ord("-")


class RightAligned:
    """Column of numbers of a given width, blanks before them.

    Examples
    --------
    >>> records = Records(["x", b"|"], {"x": RightAligned(Decimal(1), 7)})
    >>> b"".join(records.encoded({"x": [-1.0, 22.5, -333.0]}))
    b'   -1.0|   22.5| -333.0|'
    """

    def __init__(self, column: Decimal | Whole, width: int):
        self._column, self._width = column, width

    def measured(self, values):
        found, width = self._column.measured(values)
        if width > self._width:
            raise ValueError(f"values: one needs {width} places, there are {self._width}")
        return (found, width), self._width

    def fill(self, cells: np.ndarray, measured) -> None:
        found, width = measured
        at = self._width - width
        cells[:, :at] = _BLANK
        part = cells[:, at:]
        if self._column.fill(part, found) is not None:
            signed = np.flatnonzero((part[:, 0] == _MINUS) & (part[:, 1:2] == PAD).all(axis=1))
            if len(signed):
                first = (part[signed, 1:] != PAD).argmax(axis=1)
                part[signed, 0] = _BLANK
                part[signed, first] = _MINUS
            part[part == PAD] = _BLANK


class FixedTable:
    """A table whose columns have the same places in every line: numbers to the right, texts to the left.

    Widths are found over all points first, so that the columns of split tables stand alike. They are in
    characters; a name of the user's in wide letters may look wider.

    Attributes
    ----------
    places : dict of str to (int, int)
        First and last place of every column, from 1.
    head : bytes
    around_seal : (bytes, bytes)
        What stands before and after the seal in the last line.
    records : Records
    """

    around_seal = (b"# ", b"\n")

    def __init__(self, hand: HandOffSet, progress: Callable[[float], None]):
        self._hand, table = hand, hand.hand.table
        self._column = ColumnTexts(hand)
        self._filled: list[str] = []
        self._has_heights = hand.heights is not None and "elevation" in table.columns
        self.places = self._places(self._needed(progress), table.has_header)
        mark = DECIMAL_MARKS[table.decimal_mark]
        columns: dict = dict(self._column.texts.columns(self._column.names))
        parts: list[bytes | str] = []
        for column, (begin, end) in self.places.items():
            parts += [b" " * GAP] if parts else []
            width = end - begin + 1
            if column in NUMBERS:
                number = {"point": Whole(), "elevation": DecimalOrBlank(table.decimals, mark)}
                columns[column] = RightAligned(
                    number.get(column, Decimal(table.decimals, mark)), width
                )
                parts.append(column)
                continue
            parts += self._column.parts[column]
            if column != table.columns[-1]:
                blanks = f"{column} blanks"
                columns[blanks] = Chosen([b" " * i for i in range(width + 1)])
                self._filled.append(column)
                parts.append(blanks)
        self.records = Records([*parts, b"\n"], columns)
        self.head = self._head() if table.has_header else b""

    def _needed(self, progress) -> dict[str, int]:
        """How wide each column is for the points themselves."""
        need, done = dict.fromkeys(self._hand.hand.table.columns, 1), 0
        for some in self._hand.points.chunks():
            values = self.values(some)
            for column in need:
                if column == "point":
                    longest = len(str(int(some.number.max())))
                elif column in NUMBERS:
                    longest = _longest_number(values[column], self._hand.hand.table.decimals)
                else:
                    longest = int(self._lengths(column, values).max())
                need[column] = max(need[column], longest)
            done += len(some)
            progress(done / len(self._hand.points))
        return need

    def _places(self, need: dict[str, int], has_header: bool) -> dict[str, tuple[int, int]]:
        places, begin = {}, 1
        for column, width in need.items():
            end = begin + width - 1
            while has_header and end - begin + 1 < len(_title(column, begin, end)):
                end += 1
            places[column] = (begin, end)
            begin = end + 1 + GAP
        return places

    def _head(self) -> bytes:
        cells = []
        for column, (begin, end) in self.places.items():
            title, width = _title(column, begin, end), end - begin + 1
            cells.append(title.rjust(width) if column in NUMBERS else title.ljust(width))
        return (" " * GAP).join(cells).rstrip().encode() + b"\n"

    def _lengths(self, column: str, values: dict) -> np.ndarray:
        """(n,) of the lengths of a column's texts, in characters."""
        length: np.ndarray | int = 0
        for part in self._column.parts[column]:
            if isinstance(part, bytes):
                length = length + len(part.decode())
            else:
                length = length + self._column.texts.lengths(part, values[part])
        return np.broadcast_to(length, len(next(iter(values.values()))))

    def values(self, some: Points) -> dict:
        """Values of some points for the records."""
        values = self._column.texts.values(some, self._column.names)
        columns = self._hand.hand.table.columns
        if "point" in columns:
            values["point"] = some.number
        if "northing" in columns or "easting" in columns:
            east_north = placed(self._hand, some.xy_m)
            values |= {"easting": east_north[:, 0], "northing": east_north[:, 1]}
        if "elevation" in columns:
            heights = self._hand.elevations(some.xy_m) if self._has_heights else None
            values["elevation"] = np.full(len(some), np.nan) if heights is None else heights
        for column in self._filled:
            begin, end = self.places[column]
            values[f"{column} blanks"] = end - begin + 1 - self._lengths(column, values)
        return values


def _title(column: str, begin: int, end: int) -> str:
    """A column's name and places; in brackets, so that readers of tables know the name."""
    return f"{column}({begin}-{end})"


def _longest_number(values: np.ndarray, decimals: int) -> int:
    """Places that a column of decimals takes, a sign included where any number has one."""
    known = np.where(np.isnan(values), 0.0, values)
    ends = [f"{v:.{decimals}f}" for v in (float(known.min()), float(known.max()))]
    signed = ends[0].startswith("-")
    return max(len(ends[0]), len(ends[1]) + signed)
