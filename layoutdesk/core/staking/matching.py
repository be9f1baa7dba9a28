"""Which measured point is which point of the plan: by code, by number, or by place."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .codes import keys_in, keys_of_points, numbers_in
from .points import Points, PointSet

WAYS = ("code", "number", "place")
_SAME_M = 0.01
"""Points of the plan that lie so near each other cannot be told apart by place. [m]"""


@dataclass(frozen=True, eq=False)
class Measured:
    """Points as they were read from a file, on the coordinates of the hand-off.

    Attributes
    ----------
    name, description : tuple of str
        Point name or number, and description; empty where there is none.
    en_m : float array, shape (n, 2)
        Easting and northing times the unit's length. [m]
    height_m : float array, shape (n,)
        NaN where there is none. [m]
    line : int array, shape (n,)
        Line, feature or entity in the file, from 1.
    """

    name: tuple[str, ...]
    description: tuple[str, ...]
    en_m: np.ndarray
    height_m: np.ndarray
    line: np.ndarray

    def __len__(self) -> int:
        return len(self.line)


@dataclass(frozen=True, eq=False)
class Matched:
    """Pairs of plan and ground.

    Attributes
    ----------
    way : str
        Of WAYS.
    points : Points
        All points of the plan they were matched with.
    planned, measured : int array, shape (m,)
        Pairs: into `points`, and into the measured ones; in the order of `points`.
    strange : int array
        Measured points that are no point of the plan.
    doubled : int array
        Measured points left out because their point of the plan was measured again: by place the nearest
        counts, else the last in the file.
    """

    way: str
    points: Points
    planned: np.ndarray
    measured: np.ndarray
    strange: np.ndarray
    doubled: np.ndarray


def matched(
    points: PointSet, en_m, measured: Measured, way: str = "", *, template: str = "", features=(),
    numbered: PointSet | None = None, most_m: float = 0.5,
) -> Matched:  # fmt: skip
    """Measured points matched with those of the plan.

    By place only what is near is found: rows exchanged, or everything a row off, cannot be seen then.

    Parameters
    ----------
    points : PointSet
    en_m : float array, shape (n, 2)
        Where `points.all()` were handed off, in the same coordinates as the measured ones. [m]
    measured : Measured
    way : str
        Of WAYS; where it is empty: codes where half of the measured points have one, else numbers or places,
        whichever matches more (numbers that name points elsewhere than where they were measured do not count
        where places match).
    template, features
        Of the table's descriptions, which codes are looked for in.
    numbered : PointSet, optional
        The choice of points whose numbers were handed off; `points` where it is left out and `way` asks for
        numbers.
    most_m : float
        By place, the most they may be apart; never more than half the way to another point. [m]
    """
    if way and way not in WAYS:
        raise ValueError(f"way: {way!r} is none of {', '.join(WAYS)}")
    everything = points.all()
    if len(everything) != len(en_m):
        raise ValueError(f"en_m: {len(en_m)} places for {len(everything)} points")
    find = _Finder(points, everything, np.asarray(en_m, float), measured)
    if not way:
        way, target = _best(find, template, features, numbered, most_m)
    elif way == "code":
        target = find.by_code(template, features)
    elif way == "number":
        target = find.by_number(numbered or points)
    else:
        target = find.by_place(most_m)
    return _paired(way, find, target)


def _best(find: _Finder, template, features, numbered, most_m) -> tuple[str, np.ndarray]:
    n = len(find.measured)
    code = find.by_code(template, features)
    if 2 * np.count_nonzero(code >= 0) >= n:
        return "code", code
    place = find.by_place(most_m)
    number = np.full(n, -1) if numbered is None else find.by_number(numbered)
    n_code, n_place, n_number = (int(np.count_nonzero(t >= 0)) for t in (code, place, number))
    both = (place >= 0) & (number >= 0)
    # Numbers of the crew's own run from 1 as well: where places match, they have to agree.
    if n_number and 2 * n_place >= n:
        agree = np.count_nonzero(place[both] == number[both])
        n_number = n_number if 2 * agree >= np.count_nonzero(both) else 0
    if n_code >= max(n_number, n_place):
        return "code", code
    return ("number", number) if n_number >= n_place else ("place", place)


@dataclass(frozen=True, eq=False)
class _Finder:
    """Ways to find the point of the plan of every measured one: indices into all points, -1 for none."""

    points: PointSet
    everything: Points
    en_m: np.ndarray
    measured: Measured

    def by_code(self, template: str, features) -> np.ndarray:
        """By the description where that says which, else by the name."""
        owners = self.points.owners
        keys = np.full(len(self.measured), -1, np.int64)
        for texts in (self.measured.description, self.measured.name):
            left = np.flatnonzero(keys < 0)
            some = texts if len(left) == len(texts) else [texts[i] for i in left.tolist()]
            keys[left] = keys_in(some, owners, self.everything, template, features)
        return _places_in(keys_of_points(self.everything), keys)

    def by_number(self, numbered: PointSet) -> np.ndarray:
        chosen = numbered.all()
        rank = _places_in(chosen.number, numbers_in(self.measured.name))
        keys = np.where(rank >= 0, keys_of_points(chosen)[rank], -1) if len(chosen) else rank
        return _places_in(keys_of_points(self.everything), keys)

    def by_place(self, most_m: float) -> np.ndarray:
        """The nearest, unless another point of the plan is hardly farther."""
        target = np.full(len(self.measured), -1)
        known = np.flatnonzero(np.isfinite(self.measured.en_m).all(axis=1))
        if not len(known) or not len(self.everything):
            return target
        asked = self.measured.en_m[known]
        low, high = asked.min(axis=0) - 4 * most_m, asked.max(axis=0) + 4 * most_m
        near = _Near(self._rows_in(low, high), self._singles(), self.en_m)
        distance, nearest = near.nearest(asked, most_m)
        hit = np.flatnonzero(distance < most_m)
        # What is farther than twice the reach limits nothing.
        apart = near.apart(nearest[hit], 2.1 * most_m)
        hit = hit[distance[hit] <= np.minimum(most_m, apart / 2)]
        target[known[hit]] = nearest[hit]
        return target

    def _rows_in(self, low, high) -> np.ndarray:
        """What stands in rows, inside a box."""
        inside = (self.en_m >= low) & (self.en_m <= high)
        of_row = self.everything.owner < self.points.owners.n_segments
        return np.flatnonzero(inside[:, 0] & inside[:, 1] & of_row)

    def _singles(self) -> np.ndarray:
        """Corners and control points, one of those that lie on each other."""
        single = np.flatnonzero(self.everything.owner >= self.points.owners.n_segments)
        rounded = np.round(self.en_m[single] / _SAME_M)
        _, first = np.unique(rounded, axis=0, return_index=True)
        return single[np.sort(first)]


class _Near:
    """Points of the plan by place: those of rows, and single ones that lie on none of them."""

    def __init__(self, rows: np.ndarray, singles: np.ndarray, en_m: np.ndarray):
        self.en_m = en_m - en_m[0]  # small numbers are told apart more finely
        self.origin = en_m[0]
        self.parts = [self._part(rows)] if len(rows) else []
        if self.parts and len(singles):
            distance, _ = self.parts[0][1].query(self.en_m[singles])
            singles = singles[distance > _SAME_M]
        if len(singles):
            self.parts.append(self._part(singles))

    def _part(self, which: np.ndarray):
        from scipy.spatial import cKDTree

        return which, cKDTree(self.en_m[which], balanced_tree=False, compact_nodes=False)

    def nearest(self, en_m: np.ndarray, most_m: float) -> tuple[np.ndarray, np.ndarray]:
        """How far the nearest is, infinite beyond `most_m`, and which of all it is."""
        distance, found = np.full(len(en_m), np.inf), np.zeros(len(en_m), np.intp)
        for which, tree in self.parts:
            far, at = tree.query(en_m - self.origin, distance_upper_bound=most_m)
            better = far < distance
            distance[better], found[better] = far[better], which[at[better]]
        return distance, found

    def apart(self, points: np.ndarray, most_m: float) -> np.ndarray:
        """How far the nearest other point is from some of all, infinite beyond `most_m`."""
        distance = np.full(len(points), np.inf)
        for which, tree in self.parts:
            far, at = tree.query(self.en_m[points], k=2, distance_upper_bound=most_m)
            itself = np.append(which, -1)[at[:, 0]] == points
            distance = np.minimum(distance, np.where(itself, far[:, 1], far[:, 0]))
        return distance


def _places_in(known: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """Where each wanted number stands in `known`, -1 for none."""
    if not len(known):
        return np.full(len(wanted), -1)
    order = np.argsort(known, kind="stable")
    at = np.minimum(np.searchsorted(known, wanted, sorter=order), len(known) - 1)
    found = order[at]
    return np.where(known[found] == wanted, found, -1)


def _paired(way: str, find: _Finder, target: np.ndarray) -> Matched:
    strange, there = np.flatnonzero(target < 0), np.flatnonzero(target >= 0)
    best_first = there[::-1]
    if way == "place":
        step = find.measured.en_m[best_first] - find.en_m[target[best_first]]
        best_first = best_first[np.argsort(np.hypot(*step.T), kind="stable")]
    _, first = np.unique(target[best_first], return_index=True)
    pairs = best_first[first]
    doubled = np.setdiff1d(there, pairs, assume_unique=True)
    return Matched(way, find.everything, target[pairs], pairs, strange, doubled)
