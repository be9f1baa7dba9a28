"""Which coordinate system a file stands in, and whether its numbers can stand in it."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from layoutdesk.core.model.findings import Finding, InputProblem

from .shapes import Piece, Source, area_words

if TYPE_CHECKING:
    import pyproj

FOOT_M = 0.3048
"""International foot, exact by definition (1959). [m]"""
US_SURVEY_FOOT_M = 1200 / 3937
"""US survey foot, exact by definition (1893; retired from 2023 but alive in old grids). [m]"""

UNITS_M = {
    "m": 1.0,
    "ft": FOOT_M,
    "usft": US_SURVEY_FOOT_M,
    "mm": 0.001,
    "cm": 0.01,
    "dm": 0.1,
    "km": 1000.0,
    "in": 0.0254,
    "yd": 0.9144,
    "mi": 1609.344,
}
"""Units of a drawing by the name typed at --unit. [m]"""

_OTHER_SPELLINGS = {
    "metre": "m",
    "meter": "m",
    "foot": "ft",
    "feet": "ft",
    "us-ft": "usft",
    "ftus": "usft",
    "us survey foot": "usft",
    "us survey feet": "usft",
    "survey foot": "usft",
    "survey feet": "usft",
    "us_survey_foot": "usft",
    "millimetre": "mm",
    "millimeter": "mm",
    "centimetre": "cm",
    "centimeter": "cm",
    "kilometre": "km",
    "kilometer": "km",
    "inch": "in",
    "inche": "in",
    "yard": "yd",
    "mile": "mi",
}

DEGREE_M = 111_320.0
"""Length of a degree, roughly; for tolerances only. [m]"""

ALMOST_DEGREES = 1.0
"""A vineyard never spans this much in degrees, nor this little in metres or feet."""


def metres_of_unit(text: str) -> float:
    """Metres in a unit the user named. [m]

    Raises
    ------
    InputProblem
        For a name that is no unit of length.

    Examples
    --------
    >>> metres_of_unit("feet"), metres_of_unit("MM")
    (0.3048, 0.001)
    """
    name = text.strip().lower()
    name = _OTHER_SPELLINGS.get(name, _OTHER_SPELLINGS.get(name.removesuffix("s"), name))
    if name not in UNITS_M:
        raise InputProblem(
            f"--unit {text!r} is no unit of length; give one of {', '.join(UNITS_M)}."
        )
    return UNITS_M[name]


def unit_name(unit_m: float) -> str:
    """The short name of a unit, or its length in metres when it has none."""
    for name, metres in UNITS_M.items():
        if math.isclose(metres, unit_m, rel_tol=1e-9):
            return name
    return f"{unit_m:.9g} m"


def crs_as_user_says(text) -> pyproj.CRS:
    """The horizontal part of what was typed at --crs.

    Raises
    ------
    InputProblem
        When it is unknown, or has no horizontal part (heights, geocentric, a local site grid).
    """
    import pyproj

    try:
        found = pyproj.CRS.from_user_input(text.strip() if isinstance(text, str) else text)
    except Exception as trouble:  # pyproj raises CRSError, TypeError and others by input
        raise InputProblem(
            f"--crs {str(text)!r} names no known coordinate system; "
            "give a code such as EPSG:32734 or a definition in WKT or PROJ."
        ) from trouble
    flat = horizontal(found)
    if flat is None:
        raise InputProblem(
            f"--crs {str(text)!r} ({found.name}) is not a map or longitude-latitude system; "
            "give one such as EPSG:32734."
        )
    return flat


def crs_as_file_says(text) -> pyproj.CRS | None:
    """The horizontal part of a file's own coordinate system; None when it says nothing usable."""
    import pyproj

    if not text:
        return None
    try:
        found = pyproj.CRS.from_user_input(text)
    except Exception:  # an unreadable definition is the same as none: the user is asked
        return None
    if "undefined" in found.name.lower() or found.name.lower() in ("unknown", "unnamed"):
        # GeoPackage's two placeholders; a PROJ string is named "unknown" but still usable.
        return horizontal(found) if found.is_projected else None
    return horizontal(found)


def horizontal(crs: pyproj.CRS) -> pyproj.CRS | None:
    """The two-dimensional projected or geographic part of a coordinate system, or None."""
    if crs.is_bound:
        return horizontal(crs.source_crs)
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    if not (crs.is_projected or crs.is_geographic):
        return None
    return crs.to_2d() if len(crs.axis_info) == 3 else crs


def crs_unit_m(crs: pyproj.CRS) -> float:
    """Metres per unit of a projected system; about, for a geographic one. [m]"""
    factor = crs.axis_info[0].unit_conversion_factor
    return factor if crs.is_projected else math.degrees(factor) * DEGREE_M


def crs_name(crs: pyproj.CRS) -> str:
    """A coordinate system as people write it: its code, else its name."""
    authority = crs.to_authority(min_confidence=90)
    return ":".join(authority) if authority else crs.name


def settle_reference(
    source: Source, shown: str, crs_text, unit_text, site_crs=None
) -> tuple[pyproj.CRS, float]:
    """The coordinate system to use, and the factor that brings the file's numbers into its unit.

    Parameters
    ----------
    source : Source
        Its `findings` grow by what was decided.
    shown : str
        The file's name, for sentences.
    crs_text, unit_text : str or None
        As typed at --crs and --unit.
    site_crs : str, optional
        The outline's system, for an exclusion that names none.

    Raises
    ------
    InputProblem
        When something must be asked; the sentence shows what size each answer would give.
    """
    given = None if crs_text is None else crs_as_user_says(crs_text)
    unit_given_m = None if unit_text is None else metres_of_unit(unit_text)
    crs = given or source.crs or source.assumed_crs
    if crs is None and site_crs is not None:
        crs = crs_as_user_says(site_crs)
        text = f"The file names no coordinate system; the outline's, {crs_name(crs)}, was taken."
        source.findings.append(Finding("crs-given", text, where=shown))
        source.crs = crs
    unit_m = unit_given_m or source.unit_m
    sizes = Sizes(source.pieces)

    if source.needs_unit and unit_m is None and not (crs is not None and crs.is_geographic):
        raise InputProblem(
            f"{shown} is a drawing without a unit ($INSUNITS): it would be {sizes.read_in('m')} "
            f"read in metres, {sizes.read_in('ft')} in feet or {sizes.read_in('mm')} in "
            "millimetres; say which with --unit m, --unit ft (or usft) or --unit mm"
            + ("." if crs is not None else ", and its map grid with --crs EPSG:nnnn.")
        )
    if crs is None:
        raise InputProblem(_crs_wanted(source, shown, unit_m, sizes))

    if given is None and source.crs is None:
        text = "Its latitudes and longitudes were taken as WGS 84, since it does not say."
        source.findings.append(Finding("crs-assumed", text, where=shown))
    elif given is not None:
        if source.crs is None:
            text = f"The file names no coordinate system; {crs_name(given)} was given."
            source.findings.append(Finding("crs-given", text, where=shown))
        elif not given.equals(source.crs, ignore_axis_order=True):
            text = (
                f"The file says {crs_name(source.crs)}, but {crs_name(given)} was given and is "
                "used; the numbers are taken as they stand, nothing is converted."
            )
            source.findings.append(Finding("crs-given", text, where=shown, severity="caution"))
    if unit_given_m is not None and (source.crs is not None or crs.is_geographic):
        text = f"--unit {unit_text} is not used: the file's coordinate system has its own unit."
        source.findings.append(Finding("unit-unused", text, where=shown))
        return crs, 1.0
    if unit_given_m is not None and source.unit_m not in (None, unit_given_m):
        text = (
            f"The file says its unit is {unit_name(source.unit_m)}, but "
            f"{unit_name(unit_given_m)} was given and is used."
        )
        source.findings.append(Finding("unit-given", text, where=shown, severity="caution"))
    if unit_m is None or not crs.is_projected:
        return crs, 1.0
    factor = unit_m / crs_unit_m(crs)
    if math.isclose(factor, 1.0, rel_tol=1e-12):
        return crs, 1.0
    source.findings.append(_scaled(source, shown, crs, unit_m, factor))
    return crs, factor


def _crs_wanted(source, shown, unit_m, sizes) -> str:
    lacks = source.crs_trouble or "names no coordinate system"
    if sizes.like_degrees and not source.needs_unit:
        return (
            f"{shown} {lacks} and its numbers look like degrees; "
            "if they are WGS 84 longitude and latitude, add --crs EPSG:4326."
        )
    if unit_m is not None:
        size = f"in its unit ({unit_name(unit_m)}) it would be {sizes.read_as(unit_m)}"
    else:
        size = f"read as metres it would be {sizes.read_in('m')}, as feet {sizes.read_in('ft')}"
    return f"{shown} {lacks} ({size}); add the one it was surveyed in with --crs EPSG:nnnn."


def _scaled(source, shown, crs, unit_m, factor) -> Finding:
    text = (
        f"Coordinates in {unit_name(unit_m)} were brought into {unit_name(crs_unit_m(crs))}, "
        f"the unit of {crs_name(crs)} (× {factor:.9g})."
    )
    severity = "note"
    if abs(factor - 1) < 1e-4:  # the two feet: same size, another place
        far = max((np.abs(r).max(initial=0.0) for p in source.pieces for r in p.rings), default=0)
        shift_m = far * abs(factor - 1) * crs_unit_m(crs)
        text += (
            f" The two feet differ by 2 parts in a million, which moves this outline by "
            f"{shift_m:.2f} m; if the drawing follows the grid, add "
            f"--unit {unit_name(crs_unit_m(crs))}."
        )
        severity = "caution"
    return Finding("unit-scaled", text, where=shown, severity=severity)


class Sizes:
    """How large a file's shapes would be in each unit, before anything is known of them."""

    def __init__(self, pieces: list[Piece]):
        rings = [r[np.isfinite(r).all(axis=1)] for p in pieces for r in p.rings]
        rings = [r for r in rings if len(r)]
        xy = np.vstack(rings) if rings else np.zeros((1, 2))
        self.low, self.high = xy.min(axis=0), xy.max(axis=0)
        self.extent = self.high - self.low
        self.area = 0.0
        for piece in pieces:
            if piece.form == "area":
                sizes = [abs(signed_area(r[np.isfinite(r).all(axis=1)])) for r in piece.rings]
                self.area += sizes[0] - sum(sizes[1:])

    @property
    def like_degrees(self) -> bool:
        """Whether all numbers could be longitudes and latitudes of one vineyard."""
        within = max(-self.low.min(), self.high.max()) <= 180.0
        return bool(within and self.extent.max() < ALMOST_DEGREES)

    def read_in(self, unit: str) -> str:
        """The size in words if coordinates were in a unit of `UNITS_M`."""
        return self.read_as(UNITS_M[unit])

    def read_as(self, unit_m: float) -> str:
        """The size in words if a unit were so many metres."""
        if self.area > 0:
            return area_words(self.area * unit_m**2)
        width, depth = self.extent * unit_m
        return f"{width:,.3g} × {depth:,.3g} m"


def signed_area(ring: np.ndarray) -> float:
    """Area of a ring by its corners, positive counter-clockwise, in the square of its unit."""
    if len(ring) < 3:
        return 0.0
    x, y = (ring - ring[0]).T
    return 0.5 * float(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1)))
