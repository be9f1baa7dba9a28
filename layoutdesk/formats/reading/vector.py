"""GeoJSON, GeoPackage, Shapefile, KML and GPX, read by OGR into pieces."""

from __future__ import annotations

import json
import logging
import re
import warnings
from contextlib import contextmanager
from pathlib import Path

import numpy as np

from layoutdesk.core.model.findings import Finding, InputProblem

from .attributes import clearance_of, field_roles, text_of
from .reference import crs_as_file_says
from .shapes import Piece, Source, counted
from .wkb import UnknownGeometry, parts_of_wkb

FORMAT_NAMES = {
    "geojson": "GeoJSON",
    "gpkg": "GeoPackage",
    "shp": "Shapefile",
    "kml": "KML",
    "gpx": "GPX",
}

AREA_TYPES = ("Polygon", "Surface", "Unknown", "Collection", "Triangle", "TIN")
_GPX_LAYERS = {True: ("tracks", "routes"), False: ("tracks", "routes", "waypoints")}


def read_vector(path: Path, kind: str, shown: str, *, areas_wanted: bool) -> Source:
    """All parts of one file, every layer that can matter.

    Parameters
    ----------
    path : Path
        The file, already staged so that OGR can open it.
    kind : str
        Key of `FORMAT_NAMES`.
    shown : str
        The file's name as the user knows it.
    areas_wanted : bool
        True to pass over layers that can hold only points or lines, if others are there.

    Raises
    ------
    InputProblem
        When OGR cannot read it, or its layers stand in different coordinate systems.
    """
    source = Source(FORMAT_NAMES[kind], shell_direction=kind in ("geojson", "kml"))
    with quiet_ogr():
        try:
            _read_layers(path, kind, shown, source, areas_wanted)
        except InputProblem:
            raise
        except Exception as trouble:  # pyogrio's errors, and what OGR's text trips in it
            raise InputProblem(
                f"{shown} cannot be read as {source.format} ({first_words(trouble, path, shown)}); "
                "get a fresh copy or save it again."
            ) from trouble
    if kind == "geojson":
        obey_crs_member(path, shown, source)
    return source


@contextmanager
def quiet_ogr():
    """Keep OGR's and NumPy's remarks off standard error; what matters comes as exceptions."""
    log = logging.getLogger("pyogrio")
    silent = logging.NullHandler()
    log.addHandler(silent)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        log.removeHandler(silent)


def _read_layers(path, kind, shown, source, areas_wanted):
    import pyogrio
    import pyogrio.raw

    if kind == "shp" and not path.with_suffix(".shx").exists():
        # A missing index is rebuilt in the staged copy, never beside the user's file.
        pyogrio.set_gdal_config_options({"SHAPE_RESTORE_SHX": True})
    try:
        if kind == "geojson":  # one layer always; OGR would parse the file once more to say so
            layers = [(None, "Unknown")]
        else:
            layers = [(str(n), t) for n, t in pyogrio.list_layers(path) if t is not None]
        if kind == "gpx":
            layers = [x for x in layers if x[0] in _GPX_LAYERS[areas_wanted]]
        elif areas_wanted:
            layers = [x for x in layers if any(t in str(x[1]) for t in AREA_TYPES)] or layers
        used, measured = [], False
        for name, geometry_type in layers:
            crs, n_areas = _read_layer(path, name, source, several=len(layers) > 1)
            measured |= bool(re.search(r"\bZ?M\b|Measured", str(geometry_type)))
            if n_areas or not areas_wanted:
                used.append((name, crs))
    finally:
        if kind == "shp":
            pyogrio.set_gdal_config_options({"SHAPE_RESTORE_SHX": None})

    if len({None if c is None else c.to_wkt() for _, c in used}) > 1:
        names = " and ".join(f"{n!r}" for n, _ in used[:3])
        raise InputProblem(
            f"{shown} has layers in different coordinate systems ({names}); "
            "save the outline's layer to a file of its own."
        )
    source.crs = used[0][1] if used else source.crs
    if areas_wanted and len(used) > 1 and kind == "gpkg":
        source.findings.append(
            Finding(
                "layers-read",
                f"Outlines were read from {counted(len(used), 'layer')}: "
                + ", ".join(n for n, _ in used)
                + ".",
                where=shown,
            )
        )
    if measured:
        source.findings.append(
            Finding("height-dropped", "Measures (M) of the corners are not used.", where=shown)
        )


def _read_layer(path, layer, source, *, several):
    import pyogrio.raw

    try:
        meta, _, geometries, columns = pyogrio.raw.read(path, layer=layer)
    except UnicodeDecodeError:
        meta, _, geometries, columns = pyogrio.raw.read(path, layer=layer, encoding="cp1252")
        text = "Its names are not UTF-8 and were read as Windows-1252; check accented letters."
        source.findings.append(Finding("text-decoded", text))
    roles = field_roles(meta["fields"])
    by_field = dict(zip(meta["fields"], columns, strict=True))
    crs = crs_as_file_says(meta["crs"])
    n_areas = 0
    top_m = 0.0
    for row, data in enumerate(geometries if geometries is not None else ()):
        if data is None:
            source.n_skipped += 1
            continue
        where = f"feature {row + 1}" + (f" of layer {layer!r}" if several else "")
        try:
            parts = parts_of_wkb(data)
        except UnknownGeometry:
            source.n_skipped += 1
            continue
        source.n_skipped += not parts
        value = {role: by_field[name][row] for role, name in roles.items() if name in by_field}
        clearance_m, trouble = clearance_of(value.get("clearance"))
        if trouble:
            source.findings.append(Finding("clearance-unread", trouble, where=where))
        for number, (form, rings) in enumerate(parts):
            n_areas += form == "area"
            for ring in rings:
                if ring.shape[1] > 2:
                    z = ring[:, 2][np.isfinite(ring[:, 2])]
                    top_m = max(top_m, np.abs(z).max(initial=0.0))
            source.pieces.append(
                Piece(
                    form,
                    [ring[:, :2] for ring in rings],
                    text_of(value.get("name")),
                    text_of(value.get("kind")),
                    clearance_m,
                    where + (f", part {number + 1}" if len(parts) > 1 else ""),
                )
            )
    if top_m > 0:  # a file full of zero heights loses nothing
        source.findings.append(
            Finding(
                "height-dropped",
                "Heights on the corners are not used; load a terrain model for slopes.",
                where=f"layer {layer!r}" if several else "",
            )
        )
    if source.crs is None:
        source.crs = crs
    return crs, n_areas


def first_words(trouble: Exception, path: Path, shown: str) -> str:
    """OGR's own reason, on one line and without this machine's paths."""
    text = " ".join(str(trouble).replace(str(path), shown).split()) or type(trouble).__name__
    if "sqlite" in text.lower():
        return "it is damaged or cut off"
    text = text.split("; It might help")[0].rstrip(".")
    return text.replace(f"'{shown}' ", "").replace(";", ",")[:160]


def obey_crs_member(path: Path, shown: str, source: Source) -> None:
    """Read the old `crs` member ourselves: OGR takes WGS 84 when it is null or unknown."""
    member = _crs_member(path)
    if member is _ABSENT:
        return
    if member is None:
        source.crs = None
        return
    try:
        import pyproj

        named = crs_as_file_says(member["properties"]["name"])
        same = named is not None and named.equals(pyproj.CRS.from_epsg(4326), True)
    except (KeyError, TypeError):
        named, same = None, False
    if named is None:
        source.crs = None
        source.crs_trouble = "has a crs entry that names no coordinate system known here"
    elif not same:
        source.crs = named
        source.findings.append(
            Finding(
                "old-crs-member",
                f"Its old-style crs entry says {named.name}; that is used. "
                "Today's GeoJSON is always WGS 84.",
                where=shown,
            )
        )


_ABSENT = object()


def _crs_member(path: Path):
    """The top-level `crs` value, parsed; `_ABSENT` if there is none."""
    data = path.read_bytes()
    at = re.search(rb'"crs"\s*:\s*(?=\{|null)', data)
    if at is None:
        return _ABSENT
    ahead = re.sub(rb'"(\\.|[^"\\])*"', b"", data[: at.start()]) if at.start() < 10_000 else b""
    text = data[at.end() : at.end() + 4096].decode("utf-8", "replace")
    try:
        if ahead.count(b"{") - ahead.count(b"}") == 1 and b"[" not in ahead:
            return json.JSONDecoder().raw_decode(text)[0]
        # Not near the head: only a full parse can tell the member from an attribute of that name.
        return json.loads(data.decode("utf-8-sig")).get("crs", _ABSENT)
    except (ValueError, AttributeError):
        return _ABSENT
