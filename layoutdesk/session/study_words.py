"""What candidates are measured by, as a paragraph of plain language with values in it.

The keys of its values are dotted where they lie inside a part of the study: "canopy.height_m".
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from ..core.model import InputProblem
from ..core.model.study import STUDY_LIMITS, Study
from .rule_typing import stepped_figure
from .specification import Paragraph, Value, shown_bearing, shown_exactly, shown_length
from .tally import grouped
from .units import bearing_parts, length_m, unit_length_m

MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
ALL_BLOCKS = "all blocks"
NOT_SAID = "not said"
_POINTS = [
    "N",
    "NNE",
    "NE",
    "ENE",
    "E",
    "ESE",
    "SE",
    "SSE",
    "S",
    "SSW",
    "SW",
    "WSW",
    "W",
    "WNW",
    "NW",
    "NNW",
]
"""Winds are named by the point of the compass they come from, 22.5° apart."""
_NOTHING = ("", "none", "no", "-", "–", NOT_SAID)


@dataclass(frozen=True)
class _Quantity:
    """One value of the paragraph: how it is called, its kind, its limits and its steps."""

    name: str
    kind: str
    low: float = 0.0
    high: float = 0.0
    step: float = 0.0
    step_ft: float = 0.0


def _limits(name: str) -> tuple[float, float]:
    return STUDY_LIMITS[name]


_QUANTITIES = {
    "canopy.height_m": _Quantity("height of the hedge", "length", 0.2, 6, 0.1, 0.25),
    "canopy.foot_m": _Quantity("foot of the hedge", "length", 0, 5, 0.1, 0.25),
    "canopy.width_m": _Quantity("width of the hedge", "length", 0, 4, 0.05, 0.25),
    "season.first_month": _Quantity("first month of the season", "month"),
    "season.last_month": _Quantity("last month of the season", "month"),
    "season.hot_from_h": _Quantity("begin of the hottest hours", "hour", 0, 24, 0.5),
    "season.hot_to_h": _Quantity("end of the hottest hours", "hour", 0, 24, 0.5),
    "short_row_m": _Quantity("limit of a short row", "length", *_limits("short_row_m"), 5, 10),
    "grade_along_pct": _Quantity("limit along the row", "grade", *_limits("grade_along_pct"), 1),
    "grade_across_pct": _Quantity("limit of side tilt", "grade", *_limits("grade_across_pct"), 1),
    "machine_length_m": _Quantity(
        "length of the machine", "length", *_limits("machine_length_m"), 0.1, 0.5
    ),
    "machine_width_m": _Quantity(
        "width of the machine", "length", *_limits("machine_width_m"), 0.1, 0.25
    ),
    "wind_from_deg": _Quantity("prevailing wind", "bearing", 0, 360, 5),
    "prices.end_assembly": _Quantity("price of an end assembly", "price", 0, 1e6, 1),
    "prices.line_post": _Quantity("price of a line post", "price", 0, 1e6, 0.5),
    "blocks": _Quantity("blocks compared", "blocks"),
}

NAMES = {key: quantity.name for key, quantity in _QUANTITIES.items()}
"""Plain names of the values, as undo and the screen reader say them."""


def study_paragraph(
    study: Study, latitude_deg: float, unit: str = "m", blocks: tuple[str, ...] = ()
) -> Paragraph:
    """The paragraph of what a study measures by.

    Parameters
    ----------
    study : Study
    latitude_deg : float
        Of the site: a season that was not chosen follows the hemisphere. [deg]
    unit : str
        Of lengths.
    blocks : tuple of str
        All blocks of the site, by name.

    Examples
    --------
    >>> from .specification import as_text
    >>> as_text(study_paragraph(Study(), -34.0)).splitlines()[0]
    'The hedge is 2.00 m high, from 0.80 m up, and 0.40 m wide.'
    """

    def v(key: str) -> Value:
        quantity = _QUANTITIES[key]
        text, chosen = _shown(study, key, latitude_deg, unit)
        choices = MONTHS if quantity.kind == "month" else ()
        if quantity.kind == "blocks":
            choices = (ALL_BLOCKS, *blocks)
        step = quantity.step if unit == "m" else quantity.step_ft or quantity.step
        return Value(key, text, quantity.name, step, choices, (), chosen)

    price = study.prices
    between = ", a line post " if price.end_assembly is not None else " and a line post "
    return (
        *((("Compared are the rows of ", v("blocks"), "."),) if len(blocks) > 1 else ()),
        (
            "The hedge is ",
            v("canopy.height_m"),
            " high, from ",
            v("canopy.foot_m"),
            " up, and ",
            v("canopy.width_m"),
            " wide.",
        ),
        (
            "The season is ",
            v("season.first_month"),
            " to ",
            v("season.last_month"),
            "; the hottest hours are ",
            v("season.hot_from_h"),
            " to ",
            v("season.hot_to_h"),
            " by the sun.",
        ),
        ("Rows under ", v("short_row_m"), " are short."),
        (
            "Row steeper than ",
            v("grade_along_pct"),
            " along or ",
            v("grade_across_pct"),
            " across is counted, under a machine ",
            v("machine_length_m"),
            " long and ",
            v("machine_width_m"),
            " wide.",
        ),
        ("The wind comes from: ", v("wind_from_deg"), "."),
        (
            "The price of an end assembly: ",
            v("prices.end_assembly"),
            between,
            v("prices.line_post"),
            ".",
        ),
    )


def _value(study: Study, key: str):
    value = study
    for part in key.split("."):
        value = getattr(value, part)
    return value


def _with(study: Study, key: str, value) -> Study:
    """The study with one value; a bad pair, such as a foot above the top, is an input problem."""
    part, _, name = key.rpartition(".")
    try:
        if not part:
            return replace(study, **{name: value})
        return replace(study, **{part: replace(getattr(study, part), **{name: value})})
    except ValueError:
        raise InputProblem(_pair_sentence(key)) from None


def _pair_sentence(key: str) -> str:
    if key.startswith("canopy"):
        return "The foot of the hedge must lie below its height."
    return "The hottest hours must begin before they end."


def _shown(study: Study, key: str, latitude_deg: float, unit: str) -> tuple[str, str]:
    """A value's text, and its choice where it is one."""
    kind, value = _QUANTITIES[key].kind, _value(study, key)
    if kind == "month":
        months = study.season.months(latitude_deg)
        month = MONTHS[months[0 if key.endswith("first_month") else -1] - 1]
        return month, month
    if kind == "blocks":
        text = ", ".join(value) if value else ALL_BLOCKS
        return text, text
    if value is None:
        return NOT_SAID, ""
    if kind == "length":
        decimals = 0 if key == "short_row_m" else 2 if unit == "m" else 1
        return shown_exactly(value, unit, decimals), ""
    if kind == "hour":
        hours, minutes = divmod(round(value * 60), 60)
        return (f"{hours}:{minutes:02d}" if minutes else f"{hours}"), ""
    if kind == "grade":
        return f"{value:g} %", ""
    if kind == "bearing":
        return shown_bearing(value), ""
    money = grouped(value, 0 if value == round(value) else 2)
    return f"{money} {study.prices.currency}".strip(), ""


def with_typed(
    study: Study, key: str, text: str, unit: str = "m", true_from: Callable | None = None
) -> Study:
    """The study with one value as typed or chosen.

    Parameters
    ----------
    study : Study
    key, text : str
    unit : str
        Of a bare length.
    true_from : function of (convention, degrees), optional
        Turns grid and magnetic bearings into true ones.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> with_typed(Study(), "prices.end_assembly", "38.50 AUD").prices
    Prices(end_assembly=38.5, line_post=None, currency='AUD')
    """
    quantity, wanted = _QUANTITIES[key], text.strip()
    name = quantity.name.capitalize()
    if quantity.kind == "month":
        return _with(study, key, MONTHS.index(wanted) + 1)
    if quantity.kind == "blocks":
        return replace(study, blocks=() if wanted == ALL_BLOCKS else (wanted,))
    if quantity.kind in ("bearing", "price") and wanted.lower() in _NOTHING:
        return _with(study, key, None)
    if quantity.kind == "bearing":
        return _with(study, key, _typed_bearing(wanted, name, true_from))
    if quantity.kind == "price":
        return _with_price(study, key, wanted, name)
    if quantity.kind == "length":
        value = length_m(wanted, unit)
    elif quantity.kind == "hour":
        value = _typed_hour(wanted, name)
    else:
        value = _number(wanted.rstrip(" %"), f"{name}: {wanted!r} is no share in per cent.")
    return _with(study, key, _limited(quantity, value, unit))


def _typed_bearing(text: str, name: str, true_from: Callable | None) -> float:
    if text.upper() in _POINTS:
        return 22.5 * _POINTS.index(text.upper())
    try:
        degrees, convention = bearing_parts(text)
    except InputProblem as problem:
        told = str(problem).replace("write degrees", "write NW, or degrees")
        raise InputProblem(f"{name}: {told}") from None
    if convention == "true":
        return degrees
    if true_from is None:
        raise InputProblem(f"{name}: type a true bearing here.")
    return true_from(convention, degrees) % 360


_PRICE = re.compile(r"^([^\d\s.,-]*)\s*([\d.,\u202f ]*\d)\s*([^\d.,]*)$")


def _with_price(study: Study, key: str, text: str, name: str) -> Study:
    found = _PRICE.match(text)
    amount = found[2].replace("\u202f", "").replace(" ", "") if found else ""
    sentence = f"{name}: {text!r} is no price: write it like 38 or 38.50 AUD, or none."
    if not found or (found[1] and found[3]):
        raise InputProblem(sentence)
    value = _number(amount, sentence)
    value = _limited(_QUANTITIES[key], value, "m")
    currency = (found[1] or found[3]).strip() or study.prices.currency
    prices = replace(study.prices, currency=currency)
    return _with(replace(study, prices=prices), key, value)


def _typed_hour(text: str, name: str) -> float:
    sentence = f"{name}: {text!r} is no hour: write it like 13 or 13:30."
    hours, colon, minutes = text.lower().removesuffix("h").strip().partition(":")
    value = _number(hours, sentence)
    if colon:
        share = _number(minutes, sentence)
        if not 0 <= share < 60:
            raise InputProblem(sentence)
        value += share / 60
    return value


def _number(text: str, otherwise: str) -> float:
    try:
        return float(text.replace(",", ".").replace("−", "-"))
    except ValueError:
        raise InputProblem(otherwise) from None


def _limited(quantity: _Quantity, value: float, unit: str) -> float:
    if quantity.low <= value <= quantity.high:
        return value
    if quantity.kind == "length":
        low, high = shown_length(quantity.low, unit), shown_length(quantity.high, unit)
    else:
        low, high = f"{quantity.low:g}", f"{quantity.high:g}"
    raise InputProblem(f"{quantity.name.capitalize()} must lie between {low} and {high}.")


def stepped(
    study: Study, key: str, steps: float, latitude_deg: float, unit: str = "m", blocks=()
) -> Study:
    """The study with one value moved by so many of its steps, held inside its limits.

    What was not said begins at 0.

    Examples
    --------
    >>> stepped(Study(), "short_row_m", 1, 45.0).short_row_m
    50.0
    """
    quantity, value = _QUANTITIES[key], _value(study, key)
    if quantity.kind == "month":
        at = MONTHS.index(_shown(study, key, latitude_deg, unit)[0])
        return _with(study, key, (at + int(steps)) % 12 + 1)
    if quantity.kind == "blocks":
        choices = (ALL_BLOCKS, *blocks)
        shown = _shown(study, key, latitude_deg, unit)[0]
        at = choices.index(shown) if shown in choices else 0
        return with_typed(study, key, choices[(at + int(steps)) % len(choices)])
    long = quantity.kind == "length"
    size = unit_length_m(unit) if long else 1.0
    step = quantity.step if unit == "m" or not long else quantity.step_ft
    moved = stepped_figure((value or 0.0) / size, steps, step) * size
    if quantity.kind == "bearing":
        return _with(study, key, moved % 360)
    return _with(study, key, min(max(moved, quantity.low), quantity.high))
