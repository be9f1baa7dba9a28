"""What a project says of its water: emitters and tubes by block, the source, pipes, and the demand."""

from __future__ import annotations

import datetime
import itertools
import math
from dataclasses import dataclass, field, replace
from typing import Literal

from .limits import hold_whole, hold_within, within
from .materials import with_named

Feed = Literal["higher end", "start end", "far end", "middle", "line"]
FEEDS: tuple[str, ...] = ("higher end", "start end", "far end", "middle", "line")
FRICTION_LAWS: tuple[str, ...] = ("darcy-weisbach", "hazen-williams")

DRIP_LIMITS: dict[str, tuple[float, float]] = {
    # Wide enough for any drip line, narrow enough to catch a slip of the unit (common practice).
    "emitter_l_h": (0.1, 100.0),
    "emitter_head_m": (0.5, 60.0),
    "exponent": (0.0, 1.0),
    "cv": (0.0, 0.5),
    "least_head_m": (0.0, 100.0),
    "greatest_head_m": (0.5, 150.0),
    "emitters_per_vine": (1, 8),
    "inline_m": (0.1, 5.0),
    "tube_mm": (4.0, 60.0),
    "barb_loss": (0.0, 20.0),
    "bridge_m": (0.0, 500.0),
    "head_m": (1.0, 120.0),
    "variation_pct": (1.0, 50.0),
}


@dataclass(frozen=True)
class Drip:
    """Emitters, drip line and submain of a block. All usual values are common practice.

    Attributes
    ----------
    emitter_l_h, emitter_head_m : float
        Flow of one emitter, and the head it is told for. [L/h], [m]
    exponent, cv : float
        x of the emitter's law flow = k · headˣ, and its coefficient of variation.
    least_head_m, greatest_head_m : float
        Its working range. [m]
    emitters_per_vine : int
        Beside every vine; not used where they sit in the line.
    inline_m : float or None
        Emitters in the drip line, one every so far, the first half of it from a start post; None where
        they are set at vines. [m]
    tube_mm : float
        Inner diameter of the drip line. [mm]
    barb_loss : float
        Velocity heads lost past every emitter.
    law : str
        Of FRICTION_LAWS.
    fed : str
        Where water enters the rows, of FEEDS: at the ends that are higher on the whole (start ends on
        level ground), at their start or far ends, in their middle, or where `line_m` crosses them (else
        at the end next to it).
    line_m : tuple of (x, y)
        The submain's line in the site frame, for "line". [m]
    bridge_m : float
        Segments of one row that are no farther apart are one lateral, with bare tube between. [m]
    head_m : float
        Pressure head held behind every valve. [m]
    variation_pct : float
        Flow variation that is permitted in a set. [%]
    sets : int or None
        How many sets the block is watered in; None for as few as source and slope allow.
    """

    emitter_l_h: float = 2.0
    emitter_head_m: float = 10.0
    exponent: float = 0.05
    cv: float = 0.05
    least_head_m: float = 5.0
    greatest_head_m: float = 40.0
    emitters_per_vine: int = 1
    inline_m: float | None = None
    tube_mm: float = 13.6
    barb_loss: float = 0.5
    law: str = "darcy-weisbach"
    fed: Feed = "higher end"
    line_m: tuple[tuple[float, float], ...] = ()
    bridge_m: float = 15.0
    head_m: float = 15.0
    variation_pct: float = 10.0
    sets: int | None = None

    def __post_init__(self):
        hold_within(self, DRIP_LIMITS, ("inline_m",))
        hold_whole(self, ("emitters_per_vine",))
        if self.least_head_m >= self.greatest_head_m:
            raise ValueError(
                f"least_head_m: {self.least_head_m!r} is not below {self.greatest_head_m!r}"
            )
        if self.law not in FRICTION_LAWS:
            raise ValueError(f"law: {self.law!r} is none of {', '.join(FRICTION_LAWS)}")
        if self.fed not in FEEDS:
            raise ValueError(f"fed: {self.fed!r} is none of {', '.join(FEEDS)}")
        if self.fed == "line" and len(self.line_m) < 2:
            raise ValueError("line_m: a line has two places or more")
        object.__setattr__(self, "line_m", tuple((float(x), float(y)) for x, y in self.line_m))
        if self.sets is not None and not (self.sets == int(self.sets) and 1 <= self.sets <= 200):
            raise ValueError(f"sets: {self.sets!r} is outside 1 to 200")


PIPES_MM: tuple[tuple[float, float], ...] = (
    # outer and inner: polyethylene SDR 17, wall thickness of ISO 4427-2:2007, table 2 (from memory)
    (32.0, 28.0),
    (40.0, 35.2),
    (50.0, 44.0),
    (63.0, 55.4),
    (75.0, 66.0),
    (90.0, 79.2),
    (110.0, 96.8),
    (125.0, 110.2),
    (140.0, 123.4),
    (160.0, 141.0),
)
"""Pipes that submains and mains are made of. [mm]"""

SOURCE_LIMITS: dict[str, tuple[float, float]] = {
    "level_m": (-500.0, 9000.0),
    "losses_m": (0.0, 100.0),
    "velocity_m_s": (0.3, 5.0),
    "hours_a_day": (0.5, 24.0),
}


@dataclass(frozen=True)
class Source:
    """Where water comes from, and what it can give. Usual values are assumed, and said to be.

    Attributes
    ----------
    place_m : (x, y) or None
        In the site frame; None for the outlines' corner next to the highest inlet. [m]
    level_m : float or None
        Elevation that its heads count from; None for the ground's at its place. [m]
    curve : tuple of (float, float)
        Flow and the head that it still has then, flow rising, head not. [m³/h], [m]
    losses_m : float
        Head lost in filter, meter and control head together. [m]
    velocity_m_s : float
        Water in pipes should run no faster. [m/s]
    hours_a_day : float
        That watering may take. [h]
    is_assumed : bool
        Whether nobody said what the source gives.
    """

    place_m: tuple[float, float] | None = None
    level_m: float | None = None
    curve: tuple[tuple[float, float], ...] = ((0.0, 50.0), (40.0, 40.0))
    losses_m: float = 7.0
    velocity_m_s: float = 1.5
    hours_a_day: float = 12.0
    is_assumed: bool = True

    def __post_init__(self):
        hold_within(self, SOURCE_LIMITS, ("level_m",))
        curve = tuple((float(q), float(h)) for q, h in self.curve)
        object.__setattr__(self, "curve", curve)
        flows, heads = [q for q, _ in curve], [h for _, h in curve]
        sound = all(math.isfinite(v) and v >= 0 for v in (*flows, *heads))
        if len(curve) < 2 or not sound:
            raise ValueError("curve: two pairs of flow and head, or more, none below 0, are needed")
        if any(b <= a for a, b in itertools.pairwise(flows)):
            raise ValueError("curve: flows must rise")
        if any(b > a for a, b in itertools.pairwise(heads)):
            raise ValueError("curve: heads must not rise with the flow")
        if self.place_m is not None:
            x, y = self.place_m
            object.__setattr__(self, "place_m", (float(x), float(y)))

    def head_at_m(self, flow_m3_h: float) -> float:
        """Head that is left at a flow; below 0 for more than the curve reaches. [m]"""
        flows = [q for q, _ in self.curve]
        if flow_m3_h > flows[-1] + 1e-9:
            return -math.inf
        for (q0, h0), (q1, h1) in zip(self.curve, self.curve[1:], strict=False):
            if flow_m3_h <= q1:
                return h0 + (h1 - h0) * max(flow_m3_h - q0, 0.0) / (q1 - q0)
        return self.curve[-1][1]


@dataclass(frozen=True)
class Climate:
    """Months of a usual year, January first.

    Attributes
    ----------
    et0_mm_day : tuple of 12 floats, or empty where nobody said
        Reference evapotranspiration. [mm/day]
    rain_mm : tuple of 12 floats, or empty for none
        Rain of each whole month. [mm]
    source : str
        In the user's words: a station and years, a file.
    warm_c : tuple of 12 floats, or empty where not known
        Mean of each month's daily greatest temperatures. [°C]
    """

    et0_mm_day: tuple[float, ...] = ()
    rain_mm: tuple[float, ...] = ()
    source: str = ""
    warm_c: tuple[float, ...] = ()

    def __post_init__(self):
        limits = {"et0_mm_day": (0.0, 20.0), "rain_mm": (0.0, 3000.0), "warm_c": (-60.0, 60.0)}
        for name, bounds in limits.items():
            values = tuple(float(v) for v in getattr(self, name))
            object.__setattr__(self, name, values)
            if len(values) not in (0, 12):
                raise ValueError(f"{name}: {len(values)} values, a year has 12 months")
            for value in values:
                within(name, value, *bounds)


SOILS: dict[str, float] = {
    # Water between field capacity and wilting point, mm in a metre of soil: middle of the range in
    # FAO Irrigation and Drainage Paper 56, table 19 (from memory).
    "sand": 85.0,
    "loamy sand": 90.0,
    "sandy loam": 130.0,
    "loam": 155.0,
    "silt loam": 185.0,
    "silty clay loam": 160.0,
    "clay": 160.0,
}
"""Available water of soils by texture. [mm/m]"""

DEMAND_LIMITS: dict[str, tuple[float, float]] = {
    "wet_depth_m": (0.05, 3.0),
    "wet_width_m": (0.1, 6.0),
    "dry_share_pct": (0.0, 100.0),
    "first_watering_l": (0.0, 500.0),
    "kc_per_shaded_pct": (0.001, 0.05),
    "efficiency_pct": (30.0, 100.0),
    "rain_used_pct": (0.0, 100.0),
    "days_a_week": (1, 7),
}


@dataclass(frozen=True)
class Demand:
    """How much water vines and soil take. Usual values are common practice unless a source is named.

    Attributes
    ----------
    soil : str
        Of SOILS.
    wet_depth_m, wet_width_m : float
        Soil that is wetted along the row the day before planting. [m]
    dry_share_pct : float
        Of its available water, what is missing then. [%]
    first_watering_l : float
        A vine right after planting: 2 to 3 gallons (Extension Foundation). [L]
    planting : datetime.date or None
        Weeks of the first year count from it; None for the hemisphere's spring.
    shaded_pct : tuple of float
        Ground that the canopy shades at noon at its greatest, of all ground, in each of the first
        years. [%]
    kc_per_shaded_pct : float
        Crop coefficient a percent of shaded ground: 0.017 (Williams and Ayars, Agric. For. Meteorol.
        132:201, 2005, from memory).
    efficiency_pct : float
        Of the water given, what vines can use. [%]
    rain_used_pct : float
        Of the rain, what vines can use. [%]
    days_a_week : int
    """

    soil: str = "loam"
    wet_depth_m: float = 0.6
    wet_width_m: float = 0.6
    dry_share_pct: float = 50.0
    first_watering_l: float = 9.5
    planting: datetime.date | None = None
    shaded_pct: tuple[float, ...] = (5.0, 15.0, 30.0)
    kc_per_shaded_pct: float = 0.017
    efficiency_pct: float = 90.0
    rain_used_pct: float = 50.0
    days_a_week: int = 4

    def __post_init__(self):
        hold_within(self, DEMAND_LIMITS)
        if self.soil not in SOILS:
            raise ValueError(f"soil: {self.soil!r} is none of {', '.join(SOILS)}")
        hold_whole(self, ("days_a_week",))
        shaded = tuple(within("shaded_pct", s, 0.0, 100.0) for s in self.shaded_pct)
        if not 1 <= len(shaded) <= 10:
            raise ValueError("shaded_pct: one to ten years are needed")
        object.__setattr__(self, "shaded_pct", shaded)


@dataclass(frozen=True)
class Water:
    """A project's drip system, its source, and what is asked of it.

    Attributes
    ----------
    drips : tuple of (str, Drip)
        By block name; a block without has the usual one.
    source : Source
    pipes_mm : tuple of (outer, inner)
        Pipes for submains and mains, from the thinnest. [mm]
    climate : Climate
    demand : Demand
    """

    drips: tuple[tuple[str, Drip], ...] = ()
    source: Source = field(default_factory=Source)
    pipes_mm: tuple[tuple[float, float], ...] = PIPES_MM
    climate: Climate = field(default_factory=Climate)
    demand: Demand = field(default_factory=Demand)

    def __post_init__(self):
        pipes = tuple((float(o), float(i)) for o, i in self.pipes_mm)
        object.__setattr__(self, "pipes_mm", pipes)
        if not pipes or any(not 5 <= inner < outer <= 2000 for outer, inner in pipes):
            raise ValueError(
                "pipes_mm: pairs of outer and inner diameter, at least one, are needed"
            )
        if list(pipes) != sorted(pipes, key=lambda p: p[1]):
            raise ValueError("pipes_mm: from the thinnest to the widest")

    def drip_of(self, block: str) -> Drip:
        """A block's drip system; the usual one where it has none of its own."""
        return dict(self.drips).get(block) or Drip()

    def with_drip(self, block: str, drip: Drip) -> Water:
        """The same with one block's drip system exchanged."""
        return replace(self, drips=with_named(self.drips, block, drip))

    def stretched(self, ratio: float) -> Water:
        """The same in a frame that is larger by a ratio."""

        def grown(places):
            return tuple((x * ratio, y * ratio) for x, y in places)

        drips = tuple((name, replace(d, line_m=grown(d.line_m))) for name, d in self.drips)
        place = self.source.place_m
        source = self.source if place is None else replace(self.source, place_m=grown((place,))[0])
        return replace(self, drips=drips, source=source)
