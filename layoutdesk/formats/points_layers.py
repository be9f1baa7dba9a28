"""Points and lines of a hand-off as layers of a GIS: what GeoPackage and Shapefiles have in common."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely

from ..core.staking.points import Points, exclusion_names
from .digits import Records
from .handoffset import HandOffSet, Placing
from .point_descriptions import columns_in, template_parts
from .point_records import PointTexts, placed
from .stake_chunks import clean

POINTS, LINES = "points", ("rows", "outlines", "exclusions")


@dataclass(frozen=True, eq=False)
class LineLayer:
    """Shapes of one of LINES, in written coordinates.

    Attributes
    ----------
    name : str
    shapes : object array, shape (k,)
        A row segment each, or one part of an outline or exclusion: points, lines, polygons with their holes.
    code, block : list of str
        Of each shape.
    row : list of int
        0 for what is no row.
    segment : list of str
    """

    name: str
    shapes: np.ndarray
    code: list[str]
    block: list[str]
    row: list[int]
    segment: list[str]


class Layers:
    """What the layers hold.

    Parameters
    ----------
    hand : HandOffSet
    placing : Placing
        Of the coordinates that are written.
    """

    def __init__(self, hand: HandOffSet, placing: Placing):
        self._hand = replace(hand, placing=placing)
        self._texts = PointTexts(hand.points, clean, hand.hand.table.feature)
        description = template_parts(hand.hand.table.description, clean)
        self._parts = {"code": ["owner", "tail"], "description": description, "kind": ["kind"]}
        self._records = {}
        for what, parts in self._parts.items():
            names = columns_in(parts)
            self._records[what] = Records([*parts, b"\n"], self._texts.columns(names)), names

    def text(self, what: str, some: Points) -> list[bytes]:
        """Code, description or kind of points, in UTF-8."""
        records, names = self._records[what]
        if not names:  # the same words for all
            return [b"".join(self._parts[what])] * len(some)
        written = b"".join(map(bytes, records.encoded(self._texts.values(some, names))))
        return written.split(b"\n")[:-1]

    @property
    def is_described_by_code(self) -> bool:
        return self._parts["description"] == self._parts["code"]

    def xy(self, xy_m: np.ndarray) -> np.ndarray:
        """(n, 2) of easting, northing as they are written.

        Raises
        ------
        InputProblem
            Where a place has none in the survey system.
        """
        return placed(self._hand, xy_m)

    def elevations(self, some: Points) -> np.ndarray | None:
        """(n,) of elevations as they are written, NaN where not known; None where none is."""
        return self._hand.elevations(some.xy_m)

    def lines(self) -> Iterator[LineLayer]:
        """Each of LINES, whether or not there is anything on it."""
        lines, hand = self._hand.lines, self._hand
        n = int((lines.kind == 0).sum())
        first = lines.first[: n + 1]
        owner = np.repeat(np.arange(n), np.diff(first))
        rows = shapely.linestrings(self.xy(lines.xy_m[: first[-1]]), indices=owner)
        yield LineLayer(
            *(LINES[0], rows, list(lines.code[:n]), list(lines.block[:n])),
            *(lines.row[:n].tolist(), list(lines.letter[:n])),
        )
        outlines = [(p.block.name, p.block.name, p.block.outline) for p in hand.plans]
        names = exclusion_names(hand.project.exclusions)
        kept = [(n, "", e.shape) for n, e in zip(names, hand.project.exclusions, strict=True)]
        yield self._parted(LINES[1], outlines)
        yield self._parted(LINES[2], kept)

    def _parted(self, layer: str, shapes: list[tuple]) -> LineLayer:
        parts, code, of = [], [], []
        for name, block, shape in shapes:
            for part in single_parts(shape):
                parts.append(shapely.transform(part, self.xy))
                code.append(name)
                of.append(block)
        made = np.empty(len(parts), dtype=object)
        made[:] = parts
        return LineLayer(layer, made, code, of, [0] * len(parts), [""] * len(parts))


def single_parts(shape) -> list:
    """Points, lines and polygons of any shape, rings of their own as lines."""
    found = []
    for part in shapely.get_parts(shape).tolist():
        if part.geom_type == "GeometryCollection" or part.geom_type.startswith("Multi"):
            found += single_parts(part)
        elif not part.is_empty:
            found.append(shapely.LineString(part) if part.geom_type == "LinearRing" else part)
    return found


def grid_placing(placing: Placing) -> Placing:
    """The placing in the grid's own unit: a system has one, which its definition says."""
    if placing.unit_m == placing.grid.unit_m:
        return placing
    return replace(placing, unit=placing.grid.unit, unit_m=placing.grid.unit_m)


def crs_of(placing: Placing):
    """The system that layers stand in; None for ground and calibrated coordinates, which stand in none."""
    from .crs import crs_named

    return crs_named(placing.grid.crs) if placing.coordinates == "grid" else None


def layer_words(hand: HandOffSet, placing: Placing) -> str:
    """The statement, for coordinates in the grid's unit, and what elevations are."""
    told = hand.statement
    if placing.unit_m != hand.placing.unit_m:
        told += (
            f"; in this file the unit is the grid's own, {placing.unit} = {placing.unit_m:.12g} m"
        )
    if hand.heights is not None:
        datum = hand.hand.vertical_datum or "a datum that is not stated"
        told += f"; elevations in {placing.unit} above {datum}"
    return told
