"""Which attribute is a name, a kind or a clearance, and what its value says."""

from __future__ import annotations

import math
from collections.abc import Iterable

ROLES = {
    "name": ("name", "block", "block_name", "blockname", "label", "title", "parcel", "site"),
    "kind": ("kind", "type", "class", "category", "feature", "obstacle"),
    "clearance": ("clearance_m", "clearance"),
}
"""Attribute names by role, best first; upper and lower case do not matter."""


def field_roles(fields: Iterable[str]) -> dict[str, str]:
    """For each role found, the field that plays it.

    Examples
    --------
    >>> field_roles(["ID", "NAME", "Type"])
    {'name': 'NAME', 'kind': 'Type'}
    """
    spelled = {str(f).strip().lower(): str(f) for f in reversed(list(fields))}
    return {
        role: next(spelled[n] for n in names if n in spelled)
        for role, names in ROLES.items()
        if any(n in spelled for n in names)
    }


def text_of(value) -> str:
    """An attribute as text; "" for a missing one."""
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    return str(value).strip()


def clearance_of(value) -> tuple[float | None, str]:
    """A clearance [m] and what is wrong with it ("" if nothing).

    Examples
    --------
    >>> clearance_of("2,5"), clearance_of(None)
    ((2.5, ''), (None, ''))
    >>> clearance_of("wide")[1]
    "Clearance 'wide' is not a number of metres and is not used."
    """
    text = text_of(value)
    if not text:
        return None, ""
    try:
        metres = float(text.replace(",", ".").removesuffix("m").strip())
        if metres >= 0 and math.isfinite(metres):
            return metres, ""
    except ValueError:
        pass
    return None, f"Clearance {text!r} is not a number of metres and is not used."
