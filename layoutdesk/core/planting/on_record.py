"""Codes of vine positions on record: as they were recorded, as blocks are called today, and the way back."""

from __future__ import annotations

from collections.abc import Sequence
from weakref import WeakKeyDictionary

import numpy as np

from ..layout.numbering import INDEX_DIGITS, MARK_LETTER, Place, place_of_code, segment_code
from ..model.register import NO_PLACE, Register

_PIECES: WeakKeyDictionary[Register, dict] = WeakKeyDictionary()


def pieces_of(register: Register) -> dict[tuple[str, int, int], list[int]]:
    """Pieces by block in upper case, row number and letter; today's block name goes before older ones."""
    found = _PIECES.get(register)
    if found is None:
        stand, found = register.stand, {}
        keys = list(zip(stand.number.tolist(), stand.letter.tolist(), strict=True))
        names = register.block_names
        for age in range(max(map(len, names), default=0)):
            for piece, told in enumerate(names):
                if age < len(told):
                    pieces = found.setdefault((told[age].upper(), *keys[piece]), [])
                    if piece not in pieces:
                        pieces.append(piece)
        _PIECES[register] = found
    return found


def codes_on_record(
    register: Register, places: Sequence[int] | np.ndarray, *, today: bool = False
) -> list[str]:
    """Codes of positions, as they were recorded, or with the names that their blocks have today."""
    stand, names = register.stand, register.block_names
    places = np.asarray(places, np.int64)
    piece = stand.piece_of(places)
    letter, digits = MARK_LETTER["vine"], INDEX_DIGITS["vine"]
    number, row_letter = stand.number, stand.letter
    heads = {
        p: segment_code(names[p][0 if today else -1], int(number[p]), int(row_letter[p]))
        for p in np.unique(piece).tolist()
    }
    index = stand.index_of(places)
    return [
        f"{heads[p]}-{letter}{i:0{digits}d}"
        for p, i in zip(piece.tolist(), index.tolist(), strict=True)
    ]


def place_on_record(register: Register, code: str) -> int | None:
    """The position of a vine's code, None where nothing is on record under it.

    A block is found by the name it was recorded with, and by every name it was given since; where two
    blocks had the name, the one that has it today is meant.
    """
    told = place_of_code(code)
    if told is None or told.kind != "vine" or told.letter is None:
        return None
    stand, empty = register.stand, None
    for piece in pieces_of(register).get((told.block, told.number, told.letter), ()):
        step = told.index - int(stand.first[piece])
        if 0 <= step < stand.count[piece]:
            place = int(stand.offsets[piece]) + step
            if stand.xy_mm[place, 0] != NO_PLACE:
                return place
            empty = place if empty is None else empty
    return empty


def places_of_row(register: Register, code: str) -> np.ndarray:
    """Positions of a row or of one segment, such as B1-R012 or B1-R012A; rising, empty where none is on
    record."""
    told = place_of_code(code)
    stand = register.stand
    if told is None:
        return np.empty(0, np.int64)
    pieces = sorted(
        {
            piece
            for key, known in pieces_of(register).items()
            if _is_of(key, told)
            for piece in known
        }
    )
    parts = [
        np.arange(o, o + c) for o, c in zip(stand.offsets[pieces], stand.count[pieces], strict=True)
    ]
    return np.concatenate([np.empty(0, np.int64), *parts])


def _is_of(key: tuple[str, int, int], told: Place) -> bool:
    block, number, letter = key
    return (block, number) == (told.block, told.number) and told.letter in (None, letter)


def row_codes(register: Register) -> tuple[np.ndarray, tuple[str, ...]]:
    """Which row each piece is of, shape (p,), and codes of the rows, such as B1-R012, by today's names."""
    stand, names = register.stand, register.block_names
    number: dict[str, int] = {}
    row = np.empty(len(names), np.int64)
    for piece, n in enumerate(stand.number.tolist()):
        # A row's code is its segments' without the letter.
        code = segment_code(names[piece][0], n, 0)[:-1]
        row[piece] = number.setdefault(code, len(number))
    return row, tuple(number)
