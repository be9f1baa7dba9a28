"""Coordinates of the survey grid as typed: one number, or easting and northing and maybe an elevation."""

from __future__ import annotations

import re

from ..core.model import InputProblem
from ..formats.stakeset import SurveyGrid
from .tally import grouped
from .units import unit_length_m

_THOUSANDS = re.compile(r"(?<=\d)[\u00a0\u2007\u2009\u202f'’](?=\d{3}(?!\d))")
_SPACES = re.compile("[\u00a0\u2007\u2009\u202f]")
_NUMBER = r"[+-]?(?:\d[\d,]*\.?\d*|\.\d+)"
_LETTER_FIRST = re.compile(rf"\b([ENZH])[a-z]*\s*[:=]?\s*({_NUMBER})", re.IGNORECASE)
_LETTER_LAST = re.compile(rf"({_NUMBER})\s*([ENZH])\b", re.IGNORECASE)
_UNIT_BEHIND = re.compile(r"\s*(US\s?ft|usft|ftUS|ft|feet|foot|metres?|meters?|m)\b", re.IGNORECASE)
_UNITS = {"feet": "foot", "metres": "metre", "meter": "metre", "meters": "metre", "us ft": "usft"}


def shown_coordinate(value: float | None, decimals: int = 3) -> str:
    """A coordinate with thin spaces between thousands; "not stated" for None.

    Examples
    --------
    >>> shown_coordinate(6184490.25).replace("\\u202f", " "), shown_coordinate(None)
    ('6 184 490.250', 'not stated')
    """
    return "not stated" if value is None else grouped(value, decimals)


def plural_unit(unit: str) -> str:
    """A unit of a grid as people count it.

    Examples
    --------
    >>> plural_unit("US survey foot"), plural_unit("metre")
    ('US survey feet', 'metres')
    """
    return unit.replace("foot", "feet") if unit.endswith("foot") else f"{unit}s"


def typed_number(text: str, grid: SurveyGrid, what: str) -> float:
    """One coordinate in the grid's unit.

    Raises
    ------
    InputProblem
        Where it is no number, or carries another unit than the grid's.
    """
    wanted = _without_units(_tidy(text), grid, what)
    return _number(wanted, what)


def typed_coordinates(
    text: str, grid: SurveyGrid, what: str
) -> tuple[float, float] | tuple[float, float, float]:
    """Easting, northing and maybe elevation in the grid's unit; easting first where there are no letters.

    Raises
    ------
    InputProblem
        Where it is none, or carries another unit than the grid's.
    """
    wanted = _without_units(_tidy(text), grid, what)
    lettered = {k.upper(): v for k, v in _LETTER_FIRST.findall(wanted)}
    if not {"E", "N"} <= lettered.keys():
        lettered = {k.upper(): v for v, k in _LETTER_LAST.findall(wanted)}
    if {"E", "N"} <= lettered.keys():
        third = lettered.get("Z", lettered.get("H"))
        pieces = [lettered["E"], lettered["N"], *([third] if third else [])]
    else:
        pieces = [p for p in re.split(r"\s*;\s*|,\s+|\s+", wanted.strip(" ,;")) if p]
        if len(pieces) == 1:
            pieces = pieces[0].split(",")
    if len(pieces) not in (2, 3):
        raise InputProblem(
            f"{what}: {text.strip()!r} is no easting and northing: write it like E 512345.67 N 6101234.5."
        )
    return tuple(_number(p.strip(","), what) for p in pieces)


def _tidy(text: str) -> str:
    return _SPACES.sub(" ", _THOUSANDS.sub("", text.replace("−", "-").strip()))


def _without_units(text: str, grid: SurveyGrid, what: str) -> str:
    """The text without units, which must all be the grid's: feet are never turned into other feet silently."""
    for found in _UNIT_BEHIND.finditer(text):
        unit = re.sub(r"\s+", " ", found[1].lower())
        if abs(unit_length_m(_UNITS.get(unit, unit)) / grid.unit_m - 1) > 1e-9:
            raise InputProblem(
                f"{what}: {text!r} is in another unit than the survey grid, which has the {grid.unit} "
                f"({grid.unit_m:.9g} m): write the number in that, and leave the unit out."
            )
    return _UNIT_BEHIND.sub("", text)


def _number(text: str, what: str) -> float:
    plain = text.strip()
    if re.fullmatch(r"[+-]?\d{1,3},\d{3}", plain):
        raise InputProblem(
            f"{what}: {plain!r} can be read in two ways: write {plain.replace(',', '.')} or "
            f"{plain.replace(',', '')}."
        )
    if re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+\.\d*|[+-]?\d{1,3}(,\d{3}){2,}", plain):
        plain = plain.replace(",", "")
    elif re.fullmatch(r"[+-]?\d+,\d+", plain):
        plain = plain.replace(",", ".")
    if not re.fullmatch(_NUMBER, plain) or "," in plain:
        raise InputProblem(f"{what}: {text.strip()!r} is no number: write it like 512345.67.")
    return float(plain)
