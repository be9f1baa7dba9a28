"""The survey grid as a person reads it: coordinates under the cursor, units, factors, norths."""

from __future__ import annotations

import datetime
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
