"""Rows of a block: the one entry to the layout is `lay_rows`."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..geometry.along_parallels import clipped
from ..geometry.axes import RowAxes
from ..geometry.curves import extent_across as curved_extent
from ..geometry.parallels import offset_lines
from ..geometry.scanline import (
    RIM_M,
    Pieces,
    Region,
    extent_across,
    flat_rims,
    settled_pieces,
)
from ..geometry.stationing import ALIGN_M
from ..model import Block, RowPlan, RowRules, Segments
from ..model.rowplan import Course
from .checks import plan_findings
from .clearances import alley_areas, plantable_area, row_region
from .courses import guide_line
from .overrides import left_out, special_of, spots_of, with_ends_moved
from .vines import vines_along

_TRACE_M = 1e-3
"""Shorter pieces are no pieces: they are neither kept nor reported. [m]"""

BEST_STEP_M = 0.01
"""Row 1 is placed to the centimetre when the best place is looked for. [m]"""


def lay_rows(
    block: Block,
    rules: RowRules | None = None,
    exclusions=(),
    *,
    check: bool = True,
    best_step_m: float = BEST_STEP_M,
) -> RowPlan:
    """Rows, posts and vines of one block.

    A pure function: the same block, rules and exclusions give the same plan.

    Parameters
    ----------
    block : Block
    rules : RowRules, optional
        The block's own rules where none are given.
    exclusions : iterable of Exclusion
        All of the site's; those out of reach are passed over.
    check : bool
        Whether to look for findings; a plan that is shown for the blink of an eye needs none.
    best_step_m : float
        How finely the best place of row 1 is looked for. [m]

    Returns
    -------
    RowPlan
        `plan.vines.xy_m` is (n, 2) in the site frame. [m]

    Examples
    --------
    >>> block = Block("B1", shapely.box(0, 0, 24, 166))
    >>> plan = lay_rows(block, RowRules(side_margin_m=1.2))
    >>> plan.n_rows, plan.n_vines, plan.vines.xy_m.shape
    (10, 1000, (1000, 2))
    """
    rules = rules or block.rules
    exclusions = tuple(exclusions)
    find = _straight if block.guide is None else _curved
    found = find(block, rules, exclusions, best_step_m)
    kept, dropped = _long_enough(found.pieces, rules.min_row_m)
    spots = spots_of(block, rules, found.across_m, found.course)
    kept, unfit = with_ends_moved(kept, block, spots)
    segments = _segments(kept, found, rules)
    out, no_row = left_out(segments, block, spots)
    special, nothing = special_of(segments, out, rules, block, spots)
    displaced = tuple(
        (i, int(line))
        for i, (o, line) in enumerate(zip(block.overrides, spots.line, strict=True))
        if line != o.line
    )
    unfit = unfit | no_row | nothing
    plan = RowPlan(
        block,
        rules,
        segments.taken(~out) if out.any() else segments,
        _segments(dropped, found, rules),
        found.extent_m,
        found.first_row_m,
        left_out=segments.taken(out) if out.any() else None,
        special=special,
        course=found.course,
        n_lines=len(found.across_m),
        unfit=tuple(sorted(unfit)),
        displaced=tuple(d for d in displaced if d[0] not in unfit),
    )
    if not check:
        return plan
    return replace(plan, findings=plan_findings(plan, exclusions))


@dataclass(frozen=True, eq=False)
class _Found:
    """Row lines of a block and what of them is plantable."""

    pieces: Pieces
    across_m: np.ndarray
    extent_m: tuple[float, float]
    first_row_m: float
    lattice_m: float = 0.0
    course: Course | None = None


def _straight(block: Block, rules: RowRules, exclusions, best_step_m: float) -> _Found:
    region = row_region(block, rules, exclusions)
    extent = extent_across(replace(region, strips=None))  # alleys cut rows, they move none
    if extent is None and len(region.rim):  # a plantable area that is one line has no inside
        region = replace(region, rim_width_m=np.maximum(region.rim_width_m - ALIGN_M, 0.0))
        extent = extent_across(replace(region, strips=None))
    if extent is None:
        return _Found(_NO_PIECES, np.empty(0), (0.0, 0.0), 0.0)
    lattice = _lattice_from(block, rules)
    offset = (
        best_first_row_m(region, extent, rules, lattice, best_step_m)
        if rules.first_row_m == "best"
        else float(rules.first_row_m)
    )
    lines = row_lines(extent, offset, rules.row_spacing_m)
    return _Found(settled_pieces(lines, region), lines, extent, offset, lattice)


_ARC_CHORDS = 96
"""Chords a quarter turn of the clear strips of curved rows: 0.3 mm at 8 m."""

_CURVED_STEP_M = 0.1
"""How finely the best place of row 1 is looked for in curved rows. [m]"""


def _curved(block: Block, rules: RowRules, exclusions, best_step_m: float) -> _Found:
    """Parallels of the guide line in the plantable area, whose round corners are fine chords."""
    if rules.leftover == "across":
        raise ValueError("leftover: vines cannot line up across curved rows; choose another way")
    try:
        guide = guide_line(block)
    except ValueError as problem:
        raise ValueError(f"guide line: {str(problem).rpartition(': ')[2]}") from None
    area = plantable_area(block, rules, exclusions, _ARC_CHORDS)
    if area.is_empty:
        return _Found(_NO_PIECES, np.empty(0), (0.0, 0.0), 0.0)
    extent = curved_extent(guide, area)
    alleys = alley_areas(block, rules)
    free = area if alleys is None else shapely.difference(area, alleys)

    def laid(offset: float) -> _Found:
        across = row_lines(extent, offset, rules.row_spacing_m)
        lines = offset_lines(guide, across)
        return _Found(clipped(lines, free), across, extent, offset, course=Course(guide, lines))

    if rules.first_row_m != "best":
        return laid(float(rules.first_row_m))

    def worth(found: _Found):
        kept, _ = _long_enough(found.pieces, rules.min_row_m)
        count = vines_along(kept.start_m, kept.end_m, kept.line, rules, 0.0)[2]
        mean = kept.length_m.sum() / max(len(np.unique(kept.line)), 1)
        return int(count.sum()), round(float(mean), 6), -found.first_row_m

    step = max(best_step_m, _CURVED_STEP_M)
    return max(map(laid, np.arange(0.0, rules.row_spacing_m - 1e-9, step).tolist()), key=worth)


_NO_PIECES = Pieces(np.empty(0, dtype=np.intp), np.empty(0), np.empty(0))


def row_lines(extent_m: tuple[float, float], first_row_m: float, spacing_m: float) -> np.ndarray:
    """Across coordinates of the row lines, left to right, none more than RIM_M beyond the right. [m]

    Examples
    --------
    >>> row_lines((0.0, 4.8), 0.0, 2.4).tolist()
    [0.0, 2.4, 4.8]
    """
    left, right = extent_m
    count = int(np.floor((right - left - first_row_m + RIM_M) / spacing_m)) + 1
    return left + first_row_m + spacing_m * np.arange(max(count, 0))


def _lattice_from(block: Block, rules: RowRules) -> float:
    """Along coordinate where the lattice of "across" begins: the first vine past the outline's start."""
    along = RowAxes(rules.bearing_deg).to_axes(shapely.get_coordinates(block.outline))[:, 0]
    return float(along.min()) + rules.first_vine_m


def _long_enough(pieces: Pieces, least_m: float) -> tuple[Pieces, Pieces]:
    length = pieces.length_m
    long = length >= least_m - ALIGN_M
    real = length > _TRACE_M
    return tuple(
        Pieces(pieces.line[pick], pieces.start_m[pick], pieces.end_m[pick])
        for pick in (long & real, ~long & real)
    )


def _segments(pieces: Pieces, found: _Found, rules: RowRules) -> Segments:
    """Pieces numbered, lettered and furnished with vines, in order of row number."""
    lines, n_lines, lattice = found.across_m, len(found.across_m), found.lattice_m
    from_left = rules.number_from == "left"
    place = pieces.line if from_left else n_lines - 1 - pieces.line
    order = np.lexsort((pieces.start_m, place))
    line, start, end = pieces.line[order], pieces.start_m[order], pieces.end_m[order]
    first, step, count = vines_along(start, end, line, rules, lattice)
    fresh = np.flatnonzero(np.r_[True, line[1:] != line[:-1]][: len(line)])
    letter = np.arange(len(line)) - np.repeat(fresh, np.diff(np.r_[fresh, len(line)]))
    return Segments(
        line,
        place[order] + rules.first_number,
        letter,
        lines[line] if len(line) else np.empty(0),
        start,
        end,
        first,
        step,
        count,
    )


def best_first_row_m(
    region: Region,
    extent_m: tuple[float, float],
    rules: RowRules,
    lattice_m: float,
    step_m: float = BEST_STEP_M,
) -> float:
    """Offset of row 1 in [0, row spacing) that gives the most vines; ties go to longer rows. [m]

    Looked for at every `step_m` and at every offset that puts a row along a rim parallel to it.
    """
    spacing = rules.row_spacing_m
    grid = np.arange(0.0, spacing - 1e-9, step_m)
    flush = (flat_rims(region, RIM_M) - extent_m[0]) % spacing
    offsets = np.unique(np.r_[grid, flush[flush < spacing - 1e-9]])
    most_lines = int((extent_m[1] - extent_m[0]) // spacing) + 2
    across = extent_m[0] + offsets[:, None] + spacing * np.arange(most_lines)
    inside = across <= extent_m[1] + RIM_M
    owner = np.repeat(np.arange(len(offsets)), inside.sum(axis=1))
    number = np.broadcast_to(np.arange(most_lines), across.shape)[inside]
    across = across[inside]
    order = np.argsort(across, kind="stable")
    pieces, _ = _long_enough(settled_pieces(across[order], region), rules.min_row_m)
    of = owner[order][pieces.line]
    line = number[order][pieces.line]
    _, _, count = vines_along(pieces.start_m, pieces.end_m, line, rules, lattice_m)
    n = len(offsets)
    vines = np.bincount(of, count, minlength=n)
    length = np.bincount(of, pieces.length_m, minlength=n)
    rows = np.bincount(np.unique(of * most_lines + line) // most_lines, minlength=n)
    mean = length / np.maximum(rows, 1)
    return float(offsets[np.lexsort((offsets, -np.round(mean, 6), -vines))[0]])
