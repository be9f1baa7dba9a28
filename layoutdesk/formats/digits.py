"""Many text records at once: fixed text and columns, as a matrix of bytes.

A record format is laid out once; each batch of values becomes a matrix with one record a line,
whose columns are filled by arithmetic on whole arrays and whose fixed text is left standing from
batch to batch. A value narrower than its column leaves PAD bytes, which are dropped before the
batch is handed on, so numbers come out without leading spaces or zeros. Memory is one matrix.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from itertools import pairwise

import numpy as np

RECORDS = 65_536
"""Records that writers prepare at a time."""

_TABLE_BYTES = 1 << 20
"""Size of one matrix: small enough to stay in the processor's cache."""

PAD = 0
"""Stands where a column is wider than its value; no text holds it."""

_BYTES_PER_RUN = 20_000
"""Bytes that are looked at one by one in the time a piece of the matrix takes to set up."""

_LARGEST = 9 * 10**15
"""Whole numbers below this are exact in double precision."""

_ASCII = {name: ord(c) for name, c in {"minus": "-", "zero": "0"}.items()}


@cache
def _decimal_digits(width: int) -> np.ndarray:
    """Texts of 0 … 10^width - 1 with leading zeros, one unsigned integer or void each."""
    texts = np.char.zfill(np.arange(10**width).astype(f"S{width}"), width)
    return texts.view(_carrier(width))


@cache
def _hex_digits() -> np.ndarray:
    """Texts of 0 … 65535 as four hexadecimal digits."""
    return np.array([b"%04X" % i for i in range(65_536)]).view("u4")


@cache
def _carrier(width: int) -> np.dtype:
    """A type of that many bytes that moves fastest."""
    return np.dtype({1: "u1", 2: "u2", 4: "u4", 8: "u8"}.get(width, f"V{width}"))


def _lines(cells: np.ndarray) -> np.ndarray:
    """The columns of a piece of matrix as one item a record, shape (n,)."""
    return cells.view(_carrier(cells.shape[1]))[:, 0]


def _put_decimal(cells: np.ndarray, values: np.ndarray) -> None:
    """Digits of whole numbers, right-aligned with leading zeros, over all columns."""
    end = cells.shape[1]
    while end > 4:
        rest = values // 10_000
        _lines(cells[:, end - 4 : end])[:] = _decimal_digits(4).take(values - rest * 10_000)
        values, end = rest, end - 4
    if end:
        _lines(cells[:, :end])[:] = _decimal_digits(end).take(values)


def _blank_leading(cells: np.ndarray, values: np.ndarray, least: int, base: int):
    """Pads in place of leading zeros, down to the least number of digits; the columns that have any."""
    width, lowest, n_padded = cells.shape[1], int(values.min()), 0
    for place in range(width - 1, least - 1, -1):
        if lowest >= base**place:
            break
        cells[values < base**place, width - 1 - place] = PAD
        n_padded += 1
    return cells[:, :n_padded] if n_padded else None


def _digits_of(value: int, base: int = 10) -> int:
    count = 1
    while value >= base:
        value //= base
        count += 1
    return count


class Whole:
    """Column of whole numbers from 0 on, with leading zeros up to `least_digits`.

    `measured` gives what `fill` takes, and the width of the column; `fill` writes into the column of a table
    and gives back the part of it that may hold pads, None for none. All columns have these two.
    """

    def __init__(self, least_digits: int = 1):
        self.least = least_digits

    def measured(self, values):
        values = np.asarray(values, dtype=np.int64)
        if values.min() < 0:
            raise ValueError(f"values: {int(values.min())} is below 0")
        return values, max(self.least, _digits_of(int(values.max())))

    def fill(self, cells: np.ndarray, values):
        _put_decimal(cells, values)
        return _blank_leading(cells, values, self.least, 10)


class Hex:
    """Column of whole numbers from 0 on in capital hexadecimal digits."""

    def measured(self, values):
        values = np.asarray(values, dtype=np.int64)
        if values.min() < 0:
            raise ValueError(f"values: {int(values.min())} is below 0")
        return values, _digits_of(int(values.max()), 16)

    def fill(self, cells: np.ndarray, values):
        end, rest = cells.shape[1], values
        while end > 0:
            four = _hex_digits()[rest & 0xFFFF]
            if end >= 4:
                _lines(cells[:, end - 4 : end])[:] = four
            else:
                cells[:, :end] = four.view("u1").reshape(-1, 4)[:, 4 - end :]
            rest, end = rest >> 16, end - 4
        return _blank_leading(cells, values, 1, 16)


class Decimal:
    """Column of numbers with a fixed count of decimals.

    Rounded to the nearest, within one unit of the last decimal of the exact rounding; a number
    that rounds to zero carries no minus sign. `mark` stands before the decimals.
    """

    def __init__(self, decimals: int, mark: str = "."):
        self.decimals, self._mark = decimals, ord(mark)

    def measured(self, values):
        values = np.asarray(values, dtype=float)
        scaled = np.rint(values * 10.0**self.decimals)
        if not (np.abs(scaled) < _LARGEST).all():  # False for nan and infinity too
            worst = float(values[np.argmin(np.abs(scaled) < _LARGEST)])
            raise ValueError(f"values: {worst} cannot be written with {self.decimals} decimals")
        whole = scaled.astype(np.int64)
        negative = whole < 0
        some, every = bool(negative.any()), bool(negative.all())
        if some:
            np.abs(whole, out=whole)
        before = _digits_of(int(whole.max()) // 10**self.decimals)
        width = some + before + (1 + self.decimals if self.decimals else 0)
        return (whole, negative if some else None, every, before), width

    def fill(self, cells: np.ndarray, measured):
        whole, negative, every, before = measured
        at = 0
        if negative is not None:
            cells[:, 0] = _ASCII["minus"] if every else np.where(negative, _ASCII["minus"], PAD)
            at = 1
        if self.decimals:
            front = whole // 10**self.decimals
            _put_decimal(cells[:, at + before + 1 :], whole - front * 10**self.decimals)
            cells[:, at + before] = self._mark
        else:
            front = whole
        _put_decimal(cells[:, at : at + before], front)
        padded = _blank_leading(cells[:, at : at + before], front, 1, 10)
        n_padded = 0 if padded is None else padded.shape[1]
        if at and (n_padded or not every):
            return cells[:, : at + n_padded]
        return padded


class DecimalOrBlank(Decimal):
    """The same where some numbers are not known: NaN leaves the place empty."""

    def measured(self, values):
        values = np.asarray(values, dtype=float)
        blank = np.isnan(values)
        found, width = super().measured(np.where(blank, 0.0, values))
        return (found, blank if blank.any() else None), width

    def fill(self, cells: np.ndarray, measured):
        found, blank = measured
        padded = super().fill(cells, found)
        if blank is None:
            return padded
        cells[blank] = PAD
        return cells


class Chosen:
    """Column of texts picked by number from a list."""

    def __init__(self, texts: Sequence[bytes]):
        if any(PAD in text for text in texts):
            raise ValueError("texts: one holds a zero byte")
        self.texts = np.array(list(texts) or [b""], dtype=np.bytes_)
        self.length = np.array([len(t) for t in texts] or [0])

    def measured(self, values):
        values = np.asarray(values)
        low, high = int(values.min()), int(values.max()) + 1
        length = self.length[low:high]
        return (values - low, low, high, length), int(length.max())

    def fill(self, cells: np.ndarray, measured):
        pick, low, high, length = measured
        if not cells.shape[1]:
            return None
        near = self.texts[low:high].astype(f"S{cells.shape[1]}").view("u1")
        near = near.reshape(high - low, cells.shape[1])
        if high - low == 1:
            _lines(cells)[:] = _lines(near)[0]
        else:
            _lines(cells)[:] = _lines(near).take(pick)
        shortest = int(length.min())
        return cells[:, shortest:] if shortest < cells.shape[1] else None


def _without_pads(table: np.ndarray, padded: list[np.ndarray]) -> np.ndarray:
    """All bytes of a matrix but its pads, shape (b,).

    Neighbouring records mostly have their pads in the same columns, so that whole pieces of the
    matrix can be copied; where the columns change too often, byte after byte is looked at.

    Parameters
    ----------
    table : uint8 array, shape (n, w)
    padded : list of uint8 array, shape (n, …)
        The columns of `table` that may differ in their pads; others may repeat them.
    """
    changed = np.zeros(len(table) - 1, dtype=bool)
    for cells in padded:
        for column in cells.T:
            pad = column == PAD
            changed |= pad[1:] != pad[:-1]
    starts = [0, *(np.flatnonzero(changed) + 1).tolist(), len(table)]
    if len(starts) * _BYTES_PER_RUN > table.size:
        flat = table.reshape(-1)
        return flat[flat != PAD]
    out, at = np.empty(table.size, dtype=np.uint8), 0
    for begin, end in pairwise(starts):
        kept = table[begin] != PAD
        width = int(np.count_nonzero(kept))
        to = out[at : at + width * (end - begin)].reshape(end - begin, width)
        edges = np.flatnonzero(kept[1:] != kept[:-1]) + 1
        bounds = [0, *edges.tolist(), len(kept)]
        place = 0
        for left, right in pairwise(bounds):
            if kept[left]:
                to[:, place : place + right - left] = table[begin:end, left:right]
                place += right - left
        at += to.size
    return out[:at]


class Records:
    """A record format.

    Parameters
    ----------
    parts : sequence of bytes or str
        In order: bytes are fixed text, a str names a column. A column may stand in many places;
        it is worked out once.
    columns : dict of str to Whole, Hex, Decimal or Chosen

    Examples
    --------
    >>> records = Records([b"<", "n", b" ", "x", b">"], {"n": Whole(2), "x": Decimal(1)})
    >>> b"".join(records.encoded({"n": [1, 200], "x": [-0.04, 12.25]}))
    b'<01 0.0><200 12.2>'
    """

    def __init__(self, parts: Sequence[bytes | str], columns: dict):
        self.parts, self.columns = tuple(parts), columns
        if any(isinstance(p, bytes) and PAD in p for p in self.parts):
            raise ValueError("parts: fixed text holds a zero byte")
        width = sum(len(p) if isinstance(p, bytes) else 12 for p in self.parts)
        self._rows = max(256, min(RECORDS, _TABLE_BYTES // max(width, 1)))
        self._widths: dict[str, int] = {}
        self._table = np.empty((0, 0), dtype=np.uint8)
        self._places: dict[str, list[int]] = {}

    def encoded(self, values: dict) -> Iterator[memoryview]:
        """Bytes of all records, some at a time; each is to be used before the next is asked for.

        Parameters
        ----------
        values : dict of str to array, shape (n,)
            One for every column.

        Raises
        ------
        ValueError
            Where a number is not finite, too long to be exact, or below 0 in a column of whole
            numbers.
        """
        arrays = {name: np.asarray(values[name]) for name in self.columns}
        total = len(next(iter(arrays.values()))) if arrays else 0
        for begin in range(0, total, self._rows):
            part = slice(begin, begin + self._rows)
            yield self._encode({name: a[part] for name, a in arrays.items()})

    def _encode(self, arrays: dict) -> memoryview:
        measured, widths = {}, {}
        for name, column in self.columns.items():
            measured[name], widths[name] = column.measured(arrays[name])
        n = len(next(iter(arrays.values())))
        if widths != self._widths or n > len(self._table):
            self._lay_out(n, widths)
        table, padded = self._table[:n], []
        for name, column in self.columns.items():
            first, *others = self._places[name]
            width = widths[name]
            cells = table[:, first : first + width]
            may_pad = column.fill(cells, measured[name])
            if may_pad is not None:
                padded.append(may_pad)
            if width:
                for at in others:
                    _lines(table[:, at : at + width])[:] = _lines(cells)
        return memoryview(_without_pads(table, padded) if padded else table.reshape(-1))

    def _lay_out(self, n: int, widths: dict[str, int]) -> None:
        """A matrix for records of these widths, its fixed text written."""
        line, self._places = bytearray(), {name: [] for name in self.columns}
        for part in self.parts:
            if isinstance(part, bytes):
                line += part
            else:
                self._places[part].append(len(line))
                line += bytes(widths[part])
        self._table = np.empty((n, len(line)), dtype=np.uint8)
        self._table[:] = np.frombuffer(bytes(line), dtype=np.uint8)
        self._widths = widths
