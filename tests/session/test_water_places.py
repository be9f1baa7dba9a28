"""Where things of a drip system are on the plan."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk.core.layout.rows import lay_rows
from layoutdesk.core.model import Block, Project, RowRules, Site, SiteFrame, Water
from layoutdesk.core.model.water import Drip
from layoutdesk.session.vine_places import index_of, next_vine, place_of_vine, vine_at
from layoutdesk.session.water_places import (
    blocks_along,
    bounds_of_set,
    outline_of_set,
    rings_of,
    rows_of_set,
    sentence_places,
    set_of_vine,
    stretch_ends,
)
from layoutdesk.session.watering import WaterDesigner, WaterRequest

RULES = RowRules(bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.5)
UNEVEN = Drip(exponent=0.5, tube_mm=8.0, head_m=14.0, sets=2)


def box(x: float, wide: float, high: float) -> shapely.Polygon:
    return shapely.box(x, 0, x + wide, high)


@pytest.fixture(scope="module")
def project() -> Project:
    """Two blocks beside each other, with thin tube and turbulent emitters."""
    site = Site(SiteFrame(-35.0, 141.0, 100.0), "EPSG:32754", "EPSG:32754")
    blocks = (Block("B1", box(0, 60, 160), RULES), Block("B2", box(90, 50, 120), RULES))
    water = Water().with_drip("B1", UNEVEN).with_drip("B2", UNEVEN)
    return Project("two", site, blocks, water=water)


@pytest.fixture(scope="module")
def answer(project):
    plans = tuple(lay_rows(b, b.rules, ()) for b in project.blocks)
    return WaterDesigner().answer(WaterRequest(1, project, plans))


def test_a_vine_is_found_where_it_stands_and_nowhere_else(answer):
    plans = answer.plans
    for vine in ((0, 0), (0, 700), (1, plans[1].n_vines - 1)):
        x, y = place_of_vine(plans, vine)
        assert vine_at(plans, x + 0.2, y - 0.2, 1.0) == vine
    assert vine_at(plans, 75.0, 60.0, 3.0) is None


def test_walking_stays_in_the_row_and_goes_over_to_the_next_one(answer):
    plans = answer.plans
    assert next_vine(plans, (0, 0), -1, 0) == (0, 0)
    last = int(plans[0].vines_of_segment[0]) - 1
    assert next_vine(plans, (0, last), 1, 0) == (0, last)
    p, beside = next_vine(plans, (0, 5), 0, 1)
    assert plans[p].vines.segment[beside] == 1
    step = np.subtract(place_of_vine(plans, (0, beside)), place_of_vine(plans, (0, 5)))
    assert np.hypot(*step) == pytest.approx(2.5, abs=0.8)


def test_sets_share_out_all_rows(answer):
    sets = answer.design.sets
    assert len(sets) == 4, "two a block"
    every = [place for i in range(len(sets)) for place in rows_of_set(answer, i)]
    wanted = [(p, s) for p, plan in enumerate(answer.plans) for s in range(plan.n_segments)]
    assert sorted(every) == wanted
    for i in range(len(sets)):
        p, segment = rows_of_set(answer, i)[0]
        first = int(np.flatnonzero(answer.plans[p].vines.segment == segment)[0])
        assert set_of_vine(answer, (p, first)) == i


def test_the_line_round_a_set_holds_its_rows_and_no_others(answer):
    for i in range(len(answer.design.sets)):
        ground = shapely.union_all(shapely.polygons(list(outline_of_set(answer, i))))
        mine = set(rows_of_set(answer, i))
        for p, plan in enumerate(answer.plans):
            for s, row in enumerate(plan.shapes):
                assert bool(ground.contains(row)) == ((p, s) in mine)
        x0, y0, x1, y1 = bounds_of_set(answer, i)
        x, y = answer.design.sets[i].valve_xy_m
        assert x0 <= x <= x1
        assert y0 <= y <= y1


def test_worst_stretches_are_ringed_from_their_first_vine_to_their_last(answer):
    worst = answer.judgement.worst
    assert worst
    share = answer.design.vine_share
    for stretch in worst:
        ends = stretch_ends(answer.plans, stretch)
        b = [plan.block.name for plan in answer.plans].index(stretch.block)
        vines = [vine_at(answer.plans[b : b + 1], *end, 0.1) for end in ends.tolist()]
        low, high = sorted(index_of(answer.plans, (b, v[1])) for v in vines)
        assert high - low + 1 == stretch.n_vines
        assert 100 * share[low : high + 1].mean() == pytest.approx(stretch.share_pct, abs=1e-6)
    assert [text for _, text in rings_of(answer)] == [f"{s.share_pct:.0f} %" for s in worst]


def test_sentences_about_rows_lead_to_vines_of_those_rows(answer):
    said, places = answer.judgement.sentences, sentence_places(answer)
    assert len(said) == len(places)
    found = [(s, p) for s, p in zip(said, places, strict=True) if p is not None]
    assert found, "else nothing is checked"
    for sentence, place in found:
        p, vine = vine_at(answer.plans, *place, 1.0)
        assert sentence.startswith(f"{answer.plans[p].block.name}, ")
        assert answer.design.vine_share[index_of(answer.plans, (p, vine))] != pytest.approx(
            1, abs=0.05
        )


def test_a_source_that_is_too_weak_leads_to_the_valve_it_cannot_serve(project):
    weak = replace(project.water.source, curve=((0.0, 20.0), (30.0, 5.0)), is_assumed=False)
    starved = replace(project, water=replace(project.water, source=weak))
    plans = tuple(lay_rows(b, b.rules, ()) for b in project.blocks)
    answer = WaterDesigner().answer(WaterRequest(1, starved, plans))
    short = [s for s in answer.design.sets if not s.is_served]
    assert short
    at = next(i for i, s in enumerate(answer.judgement.sentences) if "cannot serve" in s)
    assert sentence_places(answer)[at] == short[0].valve_xy_m


def test_a_drawn_line_is_of_the_blocks_it_runs_through(project):
    names = ("B1", "B2")
    assert blocks_along(project, names, [(5, 80), (55, 80)]) == ("B1",)
    assert blocks_along(project, names, [(5, 80), (120, 80)]) == ("B1", "B2")
    assert blocks_along(project, names, [(80, 130), (85, 150)]) == ("B2",)
    assert blocks_along(project, ("B2",), [(5, 80), (55, 80)]) == ("B2",)
