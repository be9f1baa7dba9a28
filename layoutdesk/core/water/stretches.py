"""Vines next to each other that get markedly less, or more, than the average of their block."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..layout.numbering import segment_letter
from ..model import RowPlan
from .design import WaterDesign

LESS, MORE = 0.90, 1.10
"""Shares of a block's mean flow beyond which a vine is told of. Common practice."""


@dataclass(frozen=True)
class Stretch:
    """Vines next to each other in one lateral that get markedly less (or more) than the average.

    `share_pct` is their mean flow, of the block's; `from_vine` to `to_vine` are their numbers in the
    segment, `n_vines` how many they are; `segment_vines` how many that has. `at_tail` says that the last
    vine before the tube's end is among them; `lateral` is an index into the design's.
    """

    block: str
    row: int
    letter: str
    from_vine: int
    to_vine: int
    n_vines: int
    at_tail: bool
    share_pct: float
    place: tuple[float, float]
    lateral: int = -1
    at_start: bool = False
    at_far: bool = False

    @property
    def is_short(self) -> bool:
        """Whether these vines get too little, not too much."""
        return self.share_pct < 100


@dataclass(frozen=True, eq=False)
class Stretches:
    """All stretches of a design, k of them, in the order of vines.

    Attributes
    ----------
    first, last : int array, shape (k,)
        First and last vine, in the design's order.
    share : float array, shape (k,)
        Mean flow of the vines, of their block's mean.
    lateral : int array, shape (k,)
    at_tail : bool array, shape (k,)
    weight : float array, shape (k,)
        What is missing (or too much), in vines' worth of water.
    """

    first: np.ndarray
    last: np.ndarray
    share: np.ndarray
    lateral: np.ndarray
    at_tail: np.ndarray
    weight: np.ndarray

    def __len__(self) -> int:
        return len(self.first)


def found_stretches(design: WaterDesign, plans: Sequence[RowPlan]) -> Stretches:
    """Runs of neighbours in one lateral and segment that all get less, or all more, than is alike."""
    lines, share = design.lines, design.vine_share
    v = len(share)
    if not v:
        none = np.zeros(0, dtype=np.intp)
        return Stretches(none, none, np.zeros(0), none, np.zeros(0, dtype=bool), np.zeros(0))
    kind = np.where(share < LESS, -1, np.where(share > MORE, 1, 0))
    begins = np.ones(v, dtype=bool)
    segment = segments_of_vines(plans)
    begins[1:] = (kind[1:] != kind[:-1]) | (segment[1:] != segment[:-1])
    begins[1:] |= lines.vine_lateral[1:] != lines.vine_lateral[:-1]
    first = np.flatnonzero(begins)
    last = np.append(first[1:], v) - 1
    total = np.add.reduceat(share, first)
    odd = kind[first] != 0
    first, last, total = first[odd], last[odd], total[odd]
    count = last - first + 1
    lateral = lines.vine_lateral[first]
    return Stretches(
        first,
        last,
        total / count,
        lateral,
        _at_tail(design, first, last),
        np.abs(total - count),
    )


def _at_tail(design: WaterDesign, first: np.ndarray, last: np.ndarray) -> np.ndarray:
    """Whether a run of vines reaches the end of a branch of its lateral."""
    lines = design.lines
    lateral, place = lines.vine_lateral, lines.vine_outlet_m
    v = len(lateral)
    before = np.maximum(first - 1, 0)
    behind = np.minimum(last + 1, v - 1)
    opens = (first == 0) | (lateral[before] != lateral[first])
    closes = (last == v - 1) | (lateral[behind] != lateral[last])
    inlet = lines.laterals.inlet_m[lateral[first]]
    return (opens & (place[first] < inlet)) | (closes & (place[last] > inlet))


def segments_of_vines(plans: Sequence[RowPlan]) -> np.ndarray:
    """Segment of every vine, counted through all plans, (v,)."""
    parts, before = [np.zeros(0, dtype=np.intp)], 0
    for plan in plans:
        parts.append(plan.vines.segment + before)
        before += plan.n_segments
    return np.concatenate(parts)


def told_stretch(
    design: WaterDesign, plans: Sequence[RowPlan], found: Stretches, which: int
) -> Stretch:
    """One of the stretches, with names and numbers."""
    lines = design.lines
    first, last = int(found.first[which]), int(found.last[which])
    b = int(lines.block[found.lateral[which]])
    plan = plans[b]
    before = sum(p.n_vines for p in plans[:b])
    bounds = np.concatenate([[0], np.cumsum(plan.vines_of_segment)])
    segment = int(np.searchsorted(bounds, first - before, side="right")) - 1
    low, high = int(bounds[segment]), int(bounds[segment + 1])
    index = np.array([first, last]) - before - low + 1
    if len(plan.special.gap_index) or len(plan.special.added_segment):
        index = plan.vines.index[[first - before, last - before]]
    middle = plan.vines.xy_m[(first + last) // 2 - before]
    return Stretch(
        block=plan.block.name,
        row=int(plan.segments.number[segment]),
        letter=segment_letter(int(plan.segments.letter[segment])),
        from_vine=int(index[0]),
        to_vine=int(index[1]),
        n_vines=last - first + 1,
        at_tail=bool(found.at_tail[which]),
        share_pct=100 * float(found.share[which]),
        place=(float(middle[0]), float(middle[1])),
        lateral=int(found.lateral[which]),
        at_start=first - before == low,
        at_far=last - before == high - 1,
    )
