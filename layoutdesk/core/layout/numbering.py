"""Codes of rows, posts and vines, such as B1-R012A-V034."""

from __future__ import annotations

import re
from dataclasses import dataclass

MARK_LETTER = {"vine": "V", "line_post": "L", "end_post": "E", "anchor": "A"}
INDEX_DIGITS = {"vine": 3, "line_post": 2, "end_post": 1, "anchor": 1}
ROW_DIGITS = 3


def segment_letter(letter: int) -> str:
    """A, B, … Z, AA, AB, … for 0, 1, …

    Examples
    --------
    >>> [segment_letter(i) for i in (0, 25, 26, 27)]
    ['A', 'Z', 'AA', 'AB']
    """
    text = ""
    letter += 1
    while letter:
        letter, rest = divmod(letter - 1, 26)
        text = chr(65 + rest) + text
    return text


def segment_code(block: str, number: int, letter: int) -> str:
    """Code of a row segment.

    Examples
    --------
    >>> segment_code("B1", 12, 0)
    'B1-R012A'
    """
    return f"{block}-R{number:0{ROW_DIGITS}d}{segment_letter(letter)}"


def mark_code(block: str, number: int, letter: int, kind: str, index: int) -> str:
    """Code of one post, anchor or vine.

    Examples
    --------
    >>> mark_code("B1", 12, 0, "vine", 34), mark_code("B1", 12, 0, "line_post", 3)
    ('B1-R012A-V034', 'B1-R012A-L03')
    """
    digits = INDEX_DIGITS[kind]
    return f"{segment_code(block, number, letter)}-{MARK_LETTER[kind]}{index:0{digits}d}"


@dataclass(frozen=True)
class Place:
    """What a code names; `segment`, `kind` and `index` are None where the code stops short."""

    block: str
    number: int
    letter: int | None = None
    kind: str | None = None
    index: int | None = None


_CODE = re.compile(
    r"^(?P<block>.+)-R(?P<row>\d+)(?P<letter>[A-Z]+)?(-(?P<kind>[VLEA])(?P<index>\d+))?$"
)


def place_of_code(code: str) -> Place | None:
    """What a code names, None where it is no code. Upper and lower case are one.

    Examples
    --------
    >>> place_of_code("b1-r012a-v034")
    Place(block='B1', number=12, letter=0, kind='vine', index=34)
    """
    match = _CODE.match(code.strip().upper())
    if not match:
        return None
    letter = None
    if match["letter"]:
        letter = 0
        for c in match["letter"]:
            letter = letter * 26 + ord(c) - 64
        letter -= 1
    kinds = {short: kind for kind, short in MARK_LETTER.items()}
    kind = kinds[match["kind"]] if match["kind"] else None
    return Place(
        match["block"], int(match["row"]), letter, kind, int(match["index"]) if kind else None
    )
