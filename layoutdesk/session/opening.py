"""From a file a person has to a project."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import numpy as np
import shapely

from ..core.geometry.axes import bearing_of
from ..core.model import Block, Exclusion, Finding, InputProblem, Project, RowRules, Site
from ..formats import crs as systems
from ..formats.project_file import is_project, open_project
from ..formats.reading import read_exclusions, read_outlines


def open_any(path, **how) -> Project:
    """The project in a file, or a new one from an outline; `how` as for `project_from_outline`.

    A project has its own coordinate system, so `crs` and `unit` are refused for one.
    """
    if not is_project(path):
        return project_from_outline(path, **how)
    for option in ("crs", "unit"):
        if how.get(option) and not (option == "unit" and how.get("exclusions")):
            raise InputProblem(
                f"{Path(path).name} is a project and has its coordinate system already: leave out "
                f"--{option}."
            )
    project = open_project(path)
    if how.get("height_m") is not None:
        project = at_height(project, how["height_m"])
    if how.get("survey_crs"):
        project = with_survey_crs(project, how["survey_crs"])
    return with_exclusions(project, how.get("exclusions", ()), how.get("unit"))


def project_from_outline(
    path,
    *,
    crs: str | None = None,
    unit: str | None = None,
    survey_crs: str | None = None,
    height_m: float | None = None,
    exclusions=(),
    rules: RowRules | None = None,
    day: datetime.date | None = None,
) -> Project:
    """A new project from an outline file.

    Parameters
    ----------
    path : path
    crs, unit : str, optional
        Coordinate system and drawing unit where the file does not say.
    survey_crs : str, optional
        System of the stake-out files; by default the outline's own grid or its UTM zone.
    height_m : float, optional
        Ellipsoidal height of the site. [m]
    exclusions : iterable of (path, clearance_m or None)
    rules : RowRules, optional
        For every block; by default rows follow each block's longest edge.
    day : datetime.date, optional
        For magnetic bearings; today by default.

    Raises
    ------
    InputProblem
    """
    path = Path(path)
    read = read_outlines(path, crs=crs, unit=unit)
    coords = shapely.get_coordinates([s.geometry for s in read.shapes])
    frame = systems.make_frame(read.crs, coords[:, 0], coords[:, 1], height_m or 0.0)
    findings = list(read.findings)
    if height_m is None:
        findings.append(
            Finding(
                "height-assumed",
                "The site's height is not known, so 0 m is used: each 100 m of height lengthens "
                "100 m on the ground by 1.6 mm against the ellipsoid. Give the height (--height).",
            )
        )
    if survey_crs is None:
        survey, why = systems.default_survey_crs(read.crs, frame)
        findings.append(Finding("survey-crs-chosen", f"Stake-out is in {why}."))
    else:
        survey = systems.crs_named(survey_crs)
    survey_text = systems.crs_text(survey)
    systems.survey_grid(frame, survey_text)  # refuses what no stake can be set in
    move = systems.to_frame(read.crs, frame)
    blocks = []
    for number, shape in enumerate(read.shapes, 1):
        outline = _moved(shape.geometry, move, f"outline {number} of {read.source}")
        name = f"B{number}"
        own = rules
        if own is None:
            own = RowRules(bearing_deg=longest_edge_bearing_deg(outline))
            findings.append(
                Finding(
                    "bearing-chosen",
                    f"Rows of {name} follow its longest edge at {own.bearing_deg:.4f}° true.",
                    name,
                )
            )
        blocks.append(Block(name, outline, own))
    project = Project(
        path.stem.encode("utf-8", "replace").decode(),
        Site(frame, systems.crs_text(read.crs), survey_text, read.source, tuple(findings)),
        tuple(blocks),
        (),
        day or datetime.date.today(),
    )
    return with_exclusions(project, exclusions, unit)


def with_round_rules(project: Project) -> Project:
    """The project of a fresh outline with rules and a trellis round in the unit its surveyors use."""
    from ..core.model import Materials
    from .rule_typing import starting_rules
    from .survey import survey_view
    from .trellis_values import starting_trellis

    unit = survey_view(project).people_unit
    if unit == "m":
        return project
    blocks = tuple(
        replace(b, rules=replace(starting_rules(unit), bearing_deg=b.rules.bearing_deg))
        for b in project.blocks
    )
    trellises = tuple((b.name, starting_trellis(unit)) for b in blocks)
    return replace(project, blocks=blocks, materials=Materials(trellises))


def _moved(shape, move, what: str):
    moved = shapely.transform(shape, move)
    if not np.isfinite(shapely.get_coordinates(moved)).all():
        raise InputProblem(
            f"{what} has corners outside its coordinate system: check it, or give another with "
            "--crs EPSG:nnnn."
        )
    return moved


def longest_edge_bearing_deg(outline: shapely.Polygon) -> float:
    """Bearing of an outline's longest straight edge, in [0, 180), to 0.0001 degrees. [deg]

    Corners along a straight edge do not break it.

    Examples
    --------
    >>> longest_edge_bearing_deg(shapely.box(0, 0, 50, 20))
    90.0
    """
    ring = shapely.get_coordinates(shapely.simplify(outline.exterior, 0.05))
    step = np.diff(ring, axis=0)
    longest = step[np.argmax(np.hypot(step[:, 0], step[:, 1]))]
    return round(float(bearing_of(*longest)), 4) % 180.0


def with_exclusions(project: Project, files, unit: str | None = None) -> Project:
    """The project with exclusions from more files, each (path, clearance_m or None) of its own.

    A file that names no coordinate system is taken to be in the outline's; `unit` is for drawings
    that do not say theirs.
    """
    added, findings = [], []
    for path, clearance_m in files:
        read = read_exclusions(path, unit=unit, site_crs=project.site.source_crs)
        move = systems.to_frame(read.crs, project.site.frame)
        findings += read.findings
        shift = systems.shift_onto(project.site.frame, read.crs)
        if shift is not None:
            said = f"{read.source} is on another datum than the outline. Shift used: {shift}."
            findings.append(Finding("datum-shift", said, read.source, severity="caution"))
        for number, shape in enumerate(read.shapes, 1):
            clearance = clearance_m if clearance_m is not None else shape.clearance_m
            added.append(
                Exclusion(
                    _moved(shape.geometry, move, f"shape {number} of {read.source}"),
                    float(clearance or 0.0),
                    shape.name,
                    shape.kind,
                )
            )
    if not added:
        return project
    site = replace(project.site, findings=project.site.findings + tuple(findings))
    return replace(project, site=site, exclusions=project.exclusions + tuple(added))


def with_survey_crs(project: Project, survey_crs: str) -> Project:
    """The project staked out in another system."""
    text = systems.crs_text(systems.crs_named(survey_crs))
    systems.survey_grid(project.site.frame, text)
    findings = tuple(f for f in project.site.findings if f.code != "survey-crs-chosen")
    return replace(project, site=replace(project.site, survey_crs=text, findings=findings))


def at_height(project: Project, height_m: float) -> Project:
    """The project with its site at another height: all shapes keep their places on the earth.

    The frame's scale changes by parts per million, and every coordinate with it.
    """
    frame = replace(project.site.frame, height_m=float(height_m))
    ratio = frame.scale / project.site.frame.scale
    site = replace(
        project.site,
        frame=frame,
        findings=tuple(f for f in project.site.findings if f.code != "height-assumed"),
    )
    if ratio == 1.0:
        return replace(project, site=site)

    def grown(shape):
        return shapely.transform(shape, lambda xy: xy * ratio)

    def moved(block: Block) -> Block:
        alleys = tuple(replace(a, x_m=a.x_m * ratio, y_m=a.y_m * ratio) for a in block.rules.alleys)
        guide = block.guide and replace(
            block.guide, points_m=tuple((x * ratio, y * ratio) for x, y in block.guide.points_m)
        )
        return replace(
            block,
            outline=grown(block.outline),
            rules=replace(block.rules, alleys=alleys),
            overrides=tuple(
                replace(o, x_m=o.x_m * ratio, y_m=o.y_m * ratio) for o in block.overrides
            ),
            guide=guide,
        )

    return replace(
        project,
        site=site,
        blocks=tuple(map(moved, project.blocks)),
        exclusions=tuple(replace(e, shape=grown(e.shape)) for e in project.exclusions),
        water=project.water and project.water.stretched(ratio),
    )
