"""Whole shapes: drawn, split, merged, copied, offset, named, brought in and taken away."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from layoutdesk import (
    Block,
    EdgeWidth,
    Exclusion,
    InputProblem,
    Project,
    RowRules,
    Site,
    SiteFrame,
    lay_rows,
)
from layoutdesk.core.layout.numbering import place_of_code, segment_code
from layoutdesk.core.model import Alley, Guide, Override
from layoutdesk.session.document import Document
from layoutdesk.session.ground_edits import (
    copied,
    drawn,
    imported_blocks,
    merged,
    moved,
    next_name,
    offset_shape,
    renamed,
    split,
    with_block_drawn,
    with_exclusion,
    with_exclusion_kind,
    with_hole,
    without_hole,
    without_shape,
)
from layoutdesk.session.kinds import KINDS
from layoutdesk.session.opening import project_from_outline
from layoutdesk.session.reshaping import ShapeId, corners_of, shape_of
from layoutdesk.session.samples import open_sample, samples
from tests.zoo import ZOO

few = settings(derandomize=True, deadline=None, max_examples=60)
SAMPLES = {s.name: s for s in samples()}
B1, B2 = ShapeId("block", "B1"), ShapeId("block", "B2")
POLE, LINE, POND = (ShapeId("exclusion", i) for i in range(3))
NEAR = sorted(name for name in ZOO if np.abs(ZOO[name].bounds).max() < 20_000)
FIELD = shapely.Polygon([(0, 0), (120, 0), (120, 80), (0, 80)])
PROJECT = Project(
    "x",
    Site(SiteFrame(-41.0, 173.0), "EPSG:2193", "EPSG:2193"),
    (
        Block("B1", FIELD, RowRules(bearing_deg=10, row_spacing_m=2.1)),
        Block("B2", shapely.box(200, 0, 300, 100), RowRules(bearing_deg=90, headland_m=7)),
    ),
    (
        Exclusion(shapely.Point(20, 40), 2.0, "P1", "pole"),
        Exclusion(shapely.LineString([(0, 50), (100, 50)]), 8.0, "", "overhead line"),
        Exclusion(shapely.box(70, 20, 90, 40), 5.0, "Lower pond", "pond"),
    ),
)


def only(outline, **fields) -> Project:
    block = replace(PROJECT.blocks[0], outline=outline, **fields)
    return replace(PROJECT, blocks=(block,), exclusions=())


def names(project) -> list[str]:
    return [b.name for b in project.blocks]


def area(project) -> float:
    return sum(b.outline.area for b in project.blocks)


def widths_on_the_ground(block) -> dict:
    rings, found = shapely.get_rings(block.outline), {}
    for w in block.edge_widths:
        a, b = shapely.get_coordinates(rings[w.ring])[w.edge : w.edge + 2].tolist()
        found[frozenset([tuple(a), tuple(b)])] = w.width_m
    return found


def test_a_drawn_block_has_the_last_ones_rules_and_the_next_name():
    project = with_block_drawn(PROJECT, [(0, 200), (0, 260), (100, 260), (100, 200), (0, 200)])
    assert names(project) == ["B1", "B2", "B3"]
    made = project.blocks[-1]
    assert made.outline.area == pytest.approx(6000.0)
    assert made.outline.exterior.is_ccw
    assert made.rules == PROJECT.blocks[1].rules
    assert (made.edge_widths, made.overrides, made.guide) == ((), (), None)
    first = with_block_drawn(replace(PROJECT, blocks=()), [(0, 0), (100, 0), (100, 30), (0, 30)])
    assert (names(first), first.blocks[0].rules.bearing_deg) == (["B1"], 90.0)


def test_the_next_name_is_beyond_the_highest_number_in_use_in_either_case():
    some = tuple(replace(PROJECT.blocks[0], name=n) for n in ("b7", "North", "B2", "B3x"))
    assert next_name(replace(PROJECT, blocks=some)) == "B8"


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([(0, 0), (10, 0), (10, 0)], "three corners"),
        ([(0, 0), (50, 50), (50, 0), (0, 50)], "cross itself"),
        ([(0, 0), (50, 50), (90, 90)], "no area"),
        ([(0, 0), (50, 50), (60_000, 0)], "60 km"),
        ([(0, 0), (50, float("nan")), (60, 0)], "usable place"),
    ],
)
def test_an_outline_that_cannot_be_one_is_not_drawn(points, words):
    with pytest.raises(InputProblem, match=words):
        with_block_drawn(PROJECT, points)


def test_a_hole_is_cut_out_and_given_back():
    one = with_hole(PROJECT, "B1", [(10, 10), (20, 10), (20, 20), (10, 20)])
    two = with_hole(one, "B1", [(50, 10), (50, 30), (60, 30)])
    assert area(PROJECT) - area(two) == pytest.approx(100 + 100)
    assert not any(ring.is_ccw for ring in two.block("B1").outline.interiors)
    wide = (EdgeWidth(0, 2, 9.0), EdgeWidth(1, 1, 4.0), EdgeWidth(2, 0, 5.0))
    two = two.with_block(replace(two.block("B1"), edge_widths=wide))
    back = without_hole(two, "B1", 1)
    assert back.block("B1").edge_widths == (EdgeWidth(0, 2, 9.0), EdgeWidth(1, 0, 5.0))
    assert area(PROJECT) - area(back) == pytest.approx(100)
    for points, words in (
        ([(110, 10), (130, 10), (130, 20)], "cross"),
        ([(150, 10), (160, 10), (160, 20)], "outside"),
        ([(12, 12), (18, 12), (18, 18), (12, 18)], "cover each other"),
    ):
        with pytest.raises(InputProblem, match=words):
            with_hole(one, "B1", points)


def test_a_split_shares_ground_widths_and_decisions_out():
    block = replace(
        PROJECT.blocks[0],
        edge_widths=(EdgeWidth(0, 0, 12.0), EdgeWidth(0, 3, 4.0)),
        overrides=(Override("vine left out", 3, 10, 10), Override("row left out", 30, 110, 40)),
        common=True,
    )
    project = split(PROJECT.with_block(block), "B1", [(80, -10), (80, 90)])
    assert names(project) == ["B1", "B3", "B2"]
    left, right = project.block("B1"), project.block("B3")
    assert (left.outline.area, right.outline.area) == (6400.0, 3200.0)
    assert left.rules == right.rules == block.rules
    assert left.common
    assert right.common
    assert left.overrides == block.overrides[:1]
    assert right.overrides == block.overrides[1:]
    assert widths_on_the_ground(left) == {
        frozenset([(0.0, 0.0), (80.0, 0.0)]): 12.0,
        frozenset([(0.0, 80.0), (0.0, 0.0)]): 4.0,
    }
    assert widths_on_the_ground(right) == {frozenset([(80.0, 0.0), (120.0, 0.0)]): 12.0}
    assert lay_rows(right).n_vines > 0


def test_a_cut_may_begin_on_an_edge_bend_and_pass_through_a_hole():
    # A third of an edge is no number a computer holds: the end falls short of the edge.
    tilted = only(shapely.Polygon([(0, 0), (100, 33), (70, 130), (-20, 90)]))
    ring = tilted.blocks[0].outline.exterior
    ends = [ring.interpolate(d).coords[0] for d in (100 / 3, 217.7)]
    assert len(split(tilted, "B1", [ends[0], (40, 60), ends[1]]).blocks) == 2
    holed = with_hole(only(FIELD), "B1", [(50, 30), (70, 30), (70, 50), (50, 50)])
    parts = split(holed, "B1", [(60, -5), (60, 85)])
    assert [b.outline.area for b in parts.blocks] == pytest.approx([4600.0, 4600.0])
    assert not any(b.outline.interiors for b in parts.blocks)


def test_a_cut_that_passes_a_corner_by_a_hair_goes_through_it():
    parts = split(PROJECT, "B1", [(-1, -0.6668), (120.0003, 80.0001)]).blocks[:2]
    assert [len(b.outline.exterior.coords) for b in parts] == [4, 4]
    assert [b.outline.area for b in parts] == pytest.approx([4800.0, 4800.0])


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ([(-10, 40), (60, 40)], "does not cut B1 in two"),
        ([(200, 0), (200, 90)], "does not cut B1 in two"),
        ([(-10, 0.0000001), (130, 0.0000001)], "does not cut B1 in two"),
        ([(-10, 0.05), (130, 0.05)], "sliver"),
        ([(5, 5)], "two corners"),
    ],
)
def test_a_line_that_does_not_cut_is_refused(line, words):
    with pytest.raises(InputProblem, match=words):
        split(PROJECT, "B1", line)


@few
@given(
    st.sampled_from(NEAR),
    st.floats(0, 2 * math.pi),
    st.floats(-0.3, 0.3),
    st.floats(-0.3, 0.3),
)
def test_split_then_merged_is_the_same_ground(name, turn, shift_x, shift_y):
    outline = ZOO[name]
    x0, y0, x1, y1 = outline.bounds
    x, y = (x0 + x1) / 2 + shift_x * (x1 - x0), (y0 + y1) / 2 + shift_y * (y1 - y0)
    reach = math.hypot(x1 - x0, y1 - y0) * 2
    dx, dy = reach * math.cos(turn), reach * math.sin(turn)
    project = only(outline, edge_widths=(EdgeWidth(0, 0, 4.0), EdgeWidth(0, 2, 7.5)))
    try:
        parted = split(project, "B1", [(x - dx, y - dy), (x + dx, y + dy)])
    except InputProblem as problem:
        line = shapely.LineString([(x - dx, y - dy), (x + dx, y + dy)])
        assert "sliver" in str(problem) or line.intersection(outline).length < 1e-6
        return
    assert area(parted) == pytest.approx(outline.area, rel=1e-9)
    for block in parted.blocks:
        assert shapely.is_valid(block.outline)
        assert block.outline.difference(outline).area < 1e-6 * outline.area
    again = merged(parted, names(parted))
    (block,) = again.blocks
    assert block.name == "B1"
    assert block.rules == project.blocks[0].rules
    assert block.outline.area == pytest.approx(outline.area, rel=1e-9)
    assert block.outline.symmetric_difference(outline).area < 1e-6 * outline.area
    if name != "hole touching the shell":  # a cut through where they touch makes a corner there
        assert shapely.get_num_coordinates(block.outline) <= shapely.get_num_coordinates(outline)
    assert sorted(widths_on_the_ground(block).values()) == [4.0, 7.5]


def test_merging_joins_what_touches_overlaps_or_lies_a_centimetre_apart():
    for gap in (0.0, -5.0, 0.009):
        beside = shapely.box(120 + gap, 20, 180, 90)
        project = replace(PROJECT, blocks=(PROJECT.blocks[0], Block("B4", beside)))
        (block,) = merged(project, ["B1", "B4"]).blocks
        expected = FIELD.union(beside).area
        assert block.outline.area == pytest.approx(expected, abs=0.009 * 100)
        assert not block.outline.interiors
        assert block.rules == PROJECT.blocks[0].rules
    apart = replace(PROJECT, blocks=(*PROJECT.blocks, Block("B4", shapely.box(120.5, 0, 150, 9))))
    with pytest.raises(InputProblem, match=r"B1 and B4 lie 0\.50 m apart"):
        merged(apart, ["B1", "B4"])
    with pytest.raises(InputProblem, match=r"B2 lies 80\.00 m apart from the others"):
        merged(split(apart, "B1", [(60, -1), (60, 81)]), ["B1", "B2", "B5"])
    with pytest.raises(InputProblem, match="two blocks"):
        merged(PROJECT, ["B1", "B1"])
    corner = replace(
        PROJECT, blocks=(PROJECT.blocks[0], Block("B4", shapely.box(120, 80, 150, 99)))
    )
    with pytest.raises(InputProblem, match="corner only"):
        merged(corner, ["B1", "B4"])


def test_merging_leaves_no_corner_on_a_straight_edge_but_where_widths_change():
    left = Block("B1", shapely.box(0, 0, 60, 80), edge_widths=())
    right = Block("B2", shapely.box(60, 0, 120, 80))
    (plain,) = merged(replace(PROJECT, blocks=(left, right)), ["B1", "B2"]).blocks
    assert plain.outline.equals(FIELD)
    assert len(plain.outline.exterior.coords) == 5
    # box runs (x1, y0), (x1, y1), (x0, y1), (x0, y0): edge 3 is the southern one.
    wide = replace(left, edge_widths=(EdgeWidth(0, 3, 15.0),))
    (kept,) = merged(replace(PROJECT, blocks=(wide, right)), ["B1", "B2"]).blocks
    assert widths_on_the_ground(kept) == {frozenset([(0.0, 0.0), (60.0, 0.0)]): 15.0}
    assert len(kept.outline.exterior.coords) == 6


@few
@given(st.sampled_from(NEAR), st.floats(-9000, 9000), st.floats(-9000, 9000))
def test_a_copy_is_the_same_shape_elsewhere(name, dx, dy):
    project = only(ZOO[name], edge_widths=(EdgeWidth(0, 1, 4.0),))
    copy = copied(project, B1, dx, dy).blocks[-1]
    assert copy.name == "B2"
    assert copy.outline.area == pytest.approx(ZOO[name].area, rel=1e-9)
    assert copy.outline.centroid.distance(ZOO[name].centroid) == pytest.approx(math.hypot(dx, dy))
    (mine,) = widths_on_the_ground(project.blocks[0])
    (its,) = widths_on_the_ground(copy)
    expected = shapely.MultiPoint([(x + dx, y + dy) for x, y in mine])
    assert shapely.MultiPoint(list(its)).hausdorff_distance(expected) < 1e-9


def test_what_stands_in_a_block_by_its_place_goes_along():
    block = replace(
        PROJECT.blocks[0],
        rules=replace(PROJECT.blocks[0].rules, alleys=(Alley(60, 40, 5.0),)),
        overrides=(Override("vine left out", 3, 10, 10),),
        guide=Guide(((0, 0), (50, 60), (60, 100))),
    )
    project = PROJECT.with_block(block)
    for after, name in ((copied(project, B1, 400, -7), "B3"), (moved(project, B1, 400, -7), "B1")):
        one = after.block(name)
        assert one.rules.alleys == (Alley(460, 33, 5.0),)
        assert one.overrides == (Override("vine left out", 3, 410, 3),)
        assert one.guide.points_m[1] == (450, 53)
        assert one.outline.bounds == (400, -7, 520, 73)
    pond = copied(project, POND, 0, -30).exclusions[-1]
    assert (pond.kind, pond.clearance_m, pond.shape.bounds) == ("pond", 5.0, (70, -10, 90, 10))
    assert shape_of(moved(project, POLE, 1, 2), POLE).coords[0] == (21, 42)
    for which in (B1, POLE):
        with pytest.raises(InputProblem, match="km"):
            copied(project, which, 70_000, 0)
        with pytest.raises(InputProblem):
            moved(project, which, float("nan"), 0)


def test_an_outline_is_grown_and_shrunk_with_sharp_corners_and_its_widths():
    wide = (EdgeWidth(0, 1, 4.0), EdgeWidth(1, 2, 6.0))
    holed = shapely.Polygon(FIELD.exterior, [[(50, 30), (50, 50), (70, 50), (70, 30)]])
    project = only(holed, edge_widths=wide)
    grown = offset_shape(project, B1, 3.0).blocks[0]
    assert grown.outline.area == pytest.approx(126 * 86 - 14 * 14)
    assert grown.edge_widths == wide
    assert grown.outline.exterior.coords[1] == pytest.approx((123, -3))
    shrunk = offset_shape(project, B1, -2.0).blocks[0]
    assert shrunk.outline.area == pytest.approx(116 * 76 - 24 * 24)
    assert shrunk.edge_widths == wide
    back = offset_shape(offset_shape(project, B1, 3.0), B1, -3.0).blocks[0]
    assert shapely.equals_exact(back.outline, holed, 1e-9)
    assert offset_shape(project, B1, 0.0) is project


def test_an_outline_that_loses_edges_loses_its_own_widths():
    notched = shapely.Polygon([(0, 0), (100, 0), (100, 60), (52, 60), (50, 58), (48, 60), (0, 60)])
    project = only(notched, edge_widths=(EdgeWidth(0, 0, 4.0),))
    filled = offset_shape(project, B1, 10.0).blocks[0]
    assert filled.edge_widths == ()
    assert shapely.is_valid(filled.outline)
    assert filled.outline.area == pytest.approx(120 * 80, rel=0.01)


@pytest.mark.parametrize(
    ("outline", "by_m", "words"),
    [
        (FIELD, -41.0, "vanish"),
        (
            shapely.union_all(
                [shapely.box(0, 0, 40, 40), shapely.box(39, 18, 61, 22), shapely.box(60, 0, 99, 40)]
            ),
            -3.0,
            "fall into 2 parts",
        ),
        (shapely.Polygon(FIELD.exterior, [[(50, 30), (50, 34), (54, 34)]]), 4.0, "lose a hole"),
        (FIELD, float("nan"), "1000 m"),
        (FIELD, 2000.0, "1000 m"),
    ],
)
def test_an_offset_that_cannot_be_is_refused_and_says_why(outline, by_m, words):
    with pytest.raises(InputProblem, match=words):
        offset_shape(only(outline), B1, by_m)


def test_points_and_lines_grow_into_areas_and_do_not_shrink():
    ring = shape_of(offset_shape(PROJECT, POLE, 3.0), POLE)
    assert ring.area == pytest.approx(math.pi * 9, rel=0.02)
    strip = shape_of(offset_shape(PROJECT, LINE, 2.0), LINE)
    assert strip.area == pytest.approx(100 * 4 + math.pi * 4, rel=0.01)
    assert shape_of(offset_shape(PROJECT, POND, 5.0), POND).area == pytest.approx(900.0)
    for which in (POLE, LINE):
        with pytest.raises(InputProblem, match="no width to shrink"):
            offset_shape(PROJECT, which, -1.0)


@few
@given(st.sampled_from(NEAR), st.floats(-6.0, 6.0))
def test_an_offset_stands_its_distance_from_the_old_outline(name, by_m):
    try:
        block = offset_shape(only(ZOO[name], edge_widths=(EdgeWidth(0, 0, 2.0),)), B1, by_m).blocks[
            0
        ]
    except InputProblem:
        return
    assert shapely.is_valid(block.outline)
    xy = corners_of(only(block.outline), B1).xy_m
    away = shapely.distance(shapely.boundary(ZOO[name]), shapely.points(xy))
    assert away.min() >= abs(by_m) * 0.98 - 1e-9
    assert (block.outline.area > ZOO[name].area) == (by_m > 0) or abs(by_m) < 1e-6


def test_the_last_block_is_not_deleted_and_says_why():
    one = without_shape(PROJECT, B1)
    assert names(one) == ["B2"]
    assert one.exclusions == PROJECT.exclusions
    with pytest.raises(InputProblem, match="B2 is the only block"):
        without_shape(one, B2)
    rest = without_shape(PROJECT, LINE).exclusions
    assert rest == (PROJECT.exclusions[0], PROJECT.exclusions[2])


@pytest.mark.parametrize("name", ["North", "b1", "Block_7-A", "Été", "3", " trimmed "])
def test_a_block_is_renamed_and_its_codes_read_back(name):
    project = renamed(PROJECT, "B1", name)
    new = project.blocks[0].name
    assert new == name.strip()
    assert place_of_code(segment_code(new, 12, 0)).block == new.upper()
    assert replace(project.blocks[0], name="B1") == PROJECT.blocks[0]


@pytest.mark.parametrize(
    "name", ["", "  ", "b2", "a b", "a,b", 'a"b', "-a", "_a", "a.b", "Straße", "x" * 25, "a\nb"]
)
def test_a_name_that_codes_could_not_carry_is_refused(name):
    with pytest.raises(InputProblem, match=r"[.]$"):
        renamed(PROJECT, "B1", name)


def test_an_exclusion_is_added_with_the_clearance_of_its_kind_and_changed():
    well = drawn([(30, 30)], "point")
    project = with_exclusion(PROJECT, well, "well", name=" W1 ")
    made = project.exclusions[-1]
    assert (made.name, made.kind, made.clearance_m) == ("W1", "well", KINDS["well"].clearance_m)
    assert with_exclusion(PROJECT, well, "haystack").exclusions[-1].clearance_m == 0.0
    assert with_exclusion(PROJECT, well, "well", 40).exclusions[-1].clearance_m == 40.0
    line = with_exclusion_kind(project, 3, "buried service", 3.0).exclusions[-1]
    assert (line.kind, line.clearance_m, line.shape, line.name) == (
        "buried service",
        3.0,
        well,
        "W1",
    )
    assert with_exclusion_kind(project, 3, "tree").exclusions[-1].clearance_m == made.clearance_m
    bow_tie = shapely.Polygon([(0, 0), (9, 9), (9, 0), (0, 9)])
    for shape, width in ((well, -1.0), (well, 1001.0), (well, float("nan")), (bow_tie, 2.0)):
        with pytest.raises(InputProblem):
            with_exclusion(PROJECT, shape, "well", width)
    with pytest.raises(InputProblem, match="usable place"):
        with_exclusion(PROJECT, shapely.Point(float("nan"), 0), "tree")
    with pytest.raises(InputProblem, match="80 km"):
        with_exclusion(PROJECT, shapely.Point(0, 80_000), "tree")


def test_more_outlines_come_into_the_frame_with_what_was_found(tmp_path):
    sample = SAMPLES["field_with_pond"]
    project = open_sample(sample)
    more = imported_blocks(project, sample.outline)
    assert len(more.blocks) == 2 * len(project.blocks)
    new = more.blocks[len(project.blocks)]
    assert shapely.equals_exact(new.outline, project.blocks[0].outline, 1e-6)
    assert new.name == f"B{len(project.blocks) + 1}"
    assert new.rules == project.blocks[-1].rules
    assert more.site.frame == project.site.frame
    read = project_from_outline(sample.outline).site.findings
    assert len(more.site.findings) >= len(project.site.findings)
    assert {f.code for f in more.site.findings} <= {f.code for f in (*read, *project.site.findings)}


def test_an_outline_of_another_country_is_refused(tmp_path):
    project = open_sample(SAMPLES["field_with_pond"])
    far = tmp_path / "far.geojson"
    ring = [[20.0, -30.0], [20.001, -30.0], [20.001, -30.001], [20.0, -30.0]]
    far.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}))
    with pytest.raises(InputProblem, match=r"^far\.geojson: .* km from the middle of the site"):
        imported_blocks(project, far)


EDITS = {
    "drawn": lambda p: with_block_drawn(p, [(0, 200), (50, 200), (50, 240)]),
    "hole": lambda p: with_hole(p, "B1", [(10, 10), (20, 10), (20, 20)]),
    "split": lambda p: split(p, "B1", [(60, -5), (60, 85)]),
    "merged": lambda p: merged(split(p, "B1", [(60, -5), (60, 85)]), ["B3", "B1"]),
    "copied": lambda p: copied(p, B2, 10, 200),
    "moved": lambda p: moved(p, POND, 3, 3),
    "offset": lambda p: offset_shape(p, B1, -2),
    "deleted": lambda p: without_shape(p, B2),
    "renamed": lambda p: renamed(p, "B1", "North"),
    "exclusion": lambda p: with_exclusion(p, shapely.Point(1, 1), "tree"),
    "kind": lambda p: with_exclusion_kind(p, 0, "tree", 4.0),
}


@pytest.mark.parametrize("name", EDITS)
def test_every_edit_is_undone_to_the_identical_project(name):
    document = Document(PROJECT)
    assert document.edit(name, EDITS[name])
    after = document.project
    assert after != PROJECT
    document.undo()
    assert document.project is PROJECT
    document.redo()
    assert document.project is after
    assert np.isfinite(shapely.total_bounds([b.outline for b in after.blocks])).all()


def test_merging_closes_a_slit_and_keeps_a_real_hole():
    left = shapely.Polygon([(0, 0), (60, 0), (59.995, 40), (60, 80), (0, 80)])
    right = shapely.Polygon(
        shapely.box(60, 0, 120, 80).exterior, [[(80, 20), (80, 40), (100, 40), (100, 20)]]
    )
    blocks = (Block("B1", left), Block("B2", right))
    (block,) = merged(replace(PROJECT, blocks=blocks), ["B1", "B2"]).blocks
    assert block.outline.area == pytest.approx(120 * 80 - 400)
    assert len(block.outline.interiors) == 1
