"""Heights of the ground from people's files: rasters, points, contours, triangles."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ..core.model import Finding, InputProblem, SiteFrame, Terrain
from ..core.terrain.surface import Surface

UNITS_M = {"m": 1.0, "ft": 0.3048, "usft": 1200 / 3937}
"""Length of each vertical unit, exact. [m]"""

UNIT_NAMES = {"m": "metre", "ft": "foot", "usft": "US survey foot"}

LOWEST_M, HIGHEST_M = -500.0, 9000.0
"""No land is lower or higher: the Dead Sea's shore, about -430 m; Mount Everest, 8,849 m (2020). [m]"""

AROUND_M = 100.0
"""Heights are read so far round the site. [m]"""

_POINT_SUFFIXES = (".csv", ".txt", ".tsv", ".xyz", ".pts", ".dxf", ".xml", ".landxml")


@dataclass(frozen=True)
class Said:
    """What a file itself says of its heights; None where it says nothing.

    `unit` is one of VERTICAL_UNITS, `datum` and `crs` are names.
    """

    kind: str
    unit: str | None = None
    datum: str | None = None
    crs: str | None = None


@dataclass(frozen=True, eq=False)
class TerrainRead:
    """The ground of a site, and what its user should know of it.

    Attributes
    ----------
    surface : Surface
        In the site frame, heights in metres above `datum`.
    unit_said, datum_said : str
        As used: the user's word before the file's; the datum is empty where nobody says it.
    statement : str
        One line that every file and sheet with heights carries.
    findings : tuple of Finding
    """

    surface: Surface
    unit_said: str
    datum_said: str
    statement: str
    findings: tuple[Finding, ...] = ()


@dataclass
class Draft:
    """A surface while it is being read: what the file said, how it is called, what was found."""

    said: Said
    surface: Surface | None = None
    samples: str = ""
    findings: list[Finding] = field(default_factory=list)


def is_point_file(path: Path) -> bool:
    """Whether heights come as points, lines or triangles rather than as a raster."""
    return path.suffix.lower() in _POINT_SUFFIXES


def described_terrain(path) -> Said:
    """What a file says of its heights, without reading them all.

    Raises
    ------
    InputProblem
        Where it is no file of heights.
    """
    path = Path(path)
    _refuse_missing(path)
    if is_point_file(path):
        from .terrain_points import described_points

        return described_points(path)
    from .terrain_raster import described_raster

    return described_raster(path)


def _refuse_missing(path: Path) -> None:
    if not path.is_file():
        raise InputProblem(f"There is no file {path}: give the place of the heights.")
    if not path.stat().st_size:
        raise InputProblem(f"{path.name} is empty (0 bytes): get a fresh copy of it.")


def read_terrain(
    terrain: Terrain, frame: SiteFrame, bounds_m, site_crs: str | None = None, path=None
) -> TerrainRead:
    """The ground round a site.

    Parameters
    ----------
    terrain : Terrain
    frame : SiteFrame
    bounds_m : (x0, y0, x1, y1)
        Of the site, in the frame; heights are read AROUND_M farther. [m]
    site_crs : str, optional
        Horizontal system taken where neither the file nor the user names one.
    path : path, optional
        Where the file is now; the path of `terrain` else.

    Raises
    ------
    InputProblem
        Where the file holds no heights, or lies away from the site.
    """
    path = Path(path or terrain.path)
    _refuse_missing(path)
    x0, y0, x1, y1 = bounds_m
    around = (x0 - AROUND_M, y0 - AROUND_M, x1 + AROUND_M, y1 + AROUND_M)
    if is_point_file(path):
        from .terrain_points import read_points as read
    else:
        from .terrain_raster import read_raster as read
    unit_m = UNITS_M[terrain.unit] if terrain.unit else None
    draft = read(path, terrain.crs or None, unit_m, frame, around, site_crs)
    return _told(draft, terrain, path.name)


def _told(draft: Draft, terrain: Terrain, name: str) -> TerrainRead:
    said, findings = draft.said, draft.findings
    unit = terrain.unit or said.unit or "m"
    datum = terrain.datum or said.datum or ""
    source = "as the user says" if terrain.unit else "as the file says" if said.unit else "assumed"
    if not terrain.unit and not said.unit:
        findings.append(
            Finding(
                "terrain-unit-assumed",
                f"{name} does not say the unit of its heights: metres were taken. Give the unit if it "
                "is another.",
                name,
            )
        )
    elif terrain.unit and said.unit and terrain.unit != said.unit:
        findings.append(
            Finding(
                "terrain-unit-assumed",
                f"{name} says that the unit of its heights is the {UNIT_NAMES[said.unit]}; the "
                f"{UNIT_NAMES[terrain.unit]} was taken, as given.",
                name,
            )
        )
    if not datum:
        findings.append(
            Finding(
                "terrain-datum-unknown",
                f"{name} does not say what its heights count from: do not mix them with heights "
                "from elsewhere.",
                name,
            )
        )
    above = f"above {datum}" if datum else "above a datum nobody says"
    statement = f"Heights from {name}, {draft.samples}; unit {UNIT_NAMES[unit]} ({source}); {above}"
    return TerrainRead(draft.surface, unit, datum, statement, tuple(findings))


def settled_unit_m(said: str | None, given_m: float | None) -> float:
    """Length of the unit of heights: the user's word, the file's, or metres. [m]"""
    return given_m or UNITS_M[said or "m"]


def is_ground(heights_m: np.ndarray) -> np.ndarray:
    """Where heights can be of ground: False for a file's own marks of what it does not know.

    These are NaN, what lies lower or higher than any land, and a 0 among heights that are all
    farther from 0 than from one another.

    Examples
    --------
    >>> is_ground(np.array([104.0, 112.5, 0.0, -9999.0])).tolist()
    [True, True, False, False]
    >>> is_ground(np.array([4.0, 12.5, 0.0])).tolist()
    [True, True, True]
    """
    with np.errstate(invalid="ignore"):
        ground = (heights_m > LOWEST_M) & (heights_m < HIGHEST_M)
        zero = ground & (heights_m == 0)
    if zero.any():
        others = heights_m[ground & ~zero]
        low, high = (others.min(), others.max()) if len(others) else (0.0, 0.0)
        if max(low, -high) > max(high - low, 1.0):
            ground &= ~zero
    return ground


def unit_of_text(text: str | None) -> str | None:
    """One of VERTICAL_UNITS from the words of files; None for others.

    Examples
    --------
    >>> unit_of_text("US survey foot"), unit_of_text("Metre"), unit_of_text("degrees")
    ('usft', 'm', None)
    """
    word = (text or "").strip().lower().replace("_", " ").replace("-", " ")
    for unit, words in _UNIT_WORDS.items():
        if word in words:
            return unit
    return None


_UNIT_WORDS = {
    "m": ("m", "metre", "meter", "metres", "meters"),
    "ft": ("ft", "foot", "feet", "international foot", "foot international", "foot intl"),
    "usft": ("usft", "us ft", "ftus", "ft us", "us survey foot", "us survey feet", "ussurveyfoot")
    + ("foot us", "survey foot", "sfoot"),
}
