"""The sun's place, its light and the shade between rows, against printed figures and pvlib."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from pvlib.clearsky import simplified_solis
from pvlib.shading import shaded_fraction1d
from pvlib.solarposition import spa_python

from layoutdesk.core.compare.sun import SunPath, face_sun, path_of_days, sun_path, sun_positions
from layoutdesk.core.model import Canopy, Season

# Reda and Andreas, Solar position algorithm for solar radiation applications, NREL TP-560-34302,
# revised 2008, table A5.1: 17 October 2003, 12:30:30 at UTC-7.
NREL = {
    "latitude_deg": 39.742476,
    "longitude_deg": -105.1786,
    "height_m": 1830.14,
    "pressure_hpa": 820.0,
    "temperature_c": 11.0,
    "delta_t_s": 67.0,
}


def test_the_printed_example_of_the_solar_position_algorithm():
    when = np.datetime64("2003-10-17T19:30:30").astype("datetime64[s]").astype(float)
    zenith, azimuth, _ = sun_positions(when, **NREL)
    assert zenith == pytest.approx(50.11162, abs=5e-6)
    assert azimuth == pytest.approx(194.34024, abs=5e-6)


def test_positions_are_those_of_pvlib_with_its_tables():
    times = pd.date_range("2001-01-01", "2001-12-31", freq="7h", tz="UTC")
    unix = times.as_unit("s").asi8
    zenith, azimuth, equation = sun_positions(unix, -33.4, 19.6, 210.0, 990.0, 15.0, 64.1)
    table = spa_python(times, -33.4, 19.6, 210.0, 99_000.0, 15.0, delta_t=64.1)
    assert np.array_equal(zenith, table["apparent_zenith"])
    assert np.array_equal(azimuth, table["azimuth"])
    assert np.array_equal(equation, table["equation_of_time"])


def test_light_at_its_height_is_that_of_the_clear_sky_model():
    path = sun_path(43.2, 17.1, Season())
    seen_deg = np.degrees(np.arcsin(path.up))
    # 0.1 and 1 cm are the model's usual aerosol and water (pvlib).
    assert path.dni_w_m2 == pytest.approx(simplified_solis(seen_deg)["dni"], rel=1e-6)
    assert 850 < path.dni_w_m2.max() < 1050  # a clear noon in summer, common practice
    higher = sun_path(43.2, 17.1, Season(), height_m=1500)
    seen_deg = np.degrees(np.arcsin(higher.up))
    # 84,556 Pa at 1,500 m: U.S. Standard Atmosphere, 1976, table I.
    light = simplified_solis(seen_deg, pressure=84_556.0)["dni"]
    assert higher.dni_w_m2 == pytest.approx(light, rel=1e-4)
    assert higher.dni_w_m2.max() > 1.01 * path.dni_w_m2.max()


def shaded(zenith_deg, azimuth_deg, bearing_deg, height_m, spacing_m, slope_deg=0.0):
    """Share of a thin row's sunny face in the shade; the ground falls to the right by a slope."""
    zenith, azimuth = np.radians(zenith_deg), np.radians(azimuth_deg)
    place = (np.sin(zenith) * np.sin(azimuth), np.sin(zenith) * np.cos(azimuth), np.cos(zenith))
    path = SunPath(*(np.array([v]) for v in (*place, 900.0, 15.0, 1.0)), step_h=1.0)
    turn, fall = np.radians(bearing_deg), np.tan(np.radians(slope_deg))
    gradient = (-fall * np.cos(turn), fall * np.sin(turn))
    canopy = Canopy(height_m=height_m, foot_m=0.0, width_m=0.0)
    found = face_sun(path, bearing_deg, spacing_m, canopy, Season(), gradient)
    return 1 - found["sun_left_h"][0] - found["sun_right_h"][0]


@pytest.mark.parametrize(
    ("zenith", "azimuth", "bearing", "slope", "fraction"),
    [
        # pvlib 0.16, shaded_fraction1d, rows 2 m tall and 2.5 m apart. The first by hand too: the
        # shadow is 3 m long across the rows, so (3.0 - 2.5) / 3.0 of the face is dark.
        (60, 120, 0, 0, 0.166667),
        (75, 250, 20, 0, 0.562771),
        (70, 100, 0, 0, 0.538019),
        (70, 90, 0, 5, 0.435676),
        (70, 270, 0, 5, 0.654398),
    ],
)
def test_shade_between_rows_as_told(zenith, azimuth, bearing, slope, fraction):
    assert shaded(zenith, azimuth, bearing, 2.0, 2.5, slope) == pytest.approx(fraction, abs=1e-6)


@pytest.mark.parametrize("slope", [-12.0, 0.0, 7.0])
@pytest.mark.parametrize("spacing", [1.5, 2.5, 3.6])
def test_shade_between_rows_over_a_grid_of_suns(spacing, slope):
    partly = 0
    for bearing in (0.0, 33.0, 90.0, 145.0):
        for zenith in (15.0, 40.0, 55.0, 65.0, 75.0, 84.0):
            for azimuth in np.arange(1.0, 360.0, 21.0):
                to_right = np.sin(np.radians(azimuth - bearing)) > 0
                wanted = shaded_fraction1d(
                    zenith,
                    azimuth,
                    axis_azimuth=bearing,
                    shaded_row_rotation=90 if to_right else -90,
                    collector_width=2.0,
                    pitch=spacing,
                    cross_axis_slope=slope,
                )
                found = shaded(zenith, azimuth, bearing, 2.0, spacing, slope)
                assert found == pytest.approx(wanted, abs=1e-9), (bearing, zenith, azimuth)
                partly += 0 < wanted < 1
    assert partly > 40


LATITUDES = (12, 20, 30, 34, 43)


def test_tall_close_rows_to_the_north_catch_most_from_12_to_43_degrees():
    """Smart, Sunlight interception by vineyards, Am. J. Enol. Vitic. 24:141, 1973: the direction."""
    tall, low = (2.0, Canopy(2.2, 0.6, 0.3)), (3.6, Canopy(1.2, 0.6, 0.3))
    caught = {}
    for latitude in LATITUDES:
        path = path_of_days(latitude, 20.0, tuple(range(1, 13)))
        for name, (spacing, canopy) in (("tall", tall), ("low", low)):
            north_south, east_west = face_sun(path, [0, 90], spacing, canopy, Season())[
                "sun_share_pct"
            ]
            assert north_south > east_west + 1
            caught[name, latitude] = north_south
    for latitude in LATITUDES:
        assert caught["tall", latitude] > 2 * caught["low", latitude]
    high = [caught["tall", latitude] for latitude in LATITUDES]
    assert max(high) - min(high) < 10  # much the same at all of them
