"""Which candidate is best in a line, and which is beaten in every chosen line by another."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from .catalogue import MEASURES


def best_of(values: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Whether each candidate has the best figure of a measure, bool (c,) by name.

    All that share the best figure, to the last decimal that is shown, are; none where they all do,
    or where neither more nor less is better. NaN is never best, nor is a candidate without a vine:
    it may have the fewest posts of all.

    Examples
    --------
    >>> {n: b.tolist() for n, b in best_of({"vines": np.array([5.0, 7.0, 7.0])}).items()}
    {'vines': [False, True, True]}
    """
    return {name: _best(name, v) for name, v in _of_planted(values).items()}


def _of_planted(values: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The figures, NaN for candidates without a vine, float (c,) by name."""
    figures = {name: np.asarray(v, dtype=float) for name, v in values.items()}
    bare = figures["vines"] == 0 if "vines" in figures else False
    return {name: np.where(bare, np.nan, v) for name, v in figures.items()}


def _best(name: str, values: np.ndarray) -> np.ndarray:
    none = np.zeros(len(values), dtype=bool)
    known = np.isfinite(values)
    if not MEASURES[name].better or known.sum() < 2:
        return none
    worth = _worth(name, values)
    if np.ptp(worth[known]) == 0:
        return none
    return known & (worth == worth[known].max())


def _worth(name: str, values: np.ndarray) -> np.ndarray:
    """More is better, to the last decimal that is shown: what looks equal is equal."""
    shown = np.round(values, MEASURES[name].decimals)
    return shown if MEASURES[name].better == "more" else -shown


def beaten_by(values: Mapping[str, np.ndarray], chosen: Sequence[str]) -> np.ndarray:
    """For each candidate another that is at least as good in every chosen measure and better in one.

    Figures are compared to the last decimal that is shown. A chosen measure that `values` has not
    at all is passed over.

    Returns
    -------
    int array, shape (c,)
        The number of that candidate, -1 for none. A candidate without a figure for a chosen measure,
        or without a vine, neither beats nor is beaten.

    Raises
    ------
    ValueError
        Where a chosen measure has no better and worse.

    Examples
    --------
    >>> values = {"vines": np.array([5, 7, 6.0]), "end_posts": np.array([9, 8, 4.0])}
    >>> beaten_by(values, ("vines", "end_posts")).tolist()
    [1, -1, -1]
    """
    n = len(next(iter(values.values()))) if values else 0
    for name in chosen:
        if name not in MEASURES or not MEASURES[name].better:
            raise ValueError(f"chosen: {name!r} is no measure with a better and a worse")
    names = [name for name in chosen if name in values]
    if not names or n < 2:
        return np.full(n, -1, dtype=np.intp)
    known = _of_planted(values)
    worth = np.array([_worth(name, known[name]) for name in names])
    # What is not known compares as false, so it is "no worse" than nothing, nor anything than it.
    no_worse = (worth[:, :, None] >= worth[:, None, :]).all(axis=0)
    beats = no_worse & (worth[:, :, None] > worth[:, None, :]).any(axis=0)
    return np.where(beats.any(axis=0), beats.argmax(axis=0), -1)
