"""A project's hand-off, made ready to be written, matched and drawn."""

from __future__ import annotations

import datetime
from dataclasses import replace

import numpy as np

from ..core.model import Finding, HandOff, InputProblem, Project
from ..core.model.findings import by_severity
from ..core.staking.lines import plan_lines
from ..core.staking.points import PointSet, point_set
from ..formats.handoffset import HandOffSet, Placing
from ..formats.seal import Seal


def hand_off_of(project: Project) -> HandOff:
    """What a project says of its hand-off; the usual where it says nothing."""
    return project.hand_off or HandOff()


def hand_off_set(
    project: Project,
    plans=None,
    project_path=None,
    *,
    day: datetime.date | None = None,
    planned=None,
) -> HandOffSet:
    """What the files of a hand-off are written from; lays the project where no plans are given.

    Parameters
    ----------
    project : Project
    plans : sequence of RowPlan, optional
    project_path : path, optional
        The project's own file, beside which heights are looked for too.
    day : datetime.date, optional
        Printed on the files; today where it is left out.
    planned : PlantingAnswer, optional
        Where points of one planting day are wanted; worked out where it is left out.

    Raises
    ------
    InputProblem
        Where parts name no rows, the day is none, or the survey system cannot be used.
    """
    from ..formats import crs as systems
    from ..formats.placing import placing_of
    from ..formats.point_limits import limit_findings
    from ..formats.project_file import plan_mark, revision_of
    from ..formats.smooth import fitted
    from .stakeout import bounds_of, lay_project, project_findings
    from .terrain import terrain_or_finding

    if not project.blocks:
        raise InputProblem(f"{project.name} has no block to hand off: open its outline again.")
    plans = tuple(lay_project(project) if plans is None else plans)
    hand, frame = hand_off_of(project), project.site.frame
    around = bounds_of(project)
    placing, told = placing_of(project, around)
    to_wgs84, shift, smooth = systems.frame_to_wgs84(frame)
    degree_m = 111_320.0
    terrain, unread = terrain_or_finding(project, project_path)
    segments, vines = _masks(project, plans, hand, planned)
    points = point_set(
        plans,
        project.exclusions,
        hand.points,
        control=control_places(project, placing),
        segments=segments,
        vines=vines,
    )
    own = (*told, *_point_findings(points))
    findings = (*unread, *project_findings(project, plans, terrain))
    made = HandOffSet(
        project,
        plans,
        hand,
        placing,
        points,
        plan_lines(plans, project.exclusions, segments),
        fitted(to_wgs84, around, (degree_m, degree_m)) if smooth else to_wgs84,
        shift,
        revision_of(project),
        plan_mark(project),
        day or datetime.date.today(),
        findings,
        None if terrain is None else terrain.surface.heights_m,
        "" if terrain is None else terrain.statement,
    )
    own = by_severity((*own, *limit_findings(made, hand.formats)))
    return replace(made, findings=by_severity((*own, *findings)), own_findings=own)


def control_places(project: Project, placing: Placing) -> tuple[tuple[str, float, float], ...]:
    """Name and place of the project's control points in the site frame, by their known coordinates. [m]"""
    hand = hand_off_of(project)
    if not hand.control or (hand.stated_in and hand.stated_in != project.site.survey_crs):
        return ()
    xy = placing.from_grid(np.array([(p.easting, p.northing) for p in hand.control]))
    if not np.isfinite(xy).all():
        return ()
    return tuple((p.name, x, y) for p, (x, y) in zip(hand.control, xy.tolist(), strict=True))


def _masks(project: Project, plans, hand: HandOff, planned):
    """Which segments and vines are wanted; None for all."""
    choice = hand.points
    if not choice.parts and not choice.day:
        return None, None
    from ..core.planting.assigned import segments_of_parts, vines_of_parts

    counts = np.concatenate([np.empty(0, np.intp), *(p.vines_of_segment for p in plans)])
    segments = np.ones(len(counts), bool)
    vines = np.ones(int(counts.sum()), bool)
    if choice.parts:
        segments[:], vines[:] = False, False
        segments[segments_of_parts(plans, choice.parts)] = True
        vines[vines_of_parts(plans, choice.parts)] = True
        if not segments.any():
            from .part_words import parts_text

            raise InputProblem(
                f"{parts_text(choice.parts)} names no row of this plan: give rows there are."
            )
    if choice.day:
        on_day = _vines_of_day(project, plans, choice.day, planned)
        vines &= on_day
        owner = np.repeat(np.arange(len(counts)), counts)
        segments &= np.bincount(owner[on_day], minlength=len(counts)) > 0
    return segments, vines


def _vines_of_day(project: Project, plans, day: int, planned) -> np.ndarray:
    if planned is None:
        from .planted import PlantingCounter, PlantingRequest

        planned = PlantingCounter().answer(
            PlantingRequest(0, project, tuple(plans), datetime.date.today())
        )
    n_days = len(planned.days.days) if planned.days is not None else 0
    if not 1 <= day <= n_days:
        there = f"there are {n_days}" if n_days else "say when planting begins first"
        raise InputProblem(f"Day {day} is no planting day: {there}.")
    from ..core.planting.days import day_of_vines

    return day_of_vines(planned.assigned, planned.days) == day


def _point_findings(points: PointSet) -> tuple[Finding, ...]:
    found = []
    if not len(points):
        found.append(
            Finding("points-none", "No point is chosen to hand off: choose kinds, rows or vines.")
        )
    if points.passed:
        some = ", ".join(map(str, points.passed[:5]))
        found.append(
            Finding(
                "numbers-passed",
                f"Point numbers {some}{' and more' if len(points.passed) > 5 else ''} are names of control "
                "points and were passed over.",
            )
        )
    return tuple(found)


def seal_of(hand: HandOffSet, coordinates: str = "") -> Seal:
    """The seal of a file of a hand-off; `coordinates` is "wgs84" for one in longitude and latitude."""
    placing, wgs84 = hand.placing, coordinates == "wgs84"
    return Seal(
        hand.project.name,
        hand.revision,
        hand.plan,
        hand.day.isoformat(),
        "EPSG:4326" if wgs84 else placing.grid.crs,
        coordinates or placing.coordinates,
        "degree" if wgs84 else placing.unit,
        1.0 if wgs84 else placing.unit_m,
        (1.0, 0.0, 0.0, 0.0, 1.0, 0.0) if wgs84 else tuple(placing.matrix.ravel().tolist()),
        (0.0,) * 5 if wgs84 else placing.height_plane,
        order_mark(hand.hand),
    )


def order_mark(hand: HandOff) -> str:
    """Short mark of the choice of points: equal marks number the points of a plan alike."""
    import hashlib

    return hashlib.sha256(repr((hand.points, [p.name for p in hand.control])).encode()).hexdigest()[
        :8
    ]
