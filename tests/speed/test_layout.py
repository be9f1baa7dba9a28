"""How long layouts take, as multiples of a floor measured in the same run. Nothing timed is asserted.

Run with `python -m pytest tests/speed --benchmark-only`; `extra_info["times_floor"]` is the median over
the median of the floor: writing as many coordinates as there are vines once.
"""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import Block, Exclusion, RowRules, lay_rows
from layoutdesk.core.layout.clearances import plantable_area
from tests.zoo import wavy

RULES = RowRules(bearing_deg=17.0)


def site_of(hectares: float, corners: int = 200):
    """A wavy outline of that size with twenty exclusions."""
    outline = wavy(corners, np.sqrt(hectares * 1e4 / np.pi), 7, 0.12)
    rng = np.random.default_rng(5)
    x0, y0, x1, y1 = outline.bounds
    exclusions = tuple(
        Exclusion(shapely.Point(x, y), 5.0)
        for x, y in zip(rng.uniform(x0, x1, 20), rng.uniform(y0, y1, 20), strict=True)
    )
    return Block("B1", outline, RULES), exclusions


def floor_s(n: int) -> float:
    """Median time to write n coordinate pairs once, into memory asked for then, as a layout does. [s]"""
    times = []
    for _ in range(15):
        start = time.perf_counter()
        np.full((max(n, 1), 2), 1.5)
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def set_against_floor(benchmark, n_vines: int):
    floor = floor_s(n_vines)
    benchmark.extra_info["vines"] = n_vines
    benchmark.extra_info["floor_ms"] = round(1e3 * floor, 4)
    if benchmark.stats:
        benchmark.extra_info["times_floor"] = round(benchmark.stats.stats.median / floor, 2)


@pytest.mark.parametrize("hectares", [5, 50, 500])
def test_layout_with_all_vine_coordinates(benchmark, hectares):
    block, exclusions = site_of(hectares)
    places = benchmark(lambda: lay_rows(block, None, exclusions, check=False).vines.xy_m)
    assert len(places) > 1000 * hectares
    set_against_floor(benchmark, len(places))


@pytest.mark.parametrize("hectares", [5, 50, 500])
def test_layout_counted_only(benchmark, hectares):
    block, exclusions = site_of(hectares)
    count = benchmark(lambda: lay_rows(block, None, exclusions, check=False).n_vines)
    assert count > 1000 * hectares
    set_against_floor(benchmark, count)


def test_layout_with_findings(benchmark):
    block, exclusions = site_of(50)
    plan = benchmark(lambda: lay_rows(block, None, exclusions))
    assert plan.n_vines > 50_000
    set_against_floor(benchmark, plan.n_vines)


def test_layout_of_a_digitised_outline(benchmark):
    """5,000 corners around 5 ha."""
    block, exclusions = site_of(5, 5000)
    count = benchmark(lambda: lay_rows(block, None, exclusions, check=False).n_vines)
    assert count > 5000
    set_against_floor(benchmark, count)


def test_best_first_row(benchmark):
    block, exclusions = site_of(50)
    best = replace(RULES, first_row_m="best")
    plan = benchmark(lambda: lay_rows(block, best, exclusions, check=False))
    assert 0 <= plan.first_row_m < 2.4
    set_against_floor(benchmark, plan.n_vines)


def test_sweep_of_180_bearings_counted(benchmark):
    block, exclusions = site_of(50)

    def sweep():
        return [
            lay_rows(block, replace(RULES, bearing_deg=float(b)), exclusions, check=False).n_vines
            for b in range(180)
        ]

    counts = benchmark.pedantic(sweep, rounds=3)
    assert min(counts) > 50_000
    set_against_floor(benchmark, sum(counts))


@pytest.mark.parametrize("corners", [200, 5000])
def test_plantable_area_to_draw(benchmark, corners):
    block, exclusions = site_of(50, corners)
    area = benchmark(lambda: plantable_area(block, RULES, exclusions))
    assert area.area > 3e5
    set_against_floor(benchmark, lay_rows(block, None, exclusions, check=False).n_vines)
