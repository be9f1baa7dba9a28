"""Points and lines of a hand-off as a GeoPackage, in the survey system."""

from __future__ import annotations

import contextlib
import hashlib
import sqlite3
from pathlib import Path

from .handoffset import HandOffSet, Progress
from .points_layers import POINTS, Layers, crs_of, grid_placing
from .seal import Seal, SealRead, seal_in_text

NAMES = ("number", "code", "description", "kind", "block", "row", "segment", "idx", "elevation")
SEAL_TABLE = "layoutdesk_seal"


def write_points_gpkg(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of points written: layers points, rows, outlines and exclusions.

    Coordinates are in the grid's own unit, which the system's definition says, whatever unit is written
    elsewhere; ground and calibrated ones stand in no known system. The table `layoutdesk_seal` holds the seal,
    whose checksum is SHA-256 of code and geometry of all points, one after the other in the order of `fid`: the
    code in UTF-8, then the bytes of the geometry as they stand in the table. Not atomic: the caller swaps the
    file in.

    Parameters
    ----------
    path : path
    hand : HandOffSet
    seal : Seal
    progress : function of the share done, optional
        May raise to cancel.
    """
    from dataclasses import replace

    placing = grid_placing(hand.placing)
    layers, crs = Layers(hand, placing, NAMES), crs_of(placing)
    path = Path(path)
    n = layers.write_points(path, "GPKG", crs, progress)
    layers.write_lines(lambda layer: path, "GPKG", crs, append=path.exists())
    seal = replace(seal, unit=placing.unit, unit_m=placing.unit_m)
    with contextlib.closing(sqlite3.connect(path)) as db:
        db.execute(f"CREATE TABLE {SEAL_TABLE} (id INTEGER PRIMARY KEY, text TEXT NOT NULL)")
        texts = [(hand.statement,), (seal.text(_checksum(db)),)]
        db.executemany(f"INSERT INTO {SEAL_TABLE} (text) VALUES (?)", texts)
        db.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, description) VALUES "
            f"('{SEAL_TABLE}', 'attributes', '{SEAL_TABLE}', ?)",
            (hand.statement,),
        )
        db.execute(
            "UPDATE gpkg_contents SET description = ? WHERE data_type = 'features'",
            (hand.statement,),
        )
        db.commit()
    return n


def _checksum(db) -> str:
    digest = hashlib.sha256()
    if db.execute("SELECT 1 FROM sqlite_master WHERE name = ?", (POINTS,)).fetchone():
        for code, shape in db.execute(f"SELECT code, geom FROM {POINTS} ORDER BY fid"):
            digest.update(code.encode())
            digest.update(shape)
    return digest.hexdigest()


def gpkg_seal(path) -> SealRead | None:
    """The seal in a GeoPackage, and whether its points are as they were written; None where there is none."""
    from dataclasses import replace

    with contextlib.suppress(OSError, sqlite3.Error, TypeError, AttributeError):
        uri = Path(path).resolve().as_uri() + "?mode=ro"
        with contextlib.closing(sqlite3.connect(uri, uri=True)) as db:
            rows = db.execute(f"SELECT text FROM {SEAL_TABLE} ORDER BY id").fetchall()
            found = next(filter(None, (seal_in_text(text) for (text,) in rows)), None)
            if found is not None:
                return replace(found, is_whole=_checksum(db) == found.checksum)
    return None
