"""Where a place under the hand settles while outlines are drawn: what is preferred, and how exactly."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk import Block, Exclusion, Project, RowRules, Site, SiteFrame, lay_rows
from layoutdesk.session.snapping import ALL, GridSteps, SnapTargets, snap
from tests.zoo import wavy

B1 = shapely.Polygon([(0, 0), (120, 10), (110, 180), (-10, 160)], [[(40, 60), (60, 60), (50, 80)]])
B2 = shapely.box(200, 0, 300, 100)
POND = shapely.MultiPolygon([shapely.box(400, 0, 420, 20), shapely.box(440, 0, 460, 20)])
SHAPES = (
    Exclusion(POND, 5.0, kind="pond"),
    Exclusion(shapely.LineString([(0, 300), (100, 300), (150, 350)]), 3.0, name="North ditch"),
    Exclusion(shapely.Point(250, 300), 2.0, kind="pole"),
    Exclusion(shapely.box(600, 0, 610, 10)),
)


def project(*outlines, exclusions=()):
    blocks = tuple(Block(f"B{i + 1}", o, RowRules(bearing_deg=10)) for i, o in enumerate(outlines))
    return Project("x", Site(SiteFrame(-41.0, 173.0), "EPSG:2193", "EPSG:2193"), blocks, exclusions)


PROJECT = project(B1, B2, exclusions=SHAPES)
TARGETS = SnapTargets.of(PROJECT)


def place(found):
    return found.x_m, found.y_m


@pytest.mark.parametrize(
    ("pointer", "kind", "words", "settled"),
    [
        ((119.2, 10.9), "corner", "corner of B1", (120.0, 10.0)),
        ((50.5, 79.2), "corner", "corner of B1", (50.0, 80.0)),
        ((250.0, 0.8), "edge", "on an edge of B2", (250.0, 0.0)),
        ((430.0, 19.5), "", "", (430.0, 19.5)),
        ((440.4, 10.0), "edge", "on an edge of the pond", (440.0, 10.0)),
        ((459.5, 19.5), "corner", "corner of the pond", (460.0, 20.0)),
        ((40.0, 300.6), "edge", "on North ditch", (40.0, 300.0)),
        ((100.4, 300.6), "corner", "corner of North ditch", (100.0, 300.0)),
        ((250.4, 300.4), "corner", "the pole", (250.0, 300.0)),
        ((605.0, 10.5), "edge", "on an edge of an exclusion", (605.0, 10.0)),
        ((60.0, 40.0), "", "", (60.0, 40.0)),
    ],
)
def test_what_is_in_reach_and_what_it_is_called(pointer, kind, words, settled):
    found = snap(TARGETS, *pointer, 1.5)
    assert (found.kind, found.words) == (kind, words)
    assert place(found) == settled
    assert (found.guide is not None) == (kind == "edge")


def test_a_corner_is_taken_before_an_edge_that_is_nearer():
    assert snap(TARGETS, 201.0, 0.1, 1.5).kind == "corner"
    assert snap(TARGETS, 202.0, 0.1, 1.5).kind == "edge"
    assert snap(TARGETS, 201.0, 0.1, 1.5, kinds=ALL - {"corner"}).kind == "edge"


def test_corners_come_back_bit_for_bit():
    odd = shapely.Polygon([(0.1 + 0.2, 1 / 3), (100.7, 0.3), (50.123456789, 99.9)])
    targets = SnapTargets.of(project(odd))
    for x, y in odd.exterior.coords:
        assert place(snap(targets, x + 0.2, y - 0.2, 1.0)) == (x, y)


def test_end_posts_come_after_corners_and_before_edges_where_they_are_asked_for():
    plan = lay_rows(PROJECT.blocks[1])
    targets = SnapTargets.of(PROJECT, [plan])
    x, y = plan.end_posts.xy_m[5]
    found = snap(targets, x + 0.3, y, 1.0)
    assert (found.kind, found.words, place(found)) == ("post", "end post of B2", (x, y))
    assert snap(TARGETS, x + 0.3, y, 1.0).kind == ""
    assert snap(targets, x + 0.3, y, 1.0, kinds={"corner"}).kind == ""


def test_the_corner_in_hand_and_its_two_edges_are_left_out_alone():
    targets = SnapTargets.of(PROJECT, leave_out=(("block", "B2"), 0, 0))
    corners = list(B2.exterior.coords)[:-1]
    (x, y), before, after = corners[0], corners[3], corners[1]
    assert snap(targets, x, y, 1.0).kind == ""
    for other in (before, after):
        assert snap(targets, (x + other[0]) / 2, (y + other[1]) / 2, 1.0).kind == ""
        assert place(snap(targets, *other, 1.0)) == other
    (ax, ay), (bx, by) = corners[1:3]
    assert snap(targets, (ax + bx) / 2, (ay + by) / 2, 1.0).kind == "edge"
    assert snap(targets, 0.0, 0.0, 1.0).words == "corner of B1"


def test_the_closing_corner_has_the_name_of_the_first():
    last = SnapTargets.of(PROJECT, leave_out=(("block", "B1"), 0, 4))
    first = SnapTargets.of(PROJECT, leave_out=(("block", "B1"), 0, 0))
    assert (last.corner_counts == first.corner_counts).all()
    assert (last.edge_counts == first.edge_counts).all()
    assert first.edge_counts.sum() == len(first.edge_counts) - 2


@pytest.mark.parametrize(
    ("shape", "ring", "index", "spot", "edges"),
    [
        (("block", "B1"), 1, 1, (60, 60), 2),  # a hole
        (("exclusion", 0), 1, 2, POND.geoms[1].exterior.coords[2], 2),  # the second part
        (("exclusion", 1), 0, 0, (0, 300), 1),  # an end of a line
        (("exclusion", 1), 0, 1, (100, 300), 2),
        (("exclusion", 1), 0, 2, (150, 350), 1),
        (("exclusion", 2), 0, 0, (250, 300), 0),
    ],
)
def test_corners_are_named_by_shape_ring_and_index(shape, ring, index, spot, edges):
    targets = TARGETS.without(shape, ring, index)
    assert targets.corner_m[~targets.corner_counts].tolist() == [list(map(float, spot))]
    assert (~targets.edge_counts).sum() == edges
    for edge in np.flatnonzero(~targets.edge_counts):
        assert tuple(map(float, spot)) in targets.ends_m(edge)


def test_a_whole_shape_can_be_left_out_and_an_unknown_one_is_a_mistake():
    targets = SnapTargets.of(PROJECT, leave_out=(("exclusion", 0),))
    assert snap(targets, 440.4, 10.0, 1.5).kind == ""
    assert snap(targets, 250.0, 0.8, 1.5).kind == "edge"
    with pytest.raises(KeyError, match="B9"):
        TARGETS.without(("block", "B9"), 0, 0)


def test_a_leg_settles_at_right_angles_and_parallel_to_the_edge_at_its_anchor():
    # B1's first edge runs (120, 10) from (0, 0); square to it from its end is (-10, 120)
    across = snap(TARGETS, 110.5, 130.4, 2.0, anchor=(120.0, 10.0), kinds={"perpendicular"})
    assert across.words == "at right angles to an edge of B1"
    leg = np.subtract(place(across), (120.0, 10.0))
    assert leg @ (120.0, 10.0) == pytest.approx(0.0, abs=1e-9)
    assert across.guide == ((120.0, 10.0), place(across))
    assert across.edge == ((0.0, 0.0), (120.0, 10.0))
    on = snap(TARGETS, 180.0, 15.5, 2.0, anchor=(120.0, 10.0))
    assert (on.kind, on.words) == ("parallel", "in line with an edge of B1")
    step = np.subtract(place(on), (120.0, 10.0))
    assert step[0] * 10 - step[1] * 120 == pytest.approx(0.0, abs=1e-9)


def test_a_leg_is_never_laid_back_over_the_edge_it_starts_from():
    assert snap(TARGETS, 60.0, 5.0, 1.0, anchor=(120.0, 10.0), kinds={"parallel"}).kind == ""
    chain = [(900, 900), (950, 900)]
    assert snap(TARGETS, 920.0, 900.3, 1.0, chain=chain).kind == ""
    assert snap(TARGETS, 990.0, 900.3, 1.0, chain=chain).words == "in line with the leg before"


def test_a_leg_beside_a_block_runs_parallel_to_its_nearest_edge():
    found = snap(TARGETS, 320.3, 80.0, 1.0, anchor=(320.0, 10.0))
    assert (found.kind, found.words) == ("parallel", "parallel to an edge of B2")
    assert place(found) == (320.0, 80.0)
    assert found.edge == ((300.0, 0.0), (300.0, 100.0))


def test_a_leg_has_no_direction_near_its_anchor_or_far_from_every_edge():
    assert snap(TARGETS, 320.0, 11.5, 1.0, anchor=(320.0, 10.0)).kind == ""
    assert snap(TARGETS, 900.0, 980.0, 1.0, anchor=(900.0, 900.0)).kind == ""


def test_a_leg_at_right_angles_ends_exactly_on_an_edge_where_both_are_in_reach():
    found = snap(TARGETS, 200.5, 40.4, 1.5, anchor=(150.0, 40.0))
    assert found.kind == "perpendicular"
    assert found.words == "at right angles to an edge of B2, on an edge of B2"
    assert place(found) == (200.0, 40.0)
    assert snap(TARGETS, 200.5, 47.0, 1.5, anchor=(150.0, 40.0)).kind == "edge"


def test_a_rectangle_closes_square_to_its_first_leg():
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]])
    corners = np.array([[0, 0], [70, 0], [70, 30], [0, 30]]) @ turn + (1000, 1000)
    third = snap(TARGETS, *(corners[2] + 0.3), 1.0, chain=corners[:2])
    assert third.words == "at right angles to the leg before"
    fourth = snap(TARGETS, *(corners[3] + (0.4, -0.3)), 1.0, chain=corners[:3])
    assert place(fourth) == pytest.approx(corners[3], abs=1e-9)
    assert fourth.words.count("at right angles") == 2
    assert snap(TARGETS, *(corners[0] + 0.3), 1.0, chain=corners[:3]).words == "the first corner"


def test_a_corner_dragged_between_two_neighbours_settles_square_to_both_neighbouring_edges():
    bent = shapely.Polygon([(0, 0), (100, 0), (104, 57), (0, 60)])
    targets = SnapTargets.of(project(bent), leave_out=(("block", "B1"), 0, 2))
    found = snap(targets, 100.4, 59.5, 1.0, anchor=[(100, 0), (0, 60)])
    assert place(found) == pytest.approx((100.0, 60.0), abs=1e-9)


def test_no_leg_of_no_length():
    assert snap(TARGETS, 120.2, 10.2, 0.5, anchor=(120.0, 10.0)).kind != "corner"
    assert snap(TARGETS, 120.2, 10.2, 0.5).kind == "corner"


def test_a_digitised_curve_is_no_forest_of_directions():
    curve = wavy(20_000, 300.0, 7, 0.1)
    targets = SnapTargets.of(project(curve))
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    around = 80 * np.column_stack([np.cos(angle), np.sin(angle)])
    assert {snap(targets, x, y, 3.0, anchor=(0.0, 0.0)).kind for x, y in around} == {""}


def test_a_large_site_snaps_as_a_small_one_does():
    curve = wavy(50_000, 600.0, 9, 0.1)
    targets = SnapTargets.of(project(curve, B2))
    assert snap(targets, 250.0, 0.8, 1.5).words == "on an edge of B2"
    coords = shapely.get_coordinates(curve)
    found = snap(targets, *(coords[12_345] + (0.001, 0.0)), 0.01)
    assert place(found) == tuple(coords[12_345])
    middle = (coords[700] + coords[701]) / 2
    found = snap(targets, *middle, 0.01)
    assert found.kind == "edge"
    assert found.edge == (tuple(coords[700]), pytest.approx(tuple(coords[701]), abs=1e-9))


@given(st.floats(-30, 320), st.floats(-20, 200), st.floats(0.01, 30))
def test_a_place_moves_no_farther_than_the_reach_and_onto_what_it_says(x, y, reach):
    found = snap(TARGETS, x, y, reach, anchor=(150.0, 40.0))
    assert np.hypot(found.x_m - x, found.y_m - y) <= reach + 1e-9
    shapes = [B1, B2, *(e.shape for e in SHAPES)]
    spot = shapely.Point(place(found))
    to_edges = min(s.boundary.distance(spot) for s in (B1, B2, POND))
    if found.kind == "edge" or "on an edge" in found.words:
        assert to_edges < 1e-9
    elif found.kind == "corner":
        assert list(place(found)) in shapely.get_coordinates(shapes).tolist()
    elif found.kind == "":
        assert place(found) == (x, y)
        assert to_edges > reach - 1e-9  # what was in reach was not passed over


def test_grid_steps_in_the_frame():
    grid = GridSteps(10.0)
    both = snap(TARGETS, 60.4, 39.7, 1.0, grid=grid)
    assert (both.kind, both.words, place(both)) == ("grid", "grid E 60 N 40", (60.0, 40.0))
    one = snap(TARGETS, 60.4, 34.0, 1.0, grid=grid)
    assert (one.words, place(one)) == ("grid E 60", (60.0, 34.0))
    other = snap(TARGETS, 63.0, 39.6, 1.0, grid=grid)
    assert (other.words, place(other)) == ("grid N 40", (63.0, 40.0))
    assert snap(TARGETS, 63.0, 34.0, 1.0, grid=grid).kind == ""
    assert (
        snap(TARGETS, 62.6, 32.4, 1.0, grid=GridSteps(5.0, (2.5, 2.5))).words
        == "grid E 62.5 N 32.5"
    )
    assert snap(TARGETS, 60.4, 39.7, 1.0, grid=grid, kinds=ALL - {"grid"}).kind == ""


def test_grid_steps_lie_on_the_lines_of_the_survey_grid_in_its_own_unit():
    # turned by 0.3 (3-4-5) and in US survey feet
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]]) * 3937 / 1200
    middle = np.array([1_234_567.8, 345_678.9])

    def to_survey(xy):
        return xy @ turn.T + middle

    def from_survey(en):
        return (en - middle) @ np.linalg.inv(turn).T

    grid = GridSteps(50.0, to_survey=to_survey, from_survey=from_survey)
    wanted = np.array([1_234_750.0, 345_650.0])
    spot = from_survey(wanted[None])[0]
    found = snap(TARGETS, *(spot + (0.3, -0.2)), 1.0, grid=grid)
    assert to_survey(np.array([place(found)]))[0] == pytest.approx(wanted, abs=1e-6)
    assert found.words == "grid E 1\u202f234\u202f750 N 345\u202f650"


def test_the_grid_comes_last_and_a_grid_that_cannot_be_reached_is_passed_over():
    assert snap(TARGETS, 250.0, 0.8, 1.5, grid=GridSteps(10.0)).kind == "edge"
    lost = GridSteps(10.0, to_survey=lambda xy: np.full(xy.shape, np.inf))
    assert snap(TARGETS, 60.4, 39.7, 1.0, grid=lost).kind == ""


def test_an_empty_project_snaps_to_the_chain_and_the_grid_alone():
    targets = SnapTargets.of(project())
    assert snap(targets, 1.0, 1.0, 5.0).kind == ""
    assert snap(targets, 10.2, 0.1, 1.0, grid=GridSteps(10.0)).words == "grid E 10 N 0"
    chain = [(0, 0), (50, 0)]
    assert snap(targets, 50.3, 40.0, 1.0, chain=chain).words == "at right angles to the leg before"
    assert snap(targets, 90.0, 0.3, 1.0, chain=chain).words == "in line with the leg before"
