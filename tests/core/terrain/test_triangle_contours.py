"""Contours of triangles lie on them exactly and run on from one to the next."""

from __future__ import annotations

import numpy as np
import pytest

from layoutdesk.core.terrain.contours import contours
from layoutdesk.core.terrain.surface import TriangleSurface, surface_of_points

FAN = [[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]]
SQUARE = [[0, 0], [10, 0], [10, 10], [0, 10], [5, 5]]
ALL = (-50, -50, 60, 60)


def fan(heights) -> TriangleSurface:
    """Four triangles of a square round its middle, which is the last height."""
    return TriangleSurface(np.column_stack([SQUARE, heights]), FAN)


def scattered(height, n=4000, seed=2) -> TriangleSurface:
    places = np.random.default_rng(seed).uniform(0, 1000, (n, 2))
    return surface_of_points(np.column_stack([places, height(*places.T)]))


def hill(x, y):
    return 50 * np.exp(-((x - 500) ** 2 + (y - 500) ** 2) / 2 / 200**2)


def test_every_place_of_a_contour_has_its_height():
    surface = scattered(hill)
    lines = contours(surface, 5.0, surface.bounds_m)
    assert {level for level, _ in lines} == {5.0 * k for k in range(1, 10)}
    for level, xy in lines:
        got = surface.heights_m(xy)
        assert np.isfinite(got).mean() > 0.99
        assert got[np.isfinite(got)] == pytest.approx(level, abs=1e-9)


def test_a_hill_has_one_closed_ring_a_level_near_its_circle():
    # z = 50 exp(-r² / 2 / 200²): r = 200 sqrt(2 ln(50 / z)), by definition.
    lines = contours(scattered(hill), 10.0, (0, 0, 1000, 1000))
    assert sorted(level for level, _ in lines) == [10.0, 20.0, 30.0, 40.0]
    for level, xy in lines:
        assert (xy[0] == xy[-1]).all()
        r = np.hypot(*(xy - 500).T)
        assert r == pytest.approx(200 * np.sqrt(2 * np.log(50 / level)), abs=3.0)  # 16 m apart


def test_on_a_plane_contours_are_straight_and_reach_from_rim_to_rim():
    surface = fan([0.0, 10.0, 10.0, 0.0, 5.0])
    lines = contours(surface, 2.5, ALL)
    assert [level for level, _ in lines] == [2.5, 5.0, 7.5, 10.0]
    for level, xy in lines:
        assert xy[:, 0] == pytest.approx(level)
        assert sorted(xy[[0, -1], 1].tolist()) == pytest.approx([0.0, 10.0])


def test_a_level_plain_is_drawn_round_and_not_across():
    # Two level triangles in the middle of a square that falls outwards.
    inner = [[20, 20, 5], [30, 20, 5], [30, 30, 5], [20, 30, 5]]
    outer = [[0, 0, 0], [50, 0, 0], [50, 50, 0], [0, 50, 0]]
    ring = [
        t
        for k in range(4)
        for t in ([k, (k + 1) % 4, 4 + k], [(k + 1) % 4, 4 + (k + 1) % 4, 4 + k])
    ]
    surface = TriangleSurface(np.array(inner + outer, float), [[0, 1, 2], [0, 2, 3], *ring])
    ((level, xy),) = contours(surface, 5.0, ALL)
    assert level == 5.0
    assert {tuple(p) for p in xy} == {(20, 20), (30, 20), (30, 30), (20, 30)}
    assert (xy[0] == xy[-1]).all()


def test_what_only_touches_a_level_is_not_drawn():
    peak = fan([0.0, 0.0, 0.0, 0.0, 5.0])
    assert contours(peak, 5.0, ALL) == []
    ridge = fan([0.0, 0.0, 0.0, 5.0, 5.0])  # from a corner to the middle, lower on both hands
    assert [level for level, _ in contours(ridge, 5.0, ALL)] == []
    assert len(contours(ridge, 2.0, ALL)) == 2


def test_heights_in_whole_metres_leave_no_loose_ends():
    # Every level runs through corners; a line may end on the rim or where several lines meet.
    rng = np.random.default_rng(5)
    places = np.stack(np.meshgrid(np.arange(30.0), np.arange(30.0)), -1).reshape(-1, 2)
    surface = surface_of_points(np.column_stack([places, rng.integers(0, 5, len(places))]))
    lines = contours(surface, 1.0, (0, 0, 29, 29))
    for level in (1.0, 2.0, 3.0, 4.0):
        ends = np.concatenate([xy[[0, -1]] for h, xy in lines if h == level])
        inside = ((ends > 0) & (ends < 29)).all(axis=1)
        _, count = np.unique(ends[inside].round(9), axis=0, return_counts=True)
        assert (count % 2 == 0).all()
    assert all(surface.heights_m(xy) == pytest.approx(h, abs=1e-9) for h, xy in lines)


def test_contours_are_cut_at_the_box_and_stop_at_holes():
    box = (300.0, 350.0, 620.0, 700.0)
    lines = contours(scattered(hill), 5.0, box)
    places = np.concatenate([xy for _, xy in lines])
    assert places.min(axis=0).tolist() == pytest.approx(box[:2], abs=1e-9)
    assert places.max(axis=0).tolist() == pytest.approx(box[2:], abs=1e-9)
    holed = TriangleSurface(np.column_stack([SQUARE, [0, 10, 10, 0, 5.0]]), FAN[:3])
    kept = contours(holed, 2.5, ALL)
    assert [h for h, _ in kept] == [2.5, 2.5, 5.0, 7.5, 10.0]
    for _, xy in kept:
        assert np.isfinite(holed.heights_m(xy)).all()


def test_too_small_an_interval_and_ground_elsewhere_make_none():
    surface = scattered(hill, 300)
    assert contours(surface, 1e-3, surface.bounds_m) == []
    assert contours(surface, 0.0, surface.bounds_m) == []
    assert contours(surface, 5.0, (5000, 5000, 6000, 6000)) == []
