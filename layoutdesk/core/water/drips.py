"""What a block's drip description means to the solver."""

from __future__ import annotations

from ..model.water import Drip
from .emitters import Emitter
from .friction import Friction

DRIP_TUBES_MM: tuple[tuple[float, float], ...] = (
    # what a tube is called by, about its outer diameter, and its inner one (common practice)
    (16.0, 13.6),
    (17.0, 14.6),
    (20.0, 17.6),
    (23.0, 20.8),
    (25.0, 22.2),
)
"""Drip tubes that advice is given in. [mm]"""


def emitter_of(drip: Drip) -> Emitter:
    """A block's emitter by its law."""
    return Emitter(
        drip.emitter_l_h,
        drip.emitter_head_m,
        drip.exponent,
        drip.cv,
        drip.least_head_m,
        drip.greatest_head_m,
        drip.emitters_per_vine,
    )


def friction_of(drip: Drip) -> Friction:
    """Friction in a block's tubes."""
    return Friction(drip.law)


def tube_called(inner_mm: float) -> str:
    """What people call a drip tube by its inner diameter: the size it is sold by, where that is known.

    >>> tube_called(17.6), tube_called(15.0)
    ('20 mm tube', 'tube of 15 mm inside')
    """
    for outer, inner in DRIP_TUBES_MM:
        if abs(inner - inner_mm) < 0.05:
            return f"{outer:g} mm tube"
    return f"tube of {inner_mm:g} mm inside"
