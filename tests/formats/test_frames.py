"""Frames of many parcels, made the quick way, are those of one site made the thorough way."""

from __future__ import annotations

import numpy as np
import pytest

from layoutdesk.core.model import InputProblem
from layoutdesk.formats.crs import crs_named, make_frame, to_frame
from layoutdesk.formats.frames import frame_at, onto_frame

PLACES = {
    # a grid or geographic system, and a place in it
    "EPSG:2154": (700_000, 6_300_000),
    "EPSG:27561": (600_000, 200_000),  # in gons from Paris
    "EPSG:32719": (280_000, 6_150_000),
    "EPSG:2227": (6_000_000, 2_100_000),  # in US survey feet
    "EPSG:27200": (2_500_000, 6_000_000),  # a projection of its own kind
    "EPSG:4326": (18.9, -33.9),
    "EPSG:4167": (179.9999, -38.4),
}


def around(crs: str, n: int = 40) -> np.ndarray:
    size = 0.002 if crs_named(crs).is_geographic else 250.0
    return np.array(PLACES[crs]) + size * np.random.default_rng(1).uniform(-1, 1, (n, 2))


@pytest.mark.parametrize("crs", PLACES)
@pytest.mark.parametrize("height_m", [0.0, 1200.0])
def test_the_quick_frame_is_the_thorough_one(crs, height_m):
    """To less than the coordinates' own rounding: 10 nm."""
    xy = around(crs)
    frame = frame_at(crs, xy, height_m)
    assert frame == make_frame(crs_named(crs), xy[:, 0], xy[:, 1], height_m)
    quick, thorough = onto_frame(frame)(crs, xy), to_frame(crs_named(crs), frame)(xy)
    np.testing.assert_allclose(quick, thorough, rtol=0, atol=1e-8)
    assert np.abs(quick).max() < 400


def test_shapes_on_another_datum_are_shifted_as_in_one_site():
    """An exclusion in ED50 over a parcel in ETRS89: some 200 m aside if it were not shifted."""
    parcel = np.array([(560_000.0, 4_250_000.0), (560_200.0, 4_250_200.0)])
    frame = frame_at("EPSG:25829", parcel)
    pond = np.array([(-8.3108, 38.3964), (-8.3100, 38.3970)])
    quick = onto_frame(frame)("EPSG:4230", pond)
    thorough = to_frame(crs_named("EPSG:4230"), frame)(pond)
    np.testing.assert_allclose(quick, thorough, rtol=0, atol=1e-3)
    unshifted = onto_frame(frame)("EPSG:4258", pond)
    assert np.hypot(*(quick - unshifted).T).min() > 50


def test_a_place_outside_a_system_is_refused():
    with pytest.raises(InputProblem, match="cannot lie in"):
        frame_at("EPSG:32719", np.array([(1e12, 1e12), (1e12, 1e12 + 1)]))
