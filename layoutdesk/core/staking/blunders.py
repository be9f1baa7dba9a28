"""What measured points say went wrong: shifts, turns and scales that have a name, rows exchanged, single points off.

Looked for in turn: what moved all points alike (`whole_moves`), rows in each other's place (`row_mixups`), and, with
those out of the way, both again; then blocks of which most points are left off, single points, and heights.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from . import blunder_words as words
from .explanations import EXPLANATIONS, Explanation, Facts
from .height_blunders import height_blunders
from .robust_fitting import kept
from .row_mixups import RowNames, counterparts, row_mixups, row_names, rows_shifted_by
from .whole_moves import Base, Whole, most_noise_m, whole_moved

__all__ = ["EXPLANATIONS", "Explanation", "Facts", "explained"]

FEWEST_PAIRS = 2
"""Pairs that say anything of more than themselves."""
_ROUNDS = 4
_OFF_SIGMAS = 5.0
"""Farther off is no noise: 4 in a million honest points (Rayleigh)."""
_STRAY_CHANCE = 0.003
"""How often a set without any stray point may have one told."""
_FEWEST_OF_BLOCK = 6
_MOST_BLOCKS, _MOST_OF_BLOCK = 50, 500
_NOISE_MARGIN = 1.5
"""Noise over a site is no more than so many times that within its blocks. Common practice."""
_MOST_NEIGHBOURS = 20


def explained(
    planned_m, measured_m, facts: Facts, *, xy_m, row, end=None, heights_m=None
) -> tuple[Explanation, ...]:
    """What explains the differences, the most of it first; empty where measurement noise does.

    First what concerns all points, then blocks, rows, single points, and heights.

    Parameters
    ----------
    planned_m, measured_m : float array, shape (m, 2)
        Pairs of easting and northing in written coordinates. [m]
    facts : Facts
    xy_m : float array, shape (m, 2)
        The planned ones in the site frame: directions are told from its north, not the grid's. [m]
    row : int array, shape (m,)
        Which row (segment, counted over all plans) each stands in, -1 for none.
    end : tuple of str, optional
        Code of each point, to say where, and what it is in its row.
    heights_m : float array, shape (m, 2), optional
        Planned and measured heights, NaN where not known. [m]

    Examples
    --------
    >>> rows = [[x, y] for x in range(0, 50, 5) for y in (0, 90)]
    >>> grid = np.array(rows) + [288832.0, 6180001.0]
    >>> facts = Facts(0.3048, 1.0, (0.0, 0.0))
    >>> found = explained(grid, grid * 1.000002, facts, xy_m=rows, row=np.arange(20) // 2)
    >>> [e.code for e in found]
    ['survey-foot']
    """
    planned, measured = _complex(planned_m), _complex(measured_m)
    row = np.asarray(row, dtype=np.int64)
    site = _complex(xy_m)
    if not len(planned) == len(measured) == len(row) == len(site):
        raise ValueError("planned_m, measured_m, xy_m, row: of different lengths")
    usable = np.isfinite(planned) & np.isfinite(measured)
    found = []
    if usable.sum() >= FEWEST_PAIRS:
        codes = None if end is None else [end[i] for i in np.flatnonzero(usable).tolist()]
        found = _Search(
            planned[usable],
            measured[usable],
            facts,
            row[usable],
            codes,
            _true_north(site[usable], planned[usable]),
        ).found()
    if heights_m is not None:
        heights = np.asarray(heights_m, dtype=float).reshape(-1, 2)
        for blunder in height_blunders(heights[:, 0], heights[:, 1], facts):
            amount = blunder.factor if blunder.code == "height-unit" else blunder.shift_m
            said = words.height_words(blunder, facts)
            found.append(Explanation(blunder.code, said, (), blunder.sigma_m, amount))
    return tuple(found)


def _complex(pairs) -> np.ndarray:
    pairs = np.asarray(pairs, dtype=float).reshape(-1, 2)
    return pairs[:, 0] + 1j * pairs[:, 1]


def _true_north(site, planned) -> complex:
    """What turns an offset in written coordinates into one in the site frame."""
    turned = ((site - site.mean()) * (planned - planned.mean()).conj()).sum()
    return complex(turned / abs(turned)) if turned else 1.0 + 0j


class _Search:
    """One set of pairs, and what of it is explained already."""

    def __init__(
        self, planned, measured, facts: Facts, row, end: Sequence[str] | None, north=1 + 0j
    ):
        self.planned, self.measured, self.facts, self.end = planned, measured, facts, end
        self.row, self.north = row, north
        self._names: RowNames | None = None
        self.reach_m = min(facts.row_spacing_m, facts.vine_spacing_m) / 3

    @property
    def names(self) -> RowNames:
        if self._names is None:
            self._names = row_names(self.row, self.end)
        return self._names

    def found(self) -> list[Explanation]:
        """All explanations, the most important first."""
        left = np.ones(len(self.planned), bool)
        mixups = []
        for _ in range(_ROUNDS):
            whole = self._whole(left)
            belongs = whole.moved(self.planned)
            off = np.abs(self.measured - belongs)
            is_off = left & (off > _OFF_SIGMAS * whole.sigma_m)
            if not is_off.any() or not (self.row >= 0).any():
                break
            new = self._mixed(belongs, is_off, left, whole)
            if not new:
                break
            mixups += new
            rows = [r for mixup in new for r in mixup.rows]
            left &= ~np.isin(self.names.of_point, rows)
            if left.sum() < FEWEST_PAIRS:
                break
        off = np.where(np.isfinite(off), off, 0.0)
        found = self._whole_told(whole, left, ())
        told_blocks, left = self._blocks_told(whole, belongs, off, left)
        return found + told_blocks + self._mixups_told(mixups) + self._strays_told(
            belongs, off, left, whole.sigma_m
        )  # fmt: skip

    def _whole(self, left) -> Whole:
        planned, measured = self.planned[left], self.measured[left]
        bases = self._numbered_wrong(planned, measured, left)
        whole = whole_moved(planned, measured, self.facts, bases, self._noise_in_blocks(left))
        if whole.base.counterpart is None or left.all():
            return whole
        counterpart = np.full(len(left), -1)
        at = np.flatnonzero(left)
        there = whole.base.counterpart
        counterpart[at] = np.where(there >= 0, at[there], -1)
        return replace(whole, base=replace(whole.base, counterpart=counterpart))

    def _noise_in_blocks(self, left) -> float:
        """The most that noise may be by what blocks say, each fitted for itself; endless where there is only one. [m]

        Blocks that were set out one by one would otherwise pass for one site measured badly.
        """
        if self.end is None or len(self.names.blocks) < 2:
            return math.inf
        names, found = self.names, []
        block = np.where(names.of_point >= 0, names.block[names.of_point], -1)
        for number in range(min(len(names.blocks), _MOST_BLOCKS)):
            mine = np.flatnonzero(left & (block == number))
            if len(mine) >= _FEWEST_OF_BLOCK:
                mine = mine[:: math.ceil(len(mine) / _MOST_OF_BLOCK)]
                planned, measured = self.planned[mine], self.measured[mine]
                middle = planned.mean()
                most_m = most_noise_m(self.facts)
                its = kept(planned - middle, measured - middle, self.facts.noise_m, most_m)
                found.append(its.sigma_m)
        return _NOISE_MARGIN * float(np.median(found)) if found else math.inf

    def _numbered_wrong(self, planned, measured, left) -> list[Base]:
        offset = measured - planned
        away = abs(complex(np.median(offset.real), np.median(offset.imag)))
        is_near = away < 20 * self.facts.row_spacing_m
        if not is_near or np.mean(np.abs(offset) > self.reach_m) <= 0.5:
            return []
        if np.mean(self.row[left] >= 0) <= 0.5:
            return []
        names = replace(self.names, of_point=self.names.of_point[left])
        codes = self.end and [self.end[i] for i in np.flatnonzero(left).tolist()]
        found = []
        for by in rows_shifted_by(planned, measured, names, self.reach_m):
            there = counterparts(planned, measured, names, codes, by, self.reach_m)
            found.append(Base("rows-shifted", counterpart=there, rows=by))
        return found

    def _mixed(self, belongs, is_off, left, whole: Whole):
        there = np.where(left, belongs, np.nan)
        reach = min(max(_OFF_SIGMAS * whole.sigma_m, self.facts.tolerance_m), self.reach_m)
        return row_mixups(there, self.measured, is_off, self.names, reach)

    def _whole_told(self, whole: Whole, left, where) -> list[Explanation]:
        belongs = whole.moved(self.planned)
        use = left & np.isfinite(belongs)
        if not whole.parts or not use.any():
            return []
        off = np.abs(self.measured[use] - belongs[use])
        near = off <= _OFF_SIGMAS * whole.sigma_m
        rms = _rms(off[near]) if near.any() else 0.0
        moved = (belongs - self.planned)[use]
        least, most = float(np.abs(moved).min()), float(np.abs(moved).max())
        direction = words.towards(complex(moved.mean()) * self.north)
        found = []
        for part in sorted(whole.parts, key=lambda p: -p.effect_m):
            said = words.whole_words(
                whole,
                part,
                self.facts,
                least,
                most,
                direction,
                words.towards(whole.shift * self.north),
            )
            if where:
                said = f"In {words.named(where)}: {said[0].lower()}{said[1:]}"
            found.append(Explanation(part.code, said, where, rms, _told_amount(part)))
        return found

    def _blocks_told(self, whole: Whole, belongs, off, left):
        """Blocks of which most points are off though the whole is explained."""
        is_off = left & (off > _OFF_SIGMAS * whole.sigma_m)
        if self.end is None or is_off.sum() < _FEWEST_OF_BLOCK or len(self.names.blocks) < 2:
            return [], left
        names, found = self.names, []
        has_row = names.of_point >= 0
        block = np.where(has_row, names.block[names.of_point], -1)
        for number in range(min(len(names.blocks), _MOST_BLOCKS)):
            mine = left & (block == number) & np.isfinite(belongs)
            if mine.sum() < _FEWEST_OF_BLOCK or is_off[mine].mean() < 0.6:
                continue
            part = _Search(
                belongs[mine], self.measured[mine], self.facts, self.row[mine], None, self.north
            )
            its = whole_moved(part.planned, part.measured, self.facts)
            told = part._whole_told(its, np.ones(len(part.planned), bool), (names.blocks[number],))
            if told:
                found += told
                near = np.abs(part.measured - its.moved(part.planned)) <= _OFF_SIGMAS * its.sigma_m
                left = left.copy()
                left[np.flatnonzero(mine)[near]] = False
        return found, left

    def _mixups_told(self, mixups) -> list[Explanation]:
        found = []
        n = len(self.names.code) if mixups else 0
        for mixup in sorted(mixups, key=lambda m: -len(m.rows)):
            codes = tuple(self.names.code[r] for r in mixup.rows)
            said = words.mixup_words(mixup, self.names)
            is_all = len(mixup.rows) >= max(3, 0.8 * n) and mixup.code == "rows-shifted"
            amount = float(mixup.by or len(mixup.rows))
            found.append(
                Explanation(mixup.code, said, () if is_all else codes, mixup.left_rms_m, amount)
            )
        return found

    def _strays_told(self, belongs, off, left, sigma: float) -> list[Explanation]:
        n = int(left.sum())
        if not n:
            return []
        limit = sigma * math.sqrt(2 * math.log(n / _STRAY_CHANCE)) * (1 + 1 / math.sqrt(n))
        stray = np.flatnonzero(left & (off > max(limit, 1.5 * self.facts.tolerance_m)))
        if not len(stray):
            return []
        stray = stray[np.argsort(-off[stray], kind="stable")]
        named = stray[: words.MOST_NAMED]
        onto = self._neighbours(belongs, self.measured[named], named, sigma)
        codes = tuple(self.end[i] for i in stray.tolist()) if self.end is not None else ()
        shown = [self._code(i) for i in named.tolist()]
        said = words.stray_words(shown, off[named].tolist(), onto, self.facts, len(stray), n)
        kept = left.copy()
        kept[stray] = False
        rms = _rms(off[kept]) if kept.any() else 0.0
        return [Explanation("point-off", said, codes, rms, float(off[stray[0]]))]

    def _neighbours(self, belongs, stands, own, sigma: float) -> list[str]:
        found = []
        for place, mine in zip(stands.tolist(), own.tolist(), strict=True):
            away = np.abs(belongs - place)
            away[mine] = np.inf
            away[~np.isfinite(away)] = np.inf
            nearest = int(away.argmin())
            is_there = away[nearest] <= max(3 * sigma, self.facts.tolerance_m)
            found.append(self._code(nearest) if is_there else "")
        return found

    def _code(self, point: int) -> str:
        return self.end[point] if self.end is not None else f"pair {point + 1}"


def _rms(off) -> float:
    return float(np.sqrt(np.mean(np.square(off))))


def _told_amount(part) -> float:
    """In the unit of the code's meaning."""
    if part.code in ("survey-foot", "feet-as-metres", "grid-as-ground", "scale"):
        return part.amount * 1e6
    return float(part.amount)
