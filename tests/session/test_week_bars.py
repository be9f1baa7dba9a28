"""Weeks as bars: the hours of a set, or of all, and what is said of a week."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from layoutdesk.core.water.run_times import RunTimes
from layoutdesk.session.week_bars import before_words, hours_text, week_bars, year_words


@pytest.fixture
def times() -> RunTimes:
    """Two sets over two years from 1 October 2026; the second set gives nothing."""
    weeks = np.datetime64("2026-10-01") + 7 * np.arange(105)
    year = np.where(np.arange(105) < 53, 1, 2)
    n = len(weeks)
    hours = np.column_stack([np.linspace(0.0, 10.4, n), np.full(n, np.nan)])
    each = {"et0_mm": 30.0, "rain_mm": 4.0, "shaded_pct": 5.0, "kc": 0.085, "need_mm": 2.0}
    return RunTimes(
        wetting_h=np.array([3.0, np.nan]),
        first_h=np.array([4.75, np.nan]),
        wetting_l=np.array([42.0, 42.0]),
        first_l=np.array([9.5, 9.5]),
        weeks=weeks,
        year=year,
        **{name: np.full(n, value) for name, value in each.items()},
        vine_l=np.full((n, 1), 7.5),
        hours=hours,
        days_a_week=2,
        is_assumed=True,
        statement="",
        most_hours_a_day=5.2,
    )


def plain(text: str) -> str:
    return text.replace("\u00a0", " ").replace("\u202f", " ")


def test_a_week_is_told_with_its_hours_split_over_its_days(times):
    bars = week_bars(times, 2, 0)
    assert bars.starts[0] == datetime.date(2026, 10, 1) + datetime.timedelta(days=7 * 53)
    assert bars.fullest == len(bars.hours) - 1
    told = plain(bars.told(bars.fullest))
    assert "10 h 24 min on 2 days, 5 h 12 min each" in told
    assert "7.5 L a vine" in told
    assert plain(bars.told(bars.fullest)).startswith("Week of 28 September 2028")


def test_a_set_that_gives_nothing_has_no_bars_and_says_so(times):
    bars = week_bars(times, 1, 1)
    assert bars.fullest is None
    assert "nothing to water" in bars.told(0)


def test_all_sets_run_one_after_another(times):
    assert week_bars(times, 1).hours == pytest.approx(week_bars(times, 1, 0).hours)
    assert "all sets, " in week_bars(times, 2).told(3)


def test_gallons_are_told_where_lengths_are_in_feet(times):
    assert "2.0 gal a vine" in plain(week_bars(times, 2, 0, "ft").told(5))


def test_months_stand_where_they_begin(times):
    months = week_bars(times, 1).months
    assert [name for _, name in months][:4] == ["Oct", "Nov", "Dec", "Jan"]
    starts = week_bars(times, 1).starts
    for week, name in months[1:]:
        days = [starts[week] + datetime.timedelta(days=d) for d in range(7)]
        assert any(d.day == 1 and d.strftime("%b") == name for d in days)


def test_years_are_named_with_the_calendar_years_they_lie_in(times):
    assert year_words(times) == ("Year 1, 2026–27", "Year 2, 2027–28")


def test_before_planting_is_told_for_a_set_and_for_all(times):
    assert "3 h (42.0 L a vine)" in plain(before_words(times, 0))
    assert "4 h 45 min (9.5 L a vine)" in plain(before_words(times, 0))
    assert "all sets one after another, 3 h." in plain(before_words(times))


@pytest.mark.parametrize(
    ("hours", "text"), [(0.0, "0 min"), (1.999, "2 h"), (26.5, "26 h 30 min"), (np.nan, "none")]
)
def test_hours_are_told_in_hours_and_minutes(hours, text):
    assert plain(hours_text(hours)) == text
