"""Frozen values: the project and what is in it, and result arrays."""

from .findings import FINDINGS, Finding, InputProblem
from .ground import Block, EdgeWidth, Exclusion, Guide, SiteFrame
from .handoff import (
    Calibration,
    ControlPoint,
    GroundScale,
    HandOff,
    PointChoice,
    PointTable,
    StakedCheck,
)
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
from .planting import (
    Assignment,
    Crew,
    Inspecting,
    Lot,
    Part,
    Plant,
    Planting,
    Setting,
    Tag,
    TitleBlock,
    Years,
)
from .project import Backdrop, Project, Site
from .register import Register
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
    "Assignment",
    "Backdrop",
    "Block",
    "Calibration",
    "Candidate",
    "Canopy",
    "Climate",
    "Conditions",
    "ControlPoint",
    "Crew",
    "Demand",
    "Drip",
    "EdgeWidth",
    "Exclusion",
    "Finding",
    "FoliageWire",
    "GroundScale",
    "Guide",
    "HandOff",
    "InputProblem",
    "Inspecting",
    "Lot",
    "Marks",
    "Materials",
    "Override",
    "Part",
    "Plant",
    "Planting",
    "PointChoice",
    "PointTable",
    "Prices",
    "Product",
    "Project",
    "Register",
    "RowPlan",
    "RowRules",
    "SaleUnit",
    "Season",
    "Segments",
    "Setting",
    "SettledTakeOff",
    "Site",
    "SiteFrame",
    "Source",
    "StakedCheck",
    "Study",
    "Supply",
    "Tag",
    "Terrain",
    "TitleBlock",
    "Trellis",
    "Water",
    "Wire",
    "Years",
]
