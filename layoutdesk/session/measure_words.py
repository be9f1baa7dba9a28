"""Measures in people's words and units."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..core.compare.catalogue import MEASURES
from ..core.model.study import Study
from .tally import grouped
from .units import unit_label, unit_length_m

_UNITS = {"m2": "m²", "h/day": "h a day", "MJ/m2/day": "MJ/m² a day", "deg": "°"}


def measure_unit(name: str, unit: str = "m", study: Study | None = None) -> tuple[float, str]:
    """How much one of people's units of a measure is, and what it is called.

    Examples
    --------
    >>> measure_unit("mean_row_m", "ft"), measure_unit("sun_left_h"), measure_unit("vines")
    ((0.3048, 'ft'), (1.0, 'h a day'), (1.0, ''))
    """
    kind = MEASURES[name].unit
    if kind == "m":
        return unit_length_m(unit), unit_label(unit)
    if kind == "money":
        return 1.0, study.prices.currency if study is not None else ""
    return 1.0, _UNITS.get(kind, kind)


def measure_heading(name: str, unit: str = "m", study: Study | None = None) -> str:
    """What a measure is called, with its unit.

    Examples
    --------
    >>> measure_heading("mean_row_m"), measure_heading("vines")
    ('Mean row, m', 'Vines')
    """
    label, called = MEASURES[name].label, measure_unit(name, unit, study)[1]
    return f"{label}, {called}" if called else label


def measure_text(name: str, value: float, unit: str = "m") -> str:
    """A figure in people's unit, as many decimals as the measure has.

    Examples
    --------
    >>> measure_text("mean_row_m", 30.48, "ft"), measure_text("grade_along_max_pct", 9.04)
    ('100.0', '9.0')
    """
    return grouped(value / measure_unit(name, unit)[0], MEASURES[name].decimals)


_TOLD = {
    # measures worth a word, and the subject of each: of one subject the widest apart is told
    "mean_row_m": "rows",
    "short_rows": "short rows",
    "end_posts": "rows",
    "headland_share_pct": "headland",
    "idle_share_pct": "travel",
    "grade_along_p95_pct": "along",
    "grade_across_p95_pct": "across",
    "steep_along_m": "along",
    "steep_across_m": "across",
    "drop_p95_m": "drop",
    "sun_hot_mj_m2": "heat",
    "sun_share_pct": "light",
    "posts_cost": "cost",
}
_WHOLES = {
    "short_rows": "segments",
    "steep_along_m": "row_length_m",
    "steep_across_m": "row_length_m",
}
_OF_ITS_WHOLE = 0.01
"""A part that is never more than this of its whole is not worth a word, common sense."""


def what_differs(
    values: Mapping[str, np.ndarray], unit: str = "m", study: Study | None = None
) -> str:
    """What sets candidates apart, in two sentences; empty where fewer than two have vines.

    How far a measure is spread is told of its larger figure. Nothing is weighed against anything.

    Parameters
    ----------
    values : mapping of float array, shape (c,)
        By measure, NaN where one has it not.

    Examples
    --------
    >>> values = {"vines": np.array([1000, 997.0]), "short_rows": np.array([4, 16.0])}
    >>> values["segments"] = np.array([90, 99.0])
    >>> what_differs(values).replace("\u202f", " ")
    'Vines differ by 0.3 %. Farthest apart: short rows, 4 to 16.'
    """
    vines = _known(values, "vines")
    if len(vines) < 2:
        return ""
    vines_by = _spread("vines", vines)
    first = f"Vines differ by {_share_text(vines_by)}." if vines_by else "All have as many vines."
    widest: dict[str, tuple[float, str]] = {}
    for name, subject in _TOLD.items():
        spread = _spread(name, _known(values, name))
        if spread > 0 and _weighs(name, values):
            widest[subject] = max(widest.get(subject, (0.0, "")), (spread, name))
    far = [name for spread, name in sorted(widest.values(), reverse=True) if spread > vines_by]
    if not far:
        return first
    told = "; ".join(_range_text(name, _known(values, name), unit, study) for name in far[:3])
    return f"{first} Farthest apart: {told}."


def _known(values, name: str) -> np.ndarray:
    found = np.asarray(values.get(name, ()), dtype=float)
    return found[np.isfinite(found)]


def _spread(name: str, known: np.ndarray) -> float:
    """From the least to the most as they are shown, of the larger; 0 where there is but one."""
    shown = np.round(known, MEASURES[name].decimals)
    largest = np.abs(shown).max(initial=0.0)
    return float(np.ptp(shown) / largest) if largest else 0.0


def _weighs(name: str, values) -> bool:
    if name not in _WHOLES:
        return True
    whole = np.asarray(values.get(_WHOLES[name], np.nan), dtype=float)
    part = np.asarray(values[name], dtype=float)
    share = part / np.where(whole > 0, whole, np.nan)
    return bool((share > _OF_ITS_WHOLE).any())


def _share_text(share: float) -> str:
    pct = 100 * share
    if pct < 0.05:
        return "less than 0.1\u202f%"
    return f"{pct:.1f}\u202f%" if pct < 9.95 else f"{pct:.0f}\u202f%"


def _range_text(name: str, known: np.ndarray, unit: str, study: Study | None) -> str:
    label = MEASURES[name].label
    low, high = (measure_text(name, v, unit) for v in (known.min(), known.max()))
    called = measure_unit(name, unit, study)[1]
    text = f"{label[0].lower()}{label[1:]}, {low} to {high}"
    return f"{text}\u202f{called}" if called else text
