"""Random blocks with rules and exclusions from a seed, and where two ways of laying them differ."""

from __future__ import annotations

import numpy as np
import shapely

from layoutdesk import Alley, Block, EdgeWidth, Exclusion, RowRules, lay_rows
from layoutdesk.core.model import LEFTOVERS
from tests.core.slow_rows import Ground, joined, slow_plan
from tests.zoo import edge_bearing_deg, random_outline, random_rectilinear, turned

CLOSE_M = 1e-6


def random_case(seed: int):
    """Block, rules and exclusions: the same for the same seed."""
    rng = np.random.default_rng(seed)
    outline = random_outline(rng)
    exclusions = tuple(_exclusion(rng, outline) for _ in range(rng.integers(0, 4)))
    rules = RowRules(
        bearing_deg=_bearing(rng, outline),
        row_spacing_m=float(rng.choice([2.0, 2.4, 2.5, 3.0, rng.uniform(1.5, 4)])),
        vine_spacing_m=float(rng.choice([1.0, 1.2, 1.5, rng.uniform(0.8, 3)])),
        headland_m=float(rng.choice([0.0, 4.0, 8.0, rng.uniform(0, 10)])),
        side_margin_m=float(rng.choice([0.0, 1.2, 2.5, rng.uniform(0, 4)])),
        side_angle_deg=float(rng.choice([30.0, 45.0, rng.uniform(5, 60)])),
        first_row_m=float(rng.choice([0.0, 1.25, rng.uniform(0, 3)])),
        first_vine_m=float(rng.choice([0.0, 1.0, rng.uniform(0, 2)])),
        last_vine_m=float(rng.choice([0.0, 0.5, rng.uniform(0, 2)])),
        min_row_m=float(rng.choice([0.0, 5.3, 15.1])),
        line_post_every=int(rng.choice([0, 1, 4, 5])),
        leftover=LEFTOVERS[seed % 4],
        stretch_max_pct=float(rng.choice([0.0, 1.0, 5.0, 20.0])),
        lattice=("square", "staggered")[seed // 4 % 2],
        number_from=("left", "right")[int(rng.integers(2))],
        first_number=int(rng.integers(0, 50)),
        alley_every_m=float(rng.choice([0.0, 0.0, 47.3])),
    )
    if rng.random() < 0.25:
        rules = _with_alley(rng, outline, rules)
    n = len(outline.exterior.coords) - 1
    own = {
        int(rng.integers(n)): float(rng.choice([0.0, 2.5, 6.0, 12.0]))
        for _ in range(rng.integers(0, 3))
    }
    widths = [EdgeWidth(0, edge, width) for edge, width in own.items()]
    if outline.interiors and rng.random() < 0.5:
        widths.append(EdgeWidth(1, 0, 3.5))
    return Block("B1", outline, rules, tuple(widths)), exclusions


def aligned_case(seed: int):
    """Block and exclusions where rows, corners, edges and clearances fall on common lines.

    Everything lies on a grid of 2.5 m, rows and widths are whole or half grids, and the whole is
    turned by a bearing that leaves rounding in every number.
    """
    rng = np.random.default_rng(seed)
    outline = random_rectilinear(rng, int(rng.integers(2, 5)), rng.uniform(30, 70), GRID_M)
    bearing = float(rng.choice([0.0, 90.0, 180.0, 270.0, 18.0, 211.7]))
    exclusions = []
    for _ in range(rng.integers(0, 4)):
        x, y = (GRID_M * rng.integers(-12, 12, 2)).tolist()
        w, h = (GRID_M * rng.integers(1, 5, 2)).tolist()
        shape = (
            shapely.Point(x, y),
            shapely.box(x, y, x + w, y + h),
            shapely.LineString([(x, y), (x, y + h)]),
            shapely.LineString([(x, y), (x + w, y)]),
        )[rng.integers(4)]
        exclusions.append(Exclusion(turned(shape, bearing), float(rng.choice([0.0, 2.5, 5.0]))))
    rules = RowRules(
        bearing_deg=bearing + float(rng.choice([0.0, 90.0])),
        row_spacing_m=float(rng.choice([1.25, 2.5, 5.0])),
        headland_m=float(rng.choice([0.0, 2.5, 5.0])),
        side_margin_m=float(rng.choice([0.0, 1.25, 2.5])),
        first_row_m=float(rng.choice([0.0, 1.25])),
        last_vine_m=0.61,  # no row of whole spaces, where a micrometre makes a vine
        min_row_m=float(rng.choice([0.0, 6.1])),
        leftover=LEFTOVERS[seed % 4],
        number_from=("left", "right")[int(rng.integers(2))],
    )
    n = len(outline.exterior.coords) - 1
    widths = [EdgeWidth(0, int(rng.integers(n)), float(rng.choice([0.0, 2.5, 7.5])))]
    return Block("B1", turned(outline, bearing), rules, tuple(widths)), tuple(exclusions)


GRID_M = 2.5


def _bearing(rng, outline) -> float:
    kind = rng.integers(3)
    if kind == 0:
        return float(rng.choice([0.0, 90.0, 180.0, 270.0]))
    if kind == 1:
        return edge_bearing_deg(outline, int(rng.integers(len(outline.exterior.coords) - 1)))
    return float(rng.uniform(0, 360))


def _with_alley(rng, outline, rules):
    from dataclasses import replace

    point = outline.representative_point()
    bearing = None if rng.random() < 0.5 else rules.bearing_deg + float(rng.uniform(20, 160))
    return replace(rules, alleys=(Alley(point.x, point.y, float(rng.uniform(2, 8)), bearing),))


def _exclusion(rng, outline) -> Exclusion:
    x0, y0, x1, y1 = outline.bounds
    x, y = rng.uniform(x0 - 5, x1 + 5), rng.uniform(y0 - 5, y1 + 5)
    kind = rng.integers(4)
    if kind == 0:
        shape = shapely.Point(x, y)
    elif kind == 1:
        steps = rng.uniform(-30, 30, (int(rng.integers(1, 5)), 2))
        shape = shapely.LineString(np.vstack([[x, y], np.cumsum(steps, axis=0) + [x, y]]))
    elif kind == 2:
        shape = shapely.box(round(x), round(y), round(x) + 10, round(y) + 15)
    else:
        ring = shapely.Point(x, y).buffer(rng.uniform(3, 12), quad_segs=int(rng.integers(1, 6)))
        shape = (
            shapely.difference(ring, shapely.Point(x, y).buffer(2)) if rng.random() < 0.3 else ring
        )
    return Exclusion(shape, float(rng.choice([0.0, 1.0, 5.0, rng.uniform(0, 6)])))


def differences(block, exclusions, close_m: float = CLOSE_M) -> tuple[list[str], int]:
    """What differs between the program's plan and the slow one, in words, and how many segments."""
    rules = block.rules
    plan = lay_rows(block, exclusions=exclusions)
    slow = slow_plan(block, rules, exclusions)
    said = []

    def count(name, got, wanted):
        if got != wanted:
            said.append(f"{name}: {got}, by the slow way {wanted}")

    count("segments", plan.n_segments, len(slow.segments))
    count("rows", plan.n_rows, len({s.line for s in slow.segments}))
    count("dropped", len(plan.dropped), len(slow.dropped))
    count("vines", plan.n_vines, sum(len(s.vines) for s in slow.segments))
    count("line posts", len(plan.line_posts), sum(len(s.line_posts) for s in slow.segments))
    if slow.extent is not None:
        for got, wanted in zip(plan.extent_across_m, slow.extent, strict=True):
            if abs(got - wanted) > close_m:
                said.append(f"extent: {got:.6f}, by the slow way {wanted:.6f}")
    if said:
        return said, len(slow.segments)
    s = plan.segments
    for name, got in (("number", s.number), ("letter", s.letter), ("line", s.line)):
        count(name, got.tolist(), [getattr(one, name) for one in slow.segments])
    for name, got, wanted in (
        ("vines", plan.vines.xy_m, slow.vine_xy()),
        ("line posts", plan.line_posts.xy_m, slow.line_post_xy()),
        ("end posts", plan.end_posts.xy_m, slow.end_post_xy()),
    ):
        wanted = np.array(wanted).reshape(-1, 2)
        if len(wanted):
            apart = np.hypot(*(got - wanted).T)
            worst = int(np.argmax(apart))
            if not apart[worst] <= close_m:
                said.append(f"{name}: {worst} is {apart[worst]:.2e} m from {wanted[worst]}")
    return said, len(slow.segments)


END_M = 6e-3
"""How far a row that is exactly tangent to a rim may end elsewhere: the rim within RIM_M is flat."""


def aligned_differences(block, exclusions) -> tuple[list[str], int]:
    """Row lines whose pieces are not as they should be, in words, and how many lines there are.

    Where two clearances touch exactly on a row line, the line is all that is left between them:
    whether it is in is for rounding to say. So the pieces may be those of a slow line a nanometre
    beside, or hold all of these and else only ground that is kept clear by none.
    """
    plan = lay_rows(block, exclusions=exclusions)
    ground = Ground(block, block.rules, exclusions)
    left, right = plan.extent_across_m
    said, across, line = [], left + plan.first_row_m, 0
    while across <= right + 1e-3:
        found = sorted(
            (float(s.start_m[i]), float(s.end_m[i]))
            for s in (plan.segments, plan.dropped)
            for i in np.flatnonzero(s.line == line)
        )
        found = joined(found, END_M)
        wanted = []
        for nudge in (0.0, -1e-9, 1e-9):
            pieces = joined(ground.settled(across + nudge), END_M)
            pieces = [p for p in pieces if p[1] - p[0] > 1e-3]
            wanted.append(pieces)
            if len(pieces) == len(found) and np.allclose(pieces, found, rtol=0, atol=END_M):
                break
        else:
            held = all(
                any(a <= p[0] + END_M and p[1] <= b + END_M for a, b in found) for p in wanted[0]
            )
            if not (held and ground.is_clear(across, found)):
                said.append(f"line {line} at {across:.6f}: {found}, by the slow way {wanted[0]}")
        line += 1
        across = left + plan.first_row_m + line * block.rules.row_spacing_m
    return said, line
