"""A drip system proposed for plans: sets the source can feed, pipes thick enough, everything solved.

Behind each valve a head is held. Sets and pipes are chosen by what flows where every inlet has that head;
then valves, submains, drip lines and emitters are solved as one network.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from ..model import RowPlan
from ..model.water import Water
from ..terrain.surface import Surface
from .block_flows import as_drips_say, at_vines, block_parts, solved_blocks
from .design import LateralLines, WaterDesign
from .lines import lateral_lines
from .set_figures import emitters_of_sets, finished_set
from .sets import RowSet, sets_of_chain


def design_water(
    plans: Sequence[RowPlan],
    water: Water,
    surface: Surface | None = None,
    lines: LateralLines | None = None,
    near: WaterDesign | None = None,
    *,
    keep_sets: bool = False,
) -> WaterDesign:
    """The drip system of plans: sets proposed, pipes chosen, everything solved.

    Submains go straight from inlet to inlet; the main straight from the source to the nearest place of
    the submain's line and along it to the valve: a proposal, and no trench plan. Sets are runs of
    neighbouring rows, as few as the source feeds at the head that is asked for, or as many as the drip
    says. Without a surface all ground is level, the source's too.

    Parameters
    ----------
    plans : sequence of RowPlan
    water : Water
    surface : Surface, optional
    lines : LateralLines, optional
        What `lateral_lines` found of these plans: kept while nothing moves an outlet or an inlet.
    near : WaterDesign, optional
        Of the same lines with other tubes, emitters or heads: its solution is a good beginning.
    keep_sets : bool
        Whether sets and pipes stay those of `near`, where it has the same source and as many sets are
        asked for: while a hand moves, to be settled afterwards.
    """
    plans = tuple(plans)
    lines = lateral_lines(plans, water, surface) if lines is None else lines
    drips = [water.drip_of(p.block.name) for p in plans]
    lines = replace(lines, laterals=as_drips_say(lines, drips))
    parts = block_parts(lines, len(plans))
    n = len(lines.laterals)
    inlet = np.array([drips[b].head_m for b in lines.block.tolist()], dtype=float)
    place, level = _source(plans, water, surface, lines)
    sets: tuple[RowSet, ...] = ()
    if keep_sets and near is not None and _asks_alike(near.water, water, near.blocks):
        sets = near.made_of
        held = [near.water.drip_of(name).head_m for name in near.blocks]
        inlet = near.flow.inlet_head_m + inlet - np.array(held)[lines.block]
        flow = solved_blocks(parts, drips, inlet, near.flow, sets)
    else:
        flow = solved_blocks(parts, drips, inlet, near and near.flow)
        found = [(int(lines.block[c[0]]), c) for c in lines.chains]
        for b, chain in found:
            whose = b, drips[b]
            sets += tuple(sets_of_chain(lines, flow, chain, whose, water, (place, level), found))
        flow = solved_blocks(parts, drips, inlet, flow, sets)
    vine_head, vine_flow = at_vines(lines, flow, drips)
    set_of_lateral = np.full(n, -1, dtype=np.intp)
    for k, one in enumerate(sets):
        set_of_lateral[one.manifold.laterals] = k
    of_sets = zip(sets, *emitters_of_sets(sets, lines, flow), strict=True)
    made = tuple(
        finished_set(k, one, lines, flow, drips[one.block], water, (place, level), each, a_vine)
        for k, (one, each, a_vine) in enumerate(of_sets, 1)
    )
    return WaterDesign(
        water,
        tuple(p.block.name for p in plans),
        lines,
        flow,
        made,
        set_of_lateral,
        vine_head,
        vine_flow,
        place,
        level,
        np.array([p.rules.row_spacing_m * p.rules.vine_spacing_m for p in plans], dtype=float),
        sets,
    )


def _asks_alike(before: Water, now: Water, blocks: Sequence[str]) -> bool:
    """Whether nothing that sets and pipes were chosen by, but tubes, emitters and heads, is other."""
    drips = [(before.drip_of(name), now.drip_of(name)) for name in blocks]
    return (before.source, before.pipes_mm) == (now.source, now.pipes_mm) and all(
        (a.sets, a.variation_pct) == (b.sets, b.variation_pct) for a, b in drips
    )


def _corner_by_highest(plans, lines: LateralLines) -> tuple[float, float]:
    """The outlines' corner next to the highest inlet: the easiest place to water from."""
    corners = [shapely.get_coordinates(p.block.outline) for p in plans]
    if not corners:
        return 0.0, 0.0
    every = np.concatenate(corners)
    if not len(lines.inlet_xy_m):
        return tuple(every[0].tolist())
    highest = lines.inlet_xy_m[lines.laterals.inlet_height_m.argmax()]
    return tuple(every[np.linalg.norm(every - highest, axis=1).argmin()].tolist())


def _source(plans, water: Water, surface, lines: LateralLines):
    """Where the source is, and the level its heads count from."""
    place = water.source.place_m
    if place is None:
        place = _corner_by_highest(plans, lines)
    if surface is None or lines.is_level:
        return place, 0.0
    if water.source.level_m is not None:
        return place, water.source.level_m
    level = float(surface.heights_m(np.array([place]))[0])
    if not np.isfinite(level):  # outside the heights that are known: as the nearest inlet
        inlets = lines.inlet_xy_m
        if not len(inlets):
            return place, 0.0
        nearest = np.linalg.norm(inlets - np.array(place), axis=1).argmin()
        level = float(lines.laterals.inlet_height_m[nearest])
    return place, level
