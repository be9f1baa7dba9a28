"""Comparisons as answers: what is laid and measured, what is kept, and what cannot be laid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.compare.catalogue import MEASURES
from layoutdesk.core.compare.measures import ground_measures
from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import (
    Alley,
    Block,
    Candidate,
    Canopy,
    Exclusion,
    Guide,
    InputProblem,
    Prices,
    Project,
    RowRules,
    Site,
    SiteFrame,
    Study,
)
from layoutdesk.session import comparing
from layoutdesk.session.comparing import Comparer, CompareRequest, study_of, terrain_curves

OUTLINE = shapely.Polygon([(-90, -70), (80, -95), (110, 60), (10, 120), (-100, 80)])
BLOCK = Block("B1", OUTLINE, RowRules(bearing_deg=18.0))
POND = Exclusion(shapely.Point(20, 10).buffer(12), 4.0, kind="pond")
STUDY = Study((Candidate(), Candidate(96.0), Candidate(60.0, 2.2, 1.2)), wind_from_deg=310.0)
PROJECT = Project(
    "Bench",
    Site(SiteFrame(-34.5, 138.9), "EPSG:32754", "EPSG:32754"),
    (BLOCK,),
    (POND,),
    study=STUDY,
)


class Plane:
    """A plane rising to the east."""

    spacing_m = 1.0
    bounds_m = (-500.0, -500.0, 500.0, 500.0)

    def __init__(self, rise: float):
        self.rise = rise

    def heights_m(self, xy_m):
        return self.rise * np.asarray(xy_m)[:, 0]

    def gradients(self, xy_m):
        return np.tile([self.rise, 0.0], (len(xy_m), 1))


class Stopped(Exception):
    """What a caller raises to stop."""


def with_study(project=PROJECT, **changes) -> Project:
    return replace(project, study=replace(study_of(project), **changes))


def answer(project=PROJECT, comparer=None, surface=None, **how):
    how = {"sweep": False, **how}
    return (comparer or Comparer()).answer(CompareRequest(7, project, surface, **how))


def test_every_candidate_is_laid_on_the_same_ground_in_the_studys_order():
    found = answer()
    assert found.revision == 7
    assert [r.candidate for r in found.results] == list(STUDY.candidates)
    for result in found.results:
        block = result.candidate.block_of(BLOCK)
        plan = lay_rows(block, exclusions=(POND,))
        assert result.values["vines"] == plan.n_vines
        assert result.values["end_posts"] == 2 * plan.n_segments
        assert result.plans[0].segments.start_m.tolist() == plan.segments.start_m.tolist()
    assert found.sweep is None


def test_without_a_study_the_plan_as_it_stands_is_measured():
    found = answer(replace(PROJECT, study=None))
    (only,) = found.results
    assert only.values["vines"] == lay_rows(BLOCK, exclusions=(POND,)).n_vines
    assert not any(marks.any() for marks in found.best.values())


def test_best_and_beaten_are_told_by_the_figures():
    found = answer()
    vines = [r.values["vines"] for r in found.results]
    assert found.best["vines"].tolist() == [v == max(vines) for v in vines]
    assert not found.best["longest_row_m"].any()
    for i, by in enumerate(found.beaten.tolist()):
        if by >= 0:
            assert found.results[by].values["vines"] >= vines[i]


def test_a_changed_candidate_leaves_the_others_as_they_were():
    comparer = Comparer()
    before = answer(comparer=comparer)
    turned = (*STUDY.candidates[:2], Candidate(61.0, 2.2, 1.2))
    after = answer(with_study(candidates=turned), comparer)
    kept = [a.plans is b.plans for a, b in zip(before.results, after.results, strict=True)]
    assert kept == [True, True, False]
    fresh = answer(with_study(candidates=turned))
    assert [r.values for r in after.results] == [r.values for r in fresh.results]


def test_a_name_and_a_note_lay_nothing_again():
    comparer = Comparer()
    before = answer(comparer=comparer)
    noted = tuple(replace(c, name=f"{i}", note="Seen.") for i, c in enumerate(STUDY.candidates))
    after = answer(with_study(candidates=noted), comparer)
    assert [r.candidate.name for r in after.results] == ["0", "1", "2"]
    assert all(a.plans is b.plans for a, b in zip(before.results, after.results, strict=True))


@pytest.mark.parametrize(
    "changed",
    [
        PROJECT.with_block(replace(BLOCK, rules=replace(BLOCK.rules, headland_m=12.0))),
        PROJECT.with_block(replace(BLOCK, outline=OUTLINE.buffer(-10))),
        replace(PROJECT, exclusions=()),
        with_study(short_row_m=100.0),
        with_study(prices=Prices(30.0, 6.0, "AUD")),
        with_study(canopy=Canopy(3.0)),
        with_study(wind_from_deg=200.0),
    ],
    ids=["rules", "outline", "exclusions", "short rows", "prices", "canopy", "wind"],
)
def test_whatever_figures_depend_on_is_counted_again(changed):
    comparer = Comparer()
    before = answer(comparer=comparer, sweep=True)
    after, fresh = answer(changed, comparer, sweep=True), answer(changed, sweep=True)
    assert [r.values for r in after.results] == [r.values for r in fresh.results]
    assert [r.values for r in after.results] != [r.values for r in before.results]
    for name, values in fresh.sweep.values.items():
        assert np.array_equal(after.sweep.values[name], values, equal_nan=True), name
    for name, values in fresh.curves.items():
        assert np.array_equal(after.curves[name], values), name


def test_other_heights_change_the_grades_and_lay_nothing_again():
    comparer = Comparer()
    gentle = answer(comparer=comparer, surface=Plane(0.05))
    steep = answer(comparer=comparer, surface=Plane(0.10))
    none = answer(comparer=comparer)
    for a, b, c in zip(gentle.results, steep.results, none.results, strict=True):
        assert a.plans is b.plans is c.plans
        assert "grade_along_max_pct" not in c.values
    # On a plane rising r % to the east rows at a bearing b climb r sin b, and tilt r cos b.
    at_96 = steep.results[1].values
    assert at_96["grade_along_max_pct"] == pytest.approx(10 * np.sin(np.radians(96)))
    assert at_96["grade_across_max_pct"] == pytest.approx(-10 * np.cos(np.radians(96)))


def test_a_candidate_that_cannot_be_laid_says_why_and_spoils_no_other():
    rules = replace(BLOCK.rules, alleys=(Alley(0, 0, 6.0, 96.0),))
    found = answer(PROJECT.with_block(replace(BLOCK, rules=rules)), sweep=True)
    standing, along, other = found.results
    assert along.problem == "It cannot be laid: an alley at 96° runs along the rows."
    assert (along.plans, along.values) == ((), {})
    assert standing.values["vines"] > 0 < other.values["vines"]
    assert not any(marks[1] for marks in found.best.values())
    assert found.beaten[1] == -1
    assert np.isnan(found.sweep.values["vines"][96])
    assert np.isfinite(found.sweep.values["vines"][[0, 45, 135]]).all()


def test_curves_tell_at_each_bearing_what_the_table_tells_there():
    found = answer(with_study(candidates=(Candidate(96.0), Candidate(41.0))), sweep=True)
    for result in found.results:
        i = int(result.candidate.bearing_deg)
        assert found.sweep.bearings_deg[i] == i
        known = {**found.sweep.values, **found.curves}
        for name in ("vines", "mean_row_m", "short_rows", "sun_hot_mj_m2", "wind_angle_deg"):
            assert known[name][i] == pytest.approx(result.values[name], rel=1e-9), name


def test_curves_have_the_bases_spacings():
    at_base = answer(with_study(base=2), sweep=True)
    assert at_base.sweep.values["vines"][60] == at_base.results[2].values["vines"]


def test_a_canopy_changes_the_sun_and_leaves_the_counts():
    comparer = Comparer()
    before = answer(comparer=comparer, sweep=True)
    after = answer(with_study(canopy=Canopy(3.0)), comparer, sweep=True)
    assert after.sweep is before.sweep
    assert (after.curves["sun_share_pct"] > before.curves["sun_share_pct"]).all()


def test_a_canopy_wider_than_the_rows_are_apart_has_no_sun_and_stops_nothing():
    found = answer(
        with_study(canopy=Canopy(width_m=2.0), candidates=(Candidate(row_spacing_m=1.8),)),
        sweep=True,
    )
    assert "sun_left_h" not in found.results[0].values
    assert list(found.curves) == ["wind_angle_deg"]


def test_in_haste_the_best_place_is_rough_until_it_is_asked_for_in_full():
    rough = with_study(candidates=(Candidate(96.0, first_row_m="best"), Candidate(60.0)))
    comparer = Comparer()
    hasty = answer(rough, comparer, haste=True)
    full = answer(rough, comparer)
    again = answer(rough, comparer, haste=True)
    exact = lay_rows(Candidate(96.0, first_row_m="best").block_of(BLOCK), exclusions=(POND,))
    assert hasty.results[0].values["vines"] <= full.results[0].values["vines"] == exact.n_vines
    assert full.results[0].plans[0].first_row_m == exact.first_row_m
    assert hasty.results[0].plans is not full.results[0].plans
    assert hasty.results[1].plans is full.results[1].plans
    assert again.results[0].plans is full.results[0].plans


def test_a_study_of_some_blocks_leaves_the_others_out():
    other = Block("B2", shapely.box(300, 0, 400, 150), RowRules(row_spacing_m=3.0))
    both = replace(PROJECT, blocks=(BLOCK, other))
    one = answer(with_study(both, blocks=("B2",)))
    assert [p.block.name for p in one.results[1].plans] == ["B2"]
    alone, first = one.results[0].values["vines"], answer().results[0].values["vines"]
    assert answer(both).results[0].values["vines"] == alone + first


def test_curved_rows_stand_beside_straight_ones():
    curve = Guide(((-120, 0), (0, 30), (130, 5)), True)
    found = answer(PROJECT.with_block(replace(BLOCK, guide=curve)))
    assert found.results[0].plans[0].course is not None
    assert found.results[1].plans[0].course is None


@pytest.mark.parametrize(
    ("project", "says"),
    [
        (replace(PROJECT, blocks=()), "no block to compare"),
        (with_study(blocks=("B9",)), "blocks that are gone"),
    ],
)
def test_a_study_of_nothing_is_refused_in_a_sentence(project, says):
    with pytest.raises(InputProblem, match=rf"{says}.*\.$"):
        answer(project)


def test_a_measure_of_another_program_decides_nothing():
    found = answer(with_study(chosen=("vines", "taste", "longest_row_m")))
    vines = np.array([r.values["vines"] for r in found.results])
    assert (found.beaten >= 0).tolist() == (vines < vines.max()).tolist()


def test_the_share_done_grows_to_the_whole():
    told = []
    Comparer().answer(CompareRequest(1, PROJECT), told.append)
    assert told == sorted(told)
    assert told[-1] == 1.0
    assert len(told) > len(STUDY.candidates)


def test_what_is_stopped_half_way_is_right_the_next_time():
    comparer = Comparer()
    for least in (0.1, 0.4, 0.6):

        def stop(share, least=least):
            if share >= least:
                raise Stopped

        with pytest.raises(Stopped):
            comparer.answer(CompareRequest(1, PROJECT), stop)
    after, fresh = answer(comparer=comparer, sweep=True), answer(sweep=True)
    assert [r.values for r in after.results] == [r.values for r in fresh.results]
    assert np.array_equal(after.sweep.values["vines"], fresh.sweep.values["vines"])


def test_grades_over_bearings_are_those_of_full_layouts():
    slope = Plane(0.08)
    bearings = np.array([0.0, 60.0, 96.0, 150.0])
    base = with_study(candidates=(Candidate(), Candidate(96.0)))
    curves = terrain_curves(base, slope, bearings)
    table = answer(base, surface=slope).results[1].values
    for name, values in curves.items():
        assert MEASURES[name].needs in ("", "terrain")
        assert values[2] == pytest.approx(table[name]), name
    # Along rises with the sine of the bearing, across with its cosine.
    along, across = curves["grade_along_p95_pct"], curves["grade_across_p95_pct"]
    assert along == pytest.approx(8 * np.abs(np.sin(np.radians(bearings))), abs=1e-6)
    assert across == pytest.approx(8 * np.abs(np.cos(np.radians(bearings))), abs=1e-6)


def test_grades_over_bearings_stop_when_they_are_told_to():
    told = []

    def stop(share):
        told.append(share)
        if len(told) == 3:
            raise Stopped

    with pytest.raises(Stopped):
        terrain_curves(PROJECT, Plane(0.08), np.arange(180.0), stop)
    assert told == [0.0, 1 / 180, 2 / 180]


def test_grades_are_not_known_where_no_layout_is_to_be_had():
    rules = replace(BLOCK.rules, alleys=(Alley(0, 0, 6.0, 96.0),))
    project = PROJECT.with_block(replace(BLOCK, rules=rules))
    curves = terrain_curves(project, Plane(0.08), [96.0, 30.0])
    assert np.isnan(curves["turns"]).tolist() == [True, False]


def test_neither_wind_nor_prices_nor_a_hedge_grade_the_ground_again(monkeypatch):
    graded = []

    def watched(plans, study, surface):
        graded.append(study.machine_width_m)
        return ground_measures(plans, study, surface)

    monkeypatch.setattr(comparing, "ground_measures", watched)
    comparer, plane = Comparer(), Plane(0.05)
    first = answer(comparer=comparer, surface=plane)
    n = len(graded)
    assert n == len(STUDY.candidates)
    other = {"wind_from_deg": 20.0, "canopy": Canopy(1.6), "prices": Prices(40.0, 6.0, "EUR")}
    second = answer(with_study(**other), comparer, plane)
    assert len(graded) == n
    for old, new in zip(first.results, second.results, strict=True):
        assert new.values["grade_across_max_pct"] == old.values["grade_across_max_pct"]
        assert new.values["wind_angle_deg"] != old.values["wind_angle_deg"]
        assert "posts_cost" in new.values
    answer(with_study(**other, machine_width_m=2.4), comparer, plane)
    assert graded[n:] == [2.4] * n
