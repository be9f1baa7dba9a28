"""Findings on a layout: what would go wrong in the ground."""

from __future__ import annotations

import itertools

import numpy as np
import shapely

from ..geometry.scanline import RIM_M
from ..model import Finding, RowPlan, Segments
from ..model.findings import in_wording
from .clearances import near_exclusions
from .courses import LEAST_RADIUS_M, tightest_row_m
from .numbering import mark_code, segment_code
from .staked_ends import staked_findings

_AT_MOST = 8
"""Findings of one kind listed one by one; the rest is summed up in one more."""


def plan_findings(plan: RowPlan, exclusions=()) -> tuple[Finding, ...]:
    """Everything about one block's plan that its user should know."""
    found = []
    if not len(plan.segments):
        found.append(_no_rows(plan))
    if len(plan.dropped):
        found.append(_short_rows(plan))
    found += _without_vines(plan)
    found += _misplaced_anchors(plan, exclusions)
    found += _misfitting_overrides(plan)
    found += _ends_outside(plan)
    found += staked_findings(plan, exclusions)
    if plan.course is not None:
        found += _bends(plan)
    return tuple(found)


_HAS_NOTHING = {
    "row left out": "no row runs there",
    "end moved": "no row ends there",
    "end staked": "no row ends there",
    "line post moved": "no line post stands there",
    "vine left out": "no vine stands there",
    "vine added": "no row runs there",
}


def _misfitting_overrides(plan: RowPlan):
    for i in plan.unfit[:_AT_MOST]:
        o = plan.block.overrides[i]
        yield Finding(
            "override-unfit",
            f"{plan.block.name}, set at row {plan.number_of_line(o.line)}: {o.what}, but "
            f"{_HAS_NOTHING[o.what]} any more. Set it anew or take it back.",
            plan.block.name,
            (o.x_m, o.y_m),
        )
    if len(plan.unfit) > _AT_MOST:
        more = len(plan.unfit) - _AT_MOST
        yield Finding(
            "override-unfit",
            f"{plan.block.name}: {more} more special rows, posts or vines no longer fit.",
            plan.block.name,
        )
    if plan.displaced:
        i, line = plan.displaced[0]
        o = plan.block.overrides[i]
        before, now = plan.number_of_line(o.line), plan.number_of_line(line)
        more = len(plan.displaced) - 1
        rest = f", and {more} more moved rows likewise" if more else ""
        yield Finding(
            "override-moved",
            f"{plan.block.name}: {o.what}, set at row {before}, is in row {now} now{rest}.",
            plan.block.name,
            (o.x_m, o.y_m),
        )


def _ends_outside(plan: RowPlan):
    if not any(o.what == "end moved" for o in plan.block.overrides):
        return
    x, y = plan.segment_ends_m.reshape(-1, 2).T
    outside = ~_within(plan.block.outline, x, y)
    outside &= _off_the_rim(plan.block.outline, x, y, outside)
    for i in np.flatnonzero(outside)[:_AT_MOST]:
        name = _code(plan, plan.segments, i // 2)
        yield Finding(
            "end-outside",
            f"The {('start', 'far')[i % 2]} post of {name} would stand outside the outline.",
            name,
            (float(x[i]), float(y[i])),
        )


def _bends(plan: RowPlan):
    folded = np.unique(plan.segments.line[plan.course.lines.folded[plan.segments.line]])
    if len(folded):
        middle = _middle(plan, plan.segments, int(np.argmax(plan.segments.line == folded[0])))
        rows = "1 row" if len(folded) == 1 else f"{len(folded)} rows"
        lies = "lies" if len(folded) == 1 else "lie"
        yield Finding(
            "guide-folded",
            f"{rows} of {plan.block.name} {lies} beyond the centre of the guide line's bend and would "
            "cross themselves: what would is cut off. Draw a gentler line.",
            plan.block.name,
            middle,
        )
    radius, place = tightest_row_m(plan)
    if radius < LEAST_RADIUS_M:
        yield Finding(
            "guide-tight",
            wording=f"Rows of {in_wording(plan.block.name)} bend to a radius of {{}}, under {{}}: wires, posts "
            "and machines may not follow; ask their makers.",
            lengths_m=(radius, LEAST_RADIUS_M),
            where=plan.block.name,
            place=place,
        )


def _middle(plan: RowPlan, segments: Segments, i: int) -> tuple[float, float]:
    along = (segments.start_m[i] + segments.end_m[i]) / 2
    x, y = plan.on_lines(segments.line[i : i + 1], np.array([along]), segments.across_m[i : i + 1])[
        0
    ]
    return float(x), float(y)


def _code(plan: RowPlan, segments: Segments, i: int) -> str:
    return segment_code(plan.block.name, int(segments.number[i]), int(segments.letter[i]))


def _no_rows(plan: RowPlan) -> Finding:
    point = plan.block.outline.representative_point()
    return Finding(
        "no-rows",
        f"No row fits block {plan.block.name}: make the headland, the side margin or the least row "
        "length smaller.",
        plan.block.name,
        (point.x, point.y),
    )


def _short_rows(plan: RowPlan) -> Finding:
    d, listed = plan.dropped, min(len(plan.dropped), _AT_MOST)
    names = ", ".join(f"row {number} ({{}})" for number in d.number[:listed])
    more = f" and {len(d) - listed} more" if len(d) > listed else ""
    pieces = "1 piece" if len(d) == 1 else f"{len(d)} pieces"
    return Finding(
        "rows-short",
        wording=f"{in_wording(plan.block.name)}: {pieces} of row shorter than {{}} left out: {names}{more}.",
        lengths_m=(plan.rules.min_row_m, *d.length_m[:listed].tolist()),
        where=plan.block.name,
        place=_middle(plan, d, 0),
    )


def _without_vines(plan: RowPlan):
    s = plan.segments
    bare = np.flatnonzero(plan.vines_of_segment == 0)
    if not len(bare):
        return []
    names = ", ".join(_code(plan, s, i) for i in bare[:_AT_MOST])
    more = f" and {len(bare) - _AT_MOST} more" if len(bare) > _AT_MOST else ""
    return [
        Finding(
            "rows-without-vines",
            f"No vine fits between the end posts of {names}{more}: give a greater least row length.",
            names,
            _middle(plan, s, bare[0]),
        )
    ]


def _misplaced_anchors(plan: RowPlan, exclusions):
    anchors = plan.anchors
    if not len(anchors):
        return []
    x, y = anchors.xy_m.T
    outside = ~_within(plan.block.outline, x, y)
    outside &= _off_the_rim(plan.block.outline, x, y, outside)
    near = [e.shape for e in near_exclusions(plan.block, exclusions) if shapely.area(e.shape) > 0]
    inside = np.zeros(len(x), dtype=bool)
    if near:
        barred = shapely.union_all(near)
        inside = _within(barred, x, y)
        inside &= _off_the_rim(barred, x, y, inside)
    return [
        *_anchor_findings(plan, np.flatnonzero(outside), "anchor-outside", "outside the outline"),
        *_anchor_findings(
            plan, np.flatnonzero(inside), "anchor-in-exclusion", "inside an exclusion"
        ),
    ]


def _within(area, x, y):
    shapely.prepare(area)
    return shapely.intersects_xy(area, x, y)


def _off_the_rim(area, x, y, which):
    """Whether points are more than RIM_M from an area's rim; asked only of `which`, else False."""
    off = np.zeros(len(x), dtype=bool)
    if which.any():
        points = shapely.points(x[which], y[which])
        off[which] = shapely.distance(shapely.boundary(area), points) > RIM_M
    return off


def _anchor_findings(plan: RowPlan, which, code: str, where: str):
    s, anchors = plan.segments, plan.anchors
    for i in which[:_AT_MOST]:
        segment, end = i // 2, i % 2
        name = mark_code(
            plan.block.name, int(s.number[segment]), int(s.letter[segment]), "anchor", int(end) + 1
        )
        x, y = anchors.xy_m[i]
        side = ("start", "far")[end]
        yield Finding(
            code,
            f"{plan.block.name}, row {s.number[segment]}: the {side} anchor would stand {where}.",
            name,
            (float(x), float(y)),
        )
    if len(which) > _AT_MOST:
        x, y = anchors.xy_m[which[_AT_MOST]]
        yield Finding(
            code,
            f"{plan.block.name}: {len(which) - _AT_MOST} more anchors would stand {where}.",
            plan.block.name,
            (float(x), float(y)),
        )


DANGERS = {
    "overhead line": (
        "overhead-line",
        "An overhead line is near the rows of {block}. Keep posts, pipes and augers clear; ask its "
        "owner for the distance.",
    ),
    "buried service": (
        "buried-service",
        "A buried service is near the rows of {block}. Have it located before any post is driven; "
        "private lines are not marked.",
    ),
}
"""Kinds of exclusion that can hurt someone: finding code and sentence."""

_DANGER_REACH_M = 10.0


def site_findings(blocks, exclusions) -> tuple[Finding, ...]:
    """Findings on blocks and exclusions as they lie on the ground, rows aside."""
    found = []
    for a, b in itertools.combinations(blocks, 2):
        if not shapely.intersects(a.outline, b.outline):
            continue
        common = shapely.intersection(a.outline, b.outline)
        if common.area > 0.01:
            at = common.representative_point()
            found.append(
                Finding(
                    "blocks-overlap",
                    f"Blocks {a.name} and {b.name} both cover {common.area:,.0f} m²: vines would be "
                    "laid twice there.",
                    f"{a.name}, {b.name}",
                    (at.x, at.y),
                )
            )
    for i, exclusion in enumerate(exclusions, 1):
        name = exclusion.name or exclusion.kind or f"exclusion {i}"
        at = exclusion.shape.representative_point()
        reached = [b for b in blocks if near_exclusions(b, [exclusion])]
        reached = [
            b
            for b in reached
            if shapely.distance(b.outline, exclusion.shape) <= exclusion.clearance_m
        ]
        if not reached:
            found.append(_apart(blocks, exclusion, name, (at.x, at.y)))
        if exclusion.kind in DANGERS:
            code, sentence = DANGERS[exclusion.kind]
            for block in blocks:
                if shapely.distance(block.outline, exclusion.shape) <= _DANGER_REACH_M:
                    found.append(
                        Finding(code, sentence.format(block=block.name), name, (at.x, at.y))
                    )
    return tuple(found)


_FAR_M = 2000.0
"""An exclusion farther from every block is hardly meant for this site. [m] Common practice."""


def _apart(blocks, exclusion, name: str, place) -> Finding:
    distances_m = [shapely.distance(b.outline, exclusion.shape) for b in blocks]
    near_m = min(distances_m, default=float("inf"))
    if not _FAR_M < near_m < float("inf"):
        return Finding("exclusion-apart", f"{name} touches no block.", name, place)
    return Finding(
        "exclusion-apart",
        f"{name} lies {near_m / 1000:,.0f} km from the nearest block: wrong coordinate system?",
        name,
        place,
        severity="caution",
    )
