"""Words that findings on a drip system share."""

from __future__ import annotations

from ..layout.numbering import segment_code
from .design import WaterDesign

MOST_OF_A_KIND = 5
"""Findings of one kind told one by one; the rest is in one more."""


def code_of(design: WaterDesign, lateral: int) -> str:
    """Code of a lateral: that of its first segment."""
    lines, i = design.lines, int(lateral)
    name = design.blocks[int(lines.block[i])]
    return segment_code(name, int(lines.number[i]), int(lines.letter[i]))


def xy_of(place) -> tuple[float, float]:
    """A place as a finding has it."""
    return float(place[0]), float(place[1])


def counted(n: int, noun: str) -> str:
    """A number of things.

    >>> counted(1, "vine"), counted(1200, "vine")
    ('1 vine', '1,200 vines')
    """
    return f"{n:,} {noun}" if n == 1 else f"{n:,} {noun}s"
