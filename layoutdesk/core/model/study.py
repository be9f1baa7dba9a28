"""What a designer compares: candidates for how the rows run, and by what they are measured."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import Literal

from .ground import Block
from .rules import RowRules

CHANGES = (
    "bearing_deg",
    "row_spacing_m",
    "vine_spacing_m",
    "headland_m",
    "side_margin_m",
    "first_row_m",
)
"""The rules a candidate may change."""


@dataclass(frozen=True)
class Candidate:
    """One way the rows could run: what it changes of the blocks' rules, the rest as they are.

    With a bearing of its own rows are straight and without single exceptions, which belong to the
    rows that are laid now. With nothing changed it is the plan as it stands.

    Examples
    --------
    >>> Candidate(bearing_deg=96.0).rules_of(RowRules(headland_m=10)).headland_m
    10.0
    """

    bearing_deg: float | None = None
    row_spacing_m: float | None = None
    vine_spacing_m: float | None = None
    headland_m: float | None = None
    side_margin_m: float | None = None
    first_row_m: float | Literal["best"] | None = None
    name: str = ""
    note: str = ""

    def __post_init__(self):
        self.rules_of(RowRules())
        if self.bearing_deg is not None:
            object.__setattr__(self, "bearing_deg", float(self.bearing_deg) % 360.0)

    @property
    def changes(self) -> dict:
        """The rules it changes, by name."""
        return {c: getattr(self, c) for c in CHANGES if getattr(self, c) is not None}

    def rules_of(self, rules: RowRules) -> RowRules:
        """A block's rules with what this candidate changes."""
        return replace(rules, **self.changes)

    def block_of(self, block: Block) -> Block:
        """A block as this candidate would have it laid."""
        if not self.changes:
            return block
        straight = self.bearing_deg is not None
        return replace(
            block,
            rules=self.rules_of(block.rules),
            guide=None if straight else block.guide,
            overrides=(),
        )


@dataclass(frozen=True)
class Canopy:
    """A grown hedgerow as the sun meets it: a wall with a foot, a top and a width. [m]

    The usual values are those of a vertical trellis, common practice.
    """

    height_m: float = 2.0
    foot_m: float = 0.8
    width_m: float = 0.4

    def __post_init__(self):
        for name, low, high in (("height_m", 0.2, 6), ("foot_m", 0, 5), ("width_m", 0, 4)):
            value = getattr(self, name)
            if not (math.isfinite(value) and low <= value <= high):
                raise ValueError(f"{name}: {value!r} is outside {low:g} to {high:g}")
        if self.foot_m >= self.height_m:
            raise ValueError(f"foot_m: {self.foot_m!r} is not below the height {self.height_m!r}")


@dataclass(frozen=True)
class Season:
    """The months the canopy is lit, and the hours that are hottest.

    Attributes
    ----------
    first_month, last_month : int or None
        1 to 12, both counted; None for the hemisphere's usual ones: April to October in the north,
        October to April in the south (common practice).
    hot_from_h, hot_to_h : float
        Solar time: 12 is when the sun stands highest. [h]
    """

    first_month: int | None = None
    last_month: int | None = None
    hot_from_h: float = 13.0
    hot_to_h: float = 17.0

    def __post_init__(self):
        for name in ("first_month", "last_month"):
            value = getattr(self, name)
            if value is not None and value not in range(1, 13):
                raise ValueError(f"{name}: {value!r} is no month from 1 to 12")
        if not 0 <= self.hot_from_h < self.hot_to_h <= 24:
            raise ValueError(f"hot_from_h: {self.hot_from_h!r} is not before {self.hot_to_h!r}")

    def months(self, latitude_deg: float) -> tuple[int, ...]:
        """The months in order.

        Examples
        --------
        >>> Season().months(-34.0)
        (10, 11, 12, 1, 2, 3, 4)
        """
        first, last = (4, 10) if latitude_deg >= 0 else (10, 4)
        first, last = self.first_month or first, self.last_month or last
        return tuple((first - 1 + k) % 12 + 1 for k in range((last - first) % 12 + 1))


@dataclass(frozen=True)
class Prices:
    """What posts and ends cost each; None where it is not known."""

    end_assembly: float | None = None
    line_post: float | None = None
    currency: str = ""

    def __post_init__(self):
        for name in ("end_assembly", "line_post"):
            value = getattr(self, name)
            if value is not None and not (math.isfinite(value) and 0 <= value <= 1e6):
                raise ValueError(f"{name}: {value!r} is outside 0 to 1000000")


@dataclass(frozen=True)
class Study:
    """Candidates side by side, with everything their measures are counted by.

    Attributes
    ----------
    candidates : tuple of Candidate
    base : int
        The candidate that differences are told from.
    blocks : tuple of str
        Blocks the study is about; empty for all.
    chosen : tuple of str
        Measures by which one candidate may beat another.
    short_row_m : float
        Shorter segments count as short rows.
    grade_along_pct, grade_across_pct : float
        Metres of row steeper than these are counted. No statement of what is safe: the machine's
        manual governs.
    machine_length_m, machine_width_m : float
        Grades are told over these lengths: between axles along the row, between wheels across.
    canopy, season, prices
    wind_from_deg : float or None
        Where the prevailing wind comes from, clockwise from true north. [deg]
    """

    candidates: tuple[Candidate, ...] = ()
    base: int = 0
    blocks: tuple[str, ...] = ()
    chosen: tuple[str, ...] = (
        "vines",
        "mean_row_m",
        "short_rows",
        "end_posts",
        "grade_along_p95_pct",
        "grade_across_p95_pct",
    )
    short_row_m: float = 45.0
    grade_along_pct: float = 15.0
    grade_across_pct: float = 8.0
    machine_length_m: float = 3.0
    machine_width_m: float = 1.5
    canopy: Canopy = field(default_factory=Canopy)
    season: Season = field(default_factory=Season)
    prices: Prices = field(default_factory=Prices)
    wind_from_deg: float | None = None

    def __post_init__(self):
        if self.candidates and not 0 <= self.base < len(self.candidates):
            raise ValueError(f"base: there is no candidate {self.base!r}")
        for name, (low, high) in STUDY_LIMITS.items():
            value = getattr(self, name)
            if value is None and name == "wind_from_deg":
                continue
            if not (math.isfinite(value) and low <= value <= high):
                raise ValueError(f"{name}: {value!r} is outside {low:g} to {high:g}")

    def blocks_of(self, blocks) -> tuple[Block, ...]:
        """Those of the site's blocks that the study is about."""
        return tuple(b for b in blocks if not self.blocks or b.name in self.blocks)


STUDY_LIMITS: dict[str, tuple[float, float]] = {
    "short_row_m": (0.0, 1000.0),
    "grade_along_pct": (0.0, 200.0),
    "grade_across_pct": (0.0, 200.0),
    "machine_length_m": (0.5, 20.0),
    "machine_width_m": (0.5, 10.0),
    "wind_from_deg": (-360.0, 720.0),
}
