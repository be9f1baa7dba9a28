"""Evapotranspiration against the printed examples of FAO-56, and against an independent package."""

from __future__ import annotations

import numpy as np
import pytest

from layoutdesk.core.water import evapotranspiration as et
from layoutdesk.core.water.climate import assumed_et0_mm_day
from layoutdesk.core.water.soil_water import litres_over_area

# Allen, Pereira, Raes and Smith, Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, 1998
# (printed figures from memory).


def near(printed: float, decimals: int):
    """Equal to a printed figure as far as it is printed: FAO carried rounded figures along."""
    return pytest.approx(printed, abs=1.01 * 10**-decimals)


def test_example_17_bangkok_in_april():
    latitude, day, low, high, vapour = 13 + 44 / 60, 105, 25.6, 34.8, 2.85
    assert et.psychrometric_kpa_c(2.0) == near(0.0674, 4)
    assert et.saturation_slope_kpa_c(30.2) == near(0.246, 3)
    assert et.mean_saturation_kpa(low, high) == near(4.42, 2)
    assert et.extraterrestrial_mj_m2(latitude, day) == near(38.06, 2)
    assert et.daylight_h(latitude, day) == near(12.31, 2)
    solar = et.solar_from_sunshine_mj_m2(8.5, latitude, day)
    clear = et.clear_sky_mj_m2(2.0, latitude, day)
    assert solar == near(22.65, 2)
    assert clear == near(28.54, 2)
    assert et.net_longwave_mj_m2(low, high, vapour, solar, clear) == near(3.11, 2)
    net = et.net_radiation_mj_m2(low, high, vapour, solar, clear)
    assert net == near(14.33, 2)
    # March had 29.2 °C: eq. 44, 0.14 (30.2 − 29.2).
    found = et.penman_monteith_mm(30.2, low, high, vapour, 2.0, net, 0.14, 2.0)
    assert found == near(5.72, 2)


def test_example_18_uccle_on_6_july():
    latitude, day, low, high = 50.8, 187, 12.3, 21.5
    assert et.air_pressure_kpa(100.0) == near(100.1, 1)
    assert et.psychrometric_kpa_c(100.0) == near(0.0666, 4)
    assert et.saturation_slope_kpa_c(16.9) == near(0.122, 3)
    assert et.mean_saturation_kpa(low, high) == near(1.997, 3)
    vapour = et.vapour_kpa(low, high, rh_min_pct=63.0, rh_max_pct=84.0)
    assert vapour == near(1.409, 3)
    assert et.extraterrestrial_mj_m2(latitude, day) == near(41.09, 2)
    assert et.daylight_h(latitude, day) == near(16.1, 1)
    solar = et.solar_from_sunshine_mj_m2(9.25, latitude, day)
    clear = et.clear_sky_mj_m2(100.0, latitude, day)
    assert solar == near(22.07, 2)
    assert clear == near(30.90, 2)
    assert et.net_longwave_mj_m2(low, high, vapour, solar, clear) == near(3.71, 2)
    net = et.net_radiation_mj_m2(low, high, vapour, solar, clear)
    assert net == near(13.28, 2)
    wind = et.wind_at_2m_m_s(10 / 3.6, 10.0)  # 10 km/h
    assert wind == near(2.078, 3)
    found = et.penman_monteith_mm(16.9, low, high, vapour, wind, net, 0.0, 100.0)
    assert found == near(3.88, 2)


def test_example_20_lyon_in_july_from_temperatures_alone():
    latitude, day, low, high = 45 + 43 / 60, 196, 14.8, 26.6
    above = et.extraterrestrial_mj_m2(latitude, day)
    assert above == near(40.55, 2)
    vapour = et.vapour_kpa(low, high)
    assert vapour == near(1.68, 2)
    solar = 0.16 * np.sqrt(high - low) * above  # eq. 50, inland
    assert solar == near(22.29, 2)
    net = et.net_radiation_mj_m2(low, high, vapour, solar, et.clear_sky_mj_m2(200.0, latitude, day))
    found = et.penman_monteith_mm(20.7, low, high, vapour, 2.0, net, 0.0, 200.0)
    assert found == near(4.56, 2)
    assert et.hargreaves_mm(low, high, above) == near(5.03, 2)


def test_smaller_printed_examples():
    assert et.air_pressure_kpa(1800.0) == near(81.8, 1)  # example 2
    assert et.psychrometric_kpa_c(1800.0) == near(0.054, 3)
    assert et.mean_saturation_kpa(15.0, 24.5) == near(2.39, 2)  # example 3
    assert et.vapour_kpa(18.0, 25.0, rh_min_pct=54.0, rh_max_pct=82.0) == near(1.70, 2)  # 5
    # Example 8: 3 September at 20° S; 9: its hours of daylight.
    nearness, declination, sunset = et.sun_of_day(-20.0, 246)
    assert nearness == near(0.985, 3)
    assert declination == near(0.120, 3)
    assert sunset == near(1.527, 3)
    assert et.extraterrestrial_mj_m2(-20.0, 246) == near(32.2, 1)
    assert et.daylight_h(-20.0, 246) == near(11.7, 1)
    # Examples 10 to 12: Rio de Janeiro in May, 220 hours of sun.
    latitude = -(22 + 54 / 60)
    solar = et.solar_from_sunshine_mj_m2(7.1, latitude, 135)
    assert solar == near(14.5, 1)
    clear = et.clear_sky_mj_m2(0.0, latitude, 135)
    assert et.net_longwave_mj_m2(19.1, 25.1, 2.1, solar, clear) == near(3.5, 1)
    assert et.net_radiation_mj_m2(19.1, 25.1, 2.1, solar, clear) == near(7.6, 1)
    # Example 13: Algiers in April, with 14.1 °C in March, 16.1 and 18.8 °C after it.
    months = np.full(12, 16.1)
    months[2], months[4] = 14.1, 18.8
    assert et.soil_heat_of_months_mj_m2(months)[3] == near(0.33, 2)
    assert et.wind_at_2m_m_s(3.2, 10.0) == near(2.4, 1)  # 14


def test_a_thousand_days_as_an_independent_package_has_them():
    refet = pytest.importorskip("refet")
    some = np.random.default_rng(2)
    n, height = 1000, 340.0
    latitude = some.uniform(-58, 58, n)
    day = some.integers(1, 366, n)
    low = some.uniform(-5, 24, n)
    high = low + some.uniform(2, 18, n)
    vapour = et.saturation_kpa(low - some.uniform(0, 6, n))
    above = et.extraterrestrial_mj_m2(latitude, day)
    solar = above * some.uniform(0.2, 0.75, n)
    wind = some.uniform(0.3, 6, n)
    clear = et.clear_sky_mj_m2(height, latitude, day)
    net = et.net_radiation_mj_m2(low, high, vapour, solar, clear)
    found = et.penman_monteith_mm((low + high) / 2, low, high, vapour, wind, net, 0.0, height)
    # ASCE's short reference is FAO's; it takes Rs/Rso as 0.3 at least, which we leave to the weather.
    clouded = solar / clear > 0.3
    other = refet.Daily(
        low, high, solar, wind, 2.0, height, latitude, day, ea=vapour, rso_type="simple"
    )
    # Its solar constant is 4.92 MJ/(m² h) and its Stefan–Boltzmann constant 4.901e-9.
    assert found[clouded] == pytest.approx(
        np.maximum(other.eto(), 0.0)[clouded], rel=2e-3, abs=5e-3
    )
    assert clouded.sum() > 800


def test_water_of_a_depth_over_a_vines_ground():
    # 10.2 in over 8 × 6 ft are 305 gallons a vine.
    litres = litres_over_area(10.2 * 25.4, 8 * 6 * 0.3048**2)
    assert litres / 3.785411784 == pytest.approx(305.0, abs=0.5)


def test_an_assumed_climate_is_summers_in_summer_and_winters_in_winter():
    north, south = assumed_et0_mm_day(45.0), assumed_et0_mm_day(-35.0)
    assert north.argmax() == 6
    assert north.argmin() == 11
    assert south.argmin() in (5, 6)
    assert south.argmax() in (0, 11)
    # July in lowland places near 45° N has 5 to 6 mm a day, January less than 1 (common practice).
    assert 4.5 < north[6] < 6.5
    assert north[0] < 1.0
    assert (assumed_et0_mm_day(68.0) >= 0).all()
