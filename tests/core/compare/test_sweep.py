"""A sweep counts what full layouts hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.compare.sweep import plans_at, sweep, sweep_bearings
from layoutdesk.core.layout.clearances import alley_along
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Alley, Block, Candidate, EdgeWidth, Exclusion, RowRules
from tests.core.random_cases import aligned_case, random_case
from tests.zoo import ZOO, wavy

BEARINGS = [0.0, 17.0, 30.0, 45.0, 90.0, 119.9, 135.0, 163.25]


def counted(plans, short_row_m: float = 45.0) -> dict[str, float]:
    """The sweep's measures from the segments of full layouts."""
    length = np.concatenate([p.segments.length_m for p in plans])
    area = sum(p.block.outline.area for p in plans)
    planted = sum(p.segments.length_m.sum() * p.rules.row_spacing_m for p in plans)
    return {
        "vines": sum(p.n_vines for p in plans),
        "rows": sum(p.n_rows for p in plans),
        "segments": len(length),
        "row_length_m": length.sum(),
        "mean_row_m": length.mean() if len(length) else 0.0,
        "shortest_row_m": length.min() if len(length) else 0.0,
        "longest_row_m": length.max(initial=0.0),
        "short_rows": (length < short_row_m).sum(),
        "end_posts": sum(len(p.end_posts) for p in plans),
        "line_posts": sum(len(p.line_posts) for p in plans),
        "planted_share_pct": 100 * planted / area,
    }


def agree(blocks, exclusions, candidate=None, bearings=BEARINGS) -> None:
    candidate = candidate or Candidate()
    found = sweep(blocks, exclusions, candidate, bearings)
    for k, bearing in enumerate(bearings):
        if any(alley_along(candidate.rules_of(b.rules), bearing) for b in blocks):
            assert all(np.isnan(values[k]) for values in found.values.values())
            continue
        plans = plans_at(blocks, exclusions, replace(candidate, bearing_deg=bearing), check=False)
        wanted = counted(plans)
        got = {name: values[k] for name, values in found.values.items()}
        # Lengths: two searches for the same extreme end within a nanometre of each other, and a
        # crossing that is flat makes micrometres of that.
        assert got == pytest.approx(wanted, rel=1e-9, abs=1e-5), bearing
        assert all(got[n] == wanted[n] for n in ("vines", "rows", "segments", "short_rows")), (
            bearing
        )
        assert found.first_row_m[k] == pytest.approx(plans[0].first_row_m, abs=1e-6)


@pytest.mark.parametrize("name", sorted(ZOO))
def test_a_sweep_counts_what_layouts_hold_on_awkward_outlines(name):
    agree([Block("B1", ZOO[name], RowRules(min_row_m=6.0, headland_m=5.0))], ())


@pytest.mark.parametrize("seed", range(40))
def test_a_sweep_counts_what_layouts_hold_on_random_ground(seed):
    block, exclusions = random_case(seed) if seed % 2 else aligned_case(seed)
    rules = replace(block.rules, first_row_m=0.7) if block.rules.first_row_m == "best" else None
    block = replace(block, rules=rules or block.rules)
    bearings = [block.rules.bearing_deg, block.rules.bearing_deg + 90.0, *BEARINGS[::2]]
    agree([block], exclusions, bearings=bearings)


def test_every_degree_agrees_where_end_and_side_edges_change():
    block = Block("B1", wavy(120, 150, 5, 0.15), RowRules(headland_m=9.0, side_margin_m=2.5))
    pond = Exclusion(shapely.Point(20, 30).buffer(18), 4.0)
    agree([block], [pond], bearings=sweep_bearings())


def test_own_edge_widths_alleys_and_lattices_are_swept_too():
    rules = RowRules(
        leftover="across",
        lattice="staggered",
        alleys=(Alley(10.0, 5.0, 5.0), Alley(-30.0, 0.0, 4.0, 77.0)),
        alley_every_m=70.0,
    )
    block = Block("B1", shapely.box(-90, -70, 100, 80), rules, (EdgeWidth(0, 1, 14.0),))
    agree([block], (), bearings=[0.0, 10.0, 33.0, 120.0, 179.0])


def test_a_bearing_along_an_alley_is_left_blank_as_a_layout_of_it_is_refused():
    rules = RowRules(alleys=(Alley(0.0, 0.0, 5.0, 40.0),))
    block = Block("B1", shapely.box(-90, -70, 100, 80), rules)
    found = sweep([block], bearings_deg=[0.0, 30.0, 40.0, 60.0]).values["vines"]
    assert np.isnan(found).tolist() == [False, True, True, False]
    assert np.isnan(sweep([block], bearings_deg=[35.0]).values["rows"]).all()
    with pytest.raises(ValueError, match="runs along the rows"):
        lay_rows(block, replace(rules, bearing_deg=30.0))


def test_the_best_first_row_is_that_of_a_layout():
    block = Block("B1", ZOO["l-shape"] if "l-shape" in ZOO else shapely.box(0, 0, 61, 90))
    agree([block], (), Candidate(first_row_m="best", row_spacing_m=2.2), [0.0, 45.0, 90.0])


def test_several_blocks_add_up_and_a_candidate_changes_spacings():
    blocks = [
        Block("B1", shapely.box(0, 0, 100, 60)),
        Block("B2", shapely.box(120, 0, 160, 200), RowRules(row_spacing_m=3.0)),
    ]
    close = Candidate(row_spacing_m=2.0, vine_spacing_m=1.0, headland_m=6.0)
    agree(blocks, (), close)
    many = sweep(blocks, (), close, [0.0]).values["vines"][0]
    assert many > sweep(blocks, (), None, [0.0]).values["vines"][0]


def test_ground_without_room_gives_zeros():
    found = sweep([Block("B1", shapely.box(0, 0, 9, 9))], (), bearings_deg=[0.0, 50.0])
    assert all((values == 0).all() for values in found.values.values())


def test_progress_reaches_the_end_and_may_stop_the_work():
    shares = []
    sweep([Block("B1", wavy(4000, 150, 5, 0.1))], bearings_deg=[0, 1] * 60, progress=shares.append)
    assert shares[-1] == 1.0
    assert shares == sorted(shares)

    class Enough(Exception):
        pass

    def stop(share):
        raise Enough

    with pytest.raises(Enough):
        sweep([Block("B1", shapely.box(0, 0, 90, 90))], progress=stop)


def test_a_step_outside_its_range_is_named():
    with pytest.raises(ValueError, match="step_deg"):
        sweep_bearings(0.0)
    assert len(sweep_bearings(7.0)) == 26


def test_a_sweep_does_not_change_with_what_it_is_swept_with():
    block = Block("B1", wavy(60, 120, 4, 0.2))
    together = sweep([block], (), bearings_deg=sweep_bearings(3.0)).values
    alone = [sweep([block], (), bearings_deg=[b]).values for b in sweep_bearings(3.0)]
    for name, values in together.items():
        assert values == pytest.approx([v[name][0] for v in alone], rel=1e-9, abs=1e-5)


def test_a_layout_of_the_candidate_is_what_was_counted():
    block = Block("B1", wavy(60, 120, 4, 0.2))
    plan = lay_rows(block, Candidate(bearing_deg=33.0).rules_of(block.rules))
    assert sweep([block], bearings_deg=[33.0]).values["vines"][0] == plan.n_vines
