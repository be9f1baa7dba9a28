"""Which plant, and of which lot, is to stand at every vine of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..layout.numbering import segment_letter
from ..model.planting import Part, Plant, Planting
from ..model.rowplan import RowPlan


@dataclass(frozen=True, eq=False)
class Assigned:
    """Every vine of all plans, one plan after another, in the order of `plan.vines`.

    Attributes
    ----------
    plans : tuple of RowPlan
    planting : Planting
    plants : tuple of Plant
        All that are assigned or delivered, in order of first mention.
    segment : int32 array, shape (n,)
        Segment of each vine, counted through all plans.
    index : int32 array, shape (n,)
        Index of each vine in its segment, as its code has it.
    assignment : int16 array, shape (n,)
        Which of `planting.assignments` holds, -1 for none.
    plant : int16 array, shape (n,)
        Of `plants`, -1 where none is assigned.
    lot : int16 array, shape (n,)
        Of `planting.lots`, -1 where none is said.
    unfit : tuple of (int, int)
        Assignments with a part that hits no vine, and which of its parts.
    """

    plans: tuple[RowPlan, ...]
    planting: Planting
    plants: tuple[Plant, ...]
    segment: np.ndarray
    index: np.ndarray
    assignment: np.ndarray
    plant: np.ndarray
    lot: np.ndarray
    unfit: tuple[tuple[int, int], ...] = ()


def assigned(plans: Sequence[RowPlan], planting: Planting) -> Assigned:
    """Resolve all assignments; later ones go before earlier ones.

    Where a lot is said its own plant is what stands there.
    """
    rows = _Rows(plans)
    n = rows.n_vines
    assignment = np.full(n, -1, np.int16)
    unfit = []
    for i, said in enumerate(planting.assignments):
        for k, part in enumerate(said.parts):
            vines = rows.vines_of(part)
            assignment[vines] = i
            if not len(vines):
                unfit.append((i, k))
    numbers: dict[Plant, int] = {}
    lots = {lot.name.casefold(): i for i, lot in enumerate(planting.lots)}
    plant_of, lot_of = [], []
    for said in planting.assignments:
        lot = lots.get(said.lot.strip().casefold(), -1) if said.lot else -1
        plant = planting.lots[lot].plant if lot >= 0 else said.plant
        plant_of.append(numbers.setdefault(plant, len(numbers)))
        lot_of.append(lot)
    for lot in planting.lots:
        numbers.setdefault(lot.plant, len(numbers))
    which = assignment.astype(np.intp)
    return Assigned(
        tuple(plans),
        planting,
        tuple(numbers),
        rows.segment,
        rows.index,
        assignment,
        np.array([*plant_of, -1], np.int16)[which],
        np.array([*lot_of, -1], np.int16)[which],
        tuple(unfit),
    )


class _Rows:
    """Segments and vines of all plans, one plan after another."""

    def __init__(self, plans: Sequence[RowPlan]):
        counts = [plan.vines_of_segment for plan in plans]
        self.count = np.concatenate([np.empty(0, np.intp), *counts]).astype(np.intp)
        self.first = np.cumsum(self.count) - self.count
        self.n_vines = int(self.count.sum())
        self.segment = np.repeat(np.arange(len(self.count), dtype=np.int32), self.count)
        index = [plan.vines.index for plan in plans]
        self.index = np.concatenate([np.empty(0, np.int32), *index]).astype(np.int32)
        self.number = np.concatenate([np.empty(0, np.intp), *(p.segments.number for p in plans)])
        self.letter = np.concatenate([np.empty(0, np.intp), *(p.segments.letter for p in plans)])
        sizes = [plan.n_segments for plan in plans]
        self.plan = np.repeat(np.arange(len(plans)), sizes)
        self.blocks = [plan.block.name for plan in plans]
        self.names = {name: p for p, name in enumerate(self.blocks)}

    def segments_of(self, part: Part) -> np.ndarray:
        """Segments that a part is about, rising; without rows, every nth counts from the lowest number."""
        of_block = self.plan == self.names.get(part.block, -1)
        first = part.first_row
        if first is not None:
            low, high = sorted((first, part.last_row))
            of_block &= (self.number >= low) & (self.number <= high)
        elif of_block.any():
            first = int(self.number[of_block].min())
        if part.every_row > 1 and first is not None:
            of_block &= (self.number - first) % part.every_row == 0
        if part.letter:
            of_block &= self.letter == letter_number(part.letter)
        return np.flatnonzero(of_block)

    def vines_of(self, part: Part) -> np.ndarray:
        """Vines of a part, rising."""
        segments = self.segments_of(part)
        counts = self.count[segments]
        before = np.cumsum(counts) - counts
        vines = np.repeat(self.first[segments] - before, counts) + np.arange(int(counts.sum()))
        if part.first_vine == 1 and part.last_vine is None and part.every_vine == 1:
            return vines
        index = self.index[vines]
        mine = (index >= part.first_vine) & ((index - part.first_vine) % part.every_vine == 0)
        if part.last_vine is not None:
            mine &= index <= part.last_vine
        return vines[mine]


def letter_number(text: str) -> int:
    """0 for A, 1 for B, … 26 for AA.

    Examples
    --------
    >>> letter_number("A"), letter_number("aa")
    (0, 26)
    """
    number = 0
    for c in text.strip().upper():
        number = number * 26 + ord(c) - 64
    return number - 1


def vines_of_parts(plans: Sequence[RowPlan], parts: Sequence[Part]) -> np.ndarray:
    """Vines of parts, counted as in `Assigned`; rising, each once."""
    rows = _Rows(plans)
    chosen = np.zeros(rows.n_vines, bool)
    for part in parts:
        chosen[rows.vines_of(part)] = True
    return np.flatnonzero(chosen)


def segments_of_parts(plans: Sequence[RowPlan], parts: Sequence[Part]) -> np.ndarray:
    """Segments that parts are about, counted through all plans, with or without vines; rising, each once."""
    rows = _Rows(plans)
    chosen = np.zeros(len(rows.count), bool)
    for part in parts:
        chosen[rows.segments_of(part)] = True
    return np.flatnonzero(chosen)


def filled(
    found: Assigned, lot: str, start: int, most: int, *, order: str = "rows"
) -> tuple[Part, ...]:
    """Parts that a lot fills from a vine on, row after row, until `most` vines are reached.

    `start` counts vines as in `Assigned`. Vines that hold another lot, and vines of another plant, are passed
    over; those that hold this lot already are filled anew. "rows" goes through every row in its own
    direction; "back and forth" turns at row ends: the row of the first vine is gone along, the next one back.
    """
    rows = _Rows(found.plans)
    name = lot.strip().casefold()
    mine = [i for i, known in enumerate(found.planting.lots) if known.name.casefold() == name]
    free = (found.lot < 0) | np.isin(found.lot, mine)
    if mine:
        plant = found.plants.index(found.planting.lots[mine[0]].plant)
        free &= (found.plant < 0) | (found.plant == plant)
    vines = np.arange(start, rows.n_vines)
    if order == "back and forth":
        vines = _back_and_forth(rows, start)
    vines = vines[free[vines]][: max(most, 0)]
    return _parts_of(rows, np.sort(vines))


def _back_and_forth(rows: _Rows, start: int) -> np.ndarray:
    """Vines from one on, every other row line backwards; segments of one row belong together."""
    first = int(rows.segment[start])
    segments = np.arange(first, len(rows.count))
    turns = (np.diff(rows.plan[segments]) != 0) | (np.diff(rows.number[segments]) != 0)
    row = np.concatenate([[0], np.cumsum(turns)])
    vines = np.arange(start, rows.n_vines)
    row_of = row[rows.segment[vines] - first]
    return vines[np.lexsort((np.where(row_of % 2, -vines, vines), row_of))]


def parts_of_vines(plans: Sequence[RowPlan], vines: np.ndarray) -> tuple[Part, ...]:
    """Parts that are exactly these vines; whole rows, runs of neighbours and every nth vine are one each."""
    return _parts_of(_Rows(plans), np.unique(vines))


def _parts_of(rows: _Rows, vines: np.ndarray) -> tuple[Part, ...]:
    """Parts of vines, rising, in the order of blocks and rows."""
    segment = rows.segment[vines]
    chosen = np.bincount(segment, minlength=len(rows.count))
    stops = np.cumsum(chosen)
    whole = _whole_rows(rows, chosen)
    alike: dict[tuple, list[int]] = {}
    for s in np.flatnonzero(chosen).tolist():
        plan, letter = int(rows.plan[s]), segment_letter(int(rows.letter[s]))
        if whole[s]:
            pieces = [("", 1, None, 1)]
        elif chosen[s] == rows.count[s]:
            pieces = [(letter, 1, None, 1)]
        else:
            own = rows.index[rows.first[s] : rows.first[s] + rows.count[s]]
            mine = rows.index[vines[stops[s] - chosen[s] : stops[s]]]
            pieces = [(letter, *run) for run in _runs(np.sort(own), np.sort(mine))]
        for piece in pieces:
            alike.setdefault((plan, *piece), []).append(int(rows.number[s]))
    parts = []
    for (plan, letter, begins, ends, step), numbers in alike.items():
        block = rows.blocks[plan]
        for first, last in _row_ranges(rows, plan, letter, numbers):
            part = Part(block, first, last, letter, begins, ends, every_vine=step)
            parts.append((plan, first, letter, part))
    parts.sort(key=lambda told: (*told[:3], told[3].first_vine))
    return tuple(part for *_, part in parts)


def _runs(own: np.ndarray, mine: np.ndarray) -> list[tuple[int, int | None, int]]:
    """First, last and every nth of some of a segment's indices, both rising; no last at the row's end."""
    step = int(np.diff(mine).min()) if len(mine) > 2 else 1
    between = own[(own >= mine[0]) & (own <= mine[-1])]
    if np.array_equal(between[(between - mine[0]) % step == 0], mine):
        cuts = [mine]
    else:
        step, rank = 1, np.searchsorted(own, mine)
        cuts = np.split(mine, np.flatnonzero(np.diff(rank) > 1) + 1)
    runs = []
    for run in cuts:
        first, last = int(run[0]), int(run[-1])
        further = own[own > last]
        at_end = not ((further - first) % step == 0).any()
        begins = 1 if step == 1 and first == own[0] else first
        runs.append((begins, None if at_end else last, step))
    return runs


def _row_ranges(rows: _Rows, plan: int, letter: str, numbers: list[int]):
    """First and last of rows that follow one another, among those of a block that have such vines."""
    there = (rows.plan == plan) & (rows.count > 0)
    if letter:
        there &= rows.letter == letter_number(letter)
    mine = np.unique(numbers)
    rank = np.searchsorted(np.unique(rows.number[there]), mine)
    for run in np.split(mine, np.flatnonzero(np.diff(rank) > 1) + 1):
        yield int(run[0]), int(run[-1])


def _whole_rows(rows: _Rows, chosen: np.ndarray) -> np.ndarray:
    """Segments of rows of which every vine is chosen, a mask."""
    key = rows.plan.astype(np.int64) << 32 | rows.number
    _, row = np.unique(key, return_inverse=True)
    return (np.bincount(row, weights=rows.count - chosen) == 0)[row]
