"""Laterals: tubes along the rows, with an outlet wherever emitters are fed."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

_NUMBERS = (
    "outlet_m",
    "outlet_height_m",
    "inlet_m",
    "inlet_height_m",
    "diameter_m",
    "emitters",
    "barb_loss",
)
Feed = Literal["start", "far", "middle"]
_LEAST_PIECE_M = 1e-4
"""Tube between two outlets, or an inlet and an outlet, at the same place: its loss is nothing to
speak of, and no piece is without any. [m]"""


@dataclass(frozen=True, eq=False)
class Laterals:
    """Any number of laterals, outlets one after another in row order.

    A lateral's outlets are those from `offset[i]` to before `offset[i + 1]`, their places along the
    row rising. Its inlet may stand before the first, behind the last, or anywhere between: water then
    runs both ways from it, in two branches. A lateral may have no outlets.

    Attributes
    ----------
    offset : int array, shape (n + 1,)
    outlet_m : float array, shape (t,)
        Place of each outlet along the tube, so along the ground where heights are known. [m]
    outlet_height_m : float array, shape (t,)
        Elevation, from any level that is the same for the lateral. [m]
    inlet_m, inlet_height_m : float array, shape (n,)
        Place and elevation of each inlet, counted as those of its outlets. [m]
    diameter_m : float array, shape (n,)
        Inner diameter of the tube. [m]
    emitters : float array, shape (t,)
        Emitters fed by each outlet.
    barb_loss : float array, shape (t,)
        Velocity heads that the tube's flow loses on its way past each outlet's barb.
    """

    offset: np.ndarray
    outlet_m: np.ndarray
    outlet_height_m: np.ndarray
    inlet_m: np.ndarray
    inlet_height_m: np.ndarray
    diameter_m: np.ndarray
    emitters: np.ndarray
    barb_loss: np.ndarray

    def __post_init__(self):
        n, t = len(self.offset) - 1, len(self.outlet_m)
        if self.offset[0] != 0 or self.offset[-1] != t or (np.diff(self.offset) < 0).any():
            raise ValueError("offset must rise from 0 to the number of outlets")
        for name in ("inlet_m", "inlet_height_m", "diameter_m"):
            if len(getattr(self, name)) != n:
                raise ValueError(f"{name} must have one value a lateral")
        for name in ("outlet_height_m", "emitters", "barb_loss"):
            if len(getattr(self, name)) != t:
                raise ValueError(f"{name} must have one value an outlet")
        for name in _NUMBERS:
            if not np.isfinite(getattr(self, name)).all():
                raise ValueError(f"{name} must be known for every lateral and outlet")
        if not (self.diameter_m > 0).all():
            raise ValueError("diameter_m must be above 0")
        if (self.emitters < 0).any() or (self.barb_loss < 0).any():
            raise ValueError("emitters and barb_loss must not be below 0")
        if (np.diff(self.outlet_m)[~self.apart] < 0).any():
            raise ValueError("outlet_m must not fall along a lateral")

    def __len__(self) -> int:
        return len(self.offset) - 1

    @property
    def count(self) -> np.ndarray:
        """Outlets of each lateral, int (n,)."""
        return np.diff(self.offset)

    @cached_property
    def lateral(self) -> np.ndarray:
        """The lateral of each outlet, int (t,)."""
        return np.repeat(np.arange(len(self)), self.count)

    @cached_property
    def apart(self) -> np.ndarray:
        """Whether an outlet and the next belong to different laterals, bool (t - 1,)."""
        return np.diff(self.lateral) > 0

    @cached_property
    def onward(self) -> np.ndarray:
        """Whether water reaches an outlet along the row, from its start end, bool (t,)."""
        return self.outlet_m >= self.inlet_m[self.lateral]

    @cached_property
    def joined(self) -> np.ndarray:
        """Whether one piece of tube joins an outlet and the next, bool (t - 1,)."""
        return ~self.apart & (self.onward[1:] == self.onward[:-1])

    @cached_property
    def at_inlet(self) -> np.ndarray:
        """Whether the piece that feeds an outlet begins at the inlet, bool (t,)."""
        before = np.concatenate([[False], self.joined])[: len(self.onward)]
        behind = np.concatenate([self.joined, [False]])[: len(self.onward)]
        return np.where(self.onward, ~before, ~behind)

    @cached_property
    def piece_m(self) -> np.ndarray:
        """Length of the piece of tube that feeds each outlet, (t,). [m]"""
        step = np.diff(self.outlet_m)
        before = np.concatenate([[0.0], step])[: len(self.onward)]
        behind = np.concatenate([step, [0.0]])[: len(self.onward)]
        inner = np.where(self.onward, before, behind)
        outer = np.abs(self.outlet_m - self.inlet_m[self.lateral])
        return np.maximum(np.where(self.at_inlet, outer, inner), _LEAST_PIECE_M)

    @cached_property
    def rise_m(self) -> np.ndarray:
        """Height of each outlet over its inlet, (t,). [m]"""
        return self.outlet_height_m - self.inlet_height_m[self.lateral]

    def summed(self, values: np.ndarray) -> np.ndarray:
        """Sum over the outlets of each lateral, (n,); 0 where there are none."""
        return np.bincount(self.lateral, weights=values, minlength=len(self))

    def reduced(self, ufunc: np.ufunc, values: np.ndarray) -> np.ndarray:
        """A ufunc's reduction over the outlets of each lateral, (n,); NaN where there are none."""
        out = np.full(len(self), np.nan)
        some = self.count > 0
        if some.any():
            out[some] = ufunc.reduceat(values, self.offset[:-1][some])
        return out

    def downstream(self, values: np.ndarray) -> np.ndarray:
        """Sum from each outlet to its branch's tail, its own value among them, (t,)."""
        total = np.concatenate([[0.0], np.cumsum(values)])
        first, end = self.offset[:-1][self.lateral], self.offset[1:][self.lateral]
        here = np.arange(len(values))
        return np.where(self.onward, total[end] - total[here], total[here + 1] - total[first])


def even_laterals(
    count,
    spacing_m,
    first_m,
    diameter_m,
    *,
    fed: Feed = "start",
    outlet_height_m=0.0,
    inlet_height_m=None,
    emitters=1.0,
    barb_loss=0.0,
) -> Laterals:
    """Laterals with outlets at one spacing each.

    Parameters
    ----------
    count : int array, shape (n,)
        Outlets of each lateral.
    spacing_m : float array, shape (n,), or float
        From one outlet to the next. [m]
    first_m : float array, shape (n,), or float
        From the tube's end at the start end of the row to the first outlet; as much is behind the
        last outlet where the tube is fed from the far end. [m]
    diameter_m : float array, shape (n,), or float
        Inner diameter. [m]
    fed : "start", "far" or "middle"
        Where the inlet is. "middle" is midway between the two outlets in the middle, at the start
        end's side of the middle one where their number is odd.
    outlet_height_m : float array, shape (t,), or float
        Elevations in row order. [m]
    inlet_height_m : float array, shape (n,), optional
        As the slope of the two nearest outlets gives it, if left out. [m]
    emitters, barb_loss : float array, shape (t,), or float

    Examples
    --------
    >>> rows = even_laterals([3, 4], 1.5, 0.5, 0.0136, fed="middle")
    >>> rows.inlet_m.tolist(), rows.outlet_m[:3].tolist()
    ([1.25, 2.75], [0.5, 2.0, 3.5])
    """
    count = np.atleast_1d(np.asarray(count, dtype=np.intp))
    n, t = len(count), int(count.sum())
    offset = np.concatenate([[0], np.cumsum(count)])
    spacing, first, diameter = (
        np.broadcast_to(np.asarray(v, dtype=float), (n,)) for v in (spacing_m, first_m, diameter_m)
    )
    lateral = np.repeat(np.arange(n), count)
    place = first[lateral] + (np.arange(t) - offset[lateral]) * spacing[lateral]
    if fed == "start":
        inlet, near = np.zeros(n), np.zeros(n, dtype=np.intp)
    elif fed == "far":
        inlet, near = 2 * first + (count - 1) * spacing, count - 1
    elif fed == "middle":
        near = np.maximum(count // 2 - 1, 0)
        inlet = np.where(count > 1, first + (near + 0.5) * spacing, 0.0)
    else:
        raise ValueError(f"fed is {fed!r}; it must be start, far or middle")
    height = np.broadcast_to(np.asarray(outlet_height_m, dtype=float), (t,))
    if inlet_height_m is None:
        inlet_height_m = _height_at(inlet, near, offset, place, height)
    return Laterals(
        offset,
        place,
        height,
        inlet,
        np.broadcast_to(np.asarray(inlet_height_m, dtype=float), (n,)),
        diameter,
        np.broadcast_to(np.asarray(emitters, dtype=float), (t,)),
        np.broadcast_to(np.asarray(barb_loss, dtype=float), (t,)),
    )


def _height_at(inlet, near, offset, place, height):
    """Height at inlets, on the line through the outlet `near` and the next one, (n,). [m]"""
    count = np.diff(offset)
    out = np.zeros(len(inlet))
    some = count > 0
    last = offset[1:][some] - 1
    one = offset[:-1][some] + np.clip(near[some], 0, np.maximum(count[some] - 2, 0))
    two = np.minimum(one + 1, last)
    step = np.where(place[two] > place[one], place[two] - place[one], 1.0)
    grade = (height[two] - height[one]) / step
    out[some] = height[one] + grade * (inlet[some] - place[one])
    return out
