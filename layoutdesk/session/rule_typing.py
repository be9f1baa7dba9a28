"""Values of the rules as typed and as stepped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from ..core.model import CHOICES, LIMITS, InputProblem, RowRules
from .rule_words import BEST_WORDS, NAMES, NONE_WORDS, choice_text, step_of
from .specification import shown_length
from .units import bearing_parts, length_m, unit_length_m

_BEST = ("best", "the best place", BEST_WORDS)


_ROUND_FT = {
    "row_spacing_m": 8,
    "vine_spacing_m": 5,
    "headland_m": 26,
    "side_margin_m": 10,
    "first_vine_m": 3,
    "last_vine_m": 1.5,
    "min_row_m": 50,
    "anchor_m": 4,
    "alley_width_m": 20,
}


def starting_rules(unit: str = "m") -> RowRules:
    """The rules a fresh block has, in round figures of a unit.

    Examples
    --------
    >>> starting_rules("ft").row_spacing_m
    2.4384
    """
    if unit == "m":
        return RowRules()
    return RowRules(**{rule: feet * unit_length_m(unit) for rule, feet in _ROUND_FT.items()})


def typed_length_m(text: str, unit: str = "m") -> float:
    """A length as typed or as the paragraph shows it; a bare number is in `unit`. [m]

    Raises
    ------
    InputProblem
        Where it is no length.
    """
    return length_m(text, unit)


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
        elif rule in NONE_WORDS and wanted.lower() in ("none", "no", NONE_WORDS[rule]):
            value = 0
        elif rule == "bearing_deg":
            value, convention = bearing_parts(wanted)
            if convention != "true":
                if true_from is None:
                    raise InputProblem(f"{name}: type a true bearing here.")
                value = true_from(convention, value)
        elif rule == "first_row_m" and wanted.lower() in _BEST:
            value = "best"
        elif rule.endswith("_m"):
            value = typed_length_m(wanted, unit)
        elif rule in ("line_post_every", "first_number"):
            value = _number(int, wanted, f"{name}: {wanted!r} is no whole number.")
        else:
            plain = wanted.rstrip(" %°").replace(",", ".")
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
    size = unit_length_m(unit) if rule.endswith("_m") else 1.0
    moved = stepped_figure(value / size, steps, step_of(rule, unit)) * size
    if rule == "bearing_deg":
        return replace(rules, bearing_deg=moved % 360)
    low, high = LIMITS[rule]
    moved = min(max(moved, low), high)
    return replace(rules, **{rule: int(moved) if isinstance(value, int) else moved})


def stepped_figure(shown: float, steps: float, step: float) -> float:
    """A figure moved by so many steps, to a whole number of them.

    Examples
    --------
    >>> stepped_figure(8.2, 1, 0.5)
    8.5
    """
    return round(round(shown / step + steps) * step, 6)


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
