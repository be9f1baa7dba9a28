"""A drip system proposed for plans: sets the source can feed, pipes thick enough, everything solved.

Behind each valve a head is held. What a lateral has at its inlet follows from its submain's losses, and
those from the laterals' flows; a few solutions of all laterals settle it, each starting from how flows
answer to heads in the one before.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..model import RowPlan
from ..model.water import Drip, Water
from ..terrain.surface import Surface
from .chains import divided, running_m
from .design import LateralLines, PipeRun, WaterDesign, WaterSet
from .drips import emitter_of, friction_of
from .emitters import LITRES_AN_HOUR
from .friction import GRAVITY_M_S2, Friction
from .lateral_flow import LateralFlow, solve_laterals
from .laterals import Laterals
from .lines import lateral_lines, laterals_together
from .submains import Manifold, chosen_pipes, least_pipe, manifold_of, velocity_m_s
from .uniformity import distribution_uniformity_pct, emission_uniformity_pct

FLUSHING_M_S = 0.3
"""Velocity that carries silt out of a drip line's tail: 0.3 m/s, ASABE EP405.1 (from memory). [m/s]"""
WATER_BULK_MPA, PIPE_MODULUS_MPA = 2200.0, 1000.0
"""Bulk modulus of water, and short-term modulus of polyethylene PE 100 (both from memory). [MPa]"""
WATER_KG_M3 = 1000.0
_CLOSE_M = 1e-5
"""Inlet heads that move by no more are settled. [m]"""
_SOLUTIONS_AT_MOST = 12
_MODEL_STEPS = 60
_LEAST_HEAD_M = 0.01
_ROWS_ALONE_SHARE = 0.1
"""Of the permitted variation, that a submain may add where rows alone differ by more than is permitted."""
_FLOWS_TRIED = 60
_LEVEL_SHARE = 0.05
"""Of the head that is held: a submain that climbs no more needs no look at its heights."""
_SETS_MORE = 6
"""Times as many sets as the flow alone asks for, that heights may make of a submain."""
_SECONDS_AN_HOUR = 3600.0


@dataclass(frozen=True, eq=False)
class _Set:
    """One set while it is made: its block's drip, its manifold, and the pipe of every piece."""

    block: int
    chain: np.ndarray
    manifold: Manifold
    inner_m: np.ndarray
    outer_m: np.ndarray


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
    lines = replace(lines, laterals=_as_drips_say(lines, drips))
    parts = _parts(lines, len(plans))
    n = len(lines.laterals)
    inlet = np.array([drips[b].head_m for b in lines.block.tolist()], dtype=float)
    place, level = _source(plans, water, surface, lines)
    sets: list[_Set] = []
    if keep_sets and near is not None and _asks_alike(near.water, water, near.blocks):
        sets = list(near.made_of)
        inlet, flow = _settled(parts, drips, sets, inlet, near.flow, fresh=False)
    else:
        flow = _solved(parts, drips, inlet, near and near.flow)
        found = [(int(lines.block[c[0]]), c) for c in lines.chains]
        for b, chain in found:
            sets += _sets_of_chain(lines, flow, chain, (b, drips[b]), water, (place, level), found)
        inlet, flow = _settled(parts, drips, sets, inlet, flow)
    vine_head, vine_flow = _at_vines(lines, flow, drips)
    set_of_lateral = np.full(n, -1, dtype=np.intp)
    for k, one in enumerate(sets):
        set_of_lateral[one.manifold.laterals] = k
    made = tuple(
        _finished(k + 1, one, lines, flow, drips[one.block], water, (place, level))
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


# laterals, block by block


def _as_drips_say(lines: LateralLines, drips: Sequence[Drip]) -> Laterals:
    """The laterals with the tube and the barbs that are said now."""
    laterals = lines.laterals
    if not drips:
        return laterals
    tube = np.array([d.tube_mm / 1000 for d in drips])[lines.block]
    barb = np.array([d.barb_loss for d in drips])[lines.block][laterals.lateral]
    return replace(laterals, diameter_m=tube, barb_loss=barb)


def _parts(lines: LateralLines, n_blocks: int) -> list[tuple[slice, slice, Laterals]]:
    """Laterals and outlets of every block."""
    edges = np.searchsorted(lines.block, np.arange(n_blocks + 1))
    whole, parts = lines.laterals, []
    for a, b in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
        first, end = int(whole.offset[a]), int(whole.offset[b])
        some, out = slice(a, b), slice(first, end)
        parts.append(
            (
                some,
                out,
                Laterals(
                    whole.offset[a : b + 1] - first,
                    whole.outlet_m[out],
                    whole.outlet_height_m[out],
                    whole.inlet_m[some],
                    whole.inlet_height_m[some],
                    whole.diameter_m[some],
                    whole.emitters[out],
                    whole.barb_loss[out],
                ),
            )
        )
    return parts


def _solved(
    parts, drips: Sequence[Drip], inlet_head_m: np.ndarray, before: LateralFlow | None = None
) -> LateralFlow:
    """Flow in all laterals at heads at their inlets; `before` is that at heads near to them."""
    found = [
        solve_laterals(
            laterals,
            emitter_of(drip),
            friction_of(drip),
            inlet_head_m=inlet_head_m[some],
            start=before and _of_part(before, some, out, laterals),
        )
        for (some, out, laterals), drip in zip(parts, drips, strict=True)
    ]

    def joined(name, dtype=float):
        return np.concatenate([np.empty(0, dtype), *(getattr(f, name) for f in found)]).astype(
            dtype
        )

    return LateralFlow(
        laterals_together([f.laterals for f in found]),
        inlet_head_m,
        joined("head_m"),
        joined("flow_l_h"),
        joined("piece_l_h"),
        joined("converged", bool),
        max((f.steps for f in found), default=0),
    )


def _of_part(flow: LateralFlow, some: slice, out: slice, laterals: Laterals) -> LateralFlow:
    """The flow of some of the laterals."""
    return LateralFlow(
        laterals,
        flow.inlet_head_m[some],
        flow.head_m[out],
        flow.flow_l_h[out],
        flow.piece_l_h[out],
        flow.converged[some],
        flow.steps,
    )


# the source, and how much it gives


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


def _most_m3_s(water: Water, drip: Drip, length_m: float, up_m: float) -> float:
    """Flow that the source still brings to a valve so far away and so high, at the head asked. [m³/s]

    In the widest pipe, no faster than permitted. Where no flow does, that of the curve's end.
    """
    source = water.source
    widest = water.pipes_mm[-1][1] / 1000
    most = min(source.curve[-1][0] / _SECONDS_AN_HOUR, source.velocity_m_s * np.pi / 4 * widest**2)
    flows = np.linspace(most / _FLOWS_TRIED, most, _FLOWS_TRIED)
    loss, _ = friction_of(drip).loss_and_slope(
        flows, np.full(len(flows), widest), np.full(len(flows), max(length_m, 0.01))
    )
    left = np.array([source.head_at_m(q * _SECONDS_AN_HOUR) for q in flows.tolist()])
    enough = left >= drip.head_m + source.losses_m + up_m + loss
    return float(flows[enough].max()) if enough.any() else float(most)


# sets


def _sets_of_chain(lines, flow: LateralFlow, chain, whose, water: Water, source, found):
    b, drip = whose
    place, level = source
    xy, height = lines.inlet_xy_m[chain], lines.laterals.inlet_height_m[chain]
    station = running_m(xy, height)
    each = flow.total_l_h[chain]
    away = float(np.linalg.norm(xy - np.array(place), axis=1).min() + station[-1])
    if drip.sets is None:
        most = _most_m3_s(water, drip, away, float(height.max()) - level) * LITRES_AN_HOUR
        n_sets = int(np.ceil(each.sum() / most - 1e-6)) if most > 0 else 1
    else:
        mine = [c for other, c in found if other == b]
        total = sum(float(flow.total_l_h[c].sum()) for c in mine)
        share = each.sum() / total if total > 0 else 1 / len(mine)
        n_sets = round(drip.sets * share)

    def cut(n: int) -> list[Manifold]:
        return [
            manifold_of(chain[run], station[run], xy[run], height[run], each[run])
            for run in divided(each, max(n, 1))
        ]

    manifolds = cut(n_sets)
    if drip.sets is None and float(np.ptp(height)) > _LEVEL_SHARE * drip.head_m:
        manifolds = _cut_for_height(manifolds, cut, drip, flow)
    return [_with_pipes(b, chain, m, drip, water, flow) for m in manifolds]


def _cut_for_height(manifolds: list[Manifold], cut, drip: Drip, flow) -> list[Manifold]:
    """More sets where the submain climbs so much that one head cannot serve all its rows.

    As few as make every set as good as its rows alone let it be; the first number of sets where none
    does, up to _SETS_MORE times as many.
    """

    def spoilt(some: list[Manifold]) -> int:
        found = 0
        for m in some:
            level = replace(m, height_m=np.full(len(m.height_m), m.valve_height_m))
            found += _Evenness(level, drip, flow).is_possible and not (
                _Evenness(m, drip, flow).is_possible
            )
        return found

    most = min(_SETS_MORE * len(manifolds), sum(len(m.laterals) for m in manifolds))
    if not spoilt(manifolds):
        return manifolds
    for n in range(len(manifolds) + 1, most + 1):
        some = cut(n)
        if not spoilt(some):
            return some
    return manifolds


def _with_pipes(b: int, chain, manifold: Manifold, drip: Drip, water: Water, flow) -> _Set:
    pipes = np.array(water.pipes_mm) / 1000
    even = _Evenness(manifold, drip, flow)
    each = flow.total_l_h[manifold.laterals] / LITRES_AN_HOUR
    size = chosen_pipes(
        manifold, each, pipes[:, 1], water.source.velocity_m_s, friction_of(drip), even.holds
    )
    return _Set(b, chain, manifold, pipes[size, 1], pipes[size, 0])


class _Evenness:
    """Whether flows in a set stay alike enough, judged from how its laterals do at the head that is held.

    What rows alone, or heights along the submain, already make uneven no pipe can mend: friction may
    then add a tenth of what is permitted.
    """

    def __init__(self, manifold: Manifold, drip: Drip, flow: LateralFlow):
        which = manifold.laterals
        self.drip = drip
        self.rise = manifold.height_m - manifold.valve_height_m
        least, greatest = flow.least_l_h[which], flow.greatest_l_h[which]
        self.fed = np.isfinite(least) & (greatest > 0)
        self.least, self.greatest = least[self.fed], greatest[self.fed]
        lowest = np.where(self.fed, flow.least_head_m[which], drip.head_m)
        self.room_m = lowest - self.rise - drip.least_head_m
        self.permitted = drip.variation_pct / 100
        self.bare = self._variation(np.zeros(len(which)))

    @property
    def is_possible(self) -> bool:
        """Whether pipes without friction would do."""
        return bool(self.bare <= self.permitted and (self.room_m >= 0).all())

    def holds(self, friction_m: np.ndarray) -> bool:
        """Whether flows are alike enough, and heads in the working range, at losses in the submain."""
        least_room = _ROWS_ALONE_SHARE * self.permitted * self.drip.head_m
        if (friction_m > np.maximum(self.room_m, least_room)).any():
            return False
        most = max(self.permitted, self.bare + _ROWS_ALONE_SHARE * self.permitted)
        return self._variation(friction_m) <= most

    def _variation(self, friction_m: np.ndarray) -> float:
        """Greatest less least flow, of the greatest, as heads at the inlets make them."""
        if not self.fed.any():
            return 0.0
        head = self.drip.head_m - (friction_m + self.rise)[self.fed]
        ratio = np.maximum(head / self.drip.head_m, 1e-6) ** self.drip.exponent
        return float(1 - (self.least * ratio).min() / (self.greatest * ratio).max())


def _lost_m(one: _Set, friction: Friction, each_m3_s: np.ndarray) -> np.ndarray:
    """Head that each lateral of a set has less than the valve, by friction and by height, (k,). [m]"""
    m = one.manifold
    loss, _ = friction.loss_and_slope(m.summed_outward(each_m3_s), one.inner_m, m.length_m)
    return m.summed_inward(loss) + m.height_m - m.valve_height_m


def _settled(parts, drips, sets: Sequence[_Set], inlet, flow: LateralFlow, *, fresh: bool = True):
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
        flow = _solved(parts, drips, inlet, flow)
    return inlet, flow


def _balanced(one: _Set, friction: Friction, drip: Drip, head_m, flow_m3_s) -> np.ndarray:
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


# what comes of it


def _at_vines(lines: LateralLines, flow: LateralFlow, drips) -> tuple[np.ndarray, np.ndarray]:
    """Head and flow at every vine, between outlets on the line between their heads. [m], [L/h]"""
    lat = lines.laterals
    if not len(lines.vine_lateral):
        return np.empty(0), np.empty(0)
    base = np.concatenate([[0.0], np.cumsum(lines.length_m + 1.0)])[:-1]
    outlet = lat.outlet_m + base[lat.lateral]
    some = lat.count > 0
    low, high = np.zeros(len(lat)), np.zeros(len(lat))
    low[some] = lat.outlet_m[lat.offset[:-1][some]]
    high[some] = lat.outlet_m[lat.offset[1:][some] - 1]
    which = lines.vine_lateral
    place = np.clip(lines.vine_outlet_m, low[which], high[which]) + base[which]
    dry = ~some[which]
    head = np.interp(place, outlet, flow.head_m) if len(outlet) else np.zeros(len(place))
    head = np.where(dry, 0.0, head)
    out = np.empty(len(head))
    block = lines.block[which]
    for b, drip in enumerate(drips):
        mine = block == b
        out[mine] = emitter_of(drip).flow_l_h(head[mine]) * lines.vine_emitters[mine]
    return head, out


def _finished(number, one: _Set, lines, flow: LateralFlow, drip: Drip, water: Water, source):
    place, level = source
    m, friction = one.manifold, friction_of(drip)
    which = m.laterals
    each = flow.total_l_h[which] / LITRES_AN_HOUR
    carried = m.summed_outward(each)
    total = float(each.sum())
    main = _main(one, lines, friction, water, (place, level), total, drip)
    losses = water.source.losses_m + float(main.loss_m.sum())
    wanted = drip.head_m + losses + m.valve_height_m - level
    emitters = flow.emitter_l_h[np.isin(lines.laterals.lateral, which)]
    emitters = emitters[np.isfinite(emitters)]
    known = emitters if len(emitters) else np.zeros(1)
    of_vines = np.isin(lines.vine_lateral, which)
    e = float(lines.vine_emitters[of_vines].mean()) if of_vines.any() else 1.0
    branches = tuple(
        _branch(one, lines, friction, carried, order)
        for order in (range(m.n_before - 1, -1, -1), range(m.n_before, len(which)))
        if len(order)
    )
    greatest = float(known.max())
    return WaterSet(
        number,
        one.block,
        which,
        m.valve_xy_m,
        m.valve_height_m,
        total * _SECONDS_AN_HOUR,
        drip.head_m,
        branches,
        main,
        total * _SECONDS_AN_HOUR,
        wanted,
        water.source.head_at_m(total * _SECONDS_AN_HOUR),
        float(known.min()),
        float(known.mean()),
        greatest,
        emission_uniformity_pct(known, drip.cv, e),
        distribution_uniformity_pct(known),
        100 * (1 - float(known.min()) / greatest) if greatest > 0 else 0.0,
        _flushing_m3_h(lines, which),
        surge_m(float(main.velocity_m_s.max(initial=0.0)), main.outer_mm, main.inner_mm),
    )


def _branch(one: _Set, lines, friction, carried, order) -> PipeRun:
    m, order = one.manifold, np.array(order)
    xy = np.vstack([[m.valve_xy_m], m.xy_m[order]])
    length, inner = m.length_m[order], one.inner_m[order]
    loss, _ = friction.loss_and_slope(carried[order], inner, length)
    return PipeRun(
        xy,
        np.concatenate([[m.valve_height_m], m.height_m[order]]),
        length,
        carried[order] * _SECONDS_AN_HOUR,
        loss,
        velocity_m_s(carried[order], inner),
        one.outer_m[order] * 1000,
        inner * 1000,
        m.laterals[order],
    )


def _main(
    one: _Set, lines, friction, water: Water, source, total_m3_s: float, drip: Drip
) -> PipeRun:
    """From the source straight to the chain, and along it to the valve, in one size of pipe."""
    place, level = source
    xy, height = lines.inlet_xy_m[one.chain], lines.laterals.inlet_height_m[one.chain]
    station = running_m(xy, height)
    at = station[0]
    if len(xy) > 1 and station[-1] > 0:
        flat = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(xy, axis=0), axis=1))])
        near = shapely.line_locate_point(shapely.linestrings(xy), shapely.points(place))
        at = float(np.interp(near, flat, station))
    valve = one.manifold.valve_station_m
    between = (station > min(at, valve) + 1e-6) & (station < max(at, valve) - 1e-6)
    stops = np.concatenate([[at], station[between][:: 1 if valve >= at else -1], [valve]])
    places = np.column_stack([np.interp(stops, station, xy[:, k]) for k in (0, 1)])
    places = np.vstack([[place], places])
    heights = np.concatenate([[level], np.interp(stops, station, height)])
    step = np.linalg.norm(np.diff(places, axis=0), axis=1)
    length = np.maximum(np.hypot(step, np.diff(heights)), 1e-3)
    pipes = np.array(water.pipes_mm) / 1000
    size = int(least_pipe(np.array([total_m3_s]), pipes[:, 1], water.source.velocity_m_s)[0])
    has = water.source.head_at_m(total_m3_s * _SECONDS_AN_HOUR)
    asked = drip.head_m + water.source.losses_m + one.manifold.valve_height_m - level
    while True:
        inner = np.full(len(length), pipes[size, 1])
        loss, _ = friction.loss_and_slope(np.full(len(length), total_m3_s), inner, length)
        lacks = asked + loss.sum() > has
        if not lacks or size == len(pipes) - 1 or asked > has:
            break
        size += 1
    k = len(length)
    return PipeRun(
        places,
        heights,
        length,
        np.full(k, total_m3_s * _SECONDS_AN_HOUR),
        loss,
        velocity_m_s(np.full(k, total_m3_s), inner),
        np.full(k, pipes[size, 0] * 1000),
        inner * 1000,
        np.full(k, -1, dtype=np.intp),
    )


def _flushing_m3_h(lines: LateralLines, which: np.ndarray) -> float:
    """Flow that washes all tails of these laterals at FLUSHING_M_S. [m³/h]"""
    lat = lines.laterals
    first, end = lat.offset[:-1][which], lat.offset[1:][which]
    has = end > first
    onward = np.zeros(len(which))
    back = np.zeros(len(which))
    inlet = lat.inlet_m[which]
    onward[has] = lat.outlet_m[end[has] - 1] > inlet[has]
    back[has] = lat.outlet_m[first[has]] < inlet[has]
    area = np.pi / 4 * lat.diameter_m[which] ** 2
    return float((np.maximum(onward + back, 1) * area).sum() * FLUSHING_M_S * _SECONDS_AN_HOUR)


def surge_m(velocity: float, outer_mm, inner_mm) -> float:
    """Rise of head when water of a velocity is stopped at once: Joukowsky's a·v/g. [m]

    The wave runs at a = √(K/ρ) / √(1 + K·D/(E·e)), by Korteweg, with WATER_BULK_MPA and
    PIPE_MODULUS_MPA; slow valves make less. Sources: Wylie and Streeter, Fluid transients in systems,
    1993 (from memory).

    >>> round(surge_m(1.5, 63.0, 55.4), 1)
    39.4
    """
    outer, inner = np.max(outer_mm, initial=0.0), np.max(inner_mm, initial=0.0)
    if inner <= 0 or outer <= inner:
        return 0.0
    wall = (outer - inner) / 2
    free = np.sqrt(WATER_BULK_MPA * 1e6 / WATER_KG_M3)
    wave = free / np.sqrt(1 + WATER_BULK_MPA * inner / (PIPE_MODULUS_MPA * wall))
    return float(wave * velocity / GRAVITY_M_S2)
