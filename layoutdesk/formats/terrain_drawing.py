"""Heights from a DXF drawing: points, contours and other lines, faces."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..core.model import Finding
from .terrain import UNITS_M, Said
from .terrain_points import Points, plain_unit, refuse_level


def read_drawn_points(path: Path) -> Points:
    """Points, lines and faces of a drawing that can have heights."""
    from .reading.drawing import (
        INSUNITS_M,
        drawing_document,
        quiet_drawing,
        says_unit,
        visible_entities,
    )
    from .reading.shapes import Source

    name, source = path.name, Source("DXF")
    xyz: list = []
    lines: list = []
    faces: list = []
    with quiet_drawing():
        document = drawing_document(path, name, source)
        code = document.header.get("$INSUNITS", 0) if says_unit(path) else 0
        unit_m = INSUNITS_M.get(code)
        for entity, _ in visible_entities(document, name, source):
            places = _entity_places(entity)
            if places is None or not len(places):
                continue
            kind, begin = entity.dxftype(), len(xyz)
            xyz += places
            if kind == "3DFACE":
                faces += [(begin, begin + 1, begin + 2)]
                if len(places) == 4:
                    faces.append((begin, begin + 2, begin + 3))
            elif kind != "POINT":
                lines.append(np.arange(begin, len(xyz)))
    points = np.array(xyz, dtype=float).reshape(-1, 3)
    refuse_level(points, name)
    unit, scale = plain_unit(unit_m)
    unit_m = UNITS_M[unit] if unit else None
    points *= scale
    # Faces that make up most of a drawing are its ground, whatever else is drawn beside them.
    corners = np.unique(np.array(faces, dtype=np.intp))
    if 2 * len(corners) > len(points):
        if len(corners) < len(points):
            text = f"Of {name} the faces were taken for the ground, and no points and lines."
            source.findings.append(Finding("terrain-reduced", text, name))
        said, triangles, lines = Said("triangles", unit), np.array(faces, dtype=np.intp), []
    else:
        said, triangles = Said("contours" if lines else "points", unit), None
    return Points(said, points, triangles, lines, unit_m=unit_m, findings=list(source.findings))


def _entity_places(entity) -> list | None:
    """Points of an entity that can have heights, in world coordinates; None for any other."""
    kind = entity.dxftype()
    if kind == "POINT":
        return [tuple(entity.dxf.location)]
    if kind == "LINE":
        return [tuple(entity.dxf.start), tuple(entity.dxf.end)]
    if kind == "3DFACE":
        corners = [tuple(entity.dxf.get(f"vtx{k}")) for k in range(3)]
        fourth = tuple(entity.dxf.get("vtx3", corners[2]))
        return corners if fourth == corners[2] else [*corners, fourth]
    if kind == "POLYLINE" and (entity.is_3d_polyline or entity.is_2d_polyline):
        places = [tuple(v) for v in entity.points_in_wcs()]
        return places + places[:1] if entity.is_closed else places
    if kind == "LWPOLYLINE":
        places = [tuple(v) for v in entity.vertices_in_wcs()]
        return places + places[:1] if entity.closed else places
    return None
