"""Checks of numbers that a value of the project may hold."""

from __future__ import annotations

import math
from collections.abc import Mapping
from numbers import Real


def within(name: str, value, low: float, high: float) -> float:
    """A number as a float; ValueError names it where it lies outside its limits, or is none."""
    if not (isinstance(value, Real) and math.isfinite(value) and low <= value <= high):
        raise ValueError(f"{name}: {value!r} is outside {low:g} to {high:g}")
    return float(value)


def hold_within(value, limits: Mapping[str, tuple[float, float]], may_be_none=()) -> None:
    """Have the fields of a frozen value hold floats within their limits.

    Raises
    ------
    ValueError
        For the first that does not.
    """
    for name, bounds in limits.items():
        given = getattr(value, name)
        if given is not None or name not in may_be_none:
            object.__setattr__(value, name, within(name, given, *bounds))


def hold_whole(value, names) -> None:
    """Have fields hold whole numbers; those that are None stay so.

    Raises
    ------
    ValueError
        For the first that is none.
    """
    for name in names:
        given = getattr(value, name)
        if given is None:
            continue
        if given != int(given):
            raise ValueError(f"{name}: {given!r} is no whole number")
        object.__setattr__(value, name, int(given))


def hold_one_of(name: str, value: str, known) -> None:
    """ValueError where a value is none of those there are."""
    if value not in known:
        raise ValueError(f"{name}: {value!r} is none of {', '.join(map(repr, known))}")
