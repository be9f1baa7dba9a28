"""What reading hands back (`Shapes`), and what a format's reader hands to the rest (`Source`)."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from layoutdesk.core.model.findings import Finding

if TYPE_CHECKING:
    import pyproj
    from shapely.geometry.base import BaseGeometry


@dataclass(frozen=True)
class Shape:
    """One geometry in its file's coordinate system.

    Attributes
    ----------
    geometry : Polygon, LineString or Point
        2D, valid; x is easting or longitude, y northing or latitude, in the unit of the
        coordinate system. Shells run counter-clockwise, holes clockwise. Longitudes may pass 180
        where a shape crosses the antimeridian.
    name, kind : str
        From a name-like and a kind-like attribute, a DXF layer, a Placemark; else "".
    clearance_m : float or None
        From an attribute called `clearance` or `clearance_m`. [m]
    """

    geometry: BaseGeometry
    name: str = ""
    kind: str = ""
    clearance_m: float | None = None


@dataclass(frozen=True)
class Shapes:
    """All shapes of one file, with the coordinate system they stand in.

    Attributes
    ----------
    crs : pyproj.CRS
        Two-dimensional, projected or geographic. Its axis order does not matter here: x is
        always easting or longitude.
    source : str
        File name without folders.
    findings : tuple of Finding
        `place` is None, since the site frame is not known yet.
    """

    shapes: tuple[Shape, ...]
    crs: pyproj.CRS
    source: str
    findings: tuple[Finding, ...] = ()


@dataclass
class Piece:
    """One part as found in a file: coordinates untouched, nothing checked.

    Attributes
    ----------
    form : {"area", "line", "point"}
    rings : list of float array, shape (n, 2)
        Shell then holes of an area; the one line; the one point as (1, 2).
    where : str
        The part in words, for findings: "feature 3", "layer FENCE".
    """

    form: str
    rings: list[np.ndarray]
    name: str = ""
    kind: str = ""
    clearance_m: float | None = None
    where: str = ""


@dataclass
class Source:
    """A file as its format's reader found it.

    Attributes
    ----------
    format : str
        "GeoJSON", "KML", ….
    crs : pyproj.CRS or None
        What the file itself says.
    assumed_crs : pyproj.CRS or None
        What is taken when neither the file nor the user says: WGS 84 for latitude and longitude.
    crs_trouble : str
        Why what the file says of its coordinate system could not be used, e.g. "says EPSG:0".
    unit_m : float or None
        Metres per unit where the file says so apart from a coordinate system (drawings).
    needs_unit : bool
        Whether coordinates mean nothing without a unit (drawings).
    rings_close_themselves : bool
        Whether the format leaves the last edge of a ring unwritten (corner lists, drawings).
    shell_direction : bool
        Whether the format says which way round a shell runs (counter-clockwise).
    n_skipped : int
        Features without a geometry.
    nothing : str
        For a file without outlines, what to say of what it holds instead, e.g. where lines gape.
    """

    format: str
    pieces: list[Piece] = field(default_factory=list)
    crs: pyproj.CRS | None = None
    assumed_crs: pyproj.CRS | None = None
    crs_trouble: str = ""
    unit_m: float | None = None
    needs_unit: bool = False
    rings_close_themselves: bool = False
    shell_direction: bool = False
    n_skipped: int = 0
    nothing: str = ""
    findings: list[Finding] = field(default_factory=list)


def counted(n: int, noun: str) -> str:
    """A number and its noun.

    Examples
    --------
    >>> counted(1, "corner"), counted(1200, "corner")
    ('1 corner', '1,200 corners')
    """
    return f"{n:,} {noun}" + ("" if n == 1 else "s")


def area_words(area_m2: float) -> str:
    """An area as people write it: hectares, or square metres when small.

    Examples
    --------
    >>> area_words(83_100.0), area_words(52.5), area_words(1e8), area_words(0.008)
    ('8.31 ha', '52.5 m²', '10,000 ha', '0.008 m²')
    """
    if area_m2 >= 1e6:
        return f"{area_m2 / 1e4:,.0f} ha"
    if area_m2 >= 1000:
        return f"{area_m2 / 1e4:.2f} ha"
    return f"{area_m2:.3g} m²"
