"""A small planted site for tests of days, cards and calendars: two blocks, two lots, an answer made of days alone."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np
import shapely

from layoutdesk.core.model import Block, Exclusion, Project, RowRules, Site, SiteFrame
from layoutdesk.core.model.planting import Crew, Lot, Plant, Planting
from layoutdesk.core.model.water import Demand, Water
from layoutdesk.core.planting.assigned import Assigned
from layoutdesk.core.planting.days import plan_days
from layoutdesk.session.planted import PlantingAnswer
from layoutdesk.session.stakeout import lay_project

MONDAY = datetime.date(2027, 4, 5)
RULES = RowRules(bearing_deg=20.0, row_spacing_m=2.5, vine_spacing_m=1.5)
LOTS = (
    Lot("27-A", Plant("Grüner Veltliner", "GV 3", "5BB"), tray=25, delivered=9000, tags_recorded=True),
    Lot("27-P", Plant("Furmint"), grown="bare root", tray=40, delivered=9000, tags_recorded=True),
)  # fmt: skip
CREW = Crew(people=4, hours_a_day=7.0)
BLOCKS = (
    Block("B1", shapely.Polygon([(0, 0), (110, 0), (110, 80), (30, 110)]), RULES),
    Block("B2", shapely.box(150, 0, 200, 70), RULES),
)


def project(lots=LOTS, crew=CREW, blocks=BLOCKS, begins=MONDAY) -> Project:
    site = Site(SiteFrame(48.2, 16.1, 90.0), "EPSG:32633", "EPSG:32633")
    pond = Exclusion(shapely.Point(70, 40).buffer(6), 3.0, "pond", "pond")
    water = Water(demand=Demand(planting=begins))
    planting = Planting(lots=lots, crew=crew)
    return Project("Two Gums, süd", site, blocks, (pond,), water=water, planting=planting)


def answered(known=None, *, with_sets=True, **said) -> PlantingAnswer:
    """Lot 27-A in all rows; every ninth vine of the first rows of B1, and all of B2, are of lot 27-P."""
    known = known or project(**said)
    plans = lay_project(known)
    before = np.cumsum([0, *(p.n_segments for p in plans)])
    marks = [p.vines for p in plans]
    segment = np.concatenate([m.segment + b for m, b in zip(marks, before, strict=False)])
    index = np.concatenate([m.index for m in marks]).astype(np.int32)
    block = np.repeat(np.arange(len(plans)), [p.n_vines for p in plans])
    which = ((block == 1) | ((segment < 6) & (index % 9 == 0))).astype(np.int16)
    plants = tuple(lot.plant for lot in known.planting.lots)
    found = Assigned(
        plans, known.planting, plants, segment.astype(np.int32), index, which.copy(), which.copy(), which
    )  # fmt: skip
    begins = known.water.demand.planting
    sets = np.arange(before[-1]) // 10 + 1 if with_sets else None
    days = begins and plan_days(
        found, begins, known.site.frame.latitude_deg, set_of_segment=sets
    )  # fmt: skip
    nothing = dict.fromkeys(("sample", "matching", "standing", "result", "survival", "years"))
    return PlantingAnswer(
        revision=0, project=known, plans=plans, assigned=found, needs=(), uses=(), begins=begins,
        set_of_segment=sets, days=days, findings=(), **nothing,
    )  # fmt: skip


def renamed(answer: PlantingAnswer, name: str) -> PlantingAnswer:
    return replace(answer, project=replace(answer.project, name=name))
