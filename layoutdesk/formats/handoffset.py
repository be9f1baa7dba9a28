"""The hand-off: what its files are written from, and where its coordinates stand."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..core.model import Finding, Project, RowPlan
from ..core.model.handoff import HandOff
from ..core.staking.lines import PlanLines
from ..core.staking.points import PointSet
from .stakeset import SurveyGrid, Transform

Progress = Callable[[float], None]


@dataclass(frozen=True, eq=False)
class Placing:
    """Where places of the site frame stand in written coordinates.

    Attributes
    ----------
    grid : SurveyGrid
    coordinates : str
        Of COORDINATES.
    unit : str
        Of written coordinates: "metre", "foot", "US survey foot", or the grid's own name for it.
    unit_m : float
        [m]
    matrix : float array, shape (2, 3)
        From easting, northing on the grid in the grid's unit to written ones in the grid's unit: the
        identity for grid coordinates.
    height_plane : (float, float, float, float, float)
        Added to heights: (shift, per easting, per northing, about easting, about northing), all in the grid's unit.
    to_grid : function
        (n, 2) site frame [m] to (n, 2) easting, northing on the grid, in its unit.
    from_grid : function
        The way back.
    statement : str
        System, unit, grid or ground or calibrated and how, combined factor, vertical datum: one line.
    """

    grid: SurveyGrid
    coordinates: str
    unit: str
    unit_m: float
    matrix: np.ndarray
    height_plane: tuple[float, float, float, float, float]
    to_grid: Transform
    from_grid: Transform
    statement: str

    def placed(self, xy_m: np.ndarray) -> np.ndarray:
        """(n, 2) of easting, northing as they are written, of places in the site frame."""
        on_grid = self.to_grid(xy_m)
        scale = self.grid.unit_m / self.unit_m
        if self.coordinates == "grid":
            return on_grid if scale == 1.0 else on_grid * scale
        return (on_grid @ self.matrix[:, :2].T + self.matrix[:, 2]) * scale

    def back(self, en: np.ndarray) -> np.ndarray:
        """(n, 2) of the site frame [m] of written easting, northing."""
        written = np.asarray(en, dtype=float) * (self.unit_m / self.grid.unit_m)
        if self.coordinates != "grid":
            written = np.linalg.solve(self.matrix[:, :2], (written - self.matrix[:, 2]).T).T
        return self.from_grid(written)

    def elevations(self, xy_m: np.ndarray, heights_m: np.ndarray) -> np.ndarray:
        """(n,) of elevations as they are written, of heights of the ground there. [m]"""
        raised = np.asarray(heights_m, dtype=float)
        shift, per_e, per_n, e, n = self.height_plane
        if any(self.height_plane[:3]):
            on_grid = self.to_grid(xy_m)
            added = shift + per_e * (on_grid[:, 0] - e) + per_n * (on_grid[:, 1] - n)
            raised = raised + added * self.grid.unit_m
        return raised / self.unit_m


@dataclass(frozen=True, eq=False)
class HandOffSet:
    """Everything the files of a hand-off are written from.

    Attributes
    ----------
    project : Project
    plans : tuple of RowPlan
        One a block, in the project's order.
    hand : HandOff
        What is asked for.
    placing : Placing
    points : PointSet
    lines : PlanLines
    to_wgs84 : function
        (n, 2) site frame [m] to (n, 2) longitude, latitude. [deg]
    wgs84_shift : str
        The datum shift used for WGS 84 and its accuracy, in words.
    revision, plan : str
        Marks of the project's state and of its plan, the same in all files.
    day : datetime.date
        Printed on the files.
    findings : tuple of Finding
        Of the plan and of the hand-off.
    own_findings : tuple of Finding
        Of the hand-off alone.
    heights : function or None
        (n, 2) site frame [m] to (n,) heights of the ground, NaN where not known [m].
    heights_said : str
    """

    project: Project
    plans: tuple[RowPlan, ...]
    hand: HandOff
    placing: Placing
    points: PointSet
    lines: PlanLines
    to_wgs84: Transform
    wgs84_shift: str
    revision: str
    plan: str
    day: datetime.date
    findings: tuple[Finding, ...] = ()
    heights: Callable[[np.ndarray], np.ndarray] | None = None
    heights_said: str = ""
    own_findings: tuple[Finding, ...] = ()

    @property
    def statement(self) -> str:
        """One line every file carries."""
        return f"{self.placing.statement}; revision {self.revision}"

    def elevations(self, xy_m: np.ndarray) -> np.ndarray | None:
        """(n,) of elevations as written, NaN where not known; None where nothing is known of the ground."""
        return None if self.heights is None else self.placing.elevations(xy_m, self.heights(xy_m))
