"""The printed table of single samples that inspectors know: how many to look at, how many faulty are accepted.

Source: MIL-STD-105E, Sampling Procedures and Tables for Inspection by Attributes, US Department of Defense,
1989 (public domain): table I, general inspection level II, and table II-A, single sampling plans for normal
inspection. Cells as in a reprint by public works inspectors of the US Army ("developed from MIL-STD-105E",
table 1-A), but for letter A at 10 %: no plan stands above it, so the arrow there points down (from memory).
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass

PRINTED_AQLS_PCT = (0.65, 1.0, 1.5, 2.5, 4.0, 6.5, 10.0)
"""Acceptable quality levels of the columns that are held here. [%]"""

_TO_LOT = (
    # the largest lot of each letter in general inspection level II (table I)
    (8, "A"),
    (15, "B"),
    (25, "C"),
    (50, "D"),
    (90, "E"),
    (150, "F"),
    (280, "G"),
    (500, "H"),
    (1_200, "J"),
    (3_200, "K"),
    (10_000, "L"),
    (35_000, "M"),
    (150_000, "N"),
    (500_000, "P"),
)
_LAST_LETTER = "Q"

_PLANS = {
    # letter: sample size, acceptance numbers by AQL; v: first plan below, ^: first plan above (table II-A)
    #           0.65  1.0  1.5  2.5  4.0  6.5   10
    "A": (2, "   v    v    v    v    v    0    v"),
    "B": (3, "   v    v    v    v    0    ^    v"),
    "C": (5, "   v    v    v    0    ^    v    1"),
    "D": (8, "   v    v    0    ^    v    1    2"),
    "E": (13, "  v    0    ^    v    1    2    3"),
    "F": (20, "  0    ^    v    1    2    3    5"),
    "G": (32, "  ^    v    1    2    3    5    7"),
    "H": (50, "  v    1    2    3    5    7   10"),
    "J": (80, "  1    2    3    5    7   10   14"),
    "K": (125, " 2    3    5    7   10   14   21"),
    "L": (200, " 3    5    7   10   14   21    ^"),
    "M": (315, " 5    7   10   14   21    ^    ^"),
    "N": (500, " 7   10   14   21    ^    ^    ^"),
    "P": (800, "10   14   21    ^    ^    ^    ^"),
    "Q": (1250, "14  21    ^    ^    ^    ^    ^"),
}
_LETTERS = tuple(_PLANS)


@dataclass(frozen=True)
class TableRow:
    """What the printed single-sampling table gives (MIL-STD-105E, general level II, normal inspection).

    Attributes
    ----------
    letter : str
        Of the row that the numbers stand in: an arrow leads to another than that of the lot.
    size : int
        Vines to look at, as printed: all of a lot that has no more.
    accept, reject : int
        Up to `accept` faulty ones the lot is accepted, from `reject` on it is not.
    aql_pct : float
        Column: the share of faulty ones that is accepted nearly always. [%]
    """

    letter: str
    size: int
    accept: int
    reject: int
    aql_pct: float


def printed_plan(lot_size: int, aql_pct: float) -> TableRow | None:
    """What the printed table gives for a lot; its arrows are followed to the row they point to.

    None for a lot of one, and where the table held here has no such column.

    Examples
    --------
    >>> printed_plan(1_000, 4.0)
    TableRow(letter='J', size=80, accept=7, reject=8, aql_pct=4.0)

    Where an arrow is followed the size changes too:

    >>> printed_plan(200, 1.0)
    TableRow(letter='H', size=50, accept=1, reject=2, aql_pct=1.0)
    """
    if lot_size < 2 or aql_pct not in PRINTED_AQLS_PCT:
        return None
    column = PRINTED_AQLS_PCT.index(aql_pct)
    at = bisect_left([most for most, _ in _TO_LOT], lot_size)
    letter = _TO_LOT[at][1] if at < len(_TO_LOT) else _LAST_LETTER
    row = _LETTERS.index(letter)
    while (cell := _PLANS[_LETTERS[row]][1].split()[column]) in "v^":
        row += 1 if cell == "v" else -1
    letter, accept = _LETTERS[row], int(cell)
    return TableRow(letter, _PLANS[letter][0], accept, accept + 1, aql_pct)


def printed_aql(tolerated_pct: float) -> float | None:
    """The largest column of the printed table that is no more than a share; None below the first. [%]

    Examples
    --------
    >>> printed_aql(5.0), printed_aql(10.0), printed_aql(0.5)
    (4.0, 10.0, None)
    """
    return max((aql for aql in PRINTED_AQLS_PCT if aql <= tolerated_pct), default=None)
