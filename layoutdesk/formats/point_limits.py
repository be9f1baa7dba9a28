"""What a format cannot hold of a hand-off as it is, and what was done about it."""

from __future__ import annotations

from collections.abc import Iterable

from ..core.model import Finding
from .handoffset import HandOffSet
from .points_kml import PHONE_POINTS
from .points_landxml import LANDXML_UNITS
from .points_shp import is_cut, most_points
from .shapefile import NAME_LETTERS, TEXT_BYTES

_LAYERED = ("gpkg", "shp")


def limit_findings(hand: HandOffSet, formats: Iterable[str]) -> tuple[Finding, ...]:
    """Everything that whoever receives these formats should know, by format.

    Parameters
    ----------
    hand : HandOffSet
    formats : iterable of str
        Of FORMATS.
    """
    formats = frozenset(formats)
    told = [
        *(_phone_words(hand) if formats & {"kml", "kmz"} else ()),
        *(_receiver_words(hand) if "gpx" in formats else ()),
        *(_landxml_words(hand) if "landxml" in formats else ()),
        *(_layer_words(hand) if formats.intersection(_LAYERED) else ()),
        *(_shapefile_words(hand) if "shp" in formats else ()),
    ]
    if "taskdata" in formats:
        told.append(
            (
                "Task data: many terminals take few guidance lines; there is one pattern a block of straight rows, "
                "and one a row where rows bend. Headlands, posts and obstacles are not in it.",
                "note",
            )
        )
    return tuple(Finding("format-limit", text, severity=severity) for text, severity in told)


def _phone_words(hand: HandOffSet):
    n = len(hand.points)
    if n > PHONE_POINTS:
        yield (
            f"KML: {n:,} points are more than a phone's map shows with ease (some {PHONE_POINTS:,}): nothing is left "
            "out; hand off fewer rows or every nth vine where it is slow.",
            "caution",
        )
    if hand.heights is not None:
        yield (
            "KML: no heights are written, for its altitudes count from a geoid of their own; points stand on the map's "
            "ground.",
            "note",
        )


def _receiver_words(hand: HandOffSet):
    if hand.heights is not None:
        datum = hand.hand.vertical_datum or "a datum that is not stated"
        yield (
            f"GPX: elevations are metres above {datum}, while the format means the mean sea level.",
            "note",
        )


def _landxml_words(hand: HandOffSet):
    placing = hand.placing
    if placing.unit not in LANDXML_UNITS:
        yield (
            f"LandXML knows no {placing.unit} and cannot be written: choose metre, foot or US survey foot.",
            "wrong",
        )
    if placing.coordinates != "grid":
        yield (
            "LandXML: no code of a system is given, for the coordinates are not the grid's.",
            "note",
        )


def _layer_words(hand: HandOffSet):
    placing = hand.placing
    if placing.unit_m != placing.grid.unit_m:
        yield (
            f"GeoPackage and Shapefiles are in the grid's own unit, {placing.grid.unit}, not in {placing.unit}: "
            "their system says which.",
            "caution",
        )
    if placing.coordinates != "grid":
        yield (
            f"GeoPackage and Shapefiles of {placing.coordinates} coordinates stand in no system that a GIS knows.",
            "note",
        )


def _shapefile_words(hand: HandOffSet):
    yield (
        f"Shapefiles: names of columns have {NAME_LETTERS} letters at most (descr for description), every kind of shape "
        "has a file of its own, and where there is no row or index it is 0.",
        "note",
    )
    if hand.heights is not None:
        yield (
            "Shapefiles: an elevation that is not known is empty, which some programs show as 0.",
            "note",
        )
    most = most_points(hand)
    if len(hand.points) > most:
        yield (
            f"Shapefiles hold {most:,} of these points in their 2 GB, not {len(hand.points):,}, and cannot be written: "
            "hand off fewer at a time, or a GeoPackage.",
            "wrong",
        )
    if is_cut(hand):
        yield f"Shapefiles: texts longer than {TEXT_BYTES} bytes are cut.", "caution"
