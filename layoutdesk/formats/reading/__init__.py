"""Reading site outlines and exclusions from files people are given.

Every reader turns its file into `Piece`s (plain coordinate arrays); one place then decides the
coordinate system, one repairs, and one looks at the result's size and place on the Earth.
"""

from .entry import read_exclusions, read_outlines
from .shapes import Shape, Shapes

__all__ = ["Shape", "Shapes", "read_exclusions", "read_outlines"]
