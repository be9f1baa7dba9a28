"""Head lost to friction in small smooth tube, from laminar to turbulent flow.

Everything is in SI units here: metres, cubic metres a second.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

GRAVITY_M_S2 = 9.80665
"""Standard gravity, by convention. [m/s²]"""
LAMINAR_BELOW = 2000.0
TURBULENT_FROM = 4000.0
"""Reynolds numbers between which flow is in transition, as EPANET has it."""
POLYETHYLENE_ROUGHNESS_M = 1.5e-6
"""Usual value for drawn plastic tube, common practice. [m]"""
HAZEN_WILLIAMS_M = 1.852
_HAZEN_WILLIAMS = 4.727 * 0.3048 ** (4.871 - 3 * HAZEN_WILLIAMS_M)
"""10.67: EPANET's 4.727 for feet and cubic feet a second, in metres. Source: Rossman, EPANET 2 Users
Manual, EPA/600/R-00/057, 2000, table 3.1."""
_STRAIGHT_BELOW_M3_S = 1e-9
"""Below this flow a power law's loss is taken as a straight line, so that its slope never vanishes:
0.004 L/h, far less than one emitter gives. [m³/s]"""

Law = Literal["darcy-weisbach", "hazen-williams", "blasius"]


def water_viscosity_m2_s(temperature_c: float = 20.0) -> float:
    """Kinematic viscosity of water at air pressure, 0 to 100 °C. [m²/s]

    Sources: dynamic viscosity by IAPWS, Revised supplementary release on properties of liquid water
    at 0.1 MPa, SR6-08, 2011, eq. 8; density by Kell, J. Chem. Eng. Data 20:97, 1975 (both from
    memory; checked at 20 °C against 1.0034 mm²/s).

    >>> f"{water_viscosity_m2_s(20.0):.4g}"
    '1.003e-06'
    """
    if not 0 <= temperature_c <= 100:
        raise ValueError(f"temperature_c is {temperature_c}; water is liquid within 0 and 100")
    t, part = temperature_c, (temperature_c + 273.15) / 300.0
    pairs = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
    dynamic_pa_s = 1e-6 * sum(a * part**b for a, b in pairs)
    top = 999.83952 + t * (16.945176 + t * (-7.9870401e-3 + t * (-46.170461e-6 + t * 105.56302e-9)))
    density = (top - 280.54253e-12 * t**5) / (1 + 16.879850e-3 * t)
    return dynamic_pa_s / density


def reynolds(flow_m3_s, diameter_m, viscosity_m2_s: float):
    """Reynolds number of a full tube; below 0 where the flow is."""
    return 4 / np.pi * flow_m3_s / (diameter_m * viscosity_m2_s)


def friction_factor(reynolds_number, relative_roughness=0.0):
    """Darcy's friction factor, as EPANET has it.

    64/Re below 2,000; Swamee and Jain from 4,000; Dunlop's cubic between, which joins both in value
    and slope.

    Sources: Rossman, EPANET 2 Users Manual, EPA/600/R-00/057, 2000, appendix D; Swamee and Jain,
    Explicit equations for pipe-flow problems, J. Hydraul. Div. ASCE 102:657, 1976.

    Parameters
    ----------
    reynolds_number : float array, above 0
    relative_roughness : float array of the same shape, or float
        Roughness over inner diameter.

    >>> round(float(friction_factor(1000.0)), 4), round(float(friction_factor(10_000.0)), 4)
    (0.064, 0.031)
    """
    return _factor_and_slope(reynolds_number, relative_roughness)[0]


def _factor_and_slope(reynolds_number, relative_roughness) -> tuple[np.ndarray, np.ndarray]:
    """Friction factor f and Re · df/dRe."""
    re, rough = np.broadcast_arrays(np.asarray(reynolds_number, float), relative_roughness)
    factor = np.array(64 / np.maximum(re, 1e-12))
    slope = np.array(-factor)
    fast = re >= TURBULENT_FROM
    if fast.any():
        factor[fast], slope[fast] = _swamee_jain(re[fast], rough[fast])
    between = (re > LAMINAR_BELOW) & ~fast
    if between.any():
        factor[between], slope[between] = _dunlop(re[between], rough[between])
    return factor, slope


def _swamee_jain(re, rough):
    y = 5.74 * re**-0.9
    inside = rough / 3.7 + y
    root = -2 / np.log(10) * np.log(inside)
    factor = root**-2
    return factor, -1.8 * (2 / np.log(10)) * factor * y / (inside * root)


def _dunlop(re, rough):
    end, end_slope = _swamee_jain(np.full_like(re, TURBULENT_FROM), rough)
    fa, fb = end, 2 * end + end_slope
    r = re / LAMINAR_BELOW
    x1 = 7 * fa - fb
    x2 = 0.128 - 17 * fa + 2.5 * fb
    x3 = -0.128 + 13 * fa - 2 * fb
    x4 = 0.032 - 3 * fa + 0.5 * fb
    return x1 + r * (x2 + r * (x3 + r * x4)), r * (x2 + r * (2 * x3 + r * 3 * x4))


def friction_factor_blasius(reynolds_number, laminar_below: float = 0.0):
    """Blasius' friction factor for smooth pipe, holds from about 3,000 to 100,000.

    For comparison. In a lateral's tail, where the flow is laminar, it over-predicts; with
    `laminar_below` the factor there is 64/Re, with a jump. Source: Blasius, Forschungsarbeiten auf
    dem Gebiete des Ingenieurwesens 131, 1913 (from memory).
    """
    re = np.asarray(reynolds_number, dtype=float)
    return np.where(re < laminar_below, 64 / re, 0.3164 * re**-0.25)


@dataclass(frozen=True)
class Friction:
    """How head is lost along a tube.

    `"darcy-weisbach"` holds from laminar to turbulent flow and is the one to use. The others are for
    comparing with older sheets: `"hazen-williams"` was made for large pipe and *under-predicts the
    loss in small tube* (by about a sixth in a usual drip line); `"blasius"` is for smooth turbulent flow
    and over-predicts where flow is laminar.

    Attributes
    ----------
    roughness_m : float
        Of the tube's wall, for Darcy and Weisbach. [m]
    viscosity_m2_s : float
        Kinematic, of the water; see `water_viscosity_m2_s`. [m²/s]
    hazen_williams_c : float
        Hazen and Williams' coefficient; 150 for plastic, common practice.
    gravity_m_s2 : float
        EPANET has 32.2 ft/s², 0.08 % more than the standard.
    """

    law: Law = "darcy-weisbach"
    roughness_m: float = POLYETHYLENE_ROUGHNESS_M
    viscosity_m2_s: float = water_viscosity_m2_s(20.0)
    hazen_williams_c: float = 150.0
    gravity_m_s2: float = GRAVITY_M_S2

    def __post_init__(self):
        if self.law not in ("darcy-weisbach", "hazen-williams", "blasius"):
            raise ValueError(
                f"law is {self.law!r}; it must be darcy-weisbach, hazen-williams or blasius"
            )
        if self.roughness_m < 0:
            raise ValueError(f"roughness_m is {self.roughness_m}; it must not be below 0")
        for name in ("viscosity_m2_s", "hazen_williams_c", "gravity_m_s2"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} is {getattr(self, name)}; it must be above 0")

    @cached_property
    def _velocity_head(self) -> float:
        """v²/2g of a flow Q in a diameter d, over Q²/d⁴."""
        return 8 / (self.gravity_m_s2 * np.pi**2)

    def loss_and_slope(self, flow_m3_s, diameter_m, length_m, loss_coefficient=0.0):
        """Head lost along pieces of tube, and its rise with the flow. [m], [s/m²]

        Loss has the sign of the flow.

        Parameters
        ----------
        flow_m3_s, diameter_m, length_m : float array, shape (p,)
        loss_coefficient : float array, shape (p,), or float
            Velocity heads lost at fittings besides, as K in K·v²/2g.
        """
        flow = np.abs(flow_m3_s)
        each = self._velocity_head / diameter_m**4
        local = each * loss_coefficient
        if self.law == "darcy-weisbach":
            loss, slope = self._darcy_weisbach(flow, diameter_m, each * length_m / diameter_m)
        else:
            loss, slope = self._by_power(flow, diameter_m, length_m)
        return np.copysign(loss + local * flow**2, flow_m3_s), slope + 2 * local * flow

    def _darcy_weisbach(self, flow, diameter_m, weight):
        re = reynolds(flow, diameter_m, self.viscosity_m2_s)
        # 64/Re of the flow times its square: a straight line, also where nothing flows.
        slope = weight * (16 * np.pi * self.viscosity_m2_s * diameter_m)
        loss = slope * flow
        rest = re > LAMINAR_BELOW
        if rest.any():
            quick, heavy = flow[rest], weight[rest]
            rough = self.roughness_m / diameter_m[rest]
            factor, factor_slope = _factor_and_slope(re[rest], rough)
            loss[rest] = factor * heavy * quick**2
            slope[rest] = (2 * factor + factor_slope) * heavy * quick
        return loss, slope

    def _by_power(self, flow, diameter_m, length_m):
        if self.law == "hazen-williams":
            power = HAZEN_WILLIAMS_M
            size = self.hazen_williams_c**power * diameter_m**4.871
            weight = _HAZEN_WILLIAMS * length_m / size
        else:
            power = 1.75
            line = 0.3164 * (np.pi * self.viscosity_m2_s / 4) ** 0.25
            weight = line * self._velocity_head * length_m / diameter_m**4.75
        full = np.maximum(flow, _STRAIGHT_BELOW_M3_S)
        loss = weight * full**power
        low = flow < _STRAIGHT_BELOW_M3_S
        slope = np.where(low, 1.0, power) * loss / full
        return np.where(low, slope * flow, loss), slope
