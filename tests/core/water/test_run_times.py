"""Hours of sets: water balance by hand, seasons of both hemispheres, what is assumed and said."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model.water import Climate, Demand, Drip, Source, Water
from layoutdesk.core.water.run_times import run_time_findings, run_times, shaded_share_pct
from tests.core.water.hand_designs import design_of, plan_of

EVEN = Climate((5.0,) * 12, (31.0,) * 12, "a station")
SPRING = datetime.date(2027, 4, 1)


def timed(demand=None, climate=EVEN, latitude_deg=45.0, day=None, drip=None, **plan):
    plans = [plan_of(**plan)]
    water = Water(climate=climate, demand=demand or Demand(planting=SPRING))
    water = water.with_drip("B1", drip or Drip(exponent=0.0))
    design = design_of(plans, water)
    return run_times(design, plans, latitude_deg, day), design


def test_a_week_of_full_canopy_by_hand():
    times, _ = timed()
    # Third summer, the canopy full from 30 June to 8 August: 5 mm × 7 d × 0.017 × 30 %; rain of half
    # of 7 mm; over 0.9; on 2.5 × 1.5 m; by 2 L/h.
    week = int(np.flatnonzero(times.weeks == np.datetime64("2029-07-12"))[0])
    need_mm = (5 * 7 * 0.017 * 30 - 0.5 * 7) / 0.9
    assert times.shaded_pct[week] == 30
    assert times.et0_mm[week] == pytest.approx(35.0)
    assert times.rain_mm[week] == pytest.approx(3.5)
    assert times.need_mm[week] == pytest.approx(need_mm)
    assert times.vine_l[week, 0] == pytest.approx(need_mm * 2.5 * 1.5)
    assert times.hours[week, 0] == pytest.approx(need_mm * 2.5 * 1.5 / 2.0)
    assert times.most_hours_a_day == pytest.approx(times.hours.max() / times.days_a_week)
    assert times.year[week] == 3


def test_weeks_cover_three_years_without_a_gap():
    times, _ = timed()
    assert times.weeks[0] == np.datetime64(SPRING)
    assert set(np.diff(times.weeks).astype(int)) == {7}
    assert times.weeks[-1] < np.datetime64("2030-04-01") <= times.weeks[-1] + 7
    assert np.bincount(times.year)[1:].tolist() == [53, 52, 52]


def test_a_week_across_two_months_has_days_of_both():
    climate = Climate(tuple(float(m) for m in range(1, 13)), ())
    times, _ = timed(climate=climate)
    # 29 April to 5 May 2027: two days of 4 mm and five of 5 mm.
    week = int(np.flatnonzero(times.weeks == np.datetime64("2027-04-29"))[0])
    assert times.et0_mm[week] == pytest.approx(2 * 4 + 5 * 5)
    assert "No rain is counted" in times.statement


def test_the_wetting_run_and_the_first_watering_by_hand():
    demand = Demand(
        planting=SPRING, soil="sand", wet_depth_m=0.5, wet_width_m=0.8, dry_share_pct=40
    )
    times, _ = timed(demand, drip=Drip(emitter_l_h=4.0, emitters_per_vine=2, exponent=0.0))
    # 85 mm/m of sand × 0.5 m × 40 % on 0.8 × 1.5 m, over 0.9; two emitters of 4 L/h.
    assert times.wetting_l[0] == pytest.approx(85 * 0.5 * 0.4 * 0.8 * 1.5 / 0.9)
    assert times.wetting_h[0] == pytest.approx(times.wetting_l[0] / 8)
    assert times.first_h[0] == pytest.approx(9.5 / 8)
    # A strip is no wider than rows are apart.
    wide, _ = timed(Demand(wet_width_m=6.0, efficiency_pct=100.0))
    whole, _ = timed(Demand(wet_width_m=2.5, efficiency_pct=100.0))
    assert wide.wetting_l == pytest.approx(whole.wetting_l)


@pytest.mark.parametrize("south", [False, True])
def test_shade_follows_the_seasons(south):
    spring = datetime.date(2027, 10, 1) if south else SPRING
    for year, (before, peak) in enumerate([(1.0, 5.0), (0.0, 15.0), (0.0, 30.0)]):
        first = np.datetime64(spring.replace(year=spring.year + year))
        shade = shaded_share_pct(first + np.arange(365), spring, Demand(), south)
        assert shade[0] == pytest.approx(before)
        assert shade[45] == pytest.approx((before + peak) / 2)
        assert shade[90:131] == pytest.approx(peak)
        assert shade[170] == pytest.approx(peak / 2)
        assert (shade[210:] == 0).all()


def test_vines_planted_in_summer_or_winter():
    summer = datetime.date(2027, 7, 15)
    shade = shaded_share_pct(np.datetime64(summer) + np.arange(365), summer, Demand(), False)
    assert shade[0] == pytest.approx(1.0)  # a fifth of the first year's 5 %
    assert shade.max() == pytest.approx(15.0)  # the next season is the second
    winter = datetime.date(2027, 12, 1)
    shade = shaded_share_pct(np.datetime64(winter) + np.arange(365), winter, Demand(), False)
    assert (shade[:120] == 0).all()
    assert shade.max() == 5.0  # the next season is the first


def test_planting_is_in_spring_where_nobody_said_when():
    day = datetime.date(2031, 8, 9)
    north, _ = timed(Demand(), day=day)
    south, _ = timed(Demand(), latitude_deg=-35.0, day=day)
    assert north.weeks[0] == np.datetime64("2032-04-01")  # the spring to come
    assert south.weeks[0] == np.datetime64("2031-10-01")
    assert "1 October 2031" in south.statement
    example, _ = timed(Demand())
    assert "an example year" in example.statement
    assert "Planting is taken" not in timed()[0].statement


def test_an_assumed_climate_is_said_and_found():
    times, design = timed(climate=Climate())
    assert times.is_assumed
    assert "assumed from the latitude alone" in times.statement
    assert (times.rain_mm == 0).all()
    assert run_time_findings(times, design.water)[0].code == "climate-assumed"
    known, design = timed()
    assert not known.is_assumed
    assert "a station" in known.statement
    assert "climate-assumed" not in [f.code for f in run_time_findings(known, design.water)]


def test_days_that_are_too_short_are_found():
    times, design = timed()
    limit = times.most_hours_a_day
    water = replace(design.water, source=Source(hours_a_day=limit - 0.01))
    found = [f.code for f in run_time_findings(times, water)]
    assert "watering-too-long" in found
    enough = replace(water, source=Source(hours_a_day=min(limit + 0.01, 24.0)))
    assert "watering-too-long" not in [f.code for f in run_time_findings(times, enough)]
    long = next(f for f in run_time_findings(times, water) if f.code == "wetting-takes-days")
    begin = int(np.ceil(times.wetting_h.sum() / (limit - 0.01)))
    assert f"begin {begin} days before" in long.message


def test_a_set_that_gives_nothing_has_no_hours():
    plans = [plan_of()]
    water = Water(climate=EVEN, demand=Demand(planting=SPRING))
    times = run_times(design_of(plans, water, grade=0.9, head_m=1.0), plans, 45.0)
    dry = run_times(design_of(plans, water, head_m=-5.0), plans, 45.0)
    assert np.isfinite(times.hours).all()
    assert np.isnan(dry.hours).all()
    assert dry.most_hours_a_day == 0


def test_a_site_without_vines_has_no_hours():
    plans = [plan_of(width_m=4.0, length_m=9.0)]
    times = run_times(design_of(plans, Water()), plans, 45.0)
    assert times.hours.shape == (157, 0)
    assert times.most_hours_a_day == 0
