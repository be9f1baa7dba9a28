"""Counts and lengths of rows over many bearings, without laying one vine."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ..layout.clearances import Ground, alley_along, ground_of
from ..layout.rows import lay_rows
from ..layout.straight import BEST_STEP_M, long_enough, straight_lines
from ..layout.vines import vines_along
from ..model import Block, Candidate, RowPlan, RowRules

SWEPT = (
    "vines",
    "rows",
    "segments",
    "row_length_m",
    "mean_row_m",
    "shortest_row_m",
    "longest_row_m",
    "short_rows",
    "end_posts",
    "line_posts",
    "planted_share_pct",
)
"""The measures a sweep knows; the rest need plans."""

_EDGES_AT_ONCE = 30_000
"""Edges of all bearings that are looked at together."""


@dataclass(frozen=True, eq=False)
class Sweep:
    """Measures over bearings.

    Attributes
    ----------
    bearings_deg : float array, shape (b,)
    values : dict of float array, shape (b,)
        By the names of SWEPT; NaN at bearings along which an alley of a block runs, where no
        layout is to be had.
    first_row_m : float array, shape (b,)
        Of the first block, "best" resolved. [m]
    """

    bearings_deg: np.ndarray
    values: dict[str, np.ndarray]
    first_row_m: np.ndarray

    def __len__(self) -> int:
        return len(self.bearings_deg)


def sweep_bearings(step_deg: float = 1.0) -> np.ndarray:
    """Bearings from 0 up to 180, a step apart: rows run both ways. [deg]

    Examples
    --------
    >>> sweep_bearings(45.0).tolist()
    [0.0, 45.0, 90.0, 135.0]
    """
    if not 0 < step_deg <= 90:
        raise ValueError(f"step_deg: {step_deg!r} is outside 0 to 90")
    count = int(np.ceil(180.0 / step_deg - 1e-9))
    return step_deg * np.arange(count)


def sweep(
    blocks: Iterable[Block],
    exclusions=(),
    candidate: Candidate | None = None,
    bearings_deg: Sequence[float] | None = None,
    short_row_m: float = 45.0,
    *,
    best_step_m: float = BEST_STEP_M,
    progress: Callable[[float], None] | None = None,
) -> Sweep:
    """Counts and lengths of some blocks together, at each bearing, as `lay_rows` would lay them.

    Parameters
    ----------
    blocks : iterable of Block
        Rows are straight; guide lines and single exceptions are not asked.
    candidate : Candidate, optional
        Spacings, clear widths and first row other than the blocks' own; its bearing is not asked.
    bearings_deg : sequence of b floats, optional
        Every degree from 0 to 179 where none are given. [deg]
    short_row_m : float
        Shorter segments count as short rows. [m]
    progress : function of the share done, optional
        May raise to stop.
    """
    blocks = tuple(blocks)
    candidate = candidate or Candidate()
    at = sweep_bearings() if bearings_deg is None else np.asarray(bearings_deg, dtype=float)
    totals = np.zeros((len(_SUMS), len(at)))
    longest, shortest = np.zeros(len(at)), np.full(len(at), np.inf)
    first = np.zeros(len(at))
    refused = np.zeros(len(at), dtype=bool)
    for b, block in enumerate(blocks):
        rules = candidate.rules_of(block.rules)
        ground = ground_of(block, exclusions)
        edges = len(ground.outline) + len(ground.areas) + len(ground.lines)
        group = int(np.clip(_EDGES_AT_ONCE // max(edges, 1), 1, 180))
        for begin in range(0, len(at), group):
            here = slice(begin, begin + group)
            along = np.array([alley_along(rules, bearing) for bearing in at[here].tolist()])
            refused[here] |= along
            here = np.arange(len(at))[here][~along]
            if not len(here):
                continue
            some = _swept(ground, rules, at[here], short_row_m, best_step_m)
            totals[:, here] += some.sums
            longest[here] = np.maximum(longest[here], some.longest_m)
            shortest[here] = np.minimum(shortest[here], some.shortest_m)
            if b == 0:
                first[here] = some.first_row_m
            if progress is not None:
                progress((b + min(begin + group, len(at)) / len(at)) / len(blocks))
    sums = dict(zip(_SUMS, totals, strict=True))
    area = sum(b.outline.area for b in blocks)
    values = {
        **sums,
        "mean_row_m": sums["row_length_m"] / np.maximum(sums["segments"], 1),
        "shortest_row_m": np.where(np.isfinite(shortest), shortest, 0.0),
        "longest_row_m": longest,
        "end_posts": 2 * sums["segments"],
        "planted_share_pct": 100 * sums["planted_m2"] / area if area else np.zeros(len(at)),
    }
    known = {name: np.where(refused, np.nan, values[name]) for name in SWEPT}
    return Sweep(at, known, first)


_SUMS = ("vines", "rows", "segments", "row_length_m", "short_rows", "line_posts", "planted_m2")


@dataclass(frozen=True, eq=False)
class _Swept:
    """Of one block at some bearings: sums in the order of _SUMS, (7, k), and what does not add up."""

    sums: np.ndarray
    longest_m: np.ndarray
    shortest_m: np.ndarray
    first_row_m: np.ndarray


def _swept(
    ground: Ground, rules: RowRules, bearings_deg, short_row_m: float, best_step_m: float
) -> _Swept:
    lines = straight_lines(ground, rules, bearings_deg, best_step_m)
    kept = long_enough(lines.pieces, rules.min_row_m)[0]
    pieces, at = lines.pieces.taken(kept), lines.bearing[kept]
    n = len(lines.n_lines)
    _, _, vines = vines_along(pieces.start_m, pieces.end_m, pieces.line, rules, lines.lattice_m[at])
    length = pieces.length_m
    fresh = np.ones(len(at), dtype=bool)
    fresh[1:] = (at[1:] != at[:-1]) | (pieces.line[1:] != pieces.line[:-1])
    every = rules.line_post_every
    posts = np.maximum(vines - 1, 0) // every if every else np.zeros(len(at))

    def added(what=None) -> np.ndarray:
        return np.bincount(at, what, minlength=n)

    total_m = added(length)
    segments = added()
    sums = [
        added(vines),
        added(fresh),
        segments,
        total_m,
        added(length < short_row_m),
        added(posts),
        total_m * rules.row_spacing_m,
    ]
    longest, shortest = np.zeros(n), np.full(n, np.inf)
    some = np.flatnonzero(segments)
    if len(some):
        begin = (np.cumsum(segments) - segments)[some].astype(np.intp)
        longest[some] = np.maximum.reduceat(length, begin)
        shortest[some] = np.minimum.reduceat(length, begin)
    return _Swept(np.array(sums, dtype=float), longest, shortest, lines.first_row_m)


def plans_at(
    blocks: Iterable[Block], exclusions, candidate: Candidate, **how
) -> tuple[RowPlan, ...]:
    """The plans of some blocks as a candidate would have them; `how` as for `lay_rows`.

    Raises
    ------
    ValueError
        Where a block cannot be laid by these rules.
    """
    laid = [candidate.block_of(block) for block in blocks]
    return tuple(lay_rows(block, block.rules, exclusions, **how) for block in laid)
