"""Layout requests and answers: what is laid again, what is kept, and what only a settled one has."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout import rows
from layoutdesk.core.model import (
    Alley,
    Block,
    Exclusion,
    InputProblem,
    Project,
    RowRules,
    Site,
    SiteFrame,
)
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.stakeout import lay_project, project_findings


def a_project() -> Project:
    site = Site(SiteFrame(-34.5, 138.7), "EPSG:7844", "EPSG:7854")
    blocks = (
        Block("B1", shapely.box(0, 0, 60, 120), RowRules()),
        Block("B2", shapely.box(80, 0, 140, 120), RowRules(bearing_deg=30)),
    )
    return Project("Test", site, blocks, (Exclusion(shapely.Point(30, 60), 5.0, kind="tree"),))


def respaced(project: Project, name: str, spacing_m: float) -> Project:
    block = project.block(name)
    return project.with_block(replace(block, rules=replace(block.rules, row_spacing_m=spacing_m)))


def same(a, b) -> bool:
    return a.n_vines == b.n_vines and np.array_equal(a.vines.xy_m, b.vines.xy_m)


@pytest.fixture
def laid(monkeypatch):
    """Names of the blocks that were really laid."""
    names = []
    real = rows.lay_rows

    def counted(block, *args, **how):
        names.append(block.name)
        return real(block, *args, **how)

    monkeypatch.setattr(rows, "lay_rows", counted)
    return names


def test_a_settled_answer_is_what_the_command_line_lays():
    project = a_project()
    answer = Layouter().answer(LayoutRequest(7, project))
    plans = lay_project(project)
    assert answer.revision == 7
    assert answer.project is project
    assert all(same(a, b) for a, b in zip(answer.plans, plans, strict=True))
    assert answer.findings == project_findings(project, plans)
    assert answer.findings


def test_the_tally_adds_up_all_blocks():
    project = a_project()
    answer = Layouter().answer(LayoutRequest(0, project))
    plans, tally = answer.plans, answer.tally
    assert tally.vines == len(plans[0].vines) + len(plans[1].vines)
    assert tally.rows == plans[0].n_rows + plans[1].n_rows
    assert tally.end_posts == sum(len(p.end_posts) for p in plans)
    assert tally.row_length_m == pytest.approx(sum(p.segments.length_m.sum() for p in plans))
    assert tally.longest_m == max(p.segments.length_m.max() for p in plans)
    assert tally.outline_m2 == 2 * 60 * 120
    # Block 1 has 8 m headlands, 3 m sides and a tree with 5 m around it.
    first = replace(project, blocks=project.blocks[:1])
    planted = Layouter().answer(LayoutRequest(0, first)).tally.planted_m2
    assert planted == pytest.approx(54 * 104 - np.pi * 25, rel=1e-3)


def test_a_block_that_did_not_change_keeps_its_plan(laid):
    layouter, project = Layouter(), a_project()
    first = layouter.answer(LayoutRequest(0, project))
    del laid[:]
    second = layouter.answer(LayoutRequest(1, respaced(project, "B2", 3.0)))
    assert laid == ["B2"]
    assert second.plans[0] is first.plans[0]
    assert second.strips[0] is first.strips[0]
    assert second.plans[1].rules.row_spacing_m == 3.0


def test_other_exclusions_lay_every_block_again(laid):
    layouter, project = Layouter(), a_project()
    before = layouter.answer(LayoutRequest(0, project))
    del laid[:]
    after = layouter.answer(LayoutRequest(1, replace(project, exclusions=())))
    assert laid == ["B1", "B2"]
    assert after.tally.vines > before.tally.vines


def test_an_unsettled_answer_has_rows_and_vines_but_looks_for_nothing(laid):
    answer = Layouter().answer(LayoutRequest(3, a_project(), settled=False))
    settled = Layouter().answer(LayoutRequest(3, a_project()))
    assert not answer.settled
    assert (answer.findings, answer.strips, answer.kept_clear) == ((), (), None)
    assert answer.tally.planted_m2 is None
    assert all(same(a, b) for a, b in zip(answer.plans, settled.plans, strict=True))
    assert settled.kept_clear.area == pytest.approx(np.pi * 25, rel=0.01)


def test_settling_lays_what_was_only_quick_and_keeps_nothing_unchecked(laid):
    layouter, project = Layouter(), a_project()
    layouter.answer(LayoutRequest(0, project, settled=False))
    answer = layouter.answer(LayoutRequest(1, project))
    assert laid == ["B1", "B2", "B1", "B2"]
    assert answer.settled
    assert len(answer.strips) == 2
    assert answer.findings == project_findings(project, lay_project(project))


def test_a_quick_answer_may_show_plans_that_were_settled(laid):
    layouter, project = Layouter(), a_project()
    first = layouter.answer(LayoutRequest(0, project))
    del laid[:]
    quick = layouter.answer(LayoutRequest(1, respaced(project, "B1", 3.0), settled=False))
    assert laid == ["B1"]
    assert quick.plans[1] is first.plans[1]


def test_the_best_first_row_is_found_to_the_centimetre_only_when_settled():
    project = a_project()
    block = replace(project.blocks[0], rules=RowRules(first_row_m="best", bearing_deg=17))
    project = replace(project, blocks=(block,))
    layouter = Layouter()
    quick = layouter.answer(LayoutRequest(0, project, settled=False))
    settled = layouter.answer(LayoutRequest(1, project))
    assert settled.tally.vines >= quick.tally.vines
    assert same(settled.plans[0], lay_project(project)[0])


def test_rules_that_contradict_each_other_name_the_block_in_one_sentence():
    project = a_project()
    odd = RowRules(bearing_deg=30, alleys=(Alley(100, 50, 6.0, bearing_deg=30.0),))
    project = project.with_block(replace(project.blocks[1], rules=odd))
    with pytest.raises(InputProblem, match=r"^Block B2 cannot be laid out: .*\.$"):
        Layouter().answer(LayoutRequest(0, project))
    with pytest.raises(InputProblem, match=r"^Block B2 cannot be laid out: .*\.$"):
        lay_project(project)


def test_a_project_without_blocks_has_an_empty_answer():
    answer = Layouter().answer(LayoutRequest(0, replace(a_project(), blocks=(), exclusions=())))
    assert (answer.plans, answer.tally.vines, answer.tally.longest_m) == ((), 0, 0.0)
