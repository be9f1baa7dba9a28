"""Corners of shapes: moving, adding, removing, typed legs, and what may not stay."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk import Block, EdgeWidth, Exclusion, InputProblem, Project, RowRules, Site, SiteFrame
from layoutdesk.session.document import Document
from layoutdesk.session.reshaping import (
    ShapeId,
    carried_widths,
    checked,
    corners_of,
    leg_of,
    shape_of,
    shape_problem,
    shapes_at,
    with_corner_added,
    with_corner_moved,
    with_corner_removed,
    with_leg,
    with_shape,
)
from tests.zoo import ZOO

B1 = ShapeId("block", "B1")
POLE, LINE, POND = (ShapeId("exclusion", i) for i in range(3))
SHELL = [(0, 0), (120, 10), (110, 180), (-10, 160)]
HOLE = [(40, 60), (50, 80), (60, 60)]
PROJECT = Project(
    "x",
    Site(SiteFrame(-41.0, 173.0), "EPSG:2193", "EPSG:2193"),
    (
        Block("B1", shapely.Polygon(SHELL, [HOLE]), RowRules(bearing_deg=10)),
        Block("B2", shapely.box(200, 0, 300, 100)),
    ),
    (
        Exclusion(shapely.Point(20, 40), 2.0, "P1", "pole"),
        Exclusion(shapely.LineString([(0, 50), (100, 60), (150, 90)]), 8.0, "", "overhead line"),
        Exclusion(shapely.box(70, 100, 90, 120), 5.0, "Lower pond", "pond"),
    ),
)
few = settings(derandomize=True, deadline=None, max_examples=60)


def one_block(outline, widths=()) -> Project:
    return replace(
        PROJECT, blocks=(Block("B1", outline, edge_widths=tuple(widths)),), exclusions=()
    )


def widths_on_the_ground(project) -> dict:
    """Own widths by the ends of their edges, whatever ring and number these have."""
    block, found = project.blocks[0], {}
    rings = shapely.get_rings(block.outline)
    for w in block.edge_widths:
        a, b = shapely.get_coordinates(rings[w.ring])[w.edge : w.edge + 2].tolist()
        found[frozenset([tuple(a), tuple(b)])] = w.width_m
    return found


def test_corners_come_without_the_closing_repeat_ring_by_ring():
    corners = corners_of(PROJECT, B1)
    assert corners.xy_m.tolist() == [list(map(float, p)) for p in SHELL + HOLE]
    assert corners.ring.tolist() == [0] * 4 + [1] * 3
    assert corners.index.tolist() == [0, 1, 2, 3, 0, 1, 2]
    assert corners_of(PROJECT, POLE).xy_m.tolist() == [[20.0, 40.0]]
    assert corners_of(PROJECT, LINE).index.tolist() == [0, 1, 2]


def test_the_first_corner_moves_with_its_closing_repeat():
    outline = shape_of(with_corner_moved(PROJECT, B1, 0, 0, -5, -5), B1)
    assert outline.exterior.coords[0] == outline.exterior.coords[-1] == (-5.0, -5.0)
    assert outline.area == pytest.approx(shape_of(PROJECT, B1).area + (5 * 150 + 5 * 130) / 2)
    assert outline.interiors[0].equals(shape_of(PROJECT, B1).interiors[0])


def test_lines_and_points_are_reshaped_too():
    moved = with_corner_moved(PROJECT, POLE, 0, 0, 21, 41)
    assert shape_of(moved, POLE).coords[0] == (21.0, 41.0)
    line = shape_of(PROJECT, LINE)
    longer = shape_of(with_corner_added(PROJECT, LINE, 0, 2, 150, 100), LINE)
    assert longer.length == pytest.approx(line.length + 10)
    earlier = shape_of(with_corner_added(PROJECT, LINE, 0, -1, -3, 46), LINE)
    assert earlier.length == pytest.approx(line.length + 5)
    assert earlier.coords[0] == (-3.0, 46.0)
    short = shape_of(with_corner_removed(PROJECT, LINE, 0, 1), LINE)
    assert short.length == pytest.approx(math.hypot(150, 40))
    assert moved.blocks is PROJECT.blocks


def test_parts_of_a_multi_shape_keep_their_corners():
    several = shapely.MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(20, 0, 30, 10)])
    project = replace(PROJECT, exclusions=(Exclusion(several),))
    wider = with_corner_added(project, POLE, 1, 0, 35, 5)
    assert [p.area for p in shape_of(wider, POLE).geoms] == [100.0, 125.0]


@few
@given(st.sampled_from(sorted(ZOO)), st.data())
def test_a_corner_added_and_removed_gives_the_identical_outline(name, data):
    project = one_block(ZOO[name], [EdgeWidth(0, 0, 4.0), EdgeWidth(0, 1, 6.0)])
    corners = corners_of(project, B1)
    i = data.draw(st.integers(0, len(corners) - 1))
    ring, index = int(corners.ring[i]), int(corners.index[i])
    more = with_corner_added(project, B1, ring, index, 1.25, -3.5)
    assert len(corners_of(more, B1)) == len(corners) + 1
    assert with_corner_removed(more, B1, ring, index + 1) == project


@few
@given(st.sampled_from(sorted(ZOO)), st.data())
def test_own_widths_stay_on_their_ground_whichever_corner_goes(name, data):
    rings = shapely.get_rings(ZOO[name])
    count = [int(shapely.get_num_coordinates(r)) - 1 for r in rings]
    every = [
        EdgeWidth(r, e, (7 * r + e) % 900 + 0.5) for r, n in enumerate(count) for e in range(n)
    ]
    project = one_block(ZOO[name], every)
    ring = data.draw(st.sampled_from([r for r, n in enumerate(count) if n > 3] or [None]))
    if ring is None:
        return
    index = data.draw(st.integers(0, count[ring] - 1))
    before = widths_on_the_ground(project)
    after = widths_on_the_ground(with_corner_removed(project, B1, ring, index))
    gone = {k for k in before if tuple(shapely.get_coordinates(rings[ring])[index].tolist()) in k}
    assert {k: v for k, v in before.items() if k not in gone}.items() <= after.items()
    # Two edges with widths of their own that differ: the joined one has none.
    assert len(after) <= len(before) - 2


def test_both_halves_of_a_parted_edge_keep_its_width_and_joined_halves_have_it_again():
    project = one_block(shapely.box(0, 0, 100, 50), [EdgeWidth(0, 3, 9.0), EdgeWidth(0, 1, 4.0)])
    for edge in (1, 3):
        xy = corners_of(project, B1).xy_m
        middle = (xy[edge] + xy[(edge + 1) % 4]) / 2
        halves = with_corner_added(project, B1, 0, edge, *middle)
        assert sorted(widths_on_the_ground(halves).values()) == sorted(
            [4.0, 9.0, {1: 4.0, 3: 9.0}[edge]]
        )
        joined = with_corner_removed(halves, B1, 0, edge + 1)
        assert widths_on_the_ground(joined) == widths_on_the_ground(project)


def test_edges_that_are_joined_keep_a_width_only_if_both_had_it():
    shape = shapely.box(0, 0, 100, 50)  # begins at (100, 0)
    for widths, kept in (((5.0, 5.0), [5.0]), ((5.0, 6.0), []), ((5.0, None), [])):
        own = [EdgeWidth(0, e, w) for e, w in zip((3, 0), widths, strict=True) if w]
        project = with_corner_removed(one_block(shape, own), B1, 0, 0)
        assert [w.width_m for w in project.blocks[0].edge_widths] == kept
        assert all(w.edge == 2 for w in project.blocks[0].edge_widths)


def test_widths_follow_a_ring_that_begins_elsewhere_or_runs_the_other_way():
    outline = shapely.Polygon(SHELL, [HOLE])
    own = (EdgeWidth(0, 1, 12.0), EdgeWidth(1, 2, 3.0))
    project = one_block(outline, own)
    turned = shapely.Polygon(SHELL[2:] + SHELL[:2], [HOLE[::-1]])
    assert widths_on_the_ground(with_shape(project, B1, turned)) == widths_on_the_ground(project)
    assert carried_widths(shapely.box(500, 0, 600, 50), [(outline, own)]) == ()


def test_a_leg_is_set_by_moving_its_far_corner_alone():
    project = one_block(shapely.Polygon([(0, 0), (100, 0), (100, 80), (0, 80)]))
    assert leg_of(project, B1, 0, 0) == (100.0, 90.0)
    longer = with_leg(project, B1, 0, 0, length_m=120.5)
    assert corners_of(longer, B1).xy_m.tolist() == [[0, 0], [120.5, 0], [100, 80], [0, 80]]
    turned = with_leg(project, B1, 0, 0, bearing_deg=60.0)
    assert corners_of(turned, B1).xy_m[1] == pytest.approx([100 * math.sin(math.pi / 3), 50])
    last = with_leg(project, B1, 0, 3, 90.0, 180.0)  # its far corner is the first one
    assert corners_of(last, B1).xy_m[0].tolist() == [0.0, -10.0]
    line = with_leg(PROJECT, LINE, 0, 1, bearing_deg=0.0)
    assert leg_of(line, LINE, 0, 1)[1] == pytest.approx(0.0, abs=1e-9)
    assert leg_of(line, LINE, 0, 1)[0] == pytest.approx(math.hypot(50, 30))
    for bad in (0.0, -5.0, float("nan"), 2e5):
        with pytest.raises(InputProblem):
            with_leg(project, B1, 0, 0, length_m=bad)


@few
@given(
    st.integers(0, 3),
    st.floats(0.01, 5000.0),
    st.floats(0.0, 359.99),
)
def test_a_leg_reads_back_as_typed(edge, length_m, bearing_deg):
    project = with_leg(PROJECT, B1, 0, edge, length_m, bearing_deg)
    back_m, back_deg = leg_of(project, B1, 0, edge)
    assert back_m == pytest.approx(length_m, rel=1e-9, abs=1e-9)
    assert abs((back_deg - bearing_deg + 180) % 360 - 180) < 1e-6


def test_an_outline_may_cross_itself_while_it_is_dragged_and_not_when_let_go():
    across = with_corner_moved(PROJECT, ShapeId("block", "B2"), 0, 0, 150, 50)
    crossing = with_corner_moved(across, ShapeId("block", "B2"), 0, 1, 250, -40)
    which = ShapeId("block", "B2")
    problem = shape_problem(crossing, which)
    assert "cross itself" in problem.sentence
    assert shapely.Point(problem.place).distance(shapely.boundary(shape_of(crossing, which))) < 1e-9
    with pytest.raises(InputProblem, match="outline of B2 would cross itself"):
        checked(crossing, which)
    assert shape_problem(PROJECT, which) is None
    assert checked(PROJECT, which) is PROJECT


@pytest.mark.parametrize(
    ("shell", "holes", "words"),
    [
        ([(0, 0), (50, 0), (100, 0)], [], "no area"),
        ([(0, 0), (100, 0), (100, 100), (50, 0), (0, 100)], [], r"touch itself at \(50.0, 0.0\)"),
        ([(0, 0), (100, 0), (100, 100), (100, 100), (0, 100)], [], "same place"),
        (SHELL, [[(200, 0), (210, 0), (210, 10)]], "hole would lie outside"),
        (SHELL, [[(50, 50), (150, 50), (50, 60)]], "hole would cross"),
        (SHELL, [HOLE, [(45, 62), (55, 62), (50, 70)]], "cover each other"),
        ([(60_000, 0), (60_100, 0), (60_000, 100)], [], "60 km from"),
    ],
)
def test_what_cannot_stay_is_told_in_one_sentence(shell, holes, words):
    with pytest.raises(InputProblem, match=words) as caught:
        checked(one_block(shapely.Polygon(shell, holes)), B1)
    assert str(caught.value).count(". ") == 0
    assert str(caught.value).endswith(".")


def test_a_ring_dragged_inside_out_is_turned_with_its_widths():
    start = one_block(
        shapely.Polygon([(0, 0), (100, 0), (50, 80)]), [EdgeWidth(0, 0, 4.0), EdgeWidth(0, 1, 6.0)]
    )
    over = with_corner_moved(start, B1, 0, 2, 50, -80)
    assert not shape_of(over, B1).exterior.is_ccw
    let_go = checked(over, B1)
    assert shape_of(let_go, B1).exterior.is_ccw
    assert shape_of(let_go, B1).equals(shape_of(over, B1))
    assert widths_on_the_ground(let_go) == widths_on_the_ground(over)
    assert let_go.blocks[0].edge_widths != over.blocks[0].edge_widths


def test_the_last_corners_of_a_shape_are_not_taken():
    triangle = one_block(shapely.Polygon([(0, 0), (100, 0), (50, 80)]))
    with pytest.raises(InputProblem, match="three corners"):
        with_corner_removed(triangle, B1, 0, 1)
    with pytest.raises(InputProblem, match="two corners"):
        with_corner_removed(with_corner_removed(PROJECT, LINE, 0, 1), LINE, 0, 0)
    for edit in (with_corner_removed, lambda *a: with_corner_added(*a, 1, 1)):
        with pytest.raises(InputProblem, match="P1"):
            edit(PROJECT, POLE, 0, 0)
    with pytest.raises(InputProblem, match="no usable place"):
        with_corner_moved(PROJECT, B1, 0, 0, float("nan"), 0)
    with pytest.raises(IndexError):
        with_corner_moved(PROJECT, B1, 0, 4, 0, 0)
    with pytest.raises(IndexError):
        with_corner_moved(PROJECT, B1, 2, 0, 0, 0)


def test_what_lies_under_the_pointer_exclusions_first_then_the_nearest_then_the_smallest():
    assert shapes_at(PROJECT, 20.5, 40, 2.0) == (POLE, B1)
    assert shapes_at(PROJECT, 80, 110, 2.0) == (POND, B1)
    assert shapes_at(PROJECT, 250, 50, 2.0) == (ShapeId("block", "B2"),)
    assert shapes_at(PROJECT, 50, 66, 2.0) == ()  # in the hole
    assert shapes_at(PROJECT, 50, 56, 1.5) == (LINE, B1)
    assert shapes_at(PROJECT, 199, 50, 2.0) == (ShapeId("block", "B2"),)
    assert shapes_at(PROJECT, 400, 400, 2.0) == ()
    tree = Exclusion(shapely.Point(80, 101.0), 1.0, kind="tree")
    planted = replace(PROJECT, exclusions=(*PROJECT.exclusions, tree))
    assert shapes_at(planted, 80, 101.1, 2.0)[:2] == (ShapeId("exclusion", 3), POND)


@few
@given(st.integers(0, 3), st.floats(-200, 200), st.floats(-200, 200))
def test_undo_gives_back_the_identical_project(index, x, y):
    document = Document(PROJECT)
    document.edit("move", lambda p: with_corner_moved(p, B1, 0, index, x, y), merge="corner")
    document.edit("add", lambda p: with_corner_added(p, B1, 0, index, x + 1, y))
    document.edit("leg", lambda p: with_leg(p, B1, 0, index, 50.0, 10.0))
    document.edit("remove", lambda p: with_corner_removed(p, B1, 0, index))
    while document.undo_label:
        document.undo()
    assert document.project is PROJECT


def test_an_outline_of_many_corners_is_rebuilt_exactly():
    turn = np.linspace(0, 2 * np.pi, 5000, endpoint=False)
    project = one_block(shapely.Polygon(np.column_stack([300 * np.cos(turn), 200 * np.sin(turn)])))
    moved = with_corner_moved(project, B1, 0, 2500, -310.0, 0.0)
    expected = corners_of(project, B1).xy_m.copy()
    expected[2500] = -310.0, 0.0
    assert (corners_of(moved, B1).xy_m == expected).all()
    assert shape_problem(moved, B1) is None
