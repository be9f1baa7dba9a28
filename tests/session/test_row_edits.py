"""How rows run, set by places on the plan: bearing, first row, alleys, guide line."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, InputProblem, Project, RowRules, Site, SiteFrame
from layoutdesk.session.row_edits import (
    block_at,
    with_alley,
    with_alley_at,
    with_bearing_through,
    with_first_row_through,
    with_guide,
    without_alley,
    without_guide,
)

RULES = RowRules(bearing_deg=0.0, headland_m=0.0, side_margin_m=0.0, min_row_m=0.0)


def site_of(*blocks):
    return Project("x", Site(SiteFrame(-35.0, 141.0), "EPSG:32754", "EPSG:32754"), blocks)


@pytest.fixture
def project():
    return site_of(
        Block("B1", shapely.box(0, 0, 100, 200), RULES),
        Block("B2", shapely.box(150, 0, 250, 200), replace(RULES, bearing_deg=20.0)),
    )


def test_rows_run_as_the_line_of_both_places(project):
    turned = with_bearing_through(project, ("B1",), [(10, 10), (10 + np.sqrt(3), 11)])
    assert turned.block("B1").rules.bearing_deg == pytest.approx(60.0)
    assert turned.block("B2") is project.block("B2")
    back = with_bearing_through(project, ("B1",), [(10, 10), (10, -50)])
    assert back.block("B1").rules.bearing_deg == pytest.approx(180.0)


def test_one_place_twice_is_no_bearing(project):
    with pytest.raises(InputProblem, match="farther apart"):
        with_bearing_through(project, ("B1",), [(10, 10), (10, 10.001)])


@pytest.mark.parametrize("x", [0.5, 37.3, 99.2])
@pytest.mark.parametrize("bearing_deg", [0.0, 33.0, 180.0, 271.5])
@pytest.mark.parametrize("side", ["left", "right"])
def test_a_row_line_passes_through_the_place(x, bearing_deg, side):
    rules = replace(RULES, bearing_deg=bearing_deg, number_from=side)
    project = site_of(Block("B1", shapely.box(0, 0, 100, 200), rules))
    plan = lay_rows(project.block("B1"))
    after = with_first_row_through(project, plan, x, 80.0)
    assert 0 <= after.block("B1").rules.first_row_m < rules.row_spacing_m
    rows = shapely.union_all(lay_rows(after.block("B1")).shapes)
    assert rows.distance(shapely.Point(x, 80.0)) < 1e-3


def test_a_curved_row_passes_through_the_place(project):
    curved = with_guide(project, "B1", [(20, -20), (45, 100), (20, 220)])
    plan = lay_rows(curved.block("B1"))
    after = with_first_row_through(curved, plan, 61.0, 90.0)
    rows = shapely.union_all(lay_rows(after.block("B1")).shapes)
    assert rows.distance(shapely.Point(61.0, 90.0)) < 5e-3


def test_a_block_without_rows_takes_no_first_row():
    project = site_of(Block("B1", shapely.box(0, 0, 9, 9), replace(RULES, side_margin_m=50.0)))
    plan = lay_rows(project.block("B1"))
    with pytest.raises(InputProblem, match="no rows yet"):
        with_first_row_through(project, plan, 4.0, 4.0)


def test_the_block_at_a_place_is_the_one_that_holds_it_else_the_nearest(project):
    assert block_at(project, 10, 10) == "B1"
    assert block_at(project, 160, 10) == "B2"
    assert block_at(project, 120, 10) == "B1"
    assert block_at(project, 130, 10) == "B2"


def test_an_alley_is_put_moved_and_taken_away_and_the_project_is_as_before(project):
    one = with_alley(project, "B1", 50, 100)
    (alley,) = one.block("B1").rules.alleys
    assert (alley.x_m, alley.y_m, alley.width_m, alley.bearing_deg) == (50, 100, 6.0, None)
    assert lay_rows(one.block("B1")).n_segments == 2 * lay_rows(project.block("B1")).n_segments
    two = with_alley(one, "B1", 50, 150)
    moved = with_alley_at(two, "B1", 1, 50, 160)
    assert [a.y_m for a in moved.block("B1").rules.alleys] == [100, 160]
    assert without_alley(without_alley(moved, "B1", 0), "B1", 0) == project


def test_an_alley_of_shared_rules_is_everywhere(project):
    shared = replace(
        project, blocks=tuple(replace(b, rules=RULES, common=True) for b in project.blocks)
    )
    one = with_alley(shared, "B2", 200, 100)
    assert [len(b.rules.alleys) for b in one.blocks] == [1, 1]
    assert [len(b.rules.alleys) for b in without_alley(one, "B1", 0).blocks] == [0, 0]


def test_a_guide_line_is_followed_and_taken_back(project):
    places = [(20, -20), (45, 100), (20, 220)]
    curved = with_guide(project, "B1", places)
    block = curved.block("B1")
    assert block.guide.points_m == tuple((float(x), float(y)) for x, y in places)
    assert block.rules.bearing_deg == pytest.approx(0.0, abs=1e-4)
    plan = lay_rows(block)
    assert plan.course is not None
    straight = without_guide(curved, "B1")
    assert straight.block("B1").guide is None
    assert lay_rows(straight.block("B1")).course is None


def test_a_block_with_a_guide_shares_its_rules_no_more(project):
    shared = replace(
        project, blocks=tuple(replace(b, rules=RULES, common=True) for b in project.blocks)
    )
    curved = with_guide(shared, "B2", [(170, -20), (195, 100), (170, 220)])
    assert [b.common for b in curved.blocks] == [True, False]
    assert curved.block("B1") is shared.block("B1")


def test_a_line_too_sharp_for_rows_is_refused_in_one_sentence(project):
    with pytest.raises(InputProblem, match="gentler") as refused:
        with_guide(project, "B1", [(20, 0), (60, 200), (21, 0)])
    assert str(refused.value).endswith(".")


def test_vines_that_line_up_across_cannot_follow_a_guide(project):
    across = project.with_block(
        replace(project.block("B1"), rules=replace(RULES, leftover="across"))
    )
    with pytest.raises(InputProblem, match="line up across"):
        with_guide(across, "B1", [(20, -20), (45, 100), (20, 220)])
