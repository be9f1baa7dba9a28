"""What comes of a set: its pipes with what flows in them, what it asks of the source, how even it is."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import shapely

from ..model.water import Drip, Water
from .chains import running_m
from .design import LateralLines, PipeRun, WaterSet
from .drips import friction_of
from .emitters import LITRES_AN_HOUR, SECONDS_AN_HOUR
from .friction import GRAVITY_M_S2
from .lateral_flow import LateralFlow
from .sets import RowSet
from .submains import least_pipe, velocity_m_s
from .uniformity import distribution_uniformity_pct, emission_uniformity_pct

FLUSHING_M_S = 0.3
"""Velocity that carries silt out of a drip line's tail: 0.3 m/s, ASABE EP405.1 (from memory). [m/s]"""
WATER_BULK_MPA, PIPE_MODULUS_MPA = 2200.0, 1000.0
"""Bulk modulus of water, and short-term modulus of polyethylene PE 100 (both from memory). [MPa]"""
WATER_KG_M3 = 1000.0


def emitters_of_sets(sets: Sequence[RowSet], lines: LateralLines, flow: LateralFlow):
    """Flows of one emitter in each set, without outlets that feed none, and emitters a vine of each."""
    of_lateral = np.full(len(lines.laterals), len(sets), dtype=np.int32)
    for k, one in enumerate(sets):
        of_lateral[one.manifold.laterals] = k
    of_outlet = of_lateral[lines.laterals.lateral]
    order = np.argsort(of_outlet, kind="stable")
    bounds = np.searchsorted(of_outlet[order], np.arange(len(sets) + 1))
    each = flow.emitter_l_h[order]
    flows = [each[a:b] for a, b in itertools.pairwise(bounds.tolist())]
    of_vine = of_lateral[lines.vine_lateral]
    vines = np.bincount(of_vine, minlength=len(sets) + 1)
    emitters = np.bincount(of_vine, lines.vine_emitters, minlength=len(sets) + 1)
    a_vine = np.where(vines > 0, emitters / np.maximum(vines, 1), 1.0)
    return [f[np.isfinite(f)] for f in flows], a_vine.tolist()[: len(sets)]


def finished_set(
    number: int,
    one: RowSet,
    lines: LateralLines,
    flow: LateralFlow,
    drip: Drip,
    water: Water,
    source,
    emitter_l_h: np.ndarray,
    emitters_a_vine: float,
) -> WaterSet:
    """A set with all that is told of it.

    Parameters
    ----------
    source : ((x, y), level)
        Place of the source, and the level its heads count from.
    emitter_l_h : float array
        Flow of one emitter at each of the set's outlets. [L/h]
    emitters_a_vine : float
    """
    place, level = source
    m, friction = one.manifold, friction_of(drip)
    which = m.laterals
    each = flow.total_l_h[which] / LITRES_AN_HOUR
    carried = m.summed_outward(each)
    total = float(each.sum())
    main = _main(one, lines, friction, water, (place, level), total, drip)
    losses = water.source.losses_m + float(main.loss_m.sum())
    wanted = drip.head_m + losses + m.valve_height_m - level
    known = emitter_l_h if len(emitter_l_h) else np.zeros(1)
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
        total * SECONDS_AN_HOUR,
        drip.head_m,
        branches,
        main,
        total * SECONDS_AN_HOUR,
        wanted,
        water.source.head_at_m(total * SECONDS_AN_HOUR),
        float(known.min()),
        float(known.mean()),
        greatest,
        emission_uniformity_pct(known, drip.cv, emitters_a_vine),
        distribution_uniformity_pct(known),
        100 * (1 - float(known.min()) / greatest) if greatest > 0 else 0.0,
        flushing_m3_h(lines, which),
        surge_m(float(main.velocity_m_s.max(initial=0.0)), main.outer_mm, main.inner_mm),
    )


def _branch(one: RowSet, lines, friction, carried, order) -> PipeRun:
    m, order = one.manifold, np.array(order)
    xy = np.vstack([[m.valve_xy_m], m.xy_m[order]])
    length, inner = m.length_m[order], one.inner_m[order]
    loss, _ = friction.loss_and_slope(carried[order], inner, length)
    return PipeRun(
        xy,
        np.concatenate([[m.valve_height_m], m.height_m[order]]),
        length,
        carried[order] * SECONDS_AN_HOUR,
        loss,
        velocity_m_s(carried[order], inner),
        one.outer_m[order] * 1000,
        inner * 1000,
        m.laterals[order],
    )


def _main(
    one: RowSet, lines, friction, water: Water, source, total_m3_s: float, drip: Drip
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
    has = water.source.head_at_m(total_m3_s * SECONDS_AN_HOUR)
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
        np.full(k, total_m3_s * SECONDS_AN_HOUR),
        loss,
        velocity_m_s(np.full(k, total_m3_s), inner),
        np.full(k, pipes[size, 0] * 1000),
        inner * 1000,
        np.full(k, -1, dtype=np.intp),
    )


def flushing_m3_h(lines: LateralLines, which: np.ndarray) -> float:
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
    return float((np.maximum(onward + back, 1) * area).sum() * FLUSHING_M_S * SECONDS_AN_HOUR)


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
