"""Pressure and flow at every outlet of many laterals, solved together.

Heads at the outlets and flows in the pieces of tube between them are unknown; friction and emitters
are not linear in them. Newton's method on both leaves, for each step, one symmetric tridiagonal system
of heads over all laterals, as no piece joins outlets that are not neighbours. Emitters keep the form
flow of head, which is nearly straight for compensating ones: they take no more steps than others.
Submains are taken in the same way (`feeds`): in each step a lateral is to them a straight line.
The method is that of Todini and Pilati, A gradient method for the analysis of pipe networks, 1987.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .emitters import FULL_LAW_FROM_M, LITRES_AN_HOUR, Emitter
from .feeds import AskedFlow, Feed
from .friction import Friction
from .laterals import Laterals
from .strings import Strings

_CLOSE_M = 1e-6
"""A step that moves no head by more than this is the last: the next would move it by far less. [m]"""
_CLOSE_SHARE = 1e-6
"""Of the flow asked for, that may be missing."""
_WHOLE_STEPS = 25
"""Half of each step is taken after so many, in case it goes to and fro; three to five are usual."""
_STEPS_AT_MOST = 120


@dataclass(frozen=True, eq=False)
class LateralFlow:
    """What flows in laterals.

    Attributes
    ----------
    laterals : Laterals
    inlet_head_m : float array, shape (n,)
        Pressure head at each inlet. [m]
    head_m : float array, shape (t,)
        Pressure head at each outlet. [m]
    flow_l_h : float array, shape (t,)
        Flow out of each outlet, all its emitters together. [L/h]
    piece_l_h : float array, shape (t,)
        Flow in the piece of tube that feeds each outlet. [L/h]
    converged : bool array, shape (n,)
        Where false the numbers of the lateral are not to be used.
    steps : int
        Steps of the solution.
    """

    laterals: Laterals
    inlet_head_m: np.ndarray
    head_m: np.ndarray
    flow_l_h: np.ndarray
    piece_l_h: np.ndarray
    converged: np.ndarray
    steps: int

    @cached_property
    def total_l_h(self) -> np.ndarray:
        """Flow into each lateral, (n,). [L/h]"""
        return self.laterals.summed(self.flow_l_h)

    @cached_property
    def least_head_m(self) -> np.ndarray:
        """Lowest pressure head of each lateral's outlets, (n,); NaN where there are none. [m]"""
        return self.laterals.reduced(np.minimum, self.head_m)

    @cached_property
    def greatest_head_m(self) -> np.ndarray:
        """Highest pressure head of each lateral's outlets, (n,); NaN where there are none. [m]"""
        return self.laterals.reduced(np.maximum, self.head_m)

    @cached_property
    def least_l_h(self) -> np.ndarray:
        """Least flow of one emitter in each lateral, (n,); NaN where there are none. [L/h]"""
        return self.laterals.reduced(np.fmin, self.emitter_l_h)

    @cached_property
    def greatest_l_h(self) -> np.ndarray:
        """Greatest flow of one emitter in each lateral, (n,); NaN where there are none. [L/h]"""
        return self.laterals.reduced(np.fmax, self.emitter_l_h)

    @cached_property
    def emitter_l_h(self) -> np.ndarray:
        """Flow of one emitter at each outlet, (t,); NaN where it feeds none. [L/h]"""
        emitters = self.laterals.emitters
        fed = np.where(emitters > 0, emitters, np.nan)
        return self.flow_l_h / fed

    @property
    def velocity_m_s(self) -> np.ndarray:
        """Highest velocity in each lateral, (n,); NaN where there are no outlets. [m/s]"""
        flow = self.laterals.reduced(np.maximum, self.piece_l_h) / LITRES_AN_HOUR
        return flow / (np.pi / 4 * self.laterals.diameter_m**2)

    def negative(self) -> np.ndarray:
        """Outlets at a head below nothing, that draw air or soil instead of giving water, bool (t,)."""
        return self.head_m < 0

    def below_range(self, emitter: Emitter) -> np.ndarray:
        """Outlets at less head than the emitter works at, bool (t,)."""
        return self.head_m < emitter.least_head_m

    def above_range(self, emitter: Emitter) -> np.ndarray:
        """Outlets at more head than the emitter works at, bool (t,)."""
        return self.head_m > emitter.greatest_head_m


def solve_laterals(
    laterals: Laterals,
    emitter: Emitter,
    friction: Friction | None = None,
    *,
    inlet_head_m=None,
    total_l_h=None,
    feed: Feed | None = None,
    start: LateralFlow | None = None,
) -> LateralFlow:
    """Head and flow at every outlet, from the head at the inlets or the flow into them.

    Parameters
    ----------
    friction : Friction, optional
        Of Darcy and Weisbach with usual values, if left out.
    inlet_head_m : float array, shape (n,), or float
        Pressure head at each inlet. [m]
    total_l_h : float array, shape (n,), or float
        Flow into each lateral, instead of the head; the head that brings it is found. Emitters that
        compensate fully give what they give at any head: such a lateral does not converge. [L/h]
    feed : Feed, optional
        Submains that the heads at the inlets follow from; `inlet_head_m` is a first guess then.
    start : LateralFlow, optional
        Of the same laterals at other heads: what is near takes fewer steps.

    Examples
    --------
    >>> from layoutdesk.core.water import even_laterals
    >>> row = even_laterals([100], 1.0, 1.0, 0.0136)
    >>> found = solve_laterals(row, Emitter(2.0, 10.0, 0.5), inlet_head_m=12.0)
    >>> round(float(found.head_m[-1]), 2), round(float(found.total_l_h[0]), 1)
    (11.2, 213.5)
    """
    if (inlet_head_m is None) == (total_l_h is None):
        raise ValueError("either inlet_head_m or total_l_h must be given")
    friction = friction or Friction()
    n = len(laterals)
    if total_l_h is None:
        inlet = np.broadcast_to(np.asarray(inlet_head_m, dtype=float), (n,))
    else:
        wanted = np.broadcast_to(np.asarray(total_l_h, dtype=float), (n,)) / LITRES_AN_HOUR
        feed = AskedFlow(wanted)
        inlet = np.full(n, emitter.nominal_head_m)
    if not len(laterals.outlet_m):
        none = np.zeros(0)
        return LateralFlow(laterals, inlet, none, none, none, np.ones(n, dtype=bool), 0)
    return _Newton(laterals, emitter, friction).solve(inlet, feed, start)


class _Newton:
    """The steps of one solution. Heads are told against the inlet's total head, which keeps digits."""

    def __init__(self, laterals: Laterals, emitter: Emitter, friction: Friction):
        self.laterals, self.emitter, self.friction = laterals, emitter, friction
        self.diameter_m = laterals.diameter_m[laterals.lateral]
        self.strings = Strings(laterals.joined, laterals.onward)

    def solve(
        self, inlet_head_m, feed: Feed | None = None, start: LateralFlow | None = None
    ) -> LateralFlow:
        lat = self.laterals
        inlet = inlet_head_m
        if start is None:
            head = inlet[lat.lateral] - lat.rise_m
            flow = lat.downstream(self._emitted(np.maximum(head, 1.0))[0])
        else:
            head = start.head_m + (inlet - start.inlet_head_m)[lat.lateral]
            flow = start.piece_l_h / LITRES_AN_HOUR
        converged = np.zeros(len(lat), dtype=bool)
        steps = 0
        while steps < _STEPS_AT_MOST and not converged.all():
            share = 1.0 if steps < _WHOLE_STEPS else 0.5
            inlet, new_head, new_flow = self._step(inlet, head, flow, feed, share)
            moved = lat.reduced(np.maximum, np.abs(new_head - head))
            converged = (moved <= _CLOSE_M) | (lat.count == 0)
            # An emitter that opens or runs dry passes its straight line first: to step over it and
            # back could go on for ever.
            opened = (head <= 0) & (new_head > FULL_LAW_FROM_M)
            dried = (head >= FULL_LAW_FROM_M) & (new_head < 0)
            new_head = np.where(opened | dried, FULL_LAW_FROM_M / 2, new_head)
            if share < 1:
                part = np.where(converged, 1.0, share)[lat.lateral]
                new_head = head + part * (new_head - head)
                new_flow = flow + part * (new_flow - flow)
            head, flow = new_head, new_flow
            steps += 1
        emitted = self._emitted(head)[0]
        if isinstance(feed, AskedFlow):
            off = np.abs(lat.summed(emitted) - feed.total_m3_s)
            converged &= off <= _CLOSE_SHARE * np.abs(feed.total_m3_s)
        emitted *= LITRES_AN_HOUR
        return LateralFlow(lat, inlet, head, emitted, flow * LITRES_AN_HOUR, converged, steps)

    def _emitted(self, head_m):
        """Flow out of each outlet and its rise with the head. [m³/s], [m²/s]"""
        flow, slope = self.emitter.flow_and_slope(head_m)
        weight = self.laterals.emitters / LITRES_AN_HOUR
        return flow * weight, slope * weight

    def _step(self, inlet, head, flow, feed: Feed | None, share: float):
        """One step: the inlets' heads, the outlets' heads, and the flows in the pieces."""
        lat = self.laterals
        loss, slope = self.friction.loss_and_slope(
            flow, self.diameter_m, lat.piece_m, lat.barb_loss
        )
        open_to = 1 / slope
        still = flow - open_to * loss
        emitted, rise = self._emitted(head)
        given = emitted - rise * (head + lat.rise_m)
        if feed is None:
            given += rise * inlet[lat.lateral]
            below = self.strings.heads_below(open_to, still, rise, given)
        else:
            # What comes of a metre more at the inlet is solved beside it: so each lateral is a
            # straight line to its feed.
            both = self.strings.heads_below(open_to, still, rise, given, rise)
            taken = lat.summed(given + rise * both[:, 0])
            each = lat.summed(rise * (both[:, 1] + 1))
            inlet = feed.heads_m(taken, each, inlet, share)
            below = both[:, 0] + both[:, 1] * inlet[lat.lateral]
        new_flow = self.strings.flows(open_to, still, below)
        return inlet, inlet[lat.lateral] + below - lat.rise_m, new_flow
