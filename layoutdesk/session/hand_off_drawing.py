"""What the hand-off stage draws over the plan: arrows from plan to ground, or of what moves coordinates."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

_LONGEST_PX, _CELL_PX = 26.0, 22.0
"""Of nearly all arrows in a view, the longest; and how far apart they are that stand for the others. [px]"""
_SMALL_PX = 10.0
"""Arrows whose longest is shorter than this say nothing. [px]"""
_NEARLY_ALL = 0.99


@dataclass(frozen=True, eq=False)
class Arrows:
    """Arrows and marks over the plan.

    Attributes
    ----------
    at_m : float array, shape (n, 2)
        Site frame. [m]
    step_m : float array, shape (n, 2)
        What each shows, true to scale; it is drawn `times` as long. [m]
    times : float
        Exaggeration.
    amiss : bool array, shape (n,)
        Beyond tolerance.
    label : tuple of str
        Beside each; empty for none.
    said : str
        What is drawn, with the exaggeration, for the legend.
    """

    at_m: np.ndarray
    step_m: np.ndarray
    times: float
    amiss: np.ndarray
    label: tuple[str, ...]
    said: str


def how_drawn(times: float) -> str:
    """How much longer arrows are drawn than they are, in words.

    Examples
    --------
    >>> how_drawn(200.0), how_drawn(1.0)
    ('drawn 200 times as long', 'true to scale')
    """
    return f"drawn {times:g} times as long" if times > 1 else "true to scale"


def in_view(arrows: Arrows, scale_px_m: float) -> Arrows:
    """Arrows that can be read in a view of the plan.

    Where they would be too short to see, they are drawn so much longer, by a round number, that the longest is
    a finger wide, and where they would lie on one another then, one stands for those beside it: one beyond
    tolerance before all others, and of these the longest.

    Parameters
    ----------
    arrows : Arrows
    scale_px_m : float
        Of the view. [px/m]

    Examples
    --------
    >>> at = np.column_stack([np.arange(0.0, 100.0, 1.0), np.zeros(100)])
    >>> step = np.full((100, 2), 0.01)
    >>> far = in_view(Arrows(at, step, 20.0, np.zeros(100, bool), ("",) * 100, "Arrows, drawn 20 times as long"), 1.0)
    >>> far.said, len(far.at_m)
    ('Arrows, drawn 1000 times as long; each stands for those beside it', 5)
    """
    length = np.hypot(*arrows.step_m.T)
    if not len(length) or not length.any():
        return arrows
    longest_px = float(np.quantile(length, _NEARLY_ALL)) * arrows.times * scale_px_m
    if not 0 < longest_px < _SMALL_PX:
        return arrows
    times = _round(arrows.times * _LONGEST_PX / longest_px)
    kept = _farthest_a_cell(arrows, length, _CELL_PX / scale_px_m)
    beside = "; each stands for those beside it" if len(kept) < len(length) else ""
    return replace(
        arrows,
        at_m=arrows.at_m[kept],
        step_m=arrows.step_m[kept],
        times=times,
        amiss=arrows.amiss[kept],
        label=tuple(arrows.label[i] for i in kept.tolist()),
        said=arrows.said.replace(how_drawn(arrows.times), how_drawn(times)) + beside,
    )


def _round(times: float) -> float:
    """The round number below: 1, 2 or 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(times))
    return max(power * k for k in (1, 2, 5) if power * k <= times * (1 + 1e-9))


def _farthest_a_cell(arrows: Arrows, length: np.ndarray, cell_m: float) -> np.ndarray:
    """One arrow a square cell, in the order they are: those beyond tolerance first, then the longest."""
    cell = np.floor(arrows.at_m / cell_m).astype(np.int64)
    key = (cell[:, 0] << 32) + cell[:, 1]
    order = np.lexsort((-length, ~arrows.amiss, key))
    first = np.r_[True, np.diff(key[order]) != 0]
    return np.sort(order[first])
