"""Rows that stand where other rows belong, or begin at their other end: exchanged, numbered wrong, reversed."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

_SEGMENT = re.compile(r"(.*)-R(\d+)([A-Z]*)$")
FEWEST_AGREEING = 0.6
"""Share of a row's points that have to say the same."""
MANY = 3
"""So many rows with one mistake make it likely for others of which less is known."""
_SLOPE_REVERSED = (-1.1, -0.9)
_SAMPLE = 400


@dataclass(frozen=True, eq=False)
class RowNames:
    """What rows are called, by their ids from 0.

    Attributes
    ----------
    code : tuple of str
        Such as B1-R012A; what is known of it where points have no codes.
    block : int array, shape (r,)
    number : int array, shape (r,)
    letter : int array, shape (r,)
    of_point : int array, shape (m,)
        Row of each point, -1 for none.
    blocks : tuple of str
    """

    code: tuple[str, ...]
    block: np.ndarray
    number: np.ndarray
    letter: np.ndarray
    of_point: np.ndarray
    blocks: tuple[str, ...]


@dataclass(frozen=True)
class MixUp:
    """Rows and what became of them.

    Attributes
    ----------
    code : str
        Of EXPLANATIONS: rows-swapped, rows-shifted, row-reversed.
    rows : tuple of int
        Ids; of two exchanged ones the first and the second of each pair in turn.
    by : int
        Rows they stand farther on by number; 0 where that says nothing.
    left_rms_m : float
        Of what stands where another belongs, from there. [m]
    onto : tuple of int
        Ids of rows that shifted ones stand on, where `by` says nothing.
    """

    code: str
    rows: tuple[int, ...]
    by: int = 0
    left_rms_m: float = 0.0
    onto: tuple[int, ...] = ()


def row_names(row: np.ndarray, end: Sequence[str] | None) -> RowNames:
    """Names of rows by the codes of their points, else counted."""
    has_row = row >= 0
    known, first, inverse = np.unique(row[has_row], return_index=True, return_inverse=True)
    of_point = np.full(len(row), -1)
    of_point[has_row] = inverse
    at = np.flatnonzero(has_row)[first]
    codes, said = [], []
    for rank, point in enumerate(at.tolist()):
        code = end[point].rpartition("-")[0] if end is not None else ""
        parts = _SEGMENT.match(code)
        codes.append(code or f"row {int(known[rank]) + 1}")
        said.append(parts.groups() if parts else ("", int(known[rank]) + 1, ""))
    blocks, letters = (sorted({s[i] for s in said}) for i in (0, 2))
    return RowNames(
        tuple(codes),
        np.array([blocks.index(s[0]) for s in said], int),
        np.array([int(s[1]) for s in said], int),
        np.array([letters.index(s[2]) for s in said], int),
        of_point,
        tuple(blocks),
    )


def rows_shifted_by(
    planned: np.ndarray, measured: np.ndarray, names: RowNames, reach_m: float
) -> tuple[int, ...]:
    """By how many rows most points stand farther on; empty where they do not.

    Parameters
    ----------
    planned, measured : complex array, shape (m,)
    names : RowNames
    reach_m : float
        Within which a point stands where another belongs. [m]
    """
    from scipy.spatial import cKDTree

    rows = names.of_point
    chosen = np.flatnonzero(rows >= 0)
    if len(names.code) < 3 or len(chosen) < 4:
        return ()
    if len(chosen) > _SAMPLE:
        chosen = np.random.default_rng(0).permutation(chosen)[:_SAMPLE]
    hit = _nearest(cKDTree(_pairs(planned)), measured[chosen], reach_m)
    told = hit >= 0
    one, other = rows[chosen[told]], rows[hit[told]]
    told = (other >= 0) & (names.block[one] == names.block[other])
    if told.sum() < max(3, 0.4 * len(chosen)):
        return ()
    by, count = np.unique((names.number[other] - names.number[one])[told], return_counts=True)
    most = int(count.argmax())
    if by[most] == 0 or count[most] < 0.4 * len(chosen):
        return ()
    return (int(by[most]),)


def counterparts(
    planned: np.ndarray,
    measured: np.ndarray,
    names: RowNames,
    end: Sequence[str] | None,
    by: int,
    reach_m: float,
) -> np.ndarray:
    """(m,) which point belongs where each one stands if rows are `by` farther on, -1 where it is not there.

    By codes; where there are none, the nearest one of that row, or the point itself, which then fits badly.
    """
    rows = names.of_point
    onto = _rows_on(names, by)[rows]
    onto[rows < 0] = -1
    if end is None:
        from scipy.spatial import cKDTree

        hit = _nearest(cKDTree(_pairs(planned)), measured, reach_m)
        is_there = (hit >= 0) & (rows[hit] == onto)
        return np.where(onto < 0, -1, np.where(is_there, hit, np.arange(len(rows))))
    tail = np.unique([code.rpartition("-")[2] for code in end], return_inverse=True)[1]
    n_tails = int(tail.max(initial=0)) + 1
    own = np.where(rows >= 0, rows * n_tails + tail, -1)
    wanted = np.where(onto >= 0, onto * n_tails + tail, -2)
    order = np.argsort(own, kind="stable")
    at = np.minimum(np.searchsorted(own[order], wanted), len(own) - 1)
    return np.where(own[order][at] == wanted, order[at], -1)


def _rows_on(names: RowNames, by: int) -> np.ndarray:
    """(r,) id of the row with a number `by` higher, of the same block and letter, -1 where there is none."""
    key = names.block * (names.letter.max() + 1) + names.letter
    span = int(names.number.max() - names.number.min()) + 2 * abs(by) + 2
    numbered = key * span + names.number - names.number.min() + abs(by)
    order = np.argsort(numbered)
    at = np.minimum(np.searchsorted(numbered[order], numbered + by), len(order) - 1)
    return np.where(numbered[order][at] == numbered + by, order[at], -1)


def row_mixups(
    belongs: np.ndarray, stands: np.ndarray, is_off: np.ndarray, names: RowNames, reach_m: float
) -> tuple[MixUp, ...]:
    """Rows of which most points are off, and where they stand instead.

    Parameters
    ----------
    belongs, stands : complex array, shape (m,)
        Where the plan's points should have been staked, NaN where that is not known, and where they were. [m]
    is_off : bool array, shape (m,)
        Farther off than measurement noise.
    names : RowNames
    reach_m : float
        Within which a point stands where another belongs. [m]
    """
    from scipy.spatial import cKDTree

    rows, n = names.of_point, len(names.code)
    usable = (rows >= 0) & np.isfinite(belongs)
    n_of = np.bincount(rows[usable], minlength=n)
    n_off = np.bincount(rows[usable & is_off], minlength=n)
    suspect = (n_off > 0) & (n_off >= 0.5 * n_of)
    if not suspect.any():
        return ()
    asked = np.flatnonzero(usable & is_off & suspect[rows])
    there = np.flatnonzero(usable)
    tree = cKDTree(_pairs(belongs[there]))
    away, hit = tree.query(_pairs(stands[asked]), distance_upper_bound=reach_m)
    hit = np.where(hit < tree.n, hit, -1)
    told = hit >= 0
    one, other = rows[asked[told]], rows[there[hit[told]]]
    own = np.bincount(one[one == other], minlength=n)
    told = one != other
    pair, count = np.unique(one[told] * n + other[told], return_counts=True)
    votes = dict(zip(pair.tolist(), count.tolist(), strict=True))
    found = _exchanged(votes, n_off, n)
    gone = {r for mixup in found for r in mixup.rows}
    chosen = usable & suspect[rows]
    is_within = (own >= 2) & (own >= FEWEST_AGREEING * n_off)
    reversed_rows = _reversed(belongs, stands, chosen, rows, is_within, reach_m)
    reversed_rows = [r for r in reversed_rows if r not in gone]
    gone.update(reversed_rows)
    shifted = _shifted(votes, n_off, n, gone, names)
    gone.update(r for mixup in shifted for r in mixup.rows)
    rest = chosen & is_off & ~np.isin(rows, list(gone))
    if rest.any() and (len(reversed_rows) >= MANY or any(len(m.rows) >= MANY for m in shifted)):
        offset = _in_row_axes(belongs, stands, usable, names)
        if len(reversed_rows) >= MANY:
            along = np.abs(offset.real) > 2 * reach_m
            like = along & (np.abs(offset.imag) <= reach_m)
            more = _mostly(like, rest, rows, n_off)
            reversed_rows = sorted({*reversed_rows, *more})
            rest &= ~np.isin(rows, more)
        shifted = [_joined(m, offset, rest, names, n_off, reach_m) for m in shifted]
    if reversed_rows:
        found.append(MixUp("row-reversed", tuple(reversed_rows)))
    found = [replace(m, left_rms_m=_left(m, rows[asked], away, hit >= 0)) for m in found + shifted]
    return tuple(found)


def _left(mixup: MixUp, rows, away, told) -> float:
    mine = told & np.isin(rows, mixup.rows)
    return float(np.sqrt(np.mean(away[mine] ** 2))) if mine.any() else 0.0


def _in_row_axes(belongs, stands, usable, names: RowNames) -> np.ndarray:
    """(m,) how far points stand off: along their block's rows, and aside as the imaginary part."""
    rows, n = names.of_point[usable], len(names.code)
    count = np.maximum(np.bincount(rows, minlength=n), 1)
    centred = belongs[usable] - belongs[usable].mean()
    left = centred - (_sums(rows, centred, n) / count)[rows]
    doubled = _sums(names.block[rows], left**2, len(names.blocks))
    axis = np.exp(-0.5j * np.angle(doubled))
    offset = np.full(len(belongs), complex(np.nan, np.nan))
    offset[usable] = (stands - belongs)[usable] * axis[names.block[rows]]
    return offset


def _mostly(like, rest, rows, n_off) -> list[int]:
    """Rows of which most of what is off is alike."""
    count = np.bincount(rows[like & rest], minlength=len(n_off))
    return np.flatnonzero((count > 0) & (count >= FEWEST_AGREEING * n_off)).tolist()


def _joined(mixup: MixUp, offset, rest, names: RowNames, n_off, reach_m: float) -> MixUp:
    """A run of rows numbered wrong, with those that stand off by the same though nothing is known of their place."""
    if len(mixup.rows) < MANY or not mixup.by:
        return mixup
    rows = names.of_point
    aside = float(np.median(offset.imag[np.isin(rows, mixup.rows) & np.isfinite(offset)]))
    block = names.block[mixup.rows[0]]
    like = (np.abs(offset.imag - aside) <= reach_m) & (names.block[rows] == block)
    more = _mostly(like, rest, rows, n_off)
    rest &= ~np.isin(rows, more)
    return replace(mixup, rows=tuple(sorted({*mixup.rows, *more})), onto=())


def _exchanged(votes, n_off, n: int) -> list[MixUp]:
    found, gone = [], set()
    for pair, there in sorted(votes.items(), key=lambda item: -item[1]):
        one, other = divmod(pair, n)
        back = votes.get(other * n + one, 0)
        if one in gone or other in gone or not back:
            continue
        if there + back >= max(2, FEWEST_AGREEING * (n_off[one] + n_off[other])):
            found.append(MixUp("rows-swapped", (min(one, other), max(one, other))))
            gone |= {one, other}
    found.sort(key=lambda mixup: mixup.rows)
    if not found:
        return []
    return [MixUp("rows-swapped", tuple(r for mixup in found for r in mixup.rows))]


def _shifted(votes, n_off, n: int, gone, names: RowNames) -> list[MixUp]:
    groups = defaultdict(list)
    for pair, count in votes.items():
        one, other = divmod(pair, n)
        if one in gone or count < max(2, FEWEST_AGREEING * n_off[one]):
            continue
        same = names.block[one] == names.block[other] and names.letter[one] == names.letter[other]
        by = int(names.number[other] - names.number[one]) if same else 0
        groups[int(names.block[one]), by].append((one, other))
    found = []
    for (_, by), pairs in sorted(groups.items()):
        pairs.sort()
        found.append(
            MixUp(
                "rows-shifted",
                tuple(one for one, _ in pairs),
                by,
                onto=() if by else tuple(other for _, other in pairs),
            )
        )
    return found


def _reversed(belongs, stands, chosen, rows, is_within, reach_m: float) -> tuple[int, ...]:
    """Rows whose points run the other way between their own ends.

    They stand on the row's chord, or, as a curved row's do, where others of the same row belong (`is_within`).
    """
    n = len(is_within)
    row, planned, measured = rows[chosen], belongs[chosen], stands[chosen]
    count = np.bincount(row, minlength=n)
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = _sums(row, planned, n) / count
        planned, measured = planned - middle[row], measured - middle[row]
        axis = np.exp(0.5j * np.angle(_sums(row, planned**2, n)))[row].conj()
        along, stood = (planned * axis).real, measured * axis
        spread = np.bincount(row, along**2, minlength=n)
        slope = np.bincount(row, along * stood.real, minlength=n) / spread
        aside = np.sqrt(
            np.bincount(row, (stood.imag - (planned * axis).imag) ** 2, minlength=n) / count
        )
        is_long = np.sqrt(spread / count) > 2 * reach_m
    low, high = _SLOPE_REVERSED
    fits = (
        (count >= 2) & is_long & (slope > low) & (slope < high) & ((aside <= reach_m) | is_within)
    )
    return tuple(np.flatnonzero(fits).tolist())


def _sums(row, values, n: int) -> np.ndarray:
    real, imag = (np.bincount(row, part, minlength=n) for part in (values.real, values.imag))
    return real + 1j * imag


def _pairs(places: np.ndarray) -> np.ndarray:
    return np.column_stack([places.real, places.imag])


def _nearest(tree, places: np.ndarray, reach_m: float) -> np.ndarray:
    """(n,) of which of the tree's points is nearest, -1 beyond reach."""
    _, hit = tree.query(_pairs(places), distance_upper_bound=reach_m)
    return np.where(hit < tree.n, hit, -1)
