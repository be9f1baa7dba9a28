"""Sentences that name options of the command line, as the window says them."""

from __future__ import annotations

import re

_HERE: tuple[tuple[str, str], ...] = (
    (
        r"say which with --unit m, --unit ft \(or usft\) or --unit mm",
        "say which: m, ft, usft or mm",
    ),
    (r"and its map grid with --crs EPSG:nnnn", "and the code of its map grid, such as EPSG:32754"),
    (r"(add|use) --crs (EPSG:\d+)", r"give \2 as the coordinate system"),
    (
        r"if the drawing follows the grid, add --unit (\S+?)(?=[.;]|$)",
        r"if the drawing follows the grid, its unit is \1",
    ),
    (r"choose another with --survey-crs", "choose another under Edit, Survey grid"),
    (r" with --survey-crs EPSG:nnnn", ", by its code or name"),
    (r" with --terrain-crs EPSG:nnnn", " by its code, such as EPSG:32754"),
    (r" with --crs EPSG:nnnn", " by its code, such as EPSG:32754"),
    (r"Give the height \(--height\)", "Give it under Edit, Height of the site"),
    (r"give another one with --out", "choose another one"),
    (r": leave out --(crs|unit)", ": open it without giving one"),
    (r"^--unit ", "The drawing unit "),
    (r"^--crs ", "The coordinate system "),
    (r"--survey-crs", "the survey grid"),
    (r"--crs", "the coordinate system"),
    (r"--unit", "the drawing unit"),
    (r"--height", "the height"),
)
"""What the command line names, and the same in the window; the longer ones first."""
_THOUSANDS = re.compile(r"(?<=\d),(?=\d{3}(?!\d))")
"""Marks of thousands: lists and figures of the window have thin spaces."""


def window_words(text: str) -> str:
    """A sentence in the window's words: fields and menus in place of options, thin spaces in large figures.

    Examples
    --------
    >>> window_words("The height is not known. Give the height (--height).")
    'The height is not known. Give it under Edit, Height of the site.'
    >>> window_words("--unit 'ell' is no unit of length; give one of m, ft.")
    "The drawing unit 'ell' is no unit of length; give one of m, ft."
    >>> window_words("A sentence like any other.")
    'A sentence like any other.'
    """
    for option, here in _HERE:
        text = re.sub(option, here, text)
    return _THOUSANDS.sub("\u202f", text)


def listed(words, joint: str = "and") -> str:
    """Words as a list.

    Examples
    --------
    >>> listed(["B1", "B2", "B3"]), listed([2, 4], "or"), listed(["B1"])
    ('B1, B2 and B3', '2 or 4', 'B1')
    """
    *first, last = map(str, words)
    return f"{', '.join(first)} {joint} {last}" if first else last


def wants_unit(text: str) -> bool:
    """Whether a problem could be settled by saying the unit of a drawing."""
    return "--unit" in text


def wants_crs(text: str) -> bool:
    """Whether a problem could be settled by naming a file's coordinate system."""
    return "--crs" in text
