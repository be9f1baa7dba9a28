"""Layout Desk: from a surveyed outline to staked rows, and on to the first crop.

>>> import layoutdesk, shapely
>>> block = layoutdesk.Block("B1", shapely.box(0, 0, 24, 166))
>>> plan = layoutdesk.lay_rows(block, layoutdesk.RowRules(bearing_deg=0, side_margin_m=1.2))
>>> plan.vines.xy_m.shape
(1000, 2)
"""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .core.layout.rows import lay_rows
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


def __getattr__(name: str):
    """The engine's names, loaded when first asked for: the window's first picture needs few."""
    if name not in __all__:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from .core import model
    from .core.layout.rows import lay_rows

    globals().update({n: getattr(model, n, lay_rows) for n in __all__})
    return globals()[name]


def __dir__():
    return sorted([*globals(), *__all__])
