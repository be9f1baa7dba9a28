"""A block's rules as a paragraph of plain language with values in it.

The window shows it with the values to be changed in place; sheets and reports print it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from ..core.model import CHOICES, LIMITS, InputProblem, RowRules
from .units import bearing_parts, length_m, unit_length_m


@dataclass(frozen=True)
class Value:
    """One value of the paragraph.

    Attributes
    ----------
    rule : str
        The field of RowRules it stands for.
    text : str
        As shown.
    name : str
        What it is, for tooltips, undo and screen readers.
    step : float
        What a wheel notch or an arrow key changes, in the unit shown.
    choices : tuple of str
        All that can be chosen, where it is a choice.
    """

    rule: str
    text: str
    name: str
    step: float = 0.0
    choices: tuple[str, ...] = ()


Paragraph = tuple[tuple[str | Value, ...], ...]

NAMES = {
    "bearing_deg": "bearing",
    "row_spacing_m": "row spacing",
    "vine_spacing_m": "vine spacing",
    "headland_m": "headland",
    "side_margin_m": "side margin",
    "first_row_m": "first row",
    "first_vine_m": "first vine",
    "last_vine_m": "last vine",
    "line_post_every": "line posts",
    "anchor_m": "anchors",
    "min_row_m": "least row length",
    "leftover": "leftover",
    "stretch_max_pct": "stretch",
    "lattice": "lattice",
    "number_from": "numbering side",
    "first_number": "first number",
}
"""Plain names of the rules, as undo and the screen reader say them."""

_DECIMALS = {
    "m": {
        "row_spacing_m": 2,
        "vine_spacing_m": 2,
        "anchor_m": 2,
        "first_vine_m": 2,
        "last_vine_m": 2,
        "first_row_m": 2,
        "side_margin_m": 2,
    }
}
_STEPS = {
    "row_spacing_m": 0.05,
    "vine_spacing_m": 0.05,
    "headland_m": 0.5,
    "side_margin_m": 0.25,
    "first_row_m": 0.05,
    "first_vine_m": 0.05,
    "last_vine_m": 0.05,
    "anchor_m": 0.1,
    "min_row_m": 1.0,
    "bearing_deg": 0.5,
    "line_post_every": 1,
    "stretch_max_pct": 0.5,
    "first_number": 1,
}


_MOST_DECIMALS = 3


def shown_length(metres: float, unit: str = "m", decimals: int = 2) -> str:
    """A length with its unit.

    Examples
    --------
    >>> shown_length(2.4), shown_length(2.4384, "ft"), shown_length(8.0, decimals=1)
    ('2.40 m', '8.00 ft', '8.0 m')
    """
    label = {"usft": "US ft"}.get(unit, unit)
    return f"{metres / unit_length_m(unit):.{decimals}f} {label}"


def shown_bearing(degrees: float) -> str:
    """A bearing with three whole digits and at least one decimal, as many as it has up to four.

    Examples
    --------
    >>> shown_bearing(18), shown_bearing(7.25)
    ('018.0°', '007.25°')
    """
    text = f"{round(degrees, 4) % 360:08.4f}".rstrip("0")
    return f"{text}0°" if text.endswith(".") else f"{text}°"


def specification(
    rules: RowRules, unit: str = "m", kept_clear: tuple[str | Value, ...] = ()
) -> Paragraph:
    """The paragraph of a block's rules, lengths in `unit`; `kept_clear` is a sentence put into it."""

    def v(rule: str) -> Value:
        value = getattr(rules, rule)
        if rule in CHOICES:
            return Value(
                rule, _CHOICE_WORDS.get((rule, value), value), NAMES[rule], 0, CHOICES[rule]
            )
        if rule == "bearing_deg":
            return Value(rule, shown_bearing(value), NAMES[rule], _STEPS[rule])
        if rule == "first_row_m" and value == "best":
            return Value(rule, "the best place", NAMES[rule], _STEPS[rule])
        if rule.endswith("_m"):
            decimals = _DECIMALS["m"].get(rule, 1) if unit == "m" else 2
            shown = value / unit_length_m(unit)
            while decimals < _MOST_DECIMALS and abs(round(shown, decimals) - shown) > 5e-4:
                decimals += 1  # never show a length as rounder than it is
            return Value(rule, shown_length(value, unit, decimals), NAMES[rule], _STEPS[rule])
        if rule.endswith("_pct"):
            return Value(rule, f"{value:g} %", NAMES[rule], _STEPS[rule])
        return Value(rule, f"{value}", NAMES[rule], _STEPS[rule])

    first_row = (
        ("Row 1 stands where the most vines fit, at ", v("first_row_m"), ".")
        if rules.first_row_m == "best"
        else ("The leftmost row stands ", v("first_row_m"), " into the plantable ground.")
    )
    leftover: tuple = ("What is left over goes to ", v("leftover"))
    if rules.leftover == "stretch":
        leftover = (
            "What is left over is taken up by a ",
            v("leftover"),
            " of at most ",
            v("stretch_max_pct"),
        )
    elif rules.leftover == "across":
        leftover = ("Vines line up ", v("leftover"), " the rows on a ", v("lattice"), " lattice")
    posts = (
        ("A line post stands every ", v("line_post_every"), " vines; ")
        if rules.line_post_every
        else ("There are ", v("line_post_every"), " line posts; ")
    )
    return (
        (
            "Rows run at ",
            v("bearing_deg"),
            " true, ",
            v("row_spacing_m"),
            " apart, with a vine every ",
            v("vine_spacing_m"),
            ".",
        ),
        (
            "Leave ",
            v("headland_m"),
            " clear at row ends and ",
            v("side_margin_m"),
            " along the sides. ",
            *((*kept_clear, " ") if kept_clear else ()),
            *first_row,
        ),
        (
            *posts,
            "anchors sit ",
            v("anchor_m"),
            " beyond the end posts. The first vine stands ",
            v("first_vine_m"),
            " from its end post and the last at least ",
            v("last_vine_m"),
            ".",
        ),
        (
            "Rows shorter than ",
            v("min_row_m"),
            " are left out. ",
            *leftover,
            ". Rows are numbered from the ",
            v("number_from"),
            ", starting at ",
            v("first_number"),
            ".",
        ),
    )


_CHOICE_WORDS = {
    ("leftover", "far end"): "the far end",
    ("leftover", "both ends"): "both ends",
}


def choice_text(rule: str, value: str) -> str:
    """A choice as the paragraph says it."""
    return _CHOICE_WORDS.get((rule, value), value)


def as_text(paragraph: Paragraph) -> str:
    """The paragraph without controls.

    Examples
    --------
    >>> as_text(specification(RowRules(bearing_deg=18)))[:60]
    'Rows run at 018.0° true, 2.40 m apart, with a vine every 1.5'
    """
    return "\n".join(
        "".join(part.text if isinstance(part, Value) else part for part in sentence)
        for sentence in paragraph
    )


def with_typed(
    rules: RowRules, rule: str, text: str, unit: str = "m", true_from: Callable | None = None
) -> RowRules:
    """The rules with one value as typed.

    Parameters
    ----------
    rules : RowRules
    rule, text : str
    unit : str
        Of a bare number.
    true_from : function of (convention, degrees), optional
        Turns grid and magnetic bearings into true ones.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    name = NAMES[rule].capitalize()
    wanted = text.strip()
    try:
        if rule in CHOICES:
            value = next(c for c in CHOICES[rule] if wanted in (c, choice_text(rule, c)))
        elif rule == "bearing_deg":
            value, convention = bearing_parts(wanted)
            if convention != "true":
                if true_from is None:
                    raise InputProblem(f"{name}: type a true bearing here.")
                value = true_from(convention, value)
        elif rule == "first_row_m" and wanted.lower() in ("best", "the best place"):
            value = "best"
        elif rule.endswith("_m"):
            value = length_m(wanted.replace("US ft", "usft"), unit)
        elif rule in ("line_post_every", "first_number"):
            value = _number(int, wanted, f"{name}: {wanted!r} is no whole number.")
        else:
            plain = wanted.rstrip(" %").replace(",", ".")
            value = _number(float, plain, f"{name}: {wanted!r} is no number.")
    except StopIteration:
        raise InputProblem(f"{name}: choose one of {', '.join(CHOICES[rule])}.") from None
    except ValueError as problem:  # no magnetic north is known on this day
        raise InputProblem(f"{name}: {str(problem).rpartition(': ')[2]}.") from None
    return _limited(rules, rule, value, unit)


def stepped(rules: RowRules, rule: str, steps: float, unit: str = "m") -> RowRules:
    """The rules with one value moved by so many of its steps, held inside its limits.

    Values come to whole steps, so that scrubbing lands on round figures.
    """
    value = getattr(rules, rule)
    if rule in CHOICES:
        options = CHOICES[rule]
        return replace(rules, **{rule: options[(options.index(value) + int(steps)) % len(options)]})
    if value == "best":
        value = 0.0
    step = _STEPS[rule]
    size = unit_length_m(unit) if rule.endswith("_m") else 1.0
    shown = round(round(value / size / step + steps) * step, 6)
    low, high = LIMITS[rule]
    moved = shown * size
    if rule == "bearing_deg":
        return replace(rules, bearing_deg=moved % 360)
    moved = min(max(moved, low), high)
    return replace(rules, **{rule: int(moved) if isinstance(value, int) else moved})


def _number(kind, text: str, otherwise: str):
    try:
        return kind(text)
    except ValueError:
        raise InputProblem(otherwise) from None


def _limited(rules: RowRules, rule: str, value, unit: str) -> RowRules:
    try:
        return replace(rules, **{rule: value})
    except ValueError:
        low, high = LIMITS[rule]
        if rule.endswith("_m"):
            bounds = f"{shown_length(low, unit)} and {shown_length(high, unit)}"
        else:
            bounds = f"{low:g} and {high:g}"
        raise InputProblem(f"{NAMES[rule].capitalize()} must lie between {bounds}.") from None
