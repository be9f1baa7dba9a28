"""What rows ask of the ground that is not known."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from ..model import Finding, RowPlan
from ..model.findings import in_wording
from .surface import Surface

_STEP_M = 5.0


def terrain_findings(plans: Iterable[RowPlan], surface: Surface) -> tuple[Finding, ...]:
    """Rows outside the heights, and rows over holes in them, a finding a block and cause."""
    found = []
    for plan in plans:
        s = plan.segments
        if not len(s):
            continue
        count = np.maximum(np.ceil(s.length_m / _STEP_M), 1).astype(np.intp)
        segment = np.repeat(np.arange(len(s)), count)
        rank = np.arange(len(segment)) - np.repeat(np.cumsum(count) - count, count)
        each = (s.length_m / count)[segment]
        xy = plan.places(segment, s.start_m[segment] + (rank + 0.5) * each)
        lost = ~np.isfinite(surface.heights_m(xy))
        if not lost.any():
            continue
        x0, y0, x1, y1 = surface.bounds_m
        x, y = xy.T
        rim = surface.spacing_m / 2  # a raster's heights end at the middles of its cells
        beyond = (x < x0 + rim) | (x > x1 - rim) | (y < y0 + rim) | (y > y1 - rim)
        for code, which, where in (
            ("terrain-outside", lost & beyond, "lies outside the heights of the ground"),
            ("terrain-no-data", lost & ~beyond, "lies where the heights of the ground have a hole"),
        ):
            if which.any():
                first = int(np.flatnonzero(which)[0])
                rows = len(np.unique(s.number[segment[which]]))
                found.append(
                    Finding(
                        code,
                        wording=(
                            f"{in_wording(plan.block.name)}: {{}} of row {where}, in {rows} "
                            f"row{'s' * (rows != 1)}; grades and heights there are not known."
                        ),
                        lengths_m=(float(each[which].sum()),),
                        where=plan.block.name,
                        place=(float(xy[first, 0]), float(xy[first, 1])),
                    )
                )
    return tuple(found)
