"""Needs rounded up to what is sold, and wires cut from rolls."""

from __future__ import annotations

import pytest
import shapely

from layoutdesk import Block, RowRules, lay_rows
from layoutdesk.core.materials.rolls import cut_rolls
from layoutdesk.core.materials.takeoff import take_off
from layoutdesk.core.materials.units_of_sale import (
    WIRE,
    Need,
    Product,
    SaleUnit,
    needs,
    orders,
    total,
    wire_roll,
)
from layoutdesk.core.model.trellis import Trellis, Wire

BOX = shapely.box(0, 0, 60, 120)
PLAN = lay_rows(Block("B1", BOX))
OTHER = lay_rows(Block("B2", BOX, RowRules(bearing_deg=90)))


def ordered(counted, spares, **sold):
    need = Need(Product("shelters"), counted, spares, "each")
    return orders([need], {"shelters": SaleUnit(**sold)})[0]


@pytest.mark.parametrize(
    ("counted", "spares", "units", "pallets"),
    [(100, 0, 2, 1), (100, 1, 3, 1), (350, 0, 7, 1), (399, 2, 9, 2), (0, 0, 0, 0)],
)
def test_rounded_up_to_bundles_on_pallets(counted, spares, units, pallets):
    order = ordered(counted, spares, name="bundle", holds=50, price=30.0, per_pallet=8)
    assert (order.units, order.pallets) == (units, pallets)
    assert order.price == 30.0 * units


def test_where_only_whole_pallets_are_sold():
    order = ordered(399, 2, name="bundle", holds=50, per_pallet=8, whole_pallets=True)
    assert (order.units, order.pallets, order.holds) == (16, 2, 800)
    assert order.beyond == 800 - 401


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("holds", {"holds": 0}),
        ("price", {"price": -1}),
        ("per_pallet", {"per_pallet": 2.5}),
        ("per_pallet", {"whole_pallets": True}),
    ],
)
def test_units_that_cannot_be_are_refused(field, wrong):
    with pytest.raises(ValueError, match=rf"^{field}: "):
        SaleUnit(**wrong)


def test_wires_of_one_size_come_from_the_same_rolls():
    alike = Wire(2.5, 1200, 900)
    same = Trellis(foliage_wire=alike, drip_wire=alike)
    found = needs(take_off([PLAN, OTHER], {"B1": same, "B2": same}))
    wires = [n for n in found if n.product.item == WIRE]
    assert [n.product.size for n in wires] == [(2.5, 1200.0), (4.0, 600.0)]
    assert len(wires[0].cuts_m) == 7 * (PLAN.n_segments + OTHER.n_segments)


def test_posts_of_two_lengths_are_two_products():
    tall = Trellis(line_post_length_m=2.6)
    found = needs(take_off([PLAN, OTHER], {"B1": tall}))
    posts = {n.product.size: n.counted for n in found if n.product.item == "line_posts"}
    assert posts == {(2.5,): len(OTHER.line_posts), (2.6,): len(PLAN.line_posts)}


def test_spares_are_whole_pieces_block_by_block():
    few = Trellis(spares_pct={"anchors": 1})
    found = needs(take_off([PLAN, OTHER], {"B1": few, "B2": few}))
    anchors = next(n for n in found if n.product.item == "anchors")
    assert (PLAN.n_segments, OTHER.n_segments) == (23, 48)
    assert anchors.spares == 1 + 1


def test_wires_longer_than_rolls_and_joins_allow_are_told_and_ordered():
    trellis = Trellis(joins_allowed=0)
    need = needs(take_off([PLAN], {"B1": trellis}))
    order = next(o for o in orders(need, {WIRE: wire_roll(60.0, 2.5)}) if o.cutting)
    assert order.over_joined == len(order.need.cuts_m)
    assert order.cutting.joins.max() == 1
    fits = next(o for o in orders(need, {WIRE: wire_roll(600.0, 2.5)}) if o.cutting)
    assert fits.over_joined == 0


def test_joins_save_rolls_and_are_no_more_than_that_takes():
    # One to a roll without joins; with one join each, three wires come from two rolls.
    assert cut_rolls([400.0] * 30, 610.0, 0).n_rolls == 30
    joined = cut_rolls([400.0] * 30, 610.0, 1)
    assert joined.n_rolls == joined.bound == 20
    assert joined.joins.max() == 1
    assert joined.n_joins <= 19
    assert joined.piece_m.min() >= 5.0


def test_no_join_where_none_saves_a_roll():
    assert cut_rolls([300.0, 300.0, 250.0, 350.0], 600.0, 3).n_joins == 0


def test_nothing_is_joined_on_a_stump():
    found = cut_rolls([602.0], 600.0, 1)
    assert found.n_rolls == 2
    assert found.piece_m.min() >= 5.0


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"cuts_m": [0.0]}, "cuts_m"),
        ({"cuts_m": [float("nan")]}, "cuts_m"),
        ({"cuts_m": [601.0]}, "cuts_m: a wire of 601.00 m needs 1 joins"),
        ({"cuts_m": [10.0], "roll_m": 0.1}, "roll_m"),
    ],
)
def test_what_cannot_be_cut_is_refused(wrong, message):
    with pytest.raises(ValueError, match=message):
        cut_rolls(**{"roll_m": 600.0, **wrong})


def test_unknown_prices_are_counted_and_not_taken_as_nothing():
    lines = [ordered(100, 0, holds=50, price=30.0), ordered(100, 0, holds=50)]
    assert total(lines, "price") == (60.0, 1)
