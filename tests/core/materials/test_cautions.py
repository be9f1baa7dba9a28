"""What is said about a trellis that looks wrong, and silence about one that does not."""

from __future__ import annotations

import pytest
import shapely

from layoutdesk import Block, RowRules, lay_rows
from layoutdesk.core.materials.cautions import (
    Conditions,
    anchor_room_m,
    post_spacing_m,
    trellis_findings,
    wire_checks,
)
from layoutdesk.core.model.trellis import Trellis, Wire


def codes(trellis=None, length_m=100.0, **rules):
    plan = lay_rows(Block("B1", shapely.box(0, 0, 30, length_m), RowRules(**rules)))
    return {f.code for f in trellis_findings(plan, trellis or Trellis())}


def test_the_usual_trellis_on_the_usual_rules_is_passed_without_a_word():
    assert codes() == set()


@pytest.mark.parametrize(
    ("code", "trellis", "rules"),
    [
        ("anchors-not-staked", {}, {"anchor_m": 0}),
        ("anchors-not-used", {"ends": "braced inside"}, {}),
        ("anchor-beyond-headland", {}, {"headland_m": 1.0, "anchor_m": 1.5}),
        ("end-lever-short", {}, {"anchor_m": 0.5}),
        ("rows-long-for-ties", {}, {"length_m": 250.0}),
        ("wire-near-breaking", {"fruiting_wire": Wire(2.5, 600, 1100)}, {}),
        ("wire-slack", {"foliage_wire": Wire(4.0, 600, 200)}, {}),
        ("trellis-tall", {}, {"row_spacing_m": 1.7}),
    ],
)
def test_said(code, trellis, rules):
    assert codes(Trellis(**trellis), **rules) == {code}


def test_braced_ends_may_be_long():
    assert codes(Trellis(ends="braced inside"), length_m=250.0, anchor_m=0) == set()


def test_room_behind_anchors():
    rules = RowRules(headland_m=8, anchor_m=1.2)
    plan = lay_rows(Block("B1", shapely.box(0, 0, 60, 100), rules))
    room = anchor_room_m(plan)
    assert room[10:-10] == pytest.approx(8 - 1.2)
    far = lay_rows(Block("B1", shapely.box(0, 0, 60, 100), RowRules(headland_m=1, anchor_m=3)))
    assert anchor_room_m(far)[10] == pytest.approx(-2.0)


def test_a_crop_hangs_through_more_than_a_bare_wire():
    plan = lay_rows(Block("B1", shapely.box(0, 0, 30, 100)))
    span = post_spacing_m(plan)
    assert span == pytest.approx(4 * 1.5)
    bare = {c.run.item: c for c in wire_checks(Trellis(), span, Conditions(crop_kg_m=0))}
    laden = {c.run.item: c for c in wire_checks(Trellis(), span)}
    assert laden["fruiting_wire_m"].sag_m > 10 * bare["fruiting_wire_m"].sag_m
    assert laden["foliage_wire_m"] == bare["foliage_wire_m"]
    check = laden["fruiting_wire_m"]
    assert check.cold_n > check.drawn_n > check.warm_n
