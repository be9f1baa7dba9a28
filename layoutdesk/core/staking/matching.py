"""Which measured point is which point of the plan: by code, by number, or by place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .points import Points, PointSet

WAYS = ("code", "number", "place")


@dataclass(frozen=True, eq=False)
class Measured:
    """Points as they were read from a file, on the coordinates of the hand-off.

    Attributes
    ----------
    name, description : tuple of str
        Point name or number, and description; empty where there is none.
    en_m : float array, shape (n, 2)
        Easting and northing times the unit's length. [m]
    height_m : float array, shape (n,)
        NaN where there is none. [m]
    line : int array, shape (n,)
        Line, feature or entity in the file, from 1.
    """

    name: tuple[str, ...]
    description: tuple[str, ...]
    en_m: np.ndarray
    height_m: np.ndarray
    line: np.ndarray

    def __len__(self) -> int:
        return len(self.line)


@dataclass(frozen=True, eq=False)
class Matched:
    """Pairs of plan and ground.

    Attributes
    ----------
    way : str
        Of WAYS.
    points : Points
        All points of the plan they were matched with.
    planned, measured : int array, shape (m,)
        Pairs: into `points`, and into the measured ones; in the order of `points`.
    strange : int array
        Measured points that are no point of the plan.
    doubled : int array
        Measured points left out because their point of the plan was measured again later in the file.
    """

    way: str
    points: Points
    planned: np.ndarray
    measured: np.ndarray
    strange: np.ndarray
    doubled: np.ndarray


def matched(
    points: PointSet, en_m, measured: Measured, way: str = "", *, template: str = "", features=(),
    most_m: float = 0.5,
) -> Matched:  # fmt: skip
    """Measured points matched with those of the plan.

    Parameters
    ----------
    points : PointSet
    en_m : float array, shape (n, 2)
        Where `points.all()` were handed off, in the same coordinates as the measured ones. [m]
    measured : Measured
    way : str
        Of WAYS; where it is empty the way that matches most of them, codes first.
    template, features
        Of the table's descriptions, which codes are looked for in.
    most_m : float
        By place, the most they may be apart; never more than half the way to another point. [m]
    """
    raise NotImplementedError
