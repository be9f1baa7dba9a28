"""Points of a hand-off streamed as text records: what LandXML, KML and GPX have in common."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from ..core.model import InputProblem
from ..core.staking.points import Points
from .digits import Decimal, DecimalOrBlank, Records
from .handoffset import HandOffSet, Progress
from .point_descriptions import columns_in, template_parts
from .point_records import PointTexts, placed
from .stake_chunks import clean

DEGREE_DECIMALS = 9
"""A tenth of a millimetre."""
_NAMED = (
    *(("&", "&amp;"), ("<", "&lt;"), (">", "&gt;"), ('"', "&quot;")),
    *(("\ufffe", "?"), ("\uffff", "?")),
)


def escaped(text: str) -> str:
    """A text as it stands in XML, in content and in attributes alike; question marks for what no XML may hold.

    Examples
    --------
    >>> escaped('B&1 <"x">')
    'B&amp;1 &lt;&quot;x&quot;&gt;'
    """
    told = clean(text).encode("utf-8", "replace").decode()
    for mark, name in _NAMED:
        told = told.replace(mark, name)
    return told


def description_parts(hand: HandOffSet) -> list[bytes | str]:
    """Parts of a record that write a point's description into XML."""
    return template_parts(hand.hand.table.description, escaped)


def on_wgs84(hand: HandOffSet, xy_m: np.ndarray) -> np.ndarray:
    """(n, 2) of longitude, latitude.

    Raises
    ------
    InputProblem
        Where a place has none.
    """
    degrees = hand.to_wgs84(xy_m)
    if not np.isfinite(degrees).all():
        raise InputProblem(
            "The site has no place on WGS 84: check the coordinate system of the outline."
        )
    return degrees


class PointStream:
    """Records of points.

    Parameters
    ----------
    hand : HandOffSet
    parts : sequence of bytes or str
        Bytes are fixed text; a str names a column of `PointTexts`, or "x" and "y": longitude and latitude, or
        easting and northing as written.
    is_wgs84 : bool
    elevation : tuple of (bytes, bytes), optional
        What stands before and after an elevation; it comes where parts name "elevation", and not at all where
        it is not known.
    elevation_m : bool
        Whether elevations are metres above their datum as it is, whatever is written.
    """

    def __init__(
        self,
        hand: HandOffSet,
        parts: Sequence[bytes | str],
        *,
        is_wgs84: bool,
        elevation: tuple[bytes, bytes] = (b"", b""),
        elevation_m: bool = False,
    ):
        self._hand, self._wgs84, self._in_metres = hand, is_wgs84, elevation_m
        self._raised = hand.heights is not None and "elevation" in parts
        self._parts = [p for p in parts if p != "elevation" or self._raised]
        self._around = elevation
        self._texts = PointTexts(hand.points, escaped, hand.hand.table.feature)
        self._names = [n for n in columns_in(self._parts) if n not in ("x", "y", "elevation")]
        decimals = DEGREE_DECIMALS if is_wgs84 else hand.hand.table.decimals
        columns = self._texts.columns(self._names)
        columns |= {name: Decimal(decimals) for name in ("x", "y")}
        self._flat = Records([p for p in self._parts if p != "elevation"], columns)
        self._high = None
        if self._raised:
            before, after = elevation
            parts_high: list[bytes | str] = []
            for part in self._parts:
                parts_high += [before, part, after] if part == "elevation" else [part]
            height = DecimalOrBlank(3 if is_wgs84 else hand.hand.table.decimals)
            self._high = Records(parts_high, columns | {"elevation": height})

    def write(self, file, progress: Progress | None = None) -> int:
        """Write all points; how many they are."""
        total, done = len(self._hand.points), 0
        for some in self._hand.points.chunks():
            for piece in self.encoded(some):
                file.write(piece)
            done += len(some)
            if progress:
                progress(done / total)
        return done

    def encoded(self, some: Points) -> Iterator[bytes | memoryview]:
        """Bytes of some points; each piece is to be used before the next is asked for."""
        hand = self._hand
        xy = on_wgs84(hand, some.xy_m) if self._wgs84 else placed(hand, some.xy_m)
        values = self._texts.values(some, self._names) | {"x": xy[:, 0], "y": xy[:, 1]}
        if not self._raised:
            yield from self._flat.encoded(values)
            return
        heights = hand.heights(some.xy_m) if self._in_metres else hand.elevations(some.xy_m)
        known = ~np.isnan(heights)
        if known.all():
            yield from self._high.encoded(values | {"elevation": heights})
            return
        # Runs of points with and without a height, so that the order stays.
        edges = np.flatnonzero(known[1:] != known[:-1]) + 1
        for begin, end in zip([0, *edges.tolist()], [*edges.tolist(), len(known)], strict=True):
            part = {name: value[begin:end] for name, value in values.items()}
            if known[begin]:
                yield from self._high.encoded(part | {"elevation": heights[begin:end]})
            else:
                yield from self._flat.encoded(part)
