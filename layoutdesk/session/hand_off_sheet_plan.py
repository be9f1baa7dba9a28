"""The small plan of the hand-off sheet: paper, scale, and what is drawn."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.staking.lines import PlanLines
from ..formats.hand_off_pdf_plan import LEGEND_MM
from ..formats.handoffset import HandOffSet
from ..formats.handoffsheet import CheckPlan
from ..formats.pdf_pen import MARGIN_MM
from .check_line_words import Checked
from .hand_off_set import control_places
from .sheet import Box, Paper, fitting_scale, paper_named, sheet_bar

_HEAD_MM, _FOOT_MM, _INSET_MM = 18.0, 6.0, 8.0
_BAR_MM = 45.0
_CONTROL_SHARE = 1.5


def check_plan(hand: HandOffSet, checked: tuple[Checked, ...], unit: str) -> CheckPlan:
    """Blocks, rows, check lines and control points on a page turned the way that shows the site larger."""
    control = control_places(hand.project, hand.placing)
    x0, y0, x1, y1 = _bounds(hand, control)
    ways = []
    for landscape in (False, True):
        paper = paper_named("A4" if unit == "m" else "Letter", landscape)
        frame = _frame(paper)
        room = Box(0, 0, frame.width_mm - 2 * _INSET_MM, frame.height_mm - 2 * _INSET_MM)
        ways.append((paper, frame, fitting_scale(x1 - x0, y1 - y0, room, unit)))
    paper, frame, scale = min(ways, key=lambda way: way[2].ratio)
    centre = ((x0 + x1) / 2, (y0 + y1) / 2)
    bar = sheet_bar(scale, unit, _BAR_MM)
    ends, out, numbers, rim = _row_ends(hand.lines)
    angle = hand.placing.grid.convergence_deg
    north = "" if abs(angle) < 5e-5 else f", {abs(angle):.4f}° {'east' if angle > 0 else 'west'}"
    closest_m = min((p.rules.row_spacing_m for p in hand.plans), default=2.5)
    return CheckPlan(
        paper.width_mm,
        paper.height_mm,
        (frame.x_mm, frame.y_mm, frame.width_mm, frame.height_mm),
        scale.ratio,
        scale.words,
        bar.label,
        bar.length_mm,
        centre,
        _row_pieces(hand.lines),
        closest_m * 1000.0 / scale.ratio,
        ends,
        out,
        numbers,
        rim,
        np.array([c.line.ends_m for c in checked], dtype=float).reshape(-1, 2, 2),
        control,
        angle,
        north,
        _said(control, frame, centre, scale.ratio),
    )


def _bounds(hand: HandOffSet, control) -> tuple[float, float, float, float]:
    """Around all blocks, and those control points that do not make the plan much smaller. [m]"""
    bounds = shapely.total_bounds([plan.block.outline for plan in hand.plans])
    most = _CONTROL_SHARE * max(bounds[2] - bounds[0], bounds[3] - bounds[1])
    for _, x, y in control:
        wider = np.concatenate([np.minimum(bounds[:2], (x, y)), np.maximum(bounds[2:], (x, y))])
        if max(wider[2] - wider[0], wider[3] - wider[1]) <= most:
            bounds = wider
    return tuple(bounds.tolist())


def _frame(paper: Paper) -> Box:
    top = MARGIN_MM + _HEAD_MM
    high = paper.height_mm - MARGIN_MM - _FOOT_MM - LEGEND_MM - top
    return Box(MARGIN_MM, top, paper.width_mm - 2 * MARGIN_MM, high)


def _said(control, frame: Box, centre, ratio: float) -> str:
    half = np.array([frame.width_mm, frame.height_mm]) * ratio / 2000.0
    away = [name for name, *at in control if (np.abs(np.array(at) - centre) > half).any()]
    text = "Figures in red are those of the check distances; others are row numbers."
    if away:
        more = f" and {len(away) - 8} more" if len(away) > 8 else ""
        text += f" Control points beyond this plan: {', '.join(away[:8])}{more}."
    return text


def _row_pieces(lines: PlanLines) -> np.ndarray:
    """Straight pieces of all rows, (k, 2, 2). [m]"""
    n_rows = int((lines.kind == 0).sum())
    last = lines.first[n_rows]
    joined = np.ones(last, bool)
    joined[lines.first[1 : n_rows + 1] - 1] = False
    begin = np.flatnonzero(joined)
    return np.stack([lines.xy_m[begin], lines.xy_m[begin + 1]], axis=1)


def _row_ends(lines: PlanLines) -> tuple[np.ndarray, np.ndarray, tuple[int, ...], np.ndarray]:
    """Ends of whole rows, the unit steps outwards, their numbers, and which are first or last in a block."""
    which = np.flatnonzero(lines.kind == 0)
    if not len(which):
        return np.empty((0, 2)), np.empty((0, 2)), (), np.empty(0, bool)
    _, block = np.unique(np.array([lines.block[i] for i in which.tolist()]), return_inverse=True)
    row = lines.row[which]
    fresh = np.ones(len(which), bool)
    fresh[1:] = (block[1:] != block[:-1]) | (row[1:] != row[:-1])
    last = np.append(fresh[1:], True)
    start, far = which[fresh], which[last]
    at = np.concatenate([lines.first[start], lines.first[far + 1] - 1])
    inward = np.concatenate([lines.first[start] + 1, lines.first[far + 1] - 2])
    step = lines.xy_m[at] - lines.xy_m[inward]
    out = step / np.maximum(np.hypot(*step.T), 1e-9)[:, None]
    numbers, owner = row[fresh], block[fresh]
    rim = np.zeros(len(numbers), bool)
    for one in np.unique(owner):
        mine = np.flatnonzero(owner == one)
        rim[mine[[int(np.argmin(numbers[mine])), int(np.argmax(numbers[mine]))]]] = True
    return lines.xy_m[at], out, tuple(np.tile(numbers, 2).tolist()), np.tile(rim, 2)
