"""Which position of the register each vine of the plans is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model.register import NO_PLACE, Register
from ..model.rowplan import RowPlan
from .on_record import pieces_of

LEAST_REACH_M = 0.1
"""Vines are looked for a quarter of their spacing around, but so far at least. [m]"""


@dataclass(frozen=True, eq=False)
class Matching:
    """Which position of the register each vine of all plans is.

    Attributes
    ----------
    place : int32 array, shape (n,)
        Position by vine, as vines are counted in `Assigned`; -1 where nothing is on record.
    lost : int32 array
        Positions with a record that no vine of the plans stands at.
    moved : int32 array
        Vines that stand where nothing is on record, while their code is on record for another place:
        nothing may be recorded under it.
    renamed : int32 array
        Vines that stand at a position on record, which has another row number, letter or index there.
    """

    place: np.ndarray
    lost: np.ndarray
    moved: np.ndarray
    renamed: np.ndarray


@dataclass(frozen=True, eq=False)
class Vines:
    """All vines of the plans, plan after plan: segment through all plans, index, place and reach. [m]"""

    segment: np.ndarray
    index: np.ndarray
    xy_m: np.ndarray
    reach_m: np.ndarray

    @classmethod
    def of(cls, plans: Sequence[RowPlan]) -> Vines:
        if not plans:
            return cls(np.empty(0, np.int64), np.empty(0, np.int64), np.empty((0, 2)), np.empty(0))
        counts = np.concatenate([plan.vines_of_segment for plan in plans])
        reach = np.concatenate([plan.segments.vine_step_m for plan in plans]) / 4
        return cls(
            np.repeat(np.arange(len(counts)), counts),
            np.concatenate([plan.vines.index for plan in plans]),
            np.concatenate([plan.vines.xy_m for plan in plans]),
            np.fmax(reach, LEAST_REACH_M),
        )


def segment_keys(plans: Sequence[RowPlan]) -> list[tuple[str, int, int]]:
    """Block in upper case, row number and letter of every segment of all plans."""
    return [
        (plan.block.name.upper(), number, letter)
        for plan in plans
        for number, letter in zip(
            plan.segments.number.tolist(), plan.segments.letter.tolist(), strict=True
        )
    ]


def matching(register: Register, plans: Sequence[RowPlan]) -> Matching:
    """Match vines to positions by code where place and code agree, else by place.

    A vine stands at a position where it is within a quarter of its spacing of it, 0.1 m at least. One vine
    is matched to a position at most, the nearest; so blocks may be renamed, split, joined or numbered
    another way.
    """
    return matched(register, plans, Vines.of(plans))[0]


def matched(
    register: Register, plans: Sequence[RowPlan], vines: Vines
) -> tuple[Matching, np.ndarray]:
    """The match, and how far each vine is from the place that its code is on record for. [m]

    Infinite where its code is not on record, or for a place that the layout left empty.
    """
    stand = register.stand
    n = len(vines.index)
    place = np.full(n, -1, np.int64)
    away = np.full(n, np.inf)
    for pieces, meant in _layers(register, plans):
        piece = pieces[vines.segment]
        step = vines.index - stand.first[piece]
        there = np.flatnonzero(
            (piece >= 0) & (place < 0) & (step >= 0) & (step < stand.count[piece])
        )
        at = stand.offsets[piece[there]] + step[there]
        there, at = _standing_ones(stand, there, at)
        gap = np.hypot(*(vines.xy_m[there] - stand.xy_mm[at] / 1000).T)
        away[there] = np.where(
            meant[vines.segment[there]], np.minimum(away[there], gap), away[there]
        )
        near = gap <= vines.reach_m[vines.segment[there]]
        place[there[near]] = at[near]
    place = _nearest_alone(stand, vines, place)
    by_place = _match_by_place(stand, vines, place)
    moved = np.flatnonzero((place < 0) & np.isfinite(away))
    lost = np.ones(len(stand), bool)
    lost[place[place >= 0]] = False
    told = np.zeros(len(stand), bool)
    told[register.events.place] = True
    found = Matching(
        place.astype(np.int32),
        np.flatnonzero(lost & told).astype(np.int32),
        moved.astype(np.int32),
        by_place.astype(np.int32),
    )
    return found, away


def _layers(register: Register, plans: Sequence[RowPlan]) -> list[tuple[np.ndarray, np.ndarray]]:
    """First, second … piece on record under the code of each segment, -1 for none; and whether the code
    means it: a block that has the old name of another block of the plans does not.
    """
    known, names = pieces_of(register), register.block_names
    keys = segment_keys(plans)
    blocks = {block for block, _, _ in keys}
    found = [known.get(key, ()) for key in keys]
    layers = []
    for deep in range(max(map(len, found), default=0)):
        pieces = np.full(len(keys), -1)
        meant = np.zeros(len(keys), bool)
        for i, (key, mine) in enumerate(zip(keys, found, strict=True)):
            if deep < len(mine):
                today = names[mine[deep]][0].upper()
                pieces[i], meant[i] = mine[deep], today == key[0] or today not in blocks
        layers.append((pieces, meant))
    return layers


def _standing_ones(stand, vines: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    kept = stand.xy_mm[at, 0] != NO_PLACE
    return vines[kept], at[kept]


def _nearest_alone(stand, vines: Vines, place: np.ndarray) -> np.ndarray:
    """With one vine a position: blocks that had one name may claim a position twice."""
    claimed = np.flatnonzero(place >= 0)
    taken = np.zeros(len(stand), bool)
    taken[place[claimed]] = True
    if taken.sum() == len(claimed):
        return place
    gap = np.hypot(*(vines.xy_m[claimed] - stand.xy_mm[place[claimed]] / 1000).T)
    order = claimed[np.lexsort((gap, place[claimed]))]
    place = place.copy()
    place[order[1:][np.diff(place[order]) == 0]] = -1
    return place


def _match_by_place(stand, vines: Vines, place: np.ndarray) -> np.ndarray:
    """Match vines that have no position yet to positions that have no vine; which were matched."""
    free = stand.xy_mm[:, 0] != NO_PLACE
    free[place[place >= 0]] = False
    free, open_ones = np.flatnonzero(free), np.flatnonzero(place < 0)
    none = np.empty(0, np.int64)
    if not len(free) or not len(open_ones):
        return none
    from scipy.spatial import cKDTree

    spots = stand.xy_mm[free] / 1000
    reach = vines.reach_m[vines.segment[open_ones]]
    low, high = spots.min(axis=0) - reach.max(), spots.max(axis=0) + reach.max()
    xy = vines.xy_m[open_ones]
    around = ((xy >= low) & (xy <= high)).all(axis=1)
    open_ones, reach, xy = open_ones[around], reach[around], xy[around]
    if not len(open_ones):
        return none
    tree = cKDTree(spots, balanced_tree=False, compact_nodes=False)
    gap, which = tree.query(xy, distance_upper_bound=float(reach.max()) * (1 + 1e-12))
    near = np.flatnonzero(gap <= reach)
    near = near[np.lexsort((gap[near], which[near]))]
    near = near[np.diff(which[near], prepend=-1) != 0]
    place[open_ones[near]] = free[which[near]]
    return np.sort(open_ones[near])
