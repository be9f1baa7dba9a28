"""A drip system as a network of named nodes and pipes, for EPANET's input file."""

from __future__ import annotations

import itertools
import re
from dataclasses import dataclass

import numpy as np

from ..core.water.drips import emitter_of
from ..core.water.emitters import FULL_LAW_FROM_M
from .stake_chunks import clean, segment_codes
from .waterset import WaterFiles, lateral_codes

LEAST_EXPONENT = 0.02
"""EPANET divides by the exponent and does not settle below about this (tried with 0.01: no result)."""
_NAME_AT_MOST = 12
"""Letters of a block's name, so that with row and vine it stays within EPANET's 31."""
_UNNAMED = re.compile(r"[^A-Za-z0-9_.-]")


@dataclass(frozen=True, eq=False)
class BlockOutlets:
    """Outlets of one block, t of them in the order of the design.

    Attributes
    ----------
    infix : bytes
        Between code and index: -V where an outlet is a vine, -D where it is an emitter in the line.
    codes : tuple of bytes
    code, index : int array, shape (t,)
        Name of each outlet: which of the codes, and its number there.
    outlets : slice
        Which of the design's they are.
    """

    infix: bytes
    codes: tuple[bytes, ...]
    code: np.ndarray
    index: np.ndarray
    outlets: slice


def block_names(water: WaterFiles) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Names of blocks that EPANET can read, and what is to be said where they are not the own ones."""
    found: list[str] = []
    said = []
    for b, plan in enumerate(water.plans):
        name = _UNNAMED.sub("_", clean(plan.block.name))
        if name != plan.block.name or len(name) > _NAME_AT_MOST or name in found:
            name = next(n for k in itertools.count(b + 1) if (n := f"B{k}") not in found)
        if name != plan.block.name:
            said.append(f"Block {plan.block.name} is called {name} here.")
        found.append(name)
    return tuple(found), tuple(said)


def network_codes(water: WaterFiles) -> tuple[str, ...]:
    """Code of every lateral by the names that EPANET can read."""
    names, _ = block_names(water)
    return lateral_codes(water.design, lambda b: names[b])


def block_outlets(water: WaterFiles, block: int, codes: tuple[str, ...]) -> BlockOutlets:
    """Names of a block's outlets: the vine's own, or a number along the lateral."""
    design = water.design
    lines, rows = design.lines, design.lines.laterals
    first, stop = np.searchsorted(lines.block, [block, block + 1]).tolist()
    mine = slice(int(rows.offset[first]), int(rows.offset[stop]))
    plan = water.plans[block]
    if design.water.drip_of(design.blocks[block]).inline_m is not None:
        lateral = rows.lateral[mine]
        index = np.arange(mine.start, mine.stop) - rows.offset[:-1][lateral] + 1
        texts = tuple(c.encode() for c in codes[first:stop])
        return BlockOutlets(b"-D", texts, lateral - first, index, mine)
    order = vines_in_order(water, block)
    vines = plan.vines
    names, _ = block_names(water)
    texts = tuple(segment_codes(plan, names[block]))
    return BlockOutlets(b"-V", texts, vines.segment[order], vines.index[order], mine)


def vines_in_order(water: WaterFiles, block: int) -> np.ndarray:
    """Vines of a block along their laterals, as outlets stand, (t,): indices into `plan.vines`."""
    lines = water.design.lines
    begin = sum(p.n_vines for p in water.plans[:block])
    mine = slice(begin, begin + water.plans[block].n_vines)
    return np.lexsort((lines.vine_outlet_m[mine], lines.vine_lateral[mine]))


def outlet_places(water: WaterFiles) -> np.ndarray:
    """Where all outlets are in the site frame, (t, 2): at the vines, or on the line between them. [m]"""
    lines, rows = water.design.lines, water.design.lines.laterals
    n = len(rows)
    if not len(rows.outlet_m):
        return np.empty((0, 2))
    base = np.concatenate([[0.0], np.cumsum(lines.length_m + 1.0)])[:-1]
    vines = np.concatenate([p.vines.xy_m for p in water.plans])
    at = np.concatenate(
        [base, base + lines.length_m, base[lines.vine_lateral] + lines.vine_outlet_m]
    )
    xy = np.concatenate([lines.tail_xy_m[:, 0], lines.tail_xy_m[:, 1], vines])
    rank = np.concatenate([np.zeros(n), np.full(n, 2), np.ones(len(vines))])
    order = np.lexsort((rank, at))
    wanted = base[rows.lateral] + rows.outlet_m
    return np.column_stack([np.interp(wanted, at[order], xy[order, k]) for k in (0, 1)])


@dataclass(frozen=True, eq=False)
class NetworkEmitters:
    """Emitters by the one exponent that the file has; t outlets.

    Attributes
    ----------
    exponent : float
    coefficient_l_h : float array, shape (t,)
        Flow at a head of one metre; 0 for none. [L/h]
    notes : tuple of str
        Where the law is not the emitter's own.
    """

    exponent: float
    coefficient_l_h: np.ndarray
    notes: tuple[str, ...]


def network_emitters(water: WaterFiles) -> NetworkEmitters:
    """Coefficients of all outlets.

    EPANET has one exponent in a file, that of the first set's block here. Where an emitter has another
    its coefficient is such that it gives its flow at the head it has in the design.
    """
    design = water.design
    rows, flow = design.lines.laterals, design.flow
    drips = [design.water.drip_of(name) for name in design.blocks]
    notes = []
    own = drips[design.sets[0].block].exponent if design.sets else 0.5
    exponent = max(own, LEAST_EXPONENT)
    block = design.lines.block[rows.lateral]
    factor = np.zeros(len(block))
    other = []
    for b, drip in enumerate(drips):
        mine = block == b
        factor[mine] = emitter_of(drip).k_l_h
        if drip.exponent != exponent and mine.any():
            other.append(f"{design.blocks[b]} ({drip.exponent:g})")
    exponents = np.array([d.exponent for d in drips])[block] if drips else np.empty(0)
    coefficient = factor * rows.emitters
    head = flow.head_m
    fitted = (exponents != exponent) | (head < FULL_LAW_FROM_M)
    given = (flow.flow_l_h > 0) & (head > 0)
    safe = np.where(given, head, 1.0)
    flowing = np.where(given, flow.flow_l_h, 0.0)
    coefficient = np.where(fitted, flowing / safe**exponent, coefficient)
    dry = ~given & (rows.emitters > 0)
    if other:
        notes.append(
            f"EPANET has one emitter exponent for a whole file, here {exponent:g}. Emitters of "
            f"{', '.join(other)} have another: in network.inp they give what they give at the pressures of this "
            "design; at other pressures they differ."
        )
    if dry.any():
        notes.append(
            f"{np.count_nonzero(dry)} outlets get no water in the design; in network.inp they have no emitter, "
            "since EPANET would let air in as water."
        )
    return NetworkEmitters(exponent, coefficient, tuple(notes))


def network_notes(water: WaterFiles) -> tuple[str, ...]:
    """Where the network differs from the design."""
    if not water.design.sets:
        return ()
    laws = {water.design.water.drip_of(n).law for n in water.design.blocks}
    mixed = (
        (
            "EPANET has one friction law for a whole file: network.inp has Darcy and Weisbach's, also in "
            "blocks that are designed by Hazen and Williams'.",
        )
        if len(laws) > 1
        else ()
    )
    short = [str(s.number) for s in water.design.sets if not s.is_served]
    weak = (
        (
            f"The source cannot give what {'set' if len(short) == 1 else 'sets'} {', '.join(short)} "
            f"{'asks' if len(short) == 1 else 'ask'}: EPANET finds less pressure there than this design holds "
            "behind the valve.",
        )
        if short
        else ()
    )
    return (*network_emitters(water).notes, *mixed, *weak)
