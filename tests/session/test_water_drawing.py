"""What there is to draw of a drip system: vines by their share, pipes by width, valves, the source."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest
import shapely

from layoutdesk import lay_rows
from layoutdesk.core.model import Block, Project, RowRules, Site, SiteFrame, Water
from layoutdesk.core.model.water import Drip
from layoutdesk.session.water_drawing import RAMP, vine_classes, water_drawing
from layoutdesk.session.watering import WaterDesigner, WaterRequest

RULES = RowRules(bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.5)
BLOCKS = tuple(Block(f"B{i}", shapely.box(70 * i, 0, 70 * i + 50, 190), RULES) for i in (1, 2))
PROJECT = Project(
    "Wet",
    Site(SiteFrame(-35.0, 138.9), "EPSG:32754", "EPSG:32754"),
    BLOCKS,
    water=Water(drips=(("B1", Drip(exponent=0.5, tube_mm=8.0)), ("B2", Drip(sets=3)))),
)
PLANS = tuple(lay_rows(b) for b in BLOCKS)


@pytest.fixture(scope="module")
def answer():
    return WaterDesigner().answer(WaterRequest(1, PROJECT, PLANS))


@pytest.fixture(scope="module")
def drawing(answer):
    return water_drawing(answer)


def test_steps_of_the_ramp_meet_and_hold_every_share():
    assert len(RAMP) == 7
    assert RAMP[0].low_pct is None
    assert RAMP[-1].high_pct is None
    assert all(a.high_pct == b.low_pct for a, b in itertools.pairwise(RAMP))
    for i, step in enumerate(RAMP):
        inside = (step.low_pct or 1.0) / 100
        assert vine_classes(np.array([inside]))[0] == i
        assert all(f"{b:g}" in step.label for b in (step.low_pct, step.high_pct) if b is not None)


def test_every_vine_has_its_place_and_the_step_of_its_share(answer, drawing):
    n = sum(p.n_vines for p in PLANS)
    assert drawing.vine_xy_m.shape == (n, 2)
    np.testing.assert_array_equal(drawing.vine_xy_m[PLANS[0].n_vines :], PLANS[1].vines.xy_m)
    share = 100 * answer.design.vine_share
    assert len(np.unique(drawing.vine_class)) > 2
    for i, step in enumerate(drawing.ramp):
        mine = share[drawing.vine_class == i]
        if step.low_pct is not None:
            assert (mine >= step.low_pct - 1e-6).all()
        if step.high_pct is not None:
            assert (mine < step.high_pct).all()


def test_vines_without_water_stand_apart(answer):
    design = answer.design
    flow = design.vine_flow_l_h.copy()
    flow[:5] = 0.0
    dry = water_drawing(replace(answer, design=replace(design, vine_flow_l_h=flow)))
    assert (dry.vine_class[:5] == -1).all()
    assert (dry.vine_class[5:] >= 0).all()


def test_pipes_reach_every_valve_and_every_row(answer, drawing):
    design = answer.design
    assert len(drawing.valves) == len(design.sets) == len(drawing.valve_labels)
    mains = shapely.union_all([shapely.LineString(m) for m in drawing.mains])
    assert shapely.distance(mains, shapely.points(drawing.valves)).max() < 1e-6
    assert mains.distance(shapely.Point(drawing.source)) < 1e-6
    submains = shapely.union_all([shapely.LineString(s) for s in drawing.submains])
    assert shapely.distance(submains, shapely.points(design.lines.inlet_xy_m)).max() < 0.01
    assert len(drawing.submain_mm) == len(drawing.submains)
    outer = {o for o, _ in design.water.pipes_mm}
    assert set(drawing.submain_mm) | set(drawing.main_mm) <= outer


def test_the_length_drawn_of_submains_is_the_length_bought(answer, drawing):
    drawn = sum(shapely.LineString(s).length for s in drawing.submains)
    bought = sum(p.amount for p in answer.parts if p.product.item == "pipe_m" and p.block)
    assert drawn == pytest.approx(bought, rel=1e-6)
