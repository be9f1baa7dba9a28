"""What was staked against the plan, as a request and an answer, so that a window never waits."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..core.model import Finding, Project, RowPlan
from ..core.staking.blunders import Explanation
from ..core.staking.matching import Matched, Measured
from ..core.staking.residuals import Histogram, Residuals
from ..formats.handoffset import HandOffSet


@dataclass(frozen=True, eq=False)
class StakedRequest:
    """Compare the points of a file with `project` as laid in `plans`.

    Attributes
    ----------
    path : Path
    columns : str
        Of a table without known headings: "point, northing, easting, elevation, description"; empty to find out.
    unit : str
        Of UNITS; empty for the hand-off's.
    way : str
        Of `matching.WAYS`; empty for the best.
    layer : str
        Of a file with several; empty for all that hold points.
    """

    revision: int
    project: Project
    plans: tuple[RowPlan, ...]
    path: Path
    columns: str = ""
    unit: str = ""
    way: str = ""
    layer: str = ""
    project_path: Path | None = None


@dataclass(frozen=True, eq=False)
class StakedAnswer:
    """Everything that measured points tell.

    Attributes
    ----------
    hand : HandOffSet
        With all posts, anchors, vines and control points chosen, whatever the project hands off.
    measured : Measured
    matched : Matched
    residuals : Residuals
    tolerance_m : float array, shape (m,)
        Of each pair. [m]
    worst : int array
        Pairs beyond their tolerance, the farthest first.
    histogram : Histogram
        Of distances in plan.
    explanations : tuple of Explanation
    findings : tuple of Finding
    checksum : str
        First 12 hexadecimal digits of the file's SHA-256.
    read_said : str
        How the file was read, in one line: format, unit, columns, system.
    """

    request: StakedRequest
    hand: HandOffSet
    measured: Measured
    matched: Matched
    residuals: Residuals
    tolerance_m: object
    worst: object
    histogram: Histogram
    explanations: tuple[Explanation, ...]
    findings: tuple[Finding, ...]
    checksum: str
    read_said: str


def as_staked(request: StakedRequest) -> StakedAnswer:
    """Read, match, compare and explain.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or nothing in it matches the plan.
    """
    raise NotImplementedError
