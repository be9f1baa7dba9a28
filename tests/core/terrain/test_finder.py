"""Which triangle a place lies in, for triangles of every kind."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial import Delaunay

from layoutdesk.core.terrain.finder import TriangleFinder
from layoutdesk.core.terrain.surface import surface_of_points


def turned_net(n: int, degrees: float):
    """Corners of the two triangles in each of n × n squares, turned about the origin."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    nodes = np.stack(np.meshgrid(np.arange(n + 1.0), np.arange(n + 1.0)), -1).reshape(-1, 2)
    nodes = nodes @ np.array([[c, s], [-s, c]])
    first = (np.arange(n) + (n + 1) * np.arange(n)[:, None]).ravel()
    lower = np.column_stack([first, first + 1, first + n + 2])
    upper = np.column_stack([first, first + n + 2, first + n + 1])
    return nodes, np.concatenate([lower, upper])


@pytest.mark.parametrize("seed", range(3))
def test_the_triangle_is_the_one_that_scipy_finds(seed):
    rng = np.random.default_rng(seed)
    places = rng.uniform((0, 0), (900, 30 * 10**seed), (700, 2))
    net = Delaunay(places)
    xy = rng.uniform(places.min(axis=0) - 5, places.max(axis=0) + 5, (5000, 2))
    ours = TriangleFinder(places[net.simplices]).find(xy)
    assert (ours == net.find_simplex(xy)).all()
    assert (ours < 0).any()


@pytest.mark.parametrize("degrees", [0.0, 17.0, 45.0])
def test_no_place_is_lost_on_sides_and_corners(degrees):
    nodes, triangles = turned_net(25, degrees)
    finder = TriangleFinder(nodes[triangles])
    on_sides = (nodes[triangles] + np.roll(nodes[triangles], 1, axis=1)) / 2
    for xy in (nodes, on_sides.reshape(-1, 2)):
        found = finder.find(xy)
        assert (found >= 0).all()
        assert (np.abs(nodes[triangles[found]] - xy[:, None]).max(axis=(1, 2)) <= 1.5).all()


def test_overlapping_triangles_are_found_the_largest_first():
    corners = np.array([[[4, 4], [5, 4], [4, 5]], [[0, 0], [20, 0], [0, 20]]], dtype=float)
    assert TriangleFinder(corners).find(np.array([[4.2, 4.2], [1.0, 1.0]])).tolist() == [1, 1]


def test_places_without_numbers_and_far_away_are_in_none():
    nodes, triangles = turned_net(3, 0.0)
    xy = np.array([[np.nan, 1.0], [1.0, np.nan], [1e9, 1e9], [-np.inf, 0.0], [1.1, 1.2]])
    assert (TriangleFinder(nodes[triangles]).find(xy) >= 0).tolist() == [False] * 4 + [True]


def test_long_thin_triangles_do_not_fill_the_net():
    # A fan of slivers along a diagonal: the box round each of them is nearly the whole net.
    t = np.linspace(0, 1000, 2001)
    bow = np.column_stack([t + 1e-3 * np.sin(t / 320), t])
    slivers = np.stack([np.broadcast_to(bow[0], (1999, 2)), bow[1:-1], bow[2:]], axis=1)
    nodes, triangles = turned_net(60, 0.0)
    finder = TriangleFinder(np.concatenate([slivers, 16 * nodes[triangles] + (5.0, 0.0)]))
    per_triangle = len(finder._members) / (len(slivers) + len(triangles))
    assert per_triangle < 60  # by boxes it would be more than a thousand
    xy = 16 * nodes[triangles].mean(axis=1) + (5.0, 0.0)
    assert (finder.find(xy) >= 0).all()


def test_points_that_leave_a_line_by_rounding_alone_make_no_surface():
    along = np.linspace(0, 500, 200)
    line = np.column_stack([along * np.sin(0.6), along * np.cos(0.6)]).round(4)
    with pytest.raises(ValueError, match="one line"):
        surface_of_points(np.column_stack([line, along]))
    raised = surface_of_points(np.vstack([np.column_stack([line, along]), [50.0, 10.0, 3.0]]))
    assert len(raised.triangles) > 100
