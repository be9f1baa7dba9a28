"""Heights from LandXML: surfaces of triangles, else points."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..core.model import Finding, InputProblem
from .terrain import UNITS_M, Said
from .terrain_points import Points, plain_unit, refuse_level

_LINEAR_UNITS_M = {
    "millimeter": 0.001,
    "centimeter": 0.01,
    "meter": 1.0,
    "kilometer": 1000.0,
    "inch": 0.0254,
    "foot": 0.3048,
    "USSurveyFoot": 1200 / 3937,
    "mile": 1609.344,
}
"""Units of length as LandXML 1.2 (2008) names them. [m]"""


def read_landxml(path: Path) -> Points:
    """Triangles of the first surface that has any, else the points there are. LandXML 1.2."""
    import xml.etree.ElementTree as ET

    name = path.name
    try:
        root = ET.parse(path).getroot()
    except (ET.ParseError, OSError, UnicodeError):
        raise InputProblem(f"{name} is no whole XML file: export it again as LandXML.") from None
    if _tag(root) != "LandXML":
        raise InputProblem(f"{name} is no LandXML file: export the surface again as LandXML.")
    unit_m = crs = datum = None
    for element in root.iter():
        tag = _tag(element)
        if tag in ("Metric", "Imperial") and unit_m is None:
            unit_m = _LINEAR_UNITS_M.get(element.get("linearUnit", ""))
        elif tag == "CoordinateSystem" and crs is None:
            code = element.get("epsgCode")
            crs = f"EPSG:{code}" if code and code.isdecimal() else None
            datum = element.get("verticalDatum") or element.get("verticalCoordinateSystemName")
    unit, scale = plain_unit(unit_m)
    unit_m = UNITS_M[unit] if unit else None
    said = Said("triangles", unit, datum or None, crs)
    surfaces = [e for e in root.iter() if _tag(e) == "Surface"]
    findings: list = []
    for surface in surfaces:
        points, triangles = _landxml_surface(surface, name)
        if len(triangles):
            if len(surfaces) > 1:
                text = f"{name} has {len(surfaces)} surfaces; {surface.get('name', 'the first')!r} was taken."
                findings.append(Finding("terrain-reduced", text, name))
            refuse_level(points, name)
            return Points(said, points * scale, triangles, unit_m=unit_m, findings=findings)
    texts = [e.text or "" for e in root.iter() if _tag(e) == "CgPoint"]
    texts += [e.text or "" for e in root.iter() if _tag(e) == "P"]
    rows = [t for t in (_numbers(text, name) for text in texts) if len(t) >= 3]
    northing_first = np.array([row[:3] for row in rows], dtype=float).reshape(-1, 3)
    xyz = northing_first[:, [1, 0, 2]] * scale
    refuse_level(xyz, name)
    return Points(Said("points", unit, datum or None, crs), xyz, unit_m=unit_m, findings=findings)


def _tag(element) -> str:
    return element.tag.rpartition("}")[2]


def _numbers(text: str, name: str) -> list[float]:
    try:
        return [float(word) for word in text.split()]
    except ValueError:
        raise InputProblem(f"{name}: {text.strip()[:40]!r} is no point; export it again.") from None


def _landxml_surface(surface, name: str):
    """Points easting first, and visible triangles, of one surface."""
    numbers, rows = {}, []
    for p in (e for e in surface.iter() if _tag(e) == "P"):
        row = _numbers(p.text or "", name)
        if len(row) >= 3:
            numbers[p.get("id", str(len(rows) + 1))] = len(rows)
            rows.append((row[1], row[0], row[2]))
    triangles = []
    for f in (e for e in surface.iter() if _tag(e) == "F"):
        if f.get("i") == "1":  # invisible: a hole, or beyond the surface's rim
            continue
        corners = (f.text or "").split()
        try:
            triangles.append([numbers[c] for c in corners[:3]])
        except KeyError as missing:
            raise InputProblem(
                f"{name}: a triangle has a corner {missing} that is no point; export it again."
            ) from None
    triangles = [t for t in triangles if len(t) == 3]
    return np.array(rows, dtype=float).reshape(-1, 3), np.array(triangles, dtype=np.intp).reshape(
        -1, 3
    )
