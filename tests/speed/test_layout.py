"""How long layouts take, as multiples of a floor measured in the same run. Nothing timed is asserted.

Run with `python -m pytest tests/speed --benchmark-only`; `extra_info["times_floor"]` is the median over
the median of the floor: writing as many coordinates as there are vines once, into memory the process
already holds, or (`times_fresh_floor`) into memory never touched, where both then pay for every page.
"""

from __future__ import annotations

import ctypes
import mmap
import time
import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
import shapely
import shapely.affinity

from layoutdesk import Block, Exclusion, RowRules, lay_rows
from layoutdesk.core.geometry.axes import RowAxes
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


def _median_s(work, rounds: int = 15) -> float:
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def floor_s(n: int) -> float:
    """Median time to write n coordinate pairs once, into memory the process already holds. [s]"""
    return _median_s(lambda: np.full((max(n, 1), 2), 1.5))


def fresh_floor_s(n: int) -> float:
    """The same into memory never touched before, as a first layout finds it. [s]"""

    def write():
        with mmap.mmap(-1, 16 * max(n, 1)) as memory:
            np.frombuffer(memory, dtype=np.float64)[:] = 1.5

    return _median_s(write)


@pytest.fixture
def fresh_memory():
    """Every large array in memory of its own, given back when it is freed (glibc only)."""
    libc = ctypes.CDLL(None)
    if not hasattr(libc, "mallopt"):
        pytest.skip("memory cannot be kept fresh here")
    m_mmap_threshold = -3
    libc.mallopt(m_mmap_threshold, 1 << 16)
    yield
    libc.mallopt(m_mmap_threshold, 128 << 20)


def set_against_floor(benchmark, n_vines: int):
    floor = floor_s(n_vines)
    benchmark.extra_info["vines"] = n_vines
    benchmark.extra_info["floor_ms"] = round(1e3 * floor, 4)
    if benchmark.stats:
        benchmark.extra_info["times_floor"] = round(benchmark.stats.stats.median / floor, 2)


def test_first_layout_with_all_vine_coordinates(benchmark, fresh_memory):
    """500 ha, over a million vines, in fresh memory as the floor is."""
    block, exclusions = site_of(500)
    n = lay_rows(block, None, exclusions, check=False).n_vines

    def lay():
        return lay_rows(block, None, exclusions, check=False).vines.xy_m.shape

    assert benchmark(lay) == (n, 2)
    tracemalloc.start()
    lay()
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    benchmark.extra_info.update(vines=n, peak_bytes_a_vine=round(peak / n, 2))
    if benchmark.stats:
        floor = fresh_floor_s(n)
        benchmark.extra_info["fresh_floor_ms"] = round(1e3 * floor, 3)
        benchmark.extra_info["times_fresh_floor"] = round(benchmark.stats.stats.median / floor, 2)


def _python_loop(block, exclusions):
    """One intersection a row, one step a vine."""
    area, rules, out = plantable_area(block, RULES, exclusions), block.rules, []
    x0, y0, x1, y1 = shapely.affinity.rotate(area, RULES.bearing_deg, origin=(0, 0)).bounds
    for v in np.arange(x0, x1, rules.row_spacing_m):
        line = shapely.LineString([(v, y0 - 1), (v, y1 + 1)])
        line = shapely.affinity.rotate(line, -RULES.bearing_deg, origin=(0, 0))
        for piece in shapely.get_parts(shapely.intersection(area, line)):
            if piece.length >= rules.min_row_m:
                at = rules.first_vine_m
                while at <= piece.length - rules.last_vine_m:
                    point = piece.interpolate(at)
                    out.append((point.x, point.y))
                    at += rules.vine_spacing_m
    return len(out)


def _geopandas_clip(block, exclusions):
    """All rows clipped by a data frame, vines made from the pieces, vectorised."""
    import geopandas

    area, rules = plantable_area(block, RULES, exclusions), block.rules
    x0, y0, x1, y1 = shapely.affinity.rotate(area, RULES.bearing_deg, origin=(0, 0)).bounds
    v = np.arange(x0, x1, rules.row_spacing_m)
    ends = np.stack([np.column_stack([v, np.full(len(v), y)]) for y in (y0 - 1, y1 + 1)], axis=1)
    axes = RowAxes(RULES.bearing_deg)
    lines = geopandas.GeoSeries(shapely.linestrings(axes.to_plane(ends[..., ::-1])))
    pieces = lines.clip(area).explode()
    pieces = pieces[pieces.length >= rules.min_row_m].to_numpy()
    steps = np.floor((shapely.length(pieces) - 1.5) / rules.vine_spacing_m).astype(int) + 1
    at = np.concatenate([np.arange(n) for n in steps]) * rules.vine_spacing_m + rules.first_vine_m
    points = shapely.line_interpolate_point(np.repeat(pieces, steps), at)
    return len(shapely.get_coordinates(points))


def test_layout_against_the_usual_ways(benchmark):
    """500 ha with all coordinates, against a data frame's clip and a loop over rows and vines."""
    block, exclusions = site_of(500)
    shape = benchmark(lambda: lay_rows(block, None, exclusions, check=False).vines.xy_m.shape)
    for name, way in (("geopandas_clip", _geopandas_clip), ("python_loop", _python_loop)):
        start = time.perf_counter()
        n = way(block, exclusions)
        took = time.perf_counter() - start
        assert abs(n - shape[0]) < 0.002 * shape[0]
        if benchmark.stats:
            benchmark.extra_info[f"times_{name}"] = round(took / benchmark.stats.stats.median, 1)


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
