"""Cells of long tables of text, column by column, and the numbers in them."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from itertools import zip_longest
from pathlib import Path

import numpy as np

from .table import Table

SAMPLE = 400
"""Lines that a table is told by."""
_CHUNK = 500
"""Lines cut into cells at a time: few enough that their lists are gone before the collector looks them over again."""
_THOUSANDS = re.compile("[\u00a0\u2007\u2009\u202f '’](?=\\d{3}(?!\\d))")
_ENGLISH = re.compile(r"^[-+]?\d{1,3}(,\d{3})+(\.\d+)?$")
_UNIT_BEHIND = re.compile(r"\s*(m|ft)$", re.IGNORECASE)


def filled_lines(path: Path, table: Table) -> tuple[list[str], np.ndarray]:
    """Lines that hold anything but remarks, and their numbers in the file."""
    data = path.read_bytes()
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = data.decode("utf-16", "replace")
    else:
        text = data.decode("cp1252" if table.old_encoding else "utf-8-sig", "replace")
    lines = text.splitlines()
    filled = [i for i, line in enumerate(lines) if line and line[0] != "#" and line.strip(" \t;,")]
    if any(lines[i][0] in " \t" for i in filled[:SAMPLE]):
        filled = [i for i in filled if not lines[i].lstrip().startswith("#")]
    if filled and filled[0] == 0 and lines[0].lower().startswith("sep="):
        filled = filled[1:]
    kept = lines if len(filled) == len(lines) else [lines[i] for i in filled]
    return kept, np.array(filled, dtype=np.int64) + 1


def cells_of(lines: Sequence[str], separator: str, most: int = 0) -> list[list[str]]:
    """Cells of some lines; of words apart by blanks the `most`th takes the rest of the line."""
    if separator == " ":
        return [line.split(None, most - 1 if most else -1) for line in lines]
    try:
        rows = list(csv.reader(lines, delimiter=separator, skipinitialspace=True))
    except csv.Error:
        rows = []
    if len(rows) != len(lines):  # a quote that is never closed: it is a mark for inches
        rows = [line.split(separator) for line in lines]
    return rows


def columns_of(
    lines: Sequence[str], separator: str, wanted: Sequence[int], most: int = 0
) -> dict[int, list[str]]:
    """Some columns of all lines, empty where a line is shorter; a part of the lines at a time."""
    columns: dict[int, list[str]] = {at: [] for at in wanted}
    for begin in range(0, len(lines), _CHUNK):
        rows = cells_of(lines[begin : begin + _CHUNK], separator, most)
        turned = list(zip_longest(*rows, fillvalue=""))
        for at, cells in columns.items():
            cells.extend(turned[at] if at < len(turned) else [""] * len(rows))
    return columns


def numbers_of(cells: Sequence[str], decimal_comma: bool) -> np.ndarray:
    """Numbers as people write them, (n,); NaN for what is none.

    Examples
    --------
    >>> numbers_of(["6 180 001,25", "12", "n/a"], True).tolist()
    [6180001.25, 12.0, nan]
    >>> numbers_of(["6,180,001.25", "−3.5"], False).tolist()
    [6180001.25, -3.5]
    """
    if decimal_comma:
        cells = [cell.replace(",", ".") for cell in cells]
    try:
        return np.array(list(map(float, cells)))
    except ValueError:
        return np.array([_number(cell) for cell in cells])


def _number(cell: str) -> float:
    try:
        return float(cell)
    except ValueError:
        pass
    text = _THOUSANDS.sub("", cell.strip()).replace("−", "-")
    if _ENGLISH.match(text):
        text = text.replace(",", "")
    try:
        return float(_UNIT_BEHIND.sub("", text))
    except ValueError:
        return np.nan
