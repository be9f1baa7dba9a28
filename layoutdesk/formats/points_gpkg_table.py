"""The layer of points of a GeoPackage: SQLite itself puts together what is the same for many points."""

from __future__ import annotations

import numpy as np

from ..core.model.handoff import POINT_KINDS
from ..core.staking.points import Points, code_tail
from . import geopackage
from .digits import Records, Whole
from .handoffset import HandOffSet
from .point_descriptions import template_parts
from .point_records import KIND_NAMES
from .stake_chunks import clean

COLUMNS = {
    "number": "INTEGER",
    "code": "TEXT",
    "description": "TEXT",
    "kind": "TEXT",
    "block": "TEXT",
    "row": "INTEGER",
    "segment": "TEXT",
    "idx": "INTEGER",
    "elevation": "DOUBLE",
}
"""Of points; elevation only where heights are known."""
ELEVATION_STEPS = 10_000
"""Elevations are whole steps of so many to the unit."""
_ZERO = 10**13
"""Step that stands for 0, so that all are above it and 0 can stand for not known."""
_WIDTHS = {"number": 16, "owner": 9, "mark": 9, "steps": 14}
_PLACE = {
    name: (sum(list(_WIDTHS.values())[:i]) + 1, width)
    for i, (name, width) in enumerate(_WIDTHS.items())
}
_EACH = sum(_WIDTHS.values())


class PointsTable:
    """The table of points of an open GeoPackage.

    A chunk is one statement: it is handed the geometries and the whole numbers of each point one after
    the other, cuts them apart, and looks up the owner and the mark (kind and index together), so that nothing
    is done a point in Python.

    Parameters
    ----------
    db : sqlite3.Connection
    hand : HandOffSet
    table : str
    """

    def __init__(self, db, hand: HandOffSet, table: str):
        self._db, self._raised = db, hand.heights is not None
        self._n, self._n_marks = 0, np.zeros(len(POINT_KINDS), np.int64)
        self._feature = [known(clean(hand.hand.table.feature(kind))) for kind in POINT_KINDS]
        self._numbers = Records(
            list(_WIDTHS), {name: Whole(width) for name, width in _WIDTHS.items()}
        )
        columns = {c: k for c, k in COLUMNS.items() if self._raised or c != "elevation"}
        geopackage.create_layer(db, table, "POINT", columns)
        db.execute("CREATE TEMP TABLE some (i INTEGER PRIMARY KEY)")
        db.execute("CREATE TEMP TABLE owners (id INTEGER PRIMARY KEY, code, block, row, segment)")
        db.execute("CREATE TEMP TABLE marks (id INTEGER PRIMARY KEY, kind, feature, tail, idx)")
        owners = hand.points.owners
        db.executemany(
            "INSERT INTO owners VALUES (?,?,?,?,?)",
            (
                (i, known(clean(code)), known(clean(block)), row, letter)
                for i, (code, block, row, letter) in enumerate(
                    zip(owners.code, owners.block, owners.row.tolist(), owners.letter, strict=True)
                )
            ),
        )
        self._statement, self._words = _statement(table, hand.hand.table.description, self._raised)

    def add(self, some: Points, shapes: np.ndarray, steps: np.ndarray | None) -> None:
        """Put in points with their geometries, (n, POINT_BYTES), and steps of elevation, 0 for not known."""
        if len(some) > self._n:
            more = ((i + 1,) for i in range(self._n, len(some)))
            self._db.executemany("INSERT INTO some VALUES (?)", more)
            self._n = len(some)
        for kind in np.flatnonzero(np.bincount(some.kind)).tolist():
            self._know_marks(kind, int(some.index[some.kind == kind].max()) + 1)
        values = {
            "number": some.number,
            "owner": some.owner,
            "mark": some.index.astype(np.int64) * len(POINT_KINDS) + some.kind,
            "steps": np.zeros(len(some), np.int64) if steps is None else steps,
        }
        numbers = b"".join(map(bytes, self._numbers.encoded(values)))
        if len(numbers) != len(some) * _EACH:
            raise ValueError("some: a number is too large")
        self._db.execute(self._statement, (shapes.data.cast("B"), numbers, len(some), *self._words))

    def _know_marks(self, kind: int, n: int) -> None:
        """Have the marks of a kind up to an index."""
        known_before, name = int(self._n_marks[kind]), POINT_KINDS[kind]
        if n > known_before:
            rows = (
                (
                    *(i * len(POINT_KINDS) + kind, KIND_NAMES[kind], self._feature[kind]),
                    *(code_tail(name, i), i or None),
                )
                for i in range(known_before, n)
            )
            self._db.executemany("INSERT INTO marks VALUES (?,?,?,?,?)", rows)
            self._n_marks[kind] = n

    def close(self) -> None:
        """Take away what was needed for writing."""
        for table in ("some", "owners", "marks"):
            self._db.execute(f"DROP TABLE {table}")


def steps_of(elevations: np.ndarray) -> np.ndarray:
    """Whole steps of elevations, 0 for those not known."""
    unknown = np.isnan(elevations)
    return np.where(
        unknown, 0, np.rint(np.where(unknown, 0, elevations) * ELEVATION_STEPS) + _ZERO
    ).astype(np.int64)


def elevations_of(steps: np.ndarray) -> np.ndarray:
    """Elevations as they stand in the table, of whole steps; NaN for those not known."""
    return np.where(steps == 0, np.nan, (steps - _ZERO) / ELEVATION_STEPS)


def known(text: str) -> str:
    """A text with a question mark for what is no character."""
    return text.encode("utf-8", "replace").decode()


def _statement(table: str, template: str, raised: bool) -> tuple[str, list[str]]:
    """What puts a chunk into the table, and the words of the template in it."""
    cut = {
        name: f"CAST(substr(?2, (i - 1) * {_EACH} + {at}, {width}) AS INTEGER)"
        for name, (at, width) in _PLACE.items()
    }
    written = {
        "owner": "o.code",
        "tail": "m.tail",
        "feature": "m.feature",
        "kind": "m.kind",
        "block": "o.block",
        "row": "coalesce(nullif(o.row, 0), '')",
        "segment": "o.segment",
        "index": "coalesce(m.idx, '')",
        "number": "n.number",
    }
    words, described = [], []
    for part in template_parts(template, clean):
        if isinstance(part, bytes):
            words.append(part.decode())
            described.append(f"?{3 + len(words)}")
        else:
            described.append(written[part])
    shape = f"substr(?1, (i - 1) * {geopackage.POINT_BYTES} + 1, {geopackage.POINT_BYTES})"
    values = [
        *("NULL", "n.geom", "n.number", "o.code || m.tail", " || ".join(described)),
        *("m.kind", "nullif(o.block, '')", "nullif(o.row, 0)", "nullif(o.segment, '')"),
        "m.idx",
    ]
    if raised:
        values.append(f"(nullif(n.steps, 0) - {_ZERO}) / {float(ELEVATION_STEPS)}")
    numbers = ", ".join(f"{text} AS {name}" for name, text in cut.items())
    return (
        f'INSERT INTO "{table}" SELECT {", ".join(values)} FROM '
        f"(SELECT i, {shape} AS geom, {numbers} FROM some WHERE i <= ?3) AS n "
        "CROSS JOIN owners AS o ON o.id = n.owner CROSS JOIN marks AS m ON m.id = n.mark ORDER BY n.i",
        words,
    )
