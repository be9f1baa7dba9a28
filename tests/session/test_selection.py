"""Selecting rows, their figures and their table."""

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Exclusion, InputProblem, RowRules
from layoutdesk.session import selection as s

RULES = RowRules(bearing_deg=0, side_margin_m=2, row_spacing_m=2.5)
POND = [Exclusion(shapely.Point(20, 60), 4.0)]
PLANS = tuple(
    lay_rows(Block(name, shapely.box(x, 0, x + 40, 120), RULES), None, POND)
    for name, x in (("B1", 0), ("B2", 60))
)


def test_a_box_takes_every_row_it_touches_and_no_other():
    picked = s.rows_touched(PLANS, [(6.0, 50.0), (10.0, 55.0)])
    assert picked == {("B1", 3, 0), ("B1", 4, 0)}


def test_a_lasso_takes_rows_of_several_blocks():
    picked = s.rows_touched(PLANS, [(36, 20), (63, 20), (63, 40), (36, 40)])
    assert {block for block, *_ in picked} == {"B1", "B2"}


def test_numbers_ranges_and_codes_name_rows():
    assert s.rows_named(PLANS[:1], "2-4, 6") == {("B1", n, 0) for n in (2, 3, 4, 6)}
    assert s.rows_named(PLANS, "B2: 3-4") == {("B2", 3, 0), ("B2", 4, 0)}
    assert s.rows_named(PLANS, "b1-r008b") == {("B1", 8, 1)}
    assert s.rows_named(PLANS, "all") == s.every_row(PLANS)


@pytest.mark.parametrize("text", ["", "banana", "900", "B1-R900A", "B9: 3"])
def test_what_names_no_row_is_refused_in_a_sentence(text):
    with pytest.raises(InputProblem):
        s.rows_named(PLANS, text)


def test_figures_of_all_rows_are_those_of_the_plans():
    figures = s.figures_of(s.every_row(PLANS), PLANS)
    assert figures.vines == sum(p.n_vines for p in PLANS)
    assert figures.rows == sum(p.n_rows for p in PLANS) < figures.segments
    assert figures.length_m == pytest.approx(sum(p.row_length_m for p in PLANS))
    assert figures.line_posts == sum(len(p.line_posts) for p in PLANS)


def test_a_code_leads_to_its_vine():
    plan, segment, place = s.place_named(PLANS, "B1-R008B-V002")
    vines = PLANS[plan].part(segment, segment + 1).vines.xy_m
    assert np.allclose(place, vines[1])
    for wrong in ("B2-R008B-V900", "B7-R001A", "banana", "4711"):
        with pytest.raises(InputProblem):
            s.place_named(PLANS, wrong)


def test_the_table_has_a_line_a_row_and_sums_up():
    lines = s.table_text(s.NOTHING, PLANS, "ft").splitlines()
    cells = [line.split("\t") for line in lines[1:]]
    assert len(cells) == sum(p.n_segments for p in PLANS)
    assert sum(int(c[2]) for c in cells) == sum(p.n_vines for p in PLANS)
    total_ft = sum(p.row_length_m for p in PLANS) / 0.3048
    assert sum(float(c[1]) for c in cells) == pytest.approx(total_ft, abs=0.005 * len(cells))


def test_a_selection_outlives_a_new_layout_by_name():
    picked = s.rows_named(PLANS, "B1: 2-3")
    wider = lay_rows(Block("B1", shapely.box(0, 0, 40, 140), RULES))
    assert len(s.segments_of(picked, wider)) == 2
    assert s.bounds_of(picked, (wider,))[0] == pytest.approx(4.5)
