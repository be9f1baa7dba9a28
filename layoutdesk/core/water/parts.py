"""Pipes and fittings of a drip system, for the take-off."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..model import Product, RowPlan
from .design import PipeRun, WaterDesign

PARTS: dict[str, tuple[str, str]] = {
    # item: (label, unit it is counted in)
    "emitters": ("Emitters", "each"),
    "pipe_m": ("Pipe", "m"),
    "bridge_tube_m": ("Blank tube over gaps", "m"),
    "valves": ("Set valves with pressure regulator", "each"),
    "inlet_fittings": ("Take-offs, submain to drip line", "each"),
    "line_ends": ("Flushing ends of drip lines", "each"),
    "pipe_ends": ("Flushing ends of submains", "each"),
    "reducers": ("Reducers", "each"),
    "filters": ("Filter and control head", "each"),
}
"""Parts of a drip system beyond what stands in the rows, in the order they are listed."""

_SAME_PLACE_M = 0.05
_GRID_M = 1e-3
"""Mains that lie in one trench are told apart by places no nearer than this. [m]"""


@dataclass(frozen=True)
class Part:
    """So much of one product, block "" being the site's own (mains, filter)."""

    block: str
    product: Product
    amount: float
    unit: str


def water_parts(design: WaterDesign, plans: Sequence[RowPlan]) -> tuple[Part, ...]:
    """Everything a design takes, in the order of PARTS, then of blocks.

    Sizes of products: pipe, outer and inner diameter [mm]; reducers, both outer diameters, the wider
    first [mm]; ends of submains, the outer diameter [mm]; blank tube, the inner diameter [mm]; emitters,
    the flow of one [L/h], as it tells them apart. Emitters in the drip line come with it and are none of
    these. Lengths are net: nothing is added for bends, depth of trenches or offcuts. Sets run one after
    another, so mains that lie in one trench are one pipe, the widest of them.

    Parameters
    ----------
    plans : sequence of RowPlan
        As the design was made from: gaps that drip lines bridge are theirs.
    """
    found: dict[tuple[str, str, tuple[float, ...]], float] = defaultdict(float)
    names = design.blocks
    _count_in_rows(found, design, plans)
    for each in design.sets:
        name = names[each.block]
        found["valves", name, ()] += 1
        for branch in each.branches:
            if not len(branch.length_m):
                continue
            for outer, inner in _sizes(branch):
                here = (branch.outer_mm == outer) & (branch.inner_mm == inner)
                found["pipe_m", name, (outer, inner)] += float(branch.length_m[here].sum())
            found["pipe_ends", name, (float(branch.outer_mm[-1]),)] += 1
            for size in _changes(branch):
                found["reducers", name, size] += 1
    mains = [s.main for s in design.sets if len(s.main.length_m)]
    for size, length in _in_one_trench(mains):
        found["pipe_m", "", size] += length
    for size in _changes_of_mains(mains):
        found["reducers", "", size] += 1
    if design.sets:
        found["filters", "", ()] = 1
    items, blocks = list(PARTS), [*names, ""]

    def order(key):
        item, name, size = key
        return items.index(item), blocks.index(name), size

    return tuple(
        Part(name, Product(item, size), found[item, name, size], PARTS[item][1])
        for item, name, size in sorted(found, key=order)
        if found[item, name, size] > 0
    )


def _count_in_rows(found, design: WaterDesign, plans: Sequence[RowPlan]) -> None:
    """Emitters, fittings, ends and bridges of the laterals."""
    lines = design.lines
    emitters = lines.laterals.summed(lines.laterals.emitters)
    away = np.linalg.norm(lines.tail_xy_m - lines.inlet_xy_m[:, None, :], axis=2)
    ends = (away > _SAME_PLACE_M).sum(axis=1)
    bridges = bridged_m(design, plans)
    for b, name in enumerate(design.blocks):
        mine = lines.block == b
        if not mine.any():
            continue
        drip = design.water.drip_of(name)
        if drip.inline_m is None:
            found["emitters", name, (drip.emitter_l_h,)] += float(round(emitters[mine].sum()))
        found["inlet_fittings", name, ()] += int(mine.sum())
        found["line_ends", name, ()] += int(ends[mine].sum())
        found["bridge_tube_m", name, (drip.tube_mm,)] += float(bridges[mine].sum())


def bridged_m(design: WaterDesign, plans: Sequence[RowPlan]) -> np.ndarray:
    """Bare tube between the segments of each lateral, (n,), from end post to end post in plan. [m]"""
    lines = design.lines
    out = np.zeros(len(lines.block))
    for b, plan in enumerate(plans):
        s = plan.segments
        mine = np.flatnonzero((lines.block == b) & (lines.last_letter > lines.letter))
        if not len(mine):
            continue
        gap = s.start_m[1:] - s.end_m[:-1]
        before = np.concatenate([[0.0], np.cumsum(np.where(np.diff(s.line) == 0, gap, 0.0))])
        key = s.number.astype(np.int64) * 1000 + s.letter
        order = np.argsort(key, kind="stable")
        first = order[np.searchsorted(key[order], lines.number[mine] * 1000 + lines.letter[mine])]
        last = order[
            np.searchsorted(key[order], lines.number[mine] * 1000 + lines.last_letter[mine])
        ]
        out[mine] = before[last] - before[first]
    return out


def _sizes(run: PipeRun) -> list[tuple[float, float]]:
    return sorted(set(zip(run.outer_mm.tolist(), run.inner_mm.tolist(), strict=True)))


def _changes(run: PipeRun) -> list[tuple[float, float]]:
    """Outer diameters wherever one piece and the next differ, the wider first."""
    outer = run.outer_mm
    at = np.flatnonzero(np.diff(outer) != 0)
    return [tuple(sorted((float(outer[i]), float(outer[i + 1])), reverse=True)) for i in at]


def _changes_of_mains(mains: Iterable[PipeRun]) -> list[tuple[float, float]]:
    """The same for mains, each place once."""
    seen = {}
    for run in mains:
        at = np.flatnonzero(np.diff(run.outer_mm) != 0)
        for i, size in zip(at, _changes(run), strict=True):
            place = tuple(np.round(run.xy_m[i + 1], 1).tolist())
            seen[place] = max(seen.get(place, size), size)
    return list(seen.values())


def _in_one_trench(mains: Sequence[PipeRun]) -> list[tuple[tuple[float, float], float]]:
    """Length of every size when mains that run along each other are one pipe, the widest. [m]"""
    if not mains:
        return []
    ends = np.concatenate([np.stack([r.xy_m[:-1], r.xy_m[1:]], axis=1) for r in mains])
    length = np.concatenate([r.length_m for r in mains])
    size = np.concatenate([np.column_stack([r.outer_mm, r.inner_mm]) for r in mains])
    flat = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    some = flat > _GRID_M
    ends, length, size, flat = ends[some], length[some], size[some], flat[some]
    pieces = shapely.linestrings(ends)
    edges = shapely.get_parts(shapely.unary_union(pieces, grid_size=_GRID_M))
    middles = shapely.line_interpolate_point(edges, 0.5, normalized=True)
    edge, piece = shapely.STRtree(pieces).query(middles, predicate="dwithin", distance=2 * _GRID_M)
    widest = np.lexsort((piece, size[piece, 1], edge))
    last = np.append(np.diff(edge[widest]) != 0, True) if len(widest) else np.zeros(0, bool)
    edge, piece = edge[widest][last], piece[widest][last]
    # Along the ground a piece is longer than in plan.
    along = shapely.length(edges[edge]) * length[piece] / flat[piece]
    total: dict[tuple[float, float], float] = defaultdict(float)
    for key, metres in zip(map(tuple, size[piece].tolist()), along.tolist(), strict=True):
        total[key] += metres
    return sorted(total.items())
