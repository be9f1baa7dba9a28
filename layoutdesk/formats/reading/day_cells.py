"""Columns of days as people and spreadsheets write them."""

from __future__ import annotations

import datetime
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

NO_DAY, UNREAD = 0, -1
_YEARS = (1900, 2200)
_SERIALS = (20_000, 80_000)
"""Numbers that can be days as spreadsheets count them, 1954 to 2119."""
_SERIAL_ORIGIN = datetime.date(1899, 12, 30).toordinal()
"""Day 0 of spreadsheets' numbers from 1 March 1900 on (ECMA-376, 1900 date base)."""
_MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october",
    "november", "december",
)  # fmt: skip
_TIME = re.compile(r"[T\s,]+\d{1,2}[:.h]\d{2}([:.]\d{2}([.,]\d+)?)?\s*([ap]\.?m\.?)?\s*(Z|[+-]\d{2}:?\d{2})?$", re.I)  # fmt: skip
_YEAR_FIRST = re.compile(r"^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})\.?$|^(\d{4})(\d{2})(\d{2})$")
_YEAR_LAST = re.compile(r"^(\d{1,2})\s*([-/.])\s*(\d{1,2})\s*\2\s*(\d{4})$")
_TWO_FIGURES = re.compile(
    r"^\d{1,2}([-/.])(\d{1,2}|[A-Za-z]{3,9})\1'?\d{2}$|^\d{1,2}\.?\s+[A-Za-z]{3,9}\.?\s+'?\d{2}$"
)
_DAY_MONTH = re.compile(r"^(\d{1,2})(?:st|nd|rd|th)?[.\s-]*([A-Za-z]{3,9})\.?[\s,-]*(\d{4})$")
_MONTH_DAY = re.compile(r"^([A-Za-z]{3,9})\.?[\s-]*(\d{1,2})(?:st|nd|rd|th)?[\s,-]+(\d{4})$")
_SERIAL = re.compile(r"^(\d{5})([.,]\d*)?$")


@dataclass(frozen=True, eq=False)
class DayCells:
    """A column of days.

    Attributes
    ----------
    ordinal : int32 array, shape (n,)
        As `datetime.date.toordinal`; NO_DAY for an empty cell, UNREAD for one that is no day.
    why : mapping of str to str
        What is wrong with a cell's text, as the end of a sentence: "'31/2/2027' is no day of the calendar".
    order : str
        "day first" or "month first" where days such as 1/4/2027 were read by what other lines show.
    """

    ordinal: np.ndarray
    why: dict[str, str]
    order: str


def read_days(cells: Sequence[str]) -> DayCells:
    """Days of a column's cells.

    Year first, days with dots (day first), names of months, and the numbers that spreadsheets count days
    by mean one day each. Of days such as 1/4/2027 the whole column decides: where a cell can only be
    read one way, all are read that way; where nothing decides, or cells contradict each other, those that
    could be two days are not read. Years of two figures are not read.

    Examples
    --------
    >>> days = read_days(["2027-04-01", "46478", "1.4.2027", "April 1, 2027", ""])
    >>> [str(datetime.date.fromordinal(day)) for day in set(days.ordinal[:4].tolist())]
    ['2027-04-01']
    >>> read_days(["1/4/2027", "13/4/2027"]).order, read_days(["1/4/2027"]).ordinal.tolist()
    ('day first', [-1])
    """
    texts, of_cell = np.unique(
        np.array([*cells, ""], dtype=object).astype(str), return_inverse=True
    )
    alone = [_day_of(text) for text in texts.tolist()]
    order = _order(found for found in alone if isinstance(found, tuple))
    ordinal, why = np.empty(len(texts), np.int32), {}
    for i, (text, found) in enumerate(zip(texts.tolist(), alone, strict=True)):
        if isinstance(found, tuple):
            found = _ordered(text, found, order)
        ordinal[i] = UNREAD if isinstance(found, str) else found
        if isinstance(found, str):
            why[text] = found
    used = order if order in ("day first", "month first") else ""
    return DayCells(ordinal[of_cell.reshape(-1)[:-1]], why, used)


def _plain(text: str) -> str:
    text = unicodedata.normalize("NFKC", text).strip().strip("'\"").strip()
    return text.replace("−", "-").replace("–", "-")


def _day_of(text: str) -> int | str | tuple[int, int, int]:
    """Ordinal of a day, what is wrong with it, or (first, second, year) where their order is open."""
    word = _TIME.sub("", _plain(text))
    if word in ("", "-", "--"):
        return NO_DAY
    if found := _YEAR_FIRST.match(word):
        year, _, month, day, *packed = found.groups()
        if packed[0]:
            year, month, day = packed
        return _ordinal(text, int(year), int(month), int(day))
    if found := _YEAR_LAST.match(word):
        first, mark, second, year = found.groups()
        if mark == ".":
            return _ordinal(text, int(year), int(second), int(first))
        return int(first), int(second), int(year)
    if found := _DAY_MONTH.match(word):
        return _with_month(text, found[3], found[2], found[1])
    if found := _MONTH_DAY.match(word):
        return _with_month(text, found[3], found[1], found[2])
    if (found := _SERIAL.match(word)) and _SERIALS[0] <= int(found[1]) <= _SERIALS[1]:
        return _SERIAL_ORIGIN + int(found[1])
    if _TWO_FIGURES.match(word):
        return f"{text.strip()!r} has a year of two figures: write it with four, such as 2027-04-01"
    return f"{text.strip()!r} is no day: write it year first, such as 2027-04-01"


def _with_month(text: str, year: str, word: str, day: str) -> int | str:
    fit = [i for i, name in enumerate(_MONTHS, 1) if name.startswith(word.lower())]
    if word.lower() == "sept":
        fit = [9]
    if len(fit) != 1:
        return f"{text.strip()!r} is no day: write it year first, such as 2027-04-01"
    return _ordinal(text, int(year), fit[0], int(day))


def _ordinal(text: str, year: int, month: int, day: int) -> int | str:
    try:
        if _YEARS[0] <= year <= _YEARS[1]:
            return datetime.date(year, month, day).toordinal()
    except ValueError:
        pass
    return f"{text.strip()!r} is no day of the calendar: write it year first, such as 2027-04-01"


def _order(open_days) -> str:
    """What a column's own cells say of the order of day and month."""
    days = list(open_days)
    day_first = any(first > 12 >= second for first, second, _ in days)
    month_first = any(second > 12 >= first for first, second, _ in days)
    if day_first and month_first:
        return "both"
    return "day first" if day_first else "month first" if month_first else ""


def _ordered(text: str, found: tuple[int, int, int], order: str) -> int | str:
    first, second, year = found
    if first == second or order == "day first" or (order != "month first" and first > 12):
        return _ordinal(text, year, second, first)
    if order == "month first" or second > 12:
        return _ordinal(text, year, first, second)
    either = _either(year, first, second)
    if not either:
        return _ordinal(text, year, second, first)
    why = "other lines have both orders" if order == "both" else "no other line tells which"
    return f"{text.strip()!r} can be {either}, and {why}: write it year first, such as 2027-04-01"


def _either(year: int, first: int, second: int) -> str:
    if not (1 <= first <= 12 and 1 <= second <= 12 and _YEARS[0] <= year <= _YEARS[1]):
        return ""
    return f"{first} {_MONTHS[second - 1].title()} or {second} {_MONTHS[first - 1].title()}"
