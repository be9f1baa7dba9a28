"""Forms as points that a GIS or a phone shows on the ground, filled there and read back.

Sources: OGC 12-128r18, GeoPackage Encoding Standard 1.3.1; the choices of a column are told by its annex
F.9, Schema.
"""

from __future__ import annotations

import datetime
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np

from ..core.layout.numbering import mark_code, segment_letter
from .field_form import COLUMNS_OF, STATE_CHOICES, FormColumn, FormLines

_CHECK_CHOICES = (("1", "yes"), ("0", "no"))
_SCHEMA = """
CREATE TABLE IF NOT EXISTS gpkg_extensions (
  table_name TEXT, column_name TEXT, extension_name TEXT NOT NULL, definition TEXT NOT NULL,
  scope TEXT NOT NULL, CONSTRAINT ge_tce UNIQUE (table_name, column_name, extension_name));
CREATE TABLE gpkg_data_columns (
  table_name TEXT NOT NULL, column_name TEXT NOT NULL, name TEXT, title TEXT, description TEXT,
  mime_type TEXT, constraint_name TEXT,
  CONSTRAINT pk_gdc PRIMARY KEY (table_name, column_name),
  CONSTRAINT gdc_tn UNIQUE (table_name, name));
CREATE TABLE gpkg_data_column_constraints (
  constraint_name TEXT NOT NULL, constraint_type TEXT NOT NULL, value TEXT, min NUMERIC,
  min_is_inclusive BOOLEAN, max NUMERIC, max_is_inclusive BOOLEAN, description TEXT,
  CONSTRAINT gdcc_ntv UNIQUE (constraint_name, constraint_type, value));
"""
_DEFINITION = "http://www.geopackage.org/spec/#extension_schema"


def write_form_gpkg(path, lines: FormLines, kind: str, when: datetime.datetime) -> int:
    """Write a form as a layer of points on WGS 84; returns how many vines it has.

    Cells to be filled are null; checks and states offer their choices in programs that know them. Not
    atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
        Of no file that is there.
    lines : FormLines
    kind : str
        "inspection" or "as_planted"; the name of the layer.
    when : datetime.datetime
        When it is written, with its offset: the file says so.
    """
    import pyogrio
    import pyogrio.raw
    import shapely

    # Places have columns of their own in tables alone: here they are the points.
    columns = [c for c in COLUMNS_OF[kind] if c.kind != "degrees"]
    data, masks = [], []
    for column in columns:
        values, mask = _column(lines, column)
        data.append(values)
        masks.append(mask)
    known = np.isfinite(lines.lon_lat_deg).all(axis=1)
    points = np.full(len(lines), None, dtype=object)
    points[known] = shapely.to_wkb(shapely.points(lines.lon_lat_deg[known]))
    stamp = when.astimezone(datetime.UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": stamp})
    try:
        pyogrio.raw.write(
            str(path), points, data, [c.name for c in columns], field_mask=masks, layer=kind,
            driver="GPKG", geometry_type="Point", crs="EPSG:4326",
            # Programs on phones are often a version behind.
            dataset_options={"VERSION": "1.3"}, layer_options={"DESCRIPTION": _ABOUT[kind]},
        )  # fmt: skip
    finally:
        pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": None})
    with closing(sqlite3.connect(Path(path))) as db, db:
        _tell_choices(db, kind, columns)
    return len(lines)


_ABOUT = {
    "inspection": "Vines to inspect: fill checks with 1 or 0, leave empty what was not looked at",
    "as_planted": "Vines to record: fill date and state, and the lot where another was planted",
}


def _column(lines: FormLines, column: FormColumn) -> tuple[np.ndarray, np.ndarray | None]:
    """Values of a column, and which of them are null."""
    n = len(lines)
    nothing = np.ones(n, bool)
    if column.kind == "day":
        return np.full(n, "1970-01-01", "datetime64[D]"), nothing
    if column.kind == "check":
        return np.zeros(n, np.int32), nothing
    if column.kind == "whole":
        number = lines.index if column.name == "vine" else np.asarray(lines.number)[lines.segment]
        return np.asarray(number, np.int32), None
    texts, which = _texts(lines, column.name)
    if texts is None:
        return np.full(n, "", dtype=object), nothing
    which = np.asarray(which)
    return np.array([*texts, ""], dtype=object)[which], which < 0


def _texts(lines: FormLines, name: str):
    """Texts of a column, and which of them each line has; (None, None) where it is to be filled."""
    each = np.arange(len(lines))
    if name == "code":
        number, letter = lines.number.tolist(), lines.letter.tolist()
        named = zip(lines.segment.tolist(), lines.index.tolist(), strict=True)
        return [mark_code(lines.block[s], number[s], letter[s], "vine", i) for s, i in named], each
    said = {
        "block": (lines.block, lines.segment),
        "segment": ([segment_letter(k) for k in lines.letter.tolist()], lines.segment),
        "lot": (lines.lots, lines.lot),
        "plan": ((lines.plan,), 0 * each),
    }
    if lines.person is not None:
        said |= dict.fromkeys(("inspector", "by"), (lines.people, lines.person))
    return said.get(name, (None, None))


def _tell_choices(db: sqlite3.Connection, table: str, columns: list[FormColumn]) -> None:
    """What stands in every column, and what may be chosen for it."""
    db.executescript(_SCHEMA)
    db.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, 'gpkg_schema', ?, 'read-write')",
        [(name, _DEFINITION) for name in ("gpkg_data_columns", "gpkg_data_column_constraints")],
    )
    choices = {"check": "yes_or_no", "state": "states"}
    used = {column.kind for column in columns}
    told = {
        "yes_or_no": _CHECK_CHOICES,
        "states": tuple((state, state) for state in STATE_CHOICES),
    }
    for kind, name in choices.items():
        if kind in used:
            db.executemany(
                "INSERT INTO gpkg_data_column_constraints VALUES (?, 'enum', ?, NULL, NULL, NULL, NULL, ?)",
                [(name, value, words) for value, words in told[name]],
            )
    db.executemany(
        "INSERT INTO gpkg_data_columns VALUES (?, ?, ?, ?, ?, NULL, ?)",
        [(table, c.name, c.name, c.name, c.about, choices.get(c.kind)) for c in columns],
    )
