"""What is said of a drip system is true: shares, classes, advice tried again by hand, findings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from layoutdesk.core.model.water import Drip, Source, Water
from layoutdesk.core.water.judgement import (
    DU_CLASSES,
    EU_CLASSES,
    class_of,
    eu_target_pct,
    judged,
    water_findings,
)
from layoutdesk.core.water.pipe_faults import pipe_rating_m
from layoutdesk.core.water.stretches import found_stretches
from tests.core.water.hand_designs import design_of, plan_of, run_of

TURBULENT = Drip(exponent=0.5, emitter_l_h=2.0, head_m=12.0)
KNOWN = Source(is_assumed=False)


def of(drip, **plan):
    rows = [plan_of(**plan)]
    return rows, Water(drips=(("B1", drip),), source=KNOWN)


def codes(design, plans):
    return [f.code for f in water_findings(design, plans)]


def test_an_even_system_gets_a_calm_sentence_and_no_caution():
    plans, water = of(Drip())
    design = design_of(plans, water)
    said = judged(design, plans)
    assert said.worst == ()
    assert len(said.sentences) == 2
    assert "All 2,112 vines get the same within 1 %" in said.sentences[1]
    # By the printed formula: 1.27 · 0.05 with one emitter a vine, and hardly any difference of flows.
    least, mean = design.flow.emitter_l_h.min(), design.flow.emitter_l_h.mean()
    assert said.eu_pct == pytest.approx(100 * (1 - 1.27 * 0.05) * least / mean)
    assert said.eu_class == "excellent"
    assert codes(design, plans) == ["water-approval"]


def test_more_emitters_a_vine_even_each_other_out():
    plans, water = of(Drip(emitters_per_vine=2, emitter_l_h=1.0))
    said = judged(design_of(plans, water), plans)
    assert said.eu_pct == pytest.approx(100 * (1 - 1.27 * 0.05 / 2**0.5), rel=2e-3)


def test_stretches_are_the_vines_beyond_a_tenth_and_no_others():
    plans, water = of(replace(TURBULENT, tube_mm=11.0), length_m=260.0)
    design = design_of(plans, water)
    found = found_stretches(design, plans)
    share, inside = design.vine_share, np.zeros(len(design.vine_share), dtype=bool)
    for first, last, mean, lateral in zip(
        found.first, found.last, found.share, found.lateral, strict=True
    ):
        run = slice(first, last + 1)
        assert (design.lines.vine_lateral[run] == lateral).all()
        assert share[run].mean() == pytest.approx(mean)
        assert (share[run] < 0.9).all() or (share[run] > 1.1).all()
        inside[run] = True
    assert ((share < 0.9) | (share > 1.1)).tolist() == inside.tolist()
    short = found.share < 1
    assert found.at_tail[short].all()
    assert not found.at_tail[~short].any()


def some_long_rows():
    """A block of short rows, the last four of which are twice as long."""
    import shapely

    from layoutdesk import Block, RowRules, lay_rows

    outline = shapely.Polygon([(0, 0), (90, 0), (90, 250), (70, 250), (70, 120), (0, 120)])
    rules = RowRules(bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.5)
    return [lay_rows(Block("B1", outline, rules))]


def test_the_advice_serves_the_vines_when_it_is_taken():
    plans = some_long_rows()
    water = Water(drips=(("B1", replace(TURBULENT, tube_mm=12.0)),), source=KNOWN)
    design = design_of(plans, water)
    said = judged(design, plans)
    worst = said.worst[0]
    assert worst.is_short
    assert worst.at_tail
    assert worst.to_vine == plans[0].vines_of_segment[worst.lateral]
    assert said.sentences[0].startswith(f"Rows 31 to 34: the last {worst.n_vines} vines get 81 %")
    assert said.sentences[0].endswith("; feed them from the middle or use 20 mm tube.")
    # Taken for the whole block, by another solution, either leaves no vine short.
    for change in ({"fed": "middle"}, {"tube_mm": 17.6}):
        changed = replace(water.drips[0][1], **change)
        after = design_of(plans, water.with_drip("B1", changed))
        tail = after.vine_share[after.lines.vine_lateral == worst.lateral]
        assert tail.min() > 0.9
    # The next smaller tube, which was not named, does.
    smaller = design_of(plans, water.with_drip("B1", replace(water.drips[0][1], tube_mm=14.6)))
    tail = smaller.flow.emitter_l_h[smaller.lines.laterals.lateral == worst.lateral]
    assert 1 - tail.min() / tail.max() > 0.10


def test_where_nothing_helps_it_is_said_and_nothing_is_advised():
    plans, water = of(replace(TURBULENT, head_m=9.0), length_m=700.0)
    design = design_of(plans, water, grade=0.02)
    said = judged(design, plans)
    pressing = " ".join(said.sentences[:2])
    assert "none of these brings them within 10 %" in pressing
    assert "feed" not in pressing
    assert "use" not in pressing
    assert "no water at all" in said.sentences[0]


def test_steep_falls_are_for_emitters_that_compensate():
    plans, water = of(TURBULENT, length_m=200.0)
    design = design_of(plans, water, grade=-0.06)
    said = judged(design, plans)
    assert "choose emitters that compensate for pressure" in said.sentences[0]
    assert "tube" not in said.sentences[0]
    after = design_of(plans, water.with_drip("B1", replace(TURBULENT, exponent=0.05)), grade=-0.06)
    assert judged(after, plans).worst == ()


def test_advice_is_not_tried_in_haste():
    plans, water = of(replace(TURBULENT, tube_mm=11.0), length_m=260.0)
    design = design_of(plans, water)
    quick = judged(design, plans, with_advice=False)
    full = judged(design, plans)
    assert full.sentences[0].startswith(quick.sentences[0].removesuffix("."))
    assert ";" not in quick.sentences[0]
    assert quick.worst == full.worst


def test_blocks_are_judged_against_their_own_means():
    plans = [plan_of(name="A"), plan_of(name="B", west_m=100.0)]
    small = Drip(emitter_l_h=1.0)
    water = Water(drips=(("A", small), ("B", Drip(emitter_l_h=8.0, cv=0.1))), source=KNOWN)
    design = design_of(plans, water)
    said = judged(design, plans)
    of_b = design.vine_flow_l_h[plans[0].n_vines :]
    least = of_b.min() / of_b.mean()
    assert said.worst == ()
    assert said.du_pct > 97  # though B gives eight times as much as A
    assert said.eu_pct == pytest.approx(
        100 * (1 - 0.127) * least, rel=1e-6
    )  # the less even block's


def test_targets_go_with_the_ground():
    plans, water = of(Drip())
    assert judged(design_of(plans, water, grade=0.01), plans).eu_target_pct == (85.0, 90.0)
    assert judged(design_of(plans, water, grade=-0.03), plans).eu_target_pct == (80.0, 90.0)
    assert eu_target_pct(False, 4.0) == (90.0, 95.0)


def test_classes_are_in_the_words_of_their_own_source():
    # Merriam and Keller, 1978, and ASAE EP458 (both from memory).
    assert [class_of(v, EU_CLASSES) for v in (95, 85, 75, 60)] == [
        "excellent",
        "good",
        "fair",
        "poor",
    ]
    words = ["excellent", "good", "fair", "poor", "unacceptable"]
    assert [class_of(v, DU_CLASSES) for v in (97, 84, 70, 60, 40)] == words


def with_set(design, **values):
    return replace(design, sets=tuple(replace(s, **values) for s in design.sets))


def with_drip(**values):
    return lambda water: water.with_drip("B1", replace(water.drip_of("B1"), **values))


def with_source(**values):
    return lambda water: replace(water, source=replace(water.source, **values))


FAST = run_of([(0, 0), (0, 50)], [(32.0, 28.0)], velocity_m_s=2.4)


@pytest.mark.parametrize(
    ("code", "change", "sets", "ground"),
    [
        ("source-short", None, {"available_head_m": 20.0}, {}),
        ("source-short", None, {"available_head_m": -np.inf}, {}),
        ("pipe-fast", None, {"branches": (FAST,)}, {}),
        ("surge-high", None, {"surge_m": 60.0}, {}),
        ("flushing-short", None, {"flushing_m3_h": 40.1}, {}),
        ("source-assumed", with_source(is_assumed=True), {}, {}),
        ("hazen-williams-used", with_drip(law="hazen-williams"), {}, {}),
        ("emitters-below-range", with_drip(least_head_m=15.5), {}, {}),
        ("emitters-above-range", with_drip(greatest_head_m=14.0), {}, {}),
        ("uniformity-low", with_drip(cv=0.2), {}, {}),
        ("set-uneven", None, {"variation_pct": 12.0}, {}),
        ("vines-dry", with_drip(least_head_m=0.0, variation_pct=50), {}, {"grade": 0.15}),
    ],
)
def test_findings(code, change, sets, ground):
    plans, water = of(Drip())
    water = change(water) if change else water
    assert code not in codes(design_of(plans, of(Drip())[1]), plans)
    found = water_findings(design_of(plans, water, **ground, **sets), plans)
    mine = [f for f in found if f.code == code]
    assert len(mine) == 1
    assert "{" not in mine[0].message
    if code not in ("uniformity-low", "hazen-williams-used"):
        assert mine[0].place is not None


def test_a_quick_flow_is_told_in_the_users_lengths():
    plans, water = of(Drip())
    found = water_findings(design_of(plans, water, branches=(FAST,)), plans)
    fast = next(f for f in found if f.code == "pipe-fast")
    assert "runs 2.40 m a second" in fast.message
    assert "runs 7.9 ft a second" in fast.told(lambda m: f"{m / 0.3048:.1f} ft")


def test_the_longest_drip_line_is_that_of_the_tube_on_this_ground():
    from layoutdesk.core.water.drips import emitter_of
    from layoutdesk.core.water.longest import longest_lateral

    plans, water = of(TURBULENT, length_m=420.0)
    found = water_findings(design_of(plans, water), plans)
    long = next(f for f in found if f.code == "lateral-too-long")
    asked = longest_lateral(
        emitter_of(TURBULENT), 0.0136, 1.5, 12.0, first_m=1.0, barb_loss=TURBULENT.barb_loss
    )
    assert long.lengths_m[0] == pytest.approx(404.0)
    assert long.lengths_m[1] == pytest.approx(asked.length_m)
    assert "lateral-too-long" not in [
        f.code for f in water_findings(design_of(plans, water), plans, with_longest=False)
    ]


def test_lines_that_did_not_converge_are_told():
    plans, water = of(Drip())
    design = design_of(plans, water)
    wrong = design.flow.converged.copy()
    wrong[3] = False
    design = replace(design, flow=replace(design.flow, converged=wrong))
    found = next(f for f in water_findings(design, plans) if f.code == "water-unsolved")
    assert found.where == "B1-R004A"


def test_ground_of_unknown_height_is_told():
    plans, water = of(Drip())
    design = design_of(plans, water)
    design = replace(design, lines=replace(design.lines, heights_known=False))
    assert "water-heights-unknown" in codes(design, plans)


def test_the_rating_of_a_pipe_is_that_of_its_series():
    # PE 100 in SDR 17 is PN 10, in SDR 11 PN 16: ISO 4427 (from memory). 1 bar is 10.197 m.
    assert pipe_rating_m(110.0, 110 - 2 * 110 / 17) == pytest.approx(10 * 10.197, rel=1e-3)
    assert pipe_rating_m(110.0, 110 - 2 * 110 / 11) == pytest.approx(16 * 10.197, rel=1e-3)


def test_a_block_without_vines():
    plans = [plan_of(width_m=4.0, length_m=9.0)]
    assert not plans[0].n_vines
    design = design_of(plans, Water())
    said = judged(design, plans)
    assert said.sentences == ("There are no vines to water.",)
    assert said.eu_class == ""
    assert codes(design, plans) == ["nothing-to-water"]
