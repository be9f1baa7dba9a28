"""Measured points from GeoPackage, Shapefile, GeoJSON, KML and GPX, by OGR."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from layoutdesk.core.model import Finding, InputProblem

from .attributes import text_of
from .measured import Draft
from .recognise import format_of
from .reference import crs_as_file_says
from .shapes import Source, counted
from .vector import FORMAT_NAMES, first_words, obey_crs_member, quiet_ogr

_NAMES = (
    "point",
    "number",
    "name",
    "pointname",
    "pointid",
    "pt",
    "ptno",
    "id",
    "nr",
    "no",
    "label",
)
_DESCRIPTIONS = ("code", "description", "desc", "descriptio", "feature", "cmt", "comment", "note")
_HEIGHTS = ("elevation", "elev", "height", "z", "h")


def read_measured_layers(files: list[tuple[Path, str]], shown: str, layer: str = "") -> Draft:
    """Points of all layers, or of one; other geometry is passed over.

    Parameters
    ----------
    files : list of (path, str)
        What to read, and its name.
    shown : str
    layer : str

    Raises
    ------
    InputProblem
        When it cannot be read, holds no points, or its layers stand in different systems.
    """
    drafts: list[tuple[str, Draft]] = []
    there: list[str] = []
    kind = "gpkg"
    for path, name in files:
        kind = format_of(path)
        if kind not in FORMAT_NAMES:
            continue
        with quiet_ogr():
            try:
                for title, draft in _layers(path, kind, name, layer, len(files) > 1, there):
                    drafts.append((title, draft))
            except InputProblem:
                raise
            except Exception as trouble:  # pyogrio's errors, and what OGR's text trips in it
                raise InputProblem(
                    f"{shown} cannot be read as {FORMAT_NAMES[kind]} ({first_words(trouble, path, shown)}); "
                    "get a fresh copy or save it again."
                ) from trouble
    if layer and layer.strip().casefold() not in {t.casefold() for t in there}:
        raise InputProblem(
            f"{shown} has no layer {layer!r}: it has {', '.join(there[:8]) or 'none'}."
        )
    if not drafts:
        raise InputProblem(
            f"{shown} holds no points: export the measured points, not only lines or areas."
        )
    return _joined(drafts, shown, FORMAT_NAMES.get(kind, "GIS file"))


def _layers(path: Path, kind: str, name: str, wanted: str, several: bool, there: list[str]):
    import pyogrio
    import pyogrio.raw

    layers = [(str(n), t) for n, t in pyogrio.list_layers(path) if t is not None]
    for title, geometry_type in layers:
        called = name.rpartition(".")[0] if kind == "shp" and several else title
        there.append(called)
        if wanted and wanted.strip().casefold() != called.casefold():
            continue
        form = str(geometry_type)
        if "Point" not in form and "Unknown" not in form and "Collection" not in form:
            continue
        if kind == "gpx" and title == "track_points":
            continue
        draft = _layer(path, kind, title)
        if kind == "geojson" and draft is not None:
            source = Source("GeoJSON", crs=draft.crs)
            obey_crs_member(path, name, source)
            draft.crs = source.crs
            draft.findings += source.findings
        if draft is not None:
            yield called, draft


def _layer(path: Path, kind: str, title: str) -> Draft | None:
    import pyogrio.raw
    import shapely

    try:
        meta, _, wkb, columns = pyogrio.raw.read(path, layer=title)
    except UnicodeDecodeError:
        meta, _, wkb, columns = pyogrio.raw.read(path, layer=title, encoding="cp1252")
    if wkb is None or not len(wkb):
        return None
    shapes = shapely.from_wkb(wkb, on_invalid="ignore")
    parts, feature = shapely.get_parts(shapes, return_index=True)
    parts, of_part = shapely.get_parts(parts, return_index=True)
    points = (shapely.get_type_id(parts) == 0) & ~shapely.is_empty(parts)
    parts, feature = parts[points], feature[of_part][points]
    if not len(parts):
        return None
    xyz = shapely.get_coordinates(parts, include_z=True)
    fields = {str(f).strip().lower(): c for f, c in zip(meta["fields"], columns, strict=True)}
    draft = Draft(FORMAT_NAMES[kind])
    draft.name = _texts(fields, _NAMES, feature)
    draft.description = _texts(fields, _DESCRIPTIONS, feature)
    draft.en, draft.height = xyz[:, :2], xyz[:, 2]
    if not np.nan_to_num(draft.height).any():
        draft.height = _heights(fields, feature)
    draft.line = feature.astype(np.int64) + 1
    draft.crs = crs_as_file_says(meta["crs"])
    return draft


def _texts(fields: dict, names, feature) -> list[str]:
    """Values of the first field of some names that says anything, else empty."""
    for name in names:
        if name in fields:
            values = [text_of(v) for v in fields[name].tolist()]
            values = [v.removesuffix(".0") if v.endswith(".0") else v for v in values]
            if any(values):
                return [values[i] for i in feature.tolist()]
    return [""] * len(feature)


def _heights(fields: dict, feature) -> np.ndarray:
    for name in _HEIGHTS:
        if name in fields and fields[name].dtype.kind in "fiu":
            return fields[name].astype(float)[feature]
    return np.full(len(feature), np.nan)


def _joined(drafts: list[tuple[str, Draft]], shown: str, format_name: str) -> Draft:
    systems = {None if d.crs is None else d.crs.to_wkt() for _, d in drafts}
    if len(systems) > 1:
        names = " and ".join(repr(t) for t, _ in drafts[:3])
        raise InputProblem(
            f"{shown} has layers of points in different coordinate systems ({names}): say which layer holds the "
            "measured ones."
        )
    whole = Draft(format_name, crs=drafts[0][1].crs)
    for _, draft in drafts:
        whole.name += draft.name
        whole.description += draft.description
        whole.findings += [f for f in draft.findings if f not in whole.findings]
    whole.en = np.concatenate([d.en for _, d in drafts])
    whole.height = np.concatenate([d.height for _, d in drafts])
    whole.line = np.concatenate([d.line for _, d in drafts])
    if len(drafts) > 1:
        whole.findings.append(layers_read([(t, len(d.line)) for t, d in drafts], shown))
    else:
        whole.said.append(f"layer {drafts[0][0]}")
    return whole


def layers_read(counts: list[tuple[str, int]], shown: str) -> Finding:
    """That points were taken from several layers, and from which."""
    told = ", ".join(f"{title} {n:,}" for title, n in counts[:8])
    more = " and more" if len(counts) > 8 else ""
    return Finding(
        "layers-read",
        f"Points were read from {counted(len(counts), 'layer')}: {told}{more}. Where one of them holds the plan, "
        "say which is the measured one.",
        where=shown,
    )
