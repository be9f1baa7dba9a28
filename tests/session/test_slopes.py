"""What is told of the ground at a place."""

from __future__ import annotations

import numpy as np
import pytest

from layoutdesk.session.slopes import ground_said
from tests.core.terrain.test_surface import grid


@pytest.mark.parametrize(
    ("gradient", "told"),
    [
        ((0.10, 0.05), "falls 11.2 % to SW"),  # aspect 243.4°
        ((0.0, -0.08), "falls 8.0 % to N"),
        ((-0.03, 0.0), "falls 3.0 % to E"),
    ],
)
def test_height_slope_and_where_it_falls_to(gradient, told):
    gx, gy = gradient
    surface = grid(lambda x, y: 120 + gx * x + gy * y)
    said = ground_said(surface, 100.0, 80.0).replace("\u00a0", " ").replace("\u202f", " ")
    z = 120 + gx * 100 + gy * 80
    assert said == f"ground {z:.1f} m, {told}"
    assert "ft" in ground_said(surface, 100.0, 80.0, "ft")


def test_level_ground_falls_nowhere_and_unknown_ground_says_nothing():
    assert "falls" not in ground_said(grid(lambda x, y: 7.0 + 0 * x), 100.0, 80.0)
    assert ground_said(grid(lambda x, y: x + np.nan), 100.0, 80.0) == ""
    assert ground_said(grid(lambda x, y: 0 * x), 900.0, 80.0) == ""
