"""What stands at every vine position, as a layer that any GIS opens."""

from __future__ import annotations

import numpy as np

from ..core.layout.numbering import INDEX_DIGITS, MARK_LETTER, segment_code, segment_letter
from ..core.model import Register
from ..core.model.register import NO_PLACE, STATES
from ..core.planting.standing import Standing, standing
from . import geopackage

LAYER = "as_planted"
COLUMNS = {
    "code": "TEXT",
    "block": "TEXT",
    "row": "INTEGER",
    "segment": "TEXT",
    "idx": "INTEGER",
    "variety": "TEXT",
    "clone": "TEXT",
    "rootstock": "TEXT",
    "lot": "TEXT",
    "nursery": "TEXT",
    "state": "TEXT",
    "planted": "DATE",
    "cause": "TEXT",
}
_KIND_BYTES, _DAY_BYTES = 8, 10


def add_as_planted(db, register: Register, about: str) -> None:
    """A point for every position at which a vine stands or stood, by the names blocks have today.

    As with rows and vines, SQLite itself cuts the bytes of a piece of row apart, so that nothing is done
    a position in Python.
    """
    now, stand = standing(register), register.stand
    geopackage.create_layer(db, LAYER, "POINT", COLUMNS)
    kind = _add_kinds(db, now)
    shown = (kind >= 0) & (stand.xy_mm[:, 0] != NO_PLACE)
    xy_m = stand.xy_mm / 1000
    kinds = _texts(np.where(shown, kind, -1), _KIND_BYTES, _kind_text)
    days = _texts(now.planted, _DAY_BYTES, _day_text)
    most = int(stand.count.max(initial=0))
    db.execute("CREATE TEMP TABLE as_planted_numbers (i INTEGER PRIMARY KEY)")
    db.executemany("INSERT INTO as_planted_numbers VALUES (?)", ((i,) for i in range(most)))
    digits = INDEX_DIGITS["vine"]
    insert = (
        f'INSERT INTO "{LAYER}" SELECT NULL, substr(?1, i * {geopackage.POINT_BYTES} + 1, '
        f"{geopackage.POINT_BYTES}), ?4 || printf('%0{digits}d', i + ?8), ?5, ?6, ?7, i + ?8, "
        "k.variety, k.clone, k.rootstock, k.lot, k.nursery, k.state, "
        f"NULLIF(trim(CAST(substr(?3, i * {_DAY_BYTES} + 1, {_DAY_BYTES}) AS TEXT)), ''), k.cause "
        "FROM as_planted_numbers JOIN as_planted_kinds AS k "
        f"ON k.id = CAST(substr(?2, i * {_KIND_BYTES} + 1, {_KIND_BYTES}) AS INTEGER) WHERE i < ?9"
    )
    db.executemany(insert, _pieces(register, xy_m, kinds, days, shown))
    db.execute("DROP TABLE as_planted_numbers")
    db.execute("DROP TABLE as_planted_kinds")
    box = None
    if shown.any():
        box = (*xy_m[shown].min(axis=0), *xy_m[shown].max(axis=0))
    what = f"Vines as planted and what became of them, {about}"
    geopackage.list_layer(db, LAYER, "POINT", what, box)


def _pieces(register: Register, xy_m, kinds, days, shown):
    stand, letter = register.stand, MARK_LETTER["vine"]
    stops = (stand.offsets + stand.count).tolist()
    labels = zip(
        register.block_names,
        stand.number.tolist(),
        stand.letter.tolist(),
        stand.first.tolist(),
        stand.offsets.tolist(),
        stops,
        strict=True,
    )
    for names, number, row_letter, first, begin, stop in labels:
        if not shown[begin:stop].any():
            continue
        head = f"{segment_code(names[0], number, row_letter)}-{letter}"
        points = geopackage.point_table(xy_m[begin:stop]).tobytes()
        parts = (kinds[begin:stop].tobytes(), days[begin:stop].tobytes())
        said = (head, names[0], number, segment_letter(row_letter), first, stop - begin)
        yield points, *parts, *said


def _add_kinds(db, now: Standing) -> np.ndarray:
    """What several positions have in common, in a table; the number of each, -1 where nothing is told."""
    register = now.register
    lots, words = len(register.lots) + 1, len(register.words) + 1
    key = (now.state.astype(np.int64) * lots + now.lot + 1) * words + now.cause + 1
    found, kind = np.unique(key, return_inverse=True)
    columns = ", ".join(name for name in COLUMNS if name in _OF_KIND)
    db.execute(f"CREATE TEMP TABLE as_planted_kinds (id INTEGER PRIMARY KEY, {columns})")
    rows = []
    for number, k in enumerate(found.tolist()):
        rest, cause = divmod(k, words)
        state, lot = divmod(rest, lots)
        if STATES[state] != "not planted":
            said = ("",) * 5
            if lot:
                known = register.lots[lot - 1]
                plant = known.plant
                said = (plant.variety, plant.clone, plant.rootstock, known.name, known.nursery)
            why = register.words[cause - 1] if cause else ""
            rows.append((number, *said, STATES[state], why))
    db.executemany("INSERT INTO as_planted_kinds VALUES (?,?,?,?,?,?,?,?)", rows)
    told = np.array([row[0] for row in rows], np.int64)
    return np.where(np.isin(kind, told), kind, -1).reshape(-1)


_OF_KIND = ("variety", "clone", "rootstock", "lot", "nursery", "state", "cause")


def _texts(values: np.ndarray, width: int, text) -> np.ndarray:
    """Each value as ASCII of one width, with spaces behind it; every different one is made once."""
    found, which = np.unique(values, return_inverse=True)
    made = [text(v).encode().ljust(width) for v in found.tolist()]
    return np.array(made, f"S{width}")[which.reshape(-1)]


def _kind_text(kind: int) -> str:
    return f"{kind:0{_KIND_BYTES}d}"


def _day_text(day: int) -> str:
    import datetime

    return datetime.date.fromordinal(day).isoformat() if day else ""
