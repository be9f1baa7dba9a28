"""Frozen values: the project and what is in it, and result arrays."""

from .findings import FINDINGS, Finding, InputProblem
from .ground import Block, EdgeWidth, Exclusion, Guide, SiteFrame
from .overrides import OVERRIDES, Override
from .project import Backdrop, Project, Site
from .rowplan import Marks, RowPlan, Segments
from .rules import CHOICES, LEFTOVERS, LIMITS, Alley, RowRules

__all__ = [
    "CHOICES",
    "FINDINGS",
    "LEFTOVERS",
    "LIMITS",
    "OVERRIDES",
    "Alley",
    "Backdrop",
    "Block",
    "EdgeWidth",
    "Exclusion",
    "Finding",
    "Guide",
    "InputProblem",
    "Marks",
    "Override",
    "Project",
    "RowPlan",
    "RowRules",
    "Segments",
    "Site",
    "SiteFrame",
]
