"""The survey grid as a person reads it: coordinates under the cursor, units, factors, norths."""

from __future__ import annotations

import datetime
import math
import re
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from ..core.model import InputProblem, Project, SiteFrame
from ..formats import crs as systems
from ..formats.bearings import NorthOffsets, north_offsets
from ..formats.stakeset import SurveyGrid, Transform


@dataclass(frozen=True)
class SurveyView:
    """What the foot of the window and the specification say about the survey grid."""

    grid: SurveyGrid
    norths: NorthOffsets
    to_survey: Transform
    to_wgs84: Transform

    @property
    def people_unit(self) -> str:
        """The unit its people think in: "m", "ft" or "usft"."""
        return {"US survey foot": "usft", "foot": "ft"}.get(self.grid.unit, "m")

    @property
    def system(self) -> str:
        return f"{self.grid.name}, {self.grid.unit}, grid coordinates"

    @property
    def factor(self) -> str:
        """The combined factor and what it does to 100 m."""
        per_100_mm = self.grid.ppm / 10
        way = "more" if per_100_mm > 0 else "less"
        return (
            f"Combined factor {self.grid.combined_factor:.6f}: {abs(per_100_mm):.1f} mm {way} per "
            "100 m on the grid"
        )

    def coordinates(self, x_m: float, y_m: float) -> str:
        """Easting and northing of a place in the site frame."""
        easting, northing = self.to_survey(np.array([[x_m, y_m]]))[0]
        unit = {"metre": "m", "foot": "ft", "US survey foot": "US ft"}.get(
            self.grid.unit, self.grid.unit
        )
        return f"E {easting:,.2f}   N {northing:,.2f} {unit}".replace(",", "\u202f")

    def told(self, system: str, x_m: float, y_m: float) -> str:
        """A place in "survey", "wgs84" or "frame" coordinates."""
        if system == "wgs84":
            longitude, latitude = self.to_wgs84(np.array([[x_m, y_m]]))[0]
            return f"{latitude:.7f}°, {longitude:.7f}° WGS 84"
        if system == "frame":
            return f"x {x_m:,.2f}   y {y_m:,.2f} m, site frame".replace(",", "\u202f")
        return self.coordinates(x_m, y_m)


def survey_view(project: Project) -> SurveyView:
    """The survey grid of a project; dear the first time, kept then."""
    return _survey_view(project.site.frame, project.site.survey_crs, project.day)


@lru_cache(maxsize=8)
def _survey_view(frame: SiteFrame, crs: str, day: datetime.date | None) -> SurveyView:
    grid = systems.survey_grid(frame, crs)
    return SurveyView(
        grid,
        north_offsets(frame, grid.convergence_deg, day),
        systems.frame_to_survey(frame, crs),
        systems.frame_to_wgs84(frame)[0],
    )


@dataclass(frozen=True)
class GridOffer:
    """A survey grid that covers a site: its code, its name, what it does to 100 m. [mm]"""

    code: str
    name: str
    per_100_m_mm: float

    @property
    def words(self) -> str:
        """One line for a list.

        Examples
        --------
        >>> GridOffer("EPSG:32754", "WGS 84 / UTM zone 54S", -39.8).words
        'EPSG:32754   WGS 84 / UTM zone 54S   −39.8 mm per 100 m'
        """
        sign = "−" if self.per_100_m_mm < 0 else "+"
        return f"{self.code}   {self.name}   {sign}{abs(self.per_100_m_mm):.1f} mm per 100 m"


_KEEP_ANGLES = (
    "Transverse Mercator",
    "Lambert Conic Conformal",
    "Hotine Oblique Mercator",
    "Oblique Stereographic",
)
_LARGEST_AREA_DEG2 = 1000.0
_FARTHEST_PPM = 1000.0


def likely_grids(project: Project) -> tuple[GridOffer, ...]:
    """Survey grids made for the place of a site, the likeliest first.

    Grids that keep angles, cover the site and are less than 1000 ppm off there: those on the
    outline's datum first, of these the ones nearest to true lengths. Superseded datums come last.

    Source: the EPSG data set, as PROJ carries it.
    """
    from pyproj import CRS
    from pyproj.aoi import AreaOfInterest
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    frame = project.site.frame
    x, y = frame.longitude_deg, frame.latitude_deg
    here = AreaOfInterest(x - 0.005, y - 0.005, x + 0.005, y + 0.005)
    datum = systems.horizontal(CRS.from_user_input(frame.datum or "EPSG:4326"))
    found = {}
    for info in query_crs_info("EPSG", [PJType.PROJECTED_CRS], here, contains=True):
        area, method = info.area_of_use, info.projection_method_name or ""
        size = ((area.east - area.west) % 360) * (area.north - area.south)
        if size > _LARGEST_AREA_DEG2 or not method.startswith(_KEEP_ANGLES) or "Zoned" in method:
            continue
        code = f"EPSG:{info.code}"
        try:
            grid = systems.survey_grid(frame, code)
        except InputProblem:
            continue
        if abs(grid.ppm) > _FARTHEST_PPM:
            continue
        on = systems.horizontal(CRS.from_user_input(code).geodetic_crs)
        other = not on.equals(datum, ignore_axis_order=True)
        old = any(mark in info.name for mark in _SUPERSEDED)
        rank = other, old, abs(grid.ppm), "(N-E)" in info.name, info.name
        found[code] = rank, GridOffer(code, info.name, grid.ppm / 10)
    return tuple(offer for _, offer in sorted(found.values(), key=lambda f: f[0]))


_SUPERSEDED = ("WGS 72", "AGD", "NAD27", "ED50", "NTF", "NZGD49", "CH1903 ", "DHDN", "Pulkovo 1942")


def grids_matching(offers: tuple[GridOffer, ...], text: str) -> tuple[GridOffer, ...]:
    """Those of a list in whose code or name every typed word is found, in any case.

    Examples
    --------
    >>> offers = (GridOffer("EPSG:28354", "GDA94 / MGA zone 54", 1.0),)
    >>> len(grids_matching(offers, "mga 54")), len(grids_matching(offers, "utm"))
    (1, 0)
    """
    words = text.casefold().split()
    return tuple(o for o in offers if all(w in f"{o.code} {o.name}".casefold() for w in words))


@dataclass(frozen=True)
class GridFound(GridOffer):
    """A survey grid found by code or words among all there are.

    Attributes
    ----------
    code, name : str
    per_100_m_mm : float
        What it does to 100 m at the site; NaN where it does not cover it. [mm]
    unit : str
        Feet told apart.
    covers : bool
        Whether the site lies in its area of use; True where there is no site.
    is_withdrawn : bool
    refused : str
        Why stakes cannot be written in it; empty where they can.
    """

    unit: str = "metre"
    covers: bool = True
    is_withdrawn: bool = False
    refused: str = ""

    @property
    def words(self) -> str:
        """One line for a list.

        Examples
        --------
        >>> GridFound("EPSG:2927", "NAD83(HARN) / Washington South (ftUS)", float("nan"), "US survey foot", False).words
        'EPSG:2927   NAD83(HARN) / Washington South (ftUS)   US survey foot   does not cover the site'
        """
        said = [self.code, self.name, self.unit]
        if not self.covers:
            said.append("does not cover the site")
        elif math.isfinite(self.per_100_m_mm):
            sign = "−" if self.per_100_m_mm < 0 else "+"
            said.append(f"{sign}{abs(self.per_100_m_mm):.1f} mm per 100 m")
        if self.is_withdrawn:
            said.append("withdrawn")
        if self.refused:
            said.append(self.refused)
        return "   ".join(said)


def grids_named(text: str, project: Project | None, most: int = 50) -> tuple[GridFound, ...]:
    """Survey grids of all the world in whose code, name or area every typed word is found.

    First the one whose code it is, then those that cover the site, of these the ones on the outline's datum, and
    made for the smallest area; withdrawn ones last. Quick enough to follow typing: the list is read once.

    Source: the EPSG data set, as PROJ carries it.
    """
    words = text.casefold().split()
    number = text.strip().casefold().removeprefix("epsg:")
    frame = None if project is None else project.site.frame
    datum = "" if frame is None else _datum_name(frame.datum)
    ranked = []
    for grid in _all_grids():
        if not all(w in grid.sought for w in words):
            continue
        covers = frame is None or grid.covers(frame.longitude_deg, frame.latitude_deg)
        begins = all(f" {w}" in grid.named for w in words)
        by_name = begins or all(w in f"epsg:{grid.number}{grid.named}" for w in words)
        other = not grid.name.startswith(f"{datum} /")
        old = any(mark in grid.name for mark in _SUPERSEDED)
        rank = (
            *(grid.number != number, not covers, grid.is_withdrawn, not by_name, not begins),
            *(other, old, grid.size_deg2 if frame and covers else 0.0, grid.name, grid.number),
        )
        ranked.append((rank, covers, grid))
    ranked.sort(key=lambda r: r[0])
    found = [_grid_found(grid, covers, frame) for _, covers, grid in ranked[:most]]
    return tuple(sorted(found, key=lambda g: bool(g.refused) and g.code != f"EPSG:{number}"))


@dataclass(frozen=True)
class _KnownGrid:
    """A line of the EPSG data set: words in lower case, parted by blanks, for searching; its area of use. [deg]"""

    number: str
    name: str
    named: str
    sought: str
    is_withdrawn: bool
    area: tuple[float, float, float, float] | None

    @property
    def size_deg2(self) -> float:
        """Of its area of use, roughly: grids of a large one are made for maps. [deg²]"""
        if self.area is None:
            return math.inf
        west, south, east, north = self.area
        return ((east - west) % 360 or 360.0) * (north - south)

    def covers(self, longitude_deg: float, latitude_deg: float) -> bool:
        if self.area is None:
            return False
        west, south, east, north = self.area
        inside = (longitude_deg - west) % 360 <= (east - west) % 360 or east - west >= 360
        return inside and south <= latitude_deg <= north


@lru_cache(maxsize=1)
def _all_grids() -> tuple[_KnownGrid, ...]:
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    grids = []
    for info in query_crs_info("EPSG", [PJType.PROJECTED_CRS], allow_deprecated=True):
        area = info.area_of_use
        named = " " + re.sub(r"[/(]", " ", info.name).casefold()
        grids.append(
            _KnownGrid(
                info.code,
                info.name,
                named,
                f"epsg:{info.code}{named} {area.name.casefold() if area else ''}",
                info.deprecated,
                (area.west, area.south, area.east, area.north) if area else None,
            )
        )
    return tuple(grids)


@lru_cache(maxsize=8)
def _datum_name(datum: str) -> str:
    from pyproj import CRS

    return systems.horizontal(CRS.from_user_input(datum or "EPSG:4326")).name


def _grid_found(grid: _KnownGrid, covers: bool, frame: SiteFrame | None) -> GridFound:
    code = f"EPSG:{grid.number}"
    unit, refused = _unit_of(code)
    ppm = math.nan
    if covers and frame is not None and not refused:
        try:
            ppm = systems.survey_grid(frame, code).ppm
        except InputProblem:
            refused = "cannot be used here"
    return GridFound(code, grid.name, ppm / 10, unit, covers, grid.is_withdrawn, refused)


@lru_cache(maxsize=4096)
def _unit_of(code: str) -> tuple[str, str]:
    """The unit of a grid, and why stakes cannot be written in it."""
    from pyproj import CRS

    axes = CRS.from_user_input(code).axis_info[:2]
    astray = not {axis.direction.lower() for axis in axes} <= {"east", "north"}
    unit = systems.unit_name(axes[0].unit_name, axes[0].unit_conversion_factor)
    return unit, "its axes do not run east and north" if astray else ""


def grid_code(text: str, offers: tuple[GridOffer, ...] = ()) -> str:
    """The code of the grid a person means, by code, number or words of a name in a list.

    What is neither is given back as it is: the coordinate system library may know it.

    Raises
    ------
    InputProblem
        Where nothing was typed, or the words fit several grids of the list.

    Examples
    --------
    >>> grid_code("28354")
    'EPSG:28354'
    >>> grid_code("mga 54", (GridOffer("EPSG:28354", "GDA94 / MGA zone 54", 1.0),))
    'EPSG:28354'
    """
    text = text.strip()
    if not text:
        raise InputProblem("No grid is named: give a code such as EPSG:32754, or pick one.")
    if text.isdigit():
        return f"EPSG:{text}"
    if ":" in text or text.casefold() in {o.name.casefold() for o in offers}:
        return text
    fit = grids_matching(offers, text)
    if len(fit) > 1:
        raise InputProblem(f"{text} fits {len(fit)} grids of this place: pick one of the list.")
    return fit[0].code if fit else text
