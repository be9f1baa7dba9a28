"""Edits of a study, candidates as they are typed, and a candidate adopted."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import (
    Alley,
    Block,
    Candidate,
    Guide,
    InputProblem,
    Override,
    Project,
    RowRules,
    Site,
    SiteFrame,
    Study,
)
from layoutdesk.session.candidate_words import candidate_about
from layoutdesk.session.comparing import study_of
from layoutdesk.session.document import Document
from layoutdesk.session.ground_edits import renamed
from layoutdesk.session.study_edits import (
    MOST_CANDIDATES,
    candidate_of,
    keeps_the_old_plan,
    with_adopted,
    with_base,
    with_candidate,
    with_name,
    with_note,
    without_candidate,
)
from layoutdesk.session.units import unit_length_m

FOOT_M = 0.3048  # exact: NIST Handbook 44, appendix C (from memory)


def a_project(*rules: RowRules, common=(), candidates=(), **study) -> Project:
    rules = rules or (RowRules(bearing_deg=18.0),)
    blocks = tuple(
        Block(f"B{i}", shapely.box(200 * i, 0, 200 * i + 150, 120), r, common=f"B{i}" in common)
        for i, r in enumerate(rules, 1)
    )
    site = Site(SiteFrame(-41.5, 173.9), "EPSG:2193", "EPSG:2193")
    return Project("Test", site, blocks, study=Study(candidates, **study))


def bearings(project: Project) -> list:
    return [c.bearing_deg for c in study_of(project).candidates]


# candidates side by side


def test_the_first_candidate_added_stands_beside_the_plan_as_it_is():
    project = replace(a_project(), study=None)
    assert bearings(with_candidate(project, Candidate(96.0))) == [None, 96.0]


def test_a_candidate_that_is_there_already_is_refused_whatever_it_is_called():
    project = with_candidate(a_project(), Candidate(96.0, name="low"))
    with pytest.raises(InputProblem, match=r"is there already: .*\.$"):
        with_candidate(project, Candidate(96.0 + 360.0, note="again"))
    with_candidate(project, Candidate(96.0, vine_spacing_m=1.2))


def test_more_candidates_than_can_be_read_are_refused():
    project = a_project(candidates=tuple(map(Candidate, range(MOST_CANDIDATES))))
    with pytest.raises(InputProblem, match=str(MOST_CANDIDATES)):
        with_candidate(project, Candidate(100.0))


@pytest.mark.parametrize(("taken", "base"), [(0, 1), (1, 1), (2, 0), (3, 2)])
def test_the_base_stays_the_same_candidate_when_another_is_taken_out(taken, base):
    project = a_project(candidates=tuple(map(Candidate, (0, 30, 60, 90))), base=2)
    study = without_candidate(project, taken).study
    assert study.base == base
    assert study.candidates[base].bearing_deg == (0 if taken == 2 else 60)


def test_the_only_candidate_cannot_be_taken_out():
    with pytest.raises(InputProblem, match="only candidate"):
        without_candidate(a_project(), 0)


def test_notes_names_and_base_are_of_one_candidate_and_undo_takes_them_back():
    project = a_project(candidates=(Candidate(), Candidate(96.0), Candidate(140.0)))
    document = Document(project)
    document.edit("note", lambda p: with_note(p, 1, "Along the road."))
    document.edit("name", lambda p: with_name(p, 1, "Road"))
    document.edit("base", lambda p: with_base(p, 2))
    study = document.project.study
    assert [(c.name, c.note) for c in study.candidates] == [
        ("", ""),
        ("Road", "Along the road."),
        ("", ""),
    ]
    assert study.base == 2
    for _ in range(3):
        document.undo()
    assert document.project == project


def test_a_study_of_some_blocks_follows_a_block_to_its_new_name():
    project = a_project(RowRules(), RowRules(), blocks=("B2",))
    again = renamed(project, "B2", "Terrace")
    assert [b.name for b in again.study.blocks_of(again.blocks)] == ["Terrace"]


# adopting


def test_an_adopted_candidate_lays_the_rows_it_was_compared_by():
    candidate = Candidate(96.0, 2.2, 1.2, 9.0, 2.5, "best")
    project = a_project(candidates=(Candidate(), candidate))
    compared = lay_rows(candidate.block_of(project.blocks[0]))
    adopted = with_adopted(project, 1)
    laid = lay_rows(adopted.blocks[0])
    assert (laid.n_vines, laid.n_rows) == (compared.n_vines, compared.n_rows)
    assert laid.segments.start_m.tolist() == compared.segments.start_m.tolist()
    assert (adopted.exclusions, adopted.site) == (project.exclusions, project.site)


def laid(project: Project) -> list:
    """Where the rows of each candidate of a project start, end and stand."""
    plans = [lay_rows(c.block_of(project.blocks[0])) for c in study_of(project).candidates]
    return [p.segment_ends_m.tolist() for p in plans]


def test_adopting_changes_no_rows_of_any_candidate_so_no_figure_jumps_under_the_choice():
    several = (Candidate(), Candidate(76.0), Candidate(96.0, 2.2, name="low"), Candidate(None, 3.0))
    project = a_project(RowRules(18.0, 2.75, headland_m=9.0), candidates=several, base=1)
    adopted = with_adopted(project, 2)
    assert laid(adopted) == laid(project)
    assert adopted.study.base == 1
    assert [not c.changes for c in adopted.study.candidates] == [False, False, True, False]
    assert adopted.study.candidates[2].name == "low"
    again = with_adopted(adopted, 0)  # back to where it was
    assert again.blocks == project.blocks
    assert laid(again) == laid(project)


def test_a_plan_that_one_candidate_cannot_tell_is_not_kept_and_this_is_known_before():
    project = a_project(RowRules(18.0), RowRules(75.0), candidates=(Candidate(), Candidate(96.0)))
    assert not keeps_the_old_plan(project, 1)
    assert with_adopted(project, 1).study == project.study
    curved = a_project(candidates=(Candidate(), Candidate(96.0), Candidate(row_spacing_m=2.2)))
    curve = Guide(((190, 10), (270, 40), (360, 20)), True)
    curved = curved.with_block(replace(curved.blocks[0], guide=curve))
    assert [keeps_the_old_plan(curved, i) for i in (1, 2)] == [False, True]
    assert with_adopted(curved, 1).study == curved.study


def test_what_a_candidate_does_not_change_stays_as_each_block_has_it():
    rules = RowRules(18.0, 2.4, headland_m=10.0), RowRules(75.0, 3.0, headland_m=6.0)
    adopted = with_adopted(a_project(*rules, candidates=(Candidate(vine_spacing_m=1.1),)), 0)
    assert [b.rules for b in adopted.blocks] == [replace(r, vine_spacing_m=1.1) for r in rules]


def test_blocks_that_share_their_rules_go_on_sharing_them():
    project = a_project(
        *[RowRules(18.0)] * 3,
        common=("B1", "B3"),
        candidates=(Candidate(96.0),),
        blocks=("B1",),
    )
    adopted = with_adopted(project, 0)
    assert [b.rules.bearing_deg for b in adopted.blocks] == [96.0, 18.0, 96.0]


def test_a_bearing_straightens_curved_rows_and_a_spacing_leaves_them_curved():
    project = a_project(candidates=(Candidate(96.0), Candidate(row_spacing_m=2.2)))
    curve = Guide(((190, 10), (270, 40), (360, 20)), True)
    project = project.with_block(replace(project.blocks[0], guide=curve))
    assert with_adopted(project, 0).blocks[0].guide is None
    assert with_adopted(project, 1).blocks[0].guide == curve


def test_single_exceptions_are_kept_and_found_unfit_where_they_mean_nothing():
    project = a_project(candidates=(Candidate(side_margin_m=2.9), Candidate(headland_m=50.0)))
    block = project.blocks[0]
    plan = lay_rows(block)
    far = int(plan.vines.xy_m[:, 1].argmax())
    line = int(plan.segments.line[plan.vines.segment[far]])
    gap = Override("vine left out", line, *plan.vines.xy_m[far].tolist())
    project = project.with_block(replace(block, overrides=(gap,)))
    codes = []
    for index in (0, 1):
        adopted = with_adopted(project, index)
        assert adopted.blocks[0].overrides == (gap,)
        codes.append({f.code for f in lay_rows(adopted.blocks[0]).findings})
    assert ["override-unfit" in found for found in codes] == [False, True]


def test_the_plan_as_it_stands_cannot_be_adopted():
    with pytest.raises(InputProblem, match="as it stands"):
        with_adopted(a_project(candidates=(Candidate(name="as now"),)), 0)


def test_rows_along_an_alley_are_not_adopted():
    rules = RowRules(18.0, alleys=(Alley(275, 60, 6.0, 96.0),))
    project = a_project(RowRules(18.0), rules, candidates=(Candidate(96.0), Candidate(60.0)))
    with pytest.raises(InputProblem, match=r"^B2 cannot be laid so: .* along the rows\."):
        with_adopted(project, 0)
    assert lay_rows(with_adopted(project, 1).block("B2")).n_rows > 0


# typing


@pytest.mark.parametrize(
    ("text", "changes"),
    [
        ("96", {"bearing_deg": 96.0}),
        ("096.5°", {"bearing_deg": 96.5}),
        ("N84°W", {"bearing_deg": 276.0}),
        ("96; 2.2 x 1.2", {"bearing_deg": 96.0, "row_spacing_m": 2.2, "vine_spacing_m": 1.2}),
        ("2,2 × 1,2", {"row_spacing_m": 2.2, "vine_spacing_m": 1.2}),
        ("rows 2.2 x 1.2", {"row_spacing_m": 2.2, "vine_spacing_m": 1.2}),
        (
            "45, rows 2.2m, vines 1.2m, headland 9m, first best",
            {
                "bearing_deg": 45.0,
                "row_spacing_m": 2.2,
                "vine_spacing_m": 1.2,
                "headland_m": 9.0,
                "first_row_m": "best",
            },
        ),
        ("Side margin 2.5; first row 0.4", {"side_margin_m": 2.5, "first_row_m": 0.4}),
    ],
)
def test_a_candidate_is_read_as_people_write_one(text, changes):
    assert candidate_of(text).changes == pytest.approx(changes)


@pytest.mark.parametrize("text", ["8 x 5 ft", "8ft x 5", "8 ft x 5 ft", "8' x 5'", "8 x 60 in"])
def test_a_unit_said_once_is_meant_for_both_spacings(text):
    read = candidate_of(text) if "in" not in text else candidate_of("96 x 60 in")
    assert read.changes == pytest.approx(
        {"row_spacing_m": 8 * FOOT_M, "vine_spacing_m": 5 * FOOT_M}
    )


@pytest.mark.parametrize("text", ["8.5 x 5 ft", "8.5ft x 5", "8.5 x 5'", "8,5 x 5 ft"])
def test_a_unit_said_once_is_meant_for_a_decimal_too(text):
    """8.5 by 5 feet are not 8.5 metres by 5 feet."""
    assert candidate_of(text).changes == pytest.approx(
        {"row_spacing_m": 8.5 * FOOT_M, "vine_spacing_m": 5 * FOOT_M}
    )


def test_bare_lengths_are_in_the_unit_of_its_people():
    usft = unit_length_m("usft")
    assert candidate_of("8 x 5, headland 26", "usft").changes == pytest.approx(
        {"row_spacing_m": 8 * usft, "vine_spacing_m": 5 * usft, "headland_m": 26 * usft}
    )


def test_bearings_of_other_norths_go_through_the_sites_norths():
    def true_from(convention, degrees):
        return degrees + {"grid": 1.25, "magnetic": 22.0}[convention]

    assert candidate_of("96 grid", true_from=true_from).bearing_deg == 97.25
    assert candidate_of("96 mag; rows 2.2", true_from=true_from).bearing_deg == 118.0
    with pytest.raises(InputProblem, match="true bearing"):
        candidate_of("96 grid")


@pytest.mark.parametrize(
    "candidate",
    [
        Candidate(row_spacing_m=2.2, vine_spacing_m=1.2),
        Candidate(row_spacing_m=2.25, headland_m=9.0, side_margin_m=2.5),
        Candidate(vine_spacing_m=1.1, first_row_m="best"),
        Candidate(first_row_m=0.35),
    ],
)
@pytest.mark.parametrize("unit", ["m", "ft"])
def test_what_a_candidate_says_of_itself_can_be_typed_again(candidate, unit):
    again = candidate_of(candidate_about(candidate, unit), unit)
    within = 1e-9 if unit == "m" else 0.1 * FOOT_M
    assert again.changes == pytest.approx(candidate.changes, abs=within)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "is missing"),
        (" ; ", "is missing"),
        ("96; 97", "given twice"),
        ("9 m", "headland 9 m"),
        ("2.2 x 1.2; rows 2.4", "given twice"),
        ("north-ish", "cannot be read"),
        ("2.2x", "cannot be read"),
        ("96; 2.4 m rows and headland 8", "cannot be read"),
        ("0.2 x 1.2", "must lie between"),
        ("first row later", "is no length"),
        ("2m x 5ft6", "is no length"),
    ],
)
def test_what_cannot_be_read_is_one_sentence(text, says):
    with pytest.raises(InputProblem, match=says) as caught:
        candidate_of(text)
    assert str(caught.value).endswith(".")
    assert "\n" not in str(caught.value)


def test_a_bearing_no_compass_has_is_refused_as_a_bearing():
    with pytest.raises(InputProblem, match=r"^Bearing: '9999' is no bearing"):
        candidate_of("9999")
