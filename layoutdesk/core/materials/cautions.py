"""What looks wrong with a trellis by simple mechanics: cautions, no certificate.

Soil decides what a post and an anchor hold; the supplier decides what a wire bears.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..model import Finding, RowPlan
from ..model.findings import in_wording
from ..model.materials import Conditions
from ..model.trellis import ITEMS, Trellis, WireRun
from .mechanics import (
    GRAVITY_M_S2,
    breaking_load_n,
    end_pull,
    end_shape,
    height_to_spacing,
    sag_m,
    tension_after_n,
    wire_mass_kg_m,
)

DEFERENCE = "Soil and supplier decide what ends and wires hold; these are cautions, no certificate."

SHARE_OF_BREAKING = 1 / 3
"""Of the breaking load that a wire in the cold should not exceed. Common practice."""
STEEPEST_TIE_DEG = 70.0
"""Steeper ties and braces have a short lever; 60 is printed (Domoto, second-hand). [deg]"""
LONGEST_TIED_M = 182.88
"""Anchored ends to 600 ft, braced beyond (Domoto, Iowa State University, 2002, second-hand). [m]"""
TALLEST_TO_SPACING = 1.0
"""Trellis height over row spacing (second-hand)."""


@dataclass(frozen=True)
class WireCheck:
    """One wire by mechanics.

    Attributes
    ----------
    run : WireRun
    mass_kg_m : float
    breaking_n : float
    drawn_n, cold_n, warm_n : float
        Tension when drawn, in the cold and in the heat, the wire straight. [N]
    cold_share_pct : float
        Tension in the cold, of the breaking load. [%]
    sag_m : float
        Between posts, under crop and itself for the fruiting wire, itself alone for others, at the
        tension it has then; ends that give let it hang lower. NaN for a wire that is not drawn. [m]
    """

    run: WireRun
    mass_kg_m: float
    breaking_n: float
    drawn_n: float
    cold_n: float
    warm_n: float
    cold_share_pct: float
    sag_m: float


def post_spacing_m(plan: RowPlan) -> float:
    """Longest space between two posts by the plan's rules, or the longest segment without. [m]"""
    every = plan.rules.line_post_every
    if not plan.n_segments:
        return 0.0
    if not every or not len(plan.line_posts):
        return float(plan.segments.length_m.max())
    return float(every * plan.segments.vine_step_m.max())


def wire_checks(
    trellis: Trellis, span_m: float, conditions: Conditions | None = None
) -> tuple[WireCheck, ...]:
    """Every wire of a trellis between posts a span apart, from the lowest."""
    conditions = conditions or Conditions()
    return tuple(_wire_check(run, span_m, conditions) for run in trellis.wires)


def _wire_check(run: WireRun, span_m: float, conditions: Conditions) -> WireCheck:
    wire = run.wire
    mass = float(wire_mass_kg_m(wire.diameter_mm))
    breaking = float(breaking_load_n(wire.diameter_mm, wire.strength_mpa))
    cold, warm = tension_after_n(wire, np.array([-conditions.colder_k, conditions.warmer_k]))
    carried = conditions.crop_kg_m if run.item == "fruiting_wire_m" else 0.0
    load = (mass + carried) * GRAVITY_M_S2
    tension = float(tension_after_n(wire, 0.0, span_m, load))
    sag = float(sag_m(load, span_m, tension)) if tension else math.nan
    return WireCheck(
        run,
        mass,
        breaking,
        wire.tension_n,
        float(cold),
        float(warm),
        100 * float(cold) / breaking,
        sag,
    )


def anchor_room_m(plan: RowPlan) -> np.ndarray:
    """From every anchor to the outline's edge, negative outside: room to turn in, shape (n,). [m]"""
    xy = plan.anchors.xy_m
    if not len(xy):
        return np.empty(0)
    outline = plan.block.outline
    rim = shapely.boundary(outline)
    shapely.prepare(rim)
    shapely.prepare(outline)
    points = shapely.points(xy)
    away = shapely.distance(rim, points)
    return np.where(shapely.intersects(outline, points), away, -away)


def trellis_findings(
    plan: RowPlan, trellis: Trellis, conditions: Conditions | None = None
) -> tuple[Finding, ...]:
    """Everything about one block's trellis that its user should look at."""
    conditions = conditions or Conditions()
    name = in_wording(plan.block.name)
    found = [*_of_ends(plan, trellis, name), *_of_wires(plan, trellis, name, conditions)]
    if height_to_spacing(trellis, plan.rules.row_spacing_m) > TALLEST_TO_SPACING + 1e-9:
        found.append(
            Finding(
                "trellis-tall",
                wording=f"{name}: the highest wire, at {{}}, is higher than rows are apart, {{}}: they "
                "shade each other.",
                lengths_m=(trellis.height_m, plan.rules.row_spacing_m),
                where=plan.block.name,
            )
        )
    return tuple(found)


def _of_ends(plan: RowPlan, trellis: Trellis, name: str):
    rules, where = plan.rules, plan.block.name
    tied = trellis.ends == "tied back"
    if tied and not rules.anchor_m:
        yield Finding(
            "anchors-not-staked",
            f"{where}: row ends are tied back, but the rules stake no anchors. Give a distance of the "
            "anchor, or choose another end.",
            where,
        )
    if not tied and rules.anchor_m:
        yield Finding(
            "anchors-not-used",
            f"{where}: anchors are staked, but row ends of the kind “{trellis.ends}” take none.",
            where,
        )
    if tied and rules.anchor_m > rules.headland_m:
        yield Finding(
            "anchor-beyond-headland",
            wording=f"{name}: anchors stand {{}} beyond the end posts, the headland is {{}} wide.",
            lengths_m=(rules.anchor_m, rules.headland_m),
            where=where,
        )
    shape = end_shape(trellis, rules.anchor_m)
    if shape is not None and shape.angle_deg > STEEPEST_TIE_DEG:
        pull = end_pull(trellis, rules.anchor_m)
        times = pull.member_n / pull.pull_n if pull.pull_n else math.nan
        yield Finding(
            "end-lever-short",
            f"{where}: tie or brace stands at {shape.angle_deg:.0f}° and must hold {times:.1f} times what "
            f"the wires pull. Set its foot farther out. {DEFERENCE}",
            where,
        )
    longest = plan.segments.length_m.max(initial=0.0)
    if tied and longest > LONGEST_TIED_M:
        yield Finding(
            "rows-long-for-ties",
            wording=f"{name}: the longest row has {{}}; beyond some 180 m (600 ft) braced "
            "ends are advised. Soil and supplier decide.",
            lengths_m=(float(longest),),
            where=where,
        )


def _of_wires(plan: RowPlan, trellis: Trellis, name: str, conditions: Conditions):
    where = plan.block.name
    told = set()
    for check in wire_checks(trellis, post_spacing_m(plan), conditions):
        run = check.run
        key = run.item, run.wire
        if key in told:
            continue
        told.add(key)
        label = ITEMS[run.item][0].lower()
        if check.cold_n > SHARE_OF_BREAKING * check.breaking_n:
            yield Finding(
                "wire-near-breaking",
                f"{where}: {label} is drawn to {check.drawn_n:,.0f} N and may have {check.cold_n:,.0f} N "
                f"in the cold, {check.cold_share_pct:.0f} % of what breaks it. Keep clear of wires under "
                "tension.",
                where,
            )
        if check.drawn_n and check.warm_n <= 0:
            yield Finding(
                "wire-slack",
                f"{where}: {label} is slack when it is {conditions.warmer_k:.0f} °C warmer than on the "
                "day it was drawn.",
                where,
            )


def over_joined_finding(products: Sequence[str], wires: int) -> Finding:
    """That some wires need more joins than allowed, from rolls as they are sold."""
    return Finding(
        "wire-over-joined",
        f"{wires:,} wires of {', '.join(products)} are so long that rolls make more joins in them than "
        "the trellis allows. Choose longer rolls, or allow more joins.",
    )
