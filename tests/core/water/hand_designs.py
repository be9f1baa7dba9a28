"""Drip systems put together by hand: one set a block, all inlets at one head, ground a tilted plane."""

from __future__ import annotations

import numpy as np
import shapely

from layoutdesk import Block, RowRules, lay_rows
from layoutdesk.core.model.water import Drip, Water
from layoutdesk.core.water import Laterals, solve_laterals
from layoutdesk.core.water.design import LateralLines, PipeRun, WaterDesign, WaterSet
from layoutdesk.core.water.drips import emitter_of, friction_of


def plan_of(width_m=60.0, length_m=160.0, name="B1", west_m=0.0, **rules):
    """Rows to the north on level ground by name, two ends of 8 m left clear."""
    outline = shapely.box(west_m, 0, west_m + width_m, length_m)
    rules = {"bearing_deg": 0.0, "row_spacing_m": 2.5, "vine_spacing_m": 1.5} | rules
    return lay_rows(Block(name, outline, RowRules(**rules)))


def run_of(xy, sizes, flow_m3_h=5.0, velocity_m_s=1.0) -> PipeRun:
    xy = np.asarray(xy, dtype=float)
    k = len(xy) - 1
    outer, inner = np.asarray(sizes, dtype=float).reshape(k, 2).T
    return PipeRun(
        xy,
        np.zeros(k + 1),
        np.linalg.norm(np.diff(xy, axis=0), axis=1),
        np.full(k, flow_m3_h),
        np.zeros(k),
        np.full(k, velocity_m_s),
        outer,
        inner,
        np.full(k, -1),
    )


def design_of(plans, water=None, grade=0.0, head_m=None, **of_sets) -> WaterDesign:
    """A lateral a segment, fed where its drip says; `grade` rises to the north.

    `head_m` is that at each inlet, else what is held behind the valve. `of_sets` replaces values of the
    sets.
    """
    water = water or Water()
    names = tuple(p.block.name for p in plans)
    flows, block, parts, sets, rows = [], [], [], [], []
    for b, plan in enumerate(plans):
        drip, s = water.drip_of(names[b]), plan.segments
        lateral, flow = _laterals(plan, drip, grade, head_m)
        parts.append((plan, lateral, flow))
        block.append(np.full(len(s), b))
        flows.append(flow)
        rows.append(lateral)
    whole, flow = _together(rows, flows)
    block = np.concatenate(block)
    lines = _lines(plans, water, whole, block)
    emitter_l_h = flow.emitter_l_h
    for b in range(len(plans)):
        mine = np.flatnonzero(block == b)
        if not len(mine):
            continue
        each = emitter_l_h[np.isin(whole.lateral, mine)]
        total = float(flow.flow_l_h[np.isin(whole.lateral, mine)].sum()) / 1000
        valve = tuple(lines.inlet_xy_m[mine].mean(axis=0).tolist())
        main = run_of([(-50.0, -50.0), valve], [(63.0, 55.4)], total)
        branch = run_of(lines.inlet_xy_m[mine][:2], [(50.0, 44.0)], total)
        values = {
            "number": len(sets) + 1,
            "block": b,
            "laterals": mine,
            "valve_xy_m": valve,
            "valve_height_m": 0.0,
            "flow_m3_h": total,
            "head_m": water.drip_of(names[b]).head_m,
            "branches": (branch,),
            "main": main,
            "source_flow_m3_h": total,
            "source_head_m": 25.0,
            "available_head_m": water.source.head_at_m(total),
            "least_l_h": float(each.min()),
            "mean_l_h": float(each.mean()),
            "greatest_l_h": float(each.max()),
            "eu_pct": 90.0,
            "du_pct": 95.0,
            "variation_pct": float(100 * (1 - each.min() / max(each.max(), 1e-12))),
            "flushing_m3_h": 2.0,
            "surge_m": 20.0,
        }
        sets.append(WaterSet(**(values | of_sets)))
    set_of_block = {s.block: i for i, s in enumerate(sets)}
    outlet_flow, outlet_head = flow.flow_l_h, flow.head_m
    vine_flow, vine_head = _at_vines(lines, whole, outlet_flow, outlet_head)
    return WaterDesign(
        water,
        names,
        lines,
        flow,
        tuple(sets),
        np.array([set_of_block[b] for b in block.tolist()], dtype=np.intp),
        vine_head,
        vine_flow,
        (-50.0, -50.0),
        0.0,
        np.array([p.rules.row_spacing_m * p.rules.vine_spacing_m for p in plans]),
    )


def _laterals(plan, drip: Drip, grade, head_m):
    """One tube a segment, from end post to end post; its places count from the start post."""
    s = plan.segments
    count = plan.vines_of_segment
    first, step = s.first_vine_m, s.vine_step_m
    offset = np.concatenate([[0], np.cumsum(count)])
    lateral = np.repeat(np.arange(len(s)), count)
    place = first[lateral] + (np.arange(offset[-1]) - offset[lateral]) * step[lateral]
    inlet = {
        "higher end": np.zeros(len(s)),  # these are told as fed from their starts
        "start end": np.zeros(len(s)),
        "far end": s.length_m,
        "middle": first + (count // 2 - 0.5) * step,
    }[drip.fed]
    ones = np.ones(len(place))
    rows = Laterals(
        offset,
        place,
        grade * (s.start_m[lateral] + place),
        inlet,
        grade * (s.start_m + inlet),
        np.full(len(s), drip.tube_mm / 1e3),
        drip.emitters_per_vine * ones,
        drip.barb_loss * ones,
    )
    head = drip.head_m if head_m is None else head_m
    return rows, solve_laterals(rows, emitter_of(drip), friction_of(drip), inlet_head_m=head)


def _together(rows, flows):
    from dataclasses import replace

    def joined(values, of):
        return np.concatenate([np.zeros(0), *(getattr(v, of) for v in values)])

    offset, before = [np.zeros(1, dtype=int)], 0
    for r in rows:
        offset.append(r.offset[1:] + before)
        before += r.offset[-1]
    whole = Laterals(
        np.concatenate(offset),
        *(joined(rows, n) for n in ("outlet_m", "outlet_height_m", "inlet_m", "inlet_height_m")),
        *(joined(rows, n) for n in ("diameter_m", "emitters", "barb_loss")),
    )
    fields = ("inlet_head_m", "head_m", "flow_l_h", "piece_l_h")
    return whole, replace(
        flows[0],
        laterals=whole,
        converged=joined(flows, "converged").astype(bool),
        **{f: joined(flows, f) for f in fields},
    )


def _lines(plans, water, whole, block) -> LateralLines:
    ends = np.concatenate([np.empty((0, 2, 2)), *(p.segment_ends_m for p in plans)])
    length = np.concatenate([np.zeros(0), *(p.segments.length_m for p in plans)])
    share = np.divide(whole.inlet_m, length, out=np.zeros(len(length)), where=length > 0)
    inlet = ends[:, 0] + share[:, None] * (ends[:, 1] - ends[:, 0])
    number = np.concatenate([np.zeros(0, int), *(p.segments.number for p in plans)])
    letter = np.concatenate([np.zeros(0, int), *(p.segments.letter for p in plans)])
    return LateralLines(
        whole,
        block,
        number,
        letter,
        letter,
        inlet,
        ends,
        length,
        whole.lateral,
        whole.outlet_m,
        whole.emitters,
        True,
    )


def _at_vines(lines, whole, flow, head):
    return flow, head
