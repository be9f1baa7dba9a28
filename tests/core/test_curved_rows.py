"""Rows that follow a guide line, against circles and straight lines."""

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.looking import segment_at, segments_within, vines_within
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, Guide, Override, RowRules

RADIUS = 300.0
RULES = RowRules(bearing_deg=90, headland_m=0, side_margin_m=0, row_spacing_m=2.5, min_row_m=5)


def on_circle(degrees, radius=RADIUS):
    """Clockwise from north, about (0, 0)."""
    a = np.radians(degrees)
    return tuple((float(radius * np.sin(t)), float(radius * np.cos(t))) for t in np.atleast_1d(a))


def ring_sector(inner, outer, degrees=20.0, n=400):
    a = np.linspace(-degrees, degrees, n)
    return shapely.Polygon([*on_circle(a, outer), *on_circle(a[::-1], inner)])


ARC = Guide(on_circle(np.linspace(-25, 25, 5)))
TERRACE = Block("B1", ring_sector(280, 320), RULES, guide=ARC)


def test_rows_are_arcs_of_their_own_radius_one_spacing_apart():
    plan = lay_rows(TERRACE)
    radius = np.hypot(*plan.segment_ends_m[:, 0].T)
    assert plan.n_rows == 17  # 40 m at 2.5 m, both rims included
    assert np.allclose(np.diff(np.sort(radius)), 2.5, atol=2e-3)
    assert np.allclose(plan.segments.length_m, np.radians(40.0) * radius, atol=0.02)


def test_vines_stand_on_the_arc_at_equal_chords():
    plan = lay_rows(TERRACE)
    i = plan.n_segments // 2
    xy = plan.vines.xy_m[plan.vines.segment == i]
    assert np.ptp(np.hypot(*xy.T)) < 3e-3
    assert np.allclose(np.hypot(*np.diff(xy, axis=0).T), 1.5, atol=1e-4)
    first = np.hypot(*(xy[0] - plan.segment_ends_m[i, 0]))
    assert first == pytest.approx(1.0, abs=1e-4)


def test_anchors_stand_on_the_tangent_beyond_the_end_posts():
    plan = lay_rows(TERRACE)
    gap = plan.anchors.xy_m.reshape(-1, 2, 2) - plan.segment_ends_m
    assert np.allclose(np.hypot(gap[..., 0], gap[..., 1]), 1.2)
    radial = plan.segment_ends_m / np.hypot(*plan.segment_ends_m.T).T[..., None]
    assert np.abs((gap * radial).sum(axis=-1)).max() < 0.01  # at right angles to the radius


def test_a_straight_guide_lays_what_the_bearing_lays():
    outline = shapely.Polygon([(0, 0), (90, 15), (140, 120), (20, 160)])
    a = np.radians(18.0)
    guide = Guide(((10.0, 10.0), (10.0 + 80 * float(np.sin(a)), 10.0 + 80 * float(np.cos(a)))))
    rules = replace(RULES, bearing_deg=18.0, headland_m=8, side_margin_m=3)
    pond = [Exclusion(shapely.Point(60, 70), 6.0)]
    straight = lay_rows(Block("B1", outline, rules), None, pond)
    along = lay_rows(Block("B1", outline, rules, guide=guide), None, pond)
    assert along.n_segments == straight.n_segments
    assert along.n_vines == straight.n_vines
    assert np.abs(along.segment_ends_m - straight.segment_ends_m).max() < 2e-3


def test_edges_along_the_curve_keep_the_side_margin_and_those_across_the_headland():
    plan = lay_rows(replace(TERRACE, rules=replace(RULES, headland_m=8, side_margin_m=3)))
    radius = np.hypot(*plan.segment_ends_m[:, 0].T)
    assert radius.max() == pytest.approx(317, abs=0.01)
    assert radius.min() > 282.99
    middle = int(np.argmin(np.abs(radius - 300)))
    full = np.radians(40.0) * radius[middle]
    assert plan.segments.length_m[middle] == pytest.approx(full - 16, abs=0.15)


def test_alleys_cut_curved_rows_at_right_angles():
    plan = lay_rows(replace(TERRACE, rules=replace(RULES, alley_every_m=60, alley_width_m=6)))
    assert plan.n_segments > plan.n_rows * 2
    first = plan.segments.line == 8
    gaps = plan.segments.start_m[first][1:] - plan.segments.end_m[first][:-1]
    assert np.allclose(gaps, 6.0, atol=0.01)


def test_a_bend_tighter_than_the_offset_is_found():
    tight = Guide(on_circle(np.linspace(-60, 60, 7), 20.0))
    block = Block("B1", shapely.box(-60, -40, 60, 40), RULES, guide=tight)
    codes = {f.code for f in lay_rows(block).findings}
    assert {"guide-folded", "guide-tight"} & codes


def test_vines_across_are_refused_on_curves():
    with pytest.raises(ValueError, match="across curved rows"):
        lay_rows(replace(TERRACE, rules=replace(RULES, leftover="across")))


def test_overrides_hold_on_curved_rows():
    x, y = on_circle(3.0)[0]
    plan = lay_rows(replace(TERRACE, overrides=(Override("vine left out", 8, x, y),)))
    assert plan.n_vines == lay_rows(TERRACE).n_vines - 1
    assert np.hypot(*(plan.gaps_m[0] - (x, y))) < 1.3


def test_best_first_row_is_no_worse_than_any_other():
    best = lay_rows(replace(TERRACE, rules=replace(RULES, side_margin_m=1.7, first_row_m="best")))
    for offset in (0.0, 0.7, 1.3, 2.1):
        rules = replace(RULES, side_margin_m=1.7, first_row_m=offset)
        assert best.n_vines >= lay_rows(replace(TERRACE, rules=rules)).n_vines


def test_a_window_and_a_place_find_curved_rows():
    plan = lay_rows(TERRACE)
    x, y = on_circle(5.0)[0]
    window = (x - 4, y - 4, x + 4, y + 4)
    every = plan.vines.xy_m
    inside = (np.abs(every - (x, y)) <= 4).all(axis=1)
    seen = vines_within(plan, window)
    assert inside.sum() == len(seen)
    segment = segment_at(plan, x, y, 1.0)
    assert segment in segments_within(plan, window)
    assert plan.shapes[segment].distance(shapely.Point(x, y)) < 1.3


def test_the_tightest_row_is_the_innermost_of_the_bend():
    tight = replace(TERRACE, outline=ring_sector(12, 40), guide=Guide(on_circle((-30, 0, 30), 30)))
    found = {f.code: f for f in lay_rows(tight).findings}
    assert found["guide-tight"].lengths_m[0] < 15
    gentle = replace(tight, outline=ring_sector(30, 40))
    assert "guide-tight" not in {f.code for f in lay_rows(gentle).findings}
