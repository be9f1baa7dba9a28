"""Frozen values: the project and what is in it, and result arrays."""

from .findings import FINDINGS, Finding, InputProblem
from .ground import Block, EdgeWidth, Exclusion, Guide, SiteFrame
from .materials import (
    SUPPLIERS,
    WIRE,
    Conditions,
    Materials,
    Product,
    SaleUnit,
    SettledTakeOff,
    Supply,
)
from .overrides import OVERRIDES, Override
from .project import Backdrop, Project, Site
from .rowplan import Marks, RowPlan, Segments
from .rules import CHOICES, LEFTOVERS, LIMITS, Alley, RowRules
from .study import Candidate, Canopy, Prices, Season, Study
from .terrain import VERTICAL_UNITS, Terrain
from .trellis import FoliageWire, Trellis, Wire
from .water import Climate, Demand, Drip, Source, Water

__all__ = [
    "CHOICES",
    "FINDINGS",
    "LEFTOVERS",
    "LIMITS",
    "OVERRIDES",
    "SUPPLIERS",
    "VERTICAL_UNITS",
    "WIRE",
    "Alley",
    "Backdrop",
    "Block",
    "Candidate",
    "Canopy",
    "Climate",
    "Conditions",
    "Demand",
    "Drip",
    "EdgeWidth",
    "Exclusion",
    "Finding",
    "FoliageWire",
    "Guide",
    "InputProblem",
    "Marks",
    "Materials",
    "Override",
    "Prices",
    "Product",
    "Project",
    "RowPlan",
    "RowRules",
    "SaleUnit",
    "Season",
    "Segments",
    "SettledTakeOff",
    "Site",
    "SiteFrame",
    "Source",
    "Study",
    "Supply",
    "Terrain",
    "Trellis",
    "Water",
    "Wire",
]
