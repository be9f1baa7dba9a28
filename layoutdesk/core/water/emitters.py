"""Emitters: what flows out at a pressure, and how far one differs from the next."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

KPA_PER_M = 9.80665
"""Pressure of one metre of water, at 1,000 kg/m³ and standard gravity, by convention. [kPa]"""
LITRES_AN_HOUR = 3.6e6
"""Litres an hour in one cubic metre a second."""
SECONDS_AN_HOUR = 3600.0
FULL_LAW_FROM_M = 0.1
"""Head from which an emitter follows its law. Below, its flow falls to nothing in a straight line,
so that a compensating one does not go from all to nothing at once; no printed law reaches so low
(1 kPa). [m]"""


def head_of_kpa(pressure_kpa):
    """Head of water at a pressure. [m]

    >>> round(head_of_kpa(100.0), 4)
    10.1972
    """
    return pressure_kpa / KPA_PER_M


def kpa_of_head(head_m):
    """Pressure at a head of water. [kPa]"""
    return head_m * KPA_PER_M


@dataclass(frozen=True)
class Emitter:
    """An emitter by its law q = k·Hˣ, with k from one flow at one head.

    Nothing flows in where the head is negative.

    Attributes
    ----------
    nominal_l_h, nominal_head_m : float
        Flow of one emitter, and the head it is told for. [L/h], [m]
    exponent : float
        x: 0 to 0.1 pressure compensating, 0.5 turbulent, 1 laminar. Source: Keller and Bliesner,
        Sprinkle and Trickle Irrigation, 1990 (from memory).
    cv : float
        Coefficient of variation by manufacture: standard deviation over mean of new emitters.
    least_head_m, greatest_head_m : float
        Working range: where the law is said to hold. [m]
    per_vine : float
        Emitters that serve one vine. More of them even out each other's differences.

    Examples
    --------
    >>> round(float(Emitter(2.0, 10.0, 0.5).flow_l_h(8.0)), 4)
    1.7889
    """

    nominal_l_h: float = 2.0
    nominal_head_m: float = 10.0
    exponent: float = 0.5
    cv: float = 0.05
    least_head_m: float = 5.0
    greatest_head_m: float = 40.0
    per_vine: float = 1.0

    def __post_init__(self):
        for name in ("nominal_l_h", "nominal_head_m", "per_vine"):
            if not 0 < getattr(self, name) < math.inf:
                raise ValueError(f"{name} is {getattr(self, name)}; it must be above 0")
        for name in ("exponent", "cv"):
            if not 0 <= getattr(self, name) <= 1:
                raise ValueError(f"{name} is {getattr(self, name)}; it must be within 0 and 1")
        if not 0 <= self.least_head_m <= self.greatest_head_m:
            raise ValueError("least_head_m must be at least 0 and at most greatest_head_m")

    @property
    def k_l_h(self) -> float:
        """Flow at a head of one metre by the law. [L/h]"""
        return self.nominal_l_h / self.nominal_head_m**self.exponent

    def flow_l_h(self, head_m):
        """Flow of one emitter at heads, any shape. [L/h]"""
        return self.flow_and_slope(head_m)[0]

    def flow_and_slope(self, head_m) -> tuple[np.ndarray, np.ndarray]:
        """Flow of one emitter, and its rise with the head, at heads of any shape. [L/h], [L/h per m]"""
        head = np.asarray(head_m, dtype=float)
        full = np.maximum(head, FULL_LAW_FROM_M)
        flow = self._law(full)
        slope = self.exponent * flow / full
        low = head < FULL_LAW_FROM_M
        if low.any():
            opened = head > 0
            line = flow / FULL_LAW_FROM_M
            flow = np.where(low, line * np.maximum(head, 0.0), flow)
            slope = np.where(low, np.where(opened, line, 0.0), slope)
        return flow, slope

    def _law(self, head):
        if self.exponent == 0.5:
            return self.k_l_h * np.sqrt(head)  # ten times as fast as the power
        return self.k_l_h * head**self.exponent
