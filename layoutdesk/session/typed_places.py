"""Places and legs typed instead of clicked: a length with a bearing, or survey coordinates."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np

from ..core.geometry.axes import sine_cosine
from ..core.model import InputProblem, Project
from ..formats import crs as systems
from ..formats.stakeset import Transform
from .units import bearing_parts, length_m, unit_length_m

BARE_LEG_M = 10_000.0
"""A bare pair with a longer first number is no leg. [m]"""

FARTHEST_M = 50_000.0
"""Coordinates farther from the site than this are a slip of the hand. [m]"""

_LEG = "25.4m @ 18.5 for a length and a bearing"
_COORDINATES = "E 512345.67 N 6101234.5 for survey coordinates"

_SPACES = re.compile("[\u00a0\u2007\u2009\u202f]")
_THOUSANDS = re.compile(r"(?<=\d)[\u00a0\u2007\u2009\u202f'’](?=\d{3}(?!\d))")
_TWO_WAYS = re.compile(r"[+-]?\d+,\d{3}\D*")
_PLAIN = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)")

_NUMBER = r"([+-]?[\d.,]*\d[.,]?)"
_UNIT = r"((?:US\s?ft|usft|ftUS|ft|m)?)"
_FIRST = re.compile(
    rf"([NE])[a-z]*\s*[:=]?\s*{_NUMBER}\s*{_UNIT}[\s,;]*([NE])[a-z]*\s*[:=]?\s*{_NUMBER}\s*{_UNIT}",
    re.IGNORECASE,
)
_LAST = re.compile(
    rf"{_NUMBER}(\s*){_UNIT}\s*([NE])[\s,;]*{_NUMBER}\s*{_UNIT}\s*([NE])", re.IGNORECASE
)
_BEARING = re.compile(r"[\d.+NS-]", re.IGNORECASE)


def typed_place(
    text: str,
    *,
    anchor: tuple[float, float] | None,
    unit: str,
    from_survey: Transform | None,
    true_from: Callable[[str, float], float],
    grid_unit: str = "",
) -> tuple[float, float]:
    """A place in the site frame from what was typed. [m]

    Either a length and a bearing from the anchor (25.4m 018.5, 25.4 @ 18.5, 25.4, 18.5 grid) or
    coordinates with their letters, in either order (E 512345.67 N 6101234.5).

    Parameters
    ----------
    text : str
    anchor : (float, float) or None
        The place before, where there is one. [m]
    unit : str
        Of a bare length.
    from_survey : function of (n, 2) to (n, 2) or None
        From easting and northing to the site frame; see `survey_transforms`.
    true_from : function of (convention, degrees)
        The true bearing of one that is "true", "grid" or "magnetic".
    grid_unit : str
        The survey grid's unit: coordinates may carry it, and no other.

    Raises
    ------
    InputProblem
        Where it is neither, could be both, or lies far off the site.

    Examples
    --------
    >>> typed_place("40 @ 90", anchor=(5.0, 2.0), unit="m", from_survey=None,
    ...             true_from=lambda convention, degrees: degrees)
    (45.0, 2.0)
    """
    shown, wanted = _tidy(text)
    found = _coordinates(shown, wanted, grid_unit)
    if found:
        return _place_of(shown, found, from_survey)
    length, bearing = _leg(shown, wanted, unit, true_from)
    if anchor is None:
        raise InputProblem(
            f"{shown!r} is a length and a bearing, which need a place to start from: set the first "
            f"place, or write {_COORDINATES}."
        )
    s, c = sine_cosine(bearing)
    return anchor[0] + length * s, anchor[1] + length * c


def typed_leg(
    text: str, unit: str, true_from: Callable[[str, float], float]
) -> tuple[float, float]:
    """A length and a true bearing from what was typed. [m], [deg]

    Raises
    ------
    InputProblem
        Where it is no length with a bearing.

    Examples
    --------
    >>> typed_leg("25.4m 018.5", "ft", lambda convention, degrees: degrees)
    (25.4, 18.5)
    """
    return _leg(*_tidy(text), unit, true_from)


def survey_transforms(project: Project) -> tuple[Transform, Transform]:
    """Functions from the site frame to the survey grid and back, exact inverses of each other.

    The way back is found from the way there, so that it also undoes a datum carried over unshifted
    (`formats.crs.frame_to_survey`). It holds about the site; a place the frame cannot reach comes
    back as NaN.
    """
    to_survey = systems.frame_to_survey(project.site.frame, project.site.survey_crs)
    return to_survey, _inverse(to_survey)


_REACH_M, _SETTLED_M, _ROUNDS = 100.0, 1e-8, 30
"""Arm of the slopes at the origin; where the search ends; convergence gains two digits a round."""


def _inverse(transform: Transform) -> Transform:
    """The inverse of a smooth transform that is nearly a similarity about (0, 0)."""
    cross = np.array([[1, 0], [-1, 0], [0, 1], [0, -1]], dtype=float) * _REACH_M
    right, left, up, down = transform(cross)
    slopes = np.column_stack([right - left, up - down]) / (2 * _REACH_M)
    back, middle = np.linalg.inv(slopes), transform(np.zeros((1, 2)))[0]

    def inverse(easting_northing):
        wanted = np.asarray(easting_northing, dtype=float)
        xy = (wanted - middle) @ back.T
        with np.errstate(invalid="ignore", over="ignore"):
            for _ in range(_ROUNDS):
                step = (wanted - transform(xy)) @ back.T
                xy = xy + step
                if not (np.abs(step) > _SETTLED_M).any():
                    break
            settled = (np.abs(step) <= _SETTLED_M).all(axis=-1, keepdims=True)
        return np.where(settled, xy, np.nan)

    return inverse


def _tidy(text: str) -> tuple[str, str]:
    """The text to be quoted, and without marks of thousands and odd spaces."""
    bare = _SPACES.sub(" ", _THOUSANDS.sub("", text.replace("−", "-").strip()))
    return text.strip(), re.sub(r"US ft", "usft", bare, flags=re.IGNORECASE)


def _neither(shown: str) -> InputProblem:
    return InputProblem(f"{shown!r} is no place: write {_LEG}, or {_COORDINATES}.")


def _coordinates(shown: str, wanted: str, grid_unit: str) -> tuple[float, float] | None:
    """Easting and northing where the text has both letters; None where it is no coordinates."""
    found = _FIRST.fullmatch(wanted)
    if found:
        a, first, unit_a, b, second, unit_b = found.groups()
    else:
        found = _LAST.fullmatch(wanted)
        if not found:
            return None
        first, space, unit_a, a, second, unit_b, b = found.groups()
        if space and _number(second, shown) <= 90:  # 25 N18E is a length and a bearing
            return None
    if a.upper() == b.upper():
        raise InputProblem(
            f"{shown!r} has {a.upper()} twice: write one easting with E and one northing with N."
        )
    for named in filter(None, (unit_a, unit_b)):
        if not grid_unit or unit_length_m(named.replace(" ", "")) != unit_length_m(grid_unit):
            kept = f"are in {grid_unit}" if grid_unit else "have no unit"
            raise InputProblem(
                f"{shown!r}: survey coordinates {kept} here; write the numbers in the survey grid's "
                "own unit and leave the unit out."
            )
    values = {a.upper(): _number(first, shown), b.upper(): _number(second, shown)}
    return values["E"], values["N"]


def _number(text: str, shown: str) -> float:
    """A coordinate with a decimal point or comma and commas between thousands."""
    if re.fullmatch(r"[+-]?\d{1,3}(,\d{3})+\.\d*|[+-]?\d{1,3}(,\d{3}){2,}", text):
        text = text.replace(",", "")
    elif re.fullmatch(r"[+-]?\d{1,3},\d{3}", text):
        raise InputProblem(
            f"{text!r} in {shown!r} can be read in two ways: write {text.replace(',', '.')} or "
            f"{text.replace(',', '')}."
        )
    elif re.fullmatch(r"[+-]?\d+,\d*", text):
        text = text.replace(",", ".")
    text = text.rstrip(",")
    if not _PLAIN.fullmatch(text):
        raise InputProblem(f"{text!r} in {shown!r} is no number: write {_COORDINATES}.")
    return float(text)


def _place_of(shown: str, coordinates, from_survey: Transform | None) -> tuple[float, float]:
    if from_survey is None:
        raise InputProblem(f"{shown!r} needs a survey grid, which is not set: write {_LEG}.")
    x, y = from_survey(np.array([coordinates]))[0].tolist()
    away = math.hypot(x, y)
    if not away <= FARTHEST_M:
        far = f"{away / 1000:,.0f} km from the site" if math.isfinite(away) else "out of reach"
        raise InputProblem(
            f"{shown!r} lies {far}: check the numbers, and that E is the easting and N the northing "
            "of this site's survey grid."
        )
    return x, y


def _leg(shown: str, wanted: str, unit: str, true_from) -> tuple[float, float]:
    metres, degrees, convention = _split(shown, wanted, unit)
    if not metres > 0:
        raise InputProblem(
            f"The length in {shown!r} must be more than 0: turn the bearing instead."
        )
    try:
        return metres, float(true_from(convention, degrees)) % 360
    except ValueError as problem:  # no magnetic north is known on this day
        raise InputProblem(
            f"{shown!r}: {str(problem).rpartition(': ')[2]}; give a true or grid bearing."
        ) from None


def _split(shown: str, wanted: str, unit: str) -> tuple[float, float, str]:
    """Length in metres, bearing in degrees and its convention.

    The length is the longest beginning that is one and leaves a bearing: 8' 6" 18 is 8 ft 6 in at
    18 degrees, not 8 ft at 6 minutes.
    """
    # spaces before commas, which may be decimal ones
    for separator in (r"\s*[@;]\s*", r"\s*,\s+|\s+", ","):
        marked = "@" in separator
        for cut in reversed(list(re.finditer(separator, wanted))):
            left, right = wanted[: cut.start()].rstrip(" ,"), wanted[cut.end() :]
            if _TWO_WAYS.fullmatch(left):
                length_m(left, unit)  # says which two
            length, bearing = _read(length_m, left, unit), _read(bearing_parts, right)
            if length is None or bearing is None or not _BEARING.match(right) or _is_length(right):
                continue
            if not marked and _PLAIN.fullmatch(right) and not 0 <= float(right) <= 360:
                continue
            if not marked and _PLAIN.fullmatch(left) and length >= BARE_LEG_M:
                continue
            return length, *bearing
    numbers = re.findall(r"[+-]?\d+\.?\d*", wanted)
    if len(numbers) == 2 and re.fullmatch(r"[\d.\s,;+-]+", wanted):
        raise InputProblem(
            f"{shown!r} is no length with a bearing from 0 to 360 and has no letters: write "
            f"{_COORDINATES}, or {_LEG}."
        )
    raise _neither(shown)


def _is_length(text: str) -> bool:
    """Whether it has a unit of length: 5 m is no bearing of 5 degrees."""
    return not _PLAIN.fullmatch(text) and "," not in text and _read(length_m, text) is not None


def _read(reader, *given):
    try:
        return reader(*given)
    except InputProblem:
        return None
