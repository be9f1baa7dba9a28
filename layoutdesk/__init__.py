"""Layout Desk: from a surveyed outline to staked rows, and on to the first crop.

>>> import layoutdesk, shapely
>>> block = layoutdesk.Block("B1", shapely.box(0, 0, 24, 166))
>>> plan = layoutdesk.lay_rows(block, layoutdesk.RowRules(bearing_deg=0, side_margin_m=1.2))
>>> plan.vines.xy_m.shape
(1000, 2)
"""

from .core.layout import lay_rows
from .core.model import (
    Alley,
    Block,
    EdgeWidth,
    Exclusion,
    Finding,
    InputProblem,
    Project,
    RowPlan,
    RowRules,
    Site,
    SiteFrame,
)

__version__ = "0.1.0"

__all__ = [
    "Alley",
    "Block",
    "EdgeWidth",
    "Exclusion",
    "Finding",
    "InputProblem",
    "Project",
    "RowPlan",
    "RowRules",
    "Site",
    "SiteFrame",
    "lay_rows",
]
