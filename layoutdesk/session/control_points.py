"""Control points of a hand-off: read from tables, typed, measured, used or left out."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from ..core.model import ControlPoint, Finding, HandOff, InputProblem, Project
from ..core.model.handoff import GroundScale
from ..formats.stakeset import SurveyGrid
from .coordinate_typing import typed_coordinates, typed_number
from .hand_off_set import hand_off_of
from .tally import grouped

FARTHEST_M = 50_000.0
"""Known coordinates farther from the site are a slip. [m]"""
_LONGEST_NAME = 40
_NOTHING = ("", "none", "no", "-", "–", "not measured", "not stated")
USES: dict[str, tuple[bool, bool]] = {
    "position and height": (True, True),
    "position": (True, False),
    "height": (False, True),
    "left out": (False, False),
}
"""What a control point is used for: in plan, in height."""
CONTROL_KEYS = (
    *("name", "known", "measured", "easting", "northing", "elevation"),
    *("measured_easting", "measured_northing", "measured_elevation", "used"),
)
"""What of a control point can be typed."""
_WORDS = {"easting": "Easting", "northing": "Northing", "elevation": "Elevation"}


def read_control_csv(
    path, project: Project, *, holds: str = ""
) -> tuple[tuple[ControlPoint, ...], tuple[Finding, ...]]:
    """Control points of a table, together with those the project has; and what was assumed of the table.

    One table may have known and measured coordinates, or there may be one of each: points are put together by
    name. A table with one group of coordinates holds known ones, unless all its points are known already
    with other coordinates: then it holds measured ones.

    Parameters
    ----------
    path : path
    project : Project
    holds : str
        "known" or "measured", to say what a table with one group of coordinates holds.

    Returns
    -------
    tuple of ControlPoint
        All control points of the project as they are then; see `with_control`.
    tuple of Finding

    Raises
    ------
    InputProblem
        Where columns cannot be told, a cell is no number, or a known place is far from the site.
    """
    from ..formats.reading.control_table import read_control_table

    path, grid = Path(path), _grid(project)
    hand = stated_here(hand_off_of(project), project)
    before = {p.name.casefold(): p for p in hand.control}
    is_near = _near(project, grid)
    rows, told = read_control_table(path, path.name, grid.unit, grid.unit_m, is_near)
    told = list(told)
    as_measured = _holds_measured(rows, before, holds)
    if as_measured and not holds:
        told.append(
            Finding(
                "columns-assumed",
                "All its points are known already, with other coordinates: it was taken as what was measured.",
                where=path.name,
            )
        )
    points, strange = dict(before), []
    for row in rows:
        key = row.name.casefold()
        known, measured = ((None,) * 3, row.known) if as_measured else (row.known, row.measured)
        point = points.get(key)
        if None not in known[:2]:
            if not is_near(*known[:2]):
                raise InputProblem(
                    f"{path.name}, line {row.line}: {_far_words(row.name, known, project, grid)}"
                )
            point = (
                ControlPoint(row.name, *known)
                if point is None
                else replace(
                    point,
                    easting=known[0],
                    northing=known[1],
                    elevation=point.elevation if known[2] is None else known[2],
                )
            )
        if point is None:
            strange.append(row.name)
            continue
        if None not in measured[:2] or measured[2] is not None:
            point = _measured(point, *measured)
        points[key] = point
    if strange:
        told.append(
            Finding(
                "staked-strange",
                f"{', '.join(strange[:5])}{' and more' if len(strange) > 5 else ''}: measured, but no known "
                "coordinates are there for them; they were passed over.",
                where=path.name,
            )
        )
    return tuple(points.values()), tuple(told)


def _holds_measured(rows, before, holds: str) -> bool:
    if holds:
        return holds == "measured" and all(set(r.measured) == {None} for r in rows)
    plain = [r for r in rows if None not in r.known[:2]]
    if not plain or any(set(r.measured) != {None} for r in rows):
        return False
    others = [before.get(r.name.casefold()) for r in plain]
    if not all(others):
        return False
    return all((p.easting, p.northing) != r.known[:2] for p, r in zip(others, plain, strict=True))


def with_control(project: Project, points: Sequence[ControlPoint]) -> Project:
    """The project with these control points, stated in its survey system; those of other names stay.

    What was stated in another survey system before falls away: its numbers mean nothing here.
    """
    hand = stated_here(hand_off_of(project), project)
    merged = {p.name.casefold(): p for p in hand.control}
    merged |= {p.name.casefold(): p for p in points}
    return _with(project, replace(hand, control=tuple(merged.values())))


def without_control(project: Project, name: str) -> Project:
    """The project without a control point."""
    hand = hand_off_of(project)
    left = tuple(p for p in hand.control if p.name != _point(hand, name).name)
    stated = hand.stated_in if left or hand.ground != GroundScale() else ""
    return _with(project, replace(hand, control=left, stated_in=stated))


def with_measured(
    project: Project,
    name: str,
    easting: float | None,
    northing: float | None,
    elevation: float | None = None,
) -> Project:
    """The project with what was measured at a control point; None for nothing. [unit of the grid]"""
    hand = _stated(project)
    point = replace(
        _point(hand, name),
        measured_easting=easting,
        measured_northing=northing,
        measured_elevation=elevation,
    )
    return _replaced(project, hand, name, point)


def with_control_used(project: Project, name: str, in_plan: bool, in_height: bool) -> Project:
    """The project with a control point used by the calibration, or left out of it."""
    hand = hand_off_of(project)
    point = replace(_point(hand, name), in_plan=in_plan, in_height=in_height)
    return _replaced(project, hand, name, point)


def typed_control(
    project: Project, name: str | None, key: str, text: str, unit: str = "m"
) -> Project:
    """The project with something of a control point as typed.

    Parameters
    ----------
    project : Project
    name : str or None
        The point; None for a new one, of which all is typed: "K4 512345.67 6101234.5 120.3".
    key : str
        Of CONTROL_KEYS. "known" and "measured" are easting, northing and maybe elevation in one; "used" is
        one of USES.
    text : str
        Coordinates are in the survey grid's own unit, whatever `unit` people think in.

    Raises
    ------
    InputProblem
        One sentence that says what can be typed.
    """
    if name is None:
        return _with_new(project, text)
    if key not in CONTROL_KEYS:
        raise ValueError(f"key: {key!r} is none of {CONTROL_KEYS}")
    hand = hand_off_of(project)
    point, wanted = _point(hand, name), text.strip()
    nothing = wanted.casefold() in _NOTHING
    if key == "name":
        return _replaced(project, hand, name, replace(point, name=_new_name(hand, wanted, point)))
    if key == "used":
        if wanted not in USES:
            raise InputProblem(f"{point.name}: choose one of {', '.join(USES)}.")
        return with_control_used(project, name, *USES[wanted])
    hand, grid = _stated(project), _grid(project)
    if key == "measured":
        if nothing:
            return with_measured(project, name, None, None, None)
        found = typed_coordinates(wanted, grid, f"{point.name}, measured")
        return _replaced(project, hand, name, _measured(point, *found))
    if key == "known":
        found = typed_coordinates(wanted, grid, f"{point.name}, known")
        values = dict(zip(("easting", "northing", "elevation"), found, strict=False))
    else:
        part = key.removeprefix("measured_")
        is_needed = key in ("easting", "northing")
        if nothing and is_needed:
            raise InputProblem(f"{point.name}: a known point needs an {part}, or take it away.")
        what = f"{point.name}, {key.replace('_', ' ')}"
        values = {key: None if nothing else typed_number(wanted, grid, what)}
    changed = replace(point, **values)
    if key in ("known", "easting", "northing"):
        _refuse_far(changed, project, grid)
    return _replaced(project, hand, name, changed)


def _with_new(project: Project, text: str) -> Project:
    hand, grid = stated_here(hand_off_of(project), project), _grid(project)
    split = re.match(r"\s*([^\s,;]+)\s*[,;\s]\s*(\S.*)$", text)
    if not split:
        raise InputProblem(
            f"{text.strip()!r} is no control point: write its name, easting and northing, and its elevation "
            "where it is known, like K1 512345.67 6101234.5 120.3."
        )
    name = _new_name(hand, split[1], None)
    point = ControlPoint(name, *typed_coordinates(split[2], grid, name))
    _refuse_far(point, project, grid)
    return _with(project, replace(hand, control=(*hand.control, point)))


def _new_name(hand: HandOff, text: str, own: ControlPoint | None) -> str:
    name = text.strip(" ,;")
    if not name or len(name) > _LONGEST_NAME:
        raise InputProblem(f"A control point needs a name of 1 to {_LONGEST_NAME} letters.")
    other = hand.control_point(name)
    if other is not None and other is not own:
        raise InputProblem(f"{other.name} is there already: give the control point another name.")
    return name


def _measured(point: ControlPoint, easting, northing, elevation=None) -> ControlPoint:
    """A point with what was measured; what is None stays as it was."""
    given = {"easting": easting, "northing": northing, "elevation": elevation}
    return replace(point, **{f"measured_{k}": v for k, v in given.items() if v is not None})


def _point(hand: HandOff, name: str) -> ControlPoint:
    point = hand.control_point(name)
    if point is None:
        raise InputProblem(f"{name} is no control point of this project: add it first.")
    return point


def _replaced(project: Project, hand: HandOff, name: str, point: ControlPoint) -> Project:
    old = _point(hand, name)
    control = tuple(point if p is old or p.name == old.name else p for p in hand.control)
    return _with(project, replace(hand, control=control))


def _stated(project: Project) -> HandOff:
    """The hand-off, whose control points must be stated in the survey system."""
    hand = hand_off_of(project)
    if hand.control and hand.stated_in and hand.stated_in != project.site.survey_crs:
        there = hand.stated_in if len(hand.stated_in) < 40 else "another survey system"
        raise InputProblem(
            f"The control points are stated in {there}: go back to that survey grid, or take them away and "
            "state them anew."
        )
    return replace(hand, stated_in=project.site.survey_crs)


def stated_here(hand: HandOff, project: Project) -> HandOff:
    """A hand-off ready to be stated in the project's survey system; what was stated in another is left out."""
    here = project.site.survey_crs
    if hand.stated_in and hand.stated_in != here:
        return replace(hand, control=(), ground=GroundScale(), stated_in=here)
    return replace(hand, stated_in=here)


def _with(project: Project, hand: HandOff) -> Project:
    if project.hand_off is None and hand == HandOff():
        return project
    return replace(project, hand_off=hand)


def _grid(project: Project) -> SurveyGrid:
    from ..formats.crs import survey_grid

    return survey_grid(project.site.frame, project.site.survey_crs)


def _near(project: Project, grid: SurveyGrid):
    from ..formats.crs import frame_to_survey

    site = frame_to_survey(project.site.frame, project.site.survey_crs)(np.zeros((1, 2)))[0]

    def is_near(easting: float, northing: float) -> bool:
        away = math.hypot(easting - site[0], northing - site[1]) * grid.unit_m
        return away <= FARTHEST_M

    return is_near


def _refuse_far(point: ControlPoint, project: Project, grid: SurveyGrid) -> None:
    if not _near(project, grid)(point.easting, point.northing):
        raise InputProblem(_far_words(point.name, (point.easting, point.northing), project, grid))


def _far_words(name: str, known, project: Project, grid: SurveyGrid) -> str:
    if _near(project, grid)(known[1], known[0]):
        return f"{name}: easting and northing look exchanged: write the easting first."
    return (
        f"{name} at E {grouped(known[0], 2)}, N {grouped(known[1], 2)} lies more than "
        f"{FARTHEST_M / 1000:.0f} km from the site: check that these are coordinates of {grid.name}, in the "
        f"{grid.unit}, easting first."
    )
