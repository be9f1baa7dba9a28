"""Sun on the faces of a hedgerow: shading against rays followed through boxes, and its symmetries."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.compare import sun as sun_module
from layoutdesk.core.compare.catalogue import MEASURES
from layoutdesk.core.compare.sun import SunPath, face_sun, path_of_days, sun_path
from layoutdesk.core.model import Canopy, Season

CANOPY = Canopy()
LEVEL = (0.0, 0.0)
SWAPPED = {
    "sun_left_h": "sun_right_h",
    "sun_right_h": "sun_left_h",
    "sun_left_mj_m2": "sun_right_mj_m2",
    "sun_right_mj_m2": "sun_left_mj_m2",
}


def one_sun(zenith_deg: float, azimuth_deg: float) -> SunPath:
    """A sun that stands still for an hour and gives 1 MJ/m² across its rays."""
    zenith, azimuth = np.radians(zenith_deg), np.radians(azimuth_deg)
    place = (np.sin(zenith) * np.sin(azimuth), np.sin(zenith) * np.cos(azimuth), np.cos(zenith))
    return SunPath(*(np.array([v]) for v in (*place, 1e6 / 3600, 15.0, 1.0)), step_h=1.0)


def is_stopped(start, sun, to_right, spacing_m, canopy, gradient):
    """Whether rays meet a box of any row on their way up, by steps along them, (n,).

    The middle of a row lies where the place across is a whole number of spacings.
    """
    slope = np.array([gradient[0], gradient[1]])
    climb = sun[2] - sun[:2] @ slope
    across = abs(sun @ to_right)
    length = canopy.height_m / climb
    steps = int(np.ceil(max(across * length / 0.003, length / 0.01, 500)))
    far = (np.arange(steps) + 0.5) / steps * length
    found = np.zeros(len(start), dtype=bool)
    for k, place in enumerate(start):
        ray = place + far[:, None] * sun
        above = ray[:, 2] - ray[:, :2] @ slope
        v = ray @ to_right
        v -= np.round(v / spacing_m) * spacing_m
        in_box = (np.abs(v) < canopy.width_m / 2 - 1e-9) & (above > canopy.foot_m)
        found[k] = (in_box & (above < canopy.height_m)).any()
    return found


def on_the_ground(v, to_right, gradient, height_m):
    """Places so far to the right of row 0's middle, so high above the ground, (n, 3)."""
    xy = v * to_right[:2]
    z = xy @ np.array(gradient) + height_m
    return np.column_stack([np.broadcast_to(xy, (len(z), 2)), z])


CASES = [
    # zenith, azimuth, bearing, spacing, canopy, gradient
    (50, 120, 10, 2.4, CANOPY, LEVEL),
    (75, 250, 160, 2.0, CANOPY, LEVEL),
    (80, 95, 5, 2.4, Canopy(2.2, 1.2, 0.3), LEVEL),  # a long way under the foot
    (82, 300, 215, 1.5, Canopy(2.0, 0.5, 0.6), LEVEL),
    (60, 100, 350, 2.4, CANOPY, (0.0, 0.25)),  # along the rows alone, nearly
    (60, 100, 0, 2.4, CANOPY, (0.3, 0.0)),  # uphill towards the sun
    (70, 100, 0, 2.4, CANOPY, (-0.3, 0.0)),  # downhill towards it
    (55, 230, 75, 1.8, Canopy(1.4, 0.3, 0.5), (0.15, -0.2)),
    (72, 40, 300, 3.0, Canopy(3.0, 0.0, 0.05), (-0.1, 0.12)),
    (30, 200, 45, 1.2, Canopy(2.4, 0.6, 0.8), (0.2, 0.2)),
    (65, 91, 90, 2.4, CANOPY, (0.05, 0.1)),  # hardly across the rows
]


@pytest.mark.parametrize(("zenith", "azimuth", "bearing", "spacing", "canopy", "gradient"), CASES)
def test_faces_are_lit_where_rays_come_through(zenith, azimuth, bearing, spacing, canopy, gradient):
    path = one_sun(zenith, azimuth)
    sun = np.array([path.east[0], path.north[0], path.up[0]])
    turn = np.radians(bearing)
    to_right = np.array([np.cos(turn), -np.sin(turn), 0.0])
    side, other = ("right", "left") if sun @ to_right > 0 else ("left", "right")
    outward = to_right * (1 if side == "right" else -1)
    tall_m = canopy.height_m - canopy.foot_m
    heights = canopy.foot_m + (np.arange(300) + 0.5) / 300 * tall_m
    start = on_the_ground(canopy.width_m / 2, outward, gradient, heights) + 1e-9 * outward
    lit = 1 - is_stopped(start, sun, to_right, spacing, canopy, gradient).mean()

    found = face_sun(path, bearing, spacing, canopy, Season(), gradient)
    assert found[f"sun_{side}_h"] == pytest.approx(lit, abs=0.005)  # 300 heights, 3 mm steps
    assert found[f"sun_{side}_mj_m2"] == pytest.approx(lit * (sun @ outward), abs=0.005)
    assert found[f"sun_{other}_h"] == found[f"sun_{other}_mj_m2"] == 0


@pytest.mark.parametrize(("zenith", "azimuth", "bearing", "spacing", "canopy", "gradient"), CASES)
def test_light_caught_is_what_does_not_reach_the_ground(
    zenith, azimuth, bearing, spacing, canopy, gradient
):
    path = one_sun(zenith, azimuth)
    sun = np.array([path.east[0], path.north[0], path.up[0]])
    turn = np.radians(bearing)
    to_right = np.array([np.cos(turn), -np.sin(turn), 0.0])
    places = (np.arange(400) + 0.5) / 400 * spacing
    start = np.concatenate([on_the_ground(v, to_right, gradient, np.array([1e-9])) for v in places])
    stopped = is_stopped(start, sun, to_right, spacing, canopy, gradient).mean()

    found = face_sun(path, bearing, spacing, canopy, Season(), gradient)
    assert found["sun_share_pct"] == pytest.approx(100 * stopped, abs=0.8)  # 400 places, 3 mm steps


def test_cases_hold_full_partial_and_no_shade():
    lit = []
    for zenith, azimuth, bearing, spacing, canopy, gradient in CASES:
        found = face_sun(one_sun(zenith, azimuth), bearing, spacing, canopy, Season(), gradient)
        lit.append(found["sun_left_h"][0] + found["sun_right_h"][0])
    lit = np.array(lit)
    assert (lit == 1).any()
    assert ((lit > 0.05) & (lit < 0.9)).sum() >= 5


def test_a_sun_below_the_slope_gives_nothing():
    low = one_sun(80, 90)
    faces_east = face_sun(low, 0, 2.4, CANOPY, Season(), (-0.3, 0.0))
    faces_west = face_sun(low, 0, 2.4, CANOPY, Season(), (0.3, 0.0))
    assert faces_east["sun_right_mj_m2"] > 0.1
    assert all(faces_west[n] == 0 for n in faces_west if n != "sun_share_pct")
    assert np.isnan(faces_west["sun_share_pct"])


def test_the_polar_night_has_no_hours_and_no_share():
    found = face_sun(sun_path(80, 20, Season(12, 12)), [0, 90], 2.4, CANOPY, Season(12, 12))
    assert np.array_equal(found["sun_left_h"], [0, 0])
    assert np.isnan(found["sun_share_pct"]).all()


@pytest.mark.parametrize("gradient", [LEVEL, (0.1, -0.15)])
def test_rows_turned_about_swap_left_and_right(gradient):
    path = sun_path(43.2, 17.1, Season())
    bearings = np.arange(0.0, 180.0, 7.5)
    found = face_sun(path, bearings, 2.4, CANOPY, Season(), gradient)
    about = face_sun(path, bearings + 180, 2.4, CANOPY, Season(), gradient)
    assert set(found) == {n for n, m in MEASURES.items() if m.needs == "sun"}
    for name, values in found.items():
        assert about[SWAPPED.get(name, name)] == pytest.approx(values, rel=1e-9)


def test_the_right_face_of_rows_to_the_north_looks_east():
    path = sun_path(43.2, 17.1, Season())
    morning = path.hour_h < 12
    early = SunPath(*(getattr(path, n)[morning] for n in list(vars(path))[:6]), path.step_h)
    found = face_sun(early, [0, 180], 2.4, CANOPY, Season())
    # The sun passes over the rows at noon; what is over is of the last sample's half step.
    assert found["sun_left_h"] == pytest.approx([0, found["sun_right_h"][0]], abs=0.01)
    assert found["sun_right_h"][0] > 4


def test_north_south_rows_on_level_ground_mirror_morning_and_afternoon():
    found = face_sun(sun_path(-33.4, 19.6, Season()), 0, 2.4, CANOPY, Season())
    # The sun climbs or sinks a little within a day, so the halves are not quite alike.
    assert found["sun_left_mj_m2"] == pytest.approx(found["sun_right_mj_m2"], rel=0.003)
    assert found["sun_left_h"] == pytest.approx(found["sun_right_h"], rel=0.005)
    assert found["sun_morning_mj_m2"] == pytest.approx(found["sun_right_mj_m2"], rel=1e-3)
    assert found["sun_afternoon_mj_m2"] == pytest.approx(found["sun_left_mj_m2"], rel=1e-3)


def test_a_slope_is_lit_as_its_mirror_image_is():
    path = sun_path(43.2, 17.1, Season())
    mirrored = replace(path, north=-path.north)
    bearings = np.arange(0.0, 180.0, 7.5)
    found = face_sun(path, bearings, 2.4, CANOPY, Season(), (0.12, 0.2))
    other = face_sun(mirrored, 180 - bearings, 2.4, CANOPY, Season(), (0.12, -0.2))
    for name, values in found.items():
        assert other[SWAPPED.get(name, name)] == pytest.approx(values, rel=1e-9)


def test_the_southern_season_is_the_northern_one_in_the_mirror():
    north = face_sun(sun_path(35, 20, Season()), [0, 45, 90], 2.4, CANOPY, Season())
    south = face_sun(sun_path(-35, 20, Season()), [180, 135, 90], 2.4, CANOPY, Season())
    for name, values in north.items():
        # Six months on, dates and the sun's height agree to some days and tenths of a degree.
        assert south[SWAPPED.get(name, name)] == pytest.approx(values, rel=0.06)


@pytest.mark.parametrize(("latitude", "first", "last"), [(-33.4, 10, 4), (43.2, 4, 10)])
def test_the_season_follows_the_hemisphere(latitude, first, last):
    usual = sun_path(latitude, 19.6, Season())
    said = sun_path(latitude, 19.6, Season(first, last))
    other = sun_path(latitude, 19.6, Season(last, first))
    assert np.array_equal(usual.up, said.up)
    assert usual.weight_h.sum() > other.weight_h.sum() + 1  # long days, not short ones
    assert usual.up.max() > other.up.max()


def test_hours_are_solar_time():
    for latitude, longitude in ((-33.4, 19.6), (43.2, -75.0)):
        path = sun_path(latitude, longitude, Season())
        decided = np.abs(path.hour_h - 12) > 1 / 60
        assert np.array_equal((path.east > 0)[decided], (path.hour_h < 12)[decided])


def test_a_day_at_the_equator_has_twelve_hours_of_sun():
    # Refraction of 34' at each end of the day makes it 12 h 5 min (from memory).
    for season in (Season(), Season(12, 12)):
        assert sun_path(0.0, 20.0, season).weight_h.sum() == pytest.approx(12.08, abs=0.05)


def test_parts_of_the_day_add_up():
    path = sun_path(43.2, 17.1, Season())
    bearings = np.arange(0.0, 180.0, 15.0)

    def measures(hot_from_h, hot_to_h):
        return face_sun(
            path, bearings, 2.4, CANOPY, Season(hot_from_h=hot_from_h, hot_to_h=hot_to_h)
        )

    day = measures(0, 24)
    both = day["sun_left_mj_m2"] + day["sun_right_mj_m2"]
    assert day["sun_morning_mj_m2"] + day["sun_afternoon_mj_m2"] == pytest.approx(both)
    larger = np.maximum(day["sun_left_mj_m2"], day["sun_right_mj_m2"])
    assert day["sun_hot_mj_m2"] == pytest.approx(larger)
    # After noon rows to the north have the sun on one face alone, and hours need be no whole steps.
    parts = [measures(*h)["sun_hot_mj_m2"][0] for h in ((12.5, 14.02), (14.02, 17), (12.5, 17))]
    assert parts[0] + parts[1] == pytest.approx(parts[2], rel=1e-9)


def test_the_hot_face_is_one_face_for_the_whole_season():
    path = one_sun(50, 100)  # an hour on the east face, and one on the west face
    west = one_sun(50, 260)
    names = list(vars(path))[:6]
    both = SunPath(*(np.concatenate([getattr(path, n), getattr(west, n)]) for n in names), 1.0)
    one = face_sun(path, 0, 2.4, CANOPY, Season())["sun_hot_mj_m2"]
    assert one > 0.1
    assert face_sun(both, 0, 2.4, CANOPY, Season())["sun_hot_mj_m2"] == pytest.approx(one)


@pytest.mark.parametrize("latitude", [-33.4, 12.0, 47.0])
def test_four_days_of_a_month_stand_for_every_day(latitude):
    season, bearings = Season(), np.arange(0.0, 180.0, 15.0)
    months = season.months(latitude)
    few = face_sun(path_of_days(latitude, 19.6, months), bearings, 2.4, CANOPY, season)
    all_days = path_of_days(latitude, 19.6, months, days_a_month=31)
    every = face_sun(all_days, bearings, 2.4, CANOPY, season)
    for name, values in every.items():
        allowed = 0.006 if name.endswith("_h") else 0.001
        assert np.abs(few[name] - values).max() < allowed * values.max(), name


def test_bearings_in_groups_are_as_each_for_itself(monkeypatch):
    path = sun_path(43.2, 17.1, Season())
    bearings = np.arange(0.0, 180.0, 20.0)
    each = [face_sun(path, b, 2.4, CANOPY, Season(), (0.1, 0.0)) for b in bearings]
    monkeypatch.setattr(sun_module, "_VALUES_AT_ONCE", 4 * len(path.up))
    found = face_sun(path, bearings, 2.4, CANOPY, Season(), (0.1, 0.0))
    for name, values in found.items():
        assert values.shape == (9,)
        assert values == pytest.approx([e[name][0] for e in each], rel=1e-12)


def test_neighbouring_parcels_share_positions():
    one = sun_path(-33.41, 19.62, Season(), 210)
    assert sun_path(-33.38, 19.58, Season(hot_from_h=14), 190) is one
    assert sun_path(-33.5, 19.62, Season(), 210) is not one
    with pytest.raises(ValueError, match="read-only"):
        one.up[0] = 0


def test_a_hedge_as_wide_as_its_rows_is_refused():
    with pytest.raises(ValueError, match="width_m"):
        face_sun(one_sun(50, 100), 0, 2.0, Canopy(width_m=2.0), Season())


def test_an_unknown_slope_is_refused_not_taken_for_a_dark_one():
    with pytest.raises(ValueError, match="gradient"):
        face_sun(one_sun(50, 100), 0, 2.4, CANOPY, Season(), (np.nan, 0.0))
