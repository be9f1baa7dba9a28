"""Rows that lie exactly on corners, edges and circles: settled by rule, not by rounding."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from layoutdesk import Alley, Block, EdgeWidth, Exclusion, RowRules, lay_rows
from tests.zoo import ZOO, box_with, turned

BEARINGS = [0.0, 20.0, 90.0, 123.456, 180.0, 270.0, 359.9999999]


def laid(outline, exclusions=(), edge_widths=(), **rules):
    """A plan with nothing kept clear and no row too short, unless told."""
    plain = {"headland_m": 0, "side_margin_m": 0, "min_row_m": 0, "anchor_m": 0}
    return lay_rows(
        Block("B1", outline, RowRules(**{**plain, **rules}), edge_widths), None, exclusions
    )


@pytest.mark.parametrize("bearing", BEARINGS)
class TestBoxTurnedWithTheRows:
    """Everything that holds at 0° holds at any bearing."""

    def test_rows_lie_on_both_edges(self, bearing):
        plan = laid(turned(shapely.box(0, 0, 24, 150), bearing), bearing_deg=bearing)
        assert plan.n_rows == 11
        assert plan.row_length_m == pytest.approx(11 * 150, abs=1e-6)

    def test_row_of_exactly_a_hundred_spaces_holds_a_hundred_and_one_vines(self, bearing):
        plan = laid(
            turned(shapely.box(0, 0, 24, 150), bearing),
            bearing_deg=bearing,
            first_vine_m=0,
            last_vine_m=0,
        )
        assert set(plan.segments.n_vines.tolist()) == {101}

    def test_row_of_exactly_the_least_length_stays(self, bearing):
        outline = turned(shapely.box(0, 0, 24, 150), bearing)
        assert laid(outline, bearing_deg=bearing, min_row_m=150).n_rows == 11
        shorter = laid(outline, bearing_deg=bearing, min_row_m=150.001)
        assert (shorter.n_rows, len(shorter.dropped)) == (0, 11)

    def test_plantable_area_that_is_one_line_holds_one_row(self, bearing):
        outline = turned(shapely.box(0, 0, 6, 150), bearing)
        plan = laid(outline, bearing_deg=bearing, side_margin_m=3)
        assert (plan.n_rows, plan.row_length_m) == (1, pytest.approx(150, abs=1e-6))

    def test_plantable_area_narrower_than_any_step_of_a_search_holds_one_row(self, bearing):
        outline = turned(shapely.box(0, 0, 6.09, 100), bearing)
        assert laid(outline, bearing_deg=bearing, side_margin_m=3.02).n_rows == 1

    def test_hole_flush_with_a_row_does_not_cut_it(self, bearing):
        hole = [(9.6, 40), (15.6, 40), (15.6, 60), (9.6, 60)]
        plan = laid(turned(box_with(hole, width_m=24), bearing), bearing_deg=bearing)
        # Rows at 12.0 and 14.4 are cut, the one at 9.6 runs along the hole.
        cut = plan.segments.line[plan.segments.letter > 0]
        assert cut.tolist() == [5, 6]
        assert plan.row_length_m == pytest.approx(11 * 150 - 2 * 20, abs=1e-6)

    def test_clearance_that_ends_on_a_row_does_not_cut_it(self, bearing):
        for shape, clearance in (
            (shapely.Point(12 + 5, 75), 5.0),
            (shapely.box(14, 60, 20, 80), 2.0),
            (shapely.LineString([(14, 60), (14, 80)]), 2.0),
            (shapely.box(12, 60, 20, 80), 0.0),
        ):
            plan = laid(
                turned(shapely.box(0, 0, 24, 150), bearing),
                [Exclusion(turned(shape, bearing), clearance)],
                bearing_deg=bearing,
                row_spacing_m=12,
            )
            assert (plan.n_rows, plan.n_segments) == (3, 3), shape.geom_type
            assert plan.row_length_m == pytest.approx(450, abs=1e-6)

    def test_two_exclusions_side_by_side_leave_no_row_between(self, bearing):
        pair = [shapely.box(4.8, 40, 12, 60), shapely.box(12, 40, 19.2, 60)]
        plan = laid(
            turned(shapely.box(0, 0, 24, 150), bearing),
            [Exclusion(turned(shape, bearing)) for shape in pair],
            bearing_deg=bearing,
        )
        # Cut are 7.2, 9.6, 12.0 (on the common edge), 14.4 and 16.8; 4.8 and 19.2 run along.
        assert plan.n_segments == 16
        assert plan.row_length_m == pytest.approx(11 * 150 - 5 * 20, abs=1e-6)

    def test_anchor_on_the_outline_is_inside(self, bearing):
        outline = turned(shapely.box(0, 0, 24, 150), bearing)
        rules = {"bearing_deg": bearing, "headland_m": 1.2, "side_margin_m": 1.2}
        assert laid(outline, anchor_m=1.2, **rules).findings == ()
        beyond = laid(outline, anchor_m=1.25, **rules)
        assert {f.code for f in beyond.findings} == {"anchor-outside"}

    def test_best_first_row_of_a_flush_box_takes_both_edges(self, bearing):
        outline = turned(shapely.box(0, 0, 24, 150), bearing)
        plan = laid(outline, bearing_deg=bearing, first_row_m="best")
        assert plan.n_rows == 11
        assert plan.first_row_m == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize("over_mm", [-0.9, -0.5, 0.0, 0.5, 0.9])
def test_within_a_millimetre_of_an_edge_is_on_it(over_mm):
    x = 9.6 + over_mm / 1000
    hole = [(x, 40), (11, 40), (11, 60), (x, 60)]
    assert laid(box_with(hole, width_m=24)).n_segments == 11
    assert laid(shapely.box(0, 0, 24 + over_mm / 1000, 150)).n_rows == 11


def test_two_millimetres_are_beside_it():
    hole = [(9.598, 40), (11, 40), (11, 60), (9.598, 60)]
    assert laid(box_with(hole, width_m=24)).n_segments == 12
    assert laid(shapely.box(0, 0, 23.998, 150)).n_rows == 10


@pytest.mark.parametrize("mirrored", [False, True])
def test_a_touched_corner_splits_nothing(mirrored):
    """A hole's corner on a row line, from the left and from the right."""
    hole = np.array([(9.6, 60), (11.5, 55), (11.5, 65)])
    if mirrored:
        hole[:, 0] = 2 * 9.6 - hole[:, 0]
        hole[hole < 7.8] = 7.7
    assert laid(box_with(hole.tolist(), width_m=24)).n_segments == 11


def test_a_row_through_a_corner_where_rims_cross_is_counted_once():
    """The row enters a diamond through one corner and leaves it through the opposite one."""
    hole = [(12, 40), (16, 60), (12, 80), (8, 60)]
    plan = laid(box_with(hole, width_m=24))
    middle = plan.segments.line == 5
    assert plan.segments.start_m[middle].tolist() == pytest.approx([0, 80])
    assert plan.segments.end_m[middle].tolist() == pytest.approx([40, 150])


def test_a_hairline_cut_splits_no_row_that_crosses_it():
    """Two parts joined with a gap of rounding: nobody wants two end posts a millimetre apart."""
    for bearing in (20.0, 90.0):
        plan = laid(ZOO["hairline"], bearing_deg=bearing)
        s = plan.segments
        same_row = s.line[1:] == s.line[:-1]
        assert not ((s.start_m[1:] - s.end_m[:-1])[same_row] < 0.01).any()
    # A cut of a centimetre is one.
    assert (laid(ZOO["slit"], bearing_deg=90.0).segments.letter > 0).sum() > 40


def test_a_circle_pressed_past_a_row_cuts_its_chord():
    plan = laid(shapely.box(0, 0, 24, 150), [Exclusion(shapely.Point(15, 75), 5)], row_spacing_m=12)
    chord = plan.segments.start_m[plan.segments.letter == 1] - plan.segments.end_m[1]
    assert plan.n_segments == 4
    assert chord.tolist() == pytest.approx([8.0])


def test_overlapping_exclusions_keep_clear_what_one_of_them_does():
    block = shapely.box(0, 0, 24, 150)
    a, b = shapely.box(4, 40, 13, 60), shapely.box(10, 50, 20, 80)
    apart = laid(block, [Exclusion(a, 1.5), Exclusion(b, 0.5)])
    twice = laid(block, [Exclusion(a, 1.5), Exclusion(b, 0.5), Exclusion(a, 1.5), Exclusion(a)])
    assert np.array_equal(apart.vines.xy_m, twice.vines.xy_m)
    assert apart.n_segments == 18  # rows at 2.4 to 14.4 (6 by the first), 9.6 to 19.2 by the second


@pytest.mark.parametrize(
    "shape",
    [
        shapely.GeometryCollection([shapely.MultiPolygon([shapely.box(5, 20, 20, 40)])]),
        shapely.GeometryCollection([shapely.GeometryCollection([shapely.Point(12, 75)])]),
        shapely.MultiLineString([[(2, 75), (20, 75)]]),
        shapely.LineString([(12, 75), (12, 75)]),
        shapely.LinearRing([(5, 20), (20, 20), (20, 40)]),
    ],
    ids=["polygon two deep", "point two deep", "line in a multi", "line without length", "ring"],
)
def test_an_exclusion_is_kept_clear_however_it_is_packed(shape):
    plan = laid(shapely.box(0, 0, 24, 150), [Exclusion(shape, 3.0)])
    near = shapely.distance(shape, shapely.points(plan.vines.xy_m))
    assert near.min() >= 3.0 - 1e-3
    assert plan.n_segments > 11


def test_exclusions_out_of_reach_change_nothing():
    block = shapely.box(0, 0, 24, 150)
    bare = laid(block)
    apart = [
        Exclusion(shapely.Point(-5.0, 75), 5.0),
        Exclusion(shapely.box(30, 0, 40, 150), 5.9),
        Exclusion(shapely.box(0, 150, 24, 170)),
        Exclusion(shapely.Polygon(), 2.0),
    ]
    assert np.array_equal(laid(block, apart).vines.xy_m, bare.vines.xy_m)


def test_an_exclusion_over_the_rim_takes_the_corner():
    plan = laid(shapely.box(0, 0, 24, 150), [Exclusion(shapely.box(-5, -5, 5, 20), 1.0)])
    starts = dict(zip(plan.segments.line.tolist(), plan.segments.start_m.tolist(), strict=True))
    assert [starts[k] for k in range(4)] == pytest.approx([21, 21, 21, 0])


def test_an_exclusion_over_everything_leaves_no_row():
    for clearance in (0.0, 5.0):
        plan = laid(shapely.box(0, 0, 24, 150), [Exclusion(shapely.box(0, 0, 24, 150), clearance)])
        assert plan.n_rows == 0
        assert [f.code for f in plan.findings] == ["no-rows"]
        assert plan.vines.xy_m.shape == (0, 2)


@pytest.mark.parametrize("bad", [-1.0, float("nan"), float("inf")])
def test_widths_that_are_none_are_refused(bad):
    """A clearance that is no number would silently keep nothing clear."""
    with pytest.raises(ValueError, match="clearance_m"):
        Exclusion(shapely.Point(0, 0), bad)
    with pytest.raises(ValueError, match="width_m"):
        EdgeWidth(0, 0, bad)
    with pytest.raises(ValueError, match="width_m"):
        Alley(0, 0, bad)


@pytest.mark.parametrize("bearing", BEARINGS)
def test_an_edge_at_exactly_the_side_angle_gets_the_headland(bearing):
    """30° and more is an end edge: the slanted top keeps 8 m clear, a hair flatter to the rows 3 m."""
    for angle, width in ((30.0, 8.0), (30.001, 8.0), (29.999, 3.0)):
        top = 100 - 30 / np.tan(np.radians(angle))
        outline = shapely.Polygon([(0, 0), (30, 0), (30, 100), (0, top)])
        plan = laid(
            turned(outline, bearing),
            bearing_deg=bearing,
            headland_m=8,
            side_margin_m=3,
            first_row_m=13.0,
            row_spacing_m=20,
        )
        ends = plan.segment_ends_m[-1, 1]
        slanted = turned(shapely.LineString([(30, 100), (0, top)]), bearing)
        assert shapely.distance(slanted, shapely.Point(ends)) == pytest.approx(width, abs=1e-6), (
            angle
        )


def test_edge_widths_follow_the_edge_whichever_way_the_ring_runs():
    corners = [(0, 0), (24, 0), (24, 150), (0, 150)]
    forward = laid(shapely.Polygon(corners), edge_widths=(EdgeWidth(0, 1, 5.0),))
    back = laid(shapely.Polygon(corners[::-1]), edge_widths=(EdgeWidth(0, 1, 5.0),))
    assert forward.extent_across_m == pytest.approx((0, 19))  # edge 1 runs up the right side
    assert back.extent_across_m == pytest.approx((0, 19))  # and here down it


class TestAlleys:
    def test_a_straight_alley_cuts_its_width(self):
        plan = laid(shapely.box(0, 0, 24, 150), alleys=(Alley(12, 75, 6),))
        assert plan.n_segments == 22
        assert set(np.round(plan.segments.end_m[plan.segments.letter == 0], 9)) == {72.0}
        assert set(np.round(plan.segments.start_m[plan.segments.letter == 1], 9)) == {78.0}

    @pytest.mark.parametrize("bearing", [20.0, 60.0, 120.0, 240.0])
    def test_a_slanted_alley_keeps_its_width_at_right_angles(self, bearing):
        plan = laid(shapely.box(0, 0, 24, 150), alleys=(Alley(12, 75, 6, bearing),))
        step = np.array([np.sin(np.radians(bearing)), np.cos(np.radians(bearing))])
        off = np.abs((plan.segment_ends_m.reshape(-1, 2) - [12, 75]) @ [step[1], -step[0]])
        inner = np.sort(off)[:22]
        assert inner == pytest.approx(np.full(22, 3.0), abs=1e-6)
        assert plan.n_segments == 22

    def test_alleys_do_not_move_the_rows(self):
        """An alley over the leftmost tip of the block cuts rows; where the rows lie stays."""
        outline = shapely.Polygon([(-20, 75), (0, 0), (60, 0), (60, 150), (0, 150)])
        bare = laid(outline, first_row_m=1.0)
        cut = laid(outline, first_row_m=1.0, alleys=(Alley(0, 75, 10),))
        assert cut.extent_across_m == bare.extent_across_m
        assert set(cut.segments.number.tolist()) <= set(bare.segments.number.tolist())
        both = np.isin(bare.segments.number, cut.segments.number)
        where = dict(zip(cut.segments.number.tolist(), cut.segments.across_m.tolist(), strict=True))
        assert bare.segments.across_m[both].tolist() == [
            where[n] for n in bare.segments.number[both]
        ]

    def test_regular_alleys_stand_from_the_start_extreme(self):
        plan = laid(shapely.box(0, 0, 24, 150), alley_every_m=50, alley_width_m=6)
        first = plan.segments.line == 0
        assert plan.segments.start_m[first].tolist() == pytest.approx([0, 53, 103])
        assert plan.segments.end_m[first].tolist() == pytest.approx([47, 97, 150])

    def test_an_alley_along_the_rows_is_refused(self):
        with pytest.raises(ValueError, match="alleys"):
            laid(shapely.box(0, 0, 24, 150), alleys=(Alley(12, 75, 6, 3.0),))


def test_a_first_row_beyond_the_block_is_no_row():
    plan = laid(shapely.box(0, 0, 24, 150), first_row_m=24.5)
    assert plan.n_rows == 0
    assert laid(shapely.box(0, 0, 24, 150), first_row_m=24.0).n_rows == 1


def test_rows_numbered_from_the_right_count_every_line():
    """Numbers are of lines, also those too short to plant, so that they survive small edits."""
    outline = shapely.Polygon([(0, 0), (24, 0), (24, 150), (12, 150)])
    left = laid(outline, min_row_m=40, first_number=5)
    right = laid(outline, min_row_m=40, first_number=5, number_from="right")
    assert len(left.dropped) > 0
    assert left.segments.number.min() == 5 + left.segments.line.min()
    assert right.segments.number.tolist()[0] == 5
    top = left.segments.line.max()
    assert right.segments.number.tolist() == (5 + top - right.segments.line).tolist()
