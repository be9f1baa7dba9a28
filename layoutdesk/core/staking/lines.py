"""Lines of a plan as they are drawn and handed off: rows, outlines, exclusions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from ..layout.numbering import segment_code, segment_letter
from ..model import Exclusion, RowPlan
from .points import exclusion_names

LINE_KINDS = ("row", "outline", "exclusion")


@dataclass(frozen=True, eq=False)
class PlanLines:
    """Lines one after another.

    Attributes
    ----------
    kind : int8 array, shape (k,)
        Of LINE_KINDS.
    code : tuple of str
        `B1-R012A`, `B1`, the exclusion's name; a ring or part after the first has ` 2`, ` 3`, … behind.
    block : tuple of str
    row : int array, shape (k,); letter : tuple of str
        Of a row; 0 and empty else.
    closed : bool array, shape (k,)
        Rings; their first place is not repeated at the end.
    first : int array, shape (k + 1,)
        Where each begins in `xy_m`.
    xy_m : float array, shape (n, 2)
        Site frame; a straight row has its two ends. [m]
    """

    kind: np.ndarray
    code: tuple[str, ...]
    block: tuple[str, ...]
    row: np.ndarray
    letter: tuple[str, ...]
    closed: np.ndarray
    first: np.ndarray
    xy_m: np.ndarray

    def __len__(self) -> int:
        return len(self.kind)


def plan_lines(
    plans: Sequence[RowPlan],
    exclusions: Sequence[Exclusion] = (),
    segments: np.ndarray | None = None,
) -> PlanLines:
    """Rows, then outlines, then exclusions (a point is a line of one place).

    Parameters
    ----------
    segments : bool array, shape (s,), optional
        Segments over all plans that are wanted; all where it is left out.
    """
    rows = _rows(plans, segments)
    shapes = [(1, plan.block.name, plan.block.name, plan.block.outline) for plan in plans]
    names = exclusion_names(exclusions)
    shapes += [(2, name, "", e.shape) for name, e in zip(names, exclusions, strict=True)]
    kind, code, block, closed, count, places = [], [], [], [], [], []
    for number, name, of_block, shape in shapes:
        for i, (xy, is_ring) in enumerate(_pieces(shape), 1):
            kind.append(number)
            code.append(name if i == 1 else f"{name} {i}")
            block.append(of_block)
            closed.append(is_ring)
            count.append(len(xy))
            places.append(xy)
    n = len(code)
    return PlanLines(
        np.concatenate([rows.kind, np.array(kind, np.int8)]),
        (*rows.code, *code),
        (*rows.block, *block),
        np.concatenate([rows.row, np.zeros(n, np.int64)]),
        (*rows.letter, *("",) * n),
        np.concatenate([rows.closed, np.array(closed, bool)]),
        np.concatenate([rows.first, rows.first[-1] + np.cumsum(np.array(count, np.int64))]),
        np.concatenate([rows.xy_m, *places]),
    )


def _rows(plans: Sequence[RowPlan], segments: np.ndarray | None) -> PlanLines:
    code, block, row, letter, counts, places, offset = [], [], [], [], [], [np.empty((0, 2))], 0
    for plan in plans:
        n, s = plan.n_segments, plan.segments
        xy, count = plan.paths
        wanted = np.ones(n, bool) if segments is None else segments[offset : offset + n]
        offset += n
        places.append(xy[np.repeat(wanted, count)])
        counts.append(count[wanted])
        numbers, letters = s.number[wanted].tolist(), s.letter[wanted].tolist()
        row += numbers
        letter += map(segment_letter, letters)
        name = plan.block.name
        code += [segment_code(name, a, b) for a, b in zip(numbers, letters, strict=True)]
        block += [name] * len(numbers)
    count = np.concatenate([np.empty(0, np.int64), *counts]).astype(np.int64)
    return PlanLines(
        np.zeros(len(code), np.int8),
        tuple(code),
        tuple(block),
        np.array(row, np.int64),
        tuple(letter),
        np.zeros(len(code), bool),
        np.concatenate([[0], np.cumsum(count)]),
        np.concatenate(places),
    )


def _pieces(shape) -> list[tuple[np.ndarray, bool]]:
    """Rings, lines and points of any shape, each with whether it is a ring."""
    found = []
    for part in shapely.get_parts(shape).tolist():
        if part.geom_type == "GeometryCollection" or part.geom_type.startswith("Multi"):
            found += _pieces(part)
        elif part.geom_type == "Polygon":
            rings = shapely.get_rings(part)
            found += [(shapely.get_coordinates(ring)[:-1], True) for ring in rings]
        elif not part.is_empty:
            found.append((shapely.get_coordinates(part), False))
    return found
