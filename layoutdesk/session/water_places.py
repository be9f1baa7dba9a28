"""Where things of a drip system are on the plan: the vine under the hand, sets, worst stretches."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import shapely

from ..core.layout.numbering import segment_letter
from ..core.model import Project, RowPlan
from ..core.water.judgement import Stretch
from .quantities import Quantity, shown
from .vine_places import Vine, index_of, vines_of_segment
from .watering import WaterAnswer

_ROWS = re.compile(r"\b[Rr]ows? (\d+)([A-Z]*)(?: to (\d+))?")
_SET = re.compile(r"\b[Ss]ets? (\d+)")


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
            begin, end = vines_of_segment(plan, segment)
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
