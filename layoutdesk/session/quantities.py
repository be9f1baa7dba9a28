"""Values of a paragraph by kind: how each is shown, typed and stepped, in metric or in feet's company.

Inside, every kind has one unit; people read and type theirs. With lengths in metres people read bar,
L/h and mm; with lengths in feet psi, gallons (US) and inches.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

from ..core.model import InputProblem
from .rule_typing import stepped_figure
from .specification import merged_value, shown_exactly, shown_length
from .units import length_m, registry, unit_length_m

_M_PER_BAR = 100 / 9.80665
"""Metres of water in a bar, at 1,000 kg/m³ and standard gravity, by convention. [m]"""
_M_PER_PSI = 6.894757293168 / 9.80665
"""In a pound-force a square inch (NIST SP 811, appendix B). [m]"""
_LITRES_PER_GALLON = 3.785411784
"""US liquid gallon, exact (NIST SP 811, appendix B). [L]"""
N_PER_LBF = 4.4482216152605
"""Exact (NIST SP 811, appendix B). [N]"""
_FOOT_M = 0.3048
KG_PER_LB = 0.45359237
"""Exact (NIST SP 811, appendix B). [kg]"""


@dataclass(frozen=True)
class _Shown:
    """How a kind is read: label, size of one in the inner unit, decimals, and a step in it."""

    label: str
    size: float
    decimals: int
    step: float


_KINDS: dict[str, tuple[_Shown, _Shown, str]] = {
    # kind: (with metres, with feet, the inner unit as the units library says it)
    "thickness": (_Shown("mm", 1.0, 1, 0.1), _Shown("in", 25.4, 3, 0.01), "mm"),
    "head": (_Shown("bar", _M_PER_BAR, 2, 0.1), _Shown("psi", _M_PER_PSI, 1, 1.0), ""),
    "drop_flow": (_Shown("L/h", 1.0, 1, 0.1), _Shown("gph", _LITRES_PER_GALLON, 2, 0.05), "L/h"),
    "flow": (
        _Shown("m³/h", 1.0, 1, 1.0),
        _Shown("gpm", _LITRES_PER_GALLON * 0.06, 0, 5.0),
        "m^3/h",
    ),
    "velocity": (_Shown("m/s", 1.0, 1, 0.1), _Shown("ft/s", _FOOT_M, 1, 0.5), "m/s"),
    "volume": (_Shown("L", 1.0, 1, 0.5), _Shown("gal", _LITRES_PER_GALLON, 1, 0.25), "L"),
    "force": (_Shown("N", 1.0, 0, 50.0), _Shown("lbf", N_PER_LBF, 0, 10.0), "N"),
    "strength": (_Shown("MPa", 1.0, 0, 50.0), _Shown("psi", 6.894757293168e-3, 0, 5000.0), "MPa"),
    "mass": (_Shown("kg", 1.0, 1, 1.0), _Shown("lb", KG_PER_LB, 1, 1.0), "kg"),
    "line_load": (
        _Shown("kg/m", 1.0, 1, 0.5),
        _Shown("lb/ft", KG_PER_LB / _FOOT_M, 1, 0.5),
        "kg/m",
    ),
    "warmth": (_Shown("°C", 1.0, 0, 5.0), _Shown("°F", 5 / 9, 0, 5.0), ""),
    "depth": (_Shown("mm", 1.0, 1, 0.5), _Shown("in", 25.4, 2, 0.05), "mm"),
    "small_length": (_Shown("cm", 0.01, 1, 0.5), _Shown("in", 0.0254, 2, 0.25), "m"),
    "hours": (_Shown("h", 1.0, 1, 0.5), _Shown("h", 1.0, 1, 0.5), "h"),
    "share": (_Shown("%", 1.0, 1, 1.0), _Shown("%", 1.0, 1, 1.0), ""),
    "angle": (_Shown("°", 1.0, 1, 1.0), _Shown("°", 1.0, 1, 1.0), ""),
    "number": (_Shown("", 1.0, 3, 0.05), _Shown("", 1.0, 3, 0.05), ""),
    "whole": (_Shown("", 1.0, 0, 1.0), _Shown("", 1.0, 0, 1.0), ""),
    "money": (_Shown("", 1.0, 2, 1.0), _Shown("", 1.0, 2, 1.0), ""),
}
"""Beside "length", "choice" and "text"."""

_ALSO: dict[str, dict[str, float]] = {
    "head": {
        "bar": _M_PER_BAR,
        "kpa": _M_PER_BAR / 100,
        "psi": _M_PER_PSI,
        "m": 1.0,
        "ft": _FOOT_M,
    },
    "drop_flow": {"l/h": 1.0, "lph": 1.0, "gph": _LITRES_PER_GALLON},
    "flow": {
        "m³/h": 1.0,
        "m3/h": 1.0,
        "l/s": 3.6,
        "l/min": 0.06,
        "l/h": 0.001,
        "gpm": _LITRES_PER_GALLON * 0.06,
    },
    "volume": {"l": 1.0, "gal": _LITRES_PER_GALLON, "m³": 1000.0, "m3": 1000.0},
    "warmth": {"°c": 1.0, "k": 1.0, "c": 1.0, "°f": 5 / 9, "f": 5 / 9},
    "thickness": {"mm": 1.0, "cm": 10.0, "in": 25.4, '"': 25.4},
    "depth": {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8},
    "small_length": {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, '"': 0.0254, "ft": _FOOT_M},
    "share": {"%": 1.0},
    "angle": {"°": 1.0},
}
"""Units that are read besides the one on show; the units library knows the rest."""

_TRIMMED = ("number", "share", "angle", "thickness", "strength", "money", "small_length")
"""Kinds that are shown without noughts at their end."""
_NUMBER = re.compile(r"^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*(.*)$")
_TWO_WAYS = re.compile(r"[+-]?\d{1,3},\d{3}")
"""A decimal comma, or a mark of thousands."""
_UNIT_WORD = re.compile(r"[A-Za-z°µ³²^ ]{1,20}[23]?(?:/[A-Za-z]{1,8}[23]?)?")
"""What may be a unit; the library would reckon with anything else."""
_NOTHING = ("", "none", "no", "-", "–")


@dataclass(frozen=True)
class Quantity:
    """One value: how it is called, its kind, its limits in the inner unit, and its steps.

    Attributes
    ----------
    name : str
        Plain name, for undo, tooltips and refusals.
    kind : str
        "length", "choice", or a key of the table of kinds.
    low, high : float
        In the inner unit.
    step, step_ft : float
        In the unit on show, with metres and with feet; 0 for the kind's own.
    choices, meanings : tuple of str
        For "choice".
    none : str
        What is shown and typed where the value is None; empty where it may not be.
    decimals : int or None
        At least so many are shown; the kind's own where it is None.
    """

    name: str
    kind: str
    low: float = 0.0
    high: float = 0.0
    step: float = 0.0
    step_ft: float = 0.0
    choices: tuple[str, ...] = ()
    meanings: tuple[str, ...] = ()
    none: str = ""
    decimals: int | None = None


def _kind(quantity: Quantity, unit: str) -> _Shown:
    """How a quantity is read where lengths are in `unit`."""
    if quantity.kind == "length":
        metric = unit == "m"
        step = quantity.step if metric else quantity.step_ft or quantity.step
        return _Shown(unit, unit_length_m(unit), 2 if metric else 1, step)
    shown = _KINDS[quantity.kind][unit != "m"]
    step = (quantity.step if unit == "m" else quantity.step_ft) or shown.step
    return replace(shown, step=step)


def shown(quantity: Quantity, value, unit: str = "m") -> str:
    """A value as people read it.

    Examples
    --------
    >>> shown(Quantity("pressure", "head"), 15.0), shown(Quantity("pressure", "head"), 15.0, "ft")
    ('1.47 bar', '21.3 psi')
    >>> shown(Quantity("tube", "thickness"), 13.6), shown(Quantity("n", "whole"), 4)
    ('13.6 mm', '4')
    """
    if value is None:
        return quantity.none or "not said"
    if quantity.kind in ("choice", "text"):
        return str(value)
    how = _kind(quantity, unit)
    decimals = how.decimals if quantity.decimals is None else quantity.decimals
    if quantity.kind == "length":
        return shown_exactly(value, unit, decimals)
    figure = f"{value / how.size:.{decimals}f}"
    if quantity.kind in _TRIMMED and "." in figure:
        least = 1 if quantity.kind == "thickness" else 0
        whole, _, part = figure.partition(".")
        part = part.rstrip("0").ljust(least, "0")
        if quantity.kind == "money" and part:
            part = part.ljust(2, "0")
        figure = f"{whole}.{part}" if part else whole
    if quantity.kind == "angle":
        return f"{figure}°"
    return f"{figure} {how.label}".strip()


def typed(quantity: Quantity, text: str, unit: str = "m"):
    """A value as typed, in the inner unit; a bare number is in the unit on show.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.

    Examples
    --------
    >>> typed(Quantity("pressure", "head", 0, 100), "150 kPa")
    15.29574...
    >>> typed(Quantity("brace", "length", 0, 6), "8ft")
    2.4384...
    """
    name, wanted = quantity.name[:1].upper() + quantity.name[1:], text.strip()
    if quantity.none and wanted.lower() in (*_NOTHING, quantity.none.lower()):
        return None
    if quantity.kind == "choice":
        if wanted not in quantity.choices:
            raise InputProblem(f"{name}: choose one of {', '.join(quantity.choices)}.")
        return wanted
    if quantity.kind == "text":
        return wanted
    if quantity.kind == "length":
        try:
            return _limited(quantity, length_m(wanted, unit), unit)
        except InputProblem as problem:
            told = str(problem)
            raise InputProblem(told if told.startswith(name) else f"{name}: {told}") from None
    found = _NUMBER.match(wanted.replace("−", "-"))
    if not found:
        raise InputProblem(
            f"{name}: {wanted!r} is no number: write it like {_example(quantity, unit)}."
        )
    if _TWO_WAYS.fullmatch(found[1]):
        whole = found[1].replace(",", "")
        raise InputProblem(
            f"{name}: {found[1]!r} can be read in two ways: write {found[1].replace(',', '.')} or {whole}."
        )
    figure = float(found[1].replace(",", "."))
    value = figure * _size_of(quantity, found[2].strip(), unit, name)
    if not math.isfinite(value):
        raise InputProblem(
            f"{name}: {wanted[:20]!r} is too large: write it like {_example(quantity, unit)}."
        )
    if quantity.kind == "whole":
        if value != int(value):
            raise InputProblem(f"{name}: {wanted!r} is no whole number.")
        value = int(value)
    return _limited(quantity, value, unit)


def _size_of(quantity: Quantity, label: str, unit: str, name: str) -> float:
    how = _kind(quantity, unit)
    if not label or label == how.label:
        return how.size
    known = _ALSO.get(quantity.kind, {})
    if label.lower() in known:
        return known[label.lower()]
    inner = _KINDS[quantity.kind][2]
    if inner and _UNIT_WORD.fullmatch(label):
        import pint

        try:
            return float(registry().Quantity(1, label).to(inner).magnitude)
        except (pint.PintError, AttributeError, ValueError, TypeError, ArithmeticError):
            pass
    raise InputProblem(
        f"{name}: {label!r} is no unit for it: write it like {_example(quantity, unit)}."
    )


def _example(quantity: Quantity, unit: str) -> str:
    middle = (max(quantity.low, 0.0) + min(quantity.high, 10 * max(quantity.low, 1.0))) / 2
    return shown(quantity, int(middle) if quantity.kind == "whole" else middle, unit)


def _limited(quantity: Quantity, value, unit: str):
    if quantity.low - 1e-9 <= value <= quantity.high + 1e-9:
        return min(max(value, quantity.low), quantity.high) if quantity.kind != "whole" else value
    if quantity.kind == "length":
        low, high = shown_length(quantity.low, unit), shown_length(quantity.high, unit)
    else:
        low, high = shown(quantity, quantity.low, unit), shown(quantity, quantity.high, unit)
    name = quantity.name[:1].upper() + quantity.name[1:]
    raise InputProblem(f"{name} must lie between {low} and {high}.")


def stepped(quantity: Quantity, value, steps: float, unit: str = "m"):
    """A value moved by so many of its steps, held inside its limits; choices go round.

    Examples
    --------
    >>> stepped(Quantity("tube", "thickness", 4, 60), 13.6, 2)
    13.8
    """
    if quantity.kind == "choice":
        at = quantity.choices.index(value) if value in quantity.choices else 0
        return quantity.choices[(at + int(steps)) % len(quantity.choices)]
    if quantity.kind == "text":
        return value
    how = _kind(quantity, unit)
    begin = quantity.low if value is None else value
    moved = stepped_figure(begin / how.size, steps, how.step) * how.size
    moved = min(max(moved, quantity.low), quantity.high)
    return round(moved) if quantity.kind == "whole" else round(moved, 9)


def value_of(key: str, quantity: Quantity, each: tuple[tuple[str, object], ...], unit: str = "m"):
    """A value of a paragraph that stands for one block or several.

    Parameters
    ----------
    key : str
    quantity : Quantity
    each : tuple of (block name, value)
    """
    texts = tuple((name, shown(quantity, value, unit)) for name, value in each)
    step = 0.0 if quantity.kind in ("choice", "text") else _kind(quantity, unit).step
    meanings = quantity.meanings or ("",) * len(quantity.choices)
    options = tuple(zip(quantity.choices, meanings, strict=True))
    chosen = texts[0][1] if quantity.kind == "choice" else ""
    return merged_value(key, quantity.name, texts, step=step, options=options, chosen=chosen)
