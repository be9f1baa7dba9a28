"""Points and lines of a hand-off as a GeoPackage, in the survey system.

Source: OGC 12-128r18, GeoPackage Encoding Standard 1.3.1; its undefined cartesian system (-1) is for what
stands in no known one.
"""

from __future__ import annotations

import contextlib
import hashlib
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from . import geopackage
from .handoffset import HandOffSet, Progress
from .points_gpkg_table import PointsTable, elevations_of, steps_of
from .points_layers import LINES, POINTS, Layers, LineLayer, crs_of, grid_placing, layer_words
from .seal import Seal, SealRead, seal_in_text

SEAL_TABLE = "layoutdesk_seal"
_OF_LINES = {"code": "TEXT", "block": "TEXT", "row": "INTEGER", "segment": "TEXT"}
_OWN_SRS_ID, _NO_SRS_ID = 100002, -1
_GEOMETRY = {"rows": "LINESTRING", "outlines": "POLYGON", "exclusions": "GEOMETRY"}
_AT_ONCE = 65_536


def write_points_gpkg(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of points written: layers points, rows, outlines and exclusions.

    Coordinates are in the grid's own unit, which the system's definition says, whatever unit is written
    elsewhere; ground and calibrated ones stand in the undefined cartesian system. Every layer's description
    says which. The table `layoutdesk_seal` holds the seal; its checksum is that of `contents_checksum`. Not
    atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
        Of no file that is there.
    hand : HandOffSet
    seal : Seal
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place in the survey system.
    OSError
        Where the file cannot be written.
    """
    try:
        return _write(Path(path), hand, seal, progress)
    except sqlite3.OperationalError as problem:  # no room, no permission
        raise OSError(str(problem)) from problem


def _write(path: Path, hand: HandOffSet, seal: Seal, progress: Progress | None) -> int:
    placing = grid_placing(hand.placing)
    layers, words = Layers(hand, placing), layer_words(hand, placing)
    sums = _Sums()
    name, srs_id, organization, wkt = _system(placing)
    with contextlib.closing(
        geopackage.create_in(path, name, srs_id, organization, wkt, words)
    ) as db:
        n = _write_points(db, hand, layers, words, srs_id, sums, progress)
        for layer in layers.lines():
            _write_lines(db, layer, words, srs_id, sums)
        seal = replace(seal, unit=placing.unit, unit_m=placing.unit_m)
        db.execute(f"CREATE TABLE {SEAL_TABLE} (id INTEGER PRIMARY KEY, text TEXT NOT NULL)")
        texts = [(words,), (seal.text(sums.checksum),)]
        db.executemany(f"INSERT INTO {SEAL_TABLE} (text) VALUES (?)", texts)
        db.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description) "
            f"VALUES ('{SEAL_TABLE}', 'attributes', '{SEAL_TABLE}', 'What the layers are of')"
        )
        # The file tells the day that is printed on all others.
        db.execute(
            "UPDATE gpkg_contents SET last_change = ?", (f"{hand.day.isoformat()}T00:00:00.000Z",)
        )
        db.execute("COMMIT")
    return n


def _system(placing) -> tuple[str, int, str, str]:
    """Name, number, authority and definition of the system the layers stand in."""
    from pyproj.exceptions import CRSError

    crs = crs_of(placing)
    if crs is not None:
        with contextlib.suppress(CRSError):  # what the older form of definitions cannot say
            wkt = crs.to_wkt("WKT1_GDAL")
            authority, _, code = placing.grid.crs.partition(":")
            if authority == "EPSG" and code.isdecimal():
                return crs.name, int(code), authority, wkt
            return crs.name, _OWN_SRS_ID, "NONE", wkt
    return "Undefined cartesian SRS", _NO_SRS_ID, "NONE", "undefined"


def _write_points(db, hand: HandOffSet, layers: Layers, words, srs_id, sums, progress) -> int:
    total, n, table = len(hand.points), 0, PointsTable(db, hand, POINTS)
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    for some in hand.points.chunks():
        xy, elevations = layers.xy(some.xy_m), layers.elevations(some)
        shapes = geopackage.point_table(xy, srs_id)
        steps = None if elevations is None else steps_of(elevations)
        table.add(some, shapes, steps)
        code = b"\n".join([*layers.text("code", some), b""])
        sums.add_points(some.number, code, shapes, None if steps is None else elevations_of(steps))
        low, high = np.minimum(low, xy.min(axis=0)), np.maximum(high, xy.max(axis=0))
        n += len(some)
        if progress:
            progress(n / total)
    table.close()
    bounds = (*low, *high) if n else None
    geopackage.list_layer(db, POINTS, "POINT", f"Points; {words}", bounds, srs_id)
    return n


def _write_lines(db, layer: LineLayer, words: str, srs_id: int, sums: _Sums) -> None:
    rows = [
        (code, block or None, row or None, segment or None)
        for code, block, row, segment in zip(
            layer.code, layer.block, layer.row, layer.segment, strict=True
        )
    ]
    about = f"{layer.name.capitalize()}; {words}"
    shapes = layer.shapes.tolist()
    kind = _GEOMETRY[layer.name]
    geopackage.add_shapes(db, layer.name, kind, about, shapes, _OF_LINES, rows, srs_id)
    sums.add_lines(layer.name, layer.code, geopackage.shape_blobs(shapes, srs_id))


class _Sums:
    """Checksums of the columns that make a plan, gathered while they are written or read."""

    def __init__(self):
        names = [f"{POINTS} {c}" for c in ("number", "code", "geom", "elevation")]
        names += [f"{layer} {c}" for layer in LINES for c in ("code", "geom")]
        self._of = {name: hashlib.sha256() for name in names}

    def add_points(self, number: np.ndarray, code: bytes, shapes, elevations) -> None:
        """Add some points; `code` has a line for each."""
        self._of[f"{POINTS} number"].update(np.asarray(number).astype("<i8").tobytes())
        self._of[f"{POINTS} code"].update(code)
        self._of[f"{POINTS} geom"].update(shapes)
        if elevations is not None:
            known = np.where(np.isnan(elevations), np.nan, elevations)  # one of many that are none
            self._of[f"{POINTS} elevation"].update(known.astype("<f8").tobytes())

    def add_lines(self, layer: str, code: list[str], shapes: list[bytes]) -> None:
        self._of[f"{layer} code"].update("".join(f"{c}\n" for c in code).encode())
        self._of[f"{layer} geom"].update(b"".join(shapes))

    @property
    def checksum(self) -> str:
        together = "".join(one.hexdigest() for one in self._of.values())
        return hashlib.sha256(together.encode()).hexdigest()


def contents_checksum(db: sqlite3.Connection) -> str:
    """The checksum of what the layers of a GeoPackage hold.

    SHA-256 of SHA-256 checksums, in hexadecimal digits, one after the other: of the columns number, code, geom
    and elevation of `points`, then of code and geom of `rows`, `outlines` and `exclusions`, each over all its
    values in the order of `fid`. Codes are lines of text in UTF-8, geometries their bytes, numbers whole numbers
    of 8 bytes and elevations doubles, both with the lowest byte first; an empty elevation is not-a-number, and
    without the column there is nothing to sum up.
    """
    sums = _Sums()
    columns = {row[1] for row in db.execute(f"PRAGMA table_info({POINTS})")}
    raised = "elevation" in columns
    wanted = "number, code, geom" + (", elevation" if raised else "")
    for number, code, shapes, *known in _columns(db, f"SELECT {wanted} FROM {POINTS}"):
        elevations = np.array(known[0], dtype=float) if raised else None
        lines = "\n".join([*code, ""]).encode()
        sums.add_points(np.array(number), lines, b"".join(shapes), elevations)
    for layer in LINES:
        for code, shapes in _columns(db, f"SELECT code, geom FROM {layer}"):
            sums.add_lines(layer, code, shapes)
    return sums.checksum


def _columns(db, query: str) -> Iterator[list[list]]:
    """Values of a query column by column, some at a time."""
    cursor = db.execute(f"{query} ORDER BY fid")
    while rows := cursor.fetchmany(_AT_ONCE):
        yield [list(column) for column in zip(*rows, strict=True)]


def gpkg_seal(path) -> SealRead | None:
    """The seal in a GeoPackage, and whether its layers are as they were written; None where there is none."""
    with contextlib.suppress(OSError, sqlite3.Error, TypeError, AttributeError, ValueError):
        uri = Path(path).resolve().as_uri() + "?mode=ro"
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as db:
            rows = db.execute(f"SELECT text FROM {SEAL_TABLE} ORDER BY id").fetchall()
            found = next(filter(None, (seal_in_text(text) for (text,) in rows)), None)
            if found is not None:
                return replace(found, is_whole=_is_whole(db, found.checksum))
    return None


def _is_whole(db, checksum: str) -> bool:
    try:
        return contents_checksum(db) == checksum
    except (sqlite3.Error, TypeError, ValueError):  # a layer or a value was taken away
        return False
