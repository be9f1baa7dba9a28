"""The take-off: what every segment of row takes, counted from its geometry and never from area."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..model import RowPlan
from ..model.trellis import END_PARTS, ITEMS, Trellis
from ..terrain.surface import Surface
from .ground_lengths import GroundLengths, ground_lengths
from .mechanics import end_shape

COLUMN = {item: k for k, item in enumerate(ITEMS)}
"""Where each item stands in the last axis of amounts."""

COUNTING_RULE = (
    "Counted by geometry, row by row: what stands and hangs in the rows as laid. Area over spacings "
    "gives another number, told beside it as the theoretical density."
)


def _joined(parts, dtype=float) -> np.ndarray:
    return np.concatenate([np.empty(0, dtype), *parts]).astype(dtype)


@dataclass(frozen=True, eq=False)
class TakeOff:
    """Amounts of all ITEMS, by segment; every other level is a sum of those.

    Attributes
    ----------
    blocks : tuple of str
    trellises : tuple of Trellis
        One a block.
    block, number, letter : int array, shape (s,)
        Of each segment: which block, row number, 0 for A, 1 for B, …
    amounts : float array, shape (s, i)
        In the order of ITEMS: whole numbers of pieces, metres of wire and drip line. [each], [m]
    plan_length_m : float array, shape (s,)
    lengths : GroundLengths
    tie_m : float array, shape (b,)
        One tie or loop of a block's ends with its wrap; 0 for none. [m]
    vines : int array, shape (s,)
    outline_m2, theoretical_vines : float array, shape (b,)
        Of each block, and that area over row times vine spacing.
    """

    blocks: tuple[str, ...]
    trellises: tuple[Trellis, ...]
    block: np.ndarray
    number: np.ndarray
    letter: np.ndarray
    amounts: np.ndarray
    plan_length_m: np.ndarray
    lengths: GroundLengths
    tie_m: np.ndarray
    vines: np.ndarray
    outline_m2: np.ndarray
    theoretical_vines: np.ndarray

    def of(self, item: str) -> float:
        """Amount of one item on the whole site."""
        return float(self.site[COLUMN[item]])

    @cached_property
    def row_starts(self) -> np.ndarray:
        """Index of the first segment of every row, shape (r,): the same number in the same block."""
        if not len(self.block):
            return np.empty(0, np.intp)
        new = (np.diff(self.block) != 0) | (np.diff(self.number) != 0)
        return np.concatenate([[0], np.flatnonzero(new) + 1])

    @cached_property
    def rows(self) -> np.ndarray:
        """Amounts of every row, shape (r, i)."""
        if not len(self.block):
            return np.zeros((0, len(ITEMS)))
        return np.add.reduceat(self.amounts, self.row_starts, axis=0)

    @cached_property
    def per_block(self) -> np.ndarray:
        """Amounts of every block, shape (b, i)."""
        edges = np.searchsorted(self.block, np.arange(len(self.blocks) + 1))
        parts = [self.amounts[a:b].sum(axis=0) for a, b in itertools.pairwise(edges)]
        return np.reshape(parts, (len(self.blocks), len(ITEMS)))

    @cached_property
    def site(self) -> np.ndarray:
        """Amounts of everything, shape (i,)."""
        return self.per_block.sum(axis=0)

    @property
    def per_hectare(self) -> np.ndarray:
        """Amounts over the outlines' area, shape (i,); NaN with no area."""
        area = self.outline_m2.sum() / 1e4
        return self.site / area if area else np.full(len(ITEMS), np.nan)

    @property
    def statement(self) -> str:
        """How lengths were taken, to be printed on every list."""
        return {
            "plan": "Wire and drip line by plan length: no terrain is known, slopes need more.",
            "ground": "Wire and drip line by length along the ground.",
            "ground where known": "Wire and drip line by length along the ground; in plan where "
            f"heights are not known ({self.lengths.unknown_m:,.0f} m of row).",
        }[self.lengths.basis]


def take_off(
    plans: Sequence[RowPlan],
    trellis_of_block: Mapping[str, Trellis],
    surface: Surface | None = None,
    lengths: GroundLengths | None = None,
) -> TakeOff:
    """Everything that plans take, segment by segment.

    Special vines and posts count as they stand. Posts' places count, and so do both ends of every
    segment; what an end takes besides its post is told by the trellis and not by whether anchors
    are staked.

    Parameters
    ----------
    plans : sequence of RowPlan
        One a block, each with a name of its own.
    trellis_of_block : mapping
        By block name; a block without has the usual trellis.
    surface : Surface, optional
        Of the ground, for lengths along it.
    lengths : GroundLengths, optional
        What `ground_lengths` found of these plans before: they are not measured again.
    """
    trellises = tuple(trellis_of_block.get(p.block.name) or Trellis() for p in plans)
    lengths = ground_lengths(plans, surface) if lengths is None else lengths
    counts = [p.n_segments for p in plans]
    if len(lengths.length_m) != sum(counts):
        raise ValueError(f"lengths: {len(lengths.length_m)} for {sum(counts)} segments")
    stop = np.cumsum(counts, dtype=np.intp)
    parts, ties = [np.zeros((0, len(ITEMS)))], []
    for plan, trellis, end in zip(plans, trellises, stop.tolist(), strict=True):
        ties.append(tie_length_m(trellis, plan.rules.anchor_m))
        length = lengths.length_m[end - plan.n_segments : end]
        parts.append(_of_segments(plan, trellis, length, ties[-1]))
    return TakeOff(
        blocks=tuple(p.block.name for p in plans),
        trellises=trellises,
        block=np.repeat(np.arange(len(plans)), counts),
        number=_joined([p.segments.number for p in plans], np.intp),
        letter=_joined([p.segments.letter for p in plans], np.intp),
        amounts=np.concatenate(parts),
        plan_length_m=_joined([p.segments.length_m for p in plans]),
        lengths=lengths,
        tie_m=np.array(ties, dtype=float),
        vines=_joined([p.vines_of_segment for p in plans], np.int64),
        outline_m2=np.array([p.block.outline.area for p in plans], dtype=float),
        theoretical_vines=np.array([theoretical_vines(p) for p in plans], dtype=float),
    )


def theoretical_vines(plan: RowPlan) -> float:
    """Outline's area over row times vine spacing: what nobody plants, since headlands take room."""
    rules = plan.rules
    return plan.block.outline.area / (rules.row_spacing_m * rules.vine_spacing_m)


def tie_length_m(trellis: Trellis, anchor_m: float) -> float:
    """Wire in one end's tie or loop, with its wrap. [m]

    A loop at the foot of a slanted brace runs level, every other one along the slant. With no
    anchor staked a tie is counted to an anchor out by as much as the tie is high (45°).
    """
    shape = end_shape(trellis, anchor_m) or end_shape(trellis, trellis.tie_m)
    if not trellis.tie_lines or shape is None:
        return 0.0
    run = shape.spread_m if trellis.ends == "slanted brace" else shape.member_m
    return trellis.tie_lines * run + trellis.tie_wrap_m


def wire_cut_m(trellis: Trellis, length_m: np.ndarray) -> np.ndarray:
    """One wire of each segment, with its wraps at both ends. [m]"""
    return length_m + 2 * trellis.wrap_m


def _of_segments(plan: RowPlan, trellis: Trellis, length_m: np.ndarray, tie_m: float) -> np.ndarray:
    """Amounts of one plan's segments, shape (s, i)."""
    vines, posts = plan.vines_of_segment, plan.line_posts.count
    each = END_PARTS[trellis.ends]
    wire_m = wire_cut_m(trellis, length_m)
    lines = dict.fromkeys(ITEMS, 0)
    for run in trellis.wires:
        lines[run.item] += run.lines
    pairs = sum(f.paired for f in trellis.foliage_wires)
    end_posts = 2 * (1 + each.brace_posts)
    amounts = {
        "training_stakes": vines * bool(trellis.stake_length_m),
        "line_posts": posts,
        "end_posts": 2,
        "brace_posts": 2 * each.brace_posts,
        "braces": 2 * each.braces,
        "pads": 2 * each.pads,
        "anchors": 2 * each.anchors,
        "fruiting_wire_m": wire_m * lines["fruiting_wire_m"],
        "foliage_wire_m": wire_m * lines["foliage_wire_m"],
        "drip_wire_m": wire_m * lines["drip_wire_m"],
        "tie_wire_m": 2 * tie_m,
        "drip_line_m": (length_m + 2 * trellis.drip_line_end_m) * trellis.drip_line,
        "stake_clips": vines * trellis.stake_clips_per_vine * bool(trellis.stake_length_m),
        "pair_clips": (posts + 1) * pairs * trellis.pair_clips_per_bay,
        "drip_clips": vines * trellis.drip_clips_per_vine * (lines["drip_wire_m"] > 0),
        "staples": (posts + end_posts) * trellis.staples_a_post,
        "tensioners": trellis.n_wires * trellis.tensioners_per_wire,
        "shelters": vines * trellis.shelters_per_vine,
        "drip_tubes": vines * trellis.drip_tubes_per_vine,
    }
    table = np.empty((plan.n_segments, len(ITEMS)))
    for item, amount in amounts.items():
        table[:, COLUMN[item]] = amount
    return table


def difference(now: TakeOff, before: TakeOff) -> dict[str, np.ndarray]:
    """More (or less) of every item than before, by block name, shape (i,) each.

    A block that only one of both has counts as nothing in the other.
    """
    names = dict.fromkeys([*now.blocks, *before.blocks])
    found = {}
    for name in names:
        found[name] = np.zeros(len(ITEMS))
        for sign, side in ((1, now), (-1, before)):
            if name in side.blocks:
                found[name] += sign * side.per_block[side.blocks.index(name)]
    return found
