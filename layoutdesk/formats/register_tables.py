"""The register in the project file: one row an entry, told in the file itself how to read it."""

from __future__ import annotations

import json
import sqlite3
import zlib
from concurrent.futures import ThreadPoolExecutor
from dataclasses import MISSING, fields
from itertools import groupby
from weakref import WeakKeyDictionary

import numpy as np

from ..core.model import InputProblem, Lot, Project, Register
from ..core.model.planting import CHECKS
from ..core.model.register import EVENTS, NO_PLACE, Batch, Events, Stand, hold_batch
from ..core.model.register_mark import EVENT_ARRAYS, STAND_ARRAYS, lot_said, mark_of
from .document_planting import lot_from

TABLE = "layoutdesk_register"
FORMAT_TABLE = "layoutdesk_register_format"

_WORDS = ("recorded", "by_whom", "source", "revision", "note", "renamed", "lots", "words", "blocks")
_BLOBS = tuple(
    [f"stand_{name}" for name in STAND_ARRAYS] + [f"event_{name}" for name in EVENT_ARRAYS]
)
_KINDS = (*STAND_ARRAYS.values(), *EVENT_ARRAYS.values())
_COLUMNS = ("number", "mark", *_WORDS, "places", "events", *_BLOBS)

_LEVEL = 1
"""Of zlib: higher ones take three times as long for a few per cent."""

_EXPANDS_AT_MOST = 1040
"""How many times as long as its packed bytes an array can be: 1032 (zlib technical details, zlib.net), and the
head and sum of a short one."""

_PACKED: WeakKeyDictionary[Batch, tuple[bytes, ...]] = WeakKeyDictionary()
"""Entries as they stand in files, so that they are packed once."""


def write_register(db, register: Register) -> None:
    """Add the tables of the register to a new project file; the caller commits."""
    columns = "number INTEGER PRIMARY KEY, mark TEXT NOT NULL, " + ", ".join(
        [f"{name} TEXT NOT NULL" for name in _WORDS]
        + ["places INTEGER NOT NULL", "events INTEGER NOT NULL"]
        + [f"{name} BLOB NOT NULL" for name in _BLOBS]
    )
    db.execute(f"CREATE TABLE {TABLE} ({columns})")
    db.executemany(
        f"INSERT INTO {TABLE} VALUES ({','.join('?' * len(_COLUMNS))})",
        (_row(number, batch) for number, batch in enumerate(register.batches, 1)),
    )
    for act in ("UPDATE", "DELETE"):
        db.execute(
            f"CREATE TRIGGER {TABLE}_no_{act.lower()} BEFORE {act} ON {TABLE} "
            "BEGIN SELECT RAISE(ABORT, 'the register is only added to'); END"
        )
    db.execute(f"CREATE TABLE {FORMAT_TABLE} (line INTEGER PRIMARY KEY, what TEXT NOT NULL)")
    db.executemany(
        f"INSERT INTO {FORMAT_TABLE} VALUES (?,?)", enumerate(_format_told().splitlines(), 1)
    )


def _row(number: int, batch: Batch) -> tuple:
    blocks = [[name, len(list(same))] for name, same in groupby(batch.stand.block)]
    said = (batch.renamed, [lot_said(lot) for lot in batch.lots], batch.words, blocks)
    texts = (json.dumps(value, ensure_ascii=False) for value in said)
    return (
        number,
        batch.mark,
        *(batch.recorded, batch.by, batch.source, batch.revision, batch.note),
        *texts,
        len(batch.stand),
        len(batch.events),
        *packed(batch),
    )


_LARGE = 100_000
"""Events from which on arrays are packed and opened side by side."""


def packed(batch: Batch) -> tuple[bytes, ...]:
    """The arrays of an entry as they stand in the file, those of the stand first."""
    found = _PACKED.get(batch)
    if found is None:
        arrays = [getattr(batch.stand, name) for name in STAND_ARRAYS]
        arrays += [getattr(batch.events, name) for name in EVENT_ARRAYS]

        def pack(array, kind: str) -> bytes:
            return zlib.compress(np.ascontiguousarray(array, kind).tobytes(), _LEVEL)

        found = tuple(_side_by_side(pack, len(batch.events), arrays, _KINDS))
        _PACKED[batch] = found
    return found


def _side_by_side(function, n: int, *values):
    if n < _LARGE:
        return map(function, *values)
    with ThreadPoolExecutor(4) as pool:
        return list(pool.map(function, *values))


def read_register(db) -> Register | None:
    """The register of a project file, None where it has none.

    Entries that do not fit their marks are read all the same; `Register.broken_at` tells the first.

    Raises
    ------
    ValueError, KeyError, TypeError
        Where the tables are no register.
    """
    if not _has_table(db):
        return None
    batches: list[Batch] = []
    broken_at, before, n_places, n_words = None, "", 0, 0
    lots: set[str] = set()
    for row in db.execute(f"SELECT {','.join(_COLUMNS)} FROM {TABLE} ORDER BY number"):
        batch = _batch(dict(zip(_COLUMNS, row, strict=True)))
        n_places += len(batch.stand)
        n_words += len(batch.words)
        lots |= {lot.name.casefold() for lot in batch.lots}
        hold_batch(batch, n_places, len(lots), n_words)
        if broken_at is None and mark_of(before, batch) != batch.mark:
            broken_at = len(batches)
        batches.append(batch)
        before = batch.mark
    return Register(tuple(batches), broken_at)


def _has_table(db) -> bool:
    query = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?"
    return db.execute(query, (TABLE,)).fetchone() is not None


def _batch(row: dict) -> Batch:
    blobs = tuple(row[name] for name in _BLOBS)
    blocks = json.loads(row["blocks"])
    pieces = sum(n for _, n in blocks)
    counts = [pieces] * (len(STAND_ARRAYS) - 1) + [2 * row["places"]]
    counts += [row["events"]] * len(EVENT_ARRAYS)
    arrays = list(_side_by_side(_opened, row["events"], blobs, counts, _KINDS))
    n = len(STAND_ARRAYS)
    stand = Stand(
        tuple(name for name, times in blocks for _ in range(times)),
        *arrays[: n - 1],
        arrays[n - 1].reshape(-1, 2),
    )
    batch = Batch(
        *(row[name] for name in ("recorded", "by_whom", "source", "revision", "note")),
        stand,
        tuple(_lot(said) for said in json.loads(row["lots"])),
        tuple(json.loads(row["words"])),
        tuple((old, new) for old, new in json.loads(row["renamed"])),
        Events(*arrays[n:]),
        row["mark"],
    )
    _PACKED[batch] = blobs
    return batch


def _opened(blob: bytes, count: int, kind: str) -> np.ndarray:
    size = count * np.dtype(kind).itemsize
    if size > _EXPANDS_AT_MOST * len(blob):
        raise ValueError(f"an array of {len(blob)} bytes that cannot hold {size}")
    try:
        content = zlib.decompress(blob, bufsize=max(size, 1))
    except zlib.error as problem:
        raise ValueError(f"an array that does not open: {problem}") from None
    if len(content) != size:
        raise ValueError(f"an array of {len(content)} bytes where {size} were written")
    return np.frombuffer(content, kind)


_NOTHING = {f.name: f.default for f in fields(Lot) if f.default is not MISSING}


def _lot(said: dict) -> Lot:
    """A lot of what is said of it; the rest says nothing."""
    return lot_from(_NOTHING | said)


def hold_records(path, project: Project) -> None:
    """Check that a file may be replaced by a project: nothing on record in it would be lost.

    Raises
    ------
    InputProblem
        Where the file holds entries that the project's register does not begin with.
    """
    count, mark = _latest(path)
    batches = project.register.batches if project.register is not None else ()
    if count and (count > len(batches) or batches[count - 1].mark != mark):
        raise InputProblem(
            f"{path} holds {count:,} entries of planting records that would be lost: save the project "
            "under another name, or open the file and record there."
        )


def _latest(path) -> tuple[int, str]:
    """How many entries a file holds and the mark of the last; 0 where it is no file with a register."""
    from contextlib import closing
    from pathlib import Path

    path = Path(path)
    if not path.is_file():
        return 0, ""
    try:
        uri = path.resolve().as_uri() + "?mode=ro"
        with closing(sqlite3.connect(uri, uri=True)) as db:
            if not _has_table(db):
                return 0, ""
            (count,) = db.execute(f"SELECT count(*) FROM {TABLE}").fetchone()
            last = db.execute(f"SELECT mark FROM {TABLE} ORDER BY number DESC LIMIT 1").fetchone()
            return count, last[0] if last else ""
    except (sqlite3.Error, ValueError):  # no project: whoever saves was asked about that
        return 0, ""


def _format_told() -> str:
    kinds = {
        "<i4": "4-byte signed",
        "|u1": "1-byte unsigned",
        "<i2": "2-byte signed",
        "<u2": "2-byte unsigned",
    }
    arrays = "\n".join(
        f"  {name}: {kinds[kind]} whole numbers" for name, kind in zip(_BLOBS, _KINDS, strict=True)
    )
    events = "\n".join(
        f"  {code} {name}: {what}" for code, (name, what) in enumerate(EVENTS.items())
    )
    checks = "\n".join(f"  {2**bit}: not '{right}'" for bit, right in enumerate(CHECKS.values()))
    return _FORMAT.format(
        table=TABLE, arrays=arrays, events=events, checks=checks, no_place=NO_PLACE
    )


_FORMAT = """\
How to read the table {table} without the program that wrote it.
Each row is one entry: one act of recording. Rows are only ever added; nothing is changed or taken out.
The columns named stand_ and event_ hold arrays: each is compressed with zlib (RFC 1950); \
decompressed it is a plain run of whole numbers, the lowest byte of each first:
{arrays}
In Python: numpy.frombuffer(zlib.decompress(value), '<i4') for 4-byte signed numbers.

The stand: pieces of row with their vine positions.
The column blocks is JSON: block names, each with how many pieces of that block follow one another.
Each piece has a row number (stand_number), a letter (stand_letter: 0 is A, 1 is B, 26 is AA), the index of \
its first vine (stand_first) and how many indices it holds (stand_count).
Positions are counted from 0 through all pieces of all rows of this table, one after another.
stand_xy_mm holds x and y of each position, in turn, in whole millimetres in the site frame, which is system \
100001 of gpkg_spatial_ref_sys; {no_place} in both where no vine place was.
The code of a position is block-Rnnnl-Vnnn: row number in three digits, letter, index in three digits; \
B1-R012A-V034 is vine 34 of segment A of row 12 of block B1.
The column renamed is JSON: blocks that have another name from this entry on, as pairs of old and new name; \
it is about pieces of this and earlier entries.

Events: what was seen or done at a position on a day. All event_ arrays of a row have one value an event.
event_place is the position.
event_what is what it says:
{events}
event_day counts days: 1 is 1 January of the year 1 (proleptic Gregorian calendar), 719163 is 1 January \
1970; 0 where nobody said.
event_lot is the lot, counted from 0 in order of first mention in the column lots through all rows, names \
that differ by upper and lower case alone being one; -1 for none. A later description of a lot holds.
event_cause is the cause of a loss, counted from 0 through the column words of all rows; -1 for none.
event_faults of an inspection is the sum of what was wrong, 0 for nothing:
{checks}

What stands at a position now: take its events by day, of one day inspections (5 and 6) last, else in the \
order they were recorded; one of no known day comes right behind those recorded before it. What was \
recorded before an event 7 does not count. The lot of the last planting (0 or 1) is what stands there, or \
stood there if a loss (3 or 4) comes after it.

mark is a digest (SHA-256, hexadecimal) over the mark of the row before and everything in the row: first the \
bytes of a JSON text with the keys before, blocks (one name a piece), by, events (how many), form (1), lots, \
note, places (how many), recorded, renamed, revision, source, words, sorted, without spaces, all characters \
beyond ASCII as \\u escapes; then the decompressed arrays in the order of the columns."""
