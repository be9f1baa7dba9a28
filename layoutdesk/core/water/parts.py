"""Pipes and fittings of a drip system, for the take-off."""

from __future__ import annotations

from dataclasses import dataclass

from ..model import Product
from .design import WaterDesign

PARTS: dict[str, tuple[str, str]] = {
    # item: (label, unit it is counted in)
    "emitters": ("Emitters", "each"),
    "pipe_m": ("Pipe", "m"),
    "bridge_tube_m": ("Blank tube over gaps", "m"),
    "valves": ("Set valves with pressure regulator", "each"),
    "inlet_fittings": ("Take-offs, submain to drip line", "each"),
    "line_ends": ("Flushing ends of drip lines", "each"),
    "pipe_ends": ("Flushing ends of submains", "each"),
    "reducers": ("Reducers", "each"),
    "filters": ("Filter and control head", "each"),
}
"""Parts of a drip system beyond what stands in the rows, in the order they are listed."""


@dataclass(frozen=True)
class Part:
    """So much of one product, block "" being the site's own (mains, filter)."""

    block: str
    product: Product
    amount: float
    unit: str


def water_parts(design: WaterDesign) -> tuple[Part, ...]:
    """Everything a design takes."""
    raise NotImplementedError
