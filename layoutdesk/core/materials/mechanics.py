"""What wires weigh, bear and pull: simple statics, to see slips by. No design, no certificate.

Soil and supplier decide what an end holds; these figures say only what pulls on it.

Sources: statics "from definition" where nothing else is named. Steel: EN 1993-1-1:2005, 3.2.6
(modulus, expansion) and EN 1991-1-1:2002, table A.4 (density), both from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..model.trellis import Trellis, Wire

STEEL_KG_M3 = 7850.0
"""Density of steel, EN 1991-1-1 table A.4 (77 to 78.5 kN/m³). Coating is not told apart. [kg/m³]"""
STEEL_MODULUS_MPA = 210_000.0
"""Modulus of elasticity, EN 1993-1-1, 3.2.6. Drawn wire may have some percent less. [MPa]"""
STEEL_EXPANSION_K = 12e-6
"""Linear thermal expansion to 100 °C, EN 1993-1-1, 3.2.6. [1/K]"""
GRAVITY_M_S2 = 9.80665
"""Standard gravity, from definition. [m/s²]"""
_NEWTON_STEPS = 60


def wire_area_mm2(diameter_mm):
    """Cross section of round wire, from definition. [mm²]"""
    return math.pi / 4 * np.square(diameter_mm)


def wire_mass_kg_m(diameter_mm, density_kg_m3: float = STEEL_KG_M3):
    """Mass of a metre of round wire, from definition. [kg/m]

    Examples
    --------
    >>> round(float(wire_mass_kg_m(2.5)), 5)
    0.03853
    """
    return wire_area_mm2(diameter_mm) * 1e-6 * density_kg_m3


def roll_length_m(mass_kg, diameter_mm, density_kg_m3: float = STEEL_KG_M3):
    """Length of wire in a roll of a mass, from definition. [m]

    Examples
    --------
    >>> round(float(roll_length_m(25, 2.5)))
    649
    """
    return mass_kg / wire_mass_kg_m(diameter_mm, density_kg_m3)


def breaking_load_n(diameter_mm, strength_mpa):
    """Pull at which a sound wire breaks: cross section times tensile strength. [N]

    Knots, crimps, nicks and rust break earlier.

    Sources: from definition.
    """
    return wire_area_mm2(diameter_mm) * strength_mpa


def tension_after_n(
    wire: Wire,
    warmer_k,
    span_m: float = 0.0,
    load_n_m: float | None = None,
    modulus_mpa: float = STEEL_MODULUS_MPA,
    expansion_k: float = STEEL_EXPANSION_K,
):
    """Tension of a wire when it has become warmer, or loaded, since it was drawn. [N]

    The wire is elastic, slides at line posts and its ends do not give; ends that give lose less
    and gain less. With no span it is straight and without weight, and may become slack: 0.

    Parameters
    ----------
    warmer_k : float or array
        Negative where colder. [K]
    span_m : float
        Between posts; sag evens tension out. [m]
    load_n_m : float, optional
        All weight on the wire now; its own, under which it was drawn, where not given. [N/m]

    Sources: the change-of-state equation of overhead lines for parabolic sag, as in Kiessling et
    al., Overhead Power Lines, Springer 2003 (from memory); holds for sags under a tenth of the span.
    """
    stiff_n = wire_area_mm2(wire.diameter_mm) * modulus_mpa
    own = wire_mass_kg_m(wire.diameter_mm) * GRAVITY_M_S2
    load = own if load_n_m is None else load_n_m
    drawn = wire.tension_n
    loss = stiff_n * expansion_k * np.asarray(warmer_k, dtype=float)
    c = stiff_n * (load * span_m) ** 2 / 24
    if c == 0 or drawn == 0:
        return np.maximum(drawn - loss, 0.0) if drawn else np.zeros_like(loss)
    # T³ + b T² = c has one positive root, and Newton's steps from above never pass it.
    b = stiff_n * (own * span_m / drawn) ** 2 / 24 - drawn + loss
    tension = np.maximum(-b, 0.0) + np.cbrt(c)
    for _ in range(_NEWTON_STEPS):
        tension = tension - (tension * tension * (tension + b) - c) / (
            tension * (3 * tension + 2 * b)
        )
    return tension


def sag_m(load_n_m, span_m, tension_n):
    """How far a level wire hangs through midway between posts, as a parabola. [m]

    Holds for sags under a tenth of the span; the tension is that under the load.

    Sources: from definition, w·l²/(8·T).

    Examples
    --------
    >>> round(float(sag_m(30.0, 6.0, 1100.0)), 3)
    0.123
    """
    return load_n_m * np.square(span_m) / (8 * np.asarray(tension_n, dtype=float))


@dataclass(frozen=True)
class EndShape:
    """How one row end holds, as a triangle over the end post's foot.

    Attributes
    ----------
    spread_m : float
        From the end post's foot to the foot of the anchor, brace or brace post. [m]
    member_m : float
        Length of what slants: tie, diagonal loop, or brace. [m]
    angle_deg : float
        Of the same to level ground; over 90 where it leans back over the post's foot. [deg]
    lever_m : float
        From the end post's foot at right angles to it: what it holds the wires' moment by. [m]
    """

    spread_m: float
    member_m: float
    angle_deg: float
    lever_m: float


def end_shape(trellis: Trellis, anchor_m: float) -> EndShape | None:
    """Geometry of a row end on level ground; None for a tie without an anchor to go to.

    Parameters
    ----------
    anchor_m : float
        From the end post's foot out to the anchor; only ties need it. [m]

    Sources: from definition.

    Examples
    --------
    >>> round(end_shape(Trellis(ends="slanted brace", tie_height_m=1.5), 0).member_m, 3)
    1.732
    """
    height = trellis.tie_m
    leans_out = height / math.tan(math.radians(trellis.end_angle_deg))
    if trellis.ends == "tied back":
        base, run = anchor_m, anchor_m - leans_out
        if base <= 0:
            return None
    elif trellis.ends == "braced inside":
        # The diagonal goes from the brace post's top to the end post's foot.
        base = run = trellis.brace_span_m
    else:
        run = height / math.tan(math.radians(trellis.brace_angle_deg))
        base = run - leans_out
        if base <= 0.05:
            return None
    member = math.hypot(run, height)
    return EndShape(base, member, math.degrees(math.atan2(height, run)), base * height / member)


def anchor_for_m(height_m: float, post_angle_deg: float, tie_angle_deg: float) -> float:
    """How far beyond the end post's foot an anchor stands for chosen angles. [m]

    Both angles are to level ground; the post leans out of the row, the tie comes down outside it.

    Sources: from definition.
    """
    post, tie = math.tan(math.radians(post_angle_deg)), math.tan(math.radians(tie_angle_deg))
    return height_m / post + height_m / tie


@dataclass(frozen=True)
class EndPull:
    """What all wires of a row pull on one end.

    Attributes
    ----------
    pull_n : float
        Level, all wires together. [N]
    moment_n_m : float
        About the end post's foot. [N·m]
    member_n : float
        In the tie, the diagonal loop or the brace. [N]
    uplift_n : float
        Upwards: on the anchor, or on the end post of a braced end. [N]
    """

    pull_n: float
    moment_n_m: float
    member_n: float
    uplift_n: float


def end_pull(trellis: Trellis, anchor_m: float, warmer_k: float = 0.0) -> EndPull:
    """What the wires pull on one end, with the end post's foot as a hinge.

    Soil round the foot takes a part in truth, so tie and brace bear rather less. NaN for tie and
    uplift where there is no anchor.

    Sources: statics, from definition: moment over lever.
    """
    tension = [
        (run.lines * float(tension_after_n(run.wire, warmer_k)), run.height_m)
        for run in trellis.wires
    ]
    pull = sum(t for t, _ in tension)
    moment = sum(t * h for t, h in tension)
    shape = end_shape(trellis, anchor_m)
    if shape is None:
        return EndPull(pull, moment, math.nan, math.nan)
    return EndPull(pull, moment, moment / shape.lever_m, moment / shape.spread_m)


def height_to_spacing(trellis: Trellis, row_spacing_m: float) -> float:
    """Trellis height over row spacing; 1 and less is the usual advice (second-hand)."""
    return trellis.height_m / row_spacing_m
