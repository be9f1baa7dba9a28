"""The stake-out set: what is written, in which systems, by which transforms."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..core.model import Finding, Project, RowPlan


@dataclass(frozen=True)
class SurveyGrid:
    """The survey system at the site's origin.

    Attributes
    ----------
    crs : str
        Code such as EPSG:32754 where there is one, else WKT.
    name : str
    unit : str
        "metre", "US survey foot", "foot", or the system's own name for it.
    unit_m : float
        Length of the unit. [m]
    point_scale : float
        Scale of the grid at the origin on the ellipsoid.
    combined_factor : float
        Grid distance over ground distance: point scale times R / (R + h).
    convergence_deg : float
        Direction of grid north seen from true north, clockwise: grid bearing = true bearing -
        convergence. [deg]
    """

    crs: str
    name: str
    unit: str
    unit_m: float
    point_scale: float
    combined_factor: float
    convergence_deg: float

    @property
    def statement(self) -> str:
        """System, unit, grid or ground, combined factor, in one line."""
        known_as = self.crs if len(self.crs) < 40 else "own definition"
        return (
            f"{self.name} ({known_as}); unit {self.unit} = {self.unit_m:.12g} m; grid coordinates; "
            f"combined factor {self.combined_factor:.9f} at the site ({self.ppm:+.1f} ppm, "
            f"{self.ppm / 100:+.2f} cm per 100 m)"
        )

    @property
    def ppm(self) -> float:
        """Grid against ground, parts per million."""
        return (self.combined_factor - 1) * 1e6


Transform = Callable[[np.ndarray], np.ndarray]


@dataclass(frozen=True)
class StakeSet:
    """Everything the stake-out files are written from.

    Attributes
    ----------
    project : Project
    plans : tuple of RowPlan
        One a block, in the project's order.
    survey : SurveyGrid
    to_survey : function
        (n, 2) site frame x, y [m] to (n, 2) easting, northing in the survey unit.
    to_wgs84 : function
        (n, 2) site frame x, y [m] to (n, 2) longitude, latitude on WGS 84. [deg]
    wgs84_shift : str
        The datum shift used for WGS 84 and its accuracy, in words.
    revision : str
        Short mark of the project's state, the same in all files of a set.
    findings : tuple of Finding
    heights : function or None
        (n, 2) site frame x, y [m] to (n,) heights of the ground, NaN where not known [m]; None where
        nothing is known of the ground.
    heights_said : str
        Where the heights come from, in one line.
    """

    project: Project
    plans: tuple[RowPlan, ...]
    survey: SurveyGrid
    to_survey: Transform
    to_wgs84: Transform
    wgs84_shift: str
    revision: str
    findings: tuple[Finding, ...] = ()
    heights: Callable[[np.ndarray], np.ndarray] | None = None
    heights_said: str = ""

    @cached_property
    def n_without_height(self) -> int:
        """Posts, anchors and vines whose ground is not known; 0 where no heights are given at all."""
        if self.heights is None:
            return 0
        marks = (m for plan in self.plans for m in plan.marks() if len(m))
        return sum(int(np.isnan(self.heights(m.xy_m)).sum()) for m in marks)

    @property
    def statement(self) -> str:
        """One line every file carries: system, unit, grid or ground, combined factor, revision."""
        return f"{self.survey.statement}; revision {self.revision}"
