"""Points and rows of a hand-off as LandXML.

Source: LandXML 1.2, schema documentation, 2008: CgPoints hold northing, easting and elevation in this order.
"""

from __future__ import annotations

import numpy as np

from .. import __version__
from ..core.model import InputProblem
from .handoffset import HandOffSet, Progress
from .point_records import placed
from .point_stream import PointStream, description_parts, escaped
from .seal import Seal, SealedFile

LANDXML_UNITS = {
    # unit: element and the words it uses, as the schema names them
    "metre": 'Metric areaUnit="squareMeter" linearUnit="meter" volumeUnit="cubicMeter" '
    'temperatureUnit="celsius" pressureUnit="milliBars"',
    "foot": 'Imperial areaUnit="squareFoot" linearUnit="foot" volumeUnit="cubicFeet" '
    'temperatureUnit="fahrenheit" pressureUnit="inHG"',
    "US survey foot": 'Imperial areaUnit="squareFoot" linearUnit="USSurveyFoot" volumeUnit="cubicFeet" '
    'temperatureUnit="fahrenheit" pressureUnit="inHG"',
}
_LINE_WORDS = ("row", "outline", "exclusion")


def write_points_landxml(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of points written: all as CgPoints, rows, outlines and exclusions as PlanFeatures.

    A point is named by its number, which is unique; its code and description stand beside it. An exclusion that
    is a single place is a point only. Coordinates that are not on the grid carry no code of a system, so that no
    program takes them for the grid's. Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    hand : HandOffSet
    seal : Seal
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where the unit is none that LandXML knows, or a point has no place in the survey system.
    """
    with SealedFile(path) as file:
        file.write(_head(hand).encode())
        file.write(b'<CgPoints name="points">\n')
        parts = [
            *(b'<CgPoint name="', "number", b'" code="', "owner", "tail", b'" desc="'),
            *(*description_parts(hand), b'">', "y", b" ", "x", "elevation", b"</CgPoint>\n"),
        ]
        stream = PointStream(hand, parts, is_wgs84=False, elevation=(b" ", b""))
        n = stream.write(file, progress)
        file.write(b"</CgPoints>\n")
        _write_lines(file, hand)
        file.write(b"</LandXML>\n<!-- ")
        file.write(file.seal_text(seal).encode())
        file.write(b" -->\n")
    return n


def _head(hand: HandOffSet) -> str:
    placing, asked = hand.placing, hand.hand
    if placing.unit not in LANDXML_UNITS:
        raise InputProblem(
            f"LandXML knows no {placing.unit}: choose metre, foot or US survey foot as the written unit."
        )
    grid, datum = placing.grid, escaped(asked.vertical_datum)
    code = grid.crs.partition(":")
    epsg = f' epsgCode="{code[2]}"' if placing.coordinates == "grid" and code[0] == "EPSG" else ""
    vertical = f' verticalDatum="{datum}"' if datum else ""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<LandXML xmlns="http://www.landxml.org/schema/LandXML-1.2" version="1.2" '
        f'date="{hand.day.isoformat()}" time="00:00:00" language="English" readOnly="false">\n'
        f"<Units><{LANDXML_UNITS[placing.unit]} "
        'angularUnit="decimal degrees" directionUnit="decimal degrees"/></Units>\n'
        f'<CoordinateSystem name="{escaped(grid.name)}" desc="{escaped(placing.statement)}"{epsg}{vertical}/>\n'
        f'<Project name="{escaped(hand.project.name)}" desc="{escaped(hand.statement)}"/>\n'
        f'<Application name="Layout Desk" version="{__version__}"/>\n'
    )


def _write_lines(file, hand: HandOffSet) -> None:
    """Rows, outlines and exclusions, a set of features for each."""
    lines, decimals = hand.lines, hand.hand.table.decimals
    if not len(lines.xy_m):
        return
    places = placed(hand, lines.xy_m)
    texts = [f"{north:.{decimals}f} {east:.{decimals}f}" for east, north in places.tolist()]
    first = lines.first.tolist()
    for kind, words in enumerate(_LINE_WORDS):
        which = np.flatnonzero(lines.kind == kind).tolist()
        which = [i for i in which if first[i + 1] - first[i] > 1]
        if not which:
            continue
        file.write(f'<PlanFeatures name="{words}s">\n'.encode())
        for i in which:
            some = texts[first[i] : first[i + 1]]
            some += some[:1] if lines.closed[i] else []
            file.write(
                f'<PlanFeature name="{escaped(lines.code[i])}" desc="{words}"><CoordGeom>'
                f"{_line(some)}</CoordGeom></PlanFeature>\n".encode()
            )
        file.write(b"</PlanFeatures>\n")


def _line(places: list[str]) -> str:
    ends = f"<Start>{places[0]}</Start><End>{places[-1]}</End>"
    if len(places) == 2:
        return f"<Line>{ends}</Line>"
    return f"<IrregularLine>{ends}<PntList2D>{' '.join(places)}</PntList2D></IrregularLine>"
