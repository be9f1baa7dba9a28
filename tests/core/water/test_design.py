"""A drip system as proposed: where tubes lie, which rows are watered together, and what flows in all of it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import Block, Exclusion, RowRules, lay_rows
from layoutdesk.core.model import Override
from layoutdesk.core.model.water import Drip, Source, Water
from layoutdesk.core.terrain.surface import GridSurface
from layoutdesk.core.water import Friction, block_flows, set_figures, sets
from layoutdesk.core.water.designing import design_water
from layoutdesk.core.water.drips import emitter_of
from layoutdesk.core.water.lines import lateral_lines, vine_places
from layoutdesk.core.water.submains import manifold_of
from tests.epanet_network import GRAVITY_M_S2, VISCOSITY_M2_S, solve_network

RULES = RowRules(bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.5)


def plan_of(outline=None, exclusions=(), rules=RULES, name="B1", **block):
    outline = shapely.box(0, 0, 60, 160) if outline is None else outline
    return lay_rows(Block(name, outline, rules, **block), exclusions=exclusions)


def water_of(source=None, name="B1", **drip) -> Water:
    return Water(((name, Drip(**drip)),), source or Source())


def tilted(east=0.0, north=0.0) -> GridSurface:
    """A plane through height 100 at the frame's origin."""
    at = np.arange(-100, 600, 10.0)
    heights = 100 + east * at[None, :] + north * at[::-1][:, None]

    def to_cells(xy):
        return np.column_stack([(xy[:, 0] + 105) / 10, (595 - xy[:, 1]) / 10])

    return GridSurface(heights, to_cells, 10.0, (-100, -100, 600, 600))


# where tubes lie


def test_every_vine_has_its_place_on_one_lateral_as_far_along_as_it_stands():
    plan = plan_of()
    lines = lateral_lines((plan,), Water())
    assert len(lines.laterals) == plan.n_segments
    assert lines.laterals.count.tolist() == plan.vines_of_segment.tolist()
    assert np.array_equal(lines.vine_lateral, plan.vines.segment)
    starts = plan.segment_ends_m[lines.vine_lateral, 0]
    away = np.linalg.norm(plan.vines.xy_m - starts, axis=1)
    assert np.allclose(lines.vine_outlet_m, away, atol=1e-9)
    assert np.allclose(lines.length_m, plan.segments.length_m)


def test_vines_left_out_and_added_have_no_outlet_and_one():
    plan = plan_of()
    gone, there = plan.vines.xy_m[3], plan.vines.xy_m[40]
    more = there + (0, 0.6)
    overrides = (
        Override("vine left out", 0, *gone.tolist()),
        Override("vine added", 0, *more.tolist()),
    )
    special = plan_of(overrides=overrides)
    assert len(special.special.gap_segment) == len(special.special.added_segment) == 1
    segment, along = vine_places(special)
    assert np.allclose(special.places(segment, along), special.vines.xy_m, atol=1e-9)
    lines = lateral_lines((special,), Water())
    assert lines.laterals.count.tolist() == special.vines_of_segment.tolist()
    assert (np.diff(lines.laterals.outlet_m)[~lines.laterals.apart] > 0).all()


def test_tube_is_as_long_as_the_ground_where_it_slopes():
    plan = plan_of()
    level = lateral_lines((plan,), water_of(fed="start end"))
    steep = lateral_lines((plan,), water_of(fed="start end"), tilted(north=0.2))
    # 1.0198 m of ground for a metre in plan at 20 %: from definition
    assert np.allclose(steep.length_m / level.length_m, np.hypot(1, 0.2), rtol=1e-9)
    rise = steep.laterals.rise_m
    assert np.allclose(rise, 0.2 * level.laterals.outlet_m, atol=1e-6)
    assert steep.heights_known
    assert not level.heights_known


@pytest.mark.parametrize(("bridge_m", "tubes_a_row"), [(10.0, 1), (4.0, 2)])
def test_segments_parted_by_less_than_a_bridge_are_one_lateral(bridge_m, tubes_a_row):
    plan = plan_of(rules=replace(RULES, alley_every_m=80.0, alley_width_m=6.0))
    rows = plan.n_rows
    assert plan.n_segments == 2 * rows
    lines = lateral_lines((plan,), water_of(bridge_m=bridge_m))
    assert len(lines.laterals) == tubes_a_row * rows
    assert lines.laterals.count.sum() == plan.n_vines
    letters = {(0, 1)} if tubes_a_row == 1 else {(0, 0), (1, 1)}
    assert set(zip(lines.letter.tolist(), lines.last_letter.tolist(), strict=True)) == letters
    if tubes_a_row == 1:  # the gap is tube too
        assert np.allclose(lines.length_m, 160 - 16)


def test_inlets_stand_where_the_water_is_said_to_come_from():
    plan = plan_of()
    ends = plan.segment_ends_m
    at = {}
    for fed in ("start end", "far end", "middle"):
        at[fed] = lateral_lines((plan,), water_of(fed=fed)).inlet_xy_m
    assert np.allclose(at["start end"], ends[:, 0])
    assert np.allclose(at["far end"], ends[:, 1])
    for north, ends_then in ((0.02, "far end"), (-0.02, "start end"), (0.0, "start end")):
        lines = lateral_lines((plan,), water_of(fed="higher end"), tilted(north=north))
        assert np.allclose(lines.inlet_xy_m, at[ends_then])
    crossing = water_of(fed="line", line_m=((-10.0, 60.0), (80.0, 90.0)))
    found = lateral_lines((plan,), crossing).inlet_xy_m
    assert np.allclose(found[:, 1], 60 + (found[:, 0] + 10) / 3, atol=1e-6)
    beside = water_of(fed="line", line_m=((-10.0, 170.0), (80.0, 170.0)))
    assert np.allclose(lateral_lines((plan,), beside).inlet_xy_m, ends[:, 1])
    middle = lateral_lines((plan,), water_of(fed="middle")).laterals
    before = middle.summed((~middle.onward).astype(float))
    assert np.abs(2 * before - middle.count).max() <= 1


def test_a_middle_inlet_stands_at_a_segments_end_and_never_over_a_gap():
    plan = plan_of(rules=replace(RULES, alley_every_m=80.0, alley_width_m=6.0))
    lines = lateral_lines((plan,), water_of(fed="middle", bridge_m=10.0))
    y = lines.inlet_xy_m[:, 1]
    assert not ((y > 77 + 1e-6) & (y < 83 - 1e-6)).any()


def test_a_submain_in_a_bridged_alley_feeds_the_rows_beside_it():
    plan = plan_of(rules=replace(RULES, alley_every_m=80.0, alley_width_m=6.0))
    for y, fed_at in ((80.2, 83.0), (79.8, 77.0)):
        drawn = water_of(fed="line", line_m=((-5.0, y), (65.0, y)), bridge_m=10.0)
        assert np.allclose(lateral_lines((plan,), drawn).inlet_xy_m[:, 1], fed_at, atol=1e-6)


def test_a_block_beyond_the_heights_stands_as_high_as_the_others():
    class Known:
        spacing_m, bounds_m = 5.0, (-50.0, -50.0, 100.0, 200.0)

        def heights_m(self, xy_m):
            return np.where(np.asarray(xy_m)[:, 0] < 100, 200.0, np.nan)

    far = plan_of(shapely.box(200, 0, 260, 160), name="B2")
    design = design_water((plan_of(), far), Water(), Known())
    assert {s.valve_height_m for s in design.sets} == {200.0}
    assert all(s.source_head_m > 15 for s in design.sets)
    assert not design.lines.heights_known
    nowhere = design_water((far,), Water(), Known())
    assert (nowhere.source_height_m, nowhere.sets[0].valve_height_m) == (0.0, 0.0)


def test_emitters_in_the_line_give_each_vine_its_share_of_them():
    plan = plan_of()
    design = design_water((plan,), water_of(inline_m=0.5, emitter_l_h=0.7, exponent=0.0))
    # a vine every 1.5 m has three emitters
    assert np.allclose(design.vine_flow_l_h, 2.1)
    outlets = design.lines.laterals.count
    assert outlets.tolist() == (plan.segments.length_m / 0.5 + 0.5).astype(int).tolist()


# sets, submains and mains


def test_nothing_is_lost_between_vines_sets_and_source():
    plan = plan_of(shapely.box(0, 0, 200, 160))
    design = design_water((plan,), water_of(exponent=0.5), tilted(0.02, -0.01))
    assert (design.flow.converged).all()
    each = np.bincount(design.set_of_lateral, design.flow.total_l_h) / 1000
    assert np.allclose(each, [s.flow_m3_h for s in design.sets])
    assert design.vine_flow_l_h.sum() / 1000 == pytest.approx(each.sum(), rel=1e-9)
    for one in design.sets:
        assert sum(b.flow_m3_h[0] for b in one.branches) == pytest.approx(one.flow_m3_h)
        for branch in one.branches:
            # what a lateral takes is what less flows on
            onward = np.append(branch.flow_m3_h[1:], 0.0)
            took = design.flow.total_l_h[branch.lateral] / 1000
            assert np.allclose(branch.flow_m3_h - onward, took, atol=1e-9)
            head = (
                one.head_m - np.cumsum(branch.loss_m) - (branch.height_m[1:] - one.valve_height_m)
            )
            assert np.allclose(design.flow.inlet_head_m[branch.lateral], head, atol=2e-5)
        laid = np.concatenate([b.lateral for b in one.branches])
        assert sorted(laid.tolist()) == sorted(one.laterals.tolist())


def test_sets_are_as_few_as_the_source_feeds_and_nearly_alike():
    plan = plan_of(shapely.box(0, 0, 200, 160))
    flow = plan.n_vines * 2.0 / 1000
    for gives in (6.0, 11.0, 40.0):
        source = Source(curve=((0, 60), (gives, 50)), is_assumed=False)
        design = design_water((plan,), water_of(source, head_m=10.0, exponent=0.0))
        assert len(design.sets) == int(np.ceil(flow / gives - 1e-9))
        assert all(s.flow_m3_h <= gives * 1.001 for s in design.sets)
        sizes = [len(s.laterals) for s in design.sets]
        assert max(sizes) - min(sizes) <= 1
        assert [s.number for s in design.sets] == list(range(1, len(sizes) + 1))
    said = design_water((plan,), water_of(Source(), sets=5))
    assert len(said.sets) == 5


def test_a_few_rows_have_as_many_sets_as_leave_none_unserved():
    plan = plan_of(shapely.box(0, 0, 18, 160))
    assert plan.n_rows == 5
    flow = plan.n_vines * 2.0 / 1000
    source = Source(curve=((0, 60), (flow / 2 * 1.001, 50)), is_assumed=False)
    design = design_water((plan,), water_of(source, head_m=10.0, exponent=0.0))
    assert all(s.is_served for s in design.sets)
    assert len(design.sets) == 3


def test_a_source_too_weak_for_the_head_is_told_and_not_hidden():
    plan = plan_of()
    weak = Source(curve=((0, 12), (30, 8)), is_assumed=False)
    (one,) = design_water((plan,), water_of(weak, sets=1)).sets
    assert one.source_head_m > 15 + weak.losses_m
    assert not one.is_served


def test_pipes_run_no_faster_than_permitted_and_grow_towards_the_valve():
    plan = plan_of(shapely.box(0, 0, 300, 160))
    water = water_of(Source(curve=((0, 60), (60, 50)), velocity_m_s=1.2), exponent=0.5)
    design = design_water((plan,), water)
    widest = water.pipes_mm[-1][1]
    for one in design.sets:
        for run in (*one.branches, one.main):
            assert ((run.velocity_m_s <= 1.2 + 1e-9) | (run.inner_mm == widest)).all()
            assert {(o, i) for o, i in zip(run.outer_mm, run.inner_mm, strict=True)} <= set(
                water.pipes_mm
            )
        for branch in one.branches:
            assert (np.diff(branch.inner_mm) <= 0).all()
        assert one.variation_pct <= 10.0


def test_a_wider_submain_never_waters_less_evenly():
    plan = plan_of(shapely.box(0, 0, 300, 160))
    source = Source(curve=((0, 60), (60, 50)), velocity_m_s=3.0)
    loose, strict = (
        design_water((plan,), water_of(source, exponent=0.5, variation_pct=v)) for v in (20.0, 8.0)
    )
    thinner = [np.concatenate([b.inner_mm for b in s.branches]) for s in loose.sets]
    wider = [np.concatenate([b.inner_mm for b in s.branches]) for s in strict.sets]
    assert all((a <= b).all() for a, b in zip(thinner, wider, strict=True))
    assert sum(map(np.sum, wider)) > sum(map(np.sum, thinner))
    assert min(s.eu_pct for s in strict.sets) > min(s.eu_pct for s in loose.sets)


def test_a_submain_that_climbs_has_more_sets_so_that_each_keeps_its_pressure():
    plan = plan_of(shapely.box(0, 0, 200, 160))
    source = Source(curve=((0, 90), (60, 80)), is_assumed=False)
    level = design_water((plan,), water_of(source))
    steep = design_water((plan,), water_of(source), tilted(east=0.15))
    assert len(level.sets) == 1
    assert len(steep.sets) > 1
    for one in steep.sets:
        heads = steep.flow.head_m[np.isin(steep.lines.laterals.lateral, one.laterals)]
        assert heads.min() >= 5.0
    # what is higher up asks more of the source
    asked = [s.source_head_m for s in steep.sets]
    assert asked == sorted(asked)


def test_rows_cut_by_a_wide_alley_have_two_submains():
    rules = replace(RULES, alley_every_m=80.0, alley_width_m=20.0)
    design = design_water((plan_of(rules=rules),), water_of(Source(curve=((0, 60), (60, 50)))))
    assert len(design.sets) == 2
    south, north = design.sets
    assert south.valve_xy_m[1] < 20
    assert north.valve_xy_m[1] > 80


def test_rows_behind_a_pond_are_watered_too():
    pond = Exclusion(shapely.Point(30, 80).buffer(12), 3.0, "pond")
    design = design_water((plan_of(exclusions=(pond,)),), Water())
    assert (design.set_of_lateral >= 0).all()
    assert (design.vine_flow_l_h > 1.5).all()


def test_rows_walked_the_other_way_are_watered_the_same():
    outline = shapely.Polygon([(0, 0), (90, 0), (122, 150), (-18, 170)])
    rules = replace(RULES, first_vine_m=1.0, last_vine_m=1.0, leftover="both ends", first_row_m=0.5)
    there = plan_of(outline, rules=rules)
    # the left extreme is the other side now; rows stand on the same lines
    low, high = there.extent_across_m
    first = (high - low - 0.5) % 2.5
    back = plan_of(outline, rules=replace(rules, bearing_deg=180.0, first_row_m=first))
    a = design_water((there,), water_of(exponent=0.5, sets=2, fed="start end"), tilted(0.02, 0.01))
    b = design_water((back,), water_of(exponent=0.5, sets=2, fed="far end"), tilted(0.02, 0.01))
    assert there.n_vines == back.n_vines
    assert np.allclose(np.sort(a.vine_flow_l_h), np.sort(b.vine_flow_l_h), rtol=1e-6)
    assert [len(s.laterals) for s in a.sets] == [len(s.laterals) for s in b.sets][::-1]


def test_blocks_have_their_own_drip_and_sets_are_numbered_over_the_site():
    east = shapely.box(80, 0, 140, 160)
    plans = (plan_of(), plan_of(east, name="B2"))
    water = Water((("B1", Drip(sets=2)), ("B2", Drip(emitter_l_h=4.0, exponent=0.5, sets=1))))
    design = design_water(plans, water)
    assert [(s.number, s.block) for s in design.sets] == [(1, 0), (2, 0), (3, 1)]
    both = np.split(design.vine_flow_l_h, [plans[0].n_vines])
    assert both[0].mean() == pytest.approx(2.0, rel=0.05)
    assert both[1].mean() > 4.0
    assert design.vine_share.mean() == pytest.approx(1.0)


def test_lines_that_are_kept_give_the_same_design():
    plan, surface = plan_of(), tilted(0.01, 0.03)
    first = design_water((plan,), water_of(), surface)
    water = water_of(tube_mm=17.6, head_m=20.0, barb_loss=0.2)
    kept = design_water((plan,), water, surface, first.lines)
    fresh = design_water((plan,), water, surface)
    assert np.array_equal(kept.vine_flow_l_h, fresh.vine_flow_l_h)
    assert [s.source_head_m for s in kept.sets] == [s.source_head_m for s in fresh.sets]


def test_the_valve_stands_where_half_of_the_flow_goes_to_each_side():
    station = np.arange(6) * 2.0
    xy = np.column_stack([station, np.zeros(6)])
    flow = np.array([3.0, 1.0, 1.0, 1.0, 1.0, 1.0])
    one = manifold_of(np.arange(6), station, xy, np.zeros(6), flow)
    assert one.n_before == 2
    assert one.valve_xy_m == (3.0, 0.0)
    assert one.length_m.tolist() == [2.0, 1.0, 1.0, 2.0, 2.0, 2.0]
    assert one.summed_outward(flow).tolist() == [3.0, 4.0, 4.0, 3.0, 2.0, 1.0]


def test_water_stopped_at_once_makes_the_surge_that_joukowsky_says():
    # steel-hard pipe: the wave runs with the speed of sound in water, 1,483 m/s; 1 m/s makes 151 m
    assert set_figures.surge_m(1.0, 1e9, 1.0) == pytest.approx(1483.24 / 9.80665, rel=1e-4)
    assert set_figures.surge_m(2.0, 63.0, 55.4) == pytest.approx(
        2 * set_figures.surge_m(1.0, 63.0, 55.4)
    )


def test_a_site_without_rows_has_no_sets():
    design = design_water((plan_of(shapely.box(0, 0, 9, 9)),), Water())
    assert design.sets == ()
    assert len(design.vine_flow_l_h) == 0
    assert design_water((), Water()).sets == ()


# against EPANET


@pytest.mark.parametrize("exponent", [0.5, 0.05])
@pytest.mark.parametrize("slope", [(0.0, 0.0), (0.03, -0.02)])
@pytest.mark.parametrize("fed", ["start end", "middle"])
def test_a_whole_set_with_its_submain_is_as_epanet_has_it(
    tmp_path, exponent, slope, fed, monkeypatch
):
    """Valve, submain, drip lines and emitters as one network, to 0.05 % in every pressure and flow."""
    water = water_of(exponent=exponent, fed=fed, barb_loss=0.4, sets=1)
    plan = plan_of(shapely.box(0, 0, 75, 120))
    design, one, head, flow = _as_both_have_it(tmp_path, monkeypatch, plan, water, tilted(*slope))
    assert np.abs(design.flow.head_m / head - 1).max() < 5e-4
    assert np.abs(design.flow.flow_l_h / flow - 1).max() < 5e-4
    assert one.flow_m3_h == pytest.approx(flow.sum() / 1000, rel=5e-4)


@pytest.mark.parametrize("exponent", [1.0, 0.5])
def test_a_submain_far_too_thin_starves_its_rows_as_epanet_has_it(tmp_path, exponent, monkeypatch):
    """More than half of the head is lost in it: what rows take and what it loses hang on each other."""
    only = replace(water_of(exponent=exponent, sets=1, emitter_l_h=4.0), pipes_mm=((32.0, 28.0),))
    plan = plan_of(shapely.box(0, 0, 200, 120))
    design, one, head, flow = _as_both_have_it(tmp_path, monkeypatch, plan, only, None)
    assert design.flow.converged.all()
    assert design.flow.inlet_head_m.min() < one.head_m / 2
    assert np.abs(design.flow.head_m / head - 1).max() < 5e-4
    assert np.abs(design.flow.flow_l_h / flow - 1).max() < 5e-4


@pytest.mark.parametrize("exponent", [0.0, 0.05, 1.0])
def test_rows_that_a_submain_cannot_reach_run_dry_and_no_head_is_made_up(exponent):
    drip = Drip(exponent=exponent, head_m=5.0, emitter_l_h=8.0, sets=1)
    water = Water((("B1", drip),), Source(), ((32.0, 28.0),))
    design = design_water((plan_of(shapely.box(0, 0, 500, 166)),), water, tilted(-0.03, 0.1))
    assert design.flow.converged.all()
    (one,) = design.sets
    for branch in one.branches:
        down = one.head_m - np.cumsum(branch.loss_m) - (branch.height_m[1:] - one.valve_height_m)
        assert np.allclose(design.flow.inlet_head_m[branch.lateral], down, atol=1e-4)
    assert design.vine_flow_l_h.min() == 0.0


def _as_both_have_it(folder, monkeypatch, plan, water, surface):
    """A design of one set, and EPANET's heads and flows at its outlets, by its own constants."""
    friction = Friction(viscosity_m2_s=VISCOSITY_M2_S, gravity_m_s2=GRAVITY_M_S2)
    for module in (block_flows, set_figures, sets):
        monkeypatch.setattr(module, "friction_of", lambda drip: friction)
    design = design_water((plan,), water, surface)
    (one,) = design.sets
    count = _write_set(folder / "set.inp", design, one, water.drip_of("B1"), friction)
    head, flow, _ = solve_network(folder / "set.inp", count)
    return design, one, head, flow


def _write_set(path, design, one, drip, friction) -> int:
    """The network of a set: a reservoir at the valve, its submain's junctions, all outlets. Flows in L/s."""
    lat = design.lines.laterals
    outlets = len(lat.outlet_m)
    emitter = emitter_of(drip)
    rough = friction.roughness_m * 1e3
    junctions = [f"J{i} {z:.9f} 0" for i, z in enumerate(lat.outlet_height_m)]
    pipes = []
    for branch in one.branches:
        before = "V"
        for k, lateral in enumerate(branch.lateral.tolist()):
            junctions.append(f"S{lateral} {branch.height_m[k + 1]:.9f} 0")
            size, length = branch.inner_mm[k], branch.length_m[k]
            pipes.append(
                f"M{lateral} {before} S{lateral} {length:.9f} {size:.6f} {rough:.9g} 0 OPEN"
            )
            before = f"S{lateral}"
    for i, lateral in enumerate(lat.lateral.tolist()):
        start = f"S{lateral}" if lat.at_inlet[i] else f"J{i - 1 if lat.onward[i] else i + 1}"
        size = lat.diameter_m[lateral] * 1e3
        pipes.append(
            f"P{i} {start} J{i} {lat.piece_m[i]:.9f} {size:.9f} {rough:.9g} {lat.barb_loss[i]} OPEN"
        )
    lines = ["[JUNCTIONS]", *junctions, "[RESERVOIRS]", f"V {one.valve_height_m + one.head_m:.9f}"]
    lines += ["[PIPES]", *pipes, "[EMITTERS]"]
    lines += [f"J{i} {e * emitter.k_l_h / 3600:.12g}" for i, e in enumerate(lat.emitters)]
    lines += ["[OPTIONS]", "UNITS LPS", "HEADLOSS D-W", f"EMITTER EXPONENT {drip.exponent}"]
    lines += [f"VISCOSITY {friction.viscosity_m2_s / VISCOSITY_M2_S:.12g}", "TRIALS 2000"]
    lines += ["ACCURACY 0.00001", "UNBALANCED STOP", "[TIMES]", "DURATION 0", "[REPORT]"]
    lines += ["STATUS NO", "SUMMARY NO", "MESSAGES NO", "[END]", ""]
    path.write_text("\n".join(lines))
    return outlets


def test_ground_known_to_lie_at_the_sea_is_known():
    low = design_water((plan_of(),), water_of(Source(level_m=-4.0)), Flat(0.0))
    high = design_water((plan_of(),), water_of(Source(level_m=96.0)), Flat(100.0))
    assert low.lines.heights_known
    assert low.source_height_m == -4.0
    asked = [[s.source_head_m for s in d.sets] for d in (low, high)]
    assert np.allclose(asked[0], asked[1])


class Flat:
    """Ground at one height everywhere."""

    spacing_m, bounds_m = 5.0, (-1e3, -1e3, 1e3, 1e3)

    def __init__(self, height_m):
        self.height_m = height_m

    def heights_m(self, xy_m):
        return np.full(len(xy_m), self.height_m)
