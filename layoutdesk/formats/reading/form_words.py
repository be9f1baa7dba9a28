"""What cells of a form say: states, checks, codes and numbers, as people write them."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence

import numpy as np

FORM_STATES = {
    # state: how people write it, in lower case
    "planted": "planted|plant|set",
    "replanted": "replanted|planted again|replant",
    "missing": "missing|gap|gone|none|not there|empty place",
    "dead": "dead|died",
    "alive": "alive|living|stands|seen alive|ok",
    "not planted": "not planted|not yet|skipped|left out|open",
}
_STATE_OF = {word: state for state, words in FORM_STATES.items() for word in words.split("|")}
RIGHT, WRONG, NOT_LOOKED_AT, UNREAD = 1, 0, -1, -2
_RIGHT_WORDS = frozenset((
    "1", "yes", "y", "true", "t", "ok", "okay", "right", "good", "fine", "✓", "✔", "☑", "√", "pass", "passed",
))  # fmt: skip
_WRONG_WORDS = frozenset((
    "0", "no", "n", "false", "f", "wrong", "bad", "faulty", "✗", "✘", "fail", "failed", "notok",
))  # fmt: skip
CROSSES = frozenset(("x", "☒", "×"))
"""A tick in one hand, the opposite in another: other cells of the form decide."""
_UNSEEN_WORDS = frozenset(("", "-", "--", "?", "na", "n/a", "null", "☐"))

_CODE = re.compile(
    r"^(?P<block>.+?)[\s_./-]*(?<![A-Z0-9])R(?:OW)?[\s_.-]*(?P<row>\d+)[\s_.-]*(?P<letter>[A-Z]*?)[\s_.-]*"
    r"V(?:INE)?[\s_.-]*(?P<vine>\d+)$"
)
_WHOLE = re.compile(r"^\+?(\d{1,9})([.,]0*)?$")


def by_cell(cells: Sequence[str], meaning: Callable[[str], object]) -> list:
    """The meaning of every cell; each text is looked at once."""
    known = {text: meaning(text) for text in set(cells)}
    return [known[text] for text in cells]


def plain(text: str) -> str:
    """A cell's text as it is compared: small letters, single blanks, no stop at its end."""
    word = unicodedata.normalize("NFKC", text).replace("_", " ").lower()
    return " ".join(word.split()).strip(".")


def state_of(text: str) -> str | None:
    """Of FORM_STATES; "" where nothing is said, None where it is none of them."""
    word = plain(text)
    return "" if word in ("", "-", "--") else _STATE_OF.get(word)


def check_of(text: str) -> int:
    """RIGHT, WRONG, NOT_LOOKED_AT or UNREAD; crosses are UNREAD alone."""
    word = plain(text)
    if word in _UNSEEN_WORDS:
        return NOT_LOOKED_AT
    number = _WHOLE.match(word)
    word = str(int(number[1])) if number else word.replace(" ", "")
    return RIGHT if word in _RIGHT_WORDS else WRONG if word in _WRONG_WORDS else UNREAD


def is_yes(text: str) -> bool | None:
    """Whether a cell that is ticked or left empty says yes; None where it says nothing that can be read.

    Examples
    --------
    >>> is_yes("Yes"), is_yes("0"), is_yes("")
    (True, False, None)
    """
    return True if plain(text) in CROSSES else {RIGHT: True, WRONG: False}.get(check_of(text))


def degrees_of(text: str) -> float:
    """Degrees with a decimal point or comma, nan where it is no number."""
    try:
        return float(text.replace(",", ".") if text.count(",") == 1 else text)
    except ValueError:
        return np.nan


def whole_of(text: str) -> int:
    """A whole number, such as 12, 12.0 or 12,0; -1 where it is none."""
    found = _WHOLE.match(text)
    return int(found[1]) if found else -1


def letter_of(text: str) -> int:
    """0 for A; -1 where nothing is said, -2 where it is no letter."""
    word = text.upper()
    if not word:
        return -1
    if not re.fullmatch(r"[A-Z]{1,3}", word):
        return -2
    value = 0
    for c in word:
        value = value * 26 + ord(c) - 64
    return value - 1


def vine_named(text: str) -> tuple[str, int, int, int] | None:
    """Block, row, letter and vine of a code as people write it.

    Examples
    --------
    >>> vine_named("b1-r12a-v34"), vine_named("Old Mill R3 V7"), vine_named("B1-R012A")
    (('B1', 12, 0, 34), ('OLD MILL', 3, -1, 7), None)
    """
    word = unicodedata.normalize("NFKC", text).upper().strip()
    for dash in "−–—‐‑":
        word = word.replace(dash, "-")
    found = _CODE.match(word)
    if not found or len(found["row"]) > 9 or len(found["vine"]) > 9 or len(found["letter"]) > 3:
        return None
    return (
        found["block"].strip(" -_"),
        int(found["row"]),
        letter_of(found["letter"]),
        int(found["vine"]),
    )
