"""Forms that are filled in the field and read back: their columns, and the files they are written to.

`reading.field_forms` knows these columns by their names. Nothing of a form is on record before it is read
back; a line that is left empty says nothing.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass, replace

import numpy as np

from ..core.layout.numbering import INDEX_DIGITS, MARK_LETTER, segment_code, segment_letter
from ..core.model.planting import CHECKS
from ..core.model.register import CAUSES
from .csv_cells import csv_cell
from .digits import Chosen, DecimalOrBlank, Records, Whole

DEGREE_DECIMALS = 8
"""Of longitude and latitude: about a millimetre on the ground."""


@dataclass(frozen=True)
class FormColumn:
    """One column of a form.

    Attributes
    ----------
    name : str
        Its head, the same in every file.
    meaning : str
        Key of `reading.field_forms.NAMES`.
    kind : str
        "text", "whole", "day", "degrees", "check" or "state".
    is_filled : bool
        Whether a person fills it; others come from the plan.
    about : str
        What stands in it, for who fills it.
    """

    name: str
    meaning: str
    kind: str
    is_filled: bool
    about: str


_PLACE = (
    FormColumn("code", "code", "text", False, "code of the vine"),
    FormColumn("block", "block", "text", False, "block"),
    FormColumn("row", "row", "whole", False, "row number"),
    FormColumn("segment", "segment", "text", False, "letter of the segment in its row"),
    FormColumn("vine", "vine", "whole", False, "number of the vine in its segment"),
)
_GROUND = (
    FormColumn("lon", "lon", "degrees", False, "longitude on WGS 84"),
    FormColumn("lat", "lat", "degrees", False, "latitude on WGS 84"),
)
_PLAN = FormColumn("plan", "plan", "text", False, "mark of the plan that the codes are of")
_DATE = FormColumn("date", "day", "day", True, "day of the work, year first: 2027-04-01")
_NOTE = FormColumn("note", "note", "text", True, "remarks")

FORM_COLUMNS: tuple[FormColumn, ...] = (
    *_PLACE,
    FormColumn("lot", "lot", "text", False, "lot that stands here, or is to stand here"),
    _PLAN,
    *_GROUND,
    _DATE,
    FormColumn("inspector", "by", "text", True, "who looked"),
    *(
        FormColumn(item, item, "check", True, f"{words}: 1 yes, 0 no, empty: not looked at")
        for item, words in CHECKS.items()
    ),
    FormColumn(
        "reworked", "reworked", "check", True, "what was wrong is put right: 1 yes, else empty"
    ),
    _NOTE,
)
"""Of the inspection form."""

PLANTED_COLUMNS: tuple[FormColumn, ...] = (
    *_PLACE,
    FormColumn("lot", "lot", "text", False, "lot that is assigned here"),
    _PLAN,
    *_GROUND,
    _DATE,
    FormColumn("by", "by", "text", True, "who says so"),
    FormColumn(
        "lot_planted", "lot_planted", "text", True, "lot that was planted, where another than that"
    ),
    FormColumn(
        "state", "state", "state", True, "planted, replanted, missing, dead, alive or not planted"
    ),
    FormColumn("cause", "cause", "text", True, f"of a loss, such as {', '.join(CAUSES[1:4])}"),
    _NOTE,
)
"""Of the as-planted form."""

COLUMNS_OF = {"inspection": FORM_COLUMNS, "as_planted": PLANTED_COLUMNS}
"""Columns by the kind of form; the kind is the name of the layer too."""
STATE_CHOICES = ("planted", "replanted", "missing", "dead", "alive", "not planted")


@dataclass(frozen=True, eq=False)
class FormLines:
    """Lines of a form that has yet to be filled; arrays are one entry a line.

    Attributes
    ----------
    plan : str
        Mark of the plan.
    block : tuple of str
        Of each of p segments.
    number, letter : int array, shape (p,)
        Row number, and 0 for A ….
    segment : int array, shape (n,)
        Of those p.
    index : int array, shape (n,)
        Of the vine in its segment.
    lot : int array, shape (n,)
        Of `lots`, -1 for none.
    lots : tuple of str
    lon_lat_deg : float array, shape (n, 2)
        On WGS 84; nan where a vine has no place there. [deg]
    person : int array, shape (n,)
        Of `people`, -1 for none.
    people : tuple of str
        What stands for the inspector until a name is written over it.
    """

    plan: str
    block: tuple[str, ...]
    number: np.ndarray
    letter: np.ndarray
    segment: np.ndarray
    index: np.ndarray
    lot: np.ndarray
    lots: tuple[str, ...]
    lon_lat_deg: np.ndarray
    person: np.ndarray | None = None
    people: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.segment)

    def taken(self, which) -> FormLines:
        """Some of the lines, by mask or indices."""
        arrays = ("segment", "index", "lot", "lon_lat_deg", "person")
        given = {name: getattr(self, name) for name in arrays}
        return replace(self, **{k: v if v is None else v[which] for k, v in given.items()})


def write_inspection_csv(path, lines: FormLines) -> int:
    """Write the inspection form as a table; returns how many vines it has."""
    return write_form_csv(path, lines, "inspection")


def write_planted_csv(path, lines: FormLines) -> int:
    """Write the as-planted form as a table; returns how many vines it has."""
    return write_form_csv(path, lines, "as_planted")


def write_form_csv(path, lines: FormLines, kind: str) -> int:
    """Write a form as a table: a line a vine, cells to be filled empty.

    UTF-8 with a mark at its beginning, so that spreadsheets show accents right; lines end with CR LF
    (RFC 4180). Not atomic: the caller swaps the file in.
    """
    columns = COLUMNS_OF[kind]
    parts: list[bytes | str] = []
    for column in columns:
        if column.name in _WRITTEN and _is_said(lines, column.name):
            parts += _WRITTEN[column.name]
        parts.append(b",")
    parts[-1] = b"\r\n"
    used = [part for part in parts if isinstance(part, str)]
    formats = {name: _formats(lines)[name] for name in dict.fromkeys(used)}
    with open(path, "wb") as file:
        file.write(b"\xef\xbb\xbf" + ",".join(c.name for c in columns).encode() + b"\r\n")
        if len(lines):
            values = _values(lines)
            for piece in Records(parts, formats).encoded({k: values[k] for k in formats}):
                file.write(piece)
    return len(lines)


_CODE_MARK = f"-{MARK_LETTER['vine']}"
_WRITTEN: dict[str, tuple[bytes | str, ...]] = {
    # column: what its cell is made of
    "code": ("segment code", "vine code", "code end"),
    "block": ("block",),
    "row": ("row",),
    "segment": ("segment",),
    "vine": ("vine",),
    "lot": ("lot",),
    "plan": ("plan",),
    "lon": ("lon",),
    "lat": ("lat",),
    "inspector": ("person",),
    "by": ("person",),
}


def _is_said(lines: FormLines, name: str) -> bool:
    return name not in ("inspector", "by") or lines.person is not None


def _cell(text) -> bytes:
    """A text as one cell, in quotes where it needs them; what is no character becomes a question mark."""
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow([csv_cell(str(text).replace("\0", ""))])
    cell = out.getvalue()
    return b"" if cell == '""' else cell.encode("utf-8", "replace")


def _codes(lines: FormLines) -> list[str]:
    pairs = zip(lines.block, lines.number.tolist(), lines.letter.tolist(), strict=True)
    return [segment_code(*named) for named in pairs]


def _formats(lines: FormLines) -> dict:
    codes = _codes(lines)
    return {
        "segment code": Chosen([_cell(f"{code}{_CODE_MARK}").removesuffix(b'"') for code in codes]),
        "vine code": Whole(INDEX_DIGITS["vine"]),
        "code end": Chosen([b'"' if _cell(code)[-1:] == b'"' else b"" for code in codes]),
        "block": Chosen([_cell(name) for name in lines.block]),
        "row": Whole(),
        "segment": Chosen([segment_letter(k).encode() for k in lines.letter.tolist()]),
        "vine": Whole(),
        "lot": Chosen([b"", *(_cell(name) for name in lines.lots)]),
        "plan": Chosen([_cell(lines.plan)]),
        "lon": DecimalOrBlank(DEGREE_DECIMALS),
        "lat": DecimalOrBlank(DEGREE_DECIMALS),
        "person": Chosen([b"", *(_cell(name) for name in lines.people)]),
    }


def _values(lines: FormLines) -> dict[str, np.ndarray]:
    n = len(lines)
    none = np.full(n, -1)
    return {
        "segment code": lines.segment,
        "vine code": lines.index,
        "code end": lines.segment,
        "block": lines.segment,
        "row": np.asarray(lines.number)[lines.segment],
        "segment": lines.segment,
        "vine": lines.index,
        "lot": np.asarray(lines.lot).astype(np.int64) + 1,
        "plan": np.zeros(n, np.int64),
        "lon": lines.lon_lat_deg[:, 0],
        "lat": lines.lon_lat_deg[:, 1],
        "person": (none if lines.person is None else lines.person) + 1,
    }
