"""Inspection and survival told by lot, row and cause, and what is to be planted again."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .standing import Standing


@dataclass(frozen=True)
class Tally:
    """Of a lot, a row or the site: how many were looked at, how many were faulty (or failed), with bounds.

    `share_pct` is faulty of looked at; `low_pct`, `high_pct` its Clopper–Pearson bounds at 95 %. `items` tells
    faults by item of CHECKS, or losses by cause.
    """

    name: str
    size: int
    faulty: int
    share_pct: float
    low_pct: float
    high_pct: float
    items: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class Rework:
    """A row to go over again: faults found in it, or more than its lot may have."""

    row: str
    why: str
    places: tuple[int, ...]


@dataclass(frozen=True)
class Result:
    """What an inspection found."""

    by_lot: tuple[Tally, ...]
    by_row: tuple[Tally, ...]
    rework: tuple[Rework, ...]
    accepted: tuple[tuple[str, bool | None], ...]


@dataclass(frozen=True)
class ReplantLine:
    """Positions to plant again with what stood there, by the plant's lot."""

    lot: str
    plant: str
    places: np.ndarray
    order: int


@dataclass(frozen=True)
class Survival:
    """`replacement_pct` is 100·A/(B·C) as published: A dead or missing, B vines a row, C rows counted."""

    site: Tally
    by_lot: tuple[Tally, ...]
    by_row: tuple[Tally, ...]
    by_cause: tuple[tuple[str, int], ...]
    replacement_pct: float
    replant: tuple[ReplantLine, ...]


def inspection_result(now: Standing, accept: int) -> Result:
    """Of all vines that were checked since they were planted."""
    raise NotImplementedError


def survival(now: Standing, spares_pct: float = 0.0) -> Survival:
    """Of all positions that were ever planted: a vine that died and was planted again counts as a loss."""
    raise NotImplementedError
