"""Lengths and bearings as people type and read them; metres and degrees inside."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache

from ..core.model import InputProblem

_NUMBER = re.compile(r"^[+-]?(\d+(\.\d*)?|\.\d+)$")
_PART = re.compile(r"\s*(\d+(?:\.\d*)?|\.\d+)\s*([A-Za-zµ]+|''|['\"’”″′])")

_NAMES = {
    "'": "foot",
    "’": "foot",
    "′": "foot",
    '"': "inch",
    "″": "inch",
    "”": "inch",
    "''": "inch",
    "ft": "foot",
    "in": "inch",
    "yd": "yard",
    "usft": "survey_foot",
    "ftus": "survey_foot",
    "m": "metre",
}


_FOOT_M, _SURVEY_FOOT_M = 0.3048, 1200 / 3937
_EVERYDAY_M = {
    # Exact by definition; the units library, dear to load, knows the rest. [m]
    "m": 1.0,
    "metre": 1.0,
    "cm": 0.01,
    "mm": 0.001,
    "km": 1000.0,
    **dict.fromkeys(("ft", "foot", "'", "’", "′"), _FOOT_M),
    **dict.fromkeys(("in", "inch", '"', "″", "”", "''"), 0.0254),
    "yd": 0.9144,
    "usft": _SURVEY_FOOT_M,
    "ftus": _SURVEY_FOOT_M,
}


def unit_label(unit: str) -> str:
    """A unit as people read it.

    Examples
    --------
    >>> unit_label("m"), unit_label("usft")
    ('m', 'US ft')
    """
    return {"usft": "US ft"}.get(unit, unit)


_SQUARE_FEET_IN_ACRE = (
    43_560  # exact, of the foot in use. Source: NIST Handbook 44, appendix C (from memory)
)


def area_unit(unit: str) -> tuple[float, str]:
    """The area that goes with a unit of length: its size, and its name. [m²]

    Examples
    --------
    >>> area_unit("m"), round(area_unit("ft")[0], 4)
    ((10000.0, 'ha'), 4046.8564)
    """
    if unit == "m":
        return 10_000.0, "ha"
    return _SQUARE_FEET_IN_ACRE * unit_length_m(unit) ** 2, "ac"


@lru_cache(maxsize=1)
def registry():
    """The units library, dear to load."""
    import pint

    return pint.UnitRegistry(non_int_type=Fraction)  # exact factors


@lru_cache(maxsize=64)
def unit_length_m(unit: str) -> float:
    """Length of one unit. [m]

    Examples
    --------
    >>> unit_length_m("ft"), round(unit_length_m("usft") * 3937, 9)
    (0.3048, 1200.0)
    """
    if unit.lower() in _EVERYDAY_M:
        return _EVERYDAY_M[unit.lower()]
    import pint

    try:
        return float(registry().Quantity(1, _NAMES.get(unit.lower(), unit)).to("metre").magnitude)
    except (pint.PintError, AttributeError, ValueError, TypeError):
        raise InputProblem(
            f"{unit!r} is no unit of length: use m, cm, mm, km, ft, in, yd or usft."
        ) from None


def length_m(text: str, default_unit: str = "m") -> float:
    """A length from text such as 2.4, 2.4m, 8ft, 8ft6in, 8'6", 8usft; a bare number is in `default_unit`. [m]

    Raises
    ------
    InputProblem
        Where it is no length.

    Examples
    --------
    >>> length_m("2.4"), round(length_m("8ft6in"), 6), round(length_m("8usft"), 9)
    (2.4, 2.5908, 2.438404877)
    """
    wanted = text.strip().replace("−", "-").replace(unit_label("usft"), "usft")
    comma = re.fullmatch(r"([+-]?\d+),(\d+)(\D*)", wanted)
    if comma:  # a decimal comma; three digits behind it could be a mark of thousands
        if len(comma[2]) == 3:
            raise InputProblem(
                f"{text.strip()!r} can be read in two ways: write {comma[1]}.{comma[2]} or "
                f"{comma[1]}{comma[2]}."
            )
        wanted = wanted.replace(",", ".")
    sign = -1.0 if wanted.startswith("-") else 1.0
    bare = wanted.lstrip("+-").strip()
    if _NUMBER.match(bare):
        return sign * float(bare) * unit_length_m(default_unit)
    total, position, kinds = 0.0, 0, set()
    while position < len(bare):
        part = _PART.match(bare, position)
        if not part:
            raise InputProblem(
                f"{text.strip()!r} is no length: write it like 2.4, 2.4m, 8ft, 8ft6in or 8usft."
            )
        size = unit_length_m(part[2])
        metric = size in (1000.0, 1.0, 0.01, 0.001)
        kinds.add("metric" if metric else size if size == _SURVEY_FOOT_M else "feet and inches")
        total += float(part[1]) * size
        position = part.end()
    if len(kinds) > 1:
        raise InputProblem(f"{text.strip()!r} mixes units: write it in one, like 2.4m or 8ft6in.")
    if position == 0:
        raise InputProblem("A length is missing: write it like 2.4, 2.4m, 8ft, 8ft6in or 8usft.")
    return sign * total


_QUADRANT = re.compile(r"^([NS])\s*(.+?)\s*([EW])$", re.IGNORECASE)
_CONVENTION = re.compile(r"\s*(true|grid|magnetic|mag)$", re.IGNORECASE)


def bearing_parts(text: str) -> tuple[float, str]:
    """A bearing in degrees and the north it is told from: "true", "grid" or "magnetic".

    Reads 18, 018.5°, 18°30'15", N18°30'E, each with a word for the north after it.

    Raises
    ------
    InputProblem
        Where it is no bearing.

    Examples
    --------
    >>> bearing_parts("018"), bearing_parts("17.4 grid"), bearing_parts("S10°30'W")
    ((18.0, 'true'), (17.4, 'grid'), (190.5, 'true'))
    """
    word = _CONVENTION.search(text)
    bare = text[: word.start()] if word else text
    convention = {"mag": "magnetic"}.get(word[1].lower(), word[1].lower()) if word else "true"
    problem = InputProblem(
        f"{text.strip()!r} is no bearing: write degrees clockwise from north, like 18 or 018.5, or "
        "N18°30'E, with the word grid or magnetic after it where it is not true."
    )
    quadrant = _QUADRANT.match(bare.strip())
    degrees = _degrees(quadrant[2] if quadrant else bare)
    if degrees is None or not -360 <= degrees <= 720:
        raise problem
    if quadrant:
        if not 0 <= degrees <= 90:
            raise problem
        south, west = quadrant[1].upper() == "S", quadrant[3].upper() == "W"
        degrees = 180 - degrees if south else degrees
        degrees = -degrees if west else degrees
    return degrees % 360, convention


def _degrees(text: str) -> float | None:
    bare = text.strip().replace("−", "-").replace(",", ".")
    parts = [p for p in re.split(r"[°d'′’\"″ms\s]+", bare.lower()) if p]
    if not 1 <= len(parts) <= 3 or not all(_NUMBER.match(p) for p in parts):
        return None
    if any(p.startswith("-") for p in parts[1:]) or any(float(p) >= 60 for p in parts[1:]):
        return None
    size = sum(abs(float(p)) / 60**i for i, p in enumerate(parts))
    return -size if parts[0].startswith("-") else size
