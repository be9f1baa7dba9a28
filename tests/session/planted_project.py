"""A small project with lots, whose rows are those that the tests of planting share."""

from __future__ import annotations

import datetime

from layoutdesk.core.model import Lot, Plant, Planting, Project, Site, SiteFrame
from layoutdesk.core.planting.assigned import assigned
from tests.core.planting.planted_rows import PLANS, POND

WHITE, RED = Plant("Furmint", "F 5", "5BB"), Plant("Saperavi", "", "SO4")
LOTS = (
    Lot("27-A", WHITE, ordered=600, delivered=600, tags_recorded=True),
    Lot("27-B", RED, ordered=90, delivered=90, rejected=10),
    Lot("27-C", WHITE, ordered=200),
)
PROJECT = Project(
    "Two Slopes",
    Site(SiteFrame(-35.0, 138.9), "EPSG:32754", "EPSG:32754"),
    tuple(plan.block for plan in PLANS),
    (POND,),
    planting=Planting(lots=LOTS),
)
TODAY = datetime.date(2027, 3, 1)


def lots_at(project: Project) -> list[str]:
    """Name of the lot at each vine; empty where none is assigned."""
    found = assigned(PLANS, project.planting)
    names = [*(lot.name for lot in project.planting.lots), ""]
    return [names[i] for i in found.lot.tolist()]
