"""Rows, posts and vines that a person decided otherwise."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Override, RowRules

RULES = RowRules(
    bearing_deg=0, headland_m=8, side_margin_m=2, row_spacing_m=2.5, vine_spacing_m=1.5
)
BLOCK = Block("B1", shapely.box(0, 0, 40, 120), RULES)
"""Rows at x = 2, 4.5, …, from y = 8 to 112; vines from y = 9."""


def laid(*overrides, rules=RULES, block=BLOCK):
    return lay_rows(replace(block, rules=rules, overrides=overrides))


def codes(plan):
    return {f.code for f in plan.findings}


def row_at(plan, x):
    return int(np.argmin(np.abs(plan.segment_ends_m[:, 0, 0] - x)))


def test_a_row_left_out_takes_its_vines_and_leaves_all_numbers():
    before, after = laid(), laid(Override("row left out", 2, 7.0, 60.0))
    assert after.n_segments == before.n_segments - 1
    assert 3 not in after.segments.number
    assert set(after.segments.number) < set(before.segments.number)
    assert after.n_vines == before.n_vines - before.segments.n_vines[2]
    assert after.left_out.number.tolist() == [3]


def test_a_vine_left_out_leaves_its_number_unused():
    plan = laid(Override("vine left out", 2, 7.0, 9.0 + 3 * 1.5 + 0.2))
    segment = row_at(plan, 7.0)
    mine = plan.vines.segment == segment
    assert 4 not in plan.vines.index[mine]
    assert plan.vines.index[mine][:5].tolist() == [1, 2, 3, 5, 6]
    assert not (np.hypot(*(plan.vines.xy_m - (7.0, 13.5)).T) < 0.1).any()
    assert np.allclose(plan.gaps_m, [[7.0, 13.5]])
    assert plan.n_vines == len(plan.vines) == len(plan.vines.xy_m) == laid().n_vines - 1


def test_an_added_vine_takes_the_next_number_of_its_row():
    plan = laid(Override("vine added", 2, 7.1, 111.5))
    segment = row_at(plan, 7.0)
    mine = plan.vines.segment == segment
    assert plan.vines.index[mine][-1] == plan.segments.n_vines[segment] + 1
    assert np.allclose(plan.vines.xy_m[mine][-1], (7.0, 111.5))  # on its row, not beside it


def test_gaps_and_additions_in_several_rows_keep_every_vine_with_its_row():
    plan = laid(
        Override("vine left out", 2, 7.0, 9.0),
        Override("vine added", 2, 7.0, 111.7),
        Override("vine added", 2, 7.0, 111.9),
        Override("vine left out", 3, 9.5, 10.5),
        Override("vine added", 0, 2.0, 111.8),
    )
    x = plan.segment_ends_m[:, 0, 0][plan.vines.segment]
    assert np.allclose(plan.vines.xy_m[:, 0], x)
    assert len(plan.vines.index) == len(plan.vines) == laid().n_vines + 1
    keys = set(zip(plan.vines.segment.tolist(), plan.vines.index.tolist(), strict=True))
    assert len(keys) == len(plan.vines)


@pytest.mark.parametrize(("y", "start", "end"), [(20.0, 20.0, 112.0), (114.0, 8.0, 114.0)])
def test_an_end_is_trimmed_or_run_out_to_the_place_and_vines_follow(y, start, end):
    plan = laid(Override("end moved", 2, 7.0, y))
    i = row_at(plan, 7.0)
    assert plan.segment_ends_m[i, :, 1].tolist() == pytest.approx([start, end])
    assert plan.vines.xy_m[plan.vines.segment == i][0, 1] == pytest.approx(start + 1.0)


def test_an_end_outside_the_outline_is_wrong():
    assert "end-outside" in codes(laid(Override("end moved", 2, 7.0, 123.0)))
    assert "end-outside" not in codes(laid(Override("end moved", 2, 7.0, 119.0)))


def test_a_line_post_stands_where_it_was_put():
    before = laid().line_posts
    plan = laid(Override("line post moved", 2, 7.0, 14.2))
    i = row_at(plan, 7.0)
    mine = plan.line_posts.segment == i
    assert plan.line_posts.xy_m[mine][0, 1] == pytest.approx(14.2)
    assert np.array_equal(plan.line_posts.xy_m[~mine], before.xy_m[~mine])


def test_what_was_set_survives_small_changes_of_rules():
    override = Override("vine left out", 2, 7.0, 13.5)
    for change in ({"headland_m": 8.6}, {"vine_spacing_m": 1.4}, {"bearing_deg": 0.3}):
        plan = laid(override, rules=replace(RULES, **change))
        assert plan.special.gap_segment.size == 1, change
        assert not plan.unfit, change
        assert np.hypot(*(plan.gaps_m[0] - (7.0, 13.5))) < 1.5


def test_what_stands_in_another_row_by_now_is_said():
    plan = laid(Override("vine left out", 2, 7.0, 13.5), rules=replace(RULES, first_row_m=2.4))
    assert plan.special.gap_segment.size == 1
    assert "override-moved" in codes(plan)
    renumbered = laid(
        Override("vine left out", 2, 7.0, 13.5), rules=replace(RULES, first_number=101)
    )
    assert "override-moved" not in codes(renumbered)


@pytest.mark.parametrize(
    "override",
    [
        Override("row left out", 2, 7.0, 115.0),
        Override("vine left out", 2, 7.0, 5.0),
        Override("vine added", 60, 500.0, 60.0),
        Override("line post moved", 2, 7.0, 8.5),
        Override("end moved", 80, -90.0, 8.0),
    ],
)
def test_what_fits_no_more_does_nothing_and_is_found(override):
    plan = laid(override)
    found = [f for f in plan.findings if f.code == "override-unfit"]
    assert len(found) == 1
    assert found[0].place == (override.x_m, override.y_m)
    assert np.array_equal(plan.vines.xy_m, laid().vines.xy_m)


def test_a_run_of_segments_keeps_its_own_special_vines():
    plan = laid(Override("vine left out", 2, 7.0, 9.0), Override("vine added", 4, 12.0, 111.8))
    parts = [plan.part(0, 2), plan.part(2, 5), plan.part(5, plan.n_segments)]
    assert np.array_equal(np.concatenate([p.vines.xy_m for p in parts]), plan.vines.xy_m)
    assert np.array_equal(np.concatenate([p.vines.index for p in parts]), plan.vines.index)
