"""The first years: days never before planting, seasons mirrored, and labour that anybody can add up."""

from __future__ import annotations

import calendar
import datetime
import itertools
from dataclasses import replace

import pytest

from layoutdesk.core.model.planting import YEAR_TASKS, Years
from layoutdesk.core.planting.years import MILESTONE, first_years

NORTH, SOUTH, TROPICS = 47.0, -35.0, -9.0
SPRING, AUTUMN = datetime.date(2027, 4, 20), datetime.date(2027, 11, 10)
USUAL = Years()


def found(planted=SPRING, latitude=NORTH, years=USUAL, vines=1000):
    return first_years(years, planted, latitude, vines)


def of(years, task: str):
    return [d for d in years.duties if d.task == task]


def half_a_year_on(day: datetime.date) -> datetime.date:
    """The same day six months later, reckoned apart from the program."""
    month = day.month + 6
    year, month = day.year + (month > 12), (month - 1) % 12 + 1
    return datetime.date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


@pytest.mark.parametrize("month", range(1, 13))
def test_southern_seasons_are_the_northern_ones_six_months_later(month):
    planted = datetime.date(2027, month, 15)
    north, south = found(planted), found(half_a_year_on(planted), SOUTH)
    assert [d.name for d in north.duties] == [d.name for d in south.duties]
    for one, other in zip(north.duties, south.duties, strict=True):
        for a, b in ((one.begins, other.begins), (one.ends, other.ends)):
            # days that are counted on from others differ by the lengths of months between them
            assert abs((half_a_year_on(a) - b).days) <= (0 if one.rounds == 1 else 3), one.name
    assert [c.crop_kg for c in north.crops] == [c.crop_kg for c in south.crops]
    for one, other in zip(north.crops, south.crops, strict=True):
        assert half_a_year_on(one.harvest) == other.harvest


def test_seasons_are_called_as_people_there_call_them():
    north, south = found(), found(datetime.date(2027, 10, 20), SOUTH)
    assert [d.season for d in of(north, "pruning")] == ["winter 2027–28"]
    assert [d.season for d in of(south, "pruning")] == ["winter 2028"]
    assert of(south, "foliage")[1].season == "summer 2029–30"
    assert {d.season.split()[0] for d in of(south, "picking")} == {"autumn"}


@pytest.mark.parametrize("latitude", [NORTH, SOUTH, TROPICS])
def test_nothing_is_to_be_done_before_planting_whatever_the_day(latitude):
    for n in range(0, 4 * 366, 3):
        planted = datetime.date(2027, 1, 1) + datetime.timedelta(days=n)
        years = found(planted, latitude)
        assert all(planted <= d.begins <= d.ends for d in years.duties)
        assert all(planted < c.harvest <= c.harvest_ends for c in years.crops)
        assert [d.begins for d in years.duties] == sorted(d.begins for d in years.duties)
        for d in years.duties:
            first, last = years.spans[d.year - 1]
            assert first <= d.begins <= last


def test_a_vine_is_raised_in_the_order_that_it_grows():
    for planted in (SPRING, AUTUMN, datetime.date(2027, 8, 30), datetime.date(2028, 2, 29)):
        for form in ("cane", "cordon"):
            years = found(planted, years=Years(form=form))
            begins = {}
            for d in reversed(years.duties):
                begins[d.what] = d.begins
            order = [
                "Check shelters, stakes and drip tubes",
                "Count what stands",
                "Prune to two buds",
                "Count again after budbreak",
                "Choose one shoot and lead it up the stake",
                "Tie the trunk",
                "The trunk reaches the fruiting wire",
                "Take the shelters off",
                f"Lay {'canes' if form == 'cane' else 'the cordon'} down on the fruiting wire",
                "Move the foliage wires",
            ]
            days = [begins[title] for title in order]
            assert days == sorted(days)


def test_shelters_are_looked_at_two_weeks_after_planting_and_then_monthly():
    checks = of(found(), "shelters")
    assert checks[0].begins - SPRING == datetime.timedelta(days=14)
    assert [(d.begins.month, d.begins.day) for d in checks[1:]] == [(m, 20) for m in range(5, 11)]
    # Of what is planted in autumn, monthly checks wait for its first season of leaves.
    first, *monthly = of(found(AUTUMN), "shelters")
    assert first.begins == datetime.date(2027, 11, 24)
    assert {d.begins.year for d in monthly} == {2028}
    assert monthly[0].begins == datetime.date(2028, 4, 10)


def test_what_was_planted_in_the_rest_is_counted_as_soon_as_it_has_leaves():
    counts = of(found(AUTUMN), "count")
    assert [(d.begins.year, d.begins.month) for d in counts] == [(2028, 4), (2028, 9), (2029, 4)]
    (grow,) = (d for d in found(AUTUMN).duties if d.what == "Let shoots grow")
    assert "cut to two buds before they break" in grow.words
    assert [(d.begins.year, d.begins.month) for d in of(found(), "count")] == [(2027, 9), (2028, 4)]


def test_days_that_a_month_lacks_are_its_last():
    checks = of(found(datetime.date(2028, 3, 31)), "shelters")
    assert datetime.date(2028, 4, 30) in [d.begins for d in checks]
    leap = found(datetime.date(2028, 2, 29), TROPICS)
    assert [s[0] for s in leap.spans[:2]] == [
        datetime.date(2028, 2, 29),
        datetime.date(2029, 2, 28),
    ]
    assert leap.spans[0][1] == datetime.date(2029, 2, 27)


@pytest.mark.parametrize(("apart", "rounds"), [(10.0, 8), (1.0, 80), (60.0, 2)])
def test_trunks_are_tied_as_often_as_is_set(apart, rounds):
    ties = of(found(years=Years(tie_days=apart)), "tying")
    # From 10 May to 28 July are 79 days.
    assert len(ties) == rounds
    gaps = {(b.begins - a.begins).days for a, b in itertools.pairwise(ties)}
    assert gaps == {int(apart)}
    assert {d.rounds for d in ties} == {rounds}


@pytest.mark.parametrize(
    ("planted", "latitude", "third", "second"),
    [
        (SPRING, NORTH, 2029, 2028),
        (AUTUMN, NORTH, 2030, 2029),
        (datetime.date(2027, 10, 20), SOUTH, 2030, 2029),
        (datetime.date(2028, 5, 10), SOUTH, 2031, 2030),
    ],
)
def test_both_ways_of_counting_name_their_harvest(planted, latitude, third, second):
    for counting, year in (("third leaf", third), ("second harvest", second)):
        years = found(planted, latitude, Years(counting=counting))
        (small,) = (c for c in years.crops if c.is_first_small)
        assert small.harvest.year == year
        (title,) = (d.title for d in years.duties if d.begins == small.harvest)
        assert title == "Pick the first small crop"
        leaves, harvests, other, used, *_ = years.counting_words
        assert f"autumn {third}" in leaves
        assert f"autumn {second}" in harvests
        assert f"autumn {third}" in other
        assert f"autumn {year}" in used
        assert "common practice" in used


def test_the_ramp_of_the_crop_is_taken_as_it_is_set():
    years = found(years=Years(shares_pct=(0, 0, 20, 110), mature_kg_vine=3.0), vines=1500)
    assert [c.crop_kg for c in years.crops] == pytest.approx([0, 0, 900, 4950])
    assert [d.year for d in of(years, "picking")] == [3, 4]
    none_yet = found(years=Years(shares_pct=(0, 0, 0, 50)))
    assert any("expects nothing in that year" in w for w in none_yet.counting_words)
    short = found(years=Years(shares_pct=(0,)))
    assert len(short.crops) == 1
    assert max(d.year for d in short.duties) == 3
    assert any("ends before it" in w for w in short.counting_words)


def test_labour_is_vines_over_the_rate_in_every_round():
    rates = {"tying": 250.0, "picking": 30.0}
    years = found(years=Years(per_h=tuple(rates.items())), vines=6000)
    added: dict = {}
    for task, (_, usual) in YEAR_TASKS.items():  # the slow way, vine by vine's seconds
        seconds = 3600 / rates.get(task, usual)
        for d in of(years, task):
            share = USUAL.shares_pct[d.year - 1] / 100 if task == "picking" else 1.0
            hours = sum(seconds * share for _ in range(6000)) / 3600
            assert d.hours == pytest.approx(hours), d.name
            added[d.year, task] = added.get((d.year, task), 0.0) + hours
    assert {(y, t): h for y, t, h in years.labour} == pytest.approx(added)
    assert [d.hours for d in of(years, MILESTONE)] == [0.0] * len(of(years, MILESTONE))
    assert {t for _, t, _ in years.labour} == set(YEAR_TASKS)
    assert not any(d.hours for d in found(vines=0).duties)


def test_a_cordon_is_laid_once_and_canes_every_winter():
    assert [d.year for d in of(found(), "wood")] == [2, 3, 4, 5]
    cordon = found(years=replace(USUAL, form="cordon"))
    assert [d.year for d in of(cordon, "wood")] == [2]
    assert [d.year for d in of(cordon, "pruning")] == [1, 3, 4, 5]


def test_between_the_tropics_days_are_counted_from_planting_and_it_is_said():
    planted = datetime.date(2027, 7, 9)
    years = found(planted, TROPICS)
    assert len(years.cautions) == 1
    assert "between the tropics" in years.cautions[0]
    (training,) = of(years, "training")
    assert training.begins == datetime.date(2028, 8, 2)  # 12 months and 24 days on
    assert training.season == "month 13 from planting"
    assert not any(
        word in f"{d.season} {d.words}" for d in years.duties for word in ("winter", "spring")
    )
    other = found(planted, -TROPICS)
    assert [d.begins for d in other.duties] == [d.begins for d in years.duties]


def test_a_late_planting_is_cautioned_about_and_an_early_one_is_not():
    assert not found().cautions
    assert not found(AUTUMN).cautions
    assert "Planted late" in found(datetime.date(2027, 8, 1)).cautions[0]
    assert "Planted late" in found(datetime.date(2028, 2, 1), SOUTH).cautions[0]


def test_every_duty_keeps_its_name_when_the_planting_day_moves():
    names = [d.name for d in found().duties]
    assert len(set(names)) == len(names)
    assert [d.name for d in found(SPRING + datetime.timedelta(days=6)).duties] == names
