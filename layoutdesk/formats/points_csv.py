"""Points of a hand-off as tables: columns, separator, decimals and descriptions as they were asked for."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import numpy as np

from ..core.model import InputProblem
from ..core.model.handoff import DECIMAL_MARKS, POINT_KINDS, SEPARATORS, PointTable
from ..core.staking.points import Points
from .digits import Chosen, Decimal, DecimalOrBlank, Records
from .handoffset import HandOffSet, Progress
from .point_descriptions import columns_in, template_parts
from .point_records import PointTexts, owners_used, placed
from .seal import Seal, SealedFile
from .stake_chunks import clean

MOST_FILES = 999
"""Tables that a hand-off may be split into."""

NUMBERS = ("point", "northing", "easting", "elevation")
"""Columns that hold numbers; the others hold texts."""


def write_points_tables(
    folder,
    stem: str,
    hand: HandOffSet,
    seal: Seal,
    *,
    fixed: bool = False,
    progress: Progress | None = None,
) -> tuple[str, ...]:
    """Names of the tables written into a folder: one, or several where one would have too many points.

    Where a text holds the separator or a quote, all of its column stands in quotes, as RFC 4180 has it. An
    elevation that is not known stays empty; between blanks it is a pair of quotes, for an empty place would
    not be seen there. The last line has the seal in the column of descriptions (else in the last one), `#` in
    the first, and nothing between. Not atomic: the caller swaps the files in.

    Parameters
    ----------
    folder : path
    stem : str
        Of the file names: `points` for points.csv, or points-1.csv, points-2.csv, …
    hand : HandOffSet
    seal : Seal
    fixed : bool
        Columns of fixed width, told with their places in the first line, in place of separators.
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place in the survey system, or there would be more than MOST_FILES tables.

    Sources
    -------
    RFC 4180, Common Format and MIME Type for Comma-Separated Values (CSV) Files, IETF 2005: quotes.
    """
    total, most = len(hand.points), hand.hand.points.most_points
    counts = [total]
    if 0 < most < total:
        n_files = -(-total // most)
        if n_files > MOST_FILES:
            raise InputProblem(
                f"Tables of {most} points would be {n_files} files: allow more points in a table."
            )
        counts = [most] * (n_files - 1) + [total - most * (n_files - 1)]
    end = ".txt" if fixed else ".csv"
    many = len(counts) > 1
    names = tuple(f"{stem}-{i}{end}" if many else stem + end for i in range(1, len(counts) + 1))
    begun = 0.0
    if fixed:
        from .points_fixed import WIDTHS_SHARE, FixedTable

        def measuring(share: float) -> None:
            if progress:
                progress(WIDTHS_SHARE * share)

        table, begun = FixedTable(hand, measuring), WIDTHS_SHARE
    else:
        table = SeparatedTable(hand)
    waiting, done = _Waiting(map(table.values, hand.points.chunks())), 0
    for name, count in zip(names, counts, strict=True):
        with _opened(Path(folder) / name, hand.hand.table) as file:
            file.write(table.head)
            for values in waiting.take(count):
                for piece in table.records.encoded(values):
                    file.write(piece)
                done += _n_points(values)
                if progress:
                    progress(begun + (1 - begun) * done / total)
            if isinstance(file, SealedFile):
                before, after = table.around_seal
                file.write(before)
                file.write(file.seal_text(seal).encode())
                file.write(after)
    return names


def write_points_table(path, hand: HandOffSet, *, progress: Progress | None = None) -> int:
    """Number of points written into one table, whatever its length, without a seal."""
    table, total, done = SeparatedTable(hand), len(hand.points), 0
    with open(path, "wb") as file:
        file.write(table.head)
        for some in hand.points.chunks():
            for piece in table.records.encoded(table.values(some)):
                file.write(piece)
            done += len(some)
            if progress:
                progress(done / total)
    return done


def _opened(path: Path, table: PointTable) -> AbstractContextManager:
    return SealedFile(path) if table.is_sealed else open(path, "wb")


def _n_points(values: dict) -> int:
    return len(next(iter(values.values())))


class _Waiting:
    """Values of points that are handed on in other portions than they come in."""

    def __init__(self, batches: Iterator[dict]):
        self._batches, self._rest = batches, {}

    def take(self, n: int) -> Iterator[dict]:
        """Values of the next `n` points, some at a time."""
        while n > 0:
            values = self._rest or next(self._batches)
            size = _n_points(values)
            yield values if size <= n else {k: v[:n] for k, v in values.items()}
            self._rest = {} if size <= n else {k: v[n:] for k, v in values.items()}
            n -= size


class ColumnTexts:
    """What stands in the columns of texts of a table, as parts of records.

    Attributes
    ----------
    parts : dict of str to list of bytes or str
        Of every column of texts that the table has.
    names : list of str
        Columns of `PointTexts` that they need.
    texts : PointTexts
    """

    def __init__(self, hand: HandOffSet, escaped=clean):
        table = hand.hand.table
        self.parts: dict[str, list[bytes | str]] = {}
        for column in table.columns:
            if column == "description":
                self.parts[column] = template_parts(table.description, lambda t: escaped(clean(t)))
            elif column == "code":
                self.parts[column] = ["owner", "tail"]
            elif column not in NUMBERS:
                self.parts[column] = [column]
        self.names = columns_in([part for parts in self.parts.values() for part in parts])
        self.texts = PointTexts(hand.points, lambda t: escaped(clean(t)), table.feature)


class SeparatedTable:
    """A table whose columns are told apart by a separator.

    Attributes
    ----------
    head : bytes
    around_seal : (bytes, bytes)
        What stands before and after the seal in the last line.
    records : Records
    """

    def __init__(self, hand: HandOffSet):
        self._hand, table = hand, hand.hand.table
        separator = SEPARATORS[table.separator]
        self._column = ColumnTexts(hand, lambda text: text.replace('"', '""'))
        mark = DECIMAL_MARKS[table.decimal_mark]
        self._blank = '""' if separator == " " else ""
        self._has_heights = hand.heights is not None and "elevation" in table.columns
        self._names = [*self._column.names, *(["number"] if "point" in table.columns else [])]
        columns = self._column.texts.columns(self._names)
        columns |= {
            name: Decimal(table.decimals, mark)
            for name in ("northing", "easting")
            if name in table.columns
        }
        if self._has_heights:
            columns["elevation"] = DecimalOrBlank(table.decimals, mark)
        if self._has_heights and self._blank:
            columns["unknown"] = Chosen([b"", self._blank.encode()])
        parts: list[bytes | str] = []
        for column in table.columns:
            parts += [separator.encode()] if parts else []
            parts += self._parts(column, separator)
        self.records = Records([*parts, b"\n"], columns)
        self.head = separator.join(table.columns).encode() + b"\n" if table.has_header else b""
        self.around_seal = self._around_seal(separator)

    def _parts(self, column: str, separator: str) -> list[bytes | str]:
        if column == "point":
            return ["number"]
        if column == "elevation":
            known = ["elevation", *(["unknown"] if self._blank else [])]
            return known if self._has_heights else [self._blank.encode()]
        if column in NUMBERS:
            return [column]
        parts = self._column.parts[column]
        if _may_hold(self._hand, parts, f'{separator}"') or (self._blank and _may_be_empty(parts)):
            return [b'"', *parts, b'"']
        return parts

    def _around_seal(self, separator: str) -> tuple[bytes, bytes]:
        columns = self._hand.hand.table.columns
        at = columns.index("description") if "description" in columns else len(columns) - 1
        before = separator.join(["#", *[self._blank] * (at - 1), ""]) if at else "# "
        after = "".join(separator + self._blank for _ in columns[at + 1 :])
        return before.encode(), after.encode() + b"\n"

    def values(self, some: Points) -> dict:
        """Values of some points for the records."""
        values = self._column.texts.values(some, self._names)
        columns = self._hand.hand.table.columns
        if "northing" in columns or "easting" in columns:
            east_north = placed(self._hand, some.xy_m)
            values |= {"easting": east_north[:, 0], "northing": east_north[:, 1]}
        if self._has_heights:
            values["elevation"] = self._hand.elevations(some.xy_m)
            values["unknown"] = np.isnan(values["elevation"]).astype(np.intp)
        return values


def _may_be_empty(parts: list[bytes | str]) -> bool:
    """Whether a text may have no character: of corners and control points some columns are empty."""
    return all(part in ("block", "row", "segment", "index") for part in parts)


def _may_hold(hand: HandOffSet, parts: list[bytes | str], marks: str) -> bool:
    """Whether a text of a column may hold one of some characters, by what it is made of."""
    points, table = hand.points, hand.hand.table
    used = np.flatnonzero(owners_used(points)).tolist()
    for part in parts:
        if isinstance(part, bytes):
            texts = [part.decode()]
        elif part == "owner":
            texts = [points.owners.code[i] for i in used]
        elif part == "block":
            texts = {points.owners.block[i] for i in used}
        elif part == "feature":
            texts = [table.feature(kind) for kind in POINT_KINDS if kind in points.counts]
        else:
            continue
        if any(mark in clean(text) for text in texts for mark in marks):
            return True
    return False
