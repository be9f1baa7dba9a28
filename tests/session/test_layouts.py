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
    Finding,
    InputProblem,
    Project,
    RowRules,
    Site,
    SiteFrame,
)
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.opening import longest_edge_bearing_deg
from layoutdesk.session.row_bars import row_bars
from layoutdesk.session.stakeout import lay_project, project_findings
from layoutdesk.session.tally import Tally, as_text, figures_of, tally_of


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


@pytest.mark.parametrize("settled", [True, False])
def test_every_block_has_a_tally_of_its_own_and_they_add_up(settled):
    answer = Layouter().answer(LayoutRequest(0, a_project(), settled=settled))
    total, each = answer.tally, answer.block_tallies
    assert len(each) == 2
    for plan, tally in zip(answer.plans, each, strict=True):
        assert (tally.vines, tally.segments) == (plan.n_vines, plan.n_segments)
    for name in ("vines", "rows", "segments", "end_posts", "row_length_m", "outline_m2"):
        assert sum(getattr(t, name) for t in each) == pytest.approx(getattr(total, name))
    if settled:
        assert sum(t.planted_m2 for t in each) == pytest.approx(total.planted_m2)
        first = 54 * 104 - np.pi * 25  # headlands, side margins and a tree
        assert each[0].planted_m2 == pytest.approx(first, rel=1e-3)


# the tally in words


def plain(text: str) -> str:
    return text.replace("\u202f", " ")


def a_tally(**changed) -> Tally:
    figures = {
        "vines": 12_345,
        "rows": 149,
        "row_length_m": 15_240.0,
        "longest_m": 152.4,
        "end_posts": 342,
        "planted_m2": 61_234.0,
        "outline_m2": 70_000.0,
        "segments": 149,
    }
    return Tally(**{**figures, **changed})


def told(*args, **kwargs) -> dict:
    return {f.name: f for f in figures_of(*args, **kwargs)}


def test_segments_and_vines_left_out_are_told_only_where_they_say_something():
    assert {"Segments", "Left out"}.isdisjoint(told(a_tally()))
    figures = told(a_tally(segments=171, left_out=7))
    assert (figures["Rows"].value, figures["Segments"].value) == ("149", "171")
    assert figures["Left out"].value == "7"
    assert all(f.meaning.endswith(".") for f in figures.values())


def test_vines_rows_and_row_length_tell_what_a_change_made_of_them():
    figures = told(a_tally(), a_tally(vines=13_400, rows=147, row_length_m=15_240.4))
    assert plain(figures["Vines"].change) == "−1 055"
    assert (figures["Rows"].change, figures["Rows"].grew) == ("+2", True)
    assert figures["Row length"].change == ""  # less than is shown
    assert all(f.change == "" for f in figures_of(a_tally()))


def test_figures_are_told_in_the_unit_asked_for_with_one_mark_of_thousands():
    feet = told(a_tally(), unit="ft")
    assert plain(feet["Row length"].value) == "50 000 ft"
    assert feet["Longest"].value == "500 ft"
    assert feet["Plantable"].value == "15.13 of 17.30 ac"
    assert told(a_tally())["Plantable"].value == "6.12 of 7.00 ha"
    assert told(a_tally(planted_m2=None))["Plantable"].value == "–"


def test_the_tally_is_copied_line_by_line():
    lines = plain(as_text(figures_of(a_tally()))).splitlines()
    assert lines[:3] == ["Vines\t12 345", "Rows\t149", "Row length\t15 240 m"]


def test_vines_left_out_by_hand_are_counted():
    plan = lay_project(a_project())[0]
    special = replace(plan.special, gap_segment=np.array([0, 0, 2]), gap_index=np.array([1, 2, 1]))
    assert tally_of((replace(plan, special=special),)).left_out == 3
    assert tally_of((replace(plan, special=special),)).vines == plan.n_vines - 3


# findings


def test_a_bearing_that_was_chosen_is_no_longer_said_once_it_is_changed():
    project = a_project()
    block = project.blocks[0]
    chosen = replace(block.rules, bearing_deg=longest_edge_bearing_deg(block.outline))
    said = Finding("bearing-chosen", "Rows of B1 follow its longest edge at 0° true.", "B1")
    project = replace(project, site=replace(project.site, findings=(said,)))
    follows = project.with_block(replace(block, rules=chosen))
    assert said in project_findings(follows, ())
    turned = project.with_block(replace(block, rules=replace(chosen, bearing_deg=7.0)))
    assert said not in project_findings(turned, ())
    assert said in turned.site.findings  # undoing the change says it again


def test_of_one_severity_findings_with_a_place_come_first():
    project = a_project()
    found = (
        Finding("rows-short", "note"),
        Finding("rows-short", "note there", place=(1.0, 2.0)),
        Finding("overhead-line", "caution"),
        Finding("anchor-outside", "wrong"),
        Finding("overhead-line", "caution there", place=(1.0, 2.0)),
    )
    project = replace(project, site=replace(project.site, findings=found))
    messages = [f.message for f in project_findings(project, ()) if f in found]
    assert messages == ["wrong", "caution there", "caution", "note there", "note"]


# bars


def test_bars_are_found_again_by_row_number_when_rows_are_laid_anew():
    layouter, project = Layouter(), a_project()
    before = layouter.answer(LayoutRequest(0, project))
    narrow = replace(project.blocks[0].rules, min_row_m=80.0)
    # the tree cut rows in two: the shorter pieces are dropped now, and indices move
    after = layouter.answer(
        LayoutRequest(1, project.with_block(replace(project.blocks[0], rules=narrow)))
    )
    old, new = row_bars(before), row_bars(after)
    assert len(new) < len(old)
    last = np.array([len(old) - 1, before.plans[0].n_segments - 1])
    again = np.flatnonzero(new.found_again(old, last))
    assert again.tolist() == [after.plans[0].n_segments - 1, len(new) - 1]
    assert [new.bar(new.place(i)) for i in again] == again.tolist()
    gone = before.plans[0].segments.length_m < 80
    assert gone.any()
    assert not new.found_again(old, np.flatnonzero(gone)).any()
    assert new.bar((0, after.plans[0].n_segments)) is None
    assert new.bar((2, 0)) is None
