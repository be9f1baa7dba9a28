"""Latitudes and longitudes as people write them: decimal, or degrees, minutes and seconds."""

from __future__ import annotations

import re

_NUMBER = r"\d+(?:[.,]\d+)?"
_ANGLE = re.compile(
    rf"""^\s*(?P<before>[NSEW])?\s*(?P<sign>[-+−])?\s*
    (?P<d>{_NUMBER})\s*(?:°|º|˚|d(?:eg)?\.?|:|-|\s)?\s*
    (?:(?P<m>{_NUMBER})\s*(?:'|′|’|‘|´|`|m(?:in)?\.?|:|-|\s)?\s*
    (?:(?P<s>{_NUMBER})\s*(?:"|″|”|“|''|′′|’’|s(?:ec)?\.?(?![a-z]))?\s*)?)?
    (?P<after>[NSEW])?\s*$""",
    re.VERBOSE | re.IGNORECASE,
)


def degrees_of(text: str) -> tuple[float, str] | None:
    """Decimal degrees and the axis its letter names, or None if it is no angle.

    Returns
    -------
    float
        Negative south and west. [deg]
    str
        "lat" for N or S, "lon" for E or W, "" without a letter.

    Examples
    --------
    >>> degrees_of("34°30'15.5\\"S")[0] == -(34 + 30 / 60 + 15.5 / 3600)
    True
    >>> degrees_of("S34-30-15.5") == degrees_of("34 30 15,5 S") == degrees_of("34:30:15.5s")
    True
    >>> degrees_of("18.25"), degrees_of("W 70° 30.5'"), degrees_of("10°75'E"), degrees_of("P12")
    ((18.25, ''), (-70.50833333333334, 'lon'), None, None)
    """
    found = _ANGLE.match(text)
    if found is None or (found["before"] and found["after"]):
        return None
    letter = (found["before"] or found["after"] or "").upper()
    if (
        not letter
        and re.search(r"[0-9\s\"″”]s\s*$", text, re.I)
        and not re.search("[dm]", text, re.I)
    ):
        letter = "S"  # a lone S is south; only after d and m marks is it the mark of seconds
    if found["sign"] in ("-", "−") and letter:
        return None  # "-34 S" may mean either
    whole, minutes, seconds = (float((found[k] or "0").replace(",", ".")) for k in "dms")
    if minutes >= 60 or seconds >= 60:
        return None
    if (found["m"] and not whole.is_integer()) or (found["s"] and not minutes.is_integer()):
        return None
    value = whole + minutes / 60 + seconds / 3600
    if found["sign"] in ("-", "−") or letter in ("S", "W"):
        value = -value
    axis = {"": "", "N": "lat", "S": "lat", "E": "lon", "W": "lon"}[letter]
    return value, axis
