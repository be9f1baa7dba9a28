"""Points and lines of a hand-off as Shapefiles in a zip."""

from __future__ import annotations

import zipfile
from dataclasses import replace

import numpy as np

from ..core.model import InputProblem
from ..core.model.handoff import POINT_KINDS
from . import shapefile
from .handoffset import HandOffSet, Progress
from .point_records import KIND_NAMES, owners_used
from .points_layers import POINTS, Layers, LineLayer, crs_of, grid_placing, layer_words
from .seal import Seal, seal_archive
from .shapefile import Field

_NUMBER_WIDTH, _ROW_WIDTH, _ELEVATION_WIDTH = 12, 9, 19
_TAIL_WIDTH = 10
"""What stands behind the owner's code, such as -V034."""
_SHARE = 0.7
_KINDS = {
    "Point": (shapefile.POINT, "points"),
    "LineString": (shapefile.LINE, "lines"),
    "Polygon": (shapefile.POLYGON, "areas"),
}


def write_points_shp(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of points written; rows, outlines and exclusions have files of their own in the zip.

    Columns: number, code, descr (the description), kind, block, row, segment, idx (the index) and, where heights
    are known, elevation; row and idx are 0 where there is none, an elevation that is not known is empty. Texts
    are UTF-8, as the .cpg files say. Coordinates are in the grid's own unit; ground and calibrated ones come
    without a definition of a system (no .prj). Exclusions of several kinds of shape have a file of each. Not
    atomic: the caller swaps the file in.

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
        Where there are more points than a file may hold, or one has no place in the survey system.
    """
    placing = grid_placing(hand.placing)
    layers, words = Layers(hand, placing), layer_words(hand, placing)
    fields = _fields(hand)
    _hold_limit(len(hand.points), fields)
    system = _definition(placing)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        _write_points(archive, hand, layers, fields, progress)
        _write_beside(archive, POINTS, system)
        for layer in layers.lines():
            _write_lines(archive, layer, hand, system)
    seal_archive(path, replace(seal, unit=placing.unit, unit_m=placing.unit_m), words)
    if progress:
        progress(1.0)
    return len(hand.points)


def most_points(hand: HandOffSet) -> int:
    """How many points a Shapefile of a hand-off may hold."""
    room = shapefile.MOST_BYTES - shapefile.HEAD_BYTES - 1024
    return room // max(shapefile.row_bytes(_fields(hand)), shapefile.POINT_BYTES)


def is_cut(hand: HandOffSet) -> bool:
    """Whether a text may be longer than a Shapefile's are."""
    return _longest_description(hand) > shapefile.TEXT_BYTES or any(
        _longest(hand, some) + _TAIL_WIDTH > shapefile.TEXT_BYTES for some in ("code", "block")
    )


def _hold_limit(n: int, fields: list[Field]) -> None:
    longest = max(shapefile.row_bytes(fields), shapefile.POINT_BYTES)
    if shapefile.HEAD_BYTES + 1024 + n * longest > shapefile.MOST_BYTES:
        raise InputProblem(
            f"{n:,} points are more than the 2 GB of a Shapefile hold: hand off fewer at a time, or a GeoPackage."
        )


def _longest(hand: HandOffSet, which: str) -> int:
    """Bytes of the longest code or block name of the owners that have points."""
    texts = getattr(hand.points.owners, which)
    used = np.flatnonzero(owners_used(hand.points)).tolist()
    return max((len(texts[i].encode("utf-8", "replace")) for i in used), default=1)


def _longest_description(hand: HandOffSet) -> int:
    """No description has more bytes."""
    table, code = hand.hand.table, _longest(hand, "code")
    features = max(len(table.feature(kind).encode("utf-8", "replace")) for kind in POINT_KINDS)
    room = {
        "{code}": code + _TAIL_WIDTH,
        "{block}": _longest(hand, "block"),
        "{feature}": features,
        "{kind}": max(map(len, KIND_NAMES)),
        "{number}": _NUMBER_WIDTH,
        "{row}": _ROW_WIDTH,
        "{segment}": 3,
        "{index}": _TAIL_WIDTH,
    }
    words, total = table.description, 0
    for name, width in room.items():
        total += width * words.count(name)
        words = words.replace(name, "")
    return total + len(words.encode("utf-8", "replace"))


def _fields(hand: HandOffSet) -> list[Field]:
    most = shapefile.TEXT_BYTES
    code, block = _longest(hand, "code") + _TAIL_WIDTH, max(_longest(hand, "block"), 1)
    fields = [
        Field("number", _NUMBER_WIDTH, 0),
        Field("code", min(code, most)),
        Field("descr", min(max(_longest_description(hand), 1), most)),
        Field("kind", max(map(len, KIND_NAMES))),
        Field("block", min(block, most)),
        Field("row", _ROW_WIDTH, 0),
        Field("segment", max(1, *map(len, hand.points.owners.letter or ("",)))),
        Field("idx", _ROW_WIDTH, 0),
    ]
    if hand.heights is not None:
        fields.append(Field("elevation", _ELEVATION_WIDTH, max(hand.hand.table.decimals, 1)))
    return fields


def _definition(placing) -> bytes:
    """The .prj; empty for none."""
    from pyproj.exceptions import CRSError

    crs = crs_of(placing)
    if crs is None:
        return b""
    try:
        return crs.to_wkt("WKT1_ESRI").encode()
    except CRSError:  # what the older form of definitions cannot say
        return b""


def _opened(archive: zipfile.ZipFile, name: str):
    return archive.open(name, "w", force_zip64=True)


def _write_beside(archive: zipfile.ZipFile, layer: str, system: bytes) -> None:
    for end, content in (("cpg", b"UTF-8"), ("prj", system)):
        if content:
            with _opened(archive, f"{layer}.{end}") as file:
                file.write(content)


def _write_points(archive, hand: HandOffSet, layers: Layers, fields, progress) -> None:
    points, total, done = hand.points, len(hand.points), 0
    owners = points.owners
    block = [text.encode("utf-8", "replace") for text in owners.block]
    letter = [text.encode() for text in owners.letter]
    kinds = [text.encode() for text in KIND_NAMES]
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    with _opened(archive, f"{POINTS}.dbf") as file:
        file.write(shapefile.table_head(fields, total, hand.day))
        for some in points.chunks():
            code = layers.text("code", some)
            described = code
            if not layers.is_described_by_code:
                described = layers.text("description", some)
            values = [
                *(some.number, code, described, (kinds, some.kind)),
                *((block, some.owner), owners.row[some.owner], (letter, some.owner), some.index),
            ]
            xy, elevations = layers.xy(some.xy_m), layers.elevations(some)
            if elevations is not None:
                values.append(elevations)
            file.write(shapefile.table_rows(fields, values))
            low, high = np.minimum(low, xy.min(axis=0)), np.maximum(high, xy.max(axis=0))
            done += len(some)
            if progress:
                progress(_SHARE * done / total)
        file.write(shapefile.END_OF_TABLE)
    bounds, done = (*low, *high) if total else (0.0,) * 4, 0
    with _opened(archive, f"{POINTS}.shp") as file:
        n_bytes = shapefile.HEAD_BYTES + total * shapefile.POINT_BYTES
        file.write(shapefile.head(shapefile.POINT, n_bytes, bounds))
        for some in points.chunks():
            file.write(shapefile.point_records(done + 1, layers.xy(some.xy_m)))
            done += len(some)
            if progress:
                progress(_SHARE + (0.99 - _SHARE) * done / total)
    with _opened(archive, f"{POINTS}.shx") as file:
        n_bytes = shapefile.HEAD_BYTES + total * shapefile.INDEX_BYTES
        file.write(shapefile.head(shapefile.POINT, n_bytes, bounds))
        at = shapefile.HEAD_BYTES
        for begin in range(0, total, 65_536):
            lengths = np.full(min(65_536, total - begin), shapefile.POINT_BYTES)
            file.write(shapefile.index_records(at, lengths))
            at += int(lengths.sum())


def _write_lines(archive, layer: LineLayer, hand: HandOffSet, system: bytes) -> None:
    """A file for each kind of shape on a layer; the usual kind has the layer's own name."""
    kinds = [shape.geom_type for shape in layer.shapes.tolist()]
    usual = "LineString" if layer.name == "rows" else "Polygon"
    for kind in dict.fromkeys(kinds):
        which = [i for i, k in enumerate(kinds) if k == kind]
        number, words = _KINDS[kind]
        name = layer.name if kind == usual else f"{layer.name}-{words}"
        shapes = [layer.shapes[i] for i in which]
        records = shapefile.shape_records(number, shapes)
        lengths = np.array([len(r) for r in records])
        x0, y0, x1, y1 = np.array([shape.bounds for shape in shapes]).T
        bounds = (x0.min(), y0.min(), x1.max(), y1.max())
        with _opened(archive, f"{name}.shp") as file:
            n_bytes = shapefile.HEAD_BYTES + int(lengths.sum())
            file.write(shapefile.head(number, n_bytes, bounds))
            file.write(b"".join(records))
        with _opened(archive, f"{name}.shx") as file:
            n_bytes = shapefile.HEAD_BYTES + len(which) * shapefile.INDEX_BYTES
            file.write(shapefile.head(number, n_bytes, bounds))
            file.write(shapefile.index_records(shapefile.HEAD_BYTES, lengths))
        _write_line_table(archive, name, layer, which, hand)
        _write_beside(archive, name, system)


def _write_line_table(archive, name: str, layer: LineLayer, which: list[int], hand) -> None:
    columns = {
        key: [getattr(layer, key)[i].encode("utf-8", "replace") for i in which]
        for key in ("code", "block", "segment")
    }
    fields = [
        Field(key, min(max(1, *map(len, texts)), shapefile.TEXT_BYTES))
        for key, texts in columns.items()
    ]
    fields.insert(2, Field("row", _ROW_WIDTH, 0))
    row = np.array([layer.row[i] for i in which])
    values = [columns["code"], columns["block"], row, columns["segment"]]
    with _opened(archive, f"{name}.dbf") as file:
        file.write(shapefile.table_head(fields, len(which), hand.day))
        file.write(shapefile.table_rows(fields, values))
        file.write(shapefile.END_OF_TABLE)
