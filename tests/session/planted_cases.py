"""A small site with lots and assignments, to record planting at."""

from __future__ import annotations

import datetime

import numpy as np
import shapely

from layoutdesk import lay_rows
from layoutdesk.core.model import Block, Project, RowRules, Site, SiteFrame
from layoutdesk.core.model.planting import Assignment, Lot, Part, Plant, Planting
from layoutdesk.session.vine_places import code_of_vine, vine_of_index

WHEN = "2027-06-20T09:30:00+02:00"
TODAY = datetime.date(2027, 6, 20)
DAY = datetime.date(2027, 4, 5)
LATER = datetime.date(2027, 5, 2)
PLANT = Plant("Grüner Veltliner", "GV 3", "5BB")
OTHER = Plant("Saperavi", "", "SO4")
FIRST = Lot("27-A", PLANT, "north field", grafted=datetime.date(2026, 12, 1),
            came=datetime.date(2027, 4, 1), delivered=400, tags_recorded=True)  # fmt: skip
SECOND = Lot("27-B", OTHER, came=datetime.date(2027, 3, 20), delivered=400, tags_recorded=True)
UNTOLD = Lot("27-C", OTHER, delivered=50)
RULES = RowRules(bearing_deg=0.0, row_spacing_m=2.5, vine_spacing_m=1.5, headland_m=4.0)
BLOCKS = (
    Block("B1", shapely.box(0, 0, 24, 60), RULES),
    Block("Old Mill", shapely.box(40, 0, 60, 45), RULES),
)
PROJECT = Project(
    "Slope", Site(SiteFrame(48.3, 16.0, 200.0), "EPSG:32633", "EPSG:32633"), BLOCKS,
    planting=Planting(
        (FIRST, SECOND, UNTOLD),
        assignments=(
            Assignment((Part("B1"),), PLANT, "27-A"),
            Assignment((Part("Old Mill", 1, 3),), OTHER, "27-B"),
            Assignment((Part("Old Mill", 4, 4),), OTHER, "27-C"),
        ),
    ),
)  # fmt: skip
PLANS = tuple(lay_rows(block) for block in BLOCKS)
SAID = {"by": "Mara", "when": WHEN}


def vines_of_row(row: int, plan: int = 0, plans=PLANS) -> np.ndarray:
    """Vines of a row, counted through all plans."""
    offset = sum(p.n_vines for p in plans[:plan])
    s = plans[plan].segments
    return offset + np.flatnonzero(s.number[plans[plan].vines.segment] == row)


def code(vine: int, plans=PLANS) -> str:
    return code_of_vine(plans, vine_of_index(plans, int(vine)))
