"""What the files of a drip system are written from, and the codes of its laterals and vines."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..core.layout.numbering import segment_code
from ..core.model import Finding, Project, RowPlan
from ..core.water.design import WaterDesign, WaterSet
from ..core.water.judgement import Judgement
from ..core.water.parts import Part
from ..core.water.run_times import RunTimes
from .stake_chunks import clean
from .stakeset import SurveyGrid, Transform

if TYPE_CHECKING:
    from .water_pdf_plan import PlanPage, WaterDrawing


@dataclass(frozen=True)
class SetRow:
    """A set in people's units, in the order of the design's sets."""

    number: str
    rows: str
    vines: str
    flow: str
    head: str
    available: str
    eu: str
    du: str
    pipes: str
    wetting: str
    first: str
    week: str


@dataclass(frozen=True)
class PartRow:
    """Something to be bought, in people's units."""

    name: str
    size: str
    block: str
    amount: str


@dataclass(frozen=True)
class MonthTable:
    """Run times of one year: a line a set, a column a month.

    Attributes
    ----------
    title : str
    months : tuple of str
        From planting.
    lines : tuple of tuple of str
        The line's name, then one cell a month.
    """

    title: str
    months: tuple[str, ...]
    lines: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, eq=False)
class WaterFiles:
    """Everything the files of a drip system are written from.

    Attributes
    ----------
    project : Project
    plans : tuple of RowPlan
    design : WaterDesign
    judgement : Judgement
    run_times : RunTimes
    parts : tuple of Part
    findings : tuple of Finding
    survey : SurveyGrid
    to_survey : function
        (n, 2) site frame x, y [m] to (n, 2) easting, northing in the survey unit.
    revision : str
    day : datetime.date or None
    terrain : str
        Where heights come from; empty where there are none.
    unit : str
        Of lengths for people.
    sentences : tuple of str
        Of the judgement.
    found : tuple of str
        Findings in people's units.
    figures : tuple of (str, str, str)
        Name, value, meaning.
    set_rows : tuple of SetRow
    part_rows : tuple of PartRow
    months : tuple of MonthTable
    weeks : tuple of tuple of str
        A line a week for the whole site, under `week_titles`.
    week_titles : tuple of str
    before : str
        What is run before and right after planting.
    paragraphs : tuple of (str, str)
        Headings with what was decided, in words.
    assumed : tuple of str
        What nobody said, so that it was assumed.
    classes : tuple of str
        Whose words of uniformity are used.
    notes : tuple of str
        Where the network differs from the design.
    cautions : tuple of str
    plan_pages : tuple of PlanPage
        Plans that are drawn: the whole site first.
    drawing : WaterDrawing or None
        What is drawn on them.
    worst : tuple of (float array, shape (2, 2); str)
        Stretches of vines that get too little or too much, and their share in words. [m]
    contours : tuple of float array, shape (n, 3)
        Lines of equal height, each place [m] with the height in people's unit.
    contour_words : str
        What they are.
    """

    project: Project
    plans: tuple[RowPlan, ...]
    design: WaterDesign
    judgement: Judgement
    run_times: RunTimes
    parts: tuple[Part, ...]
    findings: tuple[Finding, ...]
    survey: SurveyGrid
    to_survey: Transform
    revision: str
    day: datetime.date | None = None
    terrain: str = ""
    unit: str = "m"
    sentences: tuple[str, ...] = ()
    found: tuple[str, ...] = ()
    figures: tuple[tuple[str, str, str], ...] = ()
    set_rows: tuple[SetRow, ...] = ()
    part_rows: tuple[PartRow, ...] = ()
    months: tuple[MonthTable, ...] = ()
    weeks: tuple[tuple[str, ...], ...] = ()
    week_titles: tuple[str, ...] = ()
    before: str = ""
    paragraphs: tuple[tuple[str, str], ...] = ()
    assumed: tuple[str, ...] = ()
    classes: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    plan_pages: tuple[PlanPage, ...] = ()
    drawing: WaterDrawing | None = None
    worst: tuple[tuple[np.ndarray, str], ...] = ()
    contours: tuple[np.ndarray, ...] = ()
    contour_words: str = ""

    @property
    def said_of(self) -> str:
        """Revision, and the day where one is given."""
        return f"Revision {self.revision}" + (f", {self.day.isoformat()}" if self.day else "")

    @property
    def statement(self) -> str:
        """One line every file carries: what was designed, on which heights, in which state."""
        heights = self.heights_said.rstrip(".")
        return f"{self.project.name}; {heights[0].lower()}{heights[1:]}; revision {self.revision}"

    @property
    def heights_said(self) -> str:
        """Where heights come from, and that the ground is taken to be level where they are not known."""
        if self.terrain:
            return self.terrain
        if self.design.lines.laterals.outlet_height_m.any():
            return "Heights of the ground are known."
        return "Heights of the ground are not known: it is taken to be level."

    @cached_property
    def lateral_codes(self) -> tuple[str, ...]:
        """Code of every lateral: that of its first segment, (n,)."""
        names = [clean(p.block.name) for p in self.plans]
        return lateral_codes(self.design, lambda block: names[block])

    @cached_property
    def vines_of_lateral(self) -> np.ndarray:
        """Vines on every lateral, int (n,)."""
        lines = self.design.lines
        return np.bincount(lines.vine_lateral, minlength=len(lines.laterals))

    def vines_of(self, one: WaterSet) -> int:
        """Vines that a set waters."""
        return int(self.vines_of_lateral[one.laterals].sum())


def lateral_codes(design: WaterDesign, name_of: Callable[[int], str]) -> tuple[str, ...]:
    """Code of every lateral, blocks being called as `name_of` their index says."""
    lines = design.lines
    triples = zip(lines.block.tolist(), lines.number.tolist(), lines.letter.tolist(), strict=True)
    return tuple(segment_code(name_of(b), number, letter) for b, number, letter in triples)
