"""Straight row lines at one bearing or at many, and what of them is plantable."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..geometry.alignments import settled_pieces
from ..geometry.axes import sine_cosine
from ..geometry.extents import extents_across, flat_rims
from ..geometry.scanline import RIM_M, Pieces, Region
from ..geometry.stacks import Stack
from ..geometry.stationing import ALIGN_M
from ..model import RowRules
from .clearances import Ground, row_regions
from .vines import vines_along

_TRACE_M = 1e-3
"""Shorter pieces are no pieces: they are neither kept nor reported. [m]"""

BEST_STEP_M = 0.01
"""Row 1 is placed to the centimetre when the best place is looked for. [m]"""


@dataclass(frozen=True, eq=False)
class RowLines:
    """Row lines of a block at several bearings.

    Attributes
    ----------
    extent_m : float array, shape (k, 2)
        Left and right extreme of the plantable area across the rows; zeros where there is none. [m]
    first_row_m : float array, shape (k,)
        Offset of row 1's line from the left extreme, "best" resolved. [m]
    n_lines : int array, shape (k,)
    lattice_m : float array, shape (k,)
        Where the lattice of "across" begins, along the rows. [m]
    pieces : Pieces
        In order of bearing, line and place; `line` counts from 0 at each bearing.
    bearing : int array, shape (s,)
        Which bearing each piece is at.
    """

    extent_m: np.ndarray
    first_row_m: np.ndarray
    n_lines: np.ndarray
    lattice_m: np.ndarray
    pieces: Pieces
    bearing: np.ndarray


def straight_lines(
    ground: Ground, rules: RowRules, bearings_deg, best_step_m: float = BEST_STEP_M
) -> RowLines:
    """Row lines at each of `bearings_deg`; the bearing of the rules is not asked."""
    bearings = [float(b) % 360.0 for b in bearings_deg]
    stack = row_regions(ground, rules, bearings)
    # Of the plantable area, alleys aside: they cut rows, they move none.
    extent = extents_across(stack.without_strips())
    thin = np.isnan(extent[:, 0])
    if thin.any():
        # An area that is one line has no inside: all is kept clear by a hair less there.
        narrower = np.where(thin, ALIGN_M, 0.0)[:, None]
        stack = row_regions(ground, rules, bearings, narrower)
        extent[thin] = extents_across(stack.without_strips())[thin]
    some = ~np.isnan(extent[:, 0])
    extent = np.where(some[:, None], extent, 0.0)
    lattice = _lattices_from(ground, rules, bearings)
    first = np.zeros(len(bearings))
    if rules.first_row_m == "best":
        for k in np.flatnonzero(some):
            region = row_regions(ground, rules, bearings[k : k + 1]).region
            span = tuple(extent[k].tolist())
            first[k] = best_first_row_m(region, span, rules, float(lattice[k]), best_step_m)
    else:
        first[some] = float(rules.first_row_m)
    spacing = rules.row_spacing_m
    n_lines = np.floor((extent[:, 1] - extent[:, 0] - first + RIM_M) / spacing).astype(np.intp) + 1
    n_lines = np.where(some, np.maximum(n_lines, 0), 0)
    owner = np.repeat(np.arange(len(bearings)), n_lines)
    begin = np.cumsum(n_lines) - n_lines
    number = np.arange(len(owner)) - begin[owner]
    across = (extent[:, 0] + first)[owner] + spacing * number + stack.offset_m[owner]
    found = _settled(stack, across, begin)
    pieces = Pieces(number[found.line], found.start_m, found.end_m)
    return RowLines(extent, first, n_lines, lattice, pieces, owner[found.line])


_EDGES_AT_ONCE = 15_000
"""Edges of several bearings that are clipped together: few calls, and arrays that fit the cache."""


def _settled(stack: Stack, across_m: np.ndarray, begin: np.ndarray) -> Pieces:
    """Pieces of all lines, some members at a time; `begin` is the first line of each member."""
    n = len(stack)
    group = max(_EDGES_AT_ONCE * n // max(len(stack.region.inside), 1), 1)
    if group >= n:
        return settled_pieces(across_m, stack.region)
    stops = np.append(begin, len(across_m))
    parts = []
    for a in range(0, n, group):
        b = min(a + group, n)
        found = settled_pieces(across_m[stops[a] : stops[b]], stack.part(a, b))
        parts.append(Pieces(found.line + stops[a], found.start_m, found.end_m))
    fields = ("line", "start_m", "end_m")
    return Pieces(*(np.concatenate([getattr(p, f) for p in parts]) for f in fields))


def row_lines(extent_m: tuple[float, float], first_row_m: float, spacing_m: float) -> np.ndarray:
    """Across coordinates of the row lines, left to right, none more than RIM_M beyond the right. [m]

    Examples
    --------
    >>> row_lines((0.0, 4.8), 0.0, 2.4).tolist()
    [0.0, 2.4, 4.8]
    """
    left, right = extent_m
    count = int(np.floor((right - left - first_row_m + RIM_M) / spacing_m)) + 1
    return left + first_row_m + spacing_m * np.arange(max(count, 0))


def _lattices_from(ground: Ground, rules: RowRules, bearings) -> np.ndarray:
    """Along coordinate where the lattice of "across" begins: the first vine past the outline's start."""
    if rules.leftover != "across":
        return np.zeros(len(bearings))
    turn = np.array([sine_cosine(b) for b in bearings])
    x, y = ground.outline.start_m.T
    along = turn[:, :1] * x + turn[:, 1:] * y
    return along.min(axis=1) + rules.first_vine_m


def long_enough(pieces: Pieces, least_m: float) -> tuple[np.ndarray, np.ndarray]:
    """Which pieces are rows, and which are dropped as too short; traces are neither."""
    length = pieces.length_m
    long = length >= least_m - ALIGN_M
    real = length > _TRACE_M
    return long & real, ~long & real


def best_first_row_m(
    region: Region,
    extent_m: tuple[float, float],
    rules: RowRules,
    lattice_m: float,
    step_m: float = BEST_STEP_M,
) -> float:
    """Offset of row 1 in [0, row spacing) that gives the most vines; ties go to longer rows. [m]

    Looked for at every `step_m` and at every offset that puts a row along a rim parallel to it.
    """
    spacing = rules.row_spacing_m
    grid = np.arange(0.0, spacing - 1e-9, step_m)
    flush = (flat_rims(region, RIM_M) - extent_m[0]) % spacing
    offsets = np.unique(np.r_[grid, flush[flush < spacing - 1e-9]])
    most_lines = int((extent_m[1] - extent_m[0]) // spacing) + 2
    across = extent_m[0] + offsets[:, None] + spacing * np.arange(most_lines)
    inside = across <= extent_m[1] + RIM_M
    owner = np.repeat(np.arange(len(offsets)), inside.sum(axis=1))
    number = np.broadcast_to(np.arange(most_lines), across.shape)[inside]
    across = across[inside]
    order = np.argsort(across, kind="stable")
    pieces = settled_pieces(across[order], region)
    pieces = pieces.taken(long_enough(pieces, rules.min_row_m)[0])
    of = owner[order][pieces.line]
    line = number[order][pieces.line]
    _, _, count = vines_along(pieces.start_m, pieces.end_m, line, rules, lattice_m)
    n = len(offsets)
    vines = np.bincount(of, count, minlength=n)
    length = np.bincount(of, pieces.length_m, minlength=n)
    rows = np.bincount(np.unique(of * most_lines + line) // most_lines, minlength=n)
    mean = length / np.maximum(rows, 1)
    return float(offsets[np.lexsort((offsets, -np.round(mean, 6), -vines))[0]])
