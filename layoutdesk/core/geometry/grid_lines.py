"""Lines of round values of a survey grid as they lie in the site frame: ticks on a frame, crosses inside it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

ToGrid = Callable[[np.ndarray], np.ndarray]
"""(n, 2) site frame x, y [m] to (n, 2) easting, northing in the grid's unit."""

_SAMPLES = 33
"""Places along a side between which a grid line is taken as straight: over 10 km that is off by less than a millimetre."""
_ROUNDS = 4


@dataclass(frozen=True, eq=False)
class GridTicks:
    """Where grid lines cross the sides of a box.

    Attributes
    ----------
    side : tuple of str
        "top", "right", "foot" or "left" of each tick.
    northing : bool array, shape (k,)
        Whether it is a line of one northing; else of one easting.
    value : float array, shape (k,)
        In the grid's unit.
    xy_m : float array, shape (k, 2)
        Site frame. [m]
    """

    side: tuple[str, ...]
    northing: np.ndarray
    value: np.ndarray
    xy_m: np.ndarray


def round_step(least: float) -> float:
    """The smallest of 1, 2 and 5 times a power of ten that is not less.

    Examples
    --------
    >>> round_step(30), round_step(50), round_step(0.12)
    (50.0, 50.0, 0.2)
    """
    power = 10.0 ** math.floor(math.log10(least) + 1e-9)
    return next(k * power for k in (1.0, 2.0, 5.0, 10.0) if k * power >= least * (1 - 1e-9))


def places_on_grid(to_grid: ToGrid, east_north: np.ndarray, near_m) -> np.ndarray:
    """Site frame places of grid coordinates near a place, (n, 2). [m]

    The transform is nearly a turn and a scale, so that a chord method is exact after a few rounds.

    Examples
    --------
    >>> turned = lambda xy: xy @ np.array([[0.0, 1.0], [-1.0, 0.0]]) + 1000.0
    >>> places_on_grid(turned, np.array([[1000.0, 1010.0]]), (0.0, 0.0)).round(6).tolist()
    [[10.0, 0.0]]
    """
    near = np.asarray(near_m, dtype=float)
    inverse = np.linalg.inv(_slopes(to_grid, near))
    xy = near + (east_north - to_grid(near[None])) @ inverse.T
    for _ in range(_ROUNDS):
        xy = xy + (east_north - to_grid(xy)) @ inverse.T
    return xy


def grid_axes(to_grid: ToGrid, at_m) -> np.ndarray:
    """Unit steps of the site frame along grid east and grid north at a place, (2, 2)."""
    steps = np.linalg.inv(_slopes(to_grid, np.asarray(at_m, dtype=float))).T
    return steps / np.hypot(*steps.T)[:, None]


def _slopes(to_grid: ToGrid, at: np.ndarray) -> np.ndarray:
    """How easting and northing change with x and y at a place, (2, 2)."""
    h = 1.0
    x0, x1, y0, y1 = to_grid(at + h * np.array([[-1.0, 0], [1, 0], [0, -1], [0, 1]]))
    return np.column_stack([x1 - x0, y1 - y0]) / (2 * h)


def grid_crosses(to_grid: ToGrid, bounds_m, step: float) -> np.ndarray:
    """Site frame places inside a box where eastings and northings are both round, (k, 2). [m]"""
    x0, y0, x1, y1 = bounds_m
    rim = to_grid(_rim(bounds_m))
    (low_e, low_n), (high_e, high_n) = rim.min(axis=0), rim.max(axis=0)
    east, north = np.meshgrid(_rounds_within(low_e, high_e, step), _rounds_within(low_n, high_n, step))  # fmt: skip
    values = np.column_stack([east.ravel(), north.ravel()])
    if not len(values):
        return np.empty((0, 2))
    xy = places_on_grid(to_grid, values, ((x0 + x1) / 2, (y0 + y1) / 2))
    return xy[((xy > (x0, y0)) & (xy < (x1, y1))).all(axis=1)]


def grid_ticks(to_grid: ToGrid, bounds_m, step: float) -> GridTicks:
    """Where lines of round eastings cross the top and the foot of a box, of round northings its left and right."""
    x0, y0, x1, y1 = bounds_m
    across, up = np.linspace(x0, x1, _SAMPLES), np.linspace(y0, y1, _SAMPLES)
    sides = {
        "top": (np.column_stack([across, np.full(_SAMPLES, y1)]), 0),
        "right": (np.column_stack([np.full(_SAMPLES, x1), up]), 1),
        "foot": (np.column_stack([across, np.full(_SAMPLES, y0)]), 0),
        "left": (np.column_stack([np.full(_SAMPLES, x0), up]), 1),
    }
    names, northing, values, places = [], [], [np.empty(0)], [np.empty((0, 2))]
    for name, (xy, axis) in sides.items():
        told = to_grid(xy)[:, axis]
        rising = told if told[-1] >= told[0] else told[::-1]
        along = xy if told[-1] >= told[0] else xy[::-1]
        found = _rounds_within(rising[0], rising[-1], step)
        names += [name] * len(found)
        northing += [bool(axis)] * len(found)
        values.append(found)
        places.append(np.column_stack([np.interp(found, rising, along[:, k]) for k in (0, 1)]))
    return GridTicks(
        tuple(names), np.array(northing, bool), np.concatenate(values), np.concatenate(places)
    )


def _rounds_within(low: float, high: float, step: float) -> np.ndarray:
    return step * np.arange(math.ceil(low / step), math.floor(high / step) + 1)


def _rim(bounds_m) -> np.ndarray:
    """Corners and middles of the sides of a box."""
    x0, y0, x1, y1 = bounds_m
    x, y = (x0 + x1) / 2, (y0 + y1) / 2
    return np.array([(x0, y0), (x, y0), (x1, y0), (x1, y), (x1, y1), (x, y1), (x0, y1), (x0, y)])
