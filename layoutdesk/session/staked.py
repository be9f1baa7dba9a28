"""What was staked against the plan, as a request and an answer, so that a window never waits."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from pathlib import Path

import numpy as np

from ..core.model import Finding, InputProblem, PointChoice, Project, RowPlan
from ..core.model.findings import by_severity
from ..core.model.handoff import POINT_KINDS
from ..core.staking.explanations import Explanation, Facts
from ..core.staking.matching import Matched, Measured, matched
from ..core.staking.points import Points, PointSet
from ..core.staking.residuals import Histogram, Residuals, directions, histogram, residuals
from ..formats.handoffset import HandOffSet, Placing
from .hand_off_set import hand_off_of, hand_off_set, order_mark

_FARTHEST_M = 20_000.0
"""Farther from its point of the plan a measured point is carried over straight, not through the projection. [m]"""


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
        With all points of all kinds chosen, whatever the project hands off.
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
    tolerance_m: np.ndarray
    worst: np.ndarray
    histogram: Histogram
    explanations: tuple[Explanation, ...]
    findings: tuple[Finding, ...]
    checksum: str
    read_said: str

    def code(self, pair: int) -> str:
        """Code of the point of the plan of a pair."""
        return code_of(self.hand.points, self.matched.points, int(self.matched.planned[pair]))

    @property
    def planned_xy_m(self) -> np.ndarray:
        """Where each pair's point stands in the plan, (m, 2). [m]"""
        return self.matched.points.xy_m[self.matched.planned]


def as_staked(request: StakedRequest) -> StakedAnswer:
    """Read, match, compare and explain.

    Raises
    ------
    InputProblem
        Where the file cannot be read, or nothing in it matches the plan.
    """
    from ..core.staking.blunders import explained
    from ..formats.reading.measured import read_measured
    from .staked_findings import nothing_matches, staked_findings

    request = replace(request, path=Path(request.path))
    path, project = request.path, request.project
    hand = _everything(request)
    placing = hand.placing
    read = read_measured(
        path,
        placing,
        columns=request.columns,
        unit=request.unit,
        layer=request.layer,
        frame=project.site.frame,
    )
    found = list(read.findings)
    points = hand.points.all()
    en_m = placing.placed(points.xy_m) * placing.unit_m
    table = hand.hand.table
    pairs = matched(
        hand.points,
        en_m,
        read.measured,
        request.way,
        template=table.description,
        features=table.features,
        numbered=_numbered(request, path),
    )
    if not len(pairs.planned):
        raise InputProblem(nothing_matches(path.name, read.measured, hand, request.way))
    points = pairs.points
    heights_m = _heights(hand, points.xy_m[pairs.planned], read.measured.height_m[pairs.measured])
    measured_xy = _in_frame(placing, points.xy_m, en_m, read.measured.en_m, pairs)
    some = taken_points(points, pairs.planned)
    off = residuals(some.xy_m, measured_xy, directions(hand.plans, some), heights_m)
    asked = hand.hand
    tolerance = np.where(
        some.kind == POINT_KINDS.index("vine"), asked.vine_tolerance_m, asked.tolerance_m
    )
    beyond = np.flatnonzero(off.distance_m > tolerance)
    worst = beyond[np.argsort(-off.distance_m[beyond], kind="stable")]
    n_segments = hand.points.owners.n_segments
    explanations = explained(
        en_m[pairs.planned],
        read.measured.en_m[pairs.measured],
        _facts(hand, project),
        xy_m=some.xy_m,
        row=np.where(some.owner < n_segments, some.owner, -1),
        end=codes_of(hand.points, some),
        heights_m=heights_m,
    )
    answer = StakedAnswer(
        request,
        hand,
        read.measured,
        pairs,
        off,
        tolerance,
        worst,
        histogram(off.distance_m, min(asked.tolerance_m, asked.vine_tolerance_m)),
        explanations,
        (),
        _checksum(path),
        read.said,
    )
    found += staked_findings(answer, _is_as_written(path))
    return replace(answer, findings=by_severity(found))


def _everything(request: StakedRequest) -> HandOffSet:
    """The hand-off with every point of the plan in it."""
    from ..formats.project_file import revision_of

    project = request.project
    chosen = replace(hand_off_of(project), points=PointChoice(kinds=POINT_KINDS[1:]))
    hand = hand_off_set(
        replace(project, hand_off=chosen), request.plans, request.project_path, day=project.day
    )
    return replace(hand, project=project, revision=revision_of(project))


def _numbered(request: StakedRequest, path: Path) -> PointSet | None:
    """The choice of points whose numbers the file may have: not where its seal says that it is of another."""
    from ..formats.seal import read_seal

    if request.way in ("code", "place"):
        return None
    seal = read_seal(path) if path.is_file() else None
    other = seal is not None and seal.seal.order != order_mark(hand_off_of(request.project))
    if other and not request.way:
        return None
    try:
        return hand_off_set(request.project, request.plans).points
    except InputProblem:
        return None


def _is_as_written(path: Path) -> bool:
    """Whether the file is one of a hand-off, unchanged."""
    from ..formats.seal import read_seal

    seal = read_seal(path) if path.is_file() else None
    return seal is not None and bool(seal.is_whole)


def _checksum(path: Path) -> str:
    import hashlib

    if not path.is_file():
        return ""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()[:12]


def _in_frame(placing: Placing, xy_m, en_m, measured_m, pairs: Matched) -> np.ndarray:
    """Measured points of the pairs in the site frame; straight over where the projection does not reach."""
    planned, measured = en_m[pairs.planned], measured_m[pairs.measured]
    step = measured - planned
    near = np.hypot(*step.T) < _FARTHEST_M
    xy = np.empty_like(planned)
    with np.errstate(all="ignore"):
        xy[near] = placing.back(measured[near] / placing.unit_m)
    straight = ~(near & np.isfinite(xy).all(axis=1))
    if straight.any():
        xy[straight] = xy_m[pairs.planned[straight]] + step[straight] @ _turned(placing).T
    return xy


def _turned(placing: Placing) -> np.ndarray:
    """(2, 2) from steps in written coordinates [m] to steps in the site frame, near the site's middle."""
    beside = np.array([[0.0, 0.0], [100.0, 0.0], [0.0, 100.0]])
    written = placing.placed(beside) * placing.unit_m
    return np.linalg.inv((written[1:] - written[0]).T / 100.0)


def _heights(hand: HandOffSet, xy_m: np.ndarray, measured_m: np.ndarray) -> np.ndarray | None:
    """(m, 2) of planned and measured heights on the hand-off's datum; None where there are none."""
    if not np.isfinite(measured_m).any():
        return None
    planned = hand.elevations(xy_m)
    if planned is None:
        return None
    return np.column_stack([planned * hand.placing.unit_m, measured_m])


def _facts(hand: HandOffSet, project: Project) -> Facts:
    from ..formats.bearings import north_offsets
    from ..formats.placing import ground_point

    placing, asked = hand.placing, hand.hand
    grid = placing.grid
    about = np.array([*ground_point(project, grid), 1.0])
    norths = north_offsets(project.site.frame, grid.convergence_deg, project.day or hand.day)
    rules = [plan.rules for plan in hand.plans]
    return Facts(
        placing.unit_m,
        grid.combined_factor,
        tuple((placing.matrix @ about * grid.unit_m).tolist()),
        placing.coordinates,
        norths.convergence_deg,
        norths.declination_deg,
        min(r.row_spacing_m for r in rules),
        min(r.vine_spacing_m for r in rules),
        tolerance_m=asked.tolerance_m,
        height_tolerance_m=asked.height_tolerance_m,
    )


def taken_points(points: Points, which) -> Points:
    """Some of the points, by index."""
    return Points(*(getattr(points, f.name)[which] for f in fields(Points)))


def code_of(point_set: PointSet, points, at: int) -> str:
    """Code of one of some points."""
    return point_set.code(int(points.owner[at]), int(points.kind[at]), int(points.index[at]))


def codes_of(point_set: PointSet, points) -> tuple[str, ...]:
    """Codes of some points."""
    said = (points.owner.tolist(), points.kind.tolist(), points.index.tolist())
    return tuple(point_set.code(*p) for p in zip(*said, strict=True))
