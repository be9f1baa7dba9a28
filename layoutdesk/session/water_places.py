"""Where things of a drip system are on the plan: the vine under the hand, sets, worst stretches."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import shapely

from ..core.layout.looking import segment_at
from ..core.layout.numbering import segment_letter
from ..core.model import Project, RowPlan
from ..core.water.judgement import Stretch
from .quantities import Quantity, shown
from .watering import WaterAnswer

Vine = tuple[int, int]
"""A vine, told by the index of its plan and its own there, in the order of `plan.vines`."""

_ROWS = re.compile(r"\b[Rr]ows? (\d+)([A-Z]*)(?: to (\d+))?")
_SET = re.compile(r"\b[Ss]ets? (\d+)")


def vine_at(plans: Sequence[RowPlan], x_m: float, y_m: float, reach_m: float) -> Vine | None:
    """The vine nearest to a place, None where none is within reach."""
    best, nearest = None, reach_m
    for p, plan in enumerate(plans):
        near = segment_at(plan, x_m, y_m, reach_m)
        if near is None:
            continue
        begin, end = _vines_of(plan, near)
        if begin == end:
            continue
        away = np.hypot(*(plan.vines.xy_m[begin:end] - (x_m, y_m)).T)
        i = int(np.argmin(away))
        if away[i] <= nearest:
            best, nearest = (p, begin + i), float(away[i])
    return best


def _vines_of(plan: RowPlan, segment: int) -> tuple[int, int]:
    """First vine of a segment, and the one behind its last."""
    stop = np.cumsum(plan.vines_of_segment)
    return int(stop[segment] - plan.vines_of_segment[segment]), int(stop[segment])


def _segment_of(plan: RowPlan, vine: int) -> int:
    return int(np.searchsorted(np.cumsum(plan.vines_of_segment), vine, side="right"))


def place_of_vine(plans: Sequence[RowPlan], vine: Vine) -> tuple[float, float]:
    """Where a vine stands in the site frame. [m]"""
    x, y = plans[vine[0]].vines.xy_m[vine[1]].tolist()
    return x, y


def next_vine(plans: Sequence[RowPlan], vine: Vine, along: int, rows: int) -> Vine:
    """The vine so many places on in its row, or beside it so many segments on; within the block."""
    p, v = vine
    plan = plans[p]
    segment = _segment_of(plan, v)
    if rows:
        filled = np.flatnonzero(plan.vines_of_segment)
        at = int(np.searchsorted(filled, segment)) + rows
        begin, end = _vines_of(plan, int(filled[min(max(at, 0), len(filled) - 1)]))
        away = np.hypot(*(plan.vines.xy_m[begin:end] - plan.vines.xy_m[v]).T)
        return p, begin + int(np.argmin(away))
    begin, end = _vines_of(plan, segment)
    return p, min(max(v + along, begin), end - 1)


def first_vine(plans: Sequence[RowPlan]) -> Vine | None:
    """The first vine there is."""
    return next(((p, 0) for p, plan in enumerate(plans) if plan.n_vines), None)


def index_of(plans: Sequence[RowPlan], vine: Vine) -> int:
    """A vine's place among those of all plans."""
    return sum(p.n_vines for p in plans[: vine[0]]) + vine[1]


def set_of_vine(answer: WaterAnswer, vine: Vine) -> int | None:
    """Index of the set that waters a vine, None for none."""
    design = answer.design
    lateral = design.lines.vine_lateral[index_of(answer.plans, vine)]
    found = int(design.set_of_lateral[lateral]) if lateral >= 0 else -1
    return found if found >= 0 else None


def rows_of_set(answer: WaterAnswer, index: int) -> list[tuple[int, int]]:
    """Segments that a set waters, told by plan and segment."""
    design = answer.design
    p = design.sets[index].block
    plan = answer.plans[p]
    begin = sum(q.n_vines for q in answer.plans[:p])
    lateral = design.lines.vine_lateral[begin : begin + plan.n_vines]
    mine = (lateral >= 0) & (design.set_of_lateral[lateral] == index)
    return [(p, s) for s in np.unique(plan.vines.segment[mine]).tolist()]


def bounds_of_set(answer: WaterAnswer, index: int) -> tuple[float, float, float, float]:
    """Of a set's rows and its valve: x0, y0, x1, y1. [m]"""
    shapes = [answer.plans[p].shapes[s] for p, s in rows_of_set(answer, index)]
    shapes.append(shapely.Point(answer.design.sets[index].valve_xy_m))
    return tuple(shapely.total_bounds(shapes).tolist())


def outline_of_set(answer: WaterAnswer, index: int) -> tuple[np.ndarray, ...]:
    """Rings round the rows of a set, half a row spacing away from them; (k, 2) each. [m]"""
    rows = [answer.plans[p].shapes[s] for p, s in rows_of_set(answer, index)]
    spacing = answer.plans[answer.design.sets[index].block].rules.row_spacing_m
    # A little more than half: neighbours then join also where they are not quite parallel.
    ground = shapely.union_all(shapely.buffer(rows, 0.51 * spacing, cap_style="square"))
    return tuple(
        shapely.get_coordinates(ring) for ring in shapely.get_rings(shapely.get_parts(ground))
    )


def stretch_ends(plans: Sequence[RowPlan], stretch: Stretch) -> np.ndarray | None:
    """First and last vine of a stretch, (2, 2), None where there is no such row. [m]"""
    for plan in plans:
        if plan.block.name != stretch.block:
            continue
        s = plan.segments
        for segment in np.flatnonzero(s.number == stretch.row).tolist():
            if segment_letter(int(s.letter[segment])) != stretch.letter:
                continue
            begin, end = _vines_of(plan, segment)
            index = plan.vines.index[begin:end]
            low, high = sorted((stretch.from_vine, stretch.to_vine))
            among = begin + np.flatnonzero((index >= low) & (index <= high))
            if len(among):
                return plan.vines.xy_m[among[[0, -1]]]
    return None


def sentence_places(answer: WaterAnswer) -> tuple[tuple[float, float] | None, ...]:
    """Where each sentence of the judgement is about: a stretch, a row or a valve; None for no place."""
    return tuple(_place_of(answer, sentence) for sentence in answer.judgement.sentences)


def _place_of(answer: WaterAnswer, sentence: str) -> tuple[float, float] | None:
    rows = _ROWS.search(sentence)
    if rows:
        low, letter, high = int(rows[1]), rows[2], int(rows[3] or rows[1])
        for stretch in answer.judgement.worst:
            named = len(answer.plans) == 1 or sentence.startswith(f"{stretch.block}, ")
            if named and low <= stretch.row <= high and letter in ("", stretch.letter):
                return stretch.place
    found = _SET.search(sentence)
    if found:
        for one in answer.design.sets:
            if one.number == int(found[1]):
                return one.valve_xy_m
    return None


def blocks_along(project: Project, names: tuple[str, ...], points) -> tuple[str, ...]:
    """Which of the blocks a line of places runs through; the nearest one where it runs through none."""
    blocks = [b for b in project.blocks if b.name in names]
    line = shapely.LineString(points)
    away = shapely.distance([b.outline for b in blocks], line)
    found = tuple(b.name for b, d in zip(blocks, away.tolist(), strict=True) if d == 0)
    return found or (blocks[int(np.argmin(away))].name,)


def rings_of(answer: WaterAnswer) -> tuple[tuple[np.ndarray, str], ...]:
    """The worst stretches, from their first vine to the last, with their share in words."""
    found = ((stretch_ends(answer.plans, s), s) for s in answer.judgement.worst)
    return tuple((ends, f"{s.share_pct:.0f} %") for ends, s in found if ends is not None)


def pipe_words(sizes_mm: Sequence[float], unit: str = "m") -> tuple[str, ...]:
    """Outer diameters of submains as people read them."""
    size = Quantity("pipe", "thickness", decimals=0 if unit == "m" else 2)
    return tuple(shown(size, mm, unit) for mm in sizes_mm)
