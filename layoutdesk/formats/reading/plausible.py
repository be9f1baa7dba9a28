"""Whether numbers can be what their coordinate system says, and whether a size is a vineyard's."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import shapely

from layoutdesk.core.model.findings import Finding, InputProblem

from .reference import ALMOST_DEGREES, FOOT_M, Sizes, crs_name, crs_unit_m
from .shapes import Piece, Shape, area_words

if TYPE_CHECKING:
    import pyproj

SMALL_M2 = 100.0
LARGE_M2 = 5_000 * 1e4
"""A block outside these is asked about. Common practice. [m²]"""

FAR_DEG = 1.0
"""How far outside a system's area of use is 'clearly outside'. [deg]"""

FARTHEST = 1e9
"""No map grid counts further, in metres or feet."""

_MISREADINGS = (
    # (area factor to undo it, in words)
    (FOOT_M**2, "feet read as metres"),
    (1e-4, "centimetres read as metres"),
    (1e-6, "millimetres read as metres"),
    (FOOT_M**-2, "metres read as feet"),
    (1e4, "metres read as centimetres"),
    (1e6, "metres read as millimetres"),
)
_USUAL_M2 = (1_000.0, 200 * 1e4)


def check_numbers(pieces: list[Piece], crs: pyproj.CRS, shown: str) -> None:
    """Refuse coordinates that cannot stand in a coordinate system.

    Raises
    ------
    InputProblem
        For swapped latitude and longitude, metres tagged as degrees, or degrees tagged as metres.
    """
    size = Sizes(pieces)
    (x0, y0), (x1, y1) = size.low, size.high
    reach_x, reach_y = max(-x0, x1), max(-y0, y1)
    if crs.is_geographic:
        turn = 2 * math.pi / crs.axis_info[0].unit_conversion_factor
        in_turn = turn / 2 * (1 + 1e-12)
        # Longitudes from 180 to 360 are used across the antimeridian, by shapes of one place.
        lon_fits = reach_x <= in_turn or (reach_x <= turn and x1 - x0 < ALMOST_DEGREES)
        if lon_fits and reach_y <= in_turn / 2:
            return
        if reach_y > in_turn / 2 and reach_x <= in_turn / 2 and reach_y <= in_turn:
            raise InputProblem(
                f"{shown} has latitudes beyond 90° (such as {_beyond(y0, y1):.6g}): latitude and "
                "longitude look swapped; save it with longitude first (x) and latitude second (y)."
            )
        raise InputProblem(
            f"{shown} has coordinates such as ({x1:.10g}, {y1:.10g}), which are no degrees although "
            f"{crs_name(crs)} counts in degrees; they look like metres or feet of a map grid, so "
            "name that grid with --crs EPSG:nnnn or save the file again."
        )
    if max(reach_x, reach_y) > FARTHEST:
        raise InputProblem(
            f"{shown} has coordinates such as ({x1:.4g}, {y1:.4g}), which are nowhere on the Earth; "
            "check the file, or the unit and the grid given for it."
        )
    if not size.like_degrees:
        return
    outside = _outside_deg(crs, *_lonlat(crs, (x0 + x1) / 2, (y0 + y1) / 2))
    has_extent = any(p.form != "point" for p in pieces)
    if (has_extent and outside is None) or (outside is not None and outside > FAR_DEG):
        raise InputProblem(
            f"{shown} has coordinates such as ({x1:.10g}, {y1:.10g}), which look like degrees "
            f"although {crs_name(crs)} counts in map units; "
            "if they are WGS 84, use --crs EPSG:4326."
        )


def _beyond(low, high):
    return high if high >= -low else low


def joined_across_antimeridian(pieces: list[Piece], crs: pyproj.CRS) -> bool:
    """Bring parts on both sides of ±180° together by adding a turn to western longitudes.

    Changes the pieces' rings. Only for shapes of one place: those that are then near each other.

    Returns
    -------
    bool
        Whether anything was moved.
    """
    if not crs.is_geographic:
        return False
    turn = 2 * math.pi / crs.axis_info[0].unit_conversion_factor
    size = Sizes(pieces)
    if size.extent[0] <= turn / 2:
        return False
    moved = [np.column_stack([np.where(r[:, 0] < 0, r[:, 0] + turn, r[:, 0]), r[:, 1]])
             for p in pieces for r in p.rings]  # fmt: skip
    lon = np.concatenate([r[:, 0] for r in moved])
    lon = lon[np.isfinite(lon)]
    if np.ptp(lon) > 10 * ALMOST_DEGREES:
        return False
    rings = iter(moved)
    for piece in pieces:
        piece.rings = [next(rings) for _ in piece.rings]
    return True


def area_m2(geometry, crs: pyproj.CRS) -> float:
    """Area of a polygon: geodesic for degrees, planar for a map grid. [m²]"""
    if crs.is_geographic:
        return abs(crs.get_geod().geometry_area_perimeter(geometry)[0])
    return geometry.area * crs_unit_m(crs) ** 2


def size_findings(shapes: list[Shape], crs: pyproj.CRS) -> list[Finding]:
    """`size-unlikely` for each outline under 100 m² or over 5,000 ha, with the likely cause."""
    found = []
    for number, shape in enumerate(shapes, 1):
        size_m2 = area_m2(shape.geometry, crs)
        if SMALL_M2 <= size_m2 <= LARGE_M2:
            continue
        small = size_m2 < SMALL_M2
        causes = [
            f"{words} (it would be {area_words(size_m2 * factor)})"
            for factor, words in _MISREADINGS
            if (factor > 1) == small and _USUAL_M2[0] <= size_m2 * factor <= _USUAL_M2[1]
        ]
        if crs.is_geographic:
            causes = ["corners missing or misplaced by a degree or a decimal"]
        text = (
            f"The outline measures {area_words(size_m2)}, which is very "
            f"{'small' if small else 'large'} for a block"
            + (f"; likely {' or '.join(causes)}." if causes else "; check its unit.")
        )
        found.append(Finding("size-unlikely", text, where=shape.name or f"outline {number}"))
    return found


def place_findings(shapes: list[Shape], crs: pyproj.CRS, shown: str) -> list[Finding]:
    """`axes-swapped` or `grid-unsuitable` when shapes lie outside their system's area of use."""
    bounds = shapely.total_bounds([s.geometry for s in shapes])
    x, y = (bounds[0] + bounds[2]) / 2, (bounds[1] + bounds[3]) / 2
    lon, lat = _lonlat(crs, x, y)
    outside = _outside_deg(crs, lon, lat)
    if outside is None or outside <= FAR_DEG:
        return []
    name = crs_name(crs)
    swapped = _outside_deg(crs, *_lonlat(crs, y, x))
    if swapped == 0.0:
        kind = "Latitude and longitude" if crs.is_geographic else "Northing and easting"
        text = (
            f"{kind} look swapped: as they stand the shapes lie outside the area of {name}, "
            "swapped they lie inside; nothing was changed, so check the file."
        )
        return [Finding("axes-swapped", text, where=shown)]
    area = _area_of_use(crs)
    if math.isfinite(lon) and math.isfinite(lat):
        place = f"at {_compass(lat, 'NS')} {_compass(lon, 'EW')}"
    else:
        place = "nowhere on the Earth"
    text = (
        f"The shapes lie {place}, outside the area {name} is made for "
        f"({_compass(area.south, 'NS')} to {_compass(area.north, 'NS')}, "
        f"{_compass(area.west, 'EW')} to {_compass(area.east, 'EW')}); "
        "it is probably another coordinate system."
    )
    return [Finding("grid-unsuitable", text, where=shown)]


def _compass(degrees: float, letters: str) -> str:
    return f"{abs(degrees):.4g}°{letters[0] if degrees >= 0 else letters[1]}"


def _lonlat(crs, x, y) -> tuple[float, float]:
    import pyproj

    if crs.is_geographic:
        factor = math.degrees(crs.axis_info[0].unit_conversion_factor)
        lon, lat = x * factor, y * factor
    else:
        lon, lat = pyproj.Transformer.from_crs(crs, "OGC:CRS84", always_xy=True).transform(x, y)
    return ((lon + 180.0) % 360.0 - 180.0 if math.isfinite(lon) else math.inf), lat


def _area_of_use(crs):
    import pyproj

    if crs.area_of_use is None:
        authority = crs.to_authority(min_confidence=90)
        if authority:
            return pyproj.CRS.from_authority(*authority).area_of_use
    return crs.area_of_use


def _outside_deg(crs, lon, lat) -> float | None:
    """How far a place lies outside a system's area of use; 0 inside, None if it has none. [deg]"""
    area = _area_of_use(crs)
    if area is None:
        return None
    if not (math.isfinite(lon) and math.isfinite(lat)) or abs(lat) > 90:
        return math.inf
    width = (area.east - area.west) % 360.0 or 360.0
    past_west = (lon - area.west) % 360.0
    aside = 0.0 if past_west <= width else min(past_west - width, 360.0 - past_west)
    return max(aside, area.south - lat, lat - area.north, 0.0)
