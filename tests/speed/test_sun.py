"""How long the sun on 180 bearings takes, against a floor and another way. Nothing timed is asserted.

`extra_info["floor_times"]` is how many times as long as one pass over as many numbers it takes: a
product that gives the place across the rows of every sample at every bearing, one limit and one sum.
`pvlib_times` is how many times as long pvlib's own functions take, a bearing at a time, for the
same samples and less: they give no share of light caught.
"""

from __future__ import annotations

import numpy as np
import pytest
from pvlib.irradiance import aoi_projection
from pvlib.shading import shaded_fraction1d

from layoutdesk.core.compare.sun import face_sun, path_of_days, sun_path
from layoutdesk.core.model import Canopy, Season
from tests.speed.test_projection import once_s

BEARINGS = np.arange(180.0)
FENCE = Canopy(height_m=2.0, foot_m=0.0, width_m=0.0)  # pvlib's rows are thin and reach the ground


def floor(path) -> list[np.ndarray]:
    """One pass over as many numbers, in groups that stay in the processor's cache."""
    turn = np.radians(BEARINGS)
    towards = np.stack([np.cos(turn), -np.sin(turn)], axis=1)
    places = np.stack([path.east, path.north])
    groups = np.split(towards, 18)
    return [np.minimum(group @ places, path.up) @ path.weight_h for group in groups]


def by_pvlib(path, spacing_m) -> tuple[np.ndarray, np.ndarray]:
    """Energy on the left and the right face. [MJ/m²]"""
    zenith = np.degrees(np.arccos(path.up))
    azimuth = np.degrees(np.arctan2(path.east, path.north))
    light = path.dni_w_m2 * path.weight_h * 3600e-6
    sides = []
    for turn in (-90, 90):
        each = []
        for bearing in BEARINGS:
            cosine = np.maximum(aoi_projection(90, bearing + turn, zenith, azimuth), 0)
            shade = shaded_fraction1d(
                zenith, azimuth, bearing, turn, collector_width=FENCE.height_m, pitch=spacing_m
            )
            each.append(((1 - shade) * cosine * light).sum())
        sides.append(np.array(each))
    return sides[0], sides[1]


def test_sun_on_180_bearings(benchmark):
    path = sun_path(-33.4, 19.6, Season())
    found = benchmark(face_sun, path, BEARINGS, 2.4, FENCE, Season())
    left, right = by_pvlib(path, 2.4)
    assert found["sun_left_mj_m2"] == pytest.approx(left, rel=1e-6)
    assert found["sun_right_mj_m2"] == pytest.approx(right, rel=1e-6)
    benchmark.extra_info["samples"] = len(path.up)
    if benchmark.stats:
        ours_s = benchmark.stats.stats.min
        benchmark.extra_info["ms"] = round(1e3 * ours_s, 1)
        benchmark.extra_info["floor_times"] = round(ours_s / once_s(lambda: floor(path)), 1)
        pvlib_s = once_s(lambda: by_pvlib(path, 2.4))
        benchmark.extra_info["pvlib_times"] = round(pvlib_s / ours_s, 1)


def test_positions_of_a_season(benchmark):
    months = Season().months(-33.4)
    path = benchmark(path_of_days, -33.4, 19.6, months)
    assert len(path.up) > 4000
    benchmark.extra_info["samples"] = len(path.up)
