"""What a person decided for one row, post or vine against the rules."""

from __future__ import annotations

import math
from dataclasses import dataclass

OVERRIDES: dict[str, str] = {
    "row left out": "a segment that is not planted",
    "end moved": "an end post that stands elsewhere on its row",
    "end staked": "an end post that stands where it was measured, beside the line of its row too",
    "line post moved": "a line post that stands elsewhere in its segment",
    "vine left out": "a vine place that stays empty",
    "vine added": "a vine beside the regular step",
}
"""Every kind of override and what it is."""


@dataclass(frozen=True)
class Override:
    """One exception, tied to a row line and a place, so that it survives small changes of rules.

    It fits while a row runs within half a row spacing of its place and has there what it is about;
    otherwise nothing is done and a finding says so. A row line of another count at the place takes
    it up, with a finding too.

    Attributes
    ----------
    what : str
        One of OVERRIDES.
    line : int
        Row line it was set on, 0 the leftmost.
    x_m, y_m : float
        Site frame: the middle of a segment left out, the place of a vine, or where a post shall
        stand. [m]
    """

    what: str
    line: int
    x_m: float
    y_m: float

    def __post_init__(self):
        if self.what not in OVERRIDES:
            raise ValueError(f"what: {self.what!r} is none of {', '.join(map(repr, OVERRIDES))}")
        if not (math.isfinite(self.x_m) and math.isfinite(self.y_m)):
            raise ValueError(f"x_m, y_m: {self.x_m!r}, {self.y_m!r} is no place")
