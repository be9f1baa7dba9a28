"""Submains and mains: the pipe from a valve to its laterals, and from the source to the valve."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .friction import Friction

_STEEP_SHARE = 0.8
"""Pieces that lose nearly as much a metre as the worst one grow together with it."""
_TIE = 1e-6
"""Shares of flow that differ by less are alike: rounding moves no valve."""
_RESERVE = 1.02
"""Pipes are chosen for a little more than the first estimate of their flow."""
LEAST_PIECE_M = 0.01
"""Pipe between two inlets at one place. [m]"""


@dataclass(frozen=True, eq=False)
class Manifold:
    """The laterals of one set along its submain, and where its valve stands between them.

    Attributes
    ----------
    laterals : int array, shape (k,)
        In the order in which they stand.
    station_m : float array, shape (k,)
        Along the chain. [m]
    xy_m, height_m : float array, shape (k, 2), (k,)
        Of the inlets. [m]
    valve_station_m, valve_height_m : float
    valve_xy_m : (x, y)
    n_before : int
        Laterals that stand before the valve; the others are behind it.
    """

    laterals: np.ndarray
    station_m: np.ndarray
    xy_m: np.ndarray
    height_m: np.ndarray
    valve_station_m: float
    valve_height_m: float
    valve_xy_m: tuple[float, float]
    n_before: int

    @property
    def length_m(self) -> np.ndarray:
        """Of the piece of pipe that feeds each lateral, (k,). [m]"""
        place = np.abs(self.station_m - self.valve_station_m)
        step = np.abs(np.diff(self.station_m))
        length = place.copy()
        length[: self.n_before][:-1] = step[: max(self.n_before - 1, 0)]
        length[self.n_before + 1 :] = step[self.n_before :]
        return np.maximum(length, LEAST_PIECE_M)

    def summed_outward(self, values: np.ndarray) -> np.ndarray:
        """Of each piece, the sum of values of all laterals it feeds, (k,)."""
        out = np.empty(len(values))
        n = self.n_before
        out[:n] = np.cumsum(values[:n])
        out[n:] = np.cumsum(values[n:][::-1])[::-1]
        return out

    def summed_inward(self, values: np.ndarray) -> np.ndarray:
        """Of each lateral, the sum of values of all pieces between it and the valve, (k,)."""
        out = np.empty(len(values))
        n = self.n_before
        out[:n] = np.cumsum(values[:n][::-1])[::-1]
        out[n:] = np.cumsum(values[n:])
        return out


def manifold_of(laterals, station_m, xy_m, height_m, flow_l_h) -> Manifold:
    """A set's submain, its valve where half of the flow stands to each side, midway between two inlets."""
    k = len(laterals)
    half = np.cumsum(flow_l_h) - flow_l_h / 2 < (1 - _TIE) * flow_l_h.sum() / 2
    n = min(max(int(half.sum()), 1), k - 1) if k > 1 else 0
    if k == 1:
        return Manifold(
            laterals,
            station_m,
            xy_m,
            height_m,
            float(station_m[0]),
            float(height_m[0]),
            tuple(xy_m[0].tolist()),
            0,
        )
    between = slice(n - 1, n + 1)
    return Manifold(
        laterals,
        station_m,
        xy_m,
        height_m,
        float(station_m[between].mean()),
        float(height_m[between].mean()),
        tuple(xy_m[between].mean(axis=0).tolist()),
        n,
    )


def velocity_m_s(flow_m3_s, inner_m):
    """Mean velocity in a full pipe. [m/s]"""
    return flow_m3_s / (np.pi / 4 * np.square(inner_m))


def least_pipe(flow_m3_s: np.ndarray, inner_m: np.ndarray, most_m_s: float) -> np.ndarray:
    """Index of the thinnest pipe in which each flow runs no faster, else of the widest, (k,)."""
    wanted = np.sqrt(_RESERVE * np.maximum(flow_m3_s, 0.0) / (np.pi / 4 * most_m_s))
    return np.minimum(np.searchsorted(inner_m, wanted), len(inner_m) - 1)


def chosen_pipes(
    manifold: Manifold,
    flow_m3_s: np.ndarray,
    inner_m: np.ndarray,
    most_m_s: float,
    friction: Friction,
    is_even,
) -> np.ndarray:
    """Index of the pipe of every piece, (k,).

    As thin as the velocity allows; then, while `is_even(inlet heads)` is not so, the pieces in which most
    head a metre is lost become one size wider. Towards the valve no pipe is thinner.

    Parameters
    ----------
    flow_m3_s : float array, shape (k,)
        Into each lateral. [m³/s]
    inner_m : float array, shape (p,)
        Inner diameters there are, from the thinnest. [m]
    is_even : function of a float array, shape (k,)
        Of the head each lateral loses to friction in its submain. [m]
    """
    carried, length = manifold.summed_outward(flow_m3_s), manifold.length_m
    last = len(inner_m) - 1
    size = _never_thinner_inward(manifold, least_pipe(carried, inner_m, most_m_s))
    # What every piece would lose in every pipe, looked up while pieces grow.
    wide, k = np.repeat(inner_m, len(carried)), len(inner_m)
    lost = friction.loss_and_slope(np.tile(carried, k), wide, np.tile(length, k))[0]
    lost = lost.reshape(k, len(carried))
    piece = np.arange(len(carried))
    while True:
        loss = lost[size, piece]
        if is_even(manifold.summed_inward(loss)) or (size == last).all():
            return size
        slope = np.where(size < last, loss / length, -1.0)
        steep = slope >= _STEEP_SHARE * slope.max()
        size = _never_thinner_inward(manifold, size + steep)


def _never_thinner_inward(manifold: Manifold, size: np.ndarray) -> np.ndarray:
    n = manifold.n_before
    out = size.copy()
    out[:n] = np.maximum.accumulate(size[:n])
    out[n:] = np.maximum.accumulate(size[n:][::-1])[::-1]
    return out
