"""What stands and hangs in a block's rows: stakes, posts, ends, wires and what fastens them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from .limits import hold_whole, hold_within, within

EndKind = Literal["tied back", "braced inside", "slanted brace"]


@dataclass(frozen=True)
class EndParts:
    """What one end of a segment takes besides its end post."""

    anchors: int = 0
    brace_posts: int = 0
    braces: int = 0
    pads: int = 0


END_PARTS: dict[EndKind, EndParts] = {
    # An anchor beyond the post holds it by a tie from the post's upper part.
    "tied back": EndParts(anchors=1),
    # A second post in the row, a level brace between both, a diagonal loop of wire from the second
    # post's top to the end post's foot.
    "braced inside": EndParts(brace_posts=1, braces=1),
    # A brace slants from the post down into the row onto a pad; a loop of wire holds the pad to the
    # post's foot.
    "slanted brace": EndParts(braces=1, pads=1),
}
"""Kinds of end, each holding against the wires' pull in its own way, and their parts."""

ITEMS: dict[str, tuple[str, str]] = {
    # item: (label, unit it is counted in)
    "training_stakes": ("Training stakes", "each"),
    "line_posts": ("Line posts", "each"),
    "end_posts": ("End posts", "each"),
    "brace_posts": ("Brace posts", "each"),
    "braces": ("Braces", "each"),
    "pads": ("Brace pads", "each"),
    "anchors": ("Anchors", "each"),
    "fruiting_wire_m": ("Fruiting wire", "m"),
    "foliage_wire_m": ("Foliage wire", "m"),
    "drip_wire_m": ("Drip wire", "m"),
    "tie_wire_m": ("Tie and brace wire", "m"),
    "drip_line_m": ("Drip line", "m"),
    "stake_clips": ("Clips, stake to fruiting wire", "each"),
    "pair_clips": ("Clips, foliage wires of a pair", "each"),
    "drip_clips": ("Clips, drip line to drip wire", "each"),
    "staples": ("Staples", "each"),
    "tensioners": ("Tensioners", "each"),
    "shelters": ("Shelters", "each"),
    "drip_tubes": ("Drip tubes", "each"),
}
"""Everything a take-off counts, in the order it is listed."""

USUAL_SPARES_PCT: dict[str, float] = {
    # Printed advice runs from 1 to 2 % and from 3 to 10 % (second-hand): common practice.
    **dict.fromkeys(ITEMS, 2.0),
    "end_posts": 0.0,
    "brace_posts": 0.0,
    "braces": 0.0,
    "pads": 0.0,
    "staples": 5.0,
    "stake_clips": 5.0,
    "pair_clips": 5.0,
    "drip_clips": 5.0,
}
"""Ordered beyond what is counted, where the trellis does not say otherwise. [%]"""


WIRE_LIMITS: dict[str, tuple[float, float]] = {
    "diameter_mm": (0.5, 10.0),
    "strength_mpa": (100.0, 3000.0),
    "tension_n": (0.0, 20_000.0),
}

TRELLIS_LIMITS: dict[str, tuple[float, float]] = {
    # Wide enough for any trellis, narrow enough to catch a slip of the unit (common practice).
    "stake_length_m": (0.0, 5.0),
    "stake_driven_m": (0.0, 2.0),
    "line_post_length_m": (0.3, 8.0),
    "line_post_driven_m": (0.0, 3.0),
    "end_post_length_m": (0.3, 8.0),
    "end_post_driven_m": (0.0, 3.0),
    "end_angle_deg": (45.0, 90.0),
    "tie_height_m": (0.1, 5.0),
    "brace_span_m": (0.5, 6.0),
    "brace_angle_deg": (20.0, 80.0),
    "fruiting_wire_height_m": (0.1, 5.0),
    "drip_wire_height_m": (0.05, 5.0),
    "wrap_m": (0.0, 10.0),
    "tie_lines": (0, 8),
    "tie_wrap_m": (0.0, 10.0),
    "joins_allowed": (0, 20),
    "drip_line_end_m": (0.0, 50.0),
    "stake_clips_per_vine": (0, 20),
    "drip_clips_per_vine": (0, 20),
    "pair_clips_per_bay": (0, 20),
    "staples_per_post": (0, 100),
    "tensioners_per_wire": (0, 4),
    "shelters_per_vine": (0, 5),
    "drip_tubes_per_vine": (0, 10),
}

_MAY_BE_NONE = ("tie_height_m", "drip_wire_height_m", "staples_per_post")
_WHOLE = tuple(
    name for name in TRELLIS_LIMITS if "_per_" in name or name in ("tie_lines", "joins_allowed")
)


@dataclass(frozen=True)
class Wire:
    """Steel wire, and how hard it is drawn.

    Attributes
    ----------
    diameter_mm : float
        Over the coating. [mm]
    strength_mpa : float
        Tensile strength. [MPa]
    tension_n : float
        What each wire is drawn to when it is put up. [N]
    """

    diameter_mm: float = 2.5
    strength_mpa: float = 1200.0
    tension_n: float = 1100.0

    def __post_init__(self):
        hold_within(self, WIRE_LIMITS)

    @property
    def size(self) -> tuple[float, float]:
        """Diameter and strength: wires alike in both come from the same roll. [mm], [MPa]"""
        return self.diameter_mm, self.strength_mpa


@dataclass(frozen=True)
class FoliageWire:
    """Foliage wire at a height: one, or a pair on both sides of the posts. [m]"""

    height_m: float
    paired: bool = True

    def __post_init__(self):
        height_m = within("height_m", self.height_m, *TRELLIS_LIMITS["fruiting_wire_height_m"])
        object.__setattr__(self, "height_m", height_m)

    @property
    def lines(self) -> int:
        return 2 if self.paired else 1


@dataclass(frozen=True)
class WireRun:
    """All wires at one height: item of the take-off, height, how many, and which wire."""

    item: str
    height_m: float
    lines: int
    wire: Wire


_FOLIAGE = (FoliageWire(1.2), FoliageWire(1.5), FoliageWire(1.8, paired=False))


@dataclass(frozen=True)
class Trellis:
    """The trellis of a block. All usual values are common practice unless a source is named.

    Attributes
    ----------
    stake_length_m, stake_driven_m : float
        Training stake, one a vine: about 6 ft, driven 1 to 2 ft (128 T.C. No. 8, United States Tax
        Court, 2007). 0 for none. [m]
    line_post_length_m, line_post_driven_m, end_post_length_m, end_post_driven_m : float
        End posts 10 ft, driven 3 to 4 ft (Domoto, Iowa State University, 2002, second-hand). [m]
    ends : str
        How row ends hold: see END_PARTS.
    end_angle_deg : float
        Of the end post to level ground, 90 upright, less leaning out of the row. [deg]
    tie_height_m : float or None
        Where tie or brace meets the end post; None for the highest wire. [m]
    brace_span_m : float
        From end post to brace post, "braced inside". [m]
    brace_angle_deg : float
        Of a slanted brace to level ground (60: Domoto, second-hand). [deg]
    fruiting_wire_height_m : float
        30 to 36 in (extension guides). [m]
    foliage_wires : tuple of FoliageWire
        Pairs every 8 to 14 in above (extension guides).
    drip_wire_height_m : float or None
        About 18 in (extension guides); None where the drip line needs no wire. [m]
    fruiting_wire, foliage_wire, drip_wire, tie_wire : Wire
    wrap_m : float
        Added to every wire at each end, to wrap and fasten it. [m]
    tie_lines : int
        Strands of the tie, or of the loop of a brace, at each end.
    tie_wrap_m : float
        Added to every such tie or loop. [m]
    joins_allowed : int
        Most joins in one wire from end to end.
    drip_line : bool
    drip_line_end_m : float
        Drip line added at each end. [m]
    stake_clips_per_vine, drip_clips_per_vine : int
    pair_clips_per_bay : int
        On every pair of foliage wires, from post to post.
    staples_per_post : int or None
        On every post; None for one a wire.
    tensioners_per_wire : int
        On every wire of a segment.
    shelters_per_vine, drip_tubes_per_vine : int
    spares_pct : mapping or tuple of (item, percent)
        Where other than USUAL_SPARES_PCT. [%]

    Examples
    --------
    >>> trellis = Trellis(ends="braced inside", spares_pct={"shelters": 3})
    >>> trellis.n_wires, trellis.height_m, trellis.spare_pct("shelters")
    (7, 1.8, 3.0)
    """

    stake_length_m: float = 1.8
    stake_driven_m: float = 0.45
    line_post_length_m: float = 2.5
    line_post_driven_m: float = 0.6
    end_post_length_m: float = 3.0
    end_post_driven_m: float = 1.0
    ends: EndKind = "tied back"
    end_angle_deg: float = 90.0
    tie_height_m: float | None = None
    brace_span_m: float = 2.4
    brace_angle_deg: float = 60.0
    fruiting_wire_height_m: float = 0.9
    foliage_wires: tuple[FoliageWire, ...] = _FOLIAGE
    drip_wire_height_m: float | None = 0.45
    fruiting_wire: Wire = Wire()
    foliage_wire: Wire = Wire(2.0, 1200.0, 500.0)
    drip_wire: Wire = Wire(2.0, 1200.0, 500.0)
    tie_wire: Wire = Wire(4.0, 600.0, 0.0)
    wrap_m: float = 0.5
    tie_lines: int = 2
    tie_wrap_m: float = 0.6
    joins_allowed: int = 1
    drip_line: bool = True
    drip_line_end_m: float = 1.0
    stake_clips_per_vine: int = 1
    drip_clips_per_vine: int = 1
    pair_clips_per_bay: int = 2
    staples_per_post: int | None = None
    tensioners_per_wire: int = 1
    shelters_per_vine: int = 1
    drip_tubes_per_vine: int = 1
    spares_pct: Mapping[str, float] | tuple[tuple[str, float], ...] = ()

    def __post_init__(self):
        hold_within(self, TRELLIS_LIMITS, _MAY_BE_NONE)
        hold_whole(self, _WHOLE)
        if self.ends not in END_PARTS:
            raise ValueError(f"ends: {self.ends!r} is none of {', '.join(map(repr, END_PARTS))}")
        object.__setattr__(self, "foliage_wires", tuple(self.foliage_wires))
        self._check_ground()
        object.__setattr__(self, "spares_pct", _as_pairs(self.spares_pct))

    def _check_ground(self) -> None:
        """That everything reaches out of the ground, and up to what it must hold."""
        for thing in ("stake", "line_post", "end_post"):
            driven, length = getattr(self, f"{thing}_driven_m"), getattr(self, f"{thing}_length_m")
            if driven >= length and (thing != "stake" or length):
                raise ValueError(
                    f"{thing}_driven_m: {driven!r} is not less than the length {length!r}"
                )
        upright = math.sin(math.radians(self.end_angle_deg))
        tops = {
            "line_post_length_m": self.line_post_length_m - self.line_post_driven_m,
            "end_post_length_m": (self.end_post_length_m - self.end_post_driven_m) * upright,
        }
        for name, top in tops.items():
            if self.height_m > top + 1e-6:
                raise ValueError(
                    f"{name}: {top:.2f} m stand above the ground, less than the highest wire"
                )
        if self.tie_m > tops["end_post_length_m"] + 1e-6:
            raise ValueError(f"tie_height_m: {self.tie_m!r} is above the end post's top")

    @property
    def wires(self) -> tuple[WireRun, ...]:
        """All wires, from the lowest."""
        runs = [WireRun("fruiting_wire_m", self.fruiting_wire_height_m, 1, self.fruiting_wire)]
        runs += [
            WireRun("foliage_wire_m", f.height_m, f.lines, self.foliage_wire)
            for f in self.foliage_wires
        ]
        if self.drip_wire_height_m is not None:
            runs.append(WireRun("drip_wire_m", self.drip_wire_height_m, 1, self.drip_wire))
        return tuple(sorted(runs, key=lambda run: run.height_m))

    @property
    def n_wires(self) -> int:
        """Wires in one row, a pair as two."""
        return sum(run.lines for run in self.wires)

    @property
    def height_m(self) -> float:
        """Of the highest wire above the ground. [m]"""
        return max(run.height_m for run in self.wires)

    @property
    def tie_m(self) -> float:
        """Height at which tie or brace meets the end post. [m]"""
        return self.height_m if self.tie_height_m is None else self.tie_height_m

    @property
    def staples_a_post(self) -> int:
        return self.n_wires if self.staples_per_post is None else self.staples_per_post

    def spare_pct(self, item: str) -> float:
        """What is ordered beyond the count of an item. [%]"""
        return dict(self.spares_pct).get(item, USUAL_SPARES_PCT[item])


def _as_pairs(spares) -> tuple[tuple[str, float], ...]:
    pairs = dict(spares)
    for item, percent in pairs.items():
        if item not in ITEMS:
            raise ValueError(f"spares_pct: {item!r} is no item of a take-off")
        pairs[item] = within(f"spares_pct of {item}", percent, 0.0, 100.0)
    return tuple(sorted(pairs.items()))
