"""OGC GeoPackage tables, written with the standard library alone.

Source: OGC 12-128r18, GeoPackage Encoding Standard 1.3.1.
"""

from __future__ import annotations

import sqlite3
import struct

import numpy as np
import shapely

APPLICATION_ID = 0x47504B47  # "GPKG"
USER_VERSION = 10301
FRAME_SRS_ID = 100001
"""Our own number for the site frame in gpkg_spatial_ref_sys."""

_TABLES = """
CREATE TABLE gpkg_spatial_ref_sys (
  srs_name TEXT NOT NULL, srs_id INTEGER PRIMARY KEY, organization TEXT NOT NULL,
  organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (
  table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE,
  description TEXT DEFAULT '',
  last_change DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
  min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER,
  CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL,
  srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL,
  CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name),
  CONSTRAINT uk_gc_table_name UNIQUE (table_name),
  CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name),
  CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));
"""

_WGS84 = (
    'GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,'
    'AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,'
    'AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],'
    'AUTHORITY["EPSG","4326"]]'
)


def create(path, frame_wkt: str) -> sqlite3.Connection:
    """A new GeoPackage with no layers, its own system the site frame; the caller commits."""
    about = "Local transverse Mercator, metres on the ground"
    return create_in(path, "Site frame", FRAME_SRS_ID, "NONE", frame_wkt, about)


def create_in(
    path, name: str, srs_id: int, organization: str, wkt: str, about: str
) -> sqlite3.Connection:
    """A new GeoPackage with no layers and a system of its own; the caller commits.

    A system the standard asks for in any case (-1, 0, 4326) is not put in twice.
    """
    db = sqlite3.connect(path, isolation_level=None)
    # The file is written beside the real one and synced once at its end, so no journal is kept.
    for pragma in ("journal_mode=OFF", "synchronous=OFF", "locking_mode=EXCLUSIVE"):
        db.execute(f"PRAGMA {pragma}")
    db.execute(f"PRAGMA application_id={APPLICATION_ID}")
    db.execute(f"PRAGMA user_version={USER_VERSION}")
    db.executescript(_TABLES)
    db.execute("BEGIN")
    db.executemany(
        "INSERT INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?)",
        [
            ("Undefined cartesian SRS", -1, "NONE", -1, "undefined", "undefined cartesian"),
            ("Undefined geographic SRS", 0, "NONE", 0, "undefined", "undefined geographic"),
            ("WGS 84", 4326, "EPSG", 4326, _WGS84, "longitude, latitude"),
        ],
    )
    db.execute(
        "INSERT OR IGNORE INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?)",
        (name, srs_id, organization, srs_id, wkt, about),
    )
    return db


def list_layer(
    db, table: str, geometry_type: str, description: str, bounds, srs_id: int = FRAME_SRS_ID
) -> None:
    """Tell programs of a layer; `bounds` are None for one without shapes."""
    box = tuple(float(b) for b in bounds) if bounds is not None else (None,) * 4
    db.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, description, min_x, min_y, "
        "max_x, max_y, srs_id) VALUES (?,'features',?,?,?,?,?,?,?)",
        (table, table, description, *box, srs_id),
    )
    db.execute(
        "INSERT INTO gpkg_geometry_columns VALUES (?,'geom',?,?,0,0)",
        (table, geometry_type, srs_id),
    )


def create_layer(db, table: str, geometry_type: str, columns: dict[str, str]) -> str:
    """A layer with no shapes yet; the statement that puts one into it."""
    fields = "".join(f', "{name}" {kind}' for name, kind in columns.items())
    db.execute(
        f'CREATE TABLE "{table}" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, '
        f'geom "{geometry_type}"{fields})'
    )
    return f'INSERT INTO "{table}" VALUES (NULL{",?" * (len(columns) + 1)})'


_HEAD_BYTES = 13
POINT_BYTES = _HEAD_BYTES + 16


def point_table(xy: np.ndarray, srs_id: int = FRAME_SRS_ID) -> np.ndarray:
    """GeoPackage geometry of points, one row of bytes each."""
    head = struct.pack("<2sBBiBI", b"GP", 0, 1, srs_id, 1, 1)
    table = np.empty((len(xy), POINT_BYTES), dtype=np.uint8)
    table[:, :_HEAD_BYTES] = np.frombuffer(head, dtype=np.uint8)
    places = np.ascontiguousarray(xy, dtype="<f8").view(np.uint8).reshape(-1, 16)
    table[:, _HEAD_BYTES:] = places
    return table


def shape_blobs(shapes, srs_id: int = FRAME_SRS_ID) -> list[bytes]:
    """GeoPackage geometry of any shapes, with an envelope where it is not empty or a point."""
    blobs = []
    for shape, wkb in zip(shapes, shapely.to_wkb(list(shapes), byte_order=1), strict=True):
        if shape.is_empty:
            head = struct.pack("<2sBBi", b"GP", 0, 0b010001, srs_id)
        elif shape.geom_type == "Point":
            head = struct.pack("<2sBBi", b"GP", 0, 1, srs_id)
        else:
            x0, y0, x1, y1 = shape.bounds
            head = struct.pack("<2sBBi4d", b"GP", 0, 0b011, srs_id, x0, x1, y0, y1)
        blobs.append(head + wkb)
    return blobs


def add_shapes(
    db, table, geometry_type, description, shapes, columns, rows, srs_id: int = FRAME_SRS_ID
) -> None:
    """A layer of shapes, one row of attributes each."""
    insert = create_layer(db, table, geometry_type, columns)
    blobs = shape_blobs(shapes, srs_id)
    db.executemany(insert, ((b, *row) for b, row in zip(blobs, rows, strict=True)))
    bounds = (
        shapely.total_bounds(shapely.geometrycollections(list(shapes))) if len(shapes) else None
    )
    list_layer(db, table, geometry_type, description, bounds, srs_id)


RUN_COLUMNS = {
    "block": "TEXT",
    "row": "INTEGER",
    "segment": "TEXT",
    "idx": "INTEGER",
    "code": "TEXT",
}


def add_runs(db, table, description, digits: int, batches) -> None:
    """A layer of points that stand in runs, numbered from 1 in each.

    A run is one statement: SQLite itself cuts the bytes of its points apart and counts them, so
    nothing is done a point in Python.

    Parameters
    ----------
    digits : int
        Least width of the number in a code.
    batches : iterable of (xy_m, counts, labels)
        Points run after run; the points of each run; for each run block, row number, segment letter
        and the code that its numbers are put behind.
    """
    create_layer(db, table, "POINT", RUN_COLUMNS)
    numbers = f"{table}_numbers"
    db.execute(f'CREATE TEMP TABLE "{numbers}" (i INTEGER PRIMARY KEY)')
    known = 0
    insert = (
        f'INSERT INTO "{table}" SELECT NULL, substr(?1, (i - 1) * {POINT_BYTES} + 1, {POINT_BYTES}), '
        f"?3, ?4, ?5, i, ?6 || printf('%0{digits}d', i) FROM \"{numbers}\" WHERE i <= ?2"
    )
    low, high = np.full(2, np.inf), np.full(2, -np.inf)
    for xy_m, counts, labels in batches:
        if not len(xy_m):
            continue
        most = int(counts.max())
        db.executemany(
            f'INSERT INTO "{numbers}" VALUES (?)', ((i + 1,) for i in range(known, most))
        )
        known = max(known, most)
        stops = np.cumsum(counts).tolist()
        runs = zip([0, *stops], stops, counts.tolist(), labels, strict=False)
        db.executemany(
            insert,
            (
                (point_table(xy_m[begin:stop]).data.cast("B"), n, *label)
                for begin, stop, n, label in runs
                if n
            ),
        )
        low, high = np.minimum(low, xy_m.min(axis=0)), np.maximum(high, xy_m.max(axis=0))
    db.execute(f'DROP TABLE "{numbers}"')
    list_layer(db, table, "POINT", description, (*low, *high) if np.isfinite(low).all() else None)


def read_shapes(db, table: str) -> list:
    """Geometries of a layer in the order they were written."""
    sizes = {0: 8, 1: 40, 2: 56, 3: 56, 4: 72}
    blobs = [row[0] for row in db.execute(f'SELECT geom FROM "{table}" ORDER BY fid')]
    return [shapely.from_wkb(b[sizes[(b[3] >> 1) & 7] :]) for b in blobs]
