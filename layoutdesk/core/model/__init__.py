"""Frozen values: the project and what is in it, and result arrays."""

from .findings import FINDINGS, Finding, InputProblem
from .ground import Block, EdgeWidth, Exclusion, Guide, SiteFrame
from .overrides import OVERRIDES, Override
from .project import Backdrop, Project, Site
from .rowplan import Marks, RowPlan, Segments
from .rules import CHOICES, LEFTOVERS, LIMITS, Alley, RowRules
from .study import Candidate, Canopy, Prices, Season, Study
from .terrain import VERTICAL_UNITS, Terrain

__all__ = [
    "CHOICES",
    "FINDINGS",
    "LEFTOVERS",
    "LIMITS",
    "OVERRIDES",
    "VERTICAL_UNITS",
    "Alley",
    "Backdrop",
    "Block",
    "Candidate",
    "Canopy",
    "EdgeWidth",
    "Exclusion",
    "Finding",
    "Guide",
    "InputProblem",
    "Marks",
    "Override",
    "Prices",
    "Project",
    "RowPlan",
    "RowRules",
    "Season",
    "Segments",
    "Site",
    "SiteFrame",
    "Study",
    "Terrain",
]
