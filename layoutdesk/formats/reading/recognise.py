"""Which format a file is in: by what it holds first, by its name second."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path

from layoutdesk.core.model.findings import InputProblem

BY_SUFFIX = {
    ".geojson": "geojson",
    ".json": "geojson",
    ".gpkg": "gpkg",
    ".shp": "shp",
    ".kml": "kml",
    ".kmz": "zip",
    ".zip": "zip",
    ".dxf": "dxf",
    ".csv": "csv",
    ".txt": "csv",
    ".tsv": "csv",
    ".gpx": "gpx",
}

READABLE = "GeoJSON, GeoPackage, Shapefile (.shp, folder or zip), KML, KMZ, DXF, GPX or CSV"


def format_of(path: Path) -> str:
    """The reader to use: a value of `BY_SUFFIX`, or "folder".

    Raises
    ------
    InputProblem
        For a path that is missing, empty, unreadable, or in no known format.
    """
    if not path.exists():
        raise InputProblem(f"{path} does not exist; check the name and the folder.")
    if path.is_dir():
        return "folder"
    try:
        with path.open("rb") as stream:
            head = stream.read(4096)
    except OSError as trouble:
        raise InputProblem(
            f"{path.name} cannot be opened ({trouble.strerror}); check that you may read it."
        ) from trouble
    if not head:
        raise InputProblem(f"{path.name} is empty (0 bytes); get a fresh copy of it.")
    named = BY_SUFFIX.get(path.suffix.lower())
    held = _by_content(head)
    if held == "zip" and not zipfile.is_zipfile(path) and named not in (None, "zip"):
        held = None
    if held:
        return held
    if named is None:
        raise InputProblem(f"{path.name} is in no format that can be read here; give {READABLE}.")
    if named == "shp" or (named in ("gpkg", "zip")):
        kind = {"shp": "Shapefile", "gpkg": "GeoPackage", "zip": "zip archive"}[named]
        raise InputProblem(
            f"{path.name} is not a {kind} although its name says so; get a fresh copy of it."
        )
    return named


def _by_content(head: bytes) -> str | None:
    if head.startswith(b"SQLite format 3\x00"):
        return "gpkg"
    if head.startswith((b"PK\x03\x04", b"PK\x05\x06")):
        return "zip"
    if head.startswith(b"\x00\x00\x27\x0a"):
        return "shp"
    if head.startswith(b"AutoCAD Binary DXF"):
        return "dxf"
    text = head.removeprefix(b"\xef\xbb\xbf").lstrip()
    if text.startswith(b"{") and b'"type"' in text:
        return "geojson"
    if re.match(rb"(999\r?\n.*\r?\n\s*)*0\r?\n\s*SECTION\b", text):
        return "dxf"
    if text.startswith(b"<"):
        if re.search(rb"<([a-z]+:)?kml\b", text):
            return "kml"
        if re.search(rb"<([a-z]+:)?gpx\b", text):
            return "gpx"
    return None
