"""Rows between measured ends: everything that stands in them follows, to the last vine."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from layoutdesk.core.layout.clearances import plantable_area
from layoutdesk.core.layout.looking import segments_within, vines_within
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, Guide, Override, RowRules
from tests.zoo import random_outline

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


def told(plan, code):
    return [f.message for f in plan.findings if f.code == code]


def test_ends_outside_the_plantable_ground_are_told_with_the_farthest():
    plan = lay_rows(BLOCK, RULES, [POND])
    out = [
        plan.segment_ends_m[i, 0] + far * plan.outward[i, 0] for i, far in ((12, 3.0), (14, 0.5))
    ]
    overrides = tuple(
        Override("end staked", int(plan.segments.line[i]), *at.tolist())
        for i, at in zip((12, 14), out, strict=True)
    )
    found = told(lay_rows(replace(BLOCK, overrides=overrides), RULES, [POND]), "staked-outside")
    area = plantable_area(BLOCK, RULES, [POND])
    farthest = max(area.distance(shapely.Point(at)) for at in out)
    assert farthest > 1
    assert len(found) == 1
    assert found[0].startswith("2 measured row ends stand outside the plantable area of B1")
    assert f"the farthest by {farthest:.2f} m" in found[0]
    assert not told(lay_rows(staked(BLOCK, sigma=0.02)[0], RULES, [POND]), "staked-outside")


@pytest.mark.parametrize(
    "block", [BLOCK, BENT, replace(BLOCK, rules=replace(RULES, number_from="right"))]
)
def test_rows_too_near_and_too_far_apart_are_told_by_their_numbers(block):
    plan = lay_rows(block, block.rules, [POND])
    line = int(np.unique(plan.segments.line)[12])
    i = int(np.flatnonzero(plan.segments.line == line)[-1])
    x, y = plan.outward[i, 1].tolist()
    beside = plan.segment_ends_m[i, 1] + 0.6 * np.array([y, -x])  # to the right of the row
    override = Override("end staked", line, *beside.tolist())
    found = told(
        lay_rows(replace(block, overrides=(override,)), block.rules, [POND]), "staked-spacing"
    )
    numbers = sorted(plan.number_of_line(at) for at in (line, line + 1))
    assert len(found) == 1
    assert f"Rows {numbers[0]} and {numbers[1]} of B1 stand 1.90 m apart" in found[0]
    assert "planned are 2.50 m; one more pair of rows is off likewise." in found[0]
    assert not told(lay_rows(staked(block, sigma=0.02)[0], block.rules, [POND]), "staked-spacing")


def test_an_outer_row_that_stands_off_is_told_and_rows_of_unlike_lengths_are_not():
    steps = shapely.box(0, 0, 40, 120).difference(shapely.box(21, 50, 40, 120))
    block = Block("B1", steps, replace(RULES, bearing_deg=0.0))
    assert not told(lay_rows(staked(block, (), sigma=0.02)[0]), "staked-spacing")
    plan = lay_rows(block)
    overrides = tuple(
        Override("end staked", 0, *(at + np.array([-0.5, 0.0])).tolist())
        for at in plan.segment_ends_m[0]
    )
    (found,) = told(lay_rows(replace(block, overrides=overrides)), "staked-spacing")
    assert "Rows 1 and 2 of B1 stand 3.00 m apart" in found
    assert "more pair" not in found


def test_single_vines_and_posts_stay_where_they_were_set():
    for block in (BLOCK, BENT):
        block, *_ = staked(block, sigma=0.3)
        plan = lay_rows(block, block.rules, [POND])
        i = int(np.argmax(plan.segments.length_m))
        line, s = int(plan.segments.line[i]), plan.segments
        begin = float(s.start_m[i] + s.first_vine_m[i])
        gone, added, post = plan.places(
            np.full(3, i), begin + s.vine_step_m[i] * np.array([40.0, 20.5, 7.3])
        )
        more = (
            Override("vine left out", line, *gone.tolist()),
            Override("vine added", line, *added.tolist()),
            Override("line post moved", line, *post.tolist()),
        )
        now = lay_rows(replace(block, overrides=(*block.overrides, *more)), block.rules, [POND])
        assert not now.unfit
        vines, before = (p.vines.xy_m[p.vines.segment == i] for p in (now, plan))
        assert np.abs(vines[-1] - added).max() < 1e-6
        assert np.abs(vines[:-1] - np.delete(before, 40, axis=0)).max() < 1e-9
        assert np.abs(before[40] - gone).max() < 1e-9
        posts = now.line_posts.xy_m[now.line_posts.segment == i]
        assert np.hypot(*(posts - post).T).min() < 1e-6


def test_a_row_left_out_keeps_its_measured_ends_until_it_is_put_back():
    block, _, _, ends = staked(BLOCK)
    middle = ends[20].mean(axis=0).tolist()
    out = Override("row left out", block.overrides[40].line, *middle)
    plan = lay_rows(replace(block, overrides=(*block.overrides, out)), RULES, [POND])
    assert np.abs(plan.left_out_ends_m - ends[20:21]).max() < 1e-9
    assert np.abs(plan.segment_ends_m - np.delete(ends, 20, axis=0)).max() < 1e-9


def test_ends_that_would_leave_no_row_are_not_taken_and_all_others_are():
    block, before, _, ends = staked(BLOCK)
    start, far = before.segment_ends_m[20]
    middle, step = (start + far) / 2, (far - start) / np.hypot(*(far - start))
    overrides = list(block.overrides)
    for k, off in ((40, -0.2), (41, 0.2)):
        x, y = (middle + off * step).tolist()
        overrides[k] = replace(overrides[k], x_m=x, y_m=y)
    plan = lay_rows(replace(block, overrides=tuple(overrides)), RULES, [POND])
    assert plan.unfit == (40, 41)
    assert sum(f.code == "override-unfit" for f in plan.findings) == 2
    expected = ends.copy()
    expected[20] = before.segment_ends_m[20]
    assert np.abs(plan.segment_ends_m - expected).max() < 1e-9


def test_thousands_of_measured_ends_are_laid_each_at_its_row():
    wide = Block("B1", shapely.box(0, 0, 5000, 60), replace(RULES, bearing_deg=0.0))
    block, _, _, ends = staked(wide, ())
    plan = lay_rows(block, block.rules)
    assert plan.n_segments > 1900
    assert not plan.unfit
    assert np.abs(plan.segment_ends_m - ends).max() < 1e-9


outlines = st.integers(0, 10**6).map(lambda seed: random_outline(np.random.default_rng(seed)))


@settings(
    max_examples=60,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
@given(
    outlines,
    st.floats(0, 359.99),
    st.sampled_from(["far end", "both ends", "stretch", "across"]),
    st.sampled_from(["left", "right"]),
    st.floats(0.001, 0.15),
    st.integers(0, 1000),
)
def test_any_row_runs_straight_between_its_own_ends(outline, bearing, leftover, side, sigma, seed):
    rules = RowRules(
        bearing_deg=bearing, row_spacing_m=2.2, leftover=leftover, number_from=side, min_row_m=6.0
    )
    block, before, *_ = staked(Block("B1", outline, rules), (), sigma=sigma, share=0.7, seed=seed)
    assume(before.n_segments)
    plan = lay_rows(block, rules)
    s = plan.segments
    # none is lost, save where two of one row line were as near to one end
    assert len(plan.unfit) <= 0.02 * len(block.overrides) + 2
    there = {(o.x_m, o.y_m) for i, o in enumerate(block.overrides) if i not in plan.unfit}
    stood = [tuple(xy) for xy in plan.segment_ends_m.reshape(-1, 2).tolist()]
    assert there <= set(stood)
    laid = before.segment_ends_m.reshape(-1, 2)
    assert all(at in there or np.abs(laid[k] - at).max() < 1e-9 for k, at in enumerate(stood))
    step = plan.segment_ends_m[:, 1] - plan.segment_ends_m[:, 0]
    assert np.abs(s.length_m - np.hypot(*step.T)).max() < 1e-9
    vines = plan.vines
    along = s.first_vine_m[vines.segment] + (vines.index - 1) * s.vine_step_m[vines.segment]
    expected = (
        plan.segment_ends_m[vines.segment, 0]
        + (along / s.length_m[vines.segment])[:, None] * step[vines.segment]
    )
    assert np.abs(vines.xy_m - expected).max(initial=0) < 1e-6
    some = s.n_vines > 0
    last = s.first_vine_m + (s.n_vines - 1) * s.vine_step_m
    assert (last[some] <= s.length_m[some] - rules.last_vine_m + 1e-6).all()
    assert (s.first_vine_m[some] >= rules.first_vine_m - 1e-6).all()
    if leftover == "far end":
        left = s.length_m[some] - rules.last_vine_m - last[some]
        assert (left < rules.vine_spacing_m).all()
