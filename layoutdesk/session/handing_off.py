"""A site's hand-off as a request and an answer, so that a window never waits."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from ..core.model import Finding, Project, RowPlan
from ..formats.handoffset import HandOffSet
from .calibrating import Calibrated, calibrated
from .check_line_words import CheckRow, check_rows
from .control_lines import ControlLine, control_lines
from .coordinate_effect import effect_arrows, effect_words
from .hand_off_drawing import Arrows
from .hand_off_lines import FileLine, file_lines
from .hand_off_set import hand_off_set


@dataclass(frozen=True, eq=False)
class HandOffRequest:
    """Make ready the hand-off of `project` as laid in `plans`; heights are looked for beside `project_path` too."""

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    project_path: Path | None = None
    day: datetime.date | None = None
    unit: str = "m"


@dataclass(frozen=True, eq=False)
class HandOffAnswer:
    """Everything that is shown of a hand-off before it is written.

    Attributes
    ----------
    hand : HandOffSet
    files : tuple of FileLine
    checks : tuple of CheckRow
    control : tuple of ControlLine
    calibrated : Calibrated or None
        None where no control points are measured.
    arrows : Arrows or None
        What ground or calibrated coordinates do at the site.
    effect : str
        The same in words.
    findings : tuple of Finding
    """

    request: HandOffRequest
    hand: HandOffSet
    files: tuple[FileLine, ...]
    checks: tuple[CheckRow, ...]
    control: tuple[ControlLine, ...]
    calibrated: Calibrated | None
    arrows: Arrows | None
    effect: str
    findings: tuple[Finding, ...]


def hand_off_answer(request: HandOffRequest) -> HandOffAnswer:
    """Make everything ready.

    Raises
    ------
    InputProblem
        Where the choice of rows or the day is none, or the survey system cannot be used.
    """
    project = request.project
    hand = hand_off_set(project, request.plans, request.project_path, day=request.day)
    return HandOffAnswer(
        request,
        hand,
        file_lines(hand),
        check_rows(hand, request.unit),
        control_lines(project, request.unit),
        calibrated(project),
        effect_arrows(hand),
        effect_words(hand),
        hand.findings,
    )
