"""Heights of a million places, and what is made of them. Nothing timed is asserted.

`extra_info["floor_times"]` is how many times as long as the floor it takes: picking one number out
of a million by index for each place, in the same order, in the same run. `scipy_times` is how many times as long scipy
takes for the same question there.
"""

from __future__ import annotations

import time

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, RowRules
from layoutdesk.core.terrain.contours import contours
from layoutdesk.core.terrain.grades import row_grades
from layoutdesk.core.terrain.relief import hillshade, sampled_grid
from layoutdesk.core.terrain.surface import GridSurface, TriangleSurface, surface_of_points
from tests.speed.test_layout import site_of

N = 1_000_000


def ground(x, y):
    return 100 + 30 * np.sin(x / 150) * np.cos(y / 210) + 0.05 * x


def raster(cells: int = 1000) -> GridSurface:
    """As many cells of a metre each way."""
    at = np.arange(cells) + 0.5

    def to_cells(xy):
        return np.column_stack([xy[:, 0], cells - xy[:, 1]])

    return GridSurface(ground(at, cells - at[:, None]), to_cells, 1.0, (0, 0, cells, cells))


def survey(n: int = 25_000) -> TriangleSurface:
    """About twice as many triangles as points."""
    places = np.random.default_rng(1).uniform(0, 1000, (n, 2))
    return surface_of_points(np.column_stack([places, ground(*places.T)]))


def scattered() -> np.ndarray:
    return np.random.default_rng(0).uniform(20, 980, (N, 2))


def along_rows() -> np.ndarray:
    """Places as vines stand: one row after another."""
    x, y = np.meshgrid(np.linspace(20, 980, 400), np.linspace(20, 980, N // 400))
    return np.column_stack([x.T.ravel(), y.T.ravel()])


def _least_s(work, *args) -> float:
    times = []
    for _ in range(3):
        start = time.perf_counter()
        work(*args)
        times.append(time.perf_counter() - start)
    return min(times)


def _told(benchmark, xy) -> None:
    numbers = np.arange(float(N))
    at = xy[:, 0].astype(np.intp) + 1000 * xy[:, 1].astype(np.intp)
    floor = _least_s(numbers.take, at)
    benchmark.extra_info["floor_times"] = round(benchmark.stats.stats.median / floor, 1)


PLACES = {"scattered": scattered, "rows": along_rows}


@pytest.mark.parametrize("order", PLACES)
def test_heights_of_a_million_places_on_a_grid(benchmark, order):
    from scipy.interpolate import RegularGridInterpolator

    surface, xy = raster(), PLACES[order]()
    z = benchmark(surface.heights_m, xy)
    _told(benchmark, xy)
    at = np.arange(1000) + 0.5
    theirs = RegularGridInterpolator((at, at), surface.heights[::-1])
    start = time.perf_counter()
    wanted = theirs(xy[:, ::-1])
    took = time.perf_counter() - start
    benchmark.extra_info["scipy_times"] = round(took / benchmark.stats.stats.median, 1)
    assert np.abs(z - wanted).max() < 1e-9


@pytest.mark.parametrize("order", PLACES)
def test_heights_of_a_million_places_on_fifty_thousand_triangles(benchmark, order):
    from scipy.interpolate import LinearNDInterpolator

    surface, xy = survey(), PLACES[order]()
    z = benchmark(surface.heights_m, xy)
    _told(benchmark, xy)
    theirs = LinearNDInterpolator(surface.points[:, :2], surface.points[:, 2])
    start = time.perf_counter()
    wanted = theirs(xy[::10])
    took = 10 * (time.perf_counter() - start)
    benchmark.extra_info["scipy_times"] = round(took / benchmark.stats.stats.median, 1)
    assert np.abs(z[::10] - wanted).max() < 1e-6


def test_triangles_made_ready(benchmark):
    surface = survey()
    benchmark(TriangleSurface, surface.points, surface.triangles)
    _told(benchmark, scattered())


@pytest.mark.parametrize("kind", ["grid", "triangles"])
def test_grades_of_fifty_hectares(benchmark, kind):
    block, _ = site_of(50, 200)
    x0, y0, x1, y1 = shapely.bounds(block.outline)
    surface = raster() if kind == "grid" else survey()
    # The block is moved onto the ground there is.
    moved = shapely.affinity.translate(block.outline, 500 - (x0 + x1) / 2, 500 - (y0 + y1) / 2)
    plan = lay_rows(Block("B1", moved), RowRules(bearing_deg=30.0))
    grades = benchmark(row_grades, plan, surface)
    benchmark.extra_info["samples"] = len(grades.along_pct)
    _told(benchmark, scattered())


@pytest.mark.parametrize("kind", ["grid", "triangles"])
def test_contours_of_a_hundred_hectares(benchmark, kind):
    surface = raster() if kind == "grid" else survey()
    lines = benchmark(contours, surface, 1.0, (0, 0, 1000, 1000))
    benchmark.extra_info["places"] = sum(len(xy) for _, xy in lines)
    _told(benchmark, scattered())


def test_shade_of_a_million_cells(benchmark):
    surface = raster()

    def shade():
        heights, _, step = sampled_grid(surface, surface.bounds_m, 1.0)
        return hillshade(heights, step)

    benchmark(shade)
    _told(benchmark, scattered())
