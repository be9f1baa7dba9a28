"""How many vines of a lot to look at, which ones, and what the result says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..model.planting import Inspecting


@dataclass(frozen=True)
class SamplePlan:
    """Look at `size` of `lot_size` vines; up to `accept` faulty ones are accepted.

    `found_out_pct` is the chance that a lot with `tolerated_pct` faulty vines is *not* accepted. [%]
    """

    lot_size: int
    size: int
    accept: int
    tolerated_pct: float
    found_out_pct: float


def accept_chance(lot_size: int | None, faulty: float, size: int, accept: int) -> float:
    """Chance that a lot is accepted: hypergeometric for a lot with `faulty` vines in it; binomial, with
    `faulty` the share, where `lot_size` is None."""
    raise NotImplementedError


def sample_plan(
    lot_size: int, tolerated_pct: float, confidence_pct: float, accept: int = 0
) -> SamplePlan:
    """The smallest sample that finds a lot out with the confidence asked for."""
    raise NotImplementedError


@dataclass(frozen=True)
class TableRow:
    """A row of the printed single-sampling table (MIL-STD-105E, general level II, normal inspection)."""

    letter: str
    size: int
    accept: int
    reject: int


def printed_plan(lot_size: int, aql_pct: float) -> TableRow | None:
    """What the printed table gives for a lot; its arrows are followed to the row they point to."""
    raise NotImplementedError


def drawn(group: np.ndarray, segment: np.ndarray, sizes: Sequence[int], seed: int) -> np.ndarray:
    """Vines drawn at random from each group (lot), spread over segments in proportion to their vines.

    Parameters
    ----------
    group : int array, shape (n,)
        Which group each vine is of, -1 for none.
    segment : int array, shape (n,)
    sizes : sequence of int
        How many of each group.
    seed : int

    Returns
    -------
    int array, rising
        Which of the n; the same for the same arguments on every machine and in every version to come.
    """
    raise NotImplementedError


def share_bounds(faulty: int, size: int, confidence_pct: float = 95.0) -> tuple[float, float]:
    """Clopper–Pearson bounds of a share. [%]"""
    raise NotImplementedError


@dataclass(frozen=True, eq=False)
class Sample:
    """Vines to inspect, lot by lot.

    Attributes
    ----------
    lots : tuple of str
        Names of the lots that are sampled; "" for vines whose lot nobody said.
    plans : tuple of SamplePlan
        One a lot.
    printed : tuple of TableRow or None
        What the printed table gives for the same lot at the tolerated share as its AQL, where it has that.
    vines : int array, rising
        Vines to look at, counted as in `Assigned`.
    sheet : int array
        Inspector of each, 0 first; every inspector has whole rows, as even as rows allow.
    """

    lots: tuple[str, ...]
    plans: tuple[SamplePlan, ...]
    printed: tuple[TableRow | None, ...]
    vines: np.ndarray
    sheet: np.ndarray


def sampled(
    lot: np.ndarray, names: Sequence[str], segment: np.ndarray, inspecting: Inspecting
) -> Sample:
    """The sample of a site.

    Parameters
    ----------
    lot : int array, shape (n,)
        Index of `names` for each vine: what was planted where that is on record, else what is assigned;
        -1 for none.
    names : sequence of str
    segment : int array, shape (n,)
    inspecting : Inspecting
    """
    raise NotImplementedError
