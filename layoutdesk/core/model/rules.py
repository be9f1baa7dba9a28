"""The rules by which a block's rows are laid out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from numbers import Real
from typing import Literal

Leftover = Literal["far end", "both ends", "stretch", "across"]
LEFTOVERS: tuple[str, ...] = ("far end", "both ends", "stretch", "across")
Lattice = Literal["square", "staggered"]
Side = Literal["left", "right"]


@dataclass(frozen=True)
class Alley:
    """A cross avenue through a point of the site frame, straight and without ends.

    `bearing_deg` is the avenue's own direction; None means at right angles to the rows.
    """

    x_m: float
    y_m: float
    width_m: float
    bearing_deg: float | None = None

    def __post_init__(self):
        if not (math.isfinite(self.width_m) and 0 < self.width_m <= 1000):
            raise ValueError(f"width_m: {self.width_m!r} is outside 0 to 1000")


@dataclass(frozen=True)
class RowRules:
    """How rows, posts and vines stand in a block. Lengths in metres on the ground.

    Attributes
    ----------
    bearing_deg : float
        Direction the rows run, clockwise from true north at the frame's origin. [deg]
    row_spacing_m, vine_spacing_m : float
        Between row lines at right angles; between vines along the row.
    headland_m, side_margin_m : float
        Clear width along end edges (those at `side_angle_deg` or more to the rows) and side edges.
    first_row_m : float or "best"
        Row 1's line lies this far right of the plantable area's left extreme; "best" finds the
        place within one spacing that gives the most vines.
    first_vine_m, last_vine_m : float
        From the start end post to the first vine; at least so much from the last vine to the far one.
    min_row_m : float
        Shorter pieces are left out and reported.
    line_post_every : int
        Vine spaces between line posts; 0 for none.
    anchor_m : float
        Beyond each end post, on the row's line; 0 for none.
    leftover : str
        Where the length that is no whole vine space goes: see LEFTOVERS.
    stretch_max_pct : float
        Most that "stretch" may change the vine spacing. [%]
    lattice : str
        For "across": "square", or "staggered" by half a spacing in every other row.
    number_from : "left" or "right"
        The side where row numbers begin.
    first_number : int
    alleys : tuple of Alley
    alley_every_m, alley_width_m : float
        Alleys at right angles to the rows at this interval, middle to middle, the first one
        interval from the outline's start extreme; 0 for none.
    """

    bearing_deg: float = 0.0
    row_spacing_m: float = 2.4
    vine_spacing_m: float = 1.5
    headland_m: float = 8.0
    side_margin_m: float = 3.0
    side_angle_deg: float = 30.0
    first_row_m: float | Literal["best"] = 0.0
    first_vine_m: float = 1.0
    last_vine_m: float = 0.5
    min_row_m: float = 15.0
    line_post_every: int = 4
    anchor_m: float = 1.2
    leftover: Leftover = "far end"
    stretch_max_pct: float = 5.0
    lattice: Lattice = "square"
    number_from: Side = "left"
    first_number: int = 1
    alleys: tuple[Alley, ...] = ()
    alley_every_m: float = 0.0
    alley_width_m: float = 6.0

    def __post_init__(self):
        for name, (low, high) in LIMITS.items():
            value = getattr(self, name)
            if name == "first_row_m" and value == "best":
                continue
            if not (isinstance(value, Real) and math.isfinite(value) and low <= value <= high):
                raise ValueError(f"{name}: {value!r} is outside {low:g} to {high:g}")
            if name in _WHOLE:
                if value != int(value):
                    raise ValueError(f"{name}: {value!r} is no whole number")
                object.__setattr__(self, name, int(value))
            else:
                object.__setattr__(self, name, float(value))
        for name, allowed in CHOICES.items():
            if getattr(self, name) not in allowed:
                raise ValueError(
                    f"{name}: {getattr(self, name)!r} is none of {', '.join(map(repr, allowed))}"
                )
        object.__setattr__(self, "bearing_deg", float(self.bearing_deg) % 360.0)


LIMITS: dict[str, tuple[float, float]] = {
    # Lowest and highest value a rule may take; wide enough for any vineyard, narrow enough to
    # catch a slip of the unit (common practice).
    "bearing_deg": (-360.0, 720.0),
    "row_spacing_m": (0.5, 20.0),
    "vine_spacing_m": (0.2, 20.0),
    "headland_m": (0.0, 200.0),
    "side_margin_m": (0.0, 200.0),
    "side_angle_deg": (0.0, 90.0),
    "first_row_m": (0.0, 1000.0),
    "first_vine_m": (0.0, 50.0),
    "last_vine_m": (0.0, 50.0),
    "min_row_m": (0.0, 1000.0),
    "line_post_every": (0, 100),
    "anchor_m": (0.0, 20.0),
    "stretch_max_pct": (0.0, 50.0),
    "first_number": (0, 100_000),
    "alley_every_m": (0.0, 5000.0),
    "alley_width_m": (0.0, 200.0),
}

_WHOLE = ("line_post_every", "first_number")

CHOICES: dict[str, tuple[str, ...]] = {
    "leftover": LEFTOVERS,
    "lattice": ("square", "staggered"),
    "number_from": ("left", "right"),
}
