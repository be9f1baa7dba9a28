"""The ground of a project: its heights read once and kept while nothing of them changes."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import shapely

from ..core.model import Finding, InputProblem, Project, Terrain
from ..formats.terrain import Said, TerrainRead, described_terrain, read_terrain, unit_of_text
from .backdrop import picture_file

_KEPT = 4
_ROUND_M = 50.0

_read: list[tuple[tuple, TerrainRead]] = []
_reading = threading.Lock()  # rows, plan and comparison ask at once: one reads, the others wait


def terrain_of(project: Project, project_path=None) -> TerrainRead | None:
    """The ground of a project; None where it has no heights.

    Read anew only where the file, what is said of it, or the site's reach has changed.

    Raises
    ------
    InputProblem
        Where the file is gone or holds no heights of the site.
    """
    terrain = project.terrain
    if terrain is None or not project.blocks:
        return None
    path = Path(picture_file(terrain.path, project_path))
    try:
        stat = path.stat()
    except OSError:
        raise InputProblem(
            f"The heights {path.name} are not at {path.parent} any more: put the file back, or choose "
            "it again."
        ) from None
    bounds = _reach(project)
    meant = (terrain.unit, terrain.datum, terrain.crs)
    site = project.site
    key = (path, stat.st_mtime_ns, stat.st_size, meant, site.frame, site.source_crs, bounds)
    with _reading:
        for known, read in _read:
            if known == key:
                return read
        found = read_terrain(terrain, site.frame, bounds, site.source_crs, path)
        _read.insert(0, (key, found))
        del _read[_KEPT:]
        return found


def terrain_or_finding(
    project: Project, project_path=None
) -> tuple[TerrainRead | None, tuple[Finding, ...]]:
    """The ground of a project, or a finding that says why it cannot be read."""
    try:
        return terrain_of(project, project_path), ()
    except InputProblem as problem:
        return None, (Finding("terrain-unread", str(problem), Path(project.terrain.path).name),)


def _reach(project: Project) -> tuple[float, float, float, float]:
    """Bounds of all outlines, rounded outward: a corner moved a little reads nothing anew. [m]"""
    x0, y0, x1, y1 = shapely.total_bounds([b.outline for b in project.blocks]).tolist()
    return (
        (x0 // _ROUND_M) * _ROUND_M,
        (y0 // _ROUND_M) * _ROUND_M,
        -(-x1 // _ROUND_M) * _ROUND_M,
        -(-y1 // _ROUND_M) * _ROUND_M,
    )


def what_it_says(path) -> Said:
    """What a file of heights says of itself, so that only the rest need be asked."""
    return described_terrain(path)


def typed_unit(text: str, said: Said) -> str:
    """The unit of heights as typed, one of VERTICAL_UNITS; empty where the file's own is meant.

    Raises
    ------
    InputProblem
        Where it is none.

    Examples
    --------
    >>> said = Said("raster", unit="ft")
    >>> typed_unit("feet", said), typed_unit("US survey foot", said)
    ('', 'usft')
    """
    unit = unit_of_text(text) if text.strip() else said.unit
    if unit is None:
        raise InputProblem("A unit of heights is m, ft or usft.")
    return "" if unit == said.unit else unit


def typed_datum(text: str, said: Said) -> str:
    """What heights count from, as typed; empty where the file's own word is meant."""
    text = " ".join(text.split())
    return "" if text == (said.datum or "") else text


def typed_system(text: str) -> str:
    """A horizontal system as typed, empty where none is.

    Raises
    ------
    InputProblem
        Where there is no such system.
    """
    from ..formats.crs import crs_named

    text = text.strip()
    if text:
        crs_named(text)
    return text


def with_terrain(terrain: Terrain | None) -> Callable[[Project], Project]:
    """The edit that gives a project heights, or with None takes them away."""
    return lambda project: replace(project, terrain=terrain)
