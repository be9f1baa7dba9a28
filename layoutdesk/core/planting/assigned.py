"""Which plant, and of which lot, is to stand at every vine of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

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
    """

    plans: tuple[RowPlan, ...]
    planting: Planting
    plants: tuple[Plant, ...]
    segment: np.ndarray
    index: np.ndarray
    assignment: np.ndarray
    plant: np.ndarray
    lot: np.ndarray


def assigned(plans: Sequence[RowPlan], planting: Planting) -> Assigned:
    """Resolve all assignments; later ones go before earlier ones."""
    rows = _Rows(plans)
    n = rows.n_vines
    assignment = np.full(n, -1, np.int16)
    for i, said in enumerate(planting.assignments):
        for part in said.parts:
            assignment[rows.vines_of(part)] = i
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
        self.names = {plan.block.name: p for p, plan in enumerate(plans)}

    def segments_of(self, part: Part) -> np.ndarray:
        """Segments that a part is about, rising."""
        of_block = self.plan == self.names.get(part.block, -1)
        if part.first_row is not None:
            low, high = sorted((part.first_row, part.last_row))
            of_block &= (self.number >= low) & (self.number <= high)
            of_block &= (self.number - part.first_row) % part.every_row == 0
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


def filled(
    found: Assigned, lot: str, start: int, most: int, *, order: str = "rows"
) -> tuple[Part, ...]:
    """Parts that a lot fills from a vine on, row after row, until `most` vines are reached.

    `start` counts vines as in `Assigned`. Vines that another assignment *with a lot* already holds are
    passed over. "rows" goes through every row in its own direction; "back and forth" turns at row ends:
    the row of the first vine is gone along, the next one back.
    """
    rows = _Rows(found.plans)
    name = lot.strip().casefold()
    mine = [i for i, known in enumerate(found.planting.lots) if known.name.casefold() == name]
    free = (found.lot < 0) | np.isin(found.lot, mine)
    vines = np.arange(start, rows.n_vines)
    if order == "back and forth":
        vines = _back_and_forth(rows, start)
    vines = vines[free[vines]][: max(most, 0)]
    return _parts_of(found, rows, np.sort(vines))


def _back_and_forth(rows: _Rows, start: int) -> np.ndarray:
    """Vines from one on, every other row line backwards; segments of one row belong together."""
    first = int(rows.segment[start])
    segments = np.arange(first, len(rows.count))
    turns = (np.diff(rows.plan[segments]) != 0) | (np.diff(rows.number[segments]) != 0)
    row = np.concatenate([[0], np.cumsum(turns)])
    vines = np.arange(start, rows.n_vines)
    row_of = row[rows.segment[vines] - first]
    return vines[np.lexsort((np.where(row_of % 2, -vines, vines), row_of))]


def parts_of_vines(found: Assigned, vines: np.ndarray) -> tuple[Part, ...]:
    """Parts that are exactly these vines, as few as runs of whole rows and of neighbours allow."""
    return _parts_of(found, _Rows(found.plans), np.unique(vines))


def _parts_of(found: Assigned, rows: _Rows, vines: np.ndarray) -> tuple[Part, ...]:
    if not len(vines):
        return ()
    segment = rows.segment[vines]
    begins = np.flatnonzero((np.diff(vines, prepend=-2) != 1) | (np.diff(segment, prepend=-1) != 0))
    ends = np.append(begins[1:], len(vines)) - 1
    parts: list[Part] = []
    names = [plan.block.name for plan in found.plans]
    whole = _whole_rows(rows, vines)
    for a, b in zip(begins.tolist(), ends.tolist(), strict=True):
        s = int(segment[a])
        block, number = names[rows.plan[s]], int(rows.number[s])
        if whole[s]:
            last = parts[-1] if parts else None
            if last is not None and _is_rows(last, block) and number - last.last_row in (0, 1):
                parts[-1] = replace(last, last_row=number)
            else:
                parts.append(Part(block, number, number))
            continue
        letter = segment_letter(int(rows.letter[s]))
        indices = rows.index[vines[[a, b]]].tolist()
        parts.append(Part(block, number, number, letter, *indices))
    return tuple(parts)


def _is_rows(part: Part, block: str) -> bool:
    return part.block == block and not part.letter


def _whole_rows(rows: _Rows, vines: np.ndarray) -> np.ndarray:
    """Segments of rows of which every vine is chosen, a mask."""
    chosen = np.bincount(rows.segment[vines], minlength=len(rows.count))
    missing = rows.count - chosen
    key = rows.plan.astype(np.int64) << 32 | rows.number
    _, row = np.unique(key, return_inverse=True)
    return (np.bincount(row, weights=missing) == 0)[row]
