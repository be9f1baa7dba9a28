"""The comparison in words: columns, cells, differences, what is missing, and curves."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely

from layoutdesk.core.model import Block, Candidate, Project, RowRules, Site, SiteFrame, Study
from layoutdesk.session.candidate_drawings import CandidateDrawings
from layoutdesk.session.candidate_ways import best_bearings, candidate_at, measure_named
from layoutdesk.session.compare_lines import (
    as_text,
    columns_of,
    curves_of,
    swept_values,
    table_of,
)

BLOCK = Block("B1", shapely.box(0, 0, 100, 120), RowRules(bearing_deg=10.0))
PROJECT = Project("Bench", Site(SiteFrame(-34.5, 138.9), "EPSG:32754", "EPSG:32754"), (BLOCK,))
STANDING, TURNED = Candidate(), Candidate(96.0, note="Along the road.")
STUDY = Study((STANDING, TURNED))


def answer_of(study=STUDY, **values):
    """An answer with measures as lists, one figure a candidate."""
    results = tuple(
        SimpleNamespace(
            candidate=c, plans=(), problem="", values={n: v[i] for n, v in values.items()}
        )
        for i, c in enumerate(study.candidates)
    )
    best = {n: np.array(v) == max(v) for n, v in values.items()}
    return SimpleNamespace(
        project=PROJECT, results=results, best=best, beaten=np.array([1, -1]), sweep=None, curves={}
    )


def line(groups, name):
    return next((x for g in groups for x in g.lines if x.name == name), None)


def test_columns_are_named_by_bearing_and_say_who_beats_them():
    standing, turned = columns_of(PROJECT, STUDY, answer_of(vines=[100.0, 120.0]))
    assert (standing.title, standing.in_use, standing.beaten_by) == ("010.0°", True, "096.0°")
    assert (turned.title, turned.note, turned.beaten_by) == ("096.0°", "Along the road.", "")
    assert (standing.bearings_deg, turned.bearings_deg) == ((10.0,), (96.0,))


def test_a_candidate_that_was_not_counted_yet_says_so_beside_those_that_were():
    answer = answer_of(vines=[100.0, 120.0])
    study = replace(STUDY, candidates=(*STUDY.candidates, Candidate(140.0)))
    columns = columns_of(PROJECT, study, answer)
    cells = line(table_of(study, columns, answer), "vines").cells
    assert [c.text for c in cells] == ["100", "120", "…"]


def test_a_note_written_since_is_no_reason_to_count_again():
    answer = answer_of(vines=[100.0, 120.0])
    noted = replace(STUDY, candidates=(replace(STANDING, note="As staked."), TURNED))
    assert [c.result for c in columns_of(PROJECT, noted, answer)] == [0, 1]


def test_differences_are_told_from_the_base_in_the_unit_on_show():
    answer = answer_of(vines=[100.0, 120.0], mean_row_m=[90.0, 59.52])
    columns = columns_of(PROJECT, STUDY, answer)
    groups = table_of(STUDY, columns, answer, "ft")
    assert [c.difference for c in line(groups, "vines").cells] == ["", "+20"]
    assert [c.difference for c in line(groups, "mean_row_m").cells] == ["", "−100.0"]
    turned = replace(STUDY, base=1)
    cells = line(table_of(turned, columns, answer, "ft"), "vines").cells
    assert [c.difference for c in cells] == ["−20", ""]


def test_a_difference_that_does_not_show_is_not_told():
    answer = answer_of(mean_row_m=[90.0, 90.01])
    groups = table_of(STUDY, columns_of(PROJECT, STUDY, answer), answer)
    assert [c.difference for c in line(groups, "mean_row_m").cells] == ["", ""]


def test_what_is_known_of_one_alone_is_a_dash_at_the_other_and_of_none_a_sentence():
    answer = answer_of(vines=[100.0, 120.0], grade_along_max_pct=[float("nan"), 9.0])
    groups = table_of(STUDY, columns_of(PROJECT, STUDY, answer), answer)
    assert [c.text for c in line(groups, "grade_along_max_pct").cells] == ["–", "9.0"]
    assert line(groups, "grade_across_max_pct") is None
    missing = {g.title: g.missing for g in groups}
    assert missing["On the slope"] == ""
    assert missing["Wind"].endswith(".")


def test_of_one_candidate_nothing_is_best():
    study = Study((STANDING,))
    answer = answer_of(study, vines=[100.0])
    answer.beaten = np.array([-1])
    groups = table_of(study, columns_of(PROJECT, study, answer), answer)
    assert not line(groups, "vines").cells[0].best


def test_the_table_as_text_has_a_line_a_measure_with_plain_figures_and_the_notes():
    answer = answer_of(vines=[23_495.0, 23_703.0])
    columns = columns_of(PROJECT, STUDY, answer)
    lines = as_text(table_of(STUDY, columns, answer), columns).splitlines()
    assert lines[0] == "\t010.0°\t096.0°"
    assert lines[1] == "Vines\t23495\t23703"
    assert lines[-2] == "Beaten by\t096.0°\t"
    assert lines[-1] == "Note\t\tAlong the road."


def test_each_curve_fills_its_own_range_and_says_its_span():
    answer = answer_of(vines=[100.0, 120.0])
    answer.sweep = SimpleNamespace(
        bearings_deg=np.array([0.0, 60.0, 120.0]),
        values={"vines": np.array([1000.0, 1001.0, 999.0]), "end_posts": np.array([50.0] * 3)},
    )
    answer.curves = {"sun_left_h": np.array([np.nan, 4.0, 6.0])}
    assert list(swept_values(answer)) == ["vines", "end_posts", "sun_left_h"]
    vines, posts, sun = curves_of(answer, ("vines", "end_posts", "sun_left_h"), STUDY)
    assert vines.share.tolist() == [0.5, 1.0, 0.0]
    assert (vines.lowest.replace("\u202f", " "), vines.highest) == ("999", "1\u202f001")
    assert vines.span.startswith("under 1")
    assert posts.share.tolist() == [0.5] * 3
    assert np.isnan(sun.share[0])
    assert sun.text_at(0) == "–"
    assert sun.text_at(2) == "6.00"


def test_the_best_bearings_are_apart_also_over_north():
    bearings = np.arange(0.0, 180.0)
    values = -np.abs((bearings - 178 + 90) % 180 - 90)
    assert best_bearings(bearings, values, "vines", 3)[0] == 178.0
    found = best_bearings(bearings, values, "vines", 3)
    assert all(abs((a - b + 90) % 180 - 90) >= 10 for a in found for b in found if a != b)
    assert best_bearings(bearings, values, "end_posts", 1) == (88.0,)


def test_a_candidate_at_a_bearing_is_like_the_base_and_takes_no_note_along():
    study = Study((Candidate(30.0, row_spacing_m=2.2, name="low", note="mine"),))
    assert candidate_at(study, 75.0) == Candidate(75.0, row_spacing_m=2.2)


@pytest.mark.parametrize("text", ["", "row", "no such thing"])
def test_a_text_that_names_no_one_measure_is_refused(text):
    from layoutdesk.core.model import InputProblem

    with pytest.raises(InputProblem, match=r"choose one from the list\.$"):
        measure_named(text, ("mean_row_m", "short_rows", "vines"))


def test_a_small_drawing_thins_rows_alike_and_keeps_what_did_not_change():
    from layoutdesk.core.layout.rows import lay_rows

    plan = lay_rows(BLOCK, BLOCK.rules, ())
    other = lay_rows(TURNED.block_of(BLOCK), TURNED.rules_of(BLOCK.rules), ())
    first, second = SimpleNamespace(plans=(plan,)), SimpleNamespace(plans=(other,))
    drawings = CandidateDrawings()
    (a,) = drawings.of(PROJECT, (first,))
    again, b, none = drawings.of(PROJECT, (first, second, SimpleNamespace(plans=())))
    assert again is a
    assert none is None
    bounds = (-10.0, -10.0, 110.0, 130.0)
    everything = a.rows_within(bounds)
    thin = a.thinned(0.5)  # 2.4 m are 1.2 px
    assert thin.every == 4
    kept = thin.rows_within(bounds)
    assert 0.2 * len(everything) <= len(kept) <= 0.3 * len(everything)
    lines = {tuple(p) for p in everything.reshape(-1, 4).round(6).tolist()}
    assert {tuple(p) for p in kept.reshape(-1, 4).round(6).tolist()} <= lines
    assert a.thinned(4.0).every == 1
    assert b is not a
