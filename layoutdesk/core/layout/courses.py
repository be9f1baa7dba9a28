"""Row lines of curved rows: parallels of a block's guide line, and which way rows run where."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import shapely

from ..geometry.axes import bearing_of
from ..geometry.curves import Curve, extended, guide_curve, to_lines
from ..model import Block, Guide, RowPlan, RowRules

LEAST_RADIUS_M = 15.0
"""A row that bends more tightly is hard to follow with wires, posts and machines (common practice:
tractor makers and trellis suppliers state their own). [m]"""


@lru_cache(maxsize=16)
def _drawn(guide: Guide, reach_m: float) -> Curve:
    return guide_curve(np.array(guide.points_m), smooth=guide.smooth, reach_m=reach_m)


def guide_line(block: Block) -> Curve:
    """The block's guide line, run on straight at both ends until its parallels cover the outline."""
    x0, y0, x1, y1 = block.outline.bounds
    guide = np.array(block.guide.points_m)
    low, high = np.minimum(guide.min(axis=0), (x0, y0)), np.maximum(guide.max(axis=0), (x1, y1))
    reach = 100.0 * np.ceil(np.hypot(*(high - low)) / 100.0)  # rounded, to be made only once
    return extended(_drawn(block.guide, float(reach)), float(reach))


def guide_bearing_deg(guide: Guide) -> float:
    """Bearing from the first to the last place of a guide line. [deg]"""
    (x0, y0), (x1, y1) = guide.points_m[0], guide.points_m[-1]
    return float(bearing_of(x1 - x0, y1 - y0))


def tightest_row_m(plan: RowPlan) -> tuple[float, tuple[float, float]]:
    """Least radius any row of a curved plan bends to, and where the guide line bends so. [m]

    A row inside a bend has the guide line's radius less its offset; at most nothing is left of it.
    """
    curve, across = plan.course.guide, plan.segments.across_m
    bent = np.abs(curve.curvature) > 1e-9
    if not bent.any() or not len(across):
        return np.inf, (0.0, 0.0)
    k = curve.curvature[bent]
    inward = np.where(k > 0, max(across.max(), 0.0), max(-across.min(), 0.0))
    radius = np.maximum(1 / np.abs(k) - inward, 0.0)
    i = int(np.argmin(radius))
    x, y = curve.xy_m[bent][i].tolist()
    return float(radius[i]), (x, y)


def rows_bearing_deg(block: Block, rules: RowRules, xy_m: np.ndarray):
    """Direction the rows run at places of the site frame: one for all, or (n,) in curved rows. [deg]"""
    if block.guide is None:
        return rules.bearing_deg
    curve = guide_line(block)
    station, _ = to_lines(curve, xy_m)
    nx, ny = (np.interp(station, curve.station_m, curve.normal[:, i]) for i in (0, 1))
    return bearing_of(-ny, nx)


def across_curve(block: Block, station_m, half_m: float) -> np.ndarray:
    """Strips at right angles to the guide line at stations along it, as polygons. [m]"""
    curve = guide_line(block)
    at = np.column_stack([np.interp(station_m, curve.station_m, curve.xy_m[:, i]) for i in (0, 1)])
    normal = np.column_stack(
        [np.interp(station_m, curve.station_m, curve.normal[:, i]) for i in (0, 1)]
    )
    normal /= np.hypot(*normal.T)[:, None]
    reach = np.hypot(*np.ptp(curve.xy_m, axis=0))
    ends = np.stack([at - reach * normal, at + reach * normal], axis=1)
    return shapely.buffer(shapely.linestrings(ends), half_m, cap_style="flat")
