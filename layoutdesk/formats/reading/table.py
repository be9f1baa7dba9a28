"""Text of a corner list to cells: encoding, separator, header, decimal comma."""

from __future__ import annotations

import csv
import re
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from layoutdesk.core.model.findings import InputProblem

NAMES = {
    "x": "x e east easting eastings ostwert rechtswert este estex coordx xcoord xcoordinate pointx"
    " utme utmeasting gridx",
    "y": "y n north northing northings nordwert hochwert norte nortey coordy ycoord ycoordinate"
    " pointy utmn utmnorthing gridy",
    "lon": "lon long lng longitude longitud lond longdd londd longitudedd decimallongitude lonwgs84"
    " longdms londms longitudedms",
    "lat": "lat latitude latitud latd latdd latitudedd decimallatitude latwgs84 latdms latitudedms",
    "height": "z h height elev elevation altitude alt hoehe hohe cota rl ellipsoidalheight",
    "part": "block part polygon parcel ring outline area blockname blockid partid polygonid parcelid"
    " field shape line group",
    "point": "point pt id no nr number corner vertex fid pointid pointname punkt station beacon",
    "name": "name label title",
    "kind": "kind type class category feature obstacle description desc code",
    "clearance": "clearance clearancem",
}
"""Column names by what they mean, in lower case without blanks, accents, brackets or marks."""

_MEANING = {word: key for key, words in NAMES.items() for word in words.split()}
_UNIT_IN_NAME = re.compile(r"[(\[]\s*(us[- ]?ft|usft|ftus|ft|feet|m|metres?|meters?)\s*[)\]]", re.I)
_PLAIN = re.compile(r"^[-+]?\d+([.,]\d+)?([eE][-+]?\d+)?$")


@dataclass
class Table:
    """Cells of a corner list.

    Attributes
    ----------
    meaning : dict
        Column number by meaning (a key of `NAMES`); empty without a header.
    rows : list of list of str
        Data rows, blank ones left out.
    line : list of int
        Line in the file of each row.
    blank_before : list of bool
        Whether a blank line precedes the row.
    decimal_comma, old_encoding : bool
    separator : str
    cut : bool
        Whether only the first rows were read.
    unit : str
        A unit named in the header of a coordinate column, else "".
    header : list of str
        Column names as they stand; empty where the first row is data.
    """

    meaning: dict[str, int]
    rows: list[list[str]]
    line: list[int]
    blank_before: list[bool]
    decimal_comma: bool
    old_encoding: bool
    unit: str
    separator: str
    cut: bool
    header: list[str]


def read_table(path: Path, shown: str, most_rows: int | None = None) -> Table:
    """Cells of a text file of corners; only of its first lines when `most_rows` says so.

    Raises
    ------
    InputProblem
        When it is no text, or has nothing but blank lines.
    """
    text, old_encoding = _text(path.read_bytes(), shown)
    lines = text.splitlines()
    cut = most_rows is not None and len(lines) > most_rows + 1
    if cut:
        lines = lines[: most_rows + 1]
    # "sep=;" on the first line is a spreadsheet's note to itself; # starts a remark.
    keep = [
        ""
        if (i == 0 and line.lower().startswith("sep=")) or line.lstrip().startswith("#")
        else line
        for i, line in enumerate(lines)
    ]
    filled = [line for line in keep if line.strip(" \t;,")]
    if not filled:
        raise InputProblem(f"{shown} holds only blank lines; export the corners again.")
    separator = _separator(filled)
    cells = _cells(keep, separator)
    rows, line, blank_before = [], [], []
    blank = False
    for number, row in enumerate(cells, 1):
        if not any(row):
            blank = bool(rows)
            continue
        rows.append(row)
        line.append(number)
        blank_before.append(blank)
        blank = False
    meaning, unit = _header(rows[0])
    header: list[str] = []
    if meaning or not any(re.search(r"\d", c) for c in rows[0]):
        header = rows[0]
        rows, line, blank_before = rows[1:], line[1:], blank_before[1:]
        if blank_before:
            blank_before[0] = False
    comma = separator != "," and any(
        re.match(r"^[-+]?\d+,\d+$", c) for row in rows[:50] for c in row
    )
    return Table(
        meaning, rows, line, blank_before, comma, old_encoding, unit, separator, cut, header
    )


def _text(data: bytes, shown: str) -> tuple[str, bool]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace"), False
    if b"\x00" in data[:4096]:
        raise InputProblem(
            f"{shown} is no text file although its name says so; export the corners as CSV."
        )
    try:
        return data.decode("utf-8-sig"), False
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace"), True


def _separator(filled: list[str]) -> str:
    """The separator that most lines share; blanks only when nothing else is there."""
    sample = filled[:50]
    for mark in ("\t", ";"):
        if sum(mark in line for line in sample) * 2 > len(sample):
            return mark
    if sum("," in line for line in sample) * 2 > len(sample):
        # "500123,4 6200456,7": commas inside numbers, blanks between them
        spaced = all(re.match(r"^\s*\S+(\s+[-+]?\d+,\d+){1,}\s*$", s) for s in sample[1:] or sample)
        return " " if spaced and not all(re.search(r",\s", s) for s in sample) else ","
    return " "


def _cells(lines: list[str], separator: str) -> list[list[str]]:
    if separator == " ":
        return [line.split() for line in lines]
    # A quote inside a cell is a mark for seconds or feet; only a cell that starts with one is quoted.
    reader = csv.reader(lines, delimiter=separator, skipinitialspace=True)
    rows = []
    for line in lines:
        try:
            rows.append([cell.strip() for cell in next(reader)])
        except StopIteration:
            break
        except csv.Error:
            rows.append([cell.strip() for cell in line.split(separator)])
    return rows


def _header(row: list[str]) -> tuple[dict[str, int], str]:
    """Meaning of each column of a header row; empty when the row is data."""
    if sum(bool(_PLAIN.match(c)) for c in row) >= 2:
        return {}, ""
    meaning: dict[str, int] = {}
    unit = ""
    for column, cell in enumerate(row):
        key = _MEANING.get(bare(cell))
        if key and key not in meaning:
            meaning[key] = column
            named = _UNIT_IN_NAME.search(cell)
            if named and key in ("x", "y"):
                unit = named[1].lower()
    return meaning, unit


def bare(cell: str) -> str:
    """A column's name without case, accents, units in brackets, blanks and marks.

    Examples
    --------
    >>> bare("Easting (m)"), bare("POINT_X"), bare("Höhe"), bare("Lat [°]")
    ('easting', 'pointx', 'hohe', 'lat')
    """
    plain = unicodedata.normalize("NFKD", re.sub(r"[(\[].*?[)\]]", "", cell))
    return re.sub(r"[^a-z0-9]", "", plain.lower())
