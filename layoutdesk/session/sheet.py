"""What is on a printed plan: paper, a round scale, where things go in millimetres, and the words."""

from __future__ import annotations

import datetime
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import shapely

from ..core.model import InputProblem, Project
from .layouts import LayoutAnswer
from .sheet_words import Section, sections_of
from .survey import SurveyView
from .units import unit_length_m
from .view import scale_bar

if TYPE_CHECKING:
    from .terrain_picture import TerrainPicture

MARGIN_MM = 12.0
HEAD_MM = 18.0
"""Of title, revision and scale at the top of every page. [mm]"""
STRIP_MM = 13.0
"""Of north arrow, scale bar and legend under the plan. [mm]"""
GUTTER_MM = 7.0
PLAN_INSET_MM = 8.0
"""Kept round the outlines inside the plan's frame, for row numbers. [mm]"""
_NARROW_MM, _WIDE_MM = 72.0, 92.0
_PLAN_SHARE_UPRIGHT = 0.56

_SIZES_MM = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "Letter": (215.9, 279.4),
    "Tabloid": (279.4, 431.8),
}
"""Sources: ISO 216 (2007); ANSI/ASME Y14.1, sizes A and B."""
PAPERS = tuple(_SIZES_MM)

_METRIC = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.5)
"""Round steps within a power of ten, as on metric scale rules (common practice)."""
_FEET = (10, 20, 30, 40, 50, 60)
"""Feet an inch within a power of ten, as on engineers' scale rules (common practice)."""
_INCH_M = 0.0254


@dataclass(frozen=True)
class Box:
    """A rectangle on the paper, from its left and top. [mm]"""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float


@dataclass(frozen=True)
class Paper:
    """A sheet as it lies. [mm]"""

    name: str
    width_mm: float
    height_mm: float

    @property
    def landscape(self) -> bool:
        return self.width_mm > self.height_mm


def paper_named(name: str, landscape: bool = True) -> Paper:
    """A paper of PAPERS, lying or upright.

    Examples
    --------
    >>> paper_named("A4"), paper_named("A4", landscape=False).width_mm
    (Paper(name='A4', width_mm=297.0, height_mm=210.0), 210.0)
    """
    if name not in _SIZES_MM:
        raise ValueError(f"name: {name!r} is none of {', '.join(PAPERS)}")
    short, long = _SIZES_MM[name]
    return Paper(name, long, short) if landscape else Paper(name, short, long)


@dataclass(frozen=True)
class SheetScale:
    """A round scale 1 : `ratio`, in words."""

    ratio: float
    words: str

    def on_paper_mm(self, ground_m):
        """Length on the paper of one on the ground. [mm]"""
        return ground_m * 1000.0 / self.ratio

    def on_ground_m(self, paper_mm):
        """Length on the ground of one on the paper. [m]"""
        return paper_mm * self.ratio / 1000.0


def fitting_scale(wide_m: float, high_m: float, room: Box, unit: str = "m") -> SheetScale:
    """The largest round scale at which an extent fits into a box.

    Parameters
    ----------
    wide_m, high_m : float
        Of what is drawn. [m]
    room : Box
    unit : str
        "m" for 1 : N with a round N; "ft" or "usft" for 1 in to a round number of feet.

    Examples
    --------
    >>> fitting_scale(348, 361, Box(0, 0, 180, 150)).words
    '1 : 2500'
    >>> fitting_scale(300, 200, Box(0, 0, 180, 150), "ft").words
    '1 in = 200 ft (1 : 2400)'
    """
    least = max(wide_m / room.width_mm, high_m / room.height_mm, 1e-6) * 1000.0
    if unit == "m":
        ratio = _next_round(least, _METRIC)
        return SheetScale(ratio, f"1 : {ratio:g}" if ratio < 1e6 else f"1 : {ratio:.0f}")
    foot_m = unit_length_m(unit)
    feet = _next_round(least * _INCH_M / foot_m, _FEET)
    ratio = feet * foot_m / _INCH_M
    label = "US ft" if unit == "usft" else "ft"
    return SheetScale(ratio, f"1 in = {feet:g} {label} (1 : {ratio:.0f})")


def _next_round(least: float, steps) -> float:
    """The smallest of steps times powers of ten that is not less."""
    power = 10.0 ** np.floor(np.log10(least / steps[-1]))
    rounds = (step * p for p in (power, 10 * power) for step in steps)
    return float(next(r for r in rounds if r >= least * (1 - 1e-9)))


@dataclass(frozen=True)
class Bar:
    """A scale bar of round length: its label, and its length on the paper. [mm]"""

    label: str
    length_m: float
    length_mm: float


@dataclass(frozen=True)
class Sheet:
    """A printed plan, apart from how it is painted.

    Attributes
    ----------
    title, revision, day, system : str
        Of the head.
    plan : Box
        The frame round the plan.
    first_columns, later_columns : tuple of Box
        Where text goes on the first page and on every other one; all are equally wide.
    centre_m : (float, float)
        Site frame place at the middle of the plan's frame. [m]
    names : tuple of (str, float, float)
        Block names and where they stand in the site frame. [m]
    convergence_deg : float
        Direction of grid north, clockwise from true north. [deg]
    unit : str
        Of heights on contours.
    ground : TerrainPicture or None
        Contours, where heights are known.
    """

    paper: Paper
    title: str
    revision: str
    day: str
    system: str
    plan: Box
    first_columns: tuple[Box, ...]
    later_columns: tuple[Box, ...]
    centre_m: tuple[float, float]
    scale: SheetScale
    bar: Bar
    convergence_deg: float
    names: tuple[tuple[str, float, float], ...]
    sections: tuple[Section, ...]
    unit: str = "m"
    ground: TerrainPicture | None = None

    def place_mm(self, xy_m) -> np.ndarray:
        """Where places of the site frame lie on the paper, (…, 2), from its left and top. [mm]"""
        xy = np.asarray(xy_m, dtype=float)
        middle = np.array(
            [self.plan.x_mm + self.plan.width_mm / 2, self.plan.y_mm + self.plan.height_mm / 2]
        )
        return middle + self.scale.on_paper_mm(xy - self.centre_m) * (1, -1)


def sheet_of(
    project: Project,
    answer: LayoutAnswer,
    survey: SurveyView,
    unit: str = "m",
    paper: Paper | tuple[str, bool] = ("A4", True),
    *,
    day: datetime.date | None = None,
) -> Sheet:
    """The sheet of a settled layout.

    Parameters
    ----------
    project : Project
        The one that was laid out.
    answer : LayoutAnswer
        Settled.
    survey : SurveyView
    unit : str
        Of lengths in the text; foot units get a scale of feet an inch.
    paper : Paper or (str, bool)
        Or a name of PAPERS and whether it lies.
    day : datetime.date, optional
        Printed in the head; the project's own where it is left out.

    Raises
    ------
    InputProblem
        Where the project has no block.
    """
    from ..formats.project_file import revision_of

    x0, y0, x1, y1 = _bounds(project)
    paper = paper if isinstance(paper, Paper) else paper_named(*paper)
    plan, first, later = _regions(paper)
    scale = fitting_scale(x1 - x0, y1 - y0, _inside(plan), unit)
    day = day or project.day
    return Sheet(
        paper,
        project.name,
        revision_of(project),
        day.isoformat() if day else "",
        survey.grid.name,
        plan,
        first,
        later,
        ((x0 + x1) / 2, (y0 + y1) / 2),
        scale,
        sheet_bar(scale, unit, min(60.0, plan.width_mm / 3)),
        survey.grid.convergence_deg,
        tuple(_name_place(b) for b in project.blocks),
        sections_of(project, answer, survey, unit),
        unit,
        _ground(project, answer),
    )


def _ground(project: Project, answer: LayoutAnswer) -> TerrainPicture | None:
    if answer.terrain is None or project.terrain is None or not project.terrain.contour_m:
        return None
    from .terrain_picture import terrain_picture

    outlines = [b.outline for b in project.blocks]
    return terrain_picture(answer.terrain, outlines, project.terrain.contour_m, False)


def best_paper(project: Project, name: str, unit: str = "m") -> Paper:
    """A paper turned the way that shows the project larger; lying where both are alike."""
    x0, y0, x1, y1 = _bounds(project)

    def ratio(paper: Paper) -> float:
        return fitting_scale(x1 - x0, y1 - y0, _inside(_regions(paper)[0]), unit).ratio

    return min((paper_named(name, True), paper_named(name, False)), key=ratio)


def scale_on(project: Project, paper: Paper, unit: str = "m") -> SheetScale:
    """The scale the project gets on a paper as it lies."""
    x0, y0, x1, y1 = _bounds(project)
    return fitting_scale(x1 - x0, y1 - y0, _inside(_regions(paper)[0]), unit)


def _bounds(project: Project) -> tuple[float, float, float, float]:
    if not project.blocks:
        raise InputProblem(f"{project.name} has no block to print: draw one or open its outline.")
    return tuple(shapely.total_bounds([b.outline for b in project.blocks]).tolist())


def _name_place(block) -> tuple[str, float, float]:
    place = shapely.maximum_inscribed_circle(block.outline, tolerance=1.0).coords[0]
    return block.name, float(place[0]), float(place[1])


def _inside(plan: Box) -> Box:
    by = 2 * PLAN_INSET_MM
    return replace(plan, width_mm=plan.width_mm - by, height_mm=plan.height_mm - by)


def _regions(paper: Paper) -> tuple[Box, tuple[Box, ...], tuple[Box, ...]]:
    """The plan's frame, and the columns of text on the first page and on the others."""
    left, top = MARGIN_MM, MARGIN_MM + HEAD_MM
    wide = paper.width_mm - 2 * MARGIN_MM
    high = paper.height_mm - MARGIN_MM - top
    if paper.landscape:
        column = min(max(0.28 * wide, _NARROW_MM), _WIDE_MM)
        plan = Box(left, top, wide - column - GUTTER_MM, high - STRIP_MM)
        first = (Box(left + wide - column, top, column, high),)
    else:
        count = max(2, int((wide + GUTTER_MM) / (_WIDE_MM + GUTTER_MM)))
        column = (wide + GUTTER_MM) / count - GUTTER_MM
        plan = Box(left, top, wide, _PLAN_SHARE_UPRIGHT * high - STRIP_MM)
        below = top + _PLAN_SHARE_UPRIGHT * high + GUTTER_MM / 2
        first = _columns(left, below, column, paper.height_mm - MARGIN_MM - below, count)
    fit = int((wide + GUTTER_MM) / (column + GUTTER_MM) + 1e-6)
    return plan, first, _columns(left, top, column, high, fit)


def _columns(left: float, top: float, wide: float, high: float, count: int) -> tuple[Box, ...]:
    return tuple(Box(left + i * (wide + GUTTER_MM), top, wide, high) for i in range(count))


def sheet_bar(scale: SheetScale, unit: str, most_mm: float) -> Bar:
    """A bar of round length, no longer on the paper than it may be."""
    units, length_mm = scale_bar(1000.0 / scale.ratio, unit_length_m(unit), most_mm)
    label = "US ft" if unit == "usft" else unit
    return Bar(f"{units:g} {label}", units * unit_length_m(unit), length_mm)
