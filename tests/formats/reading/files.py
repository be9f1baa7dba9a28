"""Small files for the reading tests, and what is asked of the result."""

from __future__ import annotations

import warnings

import numpy as np
import shapely

EAST, NORTH = 300_000.0, 6_200_000.0
UTM = "EPSG:32734"
LON, LAT = 18.8, -33.9


def square(x=LON, y=LAT, w=0.003, h=0.003):
    """A closed counter-clockwise ring."""
    return [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]


def geojson(*geometries, head="", properties='{"name": "Upper"}'):
    """A feature collection from coordinate lists of polygons or ready geometry texts."""
    features = ",".join(
        f'{{"type":"Feature","properties":{properties},"geometry":{g}}}' for g in geometries
    )
    return f'{{"type":"FeatureCollection"{head},"features":[{features}]}}'


def polygon(*rings):
    """GeoJSON text of a polygon."""
    return f'{{"type":"Polygon","coordinates":{[[list(c) for c in r] for r in rings]}}}'


def crs_member(name):
    """The old-style member, to stand in a collection's head."""
    return f',"crs":{{"type":"name","properties":{{"name":"{name}"}}}}'


def kml(body):
    """A KML document."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2">'
        f"<Document>{body}</Document></kml>"
    )


def kml_polygon(ring):
    """A KML polygon."""
    corners = " ".join(f"{x:.6f},{y:.6f},0" for x, y in ring)
    return (
        "<Polygon><outerBoundaryIs><LinearRing><coordinates>"
        f"{corners}</coordinates></LinearRing></outerBoundaryIs></Polygon>"
    )


def layer(path, geometries, crs=UTM, geometry_type="Polygon", **where):
    """Write geometries with a NAME by OGR."""
    import pyogrio.raw

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pyogrio.raw.write(
            path,
            geometry=np.array([shapely.to_wkb(g) for g in geometries], dtype=object),
            field_data=[np.array(["Lower"] * len(geometries), dtype=object)],
            fields=["NAME"],
            geometry_type=geometry_type,
            crs=crs,
            **where,
        )
    return path


def box(east=EAST, north=NORTH, width=300.0, depth=300.0):
    """A box on the ground of the zone. [m]"""
    return shapely.box(east, north, east + width, north + depth)


def drawing(path, draw, units=6, version="R2010"):
    """A DXF whose model space is filled by `draw(document, modelspace)`."""
    import ezdxf

    document = ezdxf.new(version)
    if version != "R12":
        document.header["$INSUNITS"] = units
    draw(document, document.modelspace())
    document.saveas(path)
    return path


def text(path, content, encoding="utf-8"):
    """Write text or bytes and return the path."""
    path.write_bytes(content if isinstance(content, bytes) else content.encode(encoding))
    return path


def codes(shapes):
    """Finding codes, sorted."""
    return sorted(f.code for f in shapes.findings)


def finding(shapes, code):
    """The one finding of a code."""
    (only,) = [f for f in shapes.findings if f.code == code]
    assert only.place is None
    return only
