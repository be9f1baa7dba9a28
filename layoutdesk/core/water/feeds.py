"""Where laterals have their water from: a flow that is asked for, or submains behind valves.

While all laterals are solved each is, step by step, a straight line: what it takes is
`given + rise · head at its inlet`. A feed answers with the heads that go with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from .friction import Friction
from .strings import Strings


class Feed(Protocol):
    """Answers to what laterals take with the heads at their inlets."""

    def heads_m(self, given_m3_s, rise_m2_s, inlet_head_m, share: float) -> np.ndarray:
        """Heads at the inlets, (n,), where laterals take `given + rise · head`. [m]

        `inlet_head_m` are those of the step before; only a share of the step is taken.
        """
        ...


@dataclass(frozen=True, eq=False)
class AskedFlow:
    """A flow into each lateral, whatever head it takes.

    Where no flow answers to the head it stays as it is, and the flow asked for is missed.
    """

    total_m3_s: np.ndarray

    def heads_m(self, given_m3_s, rise_m2_s, inlet_head_m, share: float = 1.0) -> np.ndarray:
        """Heads that bring the flows, (n,). [m]"""
        answers = rise_m2_s > 0
        wanted = self.total_m3_s - given_m3_s
        return np.where(answers, wanted / np.where(answers, rise_m2_s, 1.0), inlet_head_m)


class SubmainFeed:
    """Submains that lead from valves, behind which a head is held, to inlets of laterals.

    Parameters
    ----------
    n_before : sequence of int
        Laterals of each set that stand before its valve.
    laterals : sequence of int array
        Which laterals each set has, in the order in which they stand; in no other set.
    valve_head_m : float array, shape (k,)
        Total head behind the valve of each piece's set, over the inlet at the piece's end. [m]
    length_m, inner_m : float array, shape (k,)
        Of the piece that feeds each lateral, set after set. [m]
    friction : Friction
    taken_m3_s : float array, shape (n,)
        What laterals take, for a beginning. [m³/s]
    """

    def __init__(
        self, n_before, laterals, valve_head_m, length_m, inner_m, friction: Friction, taken_m3_s
    ):
        self.which = np.concatenate([np.empty(0, np.intp), *laterals])
        onward = np.concatenate(
            [
                np.empty(0, bool),
                *(np.arange(len(w)) >= n for w, n in zip(laterals, n_before, strict=True)),
            ]
        )
        place = np.repeat(np.arange(len(laterals)), [len(w) for w in laterals])
        joined = (np.diff(place) == 0) & (onward[1:] == onward[:-1])
        self.strings = Strings(joined, onward)
        self.valve_head_m, self.friction = valve_head_m, friction
        self.length_m, self.inner_m = length_m, inner_m
        taken = taken_m3_s[self.which]
        bounds = np.concatenate([[0], np.cumsum([len(w) for w in laterals])]).astype(np.intp)
        self.flow = np.concatenate(
            [
                np.empty(0),
                *(
                    _outward(taken[a:b], n)
                    for a, b, n in zip(bounds[:-1], bounds[1:], n_before, strict=True)
                ),
            ]
        )

    def heads_m(self, given_m3_s, rise_m2_s, inlet_head_m, share: float = 1.0) -> np.ndarray:
        """Heads that submains leave at the inlets, (n,); of laterals in no set as they were. [m]"""
        if not len(self.which):
            return inlet_head_m
        loss, slope = self.friction.loss_and_slope(self.flow, self.inner_m, self.length_m)
        open_to = 1 / slope
        still = self.flow - open_to * loss
        rise = rise_m2_s[self.which]
        given = given_m3_s[self.which] + rise * self.valve_head_m
        below = self.strings.heads_below(open_to, still, rise, given)
        self.flow = self.flow + share * (self.strings.flows(open_to, still, below) - self.flow)
        inlet = np.array(inlet_head_m, dtype=float)
        inlet[self.which] = below + self.valve_head_m
        return inlet


def _outward(taken: np.ndarray, n_before: int) -> np.ndarray:
    """Flow in the piece that feeds each lateral of a set."""
    return np.concatenate([np.cumsum(taken[:n_before]), np.cumsum(taken[n_before:][::-1])[::-1]])
