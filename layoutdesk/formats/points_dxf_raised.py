"""Lines of a hand-off's drawing on the ground: rows, outlines and exclusions as 3D polylines."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from .digits import RECORDS, Decimal, Hex, Records
from .handoffset import HandOffSet
from .point_records import placed
from .points_dxf_document import NO_HEIGHT
from .points_dxf_records import DECIMALS, entity

STEP_M = 5.0
"""Farthest apart that a line is laid on the ground. [m]"""

LAYERS_OF_LINES = ("ROW", "OUTLINE", "EXCLUSION")
"""Of each of LINE_KINDS."""


class RaisedLines:
    """All lines of a hand-off with places STEP_M apart at most, at the height of the ground.

    A line of which some ground is not known stands at 0 on a layer of its own.

    Attributes
    ----------
    n_handles : int
        Records that all lines need.
    unknown : tuple of str
        Layers of lines whose ground is not known.
    """

    def __init__(self, hand: HandOffSet):
        self._hand = hand
        places = [_dense(hand, i) for i in range(len(hand.lines))]
        self._first = np.cumsum([0, *map(len, places)])
        xy_m = np.concatenate([np.empty((0, 2)), *places])
        runs = [slice(i, i + RECORDS) for i in range(0, len(xy_m), RECORDS)]
        self._xy = np.concatenate([np.empty((0, 2)), *(placed(hand, xy_m[run]) for run in runs)])
        self._z = np.concatenate([np.empty(0), *(hand.elevations(xy_m[run]) for run in runs)])
        self._known = np.array([not np.isnan(self._z[own]).any() for own in self._parts()], bool)
        self.unknown = tuple(
            layer for kind, layer in enumerate(LAYERS_OF_LINES)
            if not self._known[hand.lines.kind == kind].all()
        )  # fmt: skip
        self.n_handles = len(places) + len(xy_m)

    def _parts(self) -> list[slice]:
        return [slice(a, b) for a, b in pairwise(self._first.tolist())]

    def records(self, owner: bytes, handle: int) -> Iterator[bytes | memoryview]:
        """Text of all lines, their handles from a number on."""
        closed, kind = self._hand.lines.closed, self._hand.lines.kind
        vertices: dict[str, Records] = {}
        for i, part in enumerate(self._parts()):
            xy, z, known = self._xy[part], self._z[part], bool(self._known[i])
            name = LAYERS_OF_LINES[kind[i]] + ("" if known else NO_HEIGHT)
            layer, own = name.encode(), b"%X" % handle
            if not known:
                z = np.zeros(len(z))
            if len(xy) == 1:
                yield _single(own, layer, owner, xy[0], float(z[0]))
            else:
                yield _begin(own, layer, owner, bool(closed[i]))
                if name not in vertices:
                    vertices[name] = _vertices(layer)
                values = {
                    "handle": np.arange(handle + 1, handle + 1 + len(xy)),
                    "line": np.full(len(xy), handle),
                    "x": xy[:, 0],
                    "y": xy[:, 1],
                    "z": z,
                }
                yield from vertices[name].encoded(values)
                yield _filled(entity(b"SEQEND", b"1", ["handle", b"0"], layer), own)
            handle += 1 + len(xy)


def _dense(hand: HandOffSet, i: int) -> np.ndarray:
    """Places of a line, with others between them; a ring's end is not repeated. [m]"""
    lines = hand.lines
    xy = lines.xy_m[lines.first[i] : lines.first[i + 1]]
    if len(xy) < 2:
        return xy
    ends = np.vstack([xy, xy[:1]]) if lines.closed[i] else xy
    step = np.diff(ends, axis=0)
    n = np.maximum(np.ceil(np.hypot(*step.T) / STEP_M), 1).astype(np.int64)
    which = np.repeat(np.arange(len(n)), n)
    share = (np.arange(len(which)) - np.repeat(np.cumsum(n) - n, n)) / n[which]
    between = ends[which] + share[:, None] * step[which]
    return between if lines.closed[i] else np.vstack([between, ends[-1:]])


def _filled(parts: list, handle: bytes) -> bytes:
    return b"".join(handle if part == "handle" else part for part in parts)


def _begin(handle: bytes, layer: bytes, owner: bytes, closed: bool) -> bytes:
    told = ((100, b"AcDb3dPolyline"), (66, b"1"), (10, b"0.0"), (20, b"0.0"), (30, b"0.0"))
    flags = (70, b"9" if closed else b"8")
    return _filled(entity(b"POLYLINE", b"0", [owner], layer, *told, flags), handle)


def _vertices(layer: bytes) -> Records:
    place = ((10, "x"), (20, "y"), (30, "z"), (70, b"32"))
    return Records(
        entity(
            *(b"VERTEX", b"0", ["line", b"0"], layer),
            *((100, b"AcDbVertex"), (100, b"AcDb3dPolylineVertex"), *place),
        ),
        {
            **dict.fromkeys(("handle", "line"), Hex()),
            **dict.fromkeys(("x", "y", "z"), Decimal(DECIMALS)),
        },
    )


def _single(handle: bytes, layer: bytes, owner: bytes, xy, z: float) -> bytes:
    place = [
        (code, b"%.*f" % (DECIMALS, v)) for code, v in zip((10, 20, 30), (*xy, z), strict=True)
    ]
    return _filled(entity(b"POINT", b"0", [owner], layer, (100, b"AcDbPoint"), *place), handle)
