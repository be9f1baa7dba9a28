"""Parallels of a curve: against circles, straight lines and sampling."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk.core.geometry.along_parallels import clipped, directions_at, places_at
from layoutdesk.core.geometry.axes import RowAxes
from layoutdesk.core.geometry.curves import (
    extended,
    extent_across,
    guide_curve,
    to_lines,
)
from layoutdesk.core.geometry.edges import ring_edges
from layoutdesk.core.geometry.parallels import offset_lines
from layoutdesk.core.geometry.scanline import Region, clip_lines, edges_in_axes

R = 100.0
ARC_DEG = np.array([0.0, 13.0, 40.0, 61.0, 90.0])


def on_circle(angle_deg, radius_m=R):
    """Places on a circle about (0, 0), clockwise from north: travel turns right."""
    angle = np.radians(angle_deg)
    return radius_m * np.c_[np.sin(angle), np.cos(angle)]


def least_radius_m(curve):
    return 1 / np.abs(curve.curvature).max(initial=1e-12)


def arc(**options):
    return guide_curve(on_circle(ARC_DEG), **options)


def random_area(rng, about=(0.0, 0.0), radius_m=60.0):
    """A star-shaped polygon with a hole."""
    n = int(rng.integers(5, 14))
    angle = np.sort(rng.uniform(0, 360, n))
    shell = on_circle(angle) / R * rng.uniform(0.4, 1.0, n)[:, None] * radius_m
    area = shapely.make_valid(shapely.polygons(shell + np.asarray(about)))
    hole = shapely.Point(*about).buffer(rng.uniform(2, 8), quad_segs=2)
    area = area.difference(hole)
    return max(shapely.get_parts(area), key=shapely.area)


def bends(rng, n):
    """Corners of a line that winds gently."""
    heading = np.cumsum(rng.uniform(-0.7, 0.7, n - 1)) + rng.uniform(0, 6)
    step = rng.uniform(30, 80, n - 1)[:, None] * np.c_[np.sin(heading), np.cos(heading)]
    return np.r_[[[0.0, 0.0]], np.cumsum(step, axis=0)]


# --- the curve -------------------------------------------------------------------------------


def test_corners_on_a_circle_give_that_circle():
    curve = arc()
    assert np.hypot(*curve.xy_m.T) == pytest.approx(np.full(len(curve.xy_m), R), abs=1e-9)
    assert curve.curvature == pytest.approx(np.full(len(curve.xy_m), 1 / R), rel=1e-9)
    assert curve.normal == pytest.approx(-curve.xy_m / R, abs=1e-9)  # right is the centre
    assert curve.length_m == pytest.approx(R * np.pi / 2, rel=1e-5)
    radius = least_radius_m(curve)
    assert radius == pytest.approx(R)


def test_turning_left_is_negative():
    curve = guide_curve(on_circle(ARC_DEG)[::-1])
    assert curve.curvature == pytest.approx(np.full(len(curve.xy_m), -1 / R), rel=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_a_smooth_curve_goes_through_its_corners_without_a_kink(seed):
    corners = bends(np.random.default_rng(seed), 6)
    curve = guide_curve(corners)
    gaps = np.hypot(*(curve.xy_m[None] - corners[:, None]).transpose(2, 0, 1)).min(axis=1)
    assert gaps.max() == 0
    turn = np.arccos(np.clip((curve.normal[1:] * curve.normal[:-1]).sum(axis=1), -1, 1))
    assert np.degrees(turn.max()) < 1
    # The normals are those of the curve, not of its chords: each chord turns half as far.
    chord = np.diff(curve.xy_m, axis=0)
    lean = (chord * (curve.normal[1:] + curve.normal[:-1])).sum(axis=1)
    assert np.abs(lean / np.hypot(*chord.T)).max() < 1e-4
    # Curvature changes evenly: from corner to corner it jumps by little.
    assert np.abs(np.diff(curve.curvature)).max() < 0.25 * np.abs(curve.curvature).max()


def test_chords_keep_their_distance_from_the_curve_and_from_its_parallels():
    corners = [(0, 0), (60, 90), (150, 120), (230, 110), (280, 60)]
    coarse = guide_curve(corners, chord_m=1e-3, reach_m=200)
    fine = guide_curve(corners, chord_m=1e-6, reach_m=200)
    for v in (-200.0, 0.0, 30.0):
        rough, exact = (offset_lines(c, [v]).as_shapes()[0] for c in (coarse, fine))
        off = shapely.hausdorff_distance(rough, exact)
        assert off <= 1.01e-3
        assert off >= 1e-4 or v != -200.0  # nor finer than it was asked for
    assert len(coarse.xy_m) < 1000


def test_two_corners_give_a_straight_line():
    curve = guide_curve([(3, 4), (3, 4), (33, 44)])
    assert curve.xy_m.tolist() == [[3, 4], [33, 44]]
    assert curve.length_m == pytest.approx(50)
    assert curve.normal == pytest.approx(np.array([[0.8, -0.6]] * 2))
    assert least_radius_m(curve) > 1e9


@pytest.mark.parametrize(
    ("points", "smooth"),
    [
        ([(0, 0)], True),
        ([(1, 1), (1, 1)], False),
        ([(0, 0), (np.nan, 1)], True),
        ([(0, 0), (100, 0), (0, 1)], False),
        ([(0, 0), (100, 0), (0, 0), (100, 0)], True),
    ],
)
def test_a_line_no_curve_can_follow_is_refused(points, smooth):
    with pytest.raises(ValueError, match="points_m"):
        guide_curve(points, smooth=smooth)


def test_parallels_of_a_line_as_drawn_keep_their_distance_from_both_legs():
    curve = guide_curve([(0, 0), (0, 100), (100, 100)], smooth=False)
    lines = offset_lines(curve, [-10.0, 20.0])
    assert not lines.folded.any()
    assert lines.xy_m == pytest.approx(
        np.array([[-10, 0], [-10, 110], [100, 110], [20, 0], [20, 80], [100, 80]]), abs=1e-9
    )
    assert lines.length_m == pytest.approx([220, 160])


def test_straight_ends_go_on_along_the_tangent():
    curve = extended(arc(), 50.0)
    assert curve.xy_m[0] == pytest.approx([-50, R])
    assert curve.xy_m[-1] == pytest.approx([R, -50])
    assert curve.length_m == pytest.approx(R * np.pi / 2 + 100, rel=1e-5)
    assert extended(curve, 0.0) is curve


# --- parallels and their stations ------------------------------------------------------------


def test_parallels_of_an_arc_are_concentric_arcs():
    across = np.array([-250.0, -3.0, 0.0, 3.0, 70.0, 99.0])
    lines = offset_lines(arc(), across)
    assert not lines.folded.any()
    assert lines.length_m == pytest.approx((R - across) * np.pi / 2, rel=1e-5)
    radius = np.hypot(*lines.xy_m.T)
    assert radius == pytest.approx((R - across)[lines.line], abs=1e-9)


def test_equal_stations_are_equal_chords_apart():
    lines = offset_lines(arc(), [-50.0, 60.0])
    for line, radius in enumerate((150.0, 40.0)):
        station = np.arange(0, lines.length_m[line], 1.5)
        places = places_at(lines, np.full(len(station), line), station)
        chord = np.hypot(*np.diff(places, axis=0).T)
        exact = 2 * radius * np.sin(0.75 / radius)
        assert chord == pytest.approx(np.full(len(chord), exact), abs=1e-4)
        assert np.hypot(*places.T) == pytest.approx(np.full(len(places), radius), abs=1e-3)
        unit = directions_at(lines, np.full(len(station), line), station)
        tangent = np.c_[places[:, 1], -places[:, 0]] / radius
        assert unit == pytest.approx(tangent, abs=0.01)


def test_places_beyond_the_ends_go_on_straight():
    lines = offset_lines(arc(), [0.0])
    end = lines.length_m[0]
    assert places_at(lines, [0, 0], [-2.0, end + 2]) == pytest.approx(
        np.array([[-2.0, R], [R, -2.0]]), abs=0.01
    )


def test_running_stations_grow_strictly_even_where_a_parallel_shrinks_to_a_point():
    lines = offset_lines(arc(), [R, R - 1e-9, R - 1e-3, 0.0, 0.0])
    assert np.diff(lines.running_m).min() > 0
    assert lines.length_m[0] == 0 or lines.length_m[0] < 1e-6


@pytest.mark.parametrize("smooth", [True, False])
def test_a_line_drawn_the_other_way_has_the_same_parallels_mirrored(smooth):
    corners = bends(np.random.default_rng(5), 6)
    across = np.array([-40.0, -7.0, 0.0, 12.0, 300.0])
    there = offset_lines(guide_curve(corners, smooth=smooth), across)
    back = offset_lines(guide_curve(corners[::-1], smooth=smooth), -across)
    assert there.folded.tolist() == back.folded.tolist()
    # 5 mm: where a fold is cut, two chords up to 1 mm off the curve meet at a slant.
    assert there.length_m == pytest.approx(back.length_m, abs=5e-3)
    assert there.length_m[:4] == pytest.approx(back.length_m[:4], abs=1e-4)
    for a, b in zip(there.as_shapes(), back.as_shapes(), strict=True):
        assert shapely.hausdorff_distance(a, b) < 5e-3 if len(a.coords) else b.is_empty
    area = shapely.Point(corners[2]).buffer(45)
    one, other = clipped(there, area), clipped(back, area)
    assert np.bincount(one.line, one.length_m, 5) == pytest.approx(
        np.bincount(other.line, other.length_m, 5), abs=1e-3
    )


# --- folds -----------------------------------------------------------------------------------


def test_beyond_the_radius_on_the_inside_a_parallel_is_cut_and_said_to_fold():
    curve = extended(arc(), 300.0)
    across = np.array([-300.0, 99.9, 100.1, 150.0, -99.0])
    lines = offset_lines(curve, across)
    assert lines.folded.tolist() == [False, False, True, True, False]
    # What is left of the parallel at 150 are both legs up to where they meet, in one line.
    mine = lines.line == 3
    assert lines.xy_m[mine] == pytest.approx(np.array([[-300, -50], [-50, -50], [-50, -300]]))
    assert lines.part[mine].tolist() == [0, 0, 0]
    assert lines.length_m[3] == pytest.approx(500)


def test_a_bend_that_is_shut_leaves_nothing_inside_and_everything_outside():
    turn = on_circle(np.linspace(0, 180, 9), 30.0)
    curve = extended(guide_curve(turn), 200.0)
    lines = offset_lines(curve, [-100.0, 29.0, 31.0, 45.0, 10.0])
    assert lines.folded.tolist() == [False, False, True, True, False]
    assert lines.length_m[[2, 3]].tolist() == [0, 0]
    assert lines.as_shapes()[2].is_empty
    assert lines.length_m[4] == pytest.approx(400 + 20 * np.pi, rel=1e-5)
    with pytest.raises(ValueError, match="line_index"):
        places_at(lines, [0, 2], [0.0, 0.0])
    area = shapely.box(-400, -400, 400, 400)
    assert clipped(lines, area).line.tolist() == [0, 1, 4]


def test_a_narrow_place_cuts_a_parallel_into_parts_no_piece_runs_across():
    # A loop open to the south, 100 m wide, with a spur from its right side that leaves 20 m.
    loop = [(0, 0), (0, 200), (100, 200), (100, 101), (20, 100), (100, 99), (100, 0)]
    drawn = [(0, 0), (0, 200), (100, 200), (100, 130), (20, 110), (20, 90), (100, 70), (100, 0)]
    with pytest.raises(ValueError, match="corner 5"):
        guide_curve(loop, smooth=False)
    lines = offset_lines(extended(guide_curve(drawn, smooth=False), 100.0), [5.0, 15.0])
    assert lines.folded.tolist() == [False, True]
    guide = shapely.linestrings(drawn)
    shape = lines.as_shapes()[1]
    assert shapely.distance(shape, guide) >= 15 - 1e-5
    # Three parts: up to the spur, the room behind it and back, and out again.
    first, room, last = shape.geoms
    assert first.coords[0] == pytest.approx((15, -100))
    assert room.coords[0] == pytest.approx(room.coords[-1], abs=1e-6)
    assert last.coords[-1] == pytest.approx((85, -100))
    assert first.coords[-1] == pytest.approx(last.coords[0], abs=1e-6)
    pieces = clipped(lines, shapely.box(-100, -10, 200, 300))
    assert pieces.line.tolist() == [0, 1, 1, 1]
    assert pieces.length_m[1:] == pytest.approx([first.length - 90, room.length, last.length - 90])
    for line, start, end in zip(pieces.line, pieces.start_m, pieces.end_m, strict=True):
        places = places_at(lines, np.full(200, line), np.linspace(start, end, 200))
        assert shapely.distance(shapely.points(places), guide).min() >= (5, 15)[line] - 1e-5


@settings(max_examples=100, deadline=None)
@given(
    st.integers(0, 2**32 - 1),
    st.integers(2, 7),
    st.lists(st.floats(-280, 280), max_size=6),
    st.booleans(),
)
def test_every_place_lies_at_its_offset_and_never_nearer(seed, n, across, smooth):
    rng = np.random.default_rng(seed)
    curve = extended(guide_curve(bends(rng, n), smooth=smooth), 100.0)
    lines = offset_lines(curve, across)
    line = np.repeat(np.flatnonzero(lines.length_m > 0), 50)
    station = rng.uniform(0, 1, len(line)) * lines.length_m[line]
    at = np.searchsorted(lines.running_m, station + lines.origin_m[line], "right") - 1
    joined = lines.part[at] == lines.part[np.minimum(at + 1, len(lines.part) - 1)]
    line, station = line[joined], station[joined]
    places = places_at(lines, line, station)
    beyond = shapely.distance(shapely.points(places), shapely.linestrings(curve.xy_m))
    beyond -= np.abs(lines.across_m[line])
    clear = ~lines.folded[line]
    assert (beyond[clear] >= -1e-3).all()
    assert (beyond >= -2e-3).all()  # where a fold is cut, chords of two stretches meet
    assert not smooth or (beyond <= 1e-3).all()  # a mitre stands farther out
    found = to_lines(curve, places)[1]
    assert found[clear] == pytest.approx(lines.across_m[line][clear], abs=1e-3)


@pytest.mark.parametrize("seed", range(12))
def test_nothing_is_cut_out_that_keeps_its_distance(seed):
    rng = np.random.default_rng(seed)
    curve = extended(guide_curve(bends(rng, 5)), 150.0)
    guide = shapely.linestrings(curve.xy_m)
    shapely.prepare(guide)
    ends = shapely.multipoints(curve.xy_m[[0, -1]])
    for v in rng.uniform(-250, 250, 4):
        lines = offset_lines(curve, [v])
        raw = shapely.points(curve.xy_m + v * curve.ray)
        clear = shapely.distance(raw, guide) >= abs(v) - 1e-6
        clear &= shapely.distance(raw, ends) > abs(v) + 1
        left = lines.as_shapes()[0]
        assert not clear.any() or shapely.distance(raw[clear], left).max() < 1e-3
        near = shapely.distance(raw, guide) < abs(v) - 2e-3
        assert lines.folded[0] or not near.any()


# --- clipping --------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(40))
@pytest.mark.parametrize("smooth", [True, False])
def test_a_straight_guide_clips_as_straight_lines_do(seed, smooth):
    rng = np.random.default_rng(seed)
    bearing = rng.uniform(0, 360)
    axes = RowAxes(bearing)
    area = random_area(rng)
    across = np.arange(-60.0, 60.0, 2.4) + rng.uniform(0, 2.4)
    inside = edges_in_axes(ring_edges(area), axes)
    expected = clip_lines(across, Region(inside=inside))
    along = np.array([-100.0, -20.0, 31.0, 100.0])
    drawn = axes.to_plane(np.c_[along, np.zeros(4)])
    found = clipped(offset_lines(guide_curve(drawn, smooth=smooth), across), area)
    assert found.line.tolist() == expected.line.tolist()
    assert found.start_m - 100 == pytest.approx(expected.start_m, abs=1e-6)
    assert found.end_m - 100 == pytest.approx(expected.end_m, abs=1e-6)


def test_pieces_end_on_the_rim_of_the_area():
    curve = extended(guide_curve(bends(np.random.default_rng(11), 6)), 200.0)
    lines = offset_lines(curve, np.arange(-80, 80, 2.5))
    area = random_area(np.random.default_rng(2), curve.xy_m[len(curve.xy_m) // 2], 70.0)
    pieces = clipped(lines, area)
    assert len(pieces) > 20
    order = np.lexsort((pieces.start_m, pieces.line))
    assert order.tolist() == list(range(len(pieces)))
    for station in (pieces.start_m, pieces.end_m):
        ends = shapely.points(places_at(lines, pieces.line, station))
        assert shapely.distance(ends, area.boundary).max() < 1e-6
    middle = (pieces.start_m + pieces.end_m) / 2
    assert shapely.contains(area, shapely.points(places_at(lines, pieces.line, middle))).all()
    total = shapely.length(shapely.intersection(lines.as_shapes(), area)).sum()
    assert pieces.length_m.sum() == pytest.approx(total, abs=1e-6)


def test_arcs_in_a_sector_are_as_long_as_their_angle():
    curve = extended(arc(), 30.0)
    across = np.arange(-40.0, 90.0, 10.0)
    sector = shapely.Polygon([(0, 0), *on_circle([20.0, 45.0, 65.0], 400.0)])
    pieces = clipped(offset_lines(curve, across), sector)
    assert pieces.line.tolist() == list(range(len(across)))
    assert pieces.length_m == pytest.approx((R - across) * np.radians(45), rel=1e-5)


@pytest.mark.parametrize("off_m", [0.0, 1e-9, 5e-4, -5e-4])
@pytest.mark.parametrize("bearing", [0.0, 18.0, 123.4])
def test_a_line_along_an_edge_is_on_it_whatever_rounding_says(off_m, bearing):
    axes = RowAxes(bearing)
    square = [(0, 0), (0, 30), (50, 30), (80, 30), (80, 0)]
    area = shapely.Polygon(axes.to_plane(np.array(square, dtype=float)))
    curve = guide_curve(axes.to_plane(np.array([[-20.0, 10.0], [120.0, 10.0]])))
    across = np.array([-10.0 - off_m, 3.0, 20.0 + off_m])
    pieces = clipped(offset_lines(curve, across), area)
    assert pieces.line.tolist() == [0, 1, 2]
    assert pieces.start_m == pytest.approx(np.full(3, 20.0), abs=1e-6)
    assert pieces.end_m == pytest.approx(np.full(3, 100.0), abs=1e-6)


def test_beyond_the_rim_a_line_along_an_edge_is_out():
    curve = guide_curve([(-20, 0), (120, 0)])
    assert len(clipped(offset_lines(curve, [-0.0011]), shapely.box(0, -30, 80, 0))) == 0


def test_an_edge_crossed_in_its_middle_clips_there_however_flat():
    area = shapely.Polygon([(0, 0), (1000, 2), (1000, -50), (0, -50)])  # two per mille
    pieces = clipped(offset_lines(guide_curve([(-10, 1), (1100, 1)]), [0.0]), area)
    assert pieces.start_m == pytest.approx([510], abs=1e-6)
    assert pieces.end_m == pytest.approx([1010], abs=1e-6)


def test_a_touched_corner_splits_nothing_and_makes_nothing():
    curve = guide_curve([(0, 0), (100, 0)])
    notched = shapely.Polygon(
        [(10, -10), (90, -10), (90, 20), (60, 20), (50, 0), (40, 20), (10, 20)]
    )
    spike = shapely.Polygon([(95, -30), (99, -30), (97, 0)])
    for area in (notched, shapely.MultiPolygon([notched, spike])):
        pieces = clipped(offset_lines(curve, [0.0]), area)
        assert pieces.start_m == pytest.approx([10])
        assert pieces.end_m == pytest.approx([90])
    two = shapely.MultiPolygon([shapely.box(10, -5, 40, 5), shapely.box(40, -5, 70, -1e-9)])
    assert clipped(offset_lines(curve, [2.0]), two).end_m == pytest.approx([70])


def test_no_lines_and_no_ground_give_no_pieces():
    curve = arc()
    assert len(clipped(offset_lines(curve, [0.0, 5.0]), shapely.box(900, 900, 910, 910))) == 0
    none = offset_lines(curve, [])
    assert len(none) == 0
    assert len(clipped(none, shapely.box(0, 0, 100, 100))) == 0
    assert none.as_shapes().shape == (0,)


def test_a_line_that_crosses_itself_is_clipped_in_the_right_turn():
    loop = np.r_[[[-120.0, 0.0]], on_circle(np.arange(180, -160, -20), 40.0) + [0, 40], [[120, 0]]]
    lines = offset_lines(guide_curve(loop[:, ::1]), [0.0])
    shape = lines.as_shapes()[0]
    assert not shape.is_simple
    area = shapely.box(-200, 30, 200, 200)  # the upper half of the loop
    pieces = clipped(lines, area)
    assert len(pieces) == 1
    middle = places_at(lines, [0], (pieces.start_m + pieces.end_m) / 2)
    assert middle[0, 1] > 70


# --- picking and the extent ------------------------------------------------------------------


def test_points_are_found_again_by_station_and_offset():
    rng = np.random.default_rng(9)
    curve = extended(guide_curve(bends(rng, 5)), 60.0)
    reach = 0.8 * least_radius_m(curve)
    at = rng.integers(0, len(curve.xy_m), 300)
    across = rng.uniform(-reach, reach, 300)
    station, found = to_lines(curve, curve.xy_m[at] + across[:, None] * curve.normal[at])
    assert found == pytest.approx(across, abs=1e-6)
    assert station == pytest.approx(curve.station_m[at], abs=1e-4)


def test_beyond_its_ends_the_guide_counts_as_going_on_straight():
    station, across = to_lines(arc(), [(-30.0, R - 7), (R + 5, -20.0)])
    assert station == pytest.approx([-30, R * np.pi / 2 + 20], abs=1e-3)
    assert across == pytest.approx([7, -5], abs=1e-6)


def test_points_about_a_drawn_corner_belong_to_the_leg_on_their_side():
    curve = guide_curve([(0, 0), (0, 100), (100, 100)], smooth=False)
    across = to_lines(curve, [(-10, 105), (-5, 110), (10, 70), (30, 95)])[1]
    assert across == pytest.approx([-10, -10, 10, 5])


def test_the_extent_of_an_area_astride_an_arc_is_that_of_its_tangents():
    curve = extended(arc(), 200.0)
    # Its lower edge touches the circle of radius 50 in its middle, nowhere near a corner.
    along, out = on_circle([135.0], 1.0)[0], on_circle([45.0], 1.0)[0]
    corners = [out * 50 - along * 30, out * 50 + along * 30, out * 130 + along * 3]
    left, right = extent_across(curve, shapely.Polygon([*corners, out * 130 - along * 3]))
    assert right == pytest.approx(50.0, abs=1e-3)
    assert left == pytest.approx(R - np.hypot(130, 3), abs=1e-3)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("smooth", [True, False])
def test_the_extent_is_never_less_than_that_of_dense_samples(seed, smooth):
    rng = np.random.default_rng(seed)
    curve = extended(guide_curve(bends(rng, 6), smooth=smooth), 400.0)
    area = random_area(rng, curve.xy_m[len(curve.xy_m) // 2], 50.0)
    left, right = extent_across(curve, area)
    sampled = to_lines(curve, shapely.get_coordinates(shapely.segmentize(area, 0.2)))[1]
    assert left <= sampled.min() + 1e-6
    assert right >= sampled.max() - 1e-6
    assert left == pytest.approx(sampled.min(), abs=0.01)
    assert right == pytest.approx(sampled.max(), abs=0.01)
