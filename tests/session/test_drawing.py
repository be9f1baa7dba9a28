"""What there is to draw of a layout, apart from how."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import shapely

from layoutdesk.core.model import Block, Exclusion, Project, RowRules, Site, SiteFrame
from layoutdesk.session.drawing import drawing_of
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.samples import open_sample, samples

EVERYWHERE = (-1e6, -1e6, 1e6, 1e6)
SAMPLES = {s.name: s for s in samples()}


@cache
def answered(name):
    return Layouter().answer(LayoutRequest(0, open_sample(SAMPLES[name])))


def project_with(*exclusions) -> Project:
    hole = [(25, 50), (35, 50), (35, 70), (25, 70)]
    outline = shapely.Polygon([(0, 0), (60, 0), (60, 120), (0, 120)], [hole])
    site = Site(SiteFrame(-34.5, 138.7), "EPSG:7844", "EPSG:7854")
    return Project("Test", site, (Block("B1", outline, RowRules()),), exclusions)


def drawn(*exclusions, settled=True):
    return drawing_of(Layouter().answer(LayoutRequest(0, project_with(*exclusions), settled)))


def roles(parts) -> list[str]:
    return [p.role for p in parts]


@pytest.mark.parametrize("name", SAMPLES)
def test_a_drawing_has_all_rows_vines_and_posts_of_all_blocks(name):
    answer = answered(name)
    drawing = drawing_of(answer)
    plans = answer.plans
    assert len(drawing.rows_within(EVERYWHERE)) == sum(p.n_segments for p in plans)
    assert len(drawing.vines_within(EVERYWHERE)) == answer.tally.vines
    for kind in ("end_posts", "line_posts", "anchors"):
        every = np.concatenate([getattr(p, kind).xy_m for p in plans])
        assert np.array_equal(drawing.marks_within(kind, EVERYWHERE), every)


def test_marks_in_a_window_are_those_inside_it():
    answer = answered("slope_two_blocks")
    x0, y0, x1, y1 = drawing_of(answer).bounds_m
    window = ((2 * x0 + x1) / 3, (2 * y0 + y1) / 3, (x0 + 2 * x1) / 3, (y0 + 2 * y1) / 3)
    every = shapely.points(np.concatenate([p.line_posts.xy_m for p in answer.plans]))
    found = drawing_of(answer).marks_within("line_posts", window)
    assert len(found) == shapely.intersects(every, shapely.box(*window)).sum() > 0


def test_bounds_hold_every_outline():
    answer = answered("slope_two_blocks")
    boxes = [shapely.box(*b.outline.bounds) for b in answer.project.blocks]
    assert drawing_of(answer).bounds_m == shapely.union_all(boxes).bounds


def test_an_outline_has_its_holes_as_lines_and_as_one_area():
    drawing = drawn()
    (area,) = [a for a in drawing.areas if a.role == "block"]
    assert len(area.rings_m) == 2
    outlines = [line for line in drawing.lines if line.role == "outline"]
    assert len(outlines) == 2
    assert all(line.closed and np.array_equal(line.xy_m[0], line.xy_m[-1]) for line in outlines)


def test_exclusions_are_drawn_by_what_they_are():
    drawing = drawn(
        Exclusion(shapely.box(5, 5, 10, 10), 1.0, "Pond", "pond"),
        Exclusion(shapely.box(5, 20, 10, 25), 1.0, "Rock", "rock"),
        Exclusion(shapely.LineString([(0, 90), (60, 95)]), 5.0, "Line", "overhead line"),
        Exclusion(shapely.LineString([(0, 100), (60, 105)]), 3.0, "Track", "track"),
        Exclusion(shapely.Point(50, 50), 2.0, "Pole", "pole"),
    )
    assert roles(drawing.areas).count("water") == 1
    assert roles(drawing.areas).count("exclusion") == 1
    assert [r for r in roles(drawing.lines) if r != "outline"] == ["danger line", "exclusion line"]
    assert roles(drawing.spots) == ["exclusion point"]
    assert drawing.spots[0].xy_m.tolist() == [[50.0, 50.0]]


def test_a_collection_is_drawn_part_by_part():
    parts = [
        shapely.box(5, 5, 10, 10),
        shapely.LineString([(0, 90), (60, 95)]),
        shapely.Point(50, 50),
    ]
    drawing = drawn(Exclusion(shapely.GeometryCollection(parts), 2.0))
    assert "exclusion" in roles(drawing.areas)
    assert "exclusion line" in roles(drawing.lines)
    assert roles(drawing.spots) == ["exclusion point"]


def test_clear_ground_is_drawn_once_the_layout_is_settled():
    exclusion = Exclusion(shapely.Point(10, 30), 5.0)
    assert {"clear", "kept clear"} <= set(roles(drawn(exclusion).areas))
    assert set(roles(drawn(exclusion, settled=False).areas)) == {"block"}
    kept = [a for a in drawn(exclusion).areas if a.role == "kept clear"]
    assert shapely.Polygon(kept[0].rings_m[0]).area == pytest.approx(np.pi * 25, rel=0.01)
