"""Left and right extreme of regions across the lines, found for all members of a stack at once."""

from __future__ import annotations

import numpy as np

from .edges import Edges
from .scanline import Region, clip_lines
from .stacks import Stack

_SEARCH_STEP_M = 0.25
_FAN = 12
_MEETINGS = 6000
_BESIDE_M = 1e-7
_ALONG_LEAN = 0.02
_POINT_M = 5e-10
"""How far beyond its point a region that ends in one is looked for. [m]"""


def extents_across(stack: Stack) -> np.ndarray:
    """Left and right extreme of every member, (k, 2), not moved; NaN where one is empty. [m]

    To a nanometre or so. Looked for every 0.25 m and beside every rim that runs along the lines; a
    part of a region that is narrower than that and bounded by no such rim may be passed over.
    """
    left = _firsts(stack)
    right = -_firsts(stack.mirrored())
    right = np.where(np.isnan(right), left, right)
    return np.column_stack([left, right]) - stack.offset_m[:, None]


def flat_rims(region: Region, most_lean: float) -> np.ndarray:
    """Across coordinates of straight rims, a metre or longer, that run along the lines. [m]

    `most_lean` is the most they may lean, across over along.
    """
    return np.unique(_flat_rims(region, most_lean)[0])


def _flat_rims(region: Region, most_lean: float):
    """The same, unsorted, and the member each is of."""
    inside, rim = _flat(region.inside, most_lean), _flat(region.rim, most_lean)
    a, b = region.inside.taken(inside), region.rim.taken(rim)
    w = region.rim_width_m[rim]
    ends = [b.start_m[:, 1] - w, b.end_m[:, 1] - w, b.start_m[:, 1] + w, b.end_m[:, 1] + w]
    across = np.concatenate([a.start_m[:, 1], a.end_m[:, 1], *ends])
    return across, np.concatenate([a.ring, a.ring, *[b.ring] * 4])


def _flat(edges: Edges, most_lean: float) -> np.ndarray:
    run, rise = np.abs(edges.end_m - edges.start_m).T
    return np.flatnonzero((rise <= most_lean * run) & (np.hypot(run, rise) >= 1.0))


def _firsts(stack: Stack) -> np.ndarray:
    """Leftmost across coordinate of every member, NaN where one is empty. [m]"""
    n = len(stack)
    left, right = stack.reach_m.T
    near_enough = 1e-10 * np.maximum(1.0, right - left)
    # Mostly a region begins where its curves do, along a rim or with a point just beyond.
    probes, of = np.concatenate([left, left + _POINT_M]), np.tile(np.arange(n), 2)
    found, _ = _first_hits(stack.narrowed(left, left + _POINT_M), probes, of, n, left)
    missed = np.isnan(found)
    if missed.any():
        before, hit = _bracketed(stack, left, right, missed)
        found[missed] = _narrowed(stack, before, hit, near_enough)[missed]
    return found


def _bracketed(stack: Stack, position, right, looking):
    """Of members looked for a line that misses it, and the first one found beyond that meets it."""
    n = len(stack)
    critical, owner = _flat_rims(stack.region, _ALONG_LEAN)
    critical = np.concatenate([critical - _BESIDE_M, critical, critical + _BESIDE_M])
    owner = np.tile(owner, 3)
    step = np.minimum(_SEARCH_STEP_M, (right - position) / 16)
    step = np.where(step > 0, step, _SEARCH_STEP_M)
    position, before = position.copy(), position.copy()
    found = np.full(n, np.nan)
    looking, fan = looking.copy(), _FAN
    while looking.any():
        which = np.flatnonzero(looking)
        grid = position[which, None] + step[which, None] * np.arange(fan)
        low, high = np.full(n, np.inf), np.full(n, -np.inf)
        low[which], high[which] = grid[:, 0] - _BESIDE_M, grid[:, -1] + _BESIDE_M
        here = (critical >= low[owner]) & (critical <= high[owner])
        probes = np.concatenate([grid.ravel(), critical[here]])
        of = np.concatenate([np.repeat(which, fan), owner[here]])
        hit, miss = _first_hits(stack.narrowed(low, high), probes, of, n, before)
        met = ~np.isnan(hit)
        found[met], before[met] = hit[met], miss[met]
        looking &= ~met
        ended = looking & (position > right)
        looking &= ~ended
        on = which[looking[which]]
        position[on] = before[on] = grid[looking[which], -1]
        fan = min(2 * fan, 32 * _FAN)
    return before, found


def _first_hits(region: Region, probes, of, n: int, before):
    """First probe of every member that meets the region, NaN for none, and the one before it."""
    order = np.argsort(probes, kind="stable")
    probes, of = probes[order], of[order]
    line = clip_lines(probes, region).line
    member, at = np.unique(of[line], return_index=True)
    line = line[at]
    hit, miss = np.full(n, np.nan), before.copy()
    hit[member] = probes[line]
    inner = (line > 0) & (of[line - 1] == member)
    miss[member[inner]] = probes[line[inner] - 1]
    return hit, miss


def _narrowed(stack: Stack, before, found, near_enough) -> np.ndarray:
    n = len(stack)
    low = np.where(np.isnan(found), np.inf, before)
    high = np.where(np.isnan(found), -np.inf, found)
    region = stack.narrowed(low, high)
    fan = int(np.clip(_MEETINGS / max(len(region.inside), 1), 6, 48)) if n == 1 else 10
    open_ = high - low > near_enough
    while open_.any():
        which = np.flatnonzero(open_)
        share = np.arange(1, fan - 1) / (fan - 1)
        probes = low[which, None] + (high - low)[which, None] * share
        hit, miss = _first_hits(region, probes.ravel(), np.repeat(which, fan - 2), n, low)
        met = ~np.isnan(hit)
        last = probes[:, -1]
        narrower_high = np.where(met[which], hit[which], high[which])
        narrower_low = np.where(met[which], miss[which], last)
        same = (narrower_high == high[which]) & (narrower_low == low[which])
        low[which], high[which] = narrower_low, narrower_high
        open_ = high - low > near_enough
        open_[which[same]] = False
    return np.where(np.isnan(found), np.nan, high)
