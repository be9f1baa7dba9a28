"""Pipes and fittings, counted by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import Block, Exclusion, RowRules, lay_rows
from layoutdesk.core.model.water import Drip, Water
from layoutdesk.core.water.parts import bridged_m, water_parts
from tests.core.water.hand_designs import design_of, plan_of, run_of


def amounts(design, plans):
    return {(p.block, p.product.item, p.product.size): p.amount for p in water_parts(design, plans)}


def test_what_stands_in_the_rows():
    plans = [plan_of()]
    design = design_of(plans, Water().with_drip("B1", Drip(emitters_per_vine=2)))
    found = amounts(design, plans)
    assert found["B1", "emitters", (2.0,)] == 2 * plans[0].n_vines
    assert found["B1", "inlet_fittings", ()] == plans[0].n_segments
    assert found["B1", "line_ends", ()] == plans[0].n_segments  # fed at their other end
    assert found["B1", "valves", ()] == 1
    assert found["", "filters", ()] == 1
    assert not any(item == "bridge_tube_m" for _, item, _ in found)
    middle = amounts(design_of(plans, Water().with_drip("B1", Drip(fed="middle"))), plans)
    assert middle["B1", "line_ends", ()] == 2 * plans[0].n_segments


def test_emitters_in_the_line_come_with_it():
    plans = [plan_of()]
    water = Water().with_drip("B1", Drip(inline_m=0.75))
    assert not [k for k in amounts(design_of(plans, water), plans) if k[1] == "emitters"]


def test_pipes_by_size_with_their_reducers():
    plans = [plan_of()]
    branch = run_of([(0, 0), (10, 0), (25, 0), (45, 0)], [(63.0, 55.4), (50.0, 44.0), (50.0, 44.0)])
    other = run_of([(0, 0), (-7, 0)], [(50.0, 44.0)])
    found = amounts(design_of(plans, branches=(branch, other)), plans)
    assert found["B1", "pipe_m", (63.0, 55.4)] == pytest.approx(10)
    assert found["B1", "pipe_m", (50.0, 44.0)] == pytest.approx(35 + 7)
    assert found["B1", "reducers", (63.0, 50.0)] == 1
    assert found["B1", "pipe_ends", (50.0,)] == 2


def test_mains_in_one_trench_are_one_pipe_the_widest():
    plans = [plan_of(name="A"), plan_of(name="B", west_m=100.0)]
    design = design_of(plans, Water())
    # Both run 100 m together in pieces of their own; then B's goes on 50 m, A's turns off 20 m.
    one = run_of([(0, 0), (60, 0), (100, 0), (100, 20)], [(75.0, 66.0), (75.0, 66.0), (63.0, 55.4)])
    two = run_of([(0, 0), (100, 0), (150, 0)], [(110.0, 96.8), (63.0, 55.4)])
    uphill = replace(two, length_m=np.array([102.0, 50.0]))  # along the ground
    sets = replace(design.sets[0], main=one), replace(design.sets[1], main=uphill)
    found = amounts(replace(design, sets=sets), plans)
    assert found["", "pipe_m", (110.0, 96.8)] == pytest.approx(102.0, abs=0.01)
    assert found["", "pipe_m", (63.0, 55.4)] == pytest.approx(50 + 20, abs=0.01)
    assert ("", "pipe_m", (75.0, 66.0)) not in found
    same = amounts(replace(design, sets=(sets[1], sets[1])), plans)
    assert same["", "pipe_m", (110.0, 96.8)] == pytest.approx(102.0, abs=0.01)


def test_bare_tube_bridges_the_gaps_of_a_row():
    track = Exclusion(shapely.box(-10, 70, 80, 74), 3.0)
    block = Block("B1", shapely.box(0, 0, 60, 160), RowRules(bearing_deg=0.0, row_spacing_m=2.5))
    plan = lay_rows(block, exclusions=(track,))
    assert plan.segments.letter.max() == 1
    design = design_of([plan], Water())
    first = np.flatnonzero(plan.segments.letter == 0)
    lines = replace(design.lines, last_letter=np.ones(plan.n_segments, dtype=int))
    bridged = bridged_m(replace(design, lines=lines), [plan])
    assert bridged[first] == pytest.approx(10.0)  # 4 m of track and 3 m to both sides
    assert bridged[plan.segments.letter == 1] == pytest.approx(0.0)
    found = amounts(replace(design, lines=lines), [plan])
    assert found["B1", "bridge_tube_m", (13.6,)] == pytest.approx(10.0 * len(first))


def test_nothing_for_a_site_without_vines():
    plans = [plan_of(width_m=4.0, length_m=9.0)]
    assert water_parts(design_of(plans, Water()), plans) == ()
