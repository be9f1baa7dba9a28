"""Laterals solved together: agreement with a slow second way, odd states, and what is asked wrongly."""

from __future__ import annotations

import numpy as np
import pytest

from layoutdesk.core.water import Emitter, Friction, Laterals, even_laterals, solve_laterals
from layoutdesk.core.water.longest import longest_lateral
from tests.core.water.slow_laterals import slow_branch

FRICTION = Friction()


def random_laterals(seed, fed):
    some = np.random.default_rng(seed)
    count = some.integers(0, 120, 6)
    height = some.normal(0, 0.3, count.sum()) + (-1) ** seed * 0.1 * np.arange(count.sum())
    return even_laterals(
        count,
        some.uniform(0.5, 2.0),
        0.3,
        some.choice([0.01, 0.0136, 0.0205], 6),
        fed=fed,
        outlet_height_m=height,
        emitters=some.choice([0.0, 1.0, 2.0], count.sum()),
        barb_loss=0.4,
    )


@pytest.mark.parametrize("fed", ["start", "far", "middle"])
@pytest.mark.parametrize("exponent", [0.0, 0.01, 0.05, 0.5, 1.0])
def test_the_same_as_one_piece_after_another(fed, exponent):
    """Steep ground and little head: some outlets run dry."""
    dry = 0
    for seed in range(4):
        rows = random_laterals(seed, fed)
        emitter = Emitter(3.0, 10.0, exponent)
        found = solve_laterals(rows, emitter, FRICTION, inlet_head_m=3.0)
        assert found.converged.all()
        dry += found.negative().sum()
        for i in range(len(rows)):
            total = 0.0
            mine = np.arange(rows.offset[i], rows.offset[i + 1])
            for branch in (mine[rows.onward[mine]], mine[~rows.onward[mine]][::-1]):
                if not len(branch):
                    continue
                heads, flow = slow_branch(
                    rows.piece_m[branch],
                    rows.rise_m[branch],
                    rows.emitters[branch],
                    rows.barb_loss[branch],
                    rows.diameter_m[i],
                    3.0,
                    emitter,
                    FRICTION,
                )
                total += flow * 3.6e6
                # The slow way halves to 1e-15 m; Dunlop's constants are printed with six digits.
                assert found.head_m[branch] == pytest.approx(heads, abs=1e-5)
            assert found.total_l_h[i] == pytest.approx(total, abs=1e-3)
    assert dry > 0


def test_every_way_of_running_dry_is_solved():
    """Tubes far too small and far too long, on ground far too steep."""
    some = np.random.default_rng(5)
    steps = []
    for exponent in (0.0, 0.01, 0.1, 0.5, 1.0):
        for head in (1.0, 12.0):
            count = some.integers(1, 400, 60)
            grade = np.repeat(some.uniform(-0.3, 0.3, 60), count)
            along = np.concatenate([np.arange(c) for c in count])
            height = grade * along + some.normal(0, 0.3, len(along))
            rows = even_laterals(
                count,
                1.0,
                0.5,
                some.choice([0.008, 0.0136], 60),
                fed="middle",
                outlet_height_m=height,
            )
            found = solve_laterals(rows, Emitter(8.0, 10.0, exponent), inlet_head_m=head)
            assert found.converged.all()
            entering = rows.summed(np.where(rows.at_inlet, found.piece_l_h, 0.0))
            assert entering == pytest.approx(found.total_l_h, rel=1e-6, abs=1e-6)
            steps.append(found.steps)
    assert max(steps) < 100  # 120 are allowed


def test_the_head_that_brings_a_flow():
    rows = random_laterals(3, "middle")
    heads = np.linspace(8.0, 30.0, len(rows))
    for exponent in (0.05, 0.5, 1.0):
        emitter = Emitter(exponent=exponent)
        given = solve_laterals(rows, emitter, inlet_head_m=heads)
        back = solve_laterals(rows, emitter, total_l_h=given.total_l_h)
        assert back.converged.all()
        some = given.total_l_h > 0
        assert back.inlet_head_m[some] == pytest.approx(heads[some], abs=1e-4)


def test_a_flow_that_no_head_brings_is_said():
    rows = even_laterals([10, 10], 1.0, 1.0, 0.0136)
    found = solve_laterals(rows, Emitter(2.0, 10.0, 0.0), total_l_h=[30.0, 20.0])
    assert found.converged.tolist() == [False, True]


def test_states_a_designer_must_hear_of():
    # 3 m up from 5 m of head, then 8 m up; 50 m down.
    rows = Laterals(
        np.array([0, 2, 3]),
        np.array([1.0, 2.0, 1.0]),
        np.array([3.0, 8.0, -50.0]),
        np.zeros(2),
        np.zeros(2),
        np.full(2, 0.02),
        np.ones(3),
        np.zeros(3),
    )
    found = solve_laterals(rows, Emitter(least_head_m=4.0, greatest_head_m=40.0), inlet_head_m=5.0)
    assert found.negative().tolist() == [False, True, False]
    assert found.below_range(Emitter(least_head_m=4.0)).tolist() == [True, True, False]
    assert found.above_range(Emitter(greatest_head_m=40.0)).tolist() == [False, False, True]
    assert found.flow_l_h[1] == 0
    assert found.least_l_h.tolist()[0] == 0


def test_laterals_without_outlets_and_no_laterals():
    rows = even_laterals([0, 3, 0], 1.0, 1.0, 0.0136, fed="middle")
    found = solve_laterals(rows, Emitter(), inlet_head_m=10.0)
    assert found.total_l_h[[0, 2]].tolist() == [0, 0]
    assert np.isnan(found.least_head_m[[0, 2]]).all()
    assert found.converged.all()
    assert len(solve_laterals(even_laterals([], 1, 1, 1), Emitter(), inlet_head_m=1.0).head_m) == 0


def test_the_inlet_in_the_middle_parts_a_lateral_in_two():
    whole = solve_laterals(
        even_laterals([60], 1.5, 0.75, 0.0136, fed="middle"), Emitter(), inlet_head_m=11.0
    )
    half = solve_laterals(even_laterals([30], 1.5, 0.75, 0.0136), Emitter(), inlet_head_m=11.0)
    assert whole.head_m[30:] == pytest.approx(half.head_m, abs=1e-9)
    assert whole.head_m[:30] == pytest.approx(half.head_m[::-1], abs=1e-9)


def test_inlets_stand_on_the_slope_of_their_outlets():
    along = 0.5 + 1.5 * np.arange(7)
    for fed in ("start", "far", "middle"):
        rows = even_laterals([7], 1.5, 0.5, 0.0136, fed=fed, outlet_height_m=80 + 0.04 * along)
        assert rows.inlet_height_m == pytest.approx(80 + 0.04 * rows.inlet_m, abs=1e-9)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"outlet_height_m": np.nan}, "outlet_height_m"),
        ({"diameter_m": 0.0}, "diameter_m"),
        ({"spacing_m": -1.0}, "outlet_m"),
        ({"barb_loss": -1.0}, "barb_loss"),
        ({"fed": "both"}, "fed"),
    ],
)
def test_what_cannot_be_a_lateral_is_refused_by_name(change, name):
    with pytest.raises(ValueError, match=name):
        even_laterals(**({"count": [3], "spacing_m": 1, "first_m": 1, "diameter_m": 0.01} | change))


@pytest.mark.parametrize("law", ["darcy-weisbach", "hazen-williams", "blasius"])
def test_the_slope_of_the_loss_is_its_rise(law):
    friction = Friction(law)
    flow = np.geomspace(1.1e-12, 1e-3, 400) * np.where(np.arange(400) % 2, 1, -1)
    size, length, step = np.full(400, 0.0136), np.full(400, 1.5), 1e-6
    slope = friction.loss_and_slope(flow, size, length, 0.7)[1]
    above = friction.loss_and_slope(flow * (1 + step), size, length, 0.7)[0]
    below = friction.loss_and_slope(flow * (1 - step), size, length, 0.7)[0]
    assert slope == pytest.approx((above - below) / (2 * step * flow), rel=1e-4)


@pytest.mark.parametrize("grade_pct", [-3.0, 0.0, 3.0])
@pytest.mark.parametrize("fed", ["start", "middle"])
def test_the_longest_lateral_holds_and_one_outlet_more_does_not(grade_pct, fed):
    emitter, first = Emitter(least_head_m=3.0), 0.5
    longest = longest_lateral(
        emitter, 0.0158, 1.2, 12.0, grade_pct=grade_pct, first_m=first, fed=fed, barb_loss=0.3
    )
    assert longest.limit == "variation"
    assert longest.length_m == pytest.approx(first + 1.2 * (longest.n_outlets - 1))

    def variation(n):
        height = grade_pct / 100 * (first + 1.2 * np.arange(n))
        rows = even_laterals(
            [n], 1.2, first, 0.0158, fed=fed, outlet_height_m=height, barb_loss=0.3
        )
        found = solve_laterals(rows, emitter, inlet_head_m=12.0)
        return 100 * (1 - found.least_l_h[0] / found.greatest_l_h[0])

    assert variation(longest.n_outlets) == pytest.approx(longest.variation_pct)
    assert variation(longest.n_outlets) <= 10 < variation(longest.n_outlets + 1)
    assert all(variation(n) <= 10 for n in range(1, longest.n_outlets, 7))


def test_the_working_range_also_holds_a_lateral_back():
    even = Emitter(exponent=0.05, least_head_m=9.0)
    assert longest_lateral(even, 0.0136, 1.0, 12.0).limit == "least head"
    assert longest_lateral(even, 0.0136, 1.0, 8.0).n_outlets == 0
    assert longest_lateral(even, 0.0136, 1.0, 50.0).limit == "greatest head"
    assert longest_lateral(even, 0.02, 1.0, 12.0, most=50).n_outlets == 50
