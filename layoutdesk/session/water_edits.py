"""Edits of a project's water that are no single value: places on the plan, and the climate of a file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import shapely

from ..core.model import InputProblem, Project
from .edges import edge_view
from .source_words import typed_source
from .water_words import water_of, with_drips

_LEAST_LINE_M = 0.5


def with_source_at(project: Project, xy_m: tuple[float, float]) -> Project:
    """The project with its water coming from a place. What it gives there is not known by that. [m]"""
    water = water_of(project)
    place = (float(xy_m[0]), float(xy_m[1]))
    return replace(project, water=replace(water, source=replace(water.source, place_m=place)))


def with_source_curve(project: Project, text: str, unit: str = "m") -> Project:
    """The project with what its source gives, as typed: "50 m at 0 m³/h, 40 m at 20 m³/h".

    Raises
    ------
    InputProblem
        Where that is no curve.
    """
    return replace(project, water=typed_source(water_of(project), "source.curve", text, unit))


def with_submain_line(project: Project, names: tuple[str, ...], points) -> Project:
    """The project with rows of some blocks fed where a line crosses them, else at the end next to it.

    Parameters
    ----------
    points : sequence of (x, y)
        In the site frame. [m]

    Raises
    ------
    InputProblem
        Where the line is none.
    """
    line = [(float(x), float(y)) for x, y in points]
    line = [p for i, p in enumerate(line) if not i or p != line[i - 1]]
    if len(line) < 2 or shapely.LineString(line).length < _LEAST_LINE_M:
        raise InputProblem("The submain needs two places that are apart: set them across the rows.")
    return with_drips(project, names, lambda d: replace(d, fed="line", line_m=tuple(line)))


def with_submain_edge(project: Project, block_name: str, ring: int, index: int) -> Project:
    """The project with a block's rows fed along one edge of its outline, at their ends next to it.

    The submain itself runs from row end to row end, inside the clear strip, not on the boundary.

    Raises
    ------
    InputProblem
        Where the outline has no such edge any more.
    """
    view = edge_view(project.block(block_name), ring, index)
    if view is None:
        raise InputProblem(f"{block_name} has no such edge any more: pick the edge again.")
    return with_submain_line(project, (block_name,), view.ends_m)


def with_climate_file(project: Project, path) -> Project:
    """The project with the climate of a file; see `formats.weather.read_climate`.

    Raises
    ------
    InputProblem
        Where the file cannot be used.
    """
    from ..formats.weather import read_climate

    frame = project.site.frame
    climate = read_climate(Path(path), frame.latitude_deg, frame.height_m)
    return replace(project, water=replace(water_of(project), climate=climate))
