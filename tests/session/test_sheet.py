"""What is on a printed plan."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from layoutdesk.core.model import Finding, InputProblem
from layoutdesk.formats.project_file import revision_of
from layoutdesk.session.layouts import Layouter, LayoutRequest
from layoutdesk.session.samples import open_sample, samples
from layoutdesk.session.sheet import (
    MARGIN_MM,
    PAPERS,
    PLAN_INSET_MM,
    STRIP_MM,
    Box,
    best_paper,
    fitting_scale,
    paper_named,
    sheet_of,
)
from layoutdesk.session.sheet_words import sections_of
from layoutdesk.session.stakeout import CAUTIONS
from layoutdesk.session.survey import survey_view
from layoutdesk.session.units import unit_length_m

SAMPLES = {s.name: s for s in samples()}
EVERY_PAPER = [(name, landscape) for name in PAPERS for landscape in (True, False)]


@cache
def laid(name):
    project = open_sample(SAMPLES[name])
    return project, Layouter().answer(LayoutRequest(1, project)), survey_view(project)


def sheet(name, paper=("A4", True), unit="m"):
    return sheet_of(*laid(name), unit, paper)


def words(parts) -> str:
    lines = [line for s in parts for line in (s.heading, *s.paragraphs)]
    return "\n".join(lines).replace("\u00a0", " ")


@pytest.mark.parametrize("paper", EVERY_PAPER, ids=str)
@pytest.mark.parametrize("name", SAMPLES)
def test_all_outlines_lie_inside_the_frame_with_room_for_numbers(name, paper):
    made = sheet(name, paper)
    xy = np.concatenate([shapely.get_coordinates(b.outline) for b in laid(name)[0].blocks])
    at, plan = made.place_mm(xy), made.plan
    low = np.array([plan.x_mm, plan.y_mm]) + PLAN_INSET_MM - 1e-6
    high = np.array([plan.x_mm + plan.width_mm, plan.y_mm + plan.height_mm]) - PLAN_INSET_MM + 1e-6
    assert (at >= low).all()
    assert (at <= high).all()


@pytest.mark.parametrize("unit", ["m", "ft", "usft"])
def test_a_stated_scale_is_what_distances_on_the_paper_have(unit):
    made = sheet("field_with_pond", unit=unit)
    stated = float(made.scale.words.split("1 : ")[1].rstrip(")"))
    a, b = np.array([0.0, 0.0]), np.array([90.0, 120.0])
    on_paper_mm = np.linalg.norm(made.place_mm(b) - made.place_mm(a))
    assert on_paper_mm * stated / 1000 == pytest.approx(150, rel=1e-3)


def test_north_is_up_and_east_is_right_on_the_paper():
    made = sheet("field_with_pond")
    east, down = made.place_mm([10.0, 20.0]) - made.place_mm([0.0, 0.0])
    assert east > 0 > down
    assert down == pytest.approx(-2 * east)


@given(wide=st.floats(1, 20_000), high=st.floats(1, 20_000), unit=st.sampled_from(["m", "usft"]))
def test_the_scale_fits_and_twice_as_large_would_not(wide, high, unit):
    room = Box(0, 0, 180, 140)
    scale = fitting_scale(wide, high, room, unit)
    took = max(scale.on_paper_mm(wide) / 180, scale.on_paper_mm(high) / 140)
    assert 0.49 < took <= 1 + 1e-9
    assert scale.on_ground_m(scale.on_paper_mm(wide)) == pytest.approx(wide)


def test_a_site_that_fills_the_room_exactly_gets_the_scale_it_fills():
    assert fitting_scale(180, 100, Box(0, 0, 180, 140)).words == "1 : 1000"
    assert fitting_scale(180.1, 100, Box(0, 0, 180, 140)).words == "1 : 1250"


def test_a_site_in_feet_is_drawn_at_round_feet_an_inch():
    made = sheet("bench_in_feet", unit="usft")
    feet = float(made.scale.words.split("1 in = ")[1].split(" US ft")[0])
    assert feet % 10 == 0
    assert made.scale.on_ground_m(25.4) == pytest.approx(feet * unit_length_m("usft"))
    assert made.bar.label.endswith("US ft")


@pytest.mark.parametrize("paper", EVERY_PAPER, ids=str)
def test_the_scale_bar_is_as_long_as_it_says(paper):
    made = sheet("slope_two_blocks", paper)
    assert made.bar.label == f"{made.bar.length_m:g} m"
    assert made.scale.on_ground_m(made.bar.length_mm) == pytest.approx(made.bar.length_m)
    assert 15 < made.bar.length_mm <= 60


@pytest.mark.parametrize("paper", EVERY_PAPER, ids=str)
def test_no_column_of_text_meets_another_the_plan_or_the_margin(paper):
    made = sheet("field_with_pond", paper)
    plan = replace(made.plan, height_mm=made.plan.height_mm + STRIP_MM)
    for boxes in ((plan, *made.first_columns), made.later_columns):
        shapes = [
            shapely.box(b.x_mm, b.y_mm, b.x_mm + b.width_mm, b.y_mm + b.height_mm) for b in boxes
        ]
        x0, y0, x1, y1 = shapely.total_bounds(shapes)
        assert min(x0, y0) >= MARGIN_MM - 1e-6
        assert x1 <= made.paper.width_mm - MARGIN_MM + 1e-6
        assert y1 <= made.paper.height_mm - MARGIN_MM + 1e-6
        apart = [a.distance(b) for i, a in enumerate(shapes) for b in shapes[:i]]
        assert all(d > 3 for d in apart)
    assert len({round(b.width_mm, 6) for b in (*made.first_columns, *made.later_columns)}) == 1


def test_the_better_turn_of_a_paper_is_the_one_with_the_larger_scale():
    project, answer, survey = laid("slope_two_blocks")
    for name in PAPERS:
        ratios = {
            turn: sheet_of(project, answer, survey, "m", (name, turn)).scale.ratio
            for turn in (True, False)
        }
        assert ratios[best_paper(project, name).landscape] == min(ratios.values())


def test_the_head_tells_project_revision_day_and_grid():
    project, _, survey = laid("field_with_pond")
    made = sheet("field_with_pond")
    assert made.title == project.name
    assert made.revision == revision_of(project)
    assert made.day == project.day.isoformat()
    assert made.system == survey.grid.name
    assert made.convergence_deg == survey.grid.convergence_deg


def test_a_block_name_stands_inside_its_block():
    made = sheet("slope_two_blocks")
    blocks = laid("slope_two_blocks")[0].blocks
    for (name, x_m, y_m), block in zip(made.names, blocks, strict=True):
        assert name == block.name
        assert block.outline.buffer(-10).contains(shapely.Point(x_m, y_m))


def test_survey_statement_factor_and_convergence_are_said():
    _, _, survey = laid("field_with_pond")
    said = words(sheet("field_with_pond").sections)
    assert survey.grid.statement in said
    assert survey.factor in said
    assert "Convergence −1.2976°: grid north lies 1.2976° west of true north." in said
    assert "Declination +1.9°" in said


def test_every_block_has_its_rules_and_its_tally():
    made = sheet("slope_two_blocks")
    headings = [s.heading for s in made.sections]
    assert {"Rows of B1", "Rows of B2", "Tally of all blocks", "Tally of B1", "Tally of B2"} <= {
        *headings
    }
    project, answer, _ = laid("slope_two_blocks")
    rules = next(s for s in made.sections if s.heading == "Rows of B2")
    assert f"{project.block('B2').rules.row_spacing_m:.2f} m apart" in words([rules])
    figures = dict(next(s for s in made.sections if s.heading == "Tally of B2").figures)
    assert figures["Vines"].replace("\u202f", "") == str(answer.block_tallies[1].vines)


def test_blocks_that_share_their_rules_have_one_paragraph():
    project, answer, survey = laid("slope_two_blocks")
    rules = project.blocks[0].rules
    shared = replace(
        project, blocks=tuple(replace(b, common=True, rules=rules) for b in project.blocks)
    )
    headings = [s.heading for s in sections_of(shared, answer, survey)]
    assert "Rows of B1, B2" in headings
    assert "Rows of B1" not in headings


def test_cautions_close_the_sheet_and_notes_stay_in_the_program():
    project, answer, survey = laid("field_with_pond")
    assert sheet("field_with_pond").sections[-1].paragraphs == CAUTIONS
    said = words(sections_of(project, answer, survey))
    for finding in answer.findings:
        assert (finding.message in said) == (finding.severity != "note")


def test_findings_are_told_in_the_unit_of_the_sheet_and_those_left_out_are_counted():
    project, answer, survey = laid("field_with_pond")
    many = tuple(
        Finding(
            "anchor-outside", where=f"row {i}", wording="An anchor is {} out.", lengths_m=(3.048,)
        )
        for i in range(50)
    )
    parts = sections_of(project, replace(answer, findings=many), survey, "ft")
    found = next(s for s in parts if s.heading == "Before anyone stakes this").paragraphs
    assert found[0].replace("\u00a0", " ") == "Wrong. row 0: An anchor is 10.00 ft out."
    assert found[-1] == "And 10 more, listed in the program."


def test_a_number_is_not_parted_from_its_unit():
    for section in sheet("bench_in_feet", unit="usft").sections:
        for paragraph in section.paragraphs:
            assert "0 US" not in paragraph
            assert "100 m" not in paragraph


def test_a_project_without_blocks_is_told_what_to_do():
    project, answer, survey = laid("field_with_pond")
    with pytest.raises(InputProblem, match="no block to print"):
        sheet_of(replace(project, blocks=()), answer, survey)


def test_a_paper_that_is_none_is_named_in_the_error():
    with pytest.raises(ValueError, match="'A9'"):
        paper_named("A9")
