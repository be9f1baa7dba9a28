"""Which candidates are best, and which are beaten, against a look at every pair."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk.core.compare.beaten import beaten_by, best_of

CHOSEN = ("vines", "mean_row_m", "short_rows", "grade_along_max_pct")
SIGN = {"vines": 1, "mean_row_m": 1, "short_rows": -1, "grade_along_max_pct": -1}


def beats(values, chosen, i: int, j: int) -> bool:
    pairs = [(SIGN[n] * values[n][i], SIGN[n] * values[n][j]) for n in chosen]
    if any(np.isnan(a) or np.isnan(b) for a, b in pairs):
        return False
    return all(a >= b for a, b in pairs) and any(a > b for a, b in pairs)


@st.composite
def tables(draw):
    """A few candidates, figures from so few values that many are equal, some not known."""
    n = draw(st.integers(1, 9))
    figure = st.sampled_from([1.0, 2.0, 3.0, 4.0, np.nan])
    column = st.lists(figure, min_size=n, max_size=n).map(np.array)
    return {name: draw(column) for name in CHOSEN}


@given(tables(), st.integers(1, 4))
def test_beaten_is_what_a_look_at_every_pair_finds(values, n_chosen):
    chosen = CHOSEN[:n_chosen]
    n = len(values["vines"])
    found = beaten_by(values, chosen)
    for j in range(n):
        winners = [i for i in range(n) if beats(values, chosen, i, j)]
        assert found[j] in winners if winners else found[j] == -1


@given(tables())
def test_a_candidate_that_is_nowhere_worse_is_never_beaten(values):
    found = beaten_by(values, CHOSEN)
    known = np.isfinite([values[n] for n in CHOSEN]).all(axis=0)
    if known.any():
        assert (found[known] == -1).any()  # beating goes round in no circle
    assert (found[~known] == -1).all()
    assert known[found[found >= 0]].all()


def test_less_is_better_where_the_catalogue_says_so():
    values = {"vines": np.array([100, 100.0]), "short_rows": np.array([7, 3.0])}
    assert beaten_by(values, ("vines", "short_rows")).tolist() == [1, -1]
    assert beaten_by(values, ("vines",)).tolist() == [-1, -1]


def test_like_candidates_do_not_beat_each_other():
    values = {"vines": np.array([100, 100, 90.0]), "mean_row_m": np.array([80.0, 80.0, 80.0])}
    assert beaten_by(values, ("vines", "mean_row_m")).tolist() == [-1, -1, 0]


def test_what_rounding_makes_of_a_length_beats_nothing():
    # Rows the other way round have the same length, but for the last bits.
    values = {"vines": np.array([50.0, 50.0]), "row_length_m": np.array([1680.0, 1680.0 + 1e-9])}
    assert beaten_by(values, ("vines", "row_length_m")).tolist() == [-1, -1]
    assert not best_of(values)["row_length_m"].any()
    values["row_length_m"][1] = 1680.1
    assert beaten_by(values, ("vines", "row_length_m")).tolist() == [1, -1]


@pytest.mark.parametrize("name", ["longest_row_m", "sun_left_h", "beauty"])
def test_a_measure_without_a_better_cannot_be_chosen(name):
    values = {"vines": np.array([1.0, 2.0]), name: np.array([1.0, 2.0])}
    with pytest.raises(ValueError, match=name):
        beaten_by(values, ("vines", name))


def test_nothing_chosen_or_nothing_known_beats_nobody():
    values = {"vines": np.array([1.0, 2.0])}
    assert beaten_by(values, ()).tolist() == [-1, -1]
    assert beaten_by(values, ("steep_along_m",)).tolist() == [-1, -1]
    assert beaten_by({}, ("vines",)).tolist() == []


def test_a_chosen_measure_that_nobody_has_is_passed_over():
    values = {"vines": np.array([1.0, 2.0])}
    assert beaten_by(values, ("vines", "steep_along_m")).tolist() == [1, -1]


def test_hundreds_of_candidates_are_compared_pair_by_pair():
    rng = np.random.default_rng(4)
    values = {name: rng.integers(0, 40, 300).astype(float) for name in CHOSEN}
    found = beaten_by(values, CHOSEN)
    assert 5 < (found == -1).sum() < 295
    for j in np.flatnonzero(found >= 0).tolist():
        assert beats(values, CHOSEN, int(found[j]), j)


def test_the_best_of_a_line_are_all_that_share_it():
    nan = np.nan
    values = {
        "vines": [5.0, 7.0, 7.0],
        "short_rows": [2.0, 4.0, 2.0],
        "mean_row_m": [80.0, nan, 79.0],
        "drop_max_m": [nan, nan, 3.0],
        "end_posts": [42.0, 42.0, 42.0],
        "longest_row_m": [80.0, 90.0, 100.0],
    }
    assert {n: b.tolist() for n, b in best_of(values).items()} == {
        "vines": [False, True, True],
        "short_rows": [True, False, True],
        "mean_row_m": [True, False, False],
        "drop_max_m": [False, False, False],  # with whom would it be compared?
        "end_posts": [False, False, False],
        "longest_row_m": [False, False, False],
    }


@given(tables())
def test_nobody_has_a_better_figure_than_the_best(values):
    for name, best in best_of(values).items():
        worth = SIGN[name] * values[name]
        known = np.isfinite(worth)
        if known.any() and np.ptp(worth[known]) > 0:
            assert best.tolist() == (worth == worth[known].max()).tolist()
        else:
            assert not best.any()


def test_a_candidate_without_a_vine_is_best_in_nothing_and_beats_nobody():
    values = {"vines": np.array([0.0, 900, 800]), "turns": np.array([0.0, 20, 30])}
    assert best_of(values)["turns"].tolist() == [False, True, False]
    assert beaten_by(values, ("turns",)).tolist() == [-1, -1, 1]
