"""Laterals of a site block by block, as each has emitters and tubes of its own: solved, and told at vines."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from ..model.water import Drip
from .design import LateralLines
from .drips import emitter_of, friction_of
from .emitters import LITRES_AN_HOUR
from .feeds import SubmainFeed
from .lateral_flow import LateralFlow, solve_laterals
from .laterals import Laterals
from .lines import laterals_together
from .sets import RowSet


def as_drips_say(lines: LateralLines, drips: Sequence[Drip]) -> Laterals:
    """The laterals with the tube and the barbs that are said now."""
    laterals = lines.laterals
    if not drips:
        return laterals
    tube = np.array([d.tube_mm / 1000 for d in drips])[lines.block]
    barb = np.array([d.barb_loss for d in drips])[lines.block][laterals.lateral]
    return replace(laterals, diameter_m=tube, barb_loss=barb)


def block_parts(lines: LateralLines, n_blocks: int) -> list[tuple[slice, slice, Laterals]]:
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


def solved_blocks(
    parts,
    drips: Sequence[Drip],
    inlet_head_m: np.ndarray,
    before: LateralFlow | None = None,
    sets: Sequence[RowSet] | None = None,
) -> LateralFlow:
    """Flow in all laterals, at heads at their inlets, or at those that sets leave there.

    `before` is that at heads near to them; with sets, `inlet_head_m` is a first guess.
    """
    found = []
    for b, ((some, out, laterals), drip) in enumerate(zip(parts, drips, strict=True)):
        start = before and _of_part(before, some, out, laterals)
        feed = None
        if sets is not None:
            feed = _feed_of(laterals, drip, some, start, [s for s in sets if s.block == b])
        found.append(
            solve_laterals(
                laterals,
                emitter_of(drip),
                friction_of(drip),
                inlet_head_m=inlet_head_m[some],
                feed=feed,
                start=start,
            )
        )

    def joined(name, dtype=float):
        return np.concatenate([np.empty(0, dtype), *(getattr(f, name) for f in found)]).astype(
            dtype
        )

    return LateralFlow(
        laterals_together([f.laterals for f in found]),
        joined("inlet_head_m"),
        joined("head_m"),
        joined("flow_l_h"),
        joined("piece_l_h"),
        joined("converged", bool),
        max((f.steps for f in found), default=0),
    )


def _feed_of(laterals, drip: Drip, some: slice, start, sets: Sequence[RowSet]) -> SubmainFeed:
    """The submains of one block's sets."""
    if start is None:
        nominal = np.full(len(laterals.outlet_m), drip.emitter_l_h) * laterals.emitters
        taken = laterals.summed(nominal)
    else:
        taken = start.total_l_h
    manifolds = [s.manifold for s in sets]
    none = np.empty(0)
    return SubmainFeed(
        [m.n_before for m in manifolds],
        [m.laterals - some.start for m in manifolds],
        np.concatenate([none, *(drip.head_m + m.valve_height_m - m.height_m for m in manifolds)]),
        np.concatenate([none, *(m.length_m for m in manifolds)]),
        np.concatenate([none, *(s.inner_m for s in sets)]),
        friction_of(drip),
        taken / LITRES_AN_HOUR,
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


def at_vines(lines: LateralLines, flow: LateralFlow, drips) -> tuple[np.ndarray, np.ndarray]:
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
