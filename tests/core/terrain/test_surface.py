"""Heights and gradients of grids and triangles, against exact planes and scipy."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from scipy.interpolate import LinearNDInterpolator, RegularGridInterpolator

from layoutdesk.core.terrain.surface import (
    GridSurface,
    TriangleSurface,
    mean_gradient,
    surface_of_points,
)


def grid(height, columns=60, rows=40, cell=5.0, hole=None) -> GridSurface:
    """A grid surface of a function of x and y whose upper left corner is (0, rows * cell)."""
    x = cell * (np.arange(columns) + 0.5)
    y = cell * (rows - 0.5 - np.arange(rows))
    z = height(*np.meshgrid(x, y)).astype(float)
    if hole is not None:
        z[hole] = np.nan

    def to_cells(xy):
        return np.column_stack([xy[:, 0] / cell, rows - xy[:, 1] / cell])

    return GridSurface(z, to_cells, cell, (0.0, 0.0, columns * cell, rows * cell))


def plane(x, y):
    return 100 + 0.10 * x + 0.05 * y


def bumpy(x, y):
    return 50 + 4 * np.sin(x / 30) + 3 * np.cos(y / 40 + x / 90)


def inner(n, seed=3, low=(2.6, 2.6), high=(297.4, 197.4)):
    return np.random.default_rng(seed).uniform(low, high, (n, 2))


def test_a_grid_of_a_plane_is_the_plane():
    xy = inner(500)
    surface = grid(plane)
    assert surface.heights_m(xy) == pytest.approx(plane(*xy.T), abs=1e-9)
    inside = inner(200, low=(5.1, 5.1), high=(294.9, 194.9))
    assert surface.gradients(inside) == pytest.approx(np.tile([0.10, 0.05], (200, 1)), abs=1e-9)


def test_between_cells_a_grid_is_bilinear_as_scipy_has_it():
    surface, xy = grid(bumpy), inner(2000)
    x = 5.0 * (np.arange(60) + 0.5)
    y = 5.0 * (np.arange(40) + 0.5)
    theirs = RegularGridInterpolator((y, x), surface.heights[::-1])(xy[:, ::-1])
    assert surface.heights_m(xy) == pytest.approx(theirs, abs=1e-9)


def test_what_is_not_known_is_no_number():
    surface = grid(plane, hole=(slice(10, 12), slice(20, 22)))
    outside = np.array([[-1.0, 50], [301, 50], [100, -0.1], [100, 200.1], [1.0, 100.0]])
    assert np.isnan(surface.heights_m(outside)).all()
    assert np.isnan(surface.gradients(outside)).all()
    in_hole = np.array([[105.0, 145.0]])
    assert np.isnan(surface.heights_m(in_hole)).all()
    beside = np.array([[97.5, 147.5]])  # the middle of the cell left of the hole
    assert surface.heights_m(beside) == pytest.approx(plane(97.5, 147.5))


def test_a_turned_raster_gives_the_same_heights():
    turn = np.radians(20)
    c, s = np.cos(turn), np.sin(turn)
    columns, rows, cell = 90, 90, 4.0
    u, v = np.meshgrid(np.arange(columns) + 0.5, np.arange(rows) + 0.5)
    x = 10 + cell * (u * c - v * s)
    y = 300 - cell * (u * s + v * c)

    def to_cells(xy):
        a, b = (xy[:, 0] - 10) / cell, (300 - xy[:, 1]) / cell
        return np.column_stack([a * c + b * s, -a * s + b * c])

    surface = GridSurface(plane(x, y), to_cells, cell, (-200, -200, 500, 500))
    xy = inner(100, low=(60, 100), high=(150, 200))
    assert surface.heights_m(xy) == pytest.approx(plane(*xy.T), abs=1e-9)


@pytest.mark.parametrize("seed", range(4))
def test_triangles_between_points_agree_with_scipy(seed):
    rng = np.random.default_rng(seed)
    places = rng.uniform((0, 0), (300, 200), (900, 2))
    z = bumpy(*places.T)
    surface = surface_of_points(np.column_stack([places, z]))
    theirs = LinearNDInterpolator(places - places.mean(axis=0), z)
    xy = inner(4000, seed)
    wanted = theirs(xy - places.mean(axis=0))
    got = surface.heights_m(xy)
    assert (np.isnan(got) == np.isnan(wanted)).mean() > 0.999  # but on the very rim
    both = np.isfinite(got) & np.isfinite(wanted)
    assert got[both] == pytest.approx(wanted[both], abs=1e-6)


def test_triangles_of_a_plane_are_the_plane_and_slope_as_it_does():
    places = np.random.default_rng(1).uniform((0, 0), (300, 200), (400, 2))
    surface = surface_of_points(np.column_stack([places, plane(*places.T)]))
    xy = inner(300, low=(30, 30), high=(270, 170))
    assert surface.heights_m(xy) == pytest.approx(plane(*xy.T), abs=1e-8)
    assert surface.gradients(xy) == pytest.approx(np.tile([0.10, 0.05], (300, 1)), abs=1e-6)


def test_given_triangles_are_kept_and_a_hole_between_them_stays_one():
    points = np.array(
        [[0, 0, 1], [10, 0, 1], [10, 10, 1], [0, 10, 1], [20, 0, 5], [30, 0, 5], [30, 9, 5.0]]
    )
    surface = TriangleSurface(points, [[0, 1, 2], [0, 2, 3], [4, 5, 6]])
    got = surface.heights_m(np.array([[5.0, 5.0], [2.0, 9.0], [15.0, 3.0], [28.0, 2.0]]))
    assert got[:2].tolist() == [1.0, 1.0]
    assert np.isnan(got[2])
    assert got[3] == pytest.approx(5.0)


def test_points_at_one_place_count_with_their_mean():
    points = np.array([[0, 0, 0], [0, 0, 2], [10, 0, 1], [0, 10, 1.0], [10, 10, 1]])
    assert surface_of_points(points).heights_m(np.array([[0.001, 0.001]])) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("points", "why"),
    [
        ([[0, 0, 1], [5, 5, 2]], "three places"),
        ([[0, 0, 1], [5, 5, 2], [9, 9, 3]], "one line"),
        ([[0, 0, 1], [0, 0, 2], [np.nan, 9, 3]], "three places"),
    ],
)
def test_too_few_points_are_refused_with_the_reason(points, why):
    with pytest.raises(ValueError, match=why):
        surface_of_points(np.array(points, dtype=float))


def test_the_mean_gradient_is_that_of_the_best_plane():
    block = shapely.box(50, 40, 220, 150)
    assert mean_gradient(grid(plane), block) == pytest.approx((0.10, 0.05), abs=1e-9)
    surface = grid(bumpy)
    gx, gy = mean_gradient(surface, block)
    x, y = np.meshgrid(np.arange(50.5, 220), np.arange(40.5, 150))
    xy = np.column_stack([x.ravel(), y.ravel()])
    design = np.column_stack([xy, np.ones(len(xy))])
    fit = np.linalg.lstsq(design, surface.heights_m(xy), rcond=None)[0]
    assert (gx, gy) == pytest.approx(fit[:2], abs=2e-3)
    assert mean_gradient(surface, shapely.box(900, 900, 950, 950)) == (0.0, 0.0)
