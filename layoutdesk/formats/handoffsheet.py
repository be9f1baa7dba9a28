"""The hand-off sheet: texts, tables and a small plan, ready to be set."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import numpy as np

from ..core.model import Block, Exclusion
from .seal import Seal


@dataclass(frozen=True, eq=False)
class SheetTable:
    """A table: titles with "left" or "right", which of the columns wraps, lines, and words under it."""

    columns: tuple[tuple[str, str], ...]
    wrapping: int
    rows: tuple[tuple[str, ...], ...]
    under: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class SheetPart:
    """One part of the sheet.

    Attributes
    ----------
    title : str
    facts : tuple of (str, str)
        A name and what is said of it; a name may be empty.
    table : SheetTable or None
    fields : tuple of str
        Lines to be filled in by hand, by what stands under them.
    """

    title: str
    facts: tuple[tuple[str, str], ...] = ()
    table: SheetTable | None = None
    fields: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class CheckPlan:
    """The small plan, on a page of its own.

    Attributes
    ----------
    width_mm, height_mm : float
        Of the page as it lies.
    frame : (float, float, float, float)
        Left, top, width and height of the plan. [mm]
    ratio : float
        Scale 1 : ratio.
    scale_words, bar_label : str
    bar_mm : float
    centre_m : (float, float)
        Site frame place at the middle of the plan.
    rows_m : float array, shape (k, 2, 2)
        Straight pieces of rows. [m]
    row_mm : float
        From row to row on the paper.
    ends_m, out : float array, shape (e, 2)
        Ends of whole rows, and the unit step outwards there.
    numbers : tuple of int
        Rows of these ends.
    rim : bool array, shape (e,)
        Of the first and last rows of blocks.
    checks_m : float array, shape (c, 2, 2)
        Check lines, numbered from 1. [m]
    control : tuple of (str, float, float)
        Name and place of control points. [m]
    convergence_deg : float
    north_words, said : str
    """

    width_mm: float
    height_mm: float
    frame: tuple[float, float, float, float]
    ratio: float
    scale_words: str
    bar_label: str
    bar_mm: float
    centre_m: tuple[float, float]
    rows_m: np.ndarray
    row_mm: float
    ends_m: np.ndarray
    out: np.ndarray
    numbers: tuple[int, ...]
    rim: np.ndarray
    checks_m: np.ndarray
    control: tuple[tuple[str, float, float], ...]
    convergence_deg: float
    north_words: str
    said: str


@dataclass(frozen=True, eq=False)
class HandOffSheet:
    """What hand-off.pdf is written from.

    Attributes
    ----------
    name : str
        Of the project.
    revision : str
    day : datetime.date
    size_mm : (float, float)
        Width and height of pages with text, upright. [mm]
    first : str
        One sentence over all: what this is, in which coordinates.
    parts : tuple of SheetPart
    plan : CheckPlan
    blocks : tuple of Block
    exclusions : tuple of Exclusion
    seal : Seal
    """

    name: str
    revision: str
    day: datetime.date
    size_mm: tuple[float, float]
    first: str
    parts: tuple[SheetPart, ...]
    plan: CheckPlan
    blocks: tuple[Block, ...]
    exclusions: tuple[Exclusion, ...]
    seal: Seal
