"""Coordinate systems: the site frame, the survey grid, WGS 84 and the way between them."""

from __future__ import annotations

import math
import re
import warnings
from functools import lru_cache

import numpy as np

from ..core.model import Finding, InputProblem, SiteFrame
from .stakeset import SurveyGrid

FOOT_M = 0.3048
"""International foot, exact. [m] Source: the 1959 agreement, as in EPSG unit 9002."""

US_SURVEY_FOOT_M = 1200 / 3937
"""US survey foot, exact. [m] Source: EPSG unit 9003; NIST SP 811."""

ORIGIN_DECIMALS = 5

_UNSUITABLE, _NO_GRID = 2e-3, 1e-2
"""Scale off by more: a grid of another region; no surveyor's grid at all (Web Mercator)."""


def crs_named(text: str):
    """A coordinate system from what a person typed.

    Raises
    ------
    InputProblem
        Where nothing is known by that name.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        return horizontal(CRS.from_user_input(text.strip() if isinstance(text, str) else text))
    except (CRSError, ValueError, TypeError):
        shown = str(text)[:60]
        raise InputProblem(
            f"The coordinate system {shown!r} is not known: give a code such as EPSG:32754."
        ) from None


def horizontal(crs):
    """The horizontal, two-dimensional part of a coordinate system, its datum shift unbound."""
    if crs.is_bound:
        crs = crs.source_crs
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    known_as = _SAME_AS.get(crs.to_authority() or ())
    return type(crs).from_epsg(known_as) if known_as else crs.to_2d()


_SAME_AS = {("OGC", "CRS84"): 4326, ("OGC", "CRS83"): 4269}  # but for the order of the axes


def crs_text(crs) -> str:
    """A code where the system has one, else WKT."""
    authority = crs.to_authority(min_confidence=100)
    return ":".join(authority) if authority else crs.to_wkt()


def _plain_datum(crs):
    """The geographic system under a projected one, which must count degrees from Greenwich."""
    datum = horizontal(crs.geodetic_crs) if crs.geodetic_crs else None
    if datum is None or not datum.is_geographic:
        raise InputProblem(
            f"The coordinate system {crs.name} has no geographic base: give one on an earth datum "
            "with --crs EPSG:nnnn."
        )
    if not _counts_degrees_from_greenwich(datum):
        datum = _by_greenwich(datum) or datum
    if not _counts_degrees_from_greenwich(datum):
        raise InputProblem(
            f"The coordinate system {crs.name} does not count degrees from Greenwich, which is not "
            "supported: convert the outline to a grid on a Greenwich datum first."
        )
    return datum


def _counts_degrees_from_greenwich(datum) -> bool:
    degree = math.pi / 180
    in_degrees = all(abs(a.unit_conversion_factor - degree) < 1e-12 for a in datum.axis_info)
    return in_degrees and abs(datum.prime_meridian.longitude) < 1e-12


def _by_greenwich(datum):
    """The same datum counted from Greenwich, such as NTF for NTF (Paris); None where none is known."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        twin = horizontal(CRS.from_user_input(re.sub(r"\s*\([^)]*\)$", "", datum.name)))
    except CRSError:
        return None
    return twin if twin.is_geographic and same_datum(twin, datum) else None


def make_frame(crs, x, y, height_m: float = 0.0) -> SiteFrame:
    """The site frame for source coordinates x, y in `crs`, its origin at their middle, rounded."""
    from pyproj import Transformer

    datum = _plain_datum(crs)
    middle = (np.min(x) + np.max(x)) / 2, (np.min(y) + np.max(y)) / 2
    longitude, latitude = Transformer.from_crs(crs, datum, always_xy=True).transform(*middle)
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        raise InputProblem(
            f"The outline's middle {middle[0]:g}, {middle[1]:g} cannot lie in {crs.name}: check the "
            "coordinate system, give another with --crs EPSG:nnnn."
        )
    ellipsoid = datum.ellipsoid
    return SiteFrame(
        round(float(latitude), ORIGIN_DECIMALS),
        round((float(longitude) + 180) % 360 - 180, ORIGIN_DECIMALS),
        float(height_m),
        ellipsoid.semi_major_metre,
        ellipsoid.inverse_flattening,
        crs_text(datum),
    )


@lru_cache(maxsize=32)
def frame_crs(frame: SiteFrame):
    """The site frame as a coordinate system other programs understand."""
    from pyproj.crs import CRS, ProjectedCRS
    from pyproj.crs.coordinate_operation import TransverseMercatorConversion

    conversion = TransverseMercatorConversion(
        latitude_natural_origin=frame.latitude_deg,
        longitude_natural_origin=frame.longitude_deg,
        scale_factor_natural_origin=frame.scale,
    )
    return ProjectedCRS(
        conversion, name="Site frame", geodetic_crs=CRS.from_user_input(frame.datum or "EPSG:4326")
    )


def _pairs(transformer, xy):
    x, y = transformer.transform(xy[:, 0], xy[:, 1])
    return np.column_stack([x, y])


def to_frame(crs, frame: SiteFrame):
    """Function from (n, 2) source coordinates to (n, 2) site frame. [m]

    By projection alone for data on the frame's datum; other data (an exclusion from another file)
    are shifted as PROJ knows best.
    """
    from pyproj import Transformer

    transformer = Transformer.from_crs(crs, frame_crs(frame), always_xy=True)
    return lambda xy: _pairs(transformer, np.asarray(xy, dtype=float))


def same_datum(a, b) -> bool:
    """Whether two systems stand on one datum."""
    from pyproj import Transformer
    from pyproj.transformer import TransformerGroup

    a, b = horizontal(a.geodetic_crs), horizontal(b.geodetic_crs)
    if a.equals(b, ignore_axis_order=True):
        return True
    steps = _steps(Transformer.from_crs(a, b, always_xy=True).description)
    if all(step.startswith(("noop", "Null geographic offset")) for step in steps):
        return True
    if a.prime_meridian == b.prime_meridian or a.ellipsoid != b.ellipsoid:
        return False
    # another prime meridian of the same datum: exact, by a turn in longitude alone
    ways = TransformerGroup(a, b, always_xy=True).transformers
    return bool(ways) and ways[0].accuracy == 0.0


def _steps(description: str) -> list[str]:
    """What a transformation does, exchanges of axes aside."""
    return [s for s in description.split(" + ") if not s.startswith("axis order change")]


def frame_to_geographic(frame: SiteFrame):
    """Function from (n, 2) site frame [m] to (n, 2) longitude, latitude on the frame's datum. [deg]"""
    from pyproj import Transformer

    grid = frame_crs(frame)
    transformer = Transformer.from_crs(grid, grid.geodetic_crs, always_xy=True)
    return lambda xy: _pairs(transformer, np.asarray(xy, dtype=float))


def frame_to_survey(frame: SiteFrame, survey_crs: str):
    """Function from (n, 2) site frame [m] to (n, 2) easting, northing in the survey unit.

    By projection alone: where the survey system stands on another datum, latitude and longitude are
    carried over unshifted (`survey_findings` says so).
    """
    from pyproj import Transformer

    survey = crs_named(survey_crs)
    grid = frame_crs(frame)
    if same_datum(grid, survey):
        transformer = Transformer.from_crs(grid, survey, always_xy=True)
        return lambda xy: _pairs(transformer, np.asarray(xy, dtype=float))
    to_geographic = frame_to_geographic(frame)
    onward = Transformer.from_crs(_plain_datum(survey), survey, always_xy=True)
    return lambda xy: _pairs(onward, to_geographic(xy))


def survey_to_frame(frame: SiteFrame, survey_crs: str):
    """Function from (n, 2) easting, northing in the survey unit to (n, 2) site frame. [m]

    The way back of `frame_to_survey`: where the datums differ, latitude and longitude are carried over
    unshifted.
    """
    from pyproj import Transformer

    survey = crs_named(survey_crs)
    grid = frame_crs(frame)
    if same_datum(grid, survey):
        transformer = Transformer.from_crs(survey, grid, always_xy=True)
        return lambda en: _pairs(transformer, np.asarray(en, dtype=float))
    onward = Transformer.from_crs(survey, _plain_datum(survey), always_xy=True)
    from_geographic = Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    return lambda en: _pairs(from_geographic, _pairs(onward, np.asarray(en, dtype=float)))


def combined_factor_at(frame: SiteFrame, survey_crs: str, easting: float, northing: float) -> float:
    """Grid distance over ground distance at a point of the grid, at the site's height; NaN out of its reach."""
    from dataclasses import replace

    from pyproj import Transformer

    crs = crs_named(survey_crs)
    to_datum = Transformer.from_crs(crs, _plain_datum(crs), always_xy=True)
    longitude, latitude = to_datum.transform(easting, northing)
    if not (math.isfinite(longitude) and math.isfinite(latitude)):
        return math.nan
    there = replace(frame, longitude_deg=float(longitude), latitude_deg=float(latitude))
    return _factors(crs, there).meridional_scale / there.scale


def frame_to_wgs84(frame: SiteFrame):
    """Function from (n, 2) site frame to longitude, latitude on WGS 84, and the shift in words.

    Returns
    -------
    function, str, bool
        The transform, what it shifts and how well, and whether it is smooth (no grid of shifts).
    """
    from pyproj import CRS

    to_geographic = frame_to_geographic(frame)
    datum = frame_crs(frame).geodetic_crs
    wgs84 = CRS.from_epsg(4326)
    if same_datum(datum, wgs84):
        return to_geographic, "none: the survey datum is WGS 84", True
    shift, words = _best_shift(datum, wgs84, frame)
    return lambda xy: _pairs(shift, to_geographic(xy)), words, "grid" not in shift.definition


def _best_shift(datum, other, frame: SiteFrame):
    """The shift PROJ knows best at the site, from one geographic system to another, and its words."""
    from pyproj.aoi import AreaOfInterest
    from pyproj.transformer import TransformerGroup

    around = AreaOfInterest(
        max(frame.longitude_deg - 0.01, -180),
        max(frame.latitude_deg - 0.01, -90),
        min(frame.longitude_deg + 0.01, 180),
        min(frame.latitude_deg + 0.01, 90),
    )
    with warnings.catch_warnings():  # a missing grid is said in the words
        warnings.simplefilter("ignore")
        group = TransformerGroup(datum, other, always_xy=True, area_of_interest=around)
    shift = group.transformers[0]
    accuracy = (
        f"stated accuracy {shift.accuracy:g} m" if shift.accuracy >= 0 else "accuracy unknown"
    )
    words = f"{' + '.join(_steps(shift.description))}, {accuracy}"
    if not group.best_available and group.unavailable_operations:
        words += "; a better shift exists but its grid file is not installed"
    return shift, words


def shift_onto(frame: SiteFrame, crs) -> str | None:
    """The shift that data in `crs` need to stand on the frame's datum, in words; None for none."""
    datum = frame_crs(frame).geodetic_crs
    if same_datum(datum, crs):
        return None
    return _best_shift(horizontal(crs.geodetic_crs), datum, frame)[1]


def utm_zone(longitude_deg: float) -> int:
    """UTM zone 1 to 60 by longitude alone.

    Examples
    --------
    >>> utm_zone(138.7), utm_zone(-180.0), utm_zone(179.9)
    (54, 1, 60)
    """
    return int(((longitude_deg + 180) % 360) // 6) + 1


def default_survey_crs(source_crs, frame: SiteFrame):
    """The survey system where none was named, and a sentence that says which and why.

    The source's own if it is a grid, else the UTM zone on the source datum.
    """
    from pyproj import CRS
    from pyproj.crs import ProjectedCRS
    from pyproj.crs.coordinate_operation import UTMConversion
    from pyproj.database import query_utm_crs_info

    left = ""
    if source_crs.is_projected:
        factors = _factors(source_crs, frame)
        if abs(factors.meridional_scale - 1) <= _NO_GRID:
            return source_crs, f"the outline's own grid, {source_crs.name}"
        left = f"; the outline's own, {source_crs.name}, is no surveyor's grid here"
    datum = _plain_datum(source_crs)
    zone, half = utm_zone(frame.longitude_deg), "N" if frame.latitude_deg >= 0 else "S"
    known = [
        info
        for info in query_utm_crs_info(datum_name=datum.name)
        if info.name == f"{datum.name} / UTM zone {zone}{half}"
    ]
    if known:
        crs = CRS.from_authority(known[0].auth_name, known[0].code)
    else:
        crs = ProjectedCRS(
            UTMConversion(zone, half),
            name=f"{datum.name} / UTM zone {zone}{half}",
            geodetic_crs=datum,
        )
        code = crs.to_epsg(min_confidence=70)  # the same grid under its national name
        crs = CRS.from_epsg(code) if code else crs
    return crs, f"{crs.name}, the UTM zone on the outline's datum{left}"


def _factors(crs, frame: SiteFrame):
    """Scales and convergence of a grid at the frame's origin, as PROJ gives them."""
    from pyproj import Proj

    meridian = crs.prime_meridian
    east_of_greenwich = math.degrees(meridian.longitude * meridian.unit_conversion_factor)
    longitude = (frame.longitude_deg - east_of_greenwich + 180) % 360 - 180
    return Proj(crs).get_factors(longitude, frame.latitude_deg)


def survey_grid(frame: SiteFrame, survey_crs: str) -> SurveyGrid:
    """Unit, scale, combined factor and convergence of the survey grid at the frame's origin.

    Raises
    ------
    InputProblem
        Where the system is no grid, or its axes run west or south.
    """
    from pyproj.exceptions import CRSError

    crs = crs_named(survey_crs)
    if not crs.is_projected:
        raise InputProblem(
            f"{crs.name} is no survey grid: stakes need eastings and northings, so give a projected "
            "system with --survey-crs EPSG:nnnn."
        )
    directions = {axis.direction.lower() for axis in crs.axis_info}
    if not directions <= {"east", "north"}:
        raise InputProblem(
            f"The axes of {crs.name} do not run east and north, which is not supported for stake-out: "
            "give another grid with --survey-crs EPSG:nnnn."
        )
    try:
        factors = _factors(crs, frame)
    except CRSError:
        raise InputProblem(
            f"{crs.name} is a projection whose scale is not known here: give another grid with --survey-crs "
            "EPSG:nnnn."
        ) from None
    axis = crs.axis_info[0]
    unit_m = axis.unit_conversion_factor
    if not math.isfinite(factors.meridional_scale) or factors.meridional_scale > 10:
        raise InputProblem(
            f"The site at {frame.latitude_deg:.4f}, {frame.longitude_deg:.4f} is out of reach of "
            f"{crs.name}: give a grid of its own region with --survey-crs EPSG:nnnn."
        )
    return SurveyGrid(
        crs_text(crs),
        crs.name,
        unit_name(axis.unit_name, unit_m),
        unit_m,
        factors.meridional_scale,
        factors.meridional_scale / frame.scale,
        factors.meridian_convergence + 0.0,
    )


def unit_name(name: str, unit_m: float) -> str:
    """One plain name for a unit of length: the three that are confused are told apart by size."""
    for length, plain in (
        (1.0, "metre"),
        (FOOT_M, "foot"),
        (US_SURVEY_FOOT_M, "US survey foot"),
    ):
        if abs(unit_m / length - 1) < 1e-9:
            return plain
    return name


def survey_findings(frame: SiteFrame, survey_crs: str, wgs84_shift: str) -> tuple[Finding, ...]:
    """What the user must know of the survey grid and the datum."""
    from pyproj import CRS

    crs, found = crs_named(survey_crs), []
    grid = survey_grid(frame, survey_crs)
    found.append(
        Finding(
            "grid-not-ground",
            f"100 m on the ground measure {100 * grid.combined_factor:.4f} m on {grid.name} "
            f"(combined factor {grid.combined_factor:.7f}).",
            grid.crs if len(grid.crs) < 40 else grid.name,
        )
    )
    factors = _factors(crs, frame)
    if abs(factors.meridional_scale - factors.parallel_scale) > 1e-7:
        found.append(
            Finding(
                "grid-unsuitable",
                f"{crs.name} keeps no angles ({1e6 * abs(factors.meridional_scale / factors.parallel_scale - 1):.0f} "
                "ppm apart by direction): a surveyor's grid should; choose another with --survey-crs.",
                crs.name,
            )
        )
    elif abs(factors.meridional_scale - 1) > _UNSUITABLE:
        found.append(
            Finding(
                "grid-unsuitable",
                f"{crs.name} is {1e6 * (factors.meridional_scale - 1):+,.0f} ppm off at this site: it "
                "is made for another region or purpose; choose another with --survey-crs.",
                crs.name,
                severity="wrong" if abs(factors.meridional_scale - 1) > _NO_GRID else "caution",
            )
        )
    datum = frame_crs(frame).geodetic_crs
    if not same_datum(datum, crs):
        found.append(
            Finding(
                "datum-not-shifted",
                f"The outline stands on {datum.name}, the survey grid on {crs.geodetic_crs.name}: "
                "latitude and longitude were carried over without a shift. Have the surveyor confirm "
                "that this is meant.",
                crs.name,
            )
        )
    if not same_datum(datum, CRS.from_epsg(4326)):
        found.append(
            Finding("datum-shift", f"GeoJSON is on WGS 84. Shift used: {wgs84_shift}.", datum.name)
        )
    return tuple(found)
