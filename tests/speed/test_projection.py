"""How long projecting and writing the project file take, as multiples of the plain way in the same run.

Run with `python -m pytest tests/speed --benchmark-only`. Nothing timed is asserted; that the two ways
give the same is.
"""

from __future__ import annotations

import time
from dataclasses import replace

import geopandas
import numpy as np
import pyogrio
import pytest
import shapely

from layoutdesk.core.model import Block, Project, RowRules
from layoutdesk.formats.crs import frame_crs, frame_to_survey, frame_to_wgs84
from layoutdesk.formats.project_file import write_project
from layoutdesk.formats.smooth import CHECKED_TO_M, fitted
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.stakeout import lay_project

POINTS = 1_000_000
BOUNDS_M = (-1000.0, -1000.0, 1000.0, 1000.0)


def once_s(work) -> float:
    """Shortest of three runs. [s]"""
    times = []
    for _ in range(3):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return min(times)


def a_project() -> Project:
    return open_sample({s.name: s for s in samples()}["slope_two_blocks"])


@pytest.mark.parametrize("target", ["survey grid", "WGS 84"])
def test_a_million_points_by_the_cubic_against_proj(benchmark, target):
    site = a_project().site
    if target == "survey grid":
        exact, units_m = frame_to_survey(site.frame, site.survey_crs), (1.0, 1.0)
    else:
        exact, units_m = frame_to_wgs84(site.frame)[0], (111_320.0, 111_320.0)
    cubic = fitted(exact, BOUNDS_M, units_m)
    xy = np.random.default_rng(3).uniform(-1000, 1000, (POINTS, 2))
    found = benchmark(cubic, xy)
    wanted = exact(xy)
    worst_m = float((np.abs(found - wanted) * units_m).max())
    assert 0 < cubic.worst_m <= CHECKED_TO_M
    assert worst_m <= CHECKED_TO_M
    benchmark.extra_info["worst_mm"] = round(1e3 * worst_m, 6)
    if benchmark.stats:
        plain_s = once_s(lambda: exact(xy))
        benchmark.extra_info["exact_over_cubic"] = round(plain_s / benchmark.stats.stats.min, 2)


def test_a_project_file_of_300_000_vines_against_geopandas(benchmark, tmp_path):
    outline = shapely.box(-550, -550, 550, 550)
    project = replace(a_project(), blocks=(Block("B1", outline, RowRules(bearing_deg=18)),))
    plans = lay_project(project, check=False)
    vines = plans[0].vines
    assert 290_000 < len(vines) < 340_000
    path = tmp_path / "ours.gpkg"

    def write():
        path.unlink(missing_ok=True)
        write_project(path, project, plans)

    benchmark.pedantic(write, rounds=3)
    layers = ("rows", "end_posts", "line_posts", "anchors", "vines")
    frames = {layer: pyogrio.read_dataframe(path, layer=layer) for layer in layers}
    plain = tmp_path / "plain.gpkg"

    def write_plainly():
        plain.unlink(missing_ok=True)
        for layer, frame in frames.items():
            frame.to_file(plain, layer=layer, engine="pyogrio", SPATIAL_INDEX="NO")

    plain_s = once_s(write_plainly)
    for layer in layers:
        other = geopandas.read_file(plain, layer=layer)
        assert list(other.columns) == list(frames[layer].columns)
        assert len(other) == len(frames[layer])
    assert frames["vines"].crs.equals(frame_crs(project.site.frame))
    assert np.array_equal(shapely.get_coordinates(frames["vines"].geometry), vines.xy_m)
    benchmark.extra_info["vines"] = len(vines)
    benchmark.extra_info["geopandas_s"] = round(plain_s, 3)
    if benchmark.stats:
        ratio = benchmark.stats.stats.min / plain_s
        benchmark.extra_info["ours_over_geopandas"] = round(ratio, 2)
