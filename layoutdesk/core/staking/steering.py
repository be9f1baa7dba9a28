"""Lines for machines to be steered along: every row from end to end, and the path in the middle between two rows."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from ..model import RowPlan

LINE_WORDS = ("row", "path")


@dataclass(frozen=True, eq=False)
class SteeringLines:
    """Lines of one block, rows first, both from left to right.

    Attributes
    ----------
    kind : tuple of str
        "row" or "path".
    name : tuple of str
        `B1-R012` of a row, `B1-R012/R013` of the path between two rows.
    places_m : tuple of float array, shape (k, 2)
        Along the bearing. [m]
    steps : tuple of int
        Row spacings each lies to the right of the first of its kind: rows and paths that are left out are counted too.
    is_parallel : bool
        Whether all are straight and parallel, whole row spacings apart.
    """

    kind: tuple[str, ...]
    name: tuple[str, ...]
    places_m: tuple[np.ndarray, ...]
    steps: tuple[int, ...]
    is_parallel: bool


def steering_lines(plan: RowPlan, segments: np.ndarray | None = None) -> SteeringLines:
    """Rows and paths of a block; what cuts a row does not cut its line.

    A path is as long as the longer of its rows, on straight rows; where rows bend it runs beside the row on its left.

    Parameters
    ----------
    plan : RowPlan
    segments : bool array, shape (s,), optional
        Segments that are wanted; all where it is left out.
    """
    s = plan.segments
    wanted = np.ones(len(s), bool) if segments is None else np.asarray(segments, bool)
    rows = {}
    for line in np.unique(s.line[wanted]).tolist():
        rows[line] = _whole_row(plan, np.flatnonzero(wanted & (s.line == line)))
    bent = plan.course is not None and any(len(xy) > 2 for xy in rows.values())
    found = []
    for line, xy in rows.items():
        name = f"{plan.block.name}-R{plan.number_of_line(line):03d}"
        found.append(("row", line, name, xy))
    half = plan.rules.row_spacing_m / 2
    for line, xy in rows.items():
        if line + 1 not in rows:
            continue
        path = _beside(xy, half) if bent else _between(xy, rows[line + 1])
        if path is not None:
            numbers = plan.number_of_line(line), plan.number_of_line(line + 1)
            name = f"{plan.block.name}-R{numbers[0]:03d}/R{numbers[1]:03d}"
            found.append(("path", line, name, path))
    begin = {kind: line for kind, line, _, _ in reversed(found)}
    moved = any(o.what == "end staked" for o in plan.block.overrides)
    return SteeringLines(
        tuple(kind for kind, _, _, _ in found),
        tuple(name for _, _, name, _ in found),
        tuple(xy for _, _, _, xy in found),
        tuple(line - begin[kind] for kind, line, _, _ in found),
        plan.course is None and not moved,
    )


def _whole_row(plan: RowPlan, segments: np.ndarray) -> np.ndarray:
    order = segments[np.argsort(plan.segments.start_m[segments])].tolist()
    if plan.course is None:
        return np.array([plan.segment_ends_m[order[0], 0], plan.segment_ends_m[order[-1], 1]])
    pieces = [shapely.get_coordinates(plan.shapes[order[0]])]
    for before, after in pairwise(order):
        pieces += [_over_gap(plan, before, after), shapely.get_coordinates(plan.shapes[after])]
    return np.concatenate(pieces)


def _over_gap(plan: RowPlan, before: int, after: int) -> np.ndarray:
    """Where a bent row would run between two of its segments: a machine goes on along the bend."""
    s, lines = plan.segments, plan.course.lines
    which = [before, after]
    along = np.array([s.end_m[before], s.start_m[after]])
    origin = lines.origin_m[s.line[before]]
    a, b = np.searchsorted(lines.running_m, origin + along + (1e-9, -1e-9)).tolist()
    if a >= b:
        return np.empty((0, 2))
    share = ((lines.running_m[a:b] - origin - along[0]) / (along[1] - along[0]))[:, None]
    ends = np.stack([plan.segment_ends_m[before, 1], plan.segment_ends_m[after, 0]])
    off = ends - plan.on_lines(s.line[which], along, s.across_m[which])  # ends may be measured
    return lines.xy_m[a:b] + off[0] + share * (off[1] - off[0])


def _between(left: np.ndarray, right: np.ndarray) -> np.ndarray:
    """The middle of two straight rows, as long as both together."""
    unit = left[-1] - left[0] + (right[-1] - right[0])
    unit /= np.hypot(*unit)
    along = [(row[[0, -1]] @ unit) for row in (left, right)]
    begin, end = min(along[0][0], along[1][0]), max(along[0][1], along[1][1])
    ends = []
    for row, (a, b) in zip((left, right), along, strict=True):
        step = (row[-1] - row[0]) / (b - a)
        ends.append(np.stack([row[0] + (begin - a) * step, row[0] + (end - a) * step]))
    return (ends[0] + ends[1]) / 2


def _beside(row: np.ndarray, half_m: float) -> np.ndarray | None:
    """A bent row's parallel to its right, along the same way; None where it bends too tightly for one."""
    found = shapely.offset_curve(shapely.LineString(row), -half_m, join_style="mitre")
    parts = shapely.get_parts(found)
    if not len(parts):
        return None
    return shapely.get_coordinates(parts[np.argmax(shapely.length(parts))])
