"""What must hold for any take-off and any way of cutting, whatever the rows."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk import Block, RowRules, lay_rows
from layoutdesk.core.materials.rolls import any_fit_at_most, cut_rolls, joins_needed, size_bound
from layoutdesk.core.materials.takeoff import COLUMN, difference, take_off
from layoutdesk.core.materials.units_of_sale import WIRE, SaleUnit, needs, orders
from layoutdesk.core.model.trellis import END_PARTS, ITEMS, FoliageWire, Trellis, Wire
from tests.properties.test_layout import few, rules_of, sites


@st.composite
def cuttings(draw):
    """Wires, a roll, and joins that are enough for the longest.

    By a seed: lists that are drawn one by one are mostly short and of wires that need no join.
    """
    rng = np.random.default_rng(draw(st.integers(0, 10**6)))
    roll = float(rng.choice([100.0, 253.0, 648.5]))
    low, high = rng.choice([(0.3, 0.95), (0.4, 0.7), (0.01, 0.5), (0.05, 2.6), (0.9, 1.1)])
    cuts = roll * rng.uniform(low, high, rng.integers(1, 80))
    if rng.random() < 0.3:
        cuts = rng.choice(cuts[:3], len(cuts))
    more = rng.integers(0, 3, len(cuts)) if rng.random() < 0.5 else rng.integers(0, 3)
    return cuts, roll, joins_needed(cuts, roll) + more


@st.composite
def trellises(draw):
    heights = draw(st.lists(st.floats(1.0, 1.7), max_size=3))
    return Trellis(
        ends=draw(st.sampled_from(list(END_PARTS))),
        foliage_wires=tuple(FoliageWire(h, draw(st.booleans())) for h in heights),
        foliage_wire=draw(st.sampled_from([Wire(), Wire(2.0, 1200.0, 500.0)])),
        drip_wire_height_m=draw(st.sampled_from([None, 0.4])),
        wrap_m=draw(st.floats(0, 1)),
        joins_allowed=draw(st.integers(0, 3)),
    )


@few
@given(cuttings())
def test_every_wire_is_delivered_from_rolls_that_hold_it(case):
    cuts, roll, allowed = case
    found = cut_rolls(cuts, roll, allowed)
    delivered = np.bincount(found.piece_cut, found.piece_m, minlength=len(cuts))
    delivered -= found.joins * found.join_m
    # Lengths are rounded up to whole millimetres.
    assert np.all(delivered >= cuts - 1e-6)
    assert np.all(delivered <= cuts + 1e-3 + 1e-6)
    assert np.all(found.joins <= allowed)
    assert np.all(found.joins >= 0)
    assert found.left_m.min() >= -1e-6
    assert np.all(found.piece_m[found.joins[found.piece_cut] > 0] >= 5.0)
    assert np.unique(found.piece_roll).tolist() == list(range(found.n_rolls))


@few
@given(cuttings())
def test_rolls_lie_between_what_is_proven(case):
    cuts, roll, allowed = case
    found = cut_rolls(cuts, roll, allowed)
    assert found.sum_bound >= np.sum(cuts) / roll
    assert found.bound <= found.n_rolls <= found.at_most
    # Joins that are allowed never make it more rolls.
    assert found.n_rolls <= cut_rolls(cuts, roll, joins_needed(cuts, roll)).n_rolls


@few
@given(st.lists(st.integers(1, 10), min_size=1, max_size=7))
def test_bounds_agree_with_the_best_of_all_ways(cuts):
    roll = 10
    best = fewest_by_trying(sorted(cuts, reverse=True), roll)
    assert size_bound(cuts, roll) <= best <= any_fit_at_most(cuts, roll)
    assert cut_rolls(cuts, roll, 0, 0.0, 0.0).n_rolls >= best


def fewest_by_trying(cuts, roll: int) -> int:
    """Fewest rolls by taking every set that fits for the longest wire left."""
    if not cuts:
        return 0
    first, rest = cuts[0], cuts[1:]
    best = len(cuts)
    for size in range(len(rest) + 1):
        for with_it in combinations(range(len(rest)), size):
            if first + sum(rest[i] for i in with_it) <= roll:
                left = [c for i, c in enumerate(rest) if i not in with_it]
                best = min(best, 1 + fewest_by_trying(left, roll))
    return best


@few
@given(sites(), rules_of(), trellises(), trellises())
def test_totals_add_up_over_levels(site, rules, one, other):
    outline, exclusions = site
    x0, _, x1, _ = outline.bounds
    beside = shapely.affinity.translate(outline, 2 * (x1 - x0))
    plans = [
        lay_rows(Block("B1", outline, rules), None, exclusions),
        lay_rows(Block("B2", beside, replace(rules, row_spacing_m=rules.row_spacing_m * 1.3))),
    ]
    found = take_off(plans, {"B1": one, "B2": other})
    for level in (found.amounts, found.rows, found.per_block):
        assert level.sum(axis=0) == pytest.approx(found.site, rel=1e-12)
    assert len(found.rows) == sum(p.n_rows for p in plans)
    pieces = [COLUMN[item] for item, (_, unit) in ITEMS.items() if unit == "each"]
    assert np.all(found.amounts[:, pieces] == np.round(found.amounts[:, pieces]))
    assert found.of("training_stakes") == found.vines.sum() == sum(p.n_vines for p in plans)
    assert found.of("end_posts") == sum(len(p.end_posts) for p in plans)
    assert found.of("line_posts") == sum(len(p.line_posts) for p in plans)
    metres = [COLUMN[i] for i in ITEMS if i.endswith("wire_m")]
    wires = [n for n in needs(found) if n.product.item == WIRE]
    assert sum(n.counted for n in wires) == pytest.approx(found.site[metres].sum())
    assert sum(n.cuts_m.sum() for n in wires) == pytest.approx(found.site[metres].sum())
    same = difference(found, found)
    assert all(not np.any(more) for more in same.values())


@few
@given(st.floats(10, 120), st.floats(20, 200), st.floats(1.2, 4), st.floats(0.01, 3), trellises())
def test_a_wider_row_spacing_never_needs_more(width_m, length_m, spacing_m, wider_m, trellis):
    outline = shapely.box(0, 0, width_m, length_m)
    sold = {WIRE: SaleUnit("roll", 400.0)}
    listed = []
    for spacing in (spacing_m, spacing_m + wider_m):
        rules = RowRules(row_spacing_m=spacing, headland_m=2, side_margin_m=1, min_row_m=5)
        found = take_off([lay_rows(Block("B1", outline, rules))], {"B1": trellis})
        bought = {o.need.product: o.units for o in orders(needs(found), sold)}
        listed.append((found.site, bought))
    (near, near_bought), (far, far_bought) = listed
    assert np.all(far <= near + 1e-9)
    assert all(units <= near_bought[product] for product, units in far_bought.items())


@few
@given(sites(), rules_of(), trellises(), st.floats(30, 900))
def test_what_is_bought_covers_need_and_spares(site, rules, trellis, roll_m):
    outline, exclusions = site
    plan = lay_rows(Block("B1", outline, rules), None, exclusions)
    sold = {WIRE: SaleUnit("roll", roll_m, price=40.0)}
    for order in orders(needs(take_off([plan], {"B1": trellis})), sold):
        assert order.beyond >= -1e-6
        if order.cutting is None:
            assert order.beyond < order.sold.holds
        else:
            assert order.units >= order.cutting.n_rolls
