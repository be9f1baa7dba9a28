"""The three files of a Shapefile as bytes: shapes, their index, and the table beside them.

Sources: ESRI Shapefile Technical Description, Environmental Systems Research Institute, 1998 (shapes and index);
the table is a dBASE III one, version 3 without memo (layout from memory).
"""

from __future__ import annotations

import datetime
import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

NAME_LETTERS, TEXT_BYTES, MOST_BYTES = 10, 254, 2**31 - 1
"""Limits: letters of a column's name, bytes of a text, bytes of a file that every program reads."""
HEAD_BYTES, POINT_BYTES, INDEX_BYTES = 100, 28, 8
POINT, LINE, POLYGON = 1, 3, 5
"""Kinds of shape; a file has one."""
END_OF_TABLE = b"\x1a"
_POINT_RECORD = np.dtype(
    [("number", ">i4"), ("words", ">i4"), ("kind", "<i4"), ("x", "<f8"), ("y", "<f8")]
)
_INDEX_RECORD = np.dtype([("at", ">i4"), ("words", ">i4")])
_BLANK = ord(" ")


@dataclass(frozen=True)
class Field:
    """A column of the table.

    Attributes
    ----------
    name : str
    width : int
        Bytes.
    decimals : int or None
        None for texts.
    """

    name: str
    width: int
    decimals: int | None = None

    def __post_init__(self):
        if not 0 < len(self.name.encode("ascii")) <= NAME_LETTERS:
            raise ValueError(f"name: {self.name!r} has not 1 to {NAME_LETTERS} letters")
        if not 1 <= self.width <= TEXT_BYTES:
            raise ValueError(f"width: {self.width} is outside 1 to {TEXT_BYTES}")


def head(kind: int, n_bytes: int, bounds: Sequence[float]) -> bytes:
    """The head of a file of shapes, or of its index, that is `n_bytes` long with it."""
    first = struct.pack(">7i", 9994, 0, 0, 0, 0, 0, n_bytes // 2)
    return first + struct.pack("<2i4d4d", 1000, kind, *bounds, 0, 0, 0, 0)


def point_records(first: int, xy: np.ndarray) -> bytes:
    """Records of points, numbered on from `first`, which counts from 1."""
    records = np.empty(len(xy), _POINT_RECORD)
    records["number"] = np.arange(first, first + len(xy))
    records["words"], records["kind"] = (POINT_BYTES - 8) // 2, POINT
    records["x"], records["y"] = xy.T
    return records.tobytes()


def index_records(begin: int, lengths: np.ndarray) -> bytes:
    """Index of records of these lengths, the first of which begins at a byte."""
    lengths = np.asarray(lengths, dtype=np.int64)
    records = np.empty(len(lengths), _INDEX_RECORD)
    records["at"] = (begin + np.cumsum(lengths) - lengths) // 2
    records["words"] = (lengths - 8) // 2
    return records.tobytes()


def shape_records(kind: int, shapes: Sequence) -> list[bytes]:
    """A record each of single points, lines or polygons, which have their shells clockwise, holes the other way."""
    return [
        struct.pack(">2i", i, len(content) // 2) + content
        for i, content in enumerate((_content(kind, shape) for shape in shapes), 1)
    ]


def _content(kind: int, shape) -> bytes:
    if kind == POINT:
        return struct.pack("<i2d", POINT, shape.x, shape.y)
    parts = [shape]
    if kind == POLYGON:
        turned = shapely.geometry.polygon.orient(shape, -1.0)
        parts = shapely.get_rings(turned).tolist()
    places = [shapely.get_coordinates(part) for part in parts]
    counts = [len(p) for p in places]
    starts = (np.cumsum(counts) - counts).tolist()
    front = struct.pack("<i4d2i", kind, *shape.bounds, len(parts), sum(counts))
    coordinates = np.ascontiguousarray(np.concatenate(places), dtype="<f8")
    return front + struct.pack(f"<{len(starts)}i", *starts) + coordinates.tobytes()


def table_head(fields: Sequence[Field], n: int, day: datetime.date) -> bytes:
    """The head of a table of `n` records."""
    length = 32 + 32 * len(fields) + 1
    row = row_bytes(fields)
    made = struct.pack(
        "<4BIHH20x", 3, max(day.year - 1900, 0) % 256, day.month, day.day, n, length, row
    )
    for field in fields:
        letter = b"C" if field.decimals is None else b"N"
        name = field.name.encode("ascii")
        made += struct.pack("<11sc4xBB14x", name, letter, field.width, field.decimals or 0)
    return made + b"\r"


def row_bytes(fields: Sequence[Field]) -> int:
    """Length of a record of a table."""
    return 1 + sum(field.width for field in fields)


def table_rows(fields: Sequence[Field], values: Sequence) -> memoryview:
    """Records of a table.

    Parameters
    ----------
    fields : sequence of Field
    values : sequence
        For each field: a list of bytes, which are cut between characters where they are too long; a list of
        bytes and an array of picks; or an array of numbers, NaN for an empty place.
    """
    n = len(values[0])
    table = np.full((n, row_bytes(fields)), _BLANK, dtype=np.uint8)
    at = 1
    for field, value in zip(fields, values, strict=True):
        cells = table[:, at : at + field.width]
        if field.decimals is not None:
            _put_numbers(cells, np.asarray(value), field)
        elif isinstance(value, tuple):
            texts, picks = value
            cells[:] = _cells(texts, field.width)[picks]
        else:
            cells[:] = _cells(value, field.width)
        at += field.width
    return table.reshape(-1).data


def _put_numbers(cells: np.ndarray, numbers: np.ndarray, field: Field) -> None:
    from .digits import DecimalOrBlank, Whole
    from .points_fixed import RightAligned

    column = DecimalOrBlank(field.decimals) if field.decimals else Whole()
    aligned = RightAligned(column, field.width)
    found, _ = aligned.measured(numbers)
    aligned.fill(cells, found)


def _cells(texts: Sequence[bytes], width: int) -> np.ndarray:
    cut = np.array([_cut(t, width) for t in texts] if _any_longer(texts, width) else texts)
    cells = cut.astype(f"S{width}").view(np.uint8).reshape(len(texts), width)
    cells[cells == 0] = _BLANK
    return cells


def _any_longer(texts: Sequence[bytes], width: int) -> bool:
    return max(map(len, texts), default=0) > width


def _cut(text: bytes, width: int) -> bytes:
    return text if len(text) <= width else text[:width].decode(errors="ignore").encode()
