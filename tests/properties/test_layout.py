"""What must hold for any layout, whatever the outline."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from layoutdesk import Alley, Block, Exclusion, RowRules, lay_rows
from tests.zoo import random_outline, turned

CLOSE_M = 1e-6

few = settings(
    max_examples=60,
    derandomize=True,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)

outlines = st.integers(0, 10**6).map(lambda seed: random_outline(np.random.default_rng(seed)))
bearings = st.one_of(st.sampled_from([0.0, 90.0, 180.0, 270.0]), st.floats(0, 359.99))
LEFTOVERS = ["far end", "both ends", "stretch", "across"]


@st.composite
def rules_of(draw, bearing=bearings):
    return RowRules(
        bearing_deg=draw(bearing),
        row_spacing_m=draw(st.floats(1.5, 5)),
        vine_spacing_m=draw(st.floats(0.8, 3)),
        headland_m=draw(st.floats(0, 12)),
        side_margin_m=draw(st.sampled_from([0.0, 1.2, 3.0])),
        first_row_m=draw(st.floats(0, 3)),
        min_row_m=draw(st.sampled_from([0.0, 7.3, 15.0])),
        leftover=draw(st.sampled_from(LEFTOVERS)),
        number_from=draw(st.sampled_from(["left", "right"])),
    )


@st.composite
def sites(draw):
    """An outline with a few exclusions and an alley on it."""
    outline = draw(outlines)
    x0, y0, x1, y1 = outline.bounds
    place = st.tuples(st.floats(x0, x1), st.floats(y0, y1))
    exclusions = []
    for x, y in draw(st.lists(place, max_size=3)):
        shape = draw(st.sampled_from(["point", "box", "line"]))
        made = {
            "point": shapely.Point(x, y),
            "box": shapely.box(x, y, x + 9, y + 14),
            "line": shapely.LineString([(x, y), (x + 20, y + 7)]),
        }[shape]
        exclusions.append(Exclusion(made, draw(st.sampled_from([0.0, 2.0, 5.0]))))
    return outline, tuple(exclusions)


def assert_same_places(plan, wanted_xy, close_m=CLOSE_M):
    assert len(plan.vines) == len(wanted_xy)
    if len(wanted_xy):
        assert np.abs(plan.vines.xy_m - wanted_xy).max() <= close_m


@few
@given(sites(), rules_of(), st.floats(0, 360))
def test_turning_site_and_bearing_together_turns_the_layout(site, rules, turn):
    outline, exclusions = site
    middle = outline.representative_point()
    rules = replace(rules, alleys=(Alley(middle.x, middle.y, 5.0, rules.bearing_deg + 70),))
    plan = lay_rows(Block("B1", outline, rules), None, exclusions)
    at = turned(middle, turn)
    turned_rules = replace(
        rules,
        bearing_deg=rules.bearing_deg + turn,
        alleys=(Alley(at.x, at.y, 5.0, rules.bearing_deg + 70 + turn),),
    )
    there = lay_rows(
        Block("B1", turned(outline, turn), turned_rules),
        None,
        [Exclusion(turned(e.shape, turn), e.clearance_m) for e in exclusions],
    )
    s, c = math.sin(math.radians(turn)), math.cos(math.radians(turn))
    x, y = plan.vines.xy_m.T
    # 10 µm: where a row grazes a round rim, its end is a root of the rounding of the turn.
    assert_same_places(there, np.column_stack([x * c + y * s, y * c - x * s]), 1e-5)
    assert there.segments.number.tolist() == plan.segments.number.tolist()
    assert len(there.dropped) == len(plan.dropped)


@few
@given(sites(), rules_of(), st.floats(-500, 500), st.floats(-500, 500))
def test_moving_the_site_moves_the_layout(site, rules, dx, dy):
    outline, exclusions = site
    plan = lay_rows(Block("B1", outline, rules), None, exclusions)
    there = lay_rows(
        Block("B1", translate(outline, dx, dy), rules),
        None,
        [Exclusion(translate(e.shape, dx, dy), e.clearance_m) for e in exclusions],
    )
    assert_same_places(there, plan.vines.xy_m + [dx, dy], 1e-5)  # as above
    assert there.segments.letter.tolist() == plan.segments.letter.tolist()


def started_at(ring, k: int) -> list:
    corners = list(ring.coords[:-1])
    k %= len(corners)
    return corners[k:] + corners[:k]


@few
@given(outlines, rules_of(), st.integers(0, 50), st.booleans(), st.booleans())
def test_where_a_ring_starts_and_which_way_it_runs_changes_nothing(
    outline, rules, k, back, holes_back
):
    shell = started_at(outline.exterior, k)
    holes = [started_at(r, k) for r in outline.interiors]
    other = shapely.Polygon(
        shell[::-1] if back else shell, [h[::-1] if holes_back else h for h in holes]
    )
    plan = lay_rows(Block("B1", outline, rules))
    assert_same_places(lay_rows(Block("B1", other, rules)), plan.vines.xy_m)


@few
@given(outlines, rules_of())
def test_doubling_every_edge_with_a_corner_in_its_middle_changes_nothing(outline, rules):
    def halved(ring):
        corners = np.array(ring.coords)
        middles = (corners[:-1] + corners[1:]) / 2
        return np.stack([corners[:-1], middles], axis=1).reshape(-1, 2)

    other = shapely.Polygon(halved(outline.exterior), [halved(r) for r in outline.interiors])
    plan = lay_rows(Block("B1", outline, rules))
    there = lay_rows(Block("B1", other, rules))
    assert there.n_segments == plan.n_segments
    assert_same_places(there, plan.vines.xy_m, 1e-5)  # middles are off their edge by rounding


@few
@given(sites(), rules_of())
def test_neighbouring_rows_are_one_spacing_apart(site, rules):
    outline, exclusions = site
    plan = lay_rows(Block("B1", outline, rules), None, exclusions)
    assume(plan.n_rows > 1)
    unit = np.array(
        [math.sin(math.radians(rules.bearing_deg)), math.cos(math.radians(rules.bearing_deg))]
    )
    right = np.array([unit[1], -unit[0]])
    lines, first = np.unique(plan.segments.line, return_index=True)
    across = plan.segment_ends_m[first, 0] @ right
    assert np.abs(np.diff(across) - np.diff(lines) * rules.row_spacing_m).max() <= 1e-6
    # Both end posts, all vines and both anchors of a segment stand on its row's line.
    for marks in plan.marks():
        if len(marks):
            off = marks.xy_m @ right - plan.segments.across_m[marks.segment]
            assert np.abs(off).max() <= 1e-6
    anchors = plan.anchors.xy_m.reshape(-1, 2, 2)
    beyond = (anchors - plan.segment_ends_m) @ unit
    assert np.abs(beyond - [-rules.anchor_m, rules.anchor_m]).max() <= 1e-6


@few
@given(sites(), rules_of())
def test_vines_keep_their_spacing_and_rows_their_least_length(site, rules):
    outline, exclusions = site
    plan = lay_rows(Block("B1", outline, rules), None, exclusions)
    s = plan.segments
    assert (s.length_m >= rules.min_row_m - 1e-6).all()
    assert (plan.dropped.length_m < rules.min_row_m).all()
    xy, segment = plan.vines.xy_m, plan.vines.segment
    together = segment[1:] == segment[:-1]
    step = np.hypot(*(xy[1:] - xy[:-1]).T)[together]
    most = 1 + (rules.stretch_max_pct / 100 if rules.leftover == "stretch" else 0)
    assert (step <= rules.vine_spacing_m * most + 1e-6).all()
    assert (step >= rules.vine_spacing_m * (2 - most) - 1e-6).all()
    planted = s.n_vines > 0
    last = (s.first_vine_m + (s.n_vines - 1) * s.vine_step_m)[planted]
    assert (s.first_vine_m[planted] >= rules.first_vine_m - 1e-6).all()
    assert (s.length_m[planted] - last >= rules.last_vine_m - 1e-5).all()


@few
@given(sites(), rules_of())
def test_every_piece_has_its_own_code_in_order(site, rules):
    outline, exclusions = site
    s = lay_rows(Block("B1", outline, rules), None, exclusions).segments
    names = list(zip(s.number.tolist(), s.letter.tolist(), strict=True))
    assert len(set(names)) == len(names)
    assert names == sorted(names)
    for number in set(s.number.tolist()):
        own = s.number == number
        assert s.letter[own].tolist() == list(range(own.sum()))
        assert (s.start_m[own][1:] > s.end_m[own][:-1]).all()
    order = 1 if rules.number_from == "left" else -1
    assert (np.diff(s.across_m) * order >= 0).all()


def on_lattice_of(block, rules, across_m, exclusions):
    """The block laid with its row lines at whole spacings from `across_m`."""
    left = lay_rows(
        block, replace(rules, first_row_m=0.0), exclusions, check=False
    ).extent_across_m[0]
    first = (across_m - left) % rules.row_spacing_m
    return lay_rows(block, replace(rules, first_row_m=first), exclusions)


@few
@given(sites(), rules_of(), st.floats(0.05, 10))
def test_a_wider_headland_never_lengthens_the_rows(site, rules, wider_m):
    """With the row lines held: a headland can take the leftmost corner, and the lines go with it."""
    outline, exclusions = site
    block = Block("B1", outline)
    rules = replace(rules, min_row_m=0.0)
    plan = lay_rows(block, rules, exclusions)
    assume(plan.n_rows)
    line = plan.extent_across_m[0] + plan.first_row_m
    before = on_lattice_of(block, rules, line, exclusions)
    wide = replace(rules, headland_m=rules.headland_m + wider_m)
    after = on_lattice_of(block, wide, line, exclusions)
    assert after.row_length_m <= before.row_length_m + 1e-3


@few
@given(st.floats(10, 80), st.floats(20, 200), rules_of(), st.floats(0.05, 10))
def test_a_wider_headland_never_lengthens_the_rows_of_a_box(width, length, rules, wider_m):
    """Edges along the rows: no lines move, nothing need be held."""
    block = Block("B1", turned(shapely.box(0, 0, width, length), rules.bearing_deg))
    rules = replace(rules, min_row_m=0.0)
    wide = replace(rules, headland_m=rules.headland_m + wider_m)
    assert lay_rows(block, wide).row_length_m <= lay_rows(block, rules).row_length_m + 1e-6


@few
@given(sites(), rules_of())
def test_the_opposite_bearing_walks_the_same_rows_from_the_other_end(site, rules):
    """Left is right then, so the lines are held by the first row and numbers run from the other side."""
    outline, exclusions = site
    block = Block("B1", outline)
    plan = lay_rows(block, rules, exclusions)
    left, right = plan.extent_across_m
    spacing = rules.row_spacing_m
    first_back = (right - left - plan.first_row_m) % spacing
    # A last line may lie a millimetre beyond the rim, a first one may not: not the same mirrored.
    assume(2e-3 < first_back < spacing - 2e-3)
    assume(2e-3 < plan.first_row_m % spacing < spacing - 2e-3)
    assume(right - left > plan.first_row_m)
    back = lay_rows(
        block,
        replace(
            rules,
            bearing_deg=rules.bearing_deg + 180,
            first_row_m=first_back,
            number_from="right" if rules.number_from == "left" else "left",
        ),
        exclusions,
    )
    # The first row back may have more lines on the left than row 1 allowed for.
    extra = round(
        (back.extent_across_m[1] - back.extent_across_m[0] - first_back) // spacing
    ) - round((right - left - plan.first_row_m) // spacing)
    assume(extra == 0)
    assert back.n_segments == plan.n_segments
    assert back.segments.number.tolist() == plan.segments.number.tolist()
    if plan.n_segments:
        key = np.lexsort((-back.segments.start_m, back.segments.number))
        ends = back.segment_ends_m[key][:, ::-1]
        assert np.abs(ends - plan.segment_ends_m).max() <= 1e-5  # as above


@settings(few, max_examples=15)
@given(sites(), rules_of())
def test_best_first_row_is_as_good_as_any_other(site, rules):
    outline, exclusions = site
    block = Block("B1", outline)
    best = lay_rows(block, replace(rules, first_row_m="best"), exclusions)
    assert 0 <= best.first_row_m < rules.row_spacing_m
    for offset in np.arange(0, rules.row_spacing_m - 1e-9, 0.05):
        other = lay_rows(block, replace(rules, first_row_m=float(offset)), exclusions, check=False)
        assert best.n_vines >= other.n_vines
    fixed = lay_rows(block, replace(rules, first_row_m=best.first_row_m), exclusions)
    assert np.array_equal(fixed.vines.xy_m, best.vines.xy_m)


@few
@given(sites(), rules_of())
def test_the_same_question_has_the_same_answer(site, rules):
    """And the order in which exclusions are given does not matter."""
    outline, exclusions = site
    block = Block("B1", outline, rules)
    plan = lay_rows(block, None, exclusions)
    assert np.array_equal(plan.vines.xy_m, lay_rows(block, None, exclusions).vines.xy_m)
    assert_same_places(lay_rows(block, None, exclusions[::-1]), plan.vines.xy_m)
