"""What a plan sheet is written from: how it is laid on paper, what is drawn, and all words."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from ..core.geometry.grid_lines import GridTicks
from ..core.model import Exclusion, RowPlan
from .row_table_csv import RowTable

SIDES = ("top", "right", "foot", "left")
"""Of a frame."""


class SheetSection(Protocol):
    """A heading with paragraphs and with names and values; `kind` is "rules", "text" or "caution"."""

    heading: str
    paragraphs: tuple[str, ...]
    figures: tuple[tuple[str, str], ...]
    kind: str


@dataclass(frozen=True, eq=False)
class SheetTile:
    """One sheet of the plan.

    Attributes
    ----------
    number : int
        From 1, row by row from the north, west before east.
    bounds_m : (float, float, float, float)
        What the frame shows: x0, y0, x1, y1 of the site frame. [m]
    neighbours : dict
        Number of the sheet beyond each of SIDES, where there is one.
    crosses_m : float array, shape (k, 2)
        Places of round eastings and northings. [m]
    axes : float array, shape (2, 2)
        Steps along grid east and grid north in the site frame.
    ticks : GridTicks
        Where round eastings and northings cross the frame.
    """

    number: int
    bounds_m: tuple[float, float, float, float]
    neighbours: dict[str, int]
    crosses_m: np.ndarray
    axes: np.ndarray
    ticks: GridTicks

    @property
    def centre_m(self) -> tuple[float, float]:
        x0, y0, x1, y1 = self.bounds_m
        return (x0 + x1) / 2, (y0 + y1) / 2


@dataclass(frozen=True)
class SheetMeasure:
    """A scale 1 : `ratio`, in words, with a scale bar of round length."""

    ratio: float
    words: str
    bar_label: str
    bar_mm: float


@dataclass(frozen=True)
class PlantMark:
    """A class of vines on the plan.

    `letter` stands beside row numbers; empty for vines of which nothing is said, and where there is one
    class alone.
    """

    letter: str
    label: str
    count: str
    is_quiet: bool


@dataclass(frozen=True, eq=False)
class PlanSheet:
    """A plan sheet, or a set of them with an index map.

    Attributes
    ----------
    name : str
        Of the site.
    said_of : str
        Plan mark, revision and day.
    day : datetime.date or None
        The file's own.
    paper : str
    width_mm, height_mm : float
        Of every page, lying. [mm]
    frame, column : (float, float, float, float)
        Left, top, width and height of the plan and of the words beside it. [mm]
    measure : SheetMeasure
        Of the plan.
    tiles : tuple of SheetTile
    index : SheetTile or None
        The whole site on one sheet, where there are several; `index_measure` is its scale.
    plans : tuple of RowPlan
    exclusions : tuple of Exclusion
    alleys : tuple of shapely geometry
        Inside their blocks. [m]
    vine_class : int array, shape (v,)
        Of `marks`, plan after plan.
    marks : tuple of PlantMark
    lost : bool array, shape (v,), or None
        Missing or dead by the register.
    vine_mm, row_mm : float
        From vine to vine and from row to row on the plan, the least of all blocks. [mm]
    grid_unit : str
        Of coordinates along the frame.
    sections : tuple of SheetSection
        All words, the most wanted first.
    reminders : tuple of SheetSection
        What stands on every sheet of several.
    title : tuple of (str, str)
        Title block: names and what the user put there; empty ones are filled in by hand.
    own : tuple of (str, str)
        What the program puts into the title block.
    sheet_name : str
        What the user calls the sheet; empty for nothing.
    rows : RowTable or None
        Printed behind the plan; None where there are too many.
    rows_said : str
        What is said of the row table.
    notes : tuple of str
        Under the legend.
    """

    name: str
    said_of: str
    day: datetime.date | None
    paper: str
    width_mm: float
    height_mm: float
    frame: tuple[float, float, float, float]
    column: tuple[float, float, float, float]
    measure: SheetMeasure
    tiles: tuple[SheetTile, ...]
    index: SheetTile | None
    index_measure: SheetMeasure | None
    plans: tuple[RowPlan, ...]
    exclusions: tuple[Exclusion, ...]
    alleys: tuple
    vine_class: np.ndarray
    marks: tuple[PlantMark, ...]
    lost: np.ndarray | None
    vine_mm: float
    row_mm: float
    grid_unit: str
    sections: tuple[SheetSection, ...]
    reminders: tuple[SheetSection, ...]
    title: tuple[tuple[str, str], ...]
    own: tuple[tuple[str, str], ...]
    sheet_name: str = ""
    rows: RowTable | None = None
    rows_said: str = ""
    notes: tuple[str, ...] = ()

    @property
    def n_sheets(self) -> int:
        """Sheets of the plan, the index map not counted."""
        return len(self.tiles)
