"""The cubic in place of a transform, against the transform itself, at points it was not checked at."""

from __future__ import annotations

import numpy as np
import pytest

from layoutdesk import SiteFrame
from layoutdesk.formats.crs import frame_to_geographic, frame_to_survey
from layoutdesk.formats.smooth import CHECKED_TO_M, fitted

SCATTERED = np.random.default_rng(3).uniform(-1, 1, (2000, 2))


@pytest.mark.parametrize("half_m", [0.1, 150.0, 2300.0, 10_000.0])
@pytest.mark.parametrize("latitude", [-45.0, 0.1, 60.0])
def test_eastings_within_a_hundredth_of_a_millimetre(latitude, half_m):
    exact = frame_to_survey(
        SiteFrame(latitude, 20.4, 300.0), "EPSG:32634" if latitude > 0 else "EPSG:32734"
    )
    quick = fitted(exact, (-half_m, -half_m, half_m, half_m))
    points = SCATTERED * half_m
    assert np.abs(quick(points) - exact(points)).max() <= CHECKED_TO_M
    assert quick.worst_m <= CHECKED_TO_M


def test_longitudes_within_a_hundredth_of_a_millimetre():
    frame = SiteFrame(49.0, 20.4)
    exact = frame_to_geographic(frame)
    metres = (111_320 * np.cos(np.radians(49.0)), 111_200.0)
    quick = fitted(exact, (-900, -400, 1100, 700), metres)
    points = np.column_stack([SCATTERED[:, 0] * 1000 + 100, SCATTERED[:, 1] * 550 + 150])
    assert (np.abs(quick(points) - exact(points)) * metres).max() <= CHECKED_TO_M


@pytest.mark.parametrize(
    "rough",
    [
        lambda xy: xy + np.sin(xy / 40) * 0.01,  # ripples of a centimetre
        lambda xy: xy + (xy[:, :1] > 0) * 1e-3,  # a step of a millimetre
        lambda xy: np.full(xy.shape, np.nan),
    ],
    ids=["ripples", "step", "nowhere"],
)
def test_what_no_cubic_follows_is_transformed_exactly(rough):
    quick = fitted(rough, (-1000, -1000, 1000, 1000))
    points = SCATTERED * 1000
    assert np.array_equal(quick(points), rough(points), equal_nan=True)
