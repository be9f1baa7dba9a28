"""A drip system proposed for plans: sets the source can feed, pipes thick enough, everything solved.

Behind each valve a head is held. What a lateral has at its inlet follows from its submain's losses, and
those from the laterals' flows; a few solutions of all laterals settle it, each starting from how flows
answer to heads in the one before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from ..model import RowPlan
from ..model.water import Drip, Water
from ..terrain.surface import Surface
from .block_flows import as_drips_say, at_vines, block_parts, solved_blocks
from .design import LateralLines, WaterDesign
from .drips import friction_of
from .emitters import LITRES_AN_HOUR
from .friction import Friction
from .lateral_flow import LateralFlow
from .lines import lateral_lines
from .set_figures import finished_set
from .sets import RowSet, sets_of_chain

_CLOSE_M = 1e-5
"""Inlet heads that move by no more are settled. [m]"""
_SOLUTIONS_AT_MOST = 12
_MODEL_STEPS = 60
_LEAST_HEAD_M = 0.01


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
    sets: list[RowSet] = []
    if keep_sets and near is not None and _asks_alike(near.water, water, near.blocks):
        sets = list(near.made_of)
        inlet, flow = _settled(parts, drips, sets, inlet, near.flow, fresh=False)
    else:
        flow = solved_blocks(parts, drips, inlet, near and near.flow)
        found = [(int(lines.block[c[0]]), c) for c in lines.chains]
        for b, chain in found:
            sets += sets_of_chain(lines, flow, chain, (b, drips[b]), water, (place, level), found)
        inlet, flow = _settled(parts, drips, sets, inlet, flow)
    vine_head, vine_flow = at_vines(lines, flow, drips)
    set_of_lateral = np.full(n, -1, dtype=np.intp)
    for k, one in enumerate(sets):
        set_of_lateral[one.manifold.laterals] = k
    made = tuple(
        finished_set(k + 1, one, lines, flow, drips[one.block], water, (place, level))
        for k, one in enumerate(sets)
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
        tuple(sets),
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
    if surface is None:
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


def _lost_m(one: RowSet, friction: Friction, each_m3_s: np.ndarray) -> np.ndarray:
    """Head that each lateral of a set has less than the valve, by friction and by height, (k,). [m]"""
    m = one.manifold
    loss, _ = friction.loss_and_slope(m.summed_outward(each_m3_s), one.inner_m, m.length_m)
    return m.summed_inward(loss) + m.height_m - m.valve_height_m


def _settled(parts, drips, sets: Sequence[RowSet], inlet, flow: LateralFlow, *, fresh: bool = True):
    """Heads at all inlets, and all flows, so that both agree to _CLOSE_M; `flow` is a beginning.

    One that is not fresh is of other tubes, emitters or heads: it is solved anew in any case, and a
    tenth of a millimetre of head is enough.
    """
    frictions = [friction_of(d) for d in drips]
    close = _CLOSE_M if fresh else 10 * _CLOSE_M
    for turn in range(_SOLUTIONS_AT_MOST):
        known_head, known_flow = flow.inlet_head_m, flow.total_l_h / LITRES_AN_HOUR
        wanted = inlet.copy()
        for one in sets:
            which, drip = one.manifold.laterals, drips[one.block]
            wanted[which] = _balanced(
                one, frictions[one.block], drip, known_head[which], known_flow[which]
            )
        moved = np.abs(wanted - known_head).max(initial=0.0)
        if moved <= close and (fresh or turn):
            break
        inlet = wanted
        flow = solved_blocks(parts, drips, inlet, flow)
    return inlet, flow


def _balanced(one: RowSet, friction: Friction, drip: Drip, head_m, flow_m3_s) -> np.ndarray:
    """Inlet heads of a set, where each lateral's flow goes with its head to the emitter's power."""
    inlet = head_m
    based = np.maximum(head_m, _LEAST_HEAD_M)
    for _ in range(_MODEL_STEPS):
        ratio = np.maximum(inlet, _LEAST_HEAD_M) / based
        lost = _lost_m(one, friction, flow_m3_s * ratio**drip.exponent)
        fresh = drip.head_m - lost
        done = np.abs(fresh - inlet).max() <= _CLOSE_M / 10
        inlet = fresh
        if done:
            break
    return inlet
