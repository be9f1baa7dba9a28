"""How long a sweep over all bearings takes, against two other ways. Nothing timed is asserted.

`extra_info["overlay_times"]` is how many times as long the fastest way we know with a geometry
library takes, one overlay of all rows a bearing with the clear strips made anew where end and side
edges change; `loop_times` the same for a Python loop over rows and vines. Both run over a few
bearings in the same run and are told for one.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely

from layoutdesk.core.compare.sweep import sweep, sweep_bearings
from layoutdesk.core.geometry.axes import RowAxes
from layoutdesk.core.geometry.edges import ring_edges
from layoutdesk.core.layout.clearances import clear_width_m
from layoutdesk.core.model import RowRules
from tests.speed.test_layout import site_of

_SOME = np.arange(0.0, 180.0, 15.0)


def _plantable(block, rules, edges, lines, grown):
    """The plantable area as a polygon whose arcs are chords."""
    width = clear_width_m(edges, block, rules)
    taken = [grown]
    for w in np.unique(width[width > 0]):
        merged = shapely.line_merge(shapely.multilinestrings(lines[width == w]))
        taken.append(shapely.buffer(merged, w, quad_segs=16))
    return shapely.difference(block.outline, shapely.union_all(taken))


def _row_lines(area, rules):
    """The area in row axes, and all row lines across it."""
    area = shapely.transform(area, RowAxes(rules.bearing_deg).to_axes)
    u0, v0, u1, v1 = area.bounds
    v = np.arange(v0, v1 + 1e-3, rules.row_spacing_m)
    ends = [np.column_stack([np.full(len(v), u), v]) for u in (u0 - 1, u1 + 1)]
    return area, shapely.linestrings(np.stack(ends, axis=1))


def by_overlay(block, rules, edges, lines, grown) -> int:
    """Vines counted from one overlay of all rows."""
    area, rows = _row_lines(_plantable(block, rules, edges, lines, grown), rules)
    pieces = shapely.get_parts(shapely.intersection(shapely.multilinestrings(rows), area))
    length = shapely.length(pieces)
    length = length[length >= rules.min_row_m]
    room = length - rules.first_vine_m - rules.last_vine_m
    return int((np.floor(room / rules.vine_spacing_m + 1e-9) + 1).sum())


def by_loop(block, rules, edges, lines, grown) -> int:
    """Vines counted one row and one vine at a time."""
    area, rows = _row_lines(_plantable(block, rules, edges, lines, grown), rules)
    vines = 0
    for row in rows:
        for piece in shapely.get_parts(row.intersection(area)):
            if piece.length < rules.min_row_m:
                continue
            at = rules.first_vine_m
            while at <= piece.length - rules.last_vine_m + 1e-9:
                piece.interpolate(at)
                vines += 1
                at += rules.vine_spacing_m
    return vines


def _each_s(way, block, exclusions, bearings) -> tuple[float, list[int]]:
    edges = ring_edges(block.outline)
    lines = shapely.linestrings(np.stack([edges.start_m, edges.end_m], axis=1))
    grown = [shapely.buffer(e.shape, e.clearance_m, quad_segs=16) for e in exclusions]
    grown = shapely.union_all(grown)
    start = time.perf_counter()
    counts = [way(block, RowRules(bearing_deg=float(b)), edges, lines, grown) for b in bearings]
    return (time.perf_counter() - start) / len(bearings), counts


@pytest.mark.parametrize("corners", [200, 5000])
def test_sweep_of_fifty_hectares(benchmark, corners):
    block, exclusions = site_of(50, corners)
    found = benchmark(sweep, [block], exclusions)
    each = benchmark.stats.stats.median / len(sweep_bearings())
    overlay, counts = _each_s(by_overlay, block, exclusions, _SOME)
    loop, _ = _each_s(by_loop, block, exclusions, _SOME[:2])
    benchmark.extra_info["ms_a_bearing"] = round(1e3 * each, 3)
    benchmark.extra_info["overlay_times"] = round(overlay / each, 1)
    benchmark.extra_info["loop_times"] = round(loop / each)
    ours = found.values["vines"][_SOME.astype(int)]
    assert ours == pytest.approx(counts, rel=2e-4)  # chords over-plant by a vine here and there


def test_sweep_of_a_parcel(benchmark):
    block, _ = site_of(5, 24)
    benchmark(sweep, [block])
    each = benchmark.stats.stats.median / len(sweep_bearings())
    overlay, _ = _each_s(by_overlay, block, (), _SOME)
    benchmark.extra_info["overlay_times"] = round(overlay / each, 1)
