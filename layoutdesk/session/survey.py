"""The survey grid as a person reads it: coordinates under the cursor, units, factors, norths."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..core.model import Project
from ..formats import crs as systems
from ..formats.bearings import NorthOffsets, north_offsets
from ..formats.stakeset import SurveyGrid, Transform


@dataclass(frozen=True)
class SurveyView:
    """What the foot of the window and the specification say about the survey grid."""

    grid: SurveyGrid
    norths: NorthOffsets
    to_survey: Transform

    @property
    def people_unit(self) -> str:
        """The unit its people think in: "m", "ft" or "usft"."""
        return {"US survey foot": "usft", "foot": "ft"}.get(self.grid.unit, "m")

    @property
    def system(self) -> str:
        return f"{self.grid.name}, {self.grid.unit}, grid coordinates"

    @property
    def factor(self) -> str:
        """The combined factor and what it does to 100 m."""
        per_100_mm = self.grid.ppm / 10
        way = "more" if per_100_mm > 0 else "less"
        return (
            f"Combined factor {self.grid.combined_factor:.6f}: {abs(per_100_mm):.1f} mm {way} per "
            "100 m on the grid"
        )

    def coordinates(self, x_m: float, y_m: float) -> str:
        """Easting and northing of a place in the site frame."""
        easting, northing = self.to_survey(np.array([[x_m, y_m]]))[0]
        unit = {"metre": "m", "foot": "ft", "US survey foot": "US ft"}.get(
            self.grid.unit, self.grid.unit
        )
        return f"E {easting:,.2f}   N {northing:,.2f} {unit}".replace(",", "\u202f")


def survey_view(project: Project) -> SurveyView:
    """The survey grid of a project."""
    frame, crs = project.site.frame, project.site.survey_crs
    grid = systems.survey_grid(frame, crs)
    return SurveyView(
        grid,
        north_offsets(frame, grid.convergence_deg, project.day),
        systems.frame_to_survey(frame, crs),
    )
