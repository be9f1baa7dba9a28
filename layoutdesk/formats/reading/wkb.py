"""Well-known binary to coordinate arrays, one NumPy view per ring.

shapely would refuse an unclosed ring or close it without a word; here the ring comes as written.
"""

from __future__ import annotations

import struct

import numpy as np

_POINT, _LINE, _POLYGON, _TRIANGLE = 1, 2, 3, 17
_COLLECTIONS = {4, 5, 6, 7, 15, 16}  # multi-parts, collection, polyhedral surface, TIN


class UnknownGeometry(ValueError):
    """A geometry type that holds no straight edges (a curve)."""


def parts_of_wkb(data: bytes) -> list[tuple[str, list[np.ndarray]]]:
    """Points, lines and areas in one geometry, collections opened up.

    Parameters
    ----------
    data : bytes
        ISO or extended WKB, either byte order, with or without Z and M.

    Returns
    -------
    list of (form, rings)
        `form` is "point", "line" or "area"; each ring is a float array of shape (n, d) with d
        from 2 to 4, exactly as written. Empty parts are left out.

    Raises
    ------
    UnknownGeometry
        For curve types.
    """
    parts: list[tuple[str, list[np.ndarray]]] = []
    _read(memoryview(data), 0, parts)
    return parts


def _read(data, at, parts) -> int:
    order = "<" if data[at] == 1 else ">"
    (code,) = struct.unpack_from(order + "I", data, at + 1)
    at += 5
    if code & 0x20000000:  # extended WKB carries its SRID here
        at += 4
    has_z, has_m = bool(code & 0x80000000), bool(code & 0x40000000)
    thousands, kind = divmod(code & 0x1FFFFFFF, 1000)
    dims = 2 + (has_z or thousands in (1, 3)) + (has_m or thousands in (2, 3))

    def count():
        nonlocal at
        (n,) = struct.unpack_from(order + "I", data, at)
        at += 4
        return n

    def array(n):
        nonlocal at
        values = np.frombuffer(data, dtype=order + "f8", count=n * dims, offset=at)
        at += 8 * n * dims
        return values.reshape(n, dims).astype(np.float64)

    if kind == _POINT:
        point = array(1)
        if not np.isnan(point).all():  # all NaN is how WKB writes an empty point
            parts.append(("point", [point]))
    elif kind == _LINE:
        line = array(count())
        if len(line):
            parts.append(("line", [line]))
    elif kind in (_POLYGON, _TRIANGLE):
        rings = [array(count()) for _ in range(count())]
        if rings and len(rings[0]):
            parts.append(("area", rings))
    elif kind in _COLLECTIONS:
        for _ in range(count()):
            at = _read(data, at, parts)
    else:
        raise UnknownGeometry(f"geometry type {kind}")
    return at
