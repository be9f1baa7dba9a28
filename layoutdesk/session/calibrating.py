"""What the control points of a project do to its coordinates."""

from __future__ import annotations

from dataclasses import replace

from ..core.model import Finding, Project
from ..core.staking.calibration import Calibrated
from .hand_off_set import hand_off_of

__all__ = ["Calibrated", "calibrated"]


def calibrated(project: Project) -> Calibrated | None:
    """The calibration, whether coordinates are calibrated or not; None where nothing is measured.

    Raises
    ------
    InputProblem
        Where the survey system cannot be used.
    """
    from ..formats import crs as systems
    from ..formats.placing import calibrated_on, is_stated_elsewhere

    hand = hand_off_of(project)
    if not any(p.is_measured or p.has_heights for p in hand.control):
        return None
    grid = systems.survey_grid(project.site.frame, project.site.survey_crs)
    found = calibrated_on(project, grid)
    if not is_stated_elsewhere(project):
        return found
    refused = (
        "The control points are stated in another survey system than the plan's: state them again."
    )
    return replace(found, refused=refused, findings=(Finding("stated-elsewhere", refused),))
