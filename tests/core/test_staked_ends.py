"""Rows between measured ends: everything that stands in them follows, to the last vine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.clearances import plantable_area
from layoutdesk.core.layout.looking import segments_within, vines_within
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, Guide, Override, RowRules

RULES = RowRules(
    bearing_deg=35.0, row_spacing_m=2.5, vine_spacing_m=1.2, line_post_every=5, anchor_m=1.0
)
POND = Exclusion(shapely.Point(60, 60).buffer(8), 3.0, "Pond", "pond")
BLOCK = Block("B1", shapely.Polygon([(0, 0), (120, 10), (110, 140), (10, 120)]), RULES)
BENT = replace(
    BLOCK, guide=Guide(((20, -20), (70, 60), (80, 160))), rules=replace(RULES, bearing_deg=0.0)
)


def staked(block, exclusions=(POND,), sigma=0.05, share=1.0, seed=3):
    """The block with some of its ends measured, which segments and ends, and where."""
    plan = lay_rows(block, block.rules, exclusions)
    rng = np.random.default_rng(seed)
    ends = plan.segment_ends_m + rng.normal(0, sigma, plan.segment_ends_m.shape)
    chosen = rng.random(ends.shape[:2]) < share
    overrides = tuple(
        Override("end staked", int(plan.segments.line[i]), *ends[i, e].tolist())
        for i, e in np.argwhere(chosen).tolist()
    )
    return replace(block, overrides=overrides), plan, chosen, ends


def test_ends_stand_where_they_were_measured_and_the_others_as_laid():
    block, before, chosen, ends = staked(BLOCK, share=0.6)
    plan = lay_rows(block, block.rules, [POND])
    expected = np.where(chosen[:, :, None], ends, before.segment_ends_m)
    assert np.abs(plan.segment_ends_m - expected).max() < 1e-9
    assert np.array_equal(plan.segments.number, before.segments.number)
    assert np.array_equal(plan.segments.letter, before.segments.letter)
    assert not plan.unfit


def test_vines_and_posts_stand_on_the_straight_line_between_measured_ends():
    block, *_ = staked(BLOCK)
    plan = lay_rows(block, block.rules, [POND])
    s, vines = plan.segments, plan.vines
    step = plan.segment_ends_m[:, 1] - plan.segment_ends_m[:, 0]
    length = np.hypot(*step.T)
    unit = step / length[:, None]
    along = s.first_vine_m[vines.segment] + (vines.index - 1) * s.vine_step_m[vines.segment]
    expected = plan.segment_ends_m[vines.segment, 0] + along[:, None] * unit[vines.segment]
    assert np.abs(vines.xy_m - expected).max() < 1e-6
    assert np.allclose(s.length_m, length, atol=1e-9)
    # as many as fit by the rules
    assert np.array_equal(s.n_vines, np.floor((length - 1.0 - 0.5 + 1e-6) / 1.2).astype(int) + 1)
    anchors = plan.anchors.xy_m.reshape(-1, 2, 2)
    assert np.allclose(anchors[:, 0], plan.segment_ends_m[:, 0] - unit, atol=1e-9)
    assert np.allclose(anchors[:, 1], plan.segment_ends_m[:, 1] + unit, atol=1e-9)
    posts = plan.line_posts
    off = shapely.distance(plan.shapes[posts.segment], shapely.points(posts.xy_m))
    assert off.max() < 1e-9


def test_bent_rows_keep_their_bend_between_measured_ends():
    block, before, _, ends = staked(BENT)
    plan = lay_rows(block, block.rules, [POND])
    assert np.abs(plan.segment_ends_m - ends).max() < 1e-9
    n = np.minimum(plan.vines_of_segment, before.vines_of_segment)
    for i in range(0, plan.n_segments, 5):
        now, then = (p.vines.xy_m[p.vines.segment == i][: n[i]] for p in (plan, before))
        assert np.hypot(*(now - then).T).max() < 0.5
    off = shapely.distance(plan.shapes[plan.vines.segment], shapely.points(plan.vines.xy_m))
    assert off.max() < 5e-3
    assert shapely.length(plan.shapes) == pytest.approx(
        plan.segments.length_m, abs=0.2
    )  # ends off by 5 cm each


def test_parts_of_a_plan_hold_the_same_places():
    for block in (staked(BLOCK)[0], staked(BENT)[0]):
        plan = lay_rows(block, block.rules, [POND])
        n = plan.n_segments
        pieces = [plan.part(a, a + 7) for a in range(0, n, 7)]
        assert np.allclose(
            np.concatenate([p.vines.xy_m for p in pieces]), plan.vines.xy_m, atol=1e-9
        )
        bounds = (20.0, 30.0, 70.0, 80.0)
        seen = vines_within(plan, bounds)
        x, y = plan.vines.xy_m.T
        inside = plan.vines.xy_m[(x >= 20) & (x <= 70) & (y >= 30) & (y <= 80)]
        assert len(segments_within(plan, bounds))
        assert {tuple(p) for p in np.round(inside, 6)} <= {tuple(p) for p in np.round(seen, 6)}


def test_a_plan_without_measured_ends_is_as_before():
    plan = lay_rows(BLOCK, RULES, [POND])
    assert plan.measured_ends_m is None
    moved = replace(
        BLOCK, overrides=(Override("end moved", 3, *plan.segment_ends_m[5, 0].tolist()),)
    )
    assert lay_rows(moved, RULES, [POND]).measured_ends_m is None


def test_small_changes_of_the_rules_keep_them_and_large_ones_say_so():
    block, *_ = staked(BLOCK)
    near = lay_rows(block, replace(RULES, vine_spacing_m=1.5, min_row_m=14.0), [POND])
    assert not near.unfit
    assert near.measured_ends_m is not None
    turned = lay_rows(block, replace(RULES, bearing_deg=95.0), [POND])
    assert "override-moved" in {f.code for f in turned.findings} | {
        "override-moved" for _ in turned.unfit
    }


def test_measured_again_the_newer_end_holds_and_the_older_is_told():
    block, _, _, _ends = staked(BLOCK)
    first = block.overrides[0]
    again = replace(first, x_m=first.x_m + 0.02)
    plan = lay_rows(replace(block, overrides=(*block.overrides, again)), RULES, [POND])
    assert plan.unfit == (0,)
    assert np.abs(plan.segment_ends_m[0, 0] - (again.x_m, again.y_m)).max() < 1e-9


def test_ends_outside_the_plantable_ground_and_rows_too_near_are_told():
    plan = lay_rows(BLOCK, RULES, [POND])
    i = 12
    start, far = plan.segment_ends_m[i]
    out = start + 3 * plan.outward[i, 0]
    right = np.array([np.cos(np.radians(35)), -np.sin(np.radians(35))])
    overrides = (
        Override("end staked", int(plan.segments.line[i]), *out.tolist()),
        Override("end staked", int(plan.segments.line[i]), *(far + 0.6 * right).tolist()),
    )
    found = lay_rows(replace(BLOCK, overrides=overrides), RULES, [POND])
    told = [f.message for f in found.findings if f.code == "staked-outside"]
    area = plantable_area(BLOCK, RULES, [POND])
    farthest = max(area.distance(shapely.Point(o.x_m, o.y_m)) for o in overrides)
    assert len(told) == 2
    assert f"the farthest by {farthest:.2f} m" in told[0]
    assert farthest > 1
    assert "1.90 m apart" in told[1]
    assert "2.50 m" in told[1]
    assert not [
        f
        for f in lay_rows(staked(BLOCK, sigma=0.02)[0], RULES, [POND]).findings
        if f.code == "staked-outside"
    ]


def test_thousands_of_measured_ends_are_laid_each_at_its_row():
    wide = Block("B1", shapely.box(0, 0, 5000, 60), replace(RULES, bearing_deg=0.0))
    block, _, _, ends = staked(wide, ())
    plan = lay_rows(block, block.rules)
    assert plan.n_segments > 1900
    assert not plan.unfit
    assert np.abs(plan.segment_ends_m - ends).max() < 1e-9
