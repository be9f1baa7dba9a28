"""Heights of the ground as asked for on the command line."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ..core.model import InputProblem, Project, Terrain

_UNITS = {"m": "m", "metre": "m", "metres": "m", "ft": "ft", "foot": "ft", "feet": "ft"}
_UNITS |= {"usft": "usft", "ftus": "usft"}


def add_terrain_options(parser) -> None:
    """The options of every command that takes heights."""
    group = parser.add_argument_group(
        "heights of the ground", "A raster, or points as CSV, LandXML or DXF."
    )
    group.add_argument("--terrain", metavar="FILE", help="the file with heights")
    group.add_argument(
        "--terrain-unit", metavar="m|ft|usft", help="unit of its heights [as it says]"
    )
    group.add_argument(
        "--terrain-datum", metavar="TEXT", help="what its heights count from, such as EGM96"
    )
    group.add_argument(
        "--terrain-crs", metavar="EPSG:nnnn", help="its horizontal system, where it does not say"
    )


def with_asked_terrain(project: Project, options) -> Project:
    """The project with the heights that are asked for; as it is where none are.

    Raises
    ------
    InputProblem
        Where the unit is none, or options stand without a file.
    """
    given = {n: getattr(options, f"terrain_{n}") for n in ("unit", "datum", "crs")}
    for name, text in given.items():
        if text is not None and not text.strip():
            raise InputProblem(f"--terrain-{name} is empty: give it or leave it out.")
    if options.terrain is None:
        if project.terrain is None and any(v is not None for v in given.values()):
            raise InputProblem(
                "--terrain-unit, -datum and -crs are for --terrain FILE: give it too."
            )
        if project.terrain is None:
            return project
        terrain = project.terrain
    else:
        if not options.terrain.strip():
            raise InputProblem("--terrain is empty: give the file with heights.")
        terrain = Terrain(str(Path(options.terrain).absolute()))
    if given["unit"] is not None:
        unit = _UNITS.get(given["unit"].strip().lower())
        if unit is None:
            raise InputProblem(
                f"--terrain-unit {given['unit']!r} is none of m, ft, usft: give one."
            )
        given["unit"] = unit
    changes = {n: v.strip() for n, v in given.items() if v is not None}
    return replace(project, terrain=replace(terrain, **changes))
