"""Ways to a candidate other than typing: two places, an edge, the best of a sweep."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..core.compare.catalogue import MEASURES
from ..core.geometry.axes import bearing_of
from ..core.model import InputProblem
from ..core.model.study import Candidate, Study

APART_DEG = 10.0
"""The best of a sweep are at least so far apart: neighbours are hardly another plan. [deg]"""
_MOST = 12


def bearing_between(places_m) -> float:
    """Bearing from one place to another, to a ten-thousandth. [deg]

    Raises
    ------
    InputProblem
        Where both are one place.

    Examples
    --------
    >>> bearing_between([(0, 0), (10, 10)])
    45.0
    """
    (x0, y0), (x1, y1) = places_m
    if np.hypot(x1 - x0, y1 - y0) < 0.01:
        raise InputProblem("Both places are one: set them farther apart.")
    return round(float(bearing_of(x1 - x0, y1 - y0)), 4) % 360


def candidate_at(study: Study, bearing_deg: float) -> Candidate:
    """A candidate at a bearing, in all else like the base."""
    base = study.candidates[study.base] if study.candidates else Candidate()
    return replace(base, bearing_deg=bearing_deg, name="", note="")


def best_bearings(
    bearings_deg: np.ndarray, values: np.ndarray, name: str, count: int
) -> tuple[float, ...]:
    """Bearings with the best figures of a measure, the best first, `APART_DEG` apart at least.

    Examples
    --------
    >>> best_bearings(np.arange(0.0, 180, 5), np.arange(36.0), "vines", 2)
    (175.0, 165.0)
    """
    values = np.asarray(values, dtype=float)
    worth = values if MEASURES[name].better == "more" else -values
    order = np.argsort(-np.where(np.isfinite(worth), worth, -np.inf), kind="stable")
    found: list[float] = []
    for i in order[: int(np.isfinite(worth).sum())].tolist():
        bearing = float(bearings_deg[i])
        away = [abs((bearing - b + 90) % 180 - 90) for b in found]
        if all(a >= APART_DEG - 1e-9 for a in away):
            found.append(bearing)
        if len(found) == count:
            break
    return tuple(found)


def typed_count(text: str) -> int:
    """How many candidates are wanted, from text.

    Raises
    ------
    InputProblem
        Where it is no whole number from 1 to 12.
    """
    wanted = text.strip()
    if not wanted.isdecimal() or not 1 <= int(wanted) <= _MOST:
        raise InputProblem(f"How many: {wanted!r} is no whole number from 1 to {_MOST}.")
    return int(wanted)


def measure_named(text: str, names) -> str:
    """The measure that a text names, of those that have a better and a worse.

    Raises
    ------
    InputProblem
        Where it names none, or more than one.
    """
    wanted = text.strip().casefold()
    labels = {n: MEASURES[n].label.casefold() for n in names if MEASURES[n].better}
    exact = [n for n, label in labels.items() if label == wanted]
    found = exact or [n for n, label in labels.items() if wanted and wanted in label]
    if len(found) != 1:
        raise InputProblem(f"{text.strip()!r} names no one measure: choose one from the list.")
    return found[0]
