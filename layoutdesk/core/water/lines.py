"""Laterals where they lie on the ground: which segments are one tube, its outlets, its inlet.

Everything runs over *nodes*: the start post of each segment, its outlets, its far end post. Where
terrain is known tube is as long as the ground between nodes, which are about a vine apart.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
import shapely

from ..model import RowPlan
from ..model.water import Drip, Water
from ..terrain.surface import Surface
from .chains import chains
from .design import LateralLines
from .laterals import Laterals

_APART_M = 1.0
"""Between the running places of two laterals, so that places of one never touch those of the next. [m]"""
_ROUNDING_M = 1e-9
_LEVEL_M = 0.01
"""Rows that rise by less from end to end are level. [m]"""


@dataclass(frozen=True, eq=False)
class _Nodes:
    """Places along all tubes of one plan, q nodes in order; `outlet` tells which are outlets.

    `plan_m` and `tube_m` run on from lateral to lateral, in plan and along the ground.
    """

    segment: np.ndarray
    lateral: np.ndarray
    along_m: np.ndarray
    outlet: np.ndarray
    xy_m: np.ndarray
    height_m: np.ndarray
    plan_m: np.ndarray
    tube_m: np.ndarray
    first: np.ndarray
    last: np.ndarray


def lateral_lines(
    plans: Sequence[RowPlan], water: Water, surface: Surface | None = None
) -> LateralLines:
    """Laterals of all plans, block after block.

    Segments of one row whose gap is no wider than the drip's `bridge_m` are one lateral, with bare tube
    between. An inlet never lies in a gap: in the middle of a lateral it goes to the segment end next to
    it, and where a line crosses the row in a gap, or not at all, to the segment end next to the line.

    Parameters
    ----------
    plans : sequence of RowPlan
    water : Water
    surface : Surface, optional
        Of the ground; without, it is level.
    """
    parts = [
        _of_plan(b, p, water.drip_of(p.block.name), surface)
        for b, p in enumerate(plans)
        if p.n_segments
    ]
    known = [share for _, share in parts]
    lines = _joined(_levelled(parts), all(share == 1 for share in known))
    lines = replace(lines, is_level=not any(known))
    found = [c for b, plan in enumerate(plans) for c in chains(plan, lines, b)]
    return replace(lines, chains=tuple(found))


def _levelled(parts: list[tuple[LateralLines, float]]) -> list[LateralLines]:
    """Blocks of which no height is known stand as high as the others do on the whole."""
    known = [p.laterals.inlet_height_m for p, share in parts if share]
    level = float(np.concatenate(known).mean()) if known else 0.0

    def raised(part: LateralLines) -> LateralLines:
        rows = part.laterals
        return replace(
            part,
            laterals=replace(
                rows,
                outlet_height_m=rows.outlet_height_m + level,
                inlet_height_m=rows.inlet_height_m + level,
            ),
        )

    return [p if share else raised(p) for p, share in parts]


def _of_plan(b: int, plan: RowPlan, drip: Drip, surface) -> tuple[LateralLines, float]:
    """Laterals of one plan, and the share of its heights that is known."""
    s = plan.segments
    lateral_of = _lateral_of_segment(plan, drip.bridge_m)
    n = int(lateral_of[-1]) + 1
    vine_segment, vine_along = vine_places(plan)
    if drip.inline_m is None:
        order = np.lexsort((vine_along, vine_segment))
        out_segment, out_along = vine_segment[order], vine_along[order]
        emitters = float(drip.emitters_per_vine)
        served = np.full(len(vine_along), emitters)
    else:
        out_segment, out_along = _inline_places(plan, drip.inline_m)
        emitters = 1.0
        served = s.vine_step_m[vine_segment] / drip.inline_m
    nodes, known = _nodes_of(plan, lateral_of, n, (out_segment, out_along), surface)
    base = nodes.tube_m[nodes.first]
    outlet_lateral = nodes.lateral[nodes.outlet]
    count = np.bincount(outlet_lateral, minlength=n)
    inlet_plan_m = _inlets(plan, drip, nodes, lateral_of, n)
    inlet_tube = np.interp(inlet_plan_m, nodes.plan_m, nodes.tube_m)
    inlet_height = np.interp(inlet_plan_m, nodes.plan_m, nodes.height_m)
    inlet_xy = np.column_stack(
        [np.interp(inlet_plan_m, nodes.plan_m, nodes.xy_m[:, k]) for k in (0, 1)]
    ).reshape(n, 2)
    vine_lateral = lateral_of[vine_segment]
    vine_plan = _plan_place(plan, nodes, vine_segment, vine_along)
    vine_tube = np.interp(vine_plan, nodes.plan_m, nodes.tube_m)
    t = len(outlet_lateral)
    first_segment = np.searchsorted(lateral_of, np.arange(n))
    last_segment = np.searchsorted(lateral_of, np.arange(n), side="right") - 1
    return (
        LateralLines(
            Laterals(
                np.concatenate([[0], np.cumsum(count)]).astype(np.intp),
                np.maximum(nodes.tube_m[nodes.outlet] - base[outlet_lateral], 0.0),
                nodes.height_m[nodes.outlet],
                np.maximum(inlet_tube - base, 0.0),
                inlet_height,
                np.full(n, drip.tube_mm / 1000),
                np.full(t, emitters),
                np.full(t, drip.barb_loss),
            ),
            np.full(n, b, dtype=np.intp),
            s.number[first_segment],
            s.letter[first_segment],
            s.letter[last_segment],
            inlet_xy,
            np.stack([nodes.xy_m[nodes.first], nodes.xy_m[nodes.last]], axis=1),
            nodes.tube_m[nodes.last] - base,
            vine_lateral,
            vine_tube - base[vine_lateral],
            served,
            True,
        ),
        known,
    )


def vine_places(plan: RowPlan) -> tuple[np.ndarray, np.ndarray]:
    """Segment and place along it of every vine, in the order of `plan.vines`: (v,), (v,). [m]"""
    s, special = plan.segments, plan.special
    segment = np.repeat(np.arange(len(s)), s.n_vines)
    before = np.cumsum(s.n_vines) - s.n_vines
    rank = np.arange(len(segment)) - before[segment]
    along = s.start_m[segment] + s.first_vine_m[segment] + rank * s.vine_step_m[segment]
    if len(special.gap_segment):
        gone = before[special.gap_segment] + special.gap_index - 1
        segment, along = np.delete(segment, gone), np.delete(along, gone)
    if len(special.added_segment):
        ends = np.searchsorted(segment, special.added_segment, side="right")
        segment = np.insert(segment, ends, special.added_segment)
        along = np.insert(along, ends, special.added_along_m)
    return segment, along


def _inline_places(plan: RowPlan, every_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Emitters in the line: the first half a space from the start post, the last before the far one."""
    s = plan.segments
    count = np.floor(s.length_m / every_m + 0.5 + _ROUNDING_M).astype(np.intp)
    segment = np.repeat(np.arange(len(s)), count)
    rank = np.arange(len(segment)) - (np.cumsum(count) - count)[segment]
    return segment, s.start_m[segment] + (rank + 0.5) * every_m


def _lateral_of_segment(plan: RowPlan, bridge_m: float) -> np.ndarray:
    """Which lateral each segment is part of, (s,)."""
    s = plan.segments
    gap = s.start_m[1:] - s.end_m[:-1]
    fresh = (np.diff(s.line) != 0) | (gap > bridge_m + _ROUNDING_M)
    return np.concatenate([[0], np.cumsum(fresh)]).astype(np.intp)


def _nodes_of(plan, lateral_of, n, outlets, surface) -> tuple[_Nodes, float]:
    s = plan.segments
    out_segment, out_along = outlets
    count = np.bincount(out_segment, minlength=len(s)) + 2
    stop = np.cumsum(count)
    start = stop - count
    total = int(stop[-1])
    segment = np.repeat(np.arange(len(s)), count)
    outlet = np.ones(total, dtype=bool)
    outlet[start] = outlet[stop - 1] = False
    along = np.empty(total)
    along[start], along[stop - 1] = s.start_m, s.end_m
    along[outlet] = out_along
    xy = plan.places(segment, along)
    height, known = _heights(surface, xy)
    lateral = lateral_of[segment]
    apart = np.diff(lateral) > 0
    step = np.linalg.norm(np.diff(xy, axis=0), axis=1)
    flat = np.diff(along)
    # in plan by the row's own measure, which on curves is longer than the chord
    plan_step = np.where(apart, _APART_M, np.maximum(flat, 0.0))
    tube_step = np.where(apart, _APART_M, np.hypot(np.maximum(flat, step), np.diff(height)))
    first = np.searchsorted(lateral, np.arange(n))
    last = np.searchsorted(lateral, np.arange(n), side="right") - 1
    return (
        _Nodes(
            segment,
            lateral,
            along,
            outlet,
            xy,
            height,
            np.concatenate([[0.0], np.cumsum(plan_step)]),
            np.concatenate([[0.0], np.cumsum(tube_step)]),
            first,
            last,
        ),
        known,
    )


def _heights(surface, xy) -> tuple[np.ndarray, float]:
    """Heights at places, and the share that is known; others are taken from along the rows. [m]"""
    if surface is None:
        return np.zeros(len(xy)), 0.0
    height = surface.heights_m(xy)
    known = np.isfinite(height)
    if not known.any():
        return np.zeros(len(xy)), 0.0
    places = np.arange(len(xy))
    return np.interp(places, places[known], height[known]), float(known.mean())


def _plan_place(plan, nodes: _Nodes, segment, along_m) -> np.ndarray:
    """Running place in plan of places along segments. [m]"""
    begin = np.flatnonzero(~nodes.outlet)[::2]  # the start post of every segment
    return nodes.plan_m[begin][segment] + (along_m - plan.segments.start_m[segment])


def _inlets(plan: RowPlan, drip: Drip, nodes: _Nodes, lateral_of, n: int) -> np.ndarray:
    """Running place in plan of every lateral's inlet, (n,). [m]"""
    starts, ends = nodes.plan_m[nodes.first], nodes.plan_m[nodes.last]
    fed = drip.fed
    if fed == "higher end":
        rise = (nodes.height_m[nodes.last] - nodes.height_m[nodes.first]).sum()
        fed = "far end" if rise > _LEVEL_M * n else "start end"
    if fed not in ("line", "middle"):
        return ends if fed == "far end" else starts
    if fed == "middle":
        return _middles(nodes, n)
    line = shapely.LineString(drip.line_m)
    inlet = _ends_next_to(line, nodes, n)
    shapes = plan.shapes
    crossing = np.flatnonzero(shapely.intersects(shapes, line))[::-1]  # the first one is kept
    places = shapely.point_on_surface(shapely.intersection(shapes[crossing], line))
    along = plan.segments.start_m[crossing] + shapely.line_locate_point(shapes[crossing], places)
    inlet[lateral_of[crossing]] = _plan_place(plan, nodes, crossing, along)
    return inlet


def _ends_next_to(line, nodes: _Nodes, n: int) -> np.ndarray:
    """The end of a segment that is nearest to a line, of every lateral, (n,). [m]"""
    posts = np.flatnonzero(~nodes.outlet)
    away = np.round(shapely.distance(line, shapely.points(nodes.xy_m[posts])), 6)
    nearest_last = posts[np.lexsort((-posts, -away))]
    inlet = np.empty(n)
    inlet[nodes.lateral[nearest_last]] = nodes.plan_m[nearest_last]
    return inlet


def _middles(nodes: _Nodes, n: int) -> np.ndarray:
    """Midway between the two outlets in the middle; at a segment's end where those are parted."""
    at = np.flatnonzero(nodes.outlet)
    lateral = nodes.lateral[at]
    count = np.bincount(lateral, minlength=n)
    first = np.cumsum(count) - count
    inlet = nodes.plan_m[nodes.first].copy()
    two = np.flatnonzero(count > 1)
    one = at[first[two] + np.maximum(count[two] // 2 - 1, 0)]
    nxt = at[first[two] + np.maximum(count[two] // 2 - 1, 0) + 1]
    midway = (nodes.plan_m[one] + nodes.plan_m[nxt]) / 2
    parted = nodes.segment[one] != nodes.segment[nxt]
    inlet[two] = np.where(parted, nodes.plan_m[one + 1], midway)
    return inlet


def laterals_together(several: Sequence[Laterals]) -> Laterals:
    """Laterals one after another."""
    outlets = [0, *itertools.accumulate(len(one.outlet_m) for one in several)]
    whole = {
        f.name: np.concatenate([np.empty(0), *(getattr(one, f.name) for one in several)])
        for f in fields(Laterals)
        if f.name != "offset"
    }
    offset = np.concatenate(
        [[0], *(one.offset[1:] + o for one, o in zip(several, outlets, strict=False))]
    )
    return Laterals(offset=offset.astype(np.intp), **whole)


def _joined(parts: Sequence[LateralLines], known: bool) -> LateralLines:
    """Lines of several plans one after another."""
    if not parts:
        none, flat = np.empty(0), np.empty(0, np.intp)
        empty = Laterals(np.zeros(1, np.intp), *(none for _ in range(7)))
        two = np.empty((0, 2))
        return LateralLines(
            empty, flat, flat, flat, flat, two, np.empty((0, 2, 2)), none, flat, none, none, True
        )
    begin = [0, *itertools.accumulate(len(p.laterals) for p in parts)]
    values = {}
    for f in fields(LateralLines):
        if f.name not in ("laterals", "heights_known", "vine_lateral", "chains", "is_level"):
            values[f.name] = np.concatenate([getattr(p, f.name) for p in parts])
    values["vine_lateral"] = np.concatenate(
        [p.vine_lateral + b for p, b in zip(parts, begin, strict=False)]
    )
    laterals = laterals_together([p.laterals for p in parts])
    return LateralLines(laterals=laterals, heights_known=known, **values)
