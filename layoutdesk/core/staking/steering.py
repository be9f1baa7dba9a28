"""Lines for machines to be steered along: every row from end to end, and the path in the middle between two rows."""

from __future__ import annotations

from dataclasses import dataclass

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
    is_parallel : bool
        Whether all are straight and parallel, one row spacing apart.
    """

    kind: tuple[str, ...]
    name: tuple[str, ...]
    places_m: tuple[np.ndarray, ...]
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
    kind, name, places = [], [], []
    for line, xy in rows.items():
        kind.append("row")
        name.append(f"{plan.block.name}-R{plan.number_of_line(line):03d}")
        places.append(xy)
    for line, xy in rows.items():
        if line + 1 not in rows:
            continue
        numbers = plan.number_of_line(line), plan.number_of_line(line + 1)
        kind.append("path")
        name.append(f"{plan.block.name}-R{numbers[0]:03d}/R{numbers[1]:03d}")
        half = plan.rules.row_spacing_m / 2
        places.append(_beside(xy, half) if bent else _between(xy, rows[line + 1]))
    moved = any(o.what == "end staked" for o in plan.block.overrides)
    return SteeringLines(tuple(kind), tuple(name), tuple(places), plan.course is None and not moved)


def _whole_row(plan: RowPlan, segments: np.ndarray) -> np.ndarray:
    order = segments[np.argsort(plan.segments.start_m[segments])].tolist()
    if plan.course is None:
        return np.array([plan.segment_ends_m[order[0], 0], plan.segment_ends_m[order[-1], 1]])
    return np.concatenate([shapely.get_coordinates(plan.shapes[i]) for i in order])


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


def _beside(row: np.ndarray, half_m: float) -> np.ndarray:
    """A bent row's parallel to its right, along the same way."""
    found = shapely.offset_curve(shapely.LineString(row), -half_m, join_style="mitre")
    parts = shapely.get_parts(found)
    if not len(parts):
        return row
    return shapely.get_coordinates(parts[np.argmax(shapely.length(parts))])
