"""What must stay clear of rows: headlands, side margins, exclusions, alleys."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely

from ..geometry.axes import RowAxes, angle_between_lines_deg, sine_cosine
from ..geometry.edges import Edges, area_edges, joined_edges, line_edges, ring_edges
from ..geometry.insets import Rings, closed_rings, reaching_inside
from ..geometry.scanline import Strips
from ..geometry.stacks import Stack, stacked
from ..model import Block, Exclusion, RowRules
from .courses import across_curve, guide_line, rows_bearing_deg

_ANGLE_TOLERANCE_DEG = 1e-9


def clear_width_m(edges: Edges, block: Block, rules: RowRules) -> np.ndarray:
    """Width to keep clear along each outline edge.

    An edge that makes `side_angle_deg` or more with the rows is an end edge and gets the headland,
    any other the side margin, unless the block gives the edge a width of its own.

    Returns
    -------
    float array, shape (e,)
        [m]

    Examples
    --------
    >>> block = Block("B1", shapely.box(0, 0, 30, 50))
    >>> edges = ring_edges(block.outline)
    >>> sorted(clear_width_m(edges, block, RowRules(headland_m=8, side_margin_m=3)).tolist())
    [3.0, 3.0, 8.0, 8.0]
    """
    middles = (edges.start_m + edges.end_m) / 2
    return _widths(edges, block, rules, rows_bearing_deg(block, rules, middles))


def _widths(edges: Edges, block: Block, rules: RowRules, rows_deg) -> np.ndarray:
    """Width to keep clear along edges whose rows run at `rows_deg`, which broadcasts. [m]"""
    turn = angle_between_lines_deg(edges.bearing_deg, rows_deg)
    is_end = turn >= rules.side_angle_deg - _ANGLE_TOLERANCE_DEG
    width = np.where(is_end, float(rules.headland_m), float(rules.side_margin_m))
    for own in block.edge_widths:
        width[..., (edges.ring == own.ring) & (edges.index == own.edge)] = own.width_m
    return width


def near_exclusions(block: Block, exclusions) -> list[Exclusion]:
    """Exclusions whose clearance can reach the block."""
    x0, y0, x1, y1 = block.outline.bounds
    exclusions = list(exclusions)
    a, b, c, d = shapely.bounds([e.shape for e in exclusions]).T if exclusions else np.empty((4, 0))
    reach = np.array([e.clearance_m for e in exclusions])
    near = (a - reach <= x1) & (c + reach >= x0) & (b - reach <= y1) & (d + reach >= y0)
    return [exclusions[i] for i in np.flatnonzero(near)]  # bounds of empty shapes are NaN


_LEAST_CUT = math.sin(math.radians(15))


def alley_along(rules: RowRules, bearing_deg: float) -> bool:
    """Whether some alley runs too nearly along rows of that bearing to cut them."""
    turns = [a.bearing_deg - bearing_deg for a in rules.alleys if a.bearing_deg is not None]
    return any(abs(sine_cosine(turn)[0]) < _LEAST_CUT for turn in turns)


def alley_strips(block: Block, rules: RowRules) -> Strips | None:
    """The block's alleys as strips in row axes; None where there are none.

    Raises
    ------
    ValueError
        Where an alley runs within 15 degrees of the rows: it would cut nothing cleanly.
    """
    axes = RowAxes(rules.bearing_deg)
    along, slope, half = [], [], []
    for alley in rules.alleys:
        turn = 90.0 if alley.bearing_deg is None else alley.bearing_deg - rules.bearing_deg
        sine, cosine = sine_cosine(turn)
        if abs(sine) < _LEAST_CUT:
            raise ValueError(f"alleys: an alley at {alley.bearing_deg:g}° runs along the rows")
        u, v = axes.to_axes(np.array([alley.x_m, alley.y_m]))
        slope.append(cosine / sine)
        along.append(u - v * slope[-1])
        half.append(alley.width_m / 2 / abs(sine))
    if rules.alley_every_m and rules.alley_width_m:
        u = axes.to_axes(shapely.get_coordinates(block.outline))[:, 0]
        middles = np.arange(u.min() + rules.alley_every_m, u.max(), rules.alley_every_m)
        along += middles.tolist()
        slope += [0.0] * len(middles)
        half += [rules.alley_width_m / 2] * len(middles)
    return Strips(np.array(along), np.array(slope), np.array(half)) if along else None


def alley_areas(block: Block, rules: RowRules) -> shapely.Geometry | None:
    """The alleys of a block with curved rows as one polygon; None where there are none. [m]

    An alley without a bearing of its own lies at right angles to the guide line.
    """
    from ..geometry.curves import to_lines

    areas, curve = [], guide_line(block)
    reach = np.hypot(*np.ptp(curve.xy_m, axis=0))
    for alley in rules.alleys:
        at = np.array([[alley.x_m, alley.y_m]])
        if alley.bearing_deg is None:
            areas.append(across_curve(block, to_lines(curve, at)[0], alley.width_m / 2))
        else:
            step = reach * np.array(sine_cosine(alley.bearing_deg))
            line = shapely.linestrings([[at[0] - step, at[0] + step]])
            areas.append(shapely.buffer(line, alley.width_m / 2, cap_style="flat"))
    if rules.alley_every_m and rules.alley_width_m:
        station, _ = to_lines(curve, shapely.get_coordinates(block.outline))
        stations = np.arange(
            station.min() + rules.alley_every_m, station.max(), rules.alley_every_m
        )
        areas.append(across_curve(block, stations, rules.alley_width_m / 2))
    return shapely.union_all(np.concatenate(areas)) if areas else None


@dataclass(frozen=True, eq=False)
class Ground:
    """A block's outline and what of the exclusions can reach it, as edges in the plane.

    `rings` are those of the outline, then those of `areas` with the areas on their right.
    """

    block: Block
    outline: Edges
    areas: Edges
    lines: Edges
    area_width_m: np.ndarray
    line_width_m: np.ndarray
    rings: Rings


def ground_of(block: Block, exclusions=()) -> Ground:
    """What does not change with the bearing."""
    near = near_exclusions(block, exclusions)
    shapes = np.array([e.shape for e in near], dtype=object)
    crossed = ~shapely.is_valid(shapes)  # a ring that crosses itself bars all it encloses
    shapes[crossed] = shapely.make_valid(shapes[crossed])
    clearance_m = np.array([e.clearance_m for e in near])
    areas, area_of = area_edges(shapes)
    lines, line_of = line_edges(shapes)
    outline = ring_edges(block.outline)
    around = replace(areas.reversed(), ring=areas.ring + 1 + outline.ring.max(initial=0))
    return Ground(
        block,
        outline,
        areas,
        lines,
        clearance_m[area_of],
        clearance_m[line_of],
        closed_rings(joined_edges([outline, around])),
    )


@lru_cache(maxsize=32)
def _shielded(outline: shapely.Polygon, width_m: float) -> np.ndarray:
    """Outline edges with inside of the outline within `width_m` behind them, as indices."""
    rings = closed_rings(ring_edges(outline))
    return np.flatnonzero(reaching_inside(outline, rings, width_m))


def _both_sides(ground: Ground, width_m: np.ndarray) -> np.ndarray:
    """Outline edges that need a clear strip on both sides, as indices; all of a jagged outline."""
    rings, n = ground.rings, len(ground.outline)
    if not n:
        return np.arange(0)
    widest = float(width_m.max())
    by_radii = ~rings.turns_away[:n] & (rings.meet_to_m[:n] < widest)
    if np.count_nonzero(by_radii) > _MOST_RADII * n:
        return np.arange(n)
    return _shielded(ground.block.outline, widest) if width_m.min() < widest else np.arange(0)


_MOST_RADII = 0.2
"""Share of an outline's corners joined by radii beyond which clear strips are quicker."""


def row_regions(ground: Ground, rules: RowRules, bearings_deg, narrower_m=0.0) -> Stack:
    """The plantable area A at several bearings, less alleys, as the scanline reads it.

    All widths are kept less `narrower_m`, which is one for all or (k, 1).
    """
    block, n_outline = ground.block, len(ground.outline)
    at = np.asarray(bearings_deg, dtype=float)
    width = np.empty((len(at), len(ground.rings)))
    width[:, :n_outline] = _widths(ground.outline, block, rules, at[:, None])
    width[:, n_outline:] = ground.area_width_m
    outline_width = width[:, :n_outline]
    rim, rim_width = ground.lines, np.tile(ground.line_width_m, (len(at), 1))
    both = _both_sides(ground, outline_width)
    if len(both):
        rim = joined_edges([ground.outline.taken(both), rim])
        rim_width = np.hstack([outline_width[:, both], rim_width])
    inset = np.zeros(len(at))
    if n_outline and len(both) == n_outline:  # the clear strips say it all
        inset = outline_width.min(axis=1)
        outline_width[:] = 0.0
    if np.any(narrower_m):
        width, rim_width = (np.maximum(w - narrower_m, 0.0) for w in (width, rim_width))
    strips = ()
    if rules.alleys or rules.alley_every_m:
        strips = [alley_strips(block, replace(rules, bearing_deg=b)) for b in at.tolist()]
    stack = stacked(at.tolist(), ground.rings, width, rim, rim_width, strips)
    inset = np.maximum(inset - np.ravel(narrower_m), 0.0)
    return replace(stack, reach_m=stack.reach_m + np.column_stack([inset, -inset]))


def clear_strips(block: Block, rules: RowRules, quad_segs: int = 48) -> shapely.Geometry:
    """Ground within the clear width of an outline edge, as a polygon to draw. [m]

    Arcs become `quad_segs` chords a quarter turn; rows are not laid from this.
    """
    return shapely.intersection(_near_edges(block, rules, quad_segs), block.outline)


def _near_edges(block: Block, rules: RowRules, quad_segs: int) -> shapely.Geometry:
    """All points within its clear width of some edge, outside the outline too."""
    edges = ring_edges(block.outline)
    width = clear_width_m(edges, block, rules)
    strips = []
    for w in np.unique(width[width > 0]):
        lines = shapely.linestrings(np.stack([edges.start_m, edges.end_m], axis=1)[width == w])
        merged = shapely.line_merge(shapely.multilinestrings(lines))
        strips.append(shapely.buffer(merged, w, quad_segs=quad_segs))
    return shapely.union_all(strips)


def kept_clear_by(exclusions, quad_segs: int = 48) -> shapely.Geometry:
    """Exclusions grown by their clearances, together. [m]"""
    grown = [
        shapely.buffer(e.shape, e.clearance_m, quad_segs=quad_segs) if e.clearance_m else e.shape
        for e in exclusions
    ]
    return shapely.union_all(grown)


def plantable_area(
    block: Block, rules: RowRules, exclusions=(), quad_segs: int = 48
) -> shapely.Geometry:
    """The plantable area as a polygon to draw and to measure. [m]

    Alleys are not taken out: they cut rows, not ground. Rows are not laid from this.

    Examples
    --------
    >>> block = Block("B1", shapely.box(0, 0, 30, 50))
    >>> round(plantable_area(block, RowRules(headland_m=8, side_margin_m=3)).area, 6)
    816.0
    """
    taken = [_near_edges(block, rules, quad_segs)]
    near = near_exclusions(block, exclusions)
    if near:
        taken.append(kept_clear_by(near, quad_segs))
    left = shapely.difference(block.outline, shapely.union_all(taken))
    parts = shapely.get_parts(left)
    return shapely.union_all(parts[shapely.area(parts) > 0])
