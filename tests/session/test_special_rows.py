"""Leaving out, trimming, shifting and adding, as edits of a project."""

import datetime

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, InputProblem, Project, RowRules, Site, SiteFrame
from layoutdesk.session import special_rows as special

RULES = RowRules(bearing_deg=0, side_margin_m=2, row_spacing_m=2.5)
PROJECT = Project(
    "Test",
    Site(SiteFrame(-35.0, 139.0), "EPSG:32754", "EPSG:32754"),
    (Block("B1", shapely.box(0, 0, 40, 120), RULES),),
    day=datetime.date(2026, 5, 1),
)


def plan_of(project):
    return lay_rows(project.blocks[0])


PLAN = plan_of(PROJECT)


def test_a_row_is_left_out_and_put_back_to_the_identical_project():
    out = special.with_rows_left_out(PROJECT, PLAN, [2, 3])
    after = plan_of(out)
    assert after.n_segments == PLAN.n_segments - 2
    picked = special.pick(after, 7.0, 60.0, 0.5, marks=False)
    assert picked.kind == "left_out"
    assert special.code_of(after, picked) == "B1-R003A"
    back = special.put_back(out, picked)
    again = special.pick(plan_of(back), 9.5, 60.0, 0.5, marks=False)
    assert special.put_back(back, again) == PROJECT


def test_a_vine_is_left_out_picked_as_a_gap_and_put_back():
    picked = special.pick(PLAN, 7.1, 13.4, 0.4, marks=True)
    assert special.code_of(PLAN, picked) == "B1-R003A-V004"
    out = special.with_vine_left_out(PROJECT, PLAN, picked)
    gap = special.pick(plan_of(out), 7.1, 13.4, 0.4, marks=True)
    assert gap.kind == "gap"
    assert special.code_of(plan_of(out), gap) == "B1-R003A-V004"
    assert special.put_back(out, gap) == PROJECT


def test_a_vine_is_added_and_taken_away_again():
    more = special.with_vine_added(PROJECT, PLAN, 7.0, 111.6)
    plan = plan_of(more)
    assert plan.n_vines == PLAN.n_vines + 1
    picked = special.pick(plan, 7.0, 111.6, 0.3, marks=True)
    assert special.with_vine_left_out(more, plan, picked) == PROJECT
    with pytest.raises(InputProblem, match="stands there already"):
        special.with_vine_added(PROJECT, PLAN, 7.0, 9.02)
    with pytest.raises(InputProblem, match="no row"):
        special.with_vine_added(PROJECT, PLAN, -30.0, 9.0)


@pytest.mark.parametrize("end", [1, 2])
def test_an_end_moves_outward_by_a_length_and_moving_again_replaces_it(end):
    once = special.with_end_moved(PROJECT, PLAN, 2, end, 1.5)
    assert plan_of(once).segments.length_m[2] == pytest.approx(PLAN.segments.length_m[2] + 1.5)
    twice = special.with_end_moved(once, plan_of(once), 2, end, -4.0)
    assert plan_of(twice).segments.length_m[2] == pytest.approx(PLAN.segments.length_m[2] - 2.5)
    assert len(twice.blocks[0].overrides) == 1


def test_a_line_post_moves_and_comes_back():
    moved = special.with_post_moved(PROJECT, PLAN, 2, 3, 0.7)
    posts = plan_of(moved).line_posts
    change = posts.xy_m - PLAN.line_posts.xy_m
    assert np.abs(change).max() == pytest.approx(0.7)
    assert (np.abs(change) > 1e-9).sum() == 1
    assert special.with_post_moved(moved, plan_of(moved), 2, 3, -0.7) == PROJECT
    with pytest.raises(InputProblem, match="half its interval"):
        special.with_post_moved(PROJECT, PLAN, 2, 3, 5.0)


def test_everything_special_about_a_row_is_taken_back_at_once():
    project = special.with_end_moved(PROJECT, PLAN, 2, 1, 1.5)
    project = special.with_vine_added(project, plan_of(project), 7.0, 111.6)
    project = special.with_vine_added(project, plan_of(project), 9.5, 111.6)
    plan = plan_of(project)
    assert special.is_special(plan, 2)
    left = special.as_the_rules_say(project, plan, 2)
    assert len(left.blocks[0].overrides) == 1
    assert not special.is_special(plan_of(left), 2)


def test_what_is_picked_grows_finer_with_marks():
    assert special.pick(PLAN, 7.1, 9.1, 0.4, marks=True).kind == "vine"
    assert special.pick(PLAN, 7.1, 30.1, 0.4, marks=False).kind == "row"
    assert special.pick(PLAN, 7.1, 8.1, 0.4, marks=False).kind == "end_post"
    assert special.pick(PLAN, -20.0, 30.0, 0.4, marks=True) is None
