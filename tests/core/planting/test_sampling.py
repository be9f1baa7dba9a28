"""Sizes of samples against counting every way to draw; the draw itself: shares, chances, the same for ever."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.model.planting import Inspecting
from layoutdesk.core.planting.sampling import (
    accept_chance,
    drawn,
    least_faulty,
    printed_plan,
    sample_plan,
    sampled,
    share_bounds,
)

few = settings(derandomize=True, deadline=None)


def exactly(lot: int, faulty: int, size: int, accept: int) -> Fraction:
    """Chance that a lot is accepted, by counting."""
    ways = sum(comb(faulty, k) * comb(lot - faulty, size - k) for k in range(min(accept, size) + 1))
    return Fraction(ways, comb(lot, size))


@few
@given(
    st.integers(1, 120), st.integers(1, 60), st.sampled_from((80, 90, 95, 99)), st.integers(0, 4)
)
def test_no_smaller_sample_of_a_small_lot_would_do(lot, tolerated, confidence, accept):
    plan = sample_plan(lot, float(tolerated), float(confidence), accept)
    faulty = least_faulty(lot, tolerated)
    assert Fraction(faulty, lot) >= Fraction(tolerated, 100)
    assert faulty == 1 or Fraction(faulty - 1, lot) < Fraction(tolerated, 100)
    most = Fraction(100 - confidence, 100)
    good = [n for n in range(lot + 1) if exactly(lot, faulty, n, accept) <= most]
    assert plan.size == (good[0] if good else lot)
    chance = 1 - float(exactly(lot, faulty, plan.size, accept))
    assert plan.found_out_pct == pytest.approx(100 * chance, abs=1e-6)


@few
@given(st.integers(2, 5000), st.floats(0.5, 30), st.integers(0, 3))
def test_more_confidence_or_more_accepted_takes_no_fewer_vines(lot, tolerated, accept):
    sizes = [sample_plan(lot, tolerated, c, accept).size for c in (80.0, 90.0, 95.0, 99.0)]
    assert sizes == sorted(sizes)
    assert sample_plan(lot, tolerated, 95.0, accept + 1).size >= sizes[2]


def test_where_everything_is_accepted_it_says_so():
    plan = sample_plan(40, 5.0, 95.0, accept=2)
    assert (plan.size, plan.found_out_pct, plan.is_all) == (40, 0.0, True)


def test_a_lot_smaller_than_the_sample_is_looked_at_whole():
    plan = sample_plan(10, 5.0, 95.0)
    assert plan.is_all
    assert plan.found_out_pct == pytest.approx(100.0)
    assert sample_plan(0, 5.0, 95.0).size == 0


@few
@given(st.integers(0, 200), st.integers(0, 200), st.sampled_from((80.0, 95.0, 99.0)))
def test_bounds_hold_the_share_and_mirror(faulty, right, confidence):
    size = faulty + right
    low, high = share_bounds(faulty, size, confidence)
    assert 0 <= low <= high <= 100
    if size:
        assert low <= 100 * faulty / size <= high
    mirrored = share_bounds(right, size, confidence)
    assert (100 - mirrored[1], 100 - mirrored[0]) == pytest.approx((low, high), abs=1e-8)


@pytest.mark.parametrize(("share", "size"), [(0.05, 59), (0.3, 20), (0.004, 125)])
def test_bounds_miss_a_share_no_more_often_than_they_say(share, size):
    inside = 0.0
    for faulty in range(size + 1):
        low, high = share_bounds(faulty, size)
        if low <= 100 * share <= high:
            inside += comb(size, faulty) * share**faulty * (1 - share) ** (size - faulty)
    assert inside >= 0.95


def test_what_does_not_fit_a_lot_is_a_mistake():
    for wrong in ((10, 11, 5, 0), (10, 2, 11, 0), (10, 1.5, 5, 0), (None, 2.0, 5, 0)):
        with pytest.raises(ValueError, match="faulty"):
            accept_chance(*wrong)
    with pytest.raises(ValueError, match="of 3"):
        share_bounds(4, 3)


def test_there_is_no_printed_plan_without_its_column():
    assert printed_plan(1_000, 5.0) is None
    assert printed_plan(1, 4.0) is None


# the draw

ROWS = np.array([3, 40, 41, 7, 100, 100, 100, 96, 12, 1, 63, 80])
SEGMENT = np.repeat(np.arange(len(ROWS)), ROWS)
SAME_FOR_EVER = [45, 178, 287, 380, 425, 452, 536, 616]
"""Drawn when this was written, from the generator that `tests/reference` holds to its printed numbers."""


def test_the_same_seed_draws_these_vines_for_ever():
    one = np.zeros(len(SEGMENT), int)
    assert drawn(one, SEGMENT, [8], 1).tolist() == SAME_FOR_EVER
    assert drawn(one, SEGMENT, [8], 2).tolist() != SAME_FOR_EVER


@few
@given(st.integers(0, 2**31 - 1), st.integers(0, 700))
def test_every_row_gives_its_share_rounded_down_or_up(seed, size):
    found = drawn(np.zeros(len(SEGMENT), int), SEGMENT, [size], seed)
    assert len(found) == min(size, len(SEGMENT)) == len(set(found.tolist()))
    assert (np.diff(found) > 0).all()
    per_row = np.bincount(SEGMENT[found], minlength=len(ROWS))
    wanted = min(size, len(SEGMENT)) * ROWS / len(SEGMENT)
    assert (per_row >= np.floor(wanted - 1e-9)).all()
    assert (per_row <= np.ceil(wanted + 1e-9)).all()


@few
@given(st.integers(0, 2**31 - 1), st.integers(1, 200))
def test_neighbouring_rows_together_give_their_share(seed, size):
    segment = np.repeat(np.arange(300), 20)
    found = drawn(np.zeros(6000, int), segment, [size], seed)
    before = np.concatenate([[0], np.cumsum(np.bincount(segment[found], minlength=300))])
    apart = before - size * np.arange(301) / 300
    assert np.abs(apart).max() < 1 + 1e-9


def test_every_vine_has_the_same_chance():
    """Of 4,000 draws of 60 from rows of 1 to 100 vines, short rows give as much as they are long."""
    one, times, size = np.zeros(len(SEGMENT), int), 4000, 60
    counts = np.zeros(len(SEGMENT))
    for seed in range(times):
        counts[drawn(one, SEGMENT, [size], seed)] += 1
    chance = size / len(SEGMENT)
    spread = np.sqrt(times * chance * (1 - chance))
    # 643 vines: the furthest of so many lies within five standard deviations.
    assert np.abs(counts - times * chance).max() < 5 * spread
    rows = np.bincount(SEGMENT, weights=counts)
    assert rows == pytest.approx(times * chance * ROWS, rel=0.06)


@pytest.mark.parametrize("faults", ["anywhere", "in whole rows", "at row ends", "every nth row"])
def test_a_bad_lot_is_found_out_as_often_as_is_promised(faults):
    """1,200 vines, 60 of them faulty, drawn 3,000 times: what is missed agrees with the law, or is less."""
    segment, one, times = np.repeat(np.arange(60), 20), np.zeros(1200, int), 3000
    bad = {
        "anywhere": np.random.default_rng(1).permutation(1200)[:60],
        "in whole rows": np.flatnonzero(np.isin(segment, [7, 8, 40])),
        "at row ends": np.arange(60) * 20,
        "every nth row": np.flatnonzero(segment % 20 == 3),
    }[faults]
    plan = sample_plan(1200, 5.0, 95.0)
    is_bad = np.zeros(1200, bool)
    is_bad[bad] = True
    missed = sum(not is_bad[drawn(one, segment, [plan.size], k)].any() for k in range(times))
    promised = 1 - plan.found_out_pct / 100
    # Three standard deviations of a count of 3,000.
    assert missed / times <= promised + 3 * np.sqrt(promised * (1 - promised) / times)


def test_lots_are_drawn_each_for_itself():
    lot = np.where(SEGMENT % 3 == 0, 1, 0)
    lot[:3] = -1
    both = drawn(lot, SEGMENT, [20, 10], 7)
    assert [int((lot[both] == k).sum()) for k in (-1, 0, 1)] == [0, 20, 10]
    without = drawn(np.where(lot == 1, -1, lot), SEGMENT, [20], 7)
    assert without.tolist() == both[lot[both] == 0].tolist()


def test_a_site_is_sampled_by_lot_and_parted_among_inspectors_by_rows():
    lot = np.repeat([0, 1, -1], [300, 300, 43]).astype(np.int16)
    asked = Inspecting(tolerated_pct=10.0, inspectors=3)
    found = sampled(lot, ("A", "B", "not there"), SEGMENT, asked)
    assert found.lots == ("A", "B", "")
    assert [p.lot_size for p in found.plans] == [300, 300, 43]
    per_lot = np.bincount(found.lot, minlength=3)
    assert per_lot.tolist() == [p.size for p in found.plans]
    assert (found.lot == np.where(lot[found.vines] < 0, 2, lot[found.vines])).all()
    sheets = {
        (s, k) for s, k in zip(SEGMENT[found.vines].tolist(), found.sheet.tolist(), strict=True)
    }
    assert len(sheets) == len({s for s, _ in sheets})
    shares = np.bincount(found.sheet, minlength=3)
    assert shares.sum() == len(found)
    largest = np.bincount(SEGMENT[found.vines]).max()
    assert shares.max() - shares.min() <= 2 * largest


def test_a_lot_that_is_added_changes_no_other_sample():
    lot = np.repeat([0, 1], [300, 343]).astype(np.int16)
    before = sampled(lot, ("A", "B"), SEGMENT, Inspecting())
    lot[600:] = 2
    after = sampled(lot, ("A", "B", "C"), SEGMENT, Inspecting())
    of_a = [s.vines[s.lot == 0].tolist() for s in (before, after)]
    assert of_a[0] == of_a[1]


def test_a_site_without_vines_has_no_sample():
    nothing = np.empty(0, np.int16)
    assert len(sampled(nothing, ("A",), nothing.astype(np.int32), Inspecting())) == 0
