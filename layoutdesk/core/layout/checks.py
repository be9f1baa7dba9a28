"""Findings on a layout: what would go wrong in the ground."""

from __future__ import annotations

import itertools

import numpy as np
import shapely

from ..geometry.scanline import RIM_M
from ..model import Finding, RowPlan, Segments
from .clearances import near_exclusions
from .courses import LEAST_RADIUS_M, tightest_row_m
from .numbering import mark_code, segment_code

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
    if plan.course is not None:
        found += _bends(plan)
    return tuple(found)


_HAS_NOTHING = {
    "row left out": "no row runs there",
    "end moved": "no row ends there",
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
            wording=f"Rows of {plan.block.name} bend to a radius of {{}}, under {{}}: wires, posts "
            "and machines may not follow; ask their makers.",
            lengths_m=(radius, LEAST_RADIUS_M),
            where=plan.block.name,
            place=place,
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
