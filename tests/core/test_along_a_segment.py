"""Vines and line posts along one row, by hand."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layoutdesk import Block, RowRules, lay_rows


def row_of(length_m: float, **rules):
    """Places along one row of that length, from its start post: vines, line posts. [m]"""
    plain = {"headland_m": 0, "side_margin_m": 0, "min_row_m": 0, "row_spacing_m": 20}
    plan = lay_rows(Block("B1", shapely.box(0, 0, 5, length_m), RowRules(**{**plain, **rules})))
    assert plan.n_segments == 1
    return plan.vines.xy_m[:, 1], plan.line_posts.xy_m[:, 1]


def test_leftover_stays_at_the_far_end():
    vines, _ = row_of(14, vine_spacing_m=2, first_vine_m=1, last_vine_m=0.5)
    assert vines.tolist() == pytest.approx([1, 3, 5, 7, 9, 11, 13])
    vines, _ = row_of(13.4, vine_spacing_m=2, first_vine_m=1, last_vine_m=0.5)
    assert vines.tolist() == pytest.approx([1, 3, 5, 7, 9, 11])


def test_leftover_is_shared_between_both_ends():
    vines, _ = row_of(13.5, vine_spacing_m=2, first_vine_m=1, last_vine_m=0.5, leftover="both ends")
    assert vines.tolist() == pytest.approx([1, 3, 5, 7, 9, 11, 13])
    vines, _ = row_of(13.1, vine_spacing_m=2, first_vine_m=1, last_vine_m=0.5, leftover="both ends")
    assert vines.tolist() == pytest.approx([1.8, 3.8, 5.8, 7.8, 9.8, 11.8])


@pytest.mark.parametrize(
    ("length", "most_pct", "vines", "spacing"),
    [
        (21.5, 5, 11, 2.0),  # 20 m: ten spaces as they are
        (22.1, 5, 11, 2.06),  # 20.6 m: ten a little wide
        (21.3, 5, 11, 1.98),  # 19.8 m: ten a little tight, not nine wide
        (22.4, 5, 11, 2.09),  # 20.9 m: ten are 9 cm wide, eleven would be 10 cm tight
        (22.5, 5, 12, 1.9090909),  # 21 m: ten would be 10 cm wide, eleven are 9 cm tight
        (22.5, 4, 11, 2.08),  # 21 m: neither within 4 %: ten to the limit, the rest at the far end
        (6.5, 5, 3, 2.1),  # 5 m: neither two at 2.5 nor three at 1.667: to the limit
        (22.1, 0, 11, 2.0),  # nothing may be stretched
    ],
)
def test_leftover_is_stretched_away_within_the_limit(length, most_pct, vines, spacing):
    found, _ = row_of(
        length,
        vine_spacing_m=2,
        first_vine_m=1,
        last_vine_m=0.5,
        leftover="stretch",
        stretch_max_pct=most_pct,
    )
    assert len(found) == vines
    assert np.diff(found) == pytest.approx(np.full(vines - 1, spacing), abs=1e-6)
    assert found[0] == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("length", "vines"),
    [(1.49, 0), (1.5, 1), (3.49, 1), (3.5, 2), (1.5 - 5e-7, 1), (3.5 - 5e-7, 2)],
)
def test_the_first_vines_come_when_there_is_room(length, vines):
    """Both distances are kept; a shortfall of rounding, under a micrometre, is none."""
    for leftover in ("far end", "both ends"):
        rules = {"vine_spacing_m": 2, "first_vine_m": 1, "last_vine_m": 0.5, "leftover": leftover}
        assert len(row_of(length, **rules)[0]) == vines


def test_rows_without_room_for_a_vine_are_said():
    rules = RowRules(
        headland_m=0, side_margin_m=0, min_row_m=0, first_vine_m=3, last_vine_m=3, anchor_m=0
    )
    plan = lay_rows(Block("B1", shapely.box(0, 0, 5, 5), rules))
    assert plan.n_vines == 0
    assert [f.code for f in plan.findings] == ["rows-without-vines"]


@pytest.mark.parametrize("spacing", [0.7, 0.9, 1.1, 1.2, 1.3, 1.5, 1.7, 1.9, 2.1, 2.3, 0.3])
def test_whole_spaces_are_counted_whole_whatever_binary_fractions_say(spacing):
    for spaces in (1, 3, 10, 29, 77, 100, 333):
        vines, _ = row_of(spacing * spaces, vine_spacing_m=spacing, first_vine_m=0, last_vine_m=0)
        assert len(vines) == spaces + 1


def test_line_posts_stand_midway_between_two_vines():
    rules = {"vine_spacing_m": 2, "first_vine_m": 1, "last_vine_m": 1}
    vines, posts = row_of(22, line_post_every=4, **rules)
    assert len(vines) == 11
    assert posts.tolist() == pytest.approx([8, 16])
    assert row_of(22, line_post_every=0, **rules)[1].tolist() == []
    assert row_of(22, line_post_every=1, **rules)[1].tolist() == pytest.approx(
        list(range(2, 22, 2))
    )
    assert row_of(22, line_post_every=11, **rules)[1].tolist() == []


@pytest.mark.parametrize("lattice", ["square", "staggered"])
def test_across_puts_vines_in_line_through_a_slanted_block(lattice):
    """The lattice begins a first vine past the outline's start, not past each row's."""
    outline = shapely.Polygon([(0, 0), (48, 30), (48, 150), (0, 110)])
    rules = RowRules(
        headland_m=0,
        side_margin_m=0,
        min_row_m=0,
        vine_spacing_m=1.5,
        leftover="across",
        lattice=lattice,
    )
    plan = lay_rows(Block("B1", outline, rules))
    x, y = plan.vines.xy_m.T
    shift = np.where(np.round(x / 2.4) % 2 == 1, 0.75, 0.0) if lattice == "staggered" else 0.0
    off = (y - 1.0 - shift) / 1.5
    assert off == pytest.approx(np.round(off), abs=1e-6)
    starts, ends = plan.segments.start_m, plan.segments.end_m
    first, last = plan.segments.first_vine_m, plan.segments.n_vines
    assert (first >= 1.0 - 1e-6).all()
    assert (first < 2.5).all()
    assert (starts + first + (last - 1) * 1.5 <= ends - 0.5 + 1e-6).all()


def test_anchors_and_end_posts_stand_on_the_row_at_their_distance():
    plan = lay_rows(Block("B1", shapely.box(0, 0, 30, 60), RowRules(anchor_m=1.2)))
    posts = plan.end_posts.xy_m.reshape(-1, 2, 2)
    anchors = plan.anchors.xy_m.reshape(-1, 2, 2)
    assert (posts[:, 0, 1] - anchors[:, 0, 1]).tolist() == pytest.approx([1.2] * plan.n_rows)
    assert (anchors[:, 1, 1] - posts[:, 1, 1]).tolist() == pytest.approx([1.2] * plan.n_rows)
    assert np.array_equal(posts[..., 0], anchors[..., 0])
    assert plan.anchors.index.tolist() == [1, 2] * plan.n_rows
