"""What must hold for any lateral, whatever its tube, ground and emitters."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.water import Emitter, Friction, even_laterals, solve_laterals
from layoutdesk.core.water.uniformity import (
    christiansen_f,
    distribution_uniformity_pct,
    emission_uniformity_pct,
)

few = settings(max_examples=60, derandomize=True, deadline=None)

emitters = st.builds(
    Emitter,
    nominal_l_h=st.floats(0.5, 8.0),
    exponent=st.one_of(st.sampled_from([0.0, 0.01, 0.05, 0.5, 1.0]), st.floats(0, 1)),
    cv=st.floats(0.0, 0.2),
)
frictions = st.builds(
    Friction,
    law=st.sampled_from(["darcy-weisbach", "hazen-williams", "blasius"]),
    roughness_m=st.floats(0, 1e-4),
)
sizes = st.sampled_from([0.0106, 0.0136, 0.0158, 0.0205])
feeds = st.sampled_from(["start", "far", "middle"])
counts = st.lists(st.integers(1, 150), min_size=1, max_size=8)


@few
@given(counts, sizes, feeds, emitters, frictions, st.floats(0, 40), st.integers(0, 10**6))
def test_what_enters_comes_out(count, size, fed, emitter, friction, head, seed):
    height = np.random.default_rng(seed).normal(0, 1.0, sum(count))
    rows = even_laterals(count, 1.2, 0.6, size, fed=fed, outlet_height_m=height)
    found = solve_laterals(rows, emitter, friction, inlet_head_m=head)
    assert found.converged.all()
    entering = rows.summed(np.where(rows.at_inlet, found.piece_l_h, 0.0))
    assert entering == pytest.approx(found.total_l_h, rel=1e-6, abs=1e-6)
    assert found.flow_l_h == pytest.approx(emitter.flow_l_h(found.head_m), rel=1e-9)


@few
@given(counts, sizes, emitters, frictions, st.floats(1, 40))
def test_pressure_falls_away_from_the_inlet_on_level_ground(count, size, emitter, friction, head):
    rows = even_laterals(count, 1.2, 0.6, size)
    found = solve_laterals(rows, emitter, friction, inlet_head_m=head)
    assert (found.head_m <= head).all()
    assert (np.diff(found.head_m)[~rows.apart] <= 1e-9).all()


@few
@given(counts, sizes, feeds, emitters, frictions, st.floats(5, 40), st.floats(0.05, 3), st.data())
def test_more_elevation_is_less_flow(count, size, fed, emitter, friction, head, rise, data):
    rows = even_laterals(count, 1.2, 0.6, size, fed=fed)
    one = data.draw(st.integers(0, sum(count) - 1))
    height = rows.outlet_height_m + np.where(np.arange(sum(count)) == one, rise, 0.0)
    lower = solve_laterals(rows, emitter, friction, inlet_head_m=head)
    lifted = replace(rows, outlet_height_m=height)
    higher = solve_laterals(lifted, emitter, friction, inlet_head_m=head)
    assert (higher.total_l_h <= lower.total_l_h * (1 + 1e-9)).all()
    assert higher.flow_l_h[one] <= lower.flow_l_h[one] * (1 + 1e-9)
    if emitter.exponent >= 0.05:
        assert higher.flow_l_h[one] < lower.flow_l_h[one]


@few
@given(counts, sizes, emitters, frictions, st.floats(1, 40), st.floats(0.1, 5))
def test_more_head_is_more_flow_everywhere(count, size, emitter, friction, head, more):
    rows = even_laterals(count, 1.2, 0.6, size, fed="middle")
    weak = solve_laterals(rows, emitter, friction, inlet_head_m=head)
    strong = solve_laterals(rows, emitter, friction, inlet_head_m=head + more)
    assert (strong.head_m > weak.head_m).all()
    assert (strong.flow_l_h >= weak.flow_l_h).all()


@few
@given(st.integers(1, 200), sizes, emitters, st.floats(2, 40), st.sampled_from(["start", "far"]))
def test_feeding_from_the_middle_is_never_worse_on_level_ground(n, size, emitter, head, end):
    inlet = {"inlet_head_m": head}
    ended = solve_laterals(even_laterals([n], 1.2, 0.6, size, fed=end), emitter, **inlet)
    middle = solve_laterals(even_laterals([n], 1.2, 0.6, size, fed="middle"), emitter, **inlet)
    assert middle.least_head_m[0] >= ended.least_head_m[0] - 1e-9
    assert middle.total_l_h[0] >= ended.total_l_h[0] * (1 - 1e-9)
    after, before = (emission_uniformity_pct(f.flow_l_h, emitter.cv) for f in (middle, ended))
    assert after >= before - 1e-6


@few
@given(st.lists(st.floats(0.1, 9), min_size=1, max_size=60), st.floats(0, 0.3), st.floats(1, 4))
def test_doubling_the_variation_doubles_what_it_takes(flows, cv, per_vine):
    none, once, twice = (emission_uniformity_pct(flows, v, per_vine) for v in (0, cv, 2 * cv))
    assert none - twice == pytest.approx(2 * (none - once), abs=1e-9)
    assert none == pytest.approx(100 * min(flows) / np.mean(flows))


@few
@given(st.lists(st.floats(0.1, 9), min_size=1, max_size=60), st.floats(0.1, 10))
def test_the_low_quarter_lies_between_the_least_and_the_mean(flows, scale):
    low = distribution_uniformity_pct(flows)
    assert 100 * min(flows) / np.mean(flows) - 1e-9 <= low <= 100 + 1e-9
    assert distribution_uniformity_pct(np.array(flows) * scale) == pytest.approx(low)
    assert distribution_uniformity_pct(flows * 4) == pytest.approx(
        100 * np.sort(flows * 4)[: len(flows)].mean() / np.mean(flows)
    )


@few
@given(st.integers(1, 300), st.floats(1, 2))
def test_the_sum_over_outlets_lies_between_its_limit_and_one(n, exponent):
    full, half = christiansen_f(n, exponent), christiansen_f(n, exponent, "half")
    assert 1 / (exponent + 1) < full <= 1 + 1e-12
    assert half <= full + 1e-12
