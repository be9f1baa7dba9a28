"""Rows of a block: the one entry to the layout is `lay_rows`."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..geometry.along_parallels import clipped
from ..geometry.curves import extent_across as curved_extent
from ..geometry.parallels import offset_lines
from ..geometry.scanline import Pieces
from ..model import Block, RowPlan, RowRules, Segments
from ..model.rowplan import Course
from .checks import plan_findings
from .clearances import alley_areas, ground_of, plantable_area
from .courses import guide_line
from .overrides import left_out, special_of, spots_of, with_ends_moved
from .staked_ends import spots_in_rows, with_ends_staked
from .straight import BEST_STEP_M, long_enough, row_lines, straight_lines
from .vines import vines_along


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
    rows, short = long_enough(found.pieces, rules.min_row_m)
    kept, dropped = found.pieces.taken(rows), found.pieces.taken(short)
    spots = spots_of(block, rules, found.across_m, found.course)
    kept, unfit = with_ends_moved(kept, block, spots)
    kept, measured, no_end = with_ends_staked(
        kept, block, rules, spots, found.across_m, found.course
    )
    segments, order = _segments(kept, found, rules)
    if measured is not None:
        measured = measured[order]
        spots = spots_in_rows(spots, block, segments, measured, found.course)
    out, no_row = left_out(segments, block, spots)
    special, nothing = special_of(segments, out, rules, block, spots)
    displaced = tuple(
        (i, int(line))
        for i, (o, line) in enumerate(zip(block.overrides, spots.line, strict=True))
        if line != o.line
    )
    unfit = unfit | no_end | no_row | nothing
    plan = RowPlan(
        block,
        rules,
        segments.taken(~out) if out.any() else segments,
        _segments(dropped, found, rules)[0],
        found.extent_m,
        found.first_row_m,
        left_out=segments.taken(out) if out.any() else None,
        special=special,
        course=found.course,
        n_lines=len(found.across_m),
        unfit=tuple(sorted(unfit)),
        displaced=tuple(d for d in displaced if d[0] not in unfit),
        measured_ends_m=None if measured is None else measured[~out],
        left_out_ends_m=None if measured is None or not out.any() else measured[out],
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
    lines = straight_lines(ground_of(block, exclusions), rules, [rules.bearing_deg], best_step_m)
    extent, first = tuple(lines.extent_m[0].tolist()), float(lines.first_row_m[0])
    across = row_lines(extent, first, rules.row_spacing_m) if lines.n_lines[0] else np.empty(0)
    return _Found(lines.pieces, across, extent, first, float(lines.lattice_m[0]))


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
        kept = found.pieces.taken(long_enough(found.pieces, rules.min_row_m)[0])
        count = vines_along(kept.start_m, kept.end_m, kept.line, rules, 0.0)[2]
        mean = kept.length_m.sum() / max(len(np.unique(kept.line)), 1)
        return int(count.sum()), round(float(mean), 6), -found.first_row_m

    step = max(best_step_m, _CURVED_STEP_M)
    return max(map(laid, np.arange(0.0, rules.row_spacing_m - 1e-9, step).tolist()), key=worth)


_NO_PIECES = Pieces(np.empty(0, dtype=np.intp), np.empty(0), np.empty(0))


def _segments(pieces: Pieces, found: _Found, rules: RowRules) -> tuple[Segments, np.ndarray]:
    """Pieces numbered, lettered and furnished with vines, in order of row number, and which piece each is."""
    lines, n_lines, lattice = found.across_m, len(found.across_m), found.lattice_m
    from_left = rules.number_from == "left"
    place = pieces.line if from_left else n_lines - 1 - pieces.line
    order = np.lexsort((pieces.start_m, place))
    line, start, end = pieces.line[order], pieces.start_m[order], pieces.end_m[order]
    first, step, count = vines_along(start, end, line, rules, lattice)
    fresh = np.flatnonzero(np.r_[True, line[1:] != line[:-1]][: len(line)])
    letter = np.arange(len(line)) - np.repeat(fresh, np.diff(np.r_[fresh, len(line)]))
    segments = Segments(
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
    return segments, order
