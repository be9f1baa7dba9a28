"""What a format cannot hold of a hand-off as it is, and what was done about it."""

from __future__ import annotations

from collections.abc import Iterable

from ..core.model import Finding
from .handoffset import HandOffSet
from .points_kml import PHONE_POINTS
from .points_shp import MOST_POINTS

_TEXT_BYTES = 254
_LAYERED = ("gpkg", "shp")


def limit_findings(hand: HandOffSet, formats: Iterable[str]) -> tuple[Finding, ...]:
    """Everything that whoever receives these formats should know, by format."""
    formats, placing, n = tuple(formats), hand.placing, len(hand.points)
    told = []
    if n > PHONE_POINTS and any(f in formats for f in ("kml", "kmz")):
        told.append(
            f"KML: {n:,} points are more than a phone's map shows with ease (some {PHONE_POINTS:,}): nothing is left "
            "out; hand off fewer rows or every nth vine where it is slow."
        )
    if "shp" in formats:
        told.append(
            "Shapefiles: names of columns have 10 letters at most (descr for description), every kind of shape has a "
            "file of its own, and an elevation that is not known is empty."
        )
        if n > MOST_POINTS:
            told.append(
                f"Shapefiles: {n:,} points are more than the 2 GB of one file hold: hand off fewer at a time."
            )
        longest = max((len(c.encode()) for c in hand.points.owners.code), default=0)
        if longest + len(hand.hand.table.description.encode()) > _TEXT_BYTES:
            told.append(f"Shapefiles: texts are cut after {_TEXT_BYTES} bytes.")
    if any(f in formats for f in _LAYERED):
        if placing.unit_m != placing.grid.unit_m:
            told.append(
                f"GeoPackage and Shapefiles are in the grid's own unit, {placing.grid.unit}, not in {placing.unit}: "
                "their system says which."
            )
        if placing.coordinates != "grid":
            told.append(
                f"GeoPackage and Shapefiles of {placing.coordinates} coordinates stand in no system that a GIS knows."
            )
    if "landxml" in formats and placing.coordinates != "grid":
        told.append(
            "LandXML: no code of a system is given, for the coordinates are not the grid's."
        )
    if "taskdata" in formats:
        told.append(
            "Task data: many terminals take few guidance lines; there is one pattern a block of straight rows, and one "
            "a row where rows bend. Headlands, posts and obstacles are not in it."
        )
    return tuple(Finding("format-limit", text) for text in told)
