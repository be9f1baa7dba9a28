"""The measures of a candidate, from the plans of its blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from ..geometry.alignments import settled_pieces
from ..geometry.axes import RowAxes, angle_between_lines_deg
from ..geometry.edges import Edges, ring_edges
from ..geometry.scanline import RIM_M, Region, edges_in_axes
from ..layout.clearances import clear_width_m
from ..layout.courses import guide_bearing_deg
from ..model import RowPlan, Study
from ..terrain.grades import RowGrades, row_grades
from ..terrain.surface import Surface, mean_gradient
from .catalogue import MEASURES
from .passes import pass_through
from .sun import SunPath, face_sun

_SUN = tuple(name for name, m in MEASURES.items() if m.needs == "sun")


def measures_of(
    plans: Sequence[RowPlan],
    study: Study,
    surface: Surface | None = None,
    sun: SunPath | None = None,
    ground: dict[str, float] | None = None,
) -> dict[str, float]:
    """Every measure of the catalogue that can be known, over all plans together.

    Counts and lengths add up, shares are of the whole, percentiles are over all metres of row. Sun
    and wind are means over the row length of all blocks; curved rows count with the bearing from
    end to end of their guide line. What cannot be known is left out.

    Parameters
    ----------
    plans : sequence of RowPlan
        One a block.
    surface : Surface, optional
        Of the ground, for grades and heights.
    sun : SunPath, optional
    ground : dict, optional
        What `ground_measures` found of these plans before: they are not graded again.
    """
    values = _of_rows(plans, study)
    values |= _of_passes(plans)
    if surface is not None:
        values |= ground_measures(plans, study, surface) if ground is None else ground
    if sun is not None:
        values |= _of_sun(plans, study, surface, sun)
    if study.wind_from_deg is not None:
        angles = [
            float(angle_between_lines_deg(_bearing_deg(p), study.wind_from_deg)) for p in plans
        ]
        values["wind_angle_deg"] = _mean_over_rows(plans, angles)
    prices = study.prices
    if prices.end_assembly is not None and prices.line_post is not None:
        ends = prices.end_assembly * values["end_posts"]
        values["posts_cost"] = ends + prices.line_post * values["line_posts"]
    known = {name: float(values[name]) for name in MEASURES if name in values}
    return {name: value for name, value in known.items() if np.isfinite(value)}


def _bearing_deg(plan: RowPlan) -> float:
    """Bearing of a plan's rows; of curved ones from end to end of the guide line. [deg]"""
    guide = plan.block.guide
    return plan.rules.bearing_deg if guide is None else guide_bearing_deg(guide)


def _lengths(plans) -> np.ndarray:
    return np.concatenate([p.segments.length_m for p in plans]) if plans else np.empty(0)


def _mean_over_rows(plans, values) -> float:
    weight = np.array([p.row_length_m for p in plans])
    return float(np.average(values, weights=weight)) if weight.sum() > 0 else np.nan


def _of_rows(plans, study: Study) -> dict[str, float]:
    length = _lengths(plans)
    total = length.sum()
    outline = sum(p.block.outline.area for p in plans)
    planted = sum(p.row_length_m * p.rules.row_spacing_m for p in plans)
    return {
        "vines": sum(p.n_vines for p in plans),
        "rows": sum(p.n_rows for p in plans),
        "segments": len(length),
        "row_length_m": total,
        "mean_row_m": total / max(len(length), 1),
        "shortest_row_m": length.min() if len(length) else 0.0,
        "longest_row_m": length.max(initial=0.0),
        "short_rows": (length < study.short_row_m).sum(),
        "end_posts": 2 * len(length),
        "line_posts": sum(len(p.line_posts) for p in plans),
        "planted_share_pct": 100 * planted / outline if outline else 0.0,
        "headland_share_pct": _headland_share_pct(plans),
    }


def _of_passes(plans) -> dict[str, float]:
    each = [pass_through(p) for p in plans]
    rows, travel = sum(p.rows_m for p in each), sum(p.travel_m for p in each)
    return {
        "turns": sum(p.turns for p in each),
        "travel_m": travel,
        "idle_share_pct": 100 * (travel - rows) / travel if travel else 0.0,
    }


def _headland_share_pct(plans) -> float:
    inside = barred = 0.0
    for plan in plans:
        part = _in_headland_m(plan)
        inside, barred = inside + part[0], barred + part[1]
    return 100 * barred / inside if inside else 0.0


def _in_headland_m(plan: RowPlan) -> tuple[float, float]:
    """Length of row lines inside the outline, and of that what lies in an end edge's headland. [m]

    The lines are run on through the whole outline at the same spacing; of curved rows their length
    is told by areas over the spacing. An end edge with a width of its own counts with that.
    """
    block, rules = plan.block, plan.rules
    edges = ring_edges(block.outline)
    ends = _end_edges(edges, plan)
    width = clear_width_m(edges, block, rules)[ends]
    rim = Edges(edges.start_m[ends], edges.end_m[ends], edges.ring[ends], edges.index[ends])
    if plan.course is not None or block.guide is not None:
        headland_m2 = _near_edges_m2(rim, width, block.outline)
        return block.outline.area / rules.row_spacing_m, headland_m2 / rules.row_spacing_m
    axes = RowAxes(rules.bearing_deg)
    region = Region(edges_in_axes(edges, axes), rim=edges_in_axes(rim, axes), rim_width_m=width)
    v = axes.to_axes(shapely.get_coordinates(block.outline))[:, 1]
    spacing = rules.row_spacing_m
    origin = plan.extent_across_m[0] + plan.first_row_m
    first = np.ceil((v.min() - origin - RIM_M) / spacing)
    lines = origin + spacing * np.arange(first, np.floor((v.max() - origin + RIM_M) / spacing) + 1)
    whole = settled_pieces(lines, Region(region.inside)).length_m.sum()
    return whole, whole - settled_pieces(lines, region).length_m.sum()


def _end_edges(edges: Edges, plan: RowPlan) -> np.ndarray:
    """Whether each edge is an end edge: one that the headland would be kept clear along, bool (e,)."""
    bare = replace(plan.block, edge_widths=())
    return clear_width_m(edges, bare, replace(plan.rules, headland_m=1.0, side_margin_m=0.0)) > 0


def _near_edges_m2(rim: Edges, width_m: np.ndarray, outline) -> float:
    """Ground of an outline no farther from edges than a width. [m²]"""
    lines = shapely.linestrings(np.stack([rim.start_m, rim.end_m], axis=1))
    strips = [
        shapely.buffer(shapely.line_merge(shapely.multilinestrings(lines[width_m == w])), w)
        for w in np.unique(width_m[width_m > 0])
    ]
    return float(shapely.intersection(shapely.union_all(strips), outline).area)


def percentile_by_weight(values: np.ndarray, weights: np.ndarray, share: float) -> float:
    """The least value that at least a share of all weight does not exceed.

    Examples
    --------
    >>> percentile_by_weight(np.array([3.0, 1.0, 2.0]), np.array([1.0, 8.0, 1.0]), 0.85)
    2.0
    """
    order = np.argsort(values)
    run = np.cumsum(weights[order])
    at = np.searchsorted(run, share * run[-1] * (1 - 1e-12))
    return float(values[order][min(at, len(values) - 1)])


def ground_measures(plans: Sequence[RowPlan], study: Study, surface: Surface) -> dict[str, float]:
    """Grades and heights over all plans together: the dear part of `measures_of`.

    Of the study only the machine and the limits of grades count.
    """
    grades = [
        row_grades(p, surface, study.machine_length_m, study.machine_width_m)
        for p in plans
        if p.n_segments
    ]
    if not grades:
        return {}
    values = {"height_unknown_m": sum(g.unknown_m for g in grades)}
    drops = np.concatenate([g.height_range_m for g in grades])
    drops = drops[np.isfinite(drops)]
    if len(drops):
        values["ground_length_m"] = sum(g.ground_length_m.sum() for g in grades)
        values["drop_max_m"] = drops.max()
        values["drop_p95_m"] = percentile_by_weight(drops, np.ones(len(drops)), 0.95)
    weight = np.concatenate([g.weight_m for g in grades])
    if not len(weight):
        return values
    limits = {"along": study.grade_along_pct, "across": study.grade_across_pct}
    for way, limit in limits.items():
        grade = np.abs(np.concatenate([_grade(g, way) for g in grades]))
        values[f"grade_{way}_max_pct"] = grade.max()
        values[f"grade_{way}_p95_pct"] = percentile_by_weight(grade, weight, 0.95)
        values[f"steep_{way}_m"] = weight[grade > limit].sum()
    return values


def _grade(grades: RowGrades, way: str) -> np.ndarray:
    return grades.along_pct if way == "along" else grades.across_pct


def _of_sun(plans, study: Study, surface: Surface | None, sun: SunPath) -> dict[str, float]:
    if any(study.canopy.width_m >= p.rules.row_spacing_m for p in plans):
        return {}
    each = []
    for plan in plans:
        gradient = (0.0, 0.0) if surface is None else mean_gradient(surface, plan.block.outline)
        bearing = [_bearing_deg(plan)]
        spacing = plan.rules.row_spacing_m
        each.append(face_sun(sun, bearing, spacing, study.canopy, study.season, gradient))
    return {name: _mean_over_rows(plans, [e[name][0] for e in each]) for name in _SUN}
