"""Days of planting: every assigned vine once, rows finished, days off kept, trays and water where they belong."""

from __future__ import annotations

import datetime
import itertools
import math
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import lay_rows
from layoutdesk.core.model import Block, RowRules
from layoutdesk.core.model.planting import TASKS, Crew, Lot, Plant, Planting
from layoutdesk.core.planting.assigned import Assigned
from layoutdesk.core.planting.daylight import daylight_h
from layoutdesk.core.planting.days import plan_days, vines_a_day
from layoutdesk.core.water import evapotranspiration

RULES = RowRules(
    bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.5, alley_every_m=40.0, alley_width_m=6
)
PLANS = tuple(
    lay_rows(Block(name, outline, RULES))
    for name, outline in (
        ("B1", shapely.Polygon([(0, 0), (70, 0), (70, 100), (25, 130)])),
        ("B2", shapely.box(100, 0, 140, 60)),
    )
)
LONG_ROWS = (lay_rows(Block("B3", shapely.box(0, 0, 60, 115), replace(RULES, alley_every_m=0.0))),)
"""66 vines each: four are less than nine tenths of a day, five are more than one."""
SEGMENTS = sum(p.n_segments for p in PLANS)
VINES = sum(p.n_vines for p in PLANS)
MONDAY = datetime.date(2027, 4, 5)
RED, WHITE = Plant("Saperavi", "S 1", "5BB"), Plant("Furmint")
CREW = Crew(people=2, hours_a_day=5.0)
"""300 vines a day."""


def lot(name: str, plant: Plant, **said) -> Lot:
    usual = {"tray": 25, "ordered": 9000, "delivered": 9000, "tags_recorded": True}
    return Lot(name, plant, **{**usual, **said})


LOTS = (lot("A", RED), lot("P", WHITE, tray=40))


def site(lots=LOTS, crew=CREW, plans=PLANS) -> Assigned:
    """Lot A at all vines but every ninth of a row, which are of lot P; the last row of all has no plant."""
    before = np.cumsum([0, *(p.n_segments for p in plans)])
    segment = np.concatenate([p.vines.segment + b for p, b in zip(plans, before, strict=False)])
    index = np.concatenate([p.vines.index for p in plans])
    which = (index % 9 == 0).astype(np.int16)
    which[segment == segment.max()] = -1
    plants = tuple(dict.fromkeys(one.plant for one in lots))
    return Assigned(
        plans, Planting(lots=lots, crew=crew), plants, segment.astype(np.int32), index.astype(np.int32),
        which, which.copy(), which,
    )  # fmt: skip


def planned(found=None, begins=MONDAY, latitude=45.0, **more):
    return plan_days(found or site(), begins, latitude, **more)


def vines_of_run(found: Assigned, run, done=None) -> np.ndarray:
    """Vines of a run, found vine by vine from what it says."""
    segment = run.segment + sum(p.n_segments for p in found.plans[: run.plan])
    mine = (found.segment == segment) & (found.index >= run.first) & (found.index <= run.last)
    mine &= (found.lot == run.lot) & (found.plant == run.plant)
    return np.flatnonzero(mine if done is None else mine & ~done)


def codes(days) -> list[str]:
    return sorted({f.code for f in days.findings})


def test_every_assigned_vine_has_one_day_and_none_that_stands_has():
    found = site()
    done = np.arange(VINES) % 7 == 3
    days = planned(found, done=done)
    runs = [r for d in days.days for r in d.runs]
    told = np.concatenate([vines_of_run(found, r, done) for r in runs])
    assert sorted(told.tolist()) == np.flatnonzero((found.plant >= 0) & ~done).tolist()
    assert [r.vines for r in runs] == [len(vines_of_run(found, r, done)) for r in runs]
    assert days.vines == len(told) == sum(d.vines for d in days.days)
    assert days.unassigned == int(((found.plant < 0) & ~done).sum()) > 0


def test_hours_are_vines_over_the_rate_of_each_task():
    crew = replace(CREW, holes_per_h=40.0)
    days = planned(site(crew=crew))
    for day in days.days:
        for task, hours in day.hours:
            assert hours == pytest.approx(day.vines / getattr(crew, f"{task}_per_h"))
        assert day.crew_hours == pytest.approx(sum(h for _, h in day.hours) / crew.people)
        assert day.crew_hours <= crew.hours_a_day + 1e-9
    assert [t for t, _ in days.days[0].hours] == list(TASKS)
    assert days.person_hours == pytest.approx(sum(h for d in days.days for _, h in d.hours))


@pytest.mark.parametrize(("plans", "splits"), [(PLANS, False), (LONG_ROWS, True)])
def test_rows_are_finished_in_order_and_split_only_where_much_of_the_day_is_left(plans, splits):
    per_day = vines_a_day(CREW)
    assert per_day == 300
    days = planned(site(plans=plans)).days
    seen = [s for d in days for s in dict.fromkeys((r.plan, r.segment) for r in d.runs)]
    assert seen == sorted(seen)
    split = {s for s, n in Counter(seen).items() if n > 1}
    for day in days[:-1]:
        last = (day.runs[-1].plan, day.runs[-1].segment)
        assert day.vines == per_day if last in split else 0.9 * per_day <= day.vines <= per_day
    assert bool(split) == splits


def test_no_work_on_days_off_and_a_missed_day_moves_the_rest():
    begins = MONDAY - datetime.timedelta(days=2)
    off = MONDAY + datetime.timedelta(days=1)
    crew = replace(CREW, days_off=(off,), weekdays_off=(5, 6))
    before = planned(site(crew=crew), begins).days
    worked = [d.day for d in before]
    assert worked[0] == MONDAY
    assert off not in worked
    assert not {d.weekday() for d in worked} & {5, 6}
    after = planned(site(crew=replace(crew, missed=(worked[1],))), begins).days
    assert [d.runs for d in after] == [d.runs for d in before]
    assert [d.day for d in after][1:-1] == worked[2:]
    assert all(d.wet_on == d.day - datetime.timedelta(days=1) for d in after)


def test_what_is_left_goes_on_after_the_last_day_that_was_planted():
    found = site()
    before = planned(found).days
    done = np.zeros(VINES, bool)
    for day in before[:2]:
        for run in day.runs:
            done[vines_of_run(found, run)] = True
    dates = [d.day for d in before]
    earlier = datetime.date(2025, 4, 1)
    left = planned(found, done=done, planted_on=(dates[1], dates[0], dates[0], earlier)).days
    assert [(d.number, d.day, d.vines) for d in left] == [
        (d.number, d.day, d.vines) for d in before[2:]
    ]


def test_trays_of_a_lot_come_to_the_fewest_that_hold_its_vines():
    found = site()
    runs = [r for d in planned(found).days for r in d.runs]
    for i, one in enumerate(LOTS):
        mine = [r for r in runs if r.lot == i]
        planted = opened = 0
        for run in mine:  # never short at a row end, never a tray more than needed
            planted += run.vines
            opened += run.trays
            assert opened == math.ceil(planted / one.tray)
    alone = planned(site((lot("A", RED, tray=0), LOTS[1]))).days
    assert {r.trays for d in alone for r in d.runs if r.lot == 0} == {0}


def test_trays_go_along_one_headland_and_rows_are_planted_from_it():
    days = planned().days
    ends = {(r.plan, r.segment): r.tray_end for d in days for r in d.runs}
    first_of_rows = [s for s in ends if s[0] == 1 and PLANS[1].segments.letter[s[1]] == 0]
    assert len({ends[s] for s in first_of_rows}) == 1
    days = planned(site(plans=LONG_ROWS)).days
    split = next(
        (a.runs[-1], b.runs[0])
        for a, b in itertools.pairwise(days)
        if (a.runs[-1].plan, a.runs[-1].segment) == (b.runs[0].plan, b.runs[0].segment)
    )
    early, late = split
    assert (early.first < late.first) == (early.tray_end == "start")


def test_the_sets_of_the_days_rows_are_wetted_the_day_before():
    sets = np.arange(SEGMENTS) // 4
    days = planned(set_of_segment=sets)
    for day in days.days:
        wanted = [int(sets[r.segment + (r.plan and PLANS[0].n_segments)]) for r in day.runs]
        assert day.sets == tuple(s for s in dict.fromkeys(wanted) if s)
    assert "wetting-unknown" in codes(days)
    assert "wetting-unknown" not in codes(planned(set_of_segment=sets + 1))
    assert all(not d.sets for d in planned().days)


def test_a_lot_that_runs_short_says_on_which_day_and_after_how_many():
    short = lot("A", RED, delivered=520, rejected=20)
    found = site((short, LOTS[1]))
    days = planned(found)
    wanted = int((found.lot == 0).sum())
    planted = 0
    for day in days.days:
        before, planted = planted, planted + sum(r.vines for r in day.runs if r.lot == 0)
        short_words = f"Lot A runs out after 500 of {wanted:,} vines."
        assert (short_words in day.waits) == (before < 500 < planted)
        assert ("Lot A is used up by then." in day.waits) == (before >= 500 and planted > before)
    assert "planting-waits" in codes(days)
    assert all(not d.waits for d in planned().days)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"delivered": 0, "came": datetime.date(2027, 4, 20)}, "it is expected on 20 April 2027"),
        ({"came": datetime.date(2027, 4, 6)}, "comes on 6 April 2027, after the day"),
        ({"tags_recorded": False}, "tags of lot A are not all recorded"),
    ],
)
def test_days_are_planned_all_the_same_and_say_what_they_wait_for(said, words):
    days = planned(site((lot("A", RED, **said), LOTS[1])))
    assert words.lower() in days.days[0].waits[0].lower()
    assert any(words in f.message for f in days.findings if f.code == "planting-waits")
    assert [d.runs for d in days.days] == [d.runs for d in planned().days]
    later = any("after the day" in w for w in days.days[1].waits)
    assert not later  # a lot that came on the second day keeps only the first one waiting


def test_daylight_is_that_of_the_printed_example_and_of_the_evapotranspiration():
    # FAO Irrigation and Drainage Paper 56 (1998), example 9: 20° S, 3 September, N = 11.7 h.
    assert daylight_h(-20.0, datetime.date(2027, 9, 3)) == pytest.approx(11.7, abs=0.05)
    for latitude in (-45.0, 0.0, 38.0, 52.0, 69.0):
        for number in range(1, 366, 13):
            day = datetime.date(2027, 1, 1) + datetime.timedelta(days=number - 1)
            other = float(evapotranspiration.daylight_h(latitude, number))
            assert daylight_h(latitude, day) == pytest.approx(other, abs=1e-9)


def test_dark_hot_and_unusual_days_are_cautioned_and_others_are_not():
    quiet = planned(set_of_segment=np.ones(SEGMENTS, int), warm_c=(20.0,) * 12)
    assert codes(quiet) == ["planting-work"]
    winter = planned(begins=datetime.date(2027, 12, 6))
    assert {"planting-season"} <= set(codes(winter))
    long_days = replace(CREW, hours_a_day=11.0)
    assert "planting-dark" in codes(planned(site(crew=long_days), datetime.date(2027, 12, 6)))
    assert "planting-dark" not in codes(
        planned(site(crew=replace(long_days, starts_h=6.0)), datetime.date(2027, 6, 7))
    )
    warm = tuple(35.0 if m == 4 else 20.0 for m in range(1, 13))
    hot = planned(warm_c=warm)
    assert "April are 35 °C (95 °F)" in next(
        f.message for f in hot.findings if f.code == "planting-hot"
    )


def test_seasons_are_mirrored_in_the_south_and_kept_quiet_in_the_tropics():
    assert "planting-season" not in codes(
        planned(begins=datetime.date(2027, 10, 4), latitude=-35.0)
    )
    assert "planting-season" in codes(planned(latitude=-35.0, begins=datetime.date(2027, 6, 7)))
    assert "planting-season" not in codes(planned(latitude=-8.0, begins=datetime.date(2027, 6, 7)))
    dormant = site((lot("A", RED, grown="bare root"), lot("P", WHITE, grown="bare root")))
    assert "planting-season" not in codes(planned(dormant, datetime.date(2027, 2, 22)))
    assert "planting-season" in codes(planned(dormant, datetime.date(2027, 7, 5)))


def test_a_crew_that_is_far_too_slow_gets_a_thousand_days_and_hears_of_it():
    slow = replace(CREW, people=1, hours_a_day=0.5, holes_per_h=1.0)
    days = planned(site(crew=slow))
    assert len(days.days) == 1000
    assert days.vines == 1000
    assert "planting-too-long" in codes(days)


def test_nothing_to_plant_is_no_day_and_no_words():
    found = site()
    assert planned(found, done=np.ones(VINES, bool)).days == ()
    empty = Assigned((), Planting(), (), *(np.empty(0, np.int32),) * 5)
    assert planned(empty).findings == ()
