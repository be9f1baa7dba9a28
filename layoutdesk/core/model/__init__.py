"""Frozen values: the project and what is in it, and result arrays."""

from .findings import FINDINGS, Finding, InputProblem
from .ground import Block, EdgeWidth, Exclusion, SiteFrame
from .project import Project, Site
from .rowplan import Marks, RowPlan, Segments
from .rules import CHOICES, LEFTOVERS, LIMITS, Alley, RowRules

__all__ = [
    "CHOICES",
    "FINDINGS",
    "LEFTOVERS",
    "LIMITS",
    "Alley",
    "Block",
    "EdgeWidth",
    "Exclusion",
    "Finding",
    "InputProblem",
    "Marks",
    "Project",
    "RowPlan",
    "RowRules",
    "Segments",
    "Site",
    "SiteFrame",
]
