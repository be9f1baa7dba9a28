"""One edge of an outline: what it is, its own width, rows along it."""

from __future__ import annotations

import pytest
import shapely

from layoutdesk import Block, Project, RowRules, Site, SiteFrame, lay_rows
from layoutdesk.session.edges import edge_at, edge_view, with_edge_width, with_rows_along

SHAPE = shapely.Polygon(
    [(0, 0), (120, 10), (110, 180), (-10, 160)], [[(40, 60), (60, 60), (50, 80)]]
)
PROJECT = Project(
    "x",
    Site(SiteFrame(-41.0, 173.0), "EPSG:2193", "EPSG:2193"),
    (
        Block("B1", SHAPE, RowRules(bearing_deg=10)),
        Block("B2", shapely.box(200, 0, 300, 100), RowRules(bearing_deg=90)),
    ),
)


def test_the_nearest_edge_within_reach_is_found_whichever_block_it_is_of():
    assert edge_at(PROJECT, 60, 4.5, 2.0).edge == 0
    assert edge_at(PROJECT, 199.5, 50, 2.0).block == "B2"
    assert edge_at(PROJECT, 50, 59.5, 2.0).ring == 1
    assert edge_at(PROJECT, 60, 40, 2.0) is None


def test_an_edge_is_told_as_stored_whichever_way_its_ring_runs():
    clockwise = shapely.Polygon(SHAPE.exterior.coords[::-1])
    for outline in (SHAPE, clockwise):
        coords = outline.exterior.coords
        for i in range(4):
            view = edge_view(Block("B1", outline), 0, i)
            assert {view.ends_m[0], view.ends_m[1]} == {coords[i], coords[i + 1]}
            assert view.length_m == pytest.approx(shapely.LineString(coords[i : i + 2]).length)


def test_the_width_in_force_and_why():
    end, side = (edge_view(PROJECT.blocks[0], 0, i) for i in (0, 1))
    assert (end.width_m, end.is_end, end.own) == (8.0, True, False)
    assert (side.width_m, side.is_end, side.own) == (3.0, False, False)
    assert edge_view(PROJECT.blocks[0], 0, 9) is None


def test_a_width_of_its_own_moves_that_edges_strip_alone_and_can_be_given_back():
    side = edge_view(PROJECT.blocks[1], 0, 0)
    wider = with_edge_width(PROJECT, side, 20.0)
    assert edge_view(wider.blocks[1], 0, 0).own
    assert wider.blocks[0] is PROJECT.blocks[0]
    bare, moved = (lay_rows(p.blocks[1]) for p in (PROJECT, wider))
    assert moved.row_length_m < bare.row_length_m
    assert with_edge_width(wider, side, None) == PROJECT


def test_rows_run_along_the_edge_turned_no_more_than_half_way():
    block = PROJECT.blocks[0]
    for i in range(4):
        turned = with_rows_along(PROJECT, edge_view(block, 0, i)).blocks[0]
        apart = abs((turned.rules.bearing_deg - block.rules.bearing_deg + 180) % 360 - 180)
        assert apart <= 90
        (ax, ay), (bx, by) = edge_view(turned, 0, i).ends_m
        along = lay_rows(turned).axes.unit_along
        cross = along[0] * (by - ay) - along[1] * (bx - ax)
        assert abs(cross) < 1e-6 * ((bx - ax) ** 2 + (by - ay) ** 2) ** 0.5
        assert not edge_view(turned, 0, i).is_end
