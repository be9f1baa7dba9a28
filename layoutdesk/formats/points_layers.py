"""Points and lines of a hand-off as layers of a GIS, some at a time, by GDAL through pyogrio."""

from __future__ import annotations

import numpy as np
import shapely

from ..core.staking.points import exclusion_names
from .digits import Records
from .handoffset import HandOffSet, Placing, Progress
from .point_descriptions import columns_in, template_parts
from .point_records import PointTexts
from .stake_chunks import clean

POINTS, LINES = "points", ("rows", "outlines", "exclusions")
_SHAPES = {"rows": "LineString", "outlines": "Polygon"}


class Layers:
    """What the layers hold.

    Parameters
    ----------
    hand : HandOffSet
    placing : Placing
        Of the coordinates that are written.
    names : sequence of str
        Of the columns of points: number, code, description, kind, block, row, segment, index, elevation.
    """

    def __init__(self, hand: HandOffSet, placing: Placing, names):
        self._hand, self._placing, self._names = hand, placing, list(names)
        if hand.heights is None:
            self._names = self._names[:-1]
        self._texts = PointTexts(hand.points, clean, hand.hand.table.feature)
        description = template_parts(hand.hand.table.description, clean)
        self._written = {
            "code": self._records(["owner", "tail"]),
            "description": self._records(description),
            "kind": self._records(["kind"]),
        }

    def _records(self, parts):
        names = columns_in(parts)
        return Records([*parts, b"\n"], self._texts.columns(names)), names

    def _text(self, what: str, some) -> np.ndarray:
        records, names = self._written[what]
        if not names:  # the same words for all
            texts = [records.parts[0].decode()] * len(some)
        else:
            written = b"".join(records.encoded(self._texts.values(some, names)))
            texts = written.decode().split("\n")[:-1]
        return np.array(texts, dtype=object)

    def write_points(
        self, path, driver: str, crs: str | None, progress: Progress | None = None, **options
    ) -> int:
        """Write the layer of points; how many they are."""
        import pyogrio.raw

        hand, owners, n = self._hand, self._hand.points.owners, 0
        block, letter = (np.array(a, dtype=object) for a in (owners.block, owners.letter))
        for some in hand.points.chunks():
            index = some.index.astype(np.int32)
            values = [
                some.number.astype(np.int64),
                self._text("code", some),
                self._text("description", some),
                self._text("kind", some),
                block[some.owner],
                owners.row[some.owner].astype(np.int32),
                letter[some.owner],
                index,
            ]
            if hand.heights is not None:
                values.append(self._placing.elevations(some.xy_m, hand.heights(some.xy_m)))
            pyogrio.raw.write(
                path,
                shapely.to_wkb(shapely.points(self._placing.placed(some.xy_m))),
                values,
                self._names,
                layer=POINTS,
                driver=driver,
                geometry_type="Point",
                crs=crs,
                encoding="UTF-8",
                append=n > 0,
                **options,
            )
            n += len(some)
            if progress:
                progress(n / len(hand.points))
        return n

    def write_lines(self, path_of, driver: str, crs: str | None, **options) -> None:
        """Write rows, outlines and exclusions, each where there is any.

        `path_of` gives the path of a layer by its name. Exclusions of several kinds of shape have a layer each.
        """
        import pyogrio.raw

        for name, (shapes, code, block, row, letter) in self._line_layers().items():
            types = shapely.get_type_id(shapes)
            for type_id in np.unique(types).tolist():
                some = types == type_id
                shape = {0: "Point", 1: "LineString", 3: "Polygon"}[type_id]
                usual = shape == _SHAPES.get(name, "Polygon")
                layer = name if usual else f"{name}_{shape.lower()}"
                pyogrio.raw.write(
                    path_of(layer),
                    shapely.to_wkb(shapes[some]),
                    [code[some], block[some], row[some], letter[some]],
                    ["code", "block", "row", "segment"],
                    layer=layer,
                    driver=driver,
                    geometry_type=shape,
                    crs=crs,
                    encoding="UTF-8",
                    **options,
                )

    def _line_layers(self) -> dict[str, tuple[np.ndarray, ...]]:
        """Shapes of each layer of LINES with code, block, row and segment; what has several parts comes part by part."""
        lines, placed, hand = self._hand.lines, self._placing.placed, self._hand
        n = int((lines.kind == 0).sum())
        found = {}
        if n:
            first = lines.first[: n + 1]
            owner = np.repeat(np.arange(n), np.diff(first))
            found["rows"] = (
                shapely.linestrings(placed(lines.xy_m[: first[-1]]), indices=owner),
                np.array(lines.code[:n], dtype=object),
                np.array(lines.block[:n], dtype=object),
                lines.row[:n].astype(np.int32),
                np.array(lines.letter[:n], dtype=object),
            )
        blocks = [(p.block.name, p.block.name, p.block.outline) for p in hand.plans]
        names = exclusion_names(hand.project.exclusions)
        kept = [(m, "", e.shape) for m, e in zip(names, hand.project.exclusions, strict=True)]
        for layer, shapes in (("outlines", blocks), ("exclusions", kept)):
            if not shapes:
                continue
            parts, codes, of = [], [], []
            for code, block, shape in shapes:
                for part in single_parts(shape):
                    parts.append(shapely.transform(part, placed))
                    codes.append(code)
                    of.append(block)
            found[layer] = (
                np.array(parts, dtype=object),
                np.array(codes, dtype=object),
                np.array(of, dtype=object),
                np.zeros(len(parts), np.int32),
                np.array([""] * len(parts), dtype=object),
            )
        return found


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
    from dataclasses import replace

    if placing.unit_m == placing.grid.unit_m:
        return placing
    return replace(placing, unit=placing.grid.unit, unit_m=placing.grid.unit_m)


def crs_of(placing: Placing) -> str | None:
    """The system that layers are told to be in; None for ground and calibrated coordinates, which are in none."""
    return placing.grid.crs if placing.coordinates == "grid" else None
