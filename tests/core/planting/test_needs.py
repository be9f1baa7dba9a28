"""What is needed of each plant, what is there of each lot, what tags say otherwise, and what is told of it."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model import Assignment, Lot, Part, Plant, Planting, Tag
from layoutdesk.core.model.findings import FINDINGS
from layoutdesk.core.model.planting import Setting
from layoutdesk.core.planting.assigned import assigned
from layoutdesk.core.planting.needs import lot_uses, months_before, needs, planting_findings
from tests.core.planting.planted_rows import N_VINES, PLANS, random_part

WHITE, RED, OTHER = Plant("Furmint", "F 5", "5BB"), Plant("Saperavi", "", "SO4"), Plant("Aligoté")
DAY = datetime.date(2027, 3, 31)
LONG_AGO = datetime.date(2020, 1, 1)
WHOLE = (Part("B1"), Part("Old Mill"))


def told(planting: Planting, today=LONG_AGO, begins=DAY):
    """Findings by code, and needs and uses behind them."""
    found = assigned(PLANS, planting)
    needed, uses = needs(found, begins), lot_uses(found)
    findings = planting_findings(found, needed, uses, begins, today)
    assert all(f.code in FINDINGS for f in findings)
    return {f.code: f for f in findings}, needed, uses


def one_lot(lot: Lot, *tags: Tag, parts=WHOLE) -> Planting:
    return Planting(lots=(lot,), tags=tags, assignments=(Assignment(parts, lot.plant, lot.name),))


@pytest.mark.parametrize("seed", range(20))
def test_vines_of_all_plants_and_uses_are_the_assigned_vines(seed):
    rng = np.random.default_rng(seed)
    said = tuple(
        Assignment(
            (random_part(rng),),
            (WHITE, RED, OTHER)[rng.integers(3)],
            use=("crop", "buffer", "trial")[rng.integers(3)],
        )
        for _ in range(5)
    )
    found = assigned(PLANS, Planting(assignments=said))
    needed = needs(found, None)
    assert sum(n.vines for n in needed) == (found.assignment >= 0).sum()
    for need in needed:
        assert sum(n for _, n in need.vines_by_use) == need.vines
    for use in ("crop", "buffer", "trial"):
        of_use = sum(dict(need.vines_by_use).get(use, 0) for need in needed)
        assert of_use == sum(
            (found.assignment == i).sum() for i, a in enumerate(said) if a.use == use
        )


@pytest.mark.parametrize(("pct", "spares"), [(0, 0), (2, 15), (5, 36), (50, 356)])
def test_spares_are_whole_plants_rounded_up(pct, spares):
    # Of 712 vines 2 % are 14.24, 5 % are 35.6.
    assert N_VINES == 712
    planting = Planting(assignments=(Assignment(WHOLE, WHITE),), setting=Setting(spares_pct=pct))
    (need,) = needs(assigned(PLANS, planting), None)
    assert (need.vines, need.spares, need.short) == (712, spares, 712 + spares)


def test_two_per_cent_of_fifty_is_one_plant():
    planting = Planting(assignments=(Assignment(WHOLE, WHITE),))
    found = assigned(PLANS, planting)
    found = replace(found, plant=np.where(np.arange(N_VINES) < 50, found.plant, np.int16(-1)))
    (need,) = needs(found, None)
    assert (need.vines, need.spares) == (50, 1)


def test_what_came_what_is_on_order_and_what_is_short_are_told_apart():
    lots = (
        Lot("a", WHITE, ordered=400, delivered=380, rejected=30, came=datetime.date(2027, 3, 1)),
        Lot("b", WHITE, ordered=200),
        Lot("c", RED, ordered=50, delivered=50),
    )
    planting = Planting(lots=lots, assignments=(Assignment(WHOLE, WHITE),))
    white, red = needs(assigned(PLANS, planting), None)
    # 712 vines and 15 spares; of lot a 350 can be planted and nothing more will come.
    assert (white.wanted, white.ordered, white.usable, white.on_order) == (727, 600, 350, 200)
    assert (white.short, white.surplus) == (727 - 550, 0)
    assert (red.vines, red.short, red.surplus) == (0, 0, 50)


@pytest.mark.parametrize(
    ("day", "months", "before"),
    [
        # By hand: the same day of the month, or the month's last.
        ((2027, 3, 31), 16, (2025, 11, 30)),
        ((2028, 2, 29), 12, (2027, 2, 28)),
        ((2027, 1, 15), 1, (2026, 12, 15)),
        ((2027, 3, 31), 1, (2027, 2, 28)),
        ((2028, 3, 31), 1, (2028, 2, 29)),
        ((2027, 3, 31), 1.5, (2027, 2, 13)),
    ],
)
def test_months_before_stay_inside_the_month(day, months, before):
    assert months_before(datetime.date(*day), months) == datetime.date(*before)


def test_last_days_to_order_follow_from_the_planting_day_and_the_way_plants_are_grown():
    planting = Planting(assignments=(Assignment(WHOLE, WHITE),))
    (need,) = needs(assigned(PLANS, planting), DAY)
    # 16 weeks before 31 March 2027 is 9 December 2026; 16 months before it is 30 November 2025.
    both = ("potted", datetime.date(2026, 12, 9)), ("bare root", datetime.date(2025, 11, 30))
    assert need.order_by == both
    (need,) = needs(assigned(PLANS, planting), None)
    assert need.order_by == ()
    dormant = Lot("a", WHITE, grown="bare root")
    (need,) = needs(assigned(PLANS, one_lot(dormant)), DAY)
    assert need.order_by == both[1:]


@pytest.mark.parametrize(
    ("today", "codes"),
    [
        # Potted plants by 9 December 2026; told 60 days before.
        ((2026, 10, 9), set()),
        ((2026, 10, 10), {"order-due"}),
        ((2026, 12, 9), {"order-due"}),
        ((2026, 12, 10), {"order-late"}),
    ],
)
def test_an_order_is_told_as_due_and_then_as_late(today, codes):
    planting = Planting(assignments=(Assignment(WHOLE, WHITE),))
    found, _, _ = told(planting, datetime.date(*today))
    assert {code for code in found if code.startswith("order-")} == codes
    assert "plants-short" in found


def test_nothing_is_due_where_all_is_there():
    lot = Lot("a", WHITE, delivered=800, tags_recorded=True)
    tag = Tag("a", "Furmint", plants=40)
    found, _, _ = told(one_lot(lot, tag), datetime.date(2027, 3, 30))
    assert found == {}


def test_a_lot_assigned_to_more_vines_than_it_has_plants_is_told_with_both_counts():
    lot = Lot("a", WHITE, ordered=900, delivered=710, rejected=10)
    found, _, (use,) = told(one_lot(lot))
    assert (use.vines, use.left) == (712, -12)
    assert "712" in found["lot-over-assigned"].message
    assert "700" in found["lot-over-assigned"].message
    # Before it came what is ordered counts; where nobody said how many, nothing is told.
    _, _, (use,) = told(one_lot(Lot("a", WHITE, ordered=900)))
    assert use.left == 188
    found, _, (use,) = told(one_lot(Lot("a", WHITE)))
    assert not use.is_counted
    assert "lot-over-assigned" not in found


def test_a_tag_that_says_otherwise_is_told_case_and_spaces_apart():
    lot = Lot("27-A", WHITE, delivered=800, grafted=datetime.date(2026, 2, 1), tags_recorded=True)
    same = Tag("27-a", "x", "FURMINT", "f5", "5 bb", datetime.date(2026, 2, 1), plants=40)
    found, _, (use,) = told(one_lot(lot, same))
    assert (use.contradictions, use.tagged_plants) == ((), 40)
    assert "tags-contradict" not in found
    for other in (
        replace(same, variety="Saperavi"),
        replace(same, clone="F 9"),
        replace(same, rootstock="SO4"),
        replace(same, grafted=datetime.date(2026, 2, 3)),
    ):
        found, _, (use,) = told(one_lot(lot, same, other))
        assert len(use.contradictions) == 1
        assert found["tags-contradict"].where == "27-A"
        # A struck tag does not count.
        found, _, (use,) = told(one_lot(lot, same, replace(other, struck="misread")))
        assert not use.contradictions
        assert use.tags == 1
        assert "tags-contradict" not in found


def test_tags_are_missing_until_all_are_said_to_be_recorded_and_about_one_in_twenty_is_there():
    came = Lot("a", WHITE, delivered=800)
    found, _, (use,) = told(one_lot(came))
    assert use.usual_tags == 40
    assert found["tags-missing"].severity == FINDINGS["tags-missing"][0]
    recorded = replace(came, tags_recorded=True)
    found, _, _ = told(one_lot(recorded, Tag("a", "t", plants=5)))
    assert found["tags-missing"].severity == "note"
    found, _, _ = told(one_lot(recorded, Tag("a", "t", plants=20)))
    assert "tags-missing" not in found
    # A lot that did not come, or is not assigned, is not waited for.
    assert "tags-missing" not in told(one_lot(Lot("a", WHITE, ordered=800)))[0]
    assert "tags-missing" not in told(Planting(lots=(came,)))[0]


def test_vines_without_a_plant_are_counted_and_the_first_is_named():
    lot = Lot("a", WHITE, delivered=800, tags_recorded=True)
    planting = one_lot(lot, parts=(Part("B1", 1, 1), Part("Old Mill")))
    bare = told(planting)[0]["vines-unassigned"]
    row = PLANS[0].segments.number[PLANS[0].vines.segment]
    assert bare.where == "B1-R002A-V001"
    assert bare.message.startswith(f"{(row > 1).sum()} vines ")
    assert np.allclose(bare.place, PLANS[0].vines.xy_m[(row > 1).argmax()])


def test_parts_that_hit_nothing_and_lots_that_are_gone_are_told():
    lot = Lot("a", WHITE, delivered=800)
    found, _, _ = told(one_lot(lot, parts=(Part("B1"), Part("Old Mill", 90, 99))))
    assert "Old Mill" in found["assignment-unfit"].message
    gone = Planting(assignments=(Assignment(WHOLE, WHITE, "z"),))
    assert found["assignment-unfit"].where == "Old Mill"
    assert told(gone)[0]["assignment-unfit"].where == "z"


def test_nothing_is_told_of_a_site_of_which_nobody_said_anything():
    assert told(Planting(), begins=None)[0] == {}
