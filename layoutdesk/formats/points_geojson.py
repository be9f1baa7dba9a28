"""Points and lines of a hand-off as GeoJSON, on WGS 84.

Source: RFC 7946, The GeoJSON Format, IETF 2016.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

import numpy as np
import shapely

from ..core.model import InputProblem
from ..core.staking.points import Points
from .block_rows import BlockRows, block_of, rows_by_block
from .digits import RECORDS, Chosen, Decimal, DecimalOrBlank, Records
from .handoffset import HandOffSet, Progress
from .point_descriptions import columns_in, template_parts
from .point_records import KIND_NAMES, PointTexts, Texts
from .seal import Seal, SealedFile

DECIMALS = 9
"""Of degrees: a tenth of a millimetre."""


def write_points_geojson(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of features written, in longitude and latitude on WGS 84.

    Per block: its outline, the chosen rows, then its points; then exclusions, their corners, those of
    outlines, and control points. A point has its number, its description and its elevation, which is
    null where it is not known. Elevations are in the unit and above the vertical datum that the foreign
    member `layoutdesk` states, and no third coordinates: these would be heights above the ellipsoid.
    The foreign member `seal` comes last. Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    hand : HandOffSet
    seal : Seal
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place on WGS 84.
    """
    features = Features(hand, is_numbered=True)
    with SealedFile(path) as file:
        n = features.write(file, _about(hand) | _more_about(hand), progress)
        file.write(b'\n],\n"seal":"')
        file.write(file.seal_text(seal).encode())
        file.write(b'"}\n')
    return n


def write_plain_geojson(path, hand: HandOffSet, *, progress: Progress | None = None) -> int:
    """Number of features written: outlines, rows and points without their numbers, and no seal."""
    with open(path, "wb") as file:
        n = Features(hand, is_numbered=False).write(file, _about(hand), progress)
        file.write(b"\n]}\n")
    return n


class Features:
    """Features of a hand-off, written one after another.

    Parameters
    ----------
    hand : HandOffSet
    is_numbered : bool
        Whether points have a number, a description and an elevation, and exclusions are written.
    """

    def __init__(self, hand: HandOffSet, *, is_numbered: bool):
        self._hand, self._is_numbered = hand, is_numbered
        self._on_wgs84 = _checked(hand.to_wgs84)
        self._rows = rows_by_block(hand)
        owners = hand.points.owners
        self._texts = PointTexts(hand.points, _inside_quotes, hand.hand.table.feature)
        self._places = Texts(
            [
                f'{_json(block or None)},"row":{row or "null"},"segment":{_json(letter or None)}'
                for block, row, letter in zip(
                    owners.block, owners.row.tolist(), owners.letter, strict=True
                )
            ]
        )
        # A control point has no index, which is 0 there.
        self._has_zero = "control" in hand.points.counts
        self._has_heights = is_numbered and hand.heights is not None
        self._records: dict[int, tuple[Records, list[str]]] = {}

    def write(self, file, about: dict, progress: Progress | None) -> int:
        """Everything up to the end of the last feature; gives how many there are."""
        hand, done, drawn, n = self._hand, 0, 0, 0
        file.write(
            b'{"type":"FeatureCollection",\n"layoutdesk":%b,\n"features":['
            % _json(about).encode("utf-8", "replace")
        )
        separator = b"\n"

        def lines_up_to(block: int):
            nonlocal drawn, n, separator
            while drawn < min(block, len(self._rows)):
                file.write(separator + _outline_feature(self._rows[drawn].plan, self._on_wgs84))
                separator = b",\n"
                for piece in self._row_features(self._rows[drawn]):
                    file.write(piece)
                n += 1 + len(self._rows[drawn].line)
                drawn += 1
            if drawn == len(self._rows) < block and self._is_numbered:
                for piece in self._exclusion_features():
                    file.write(separator + piece)
                    separator = b",\n"
                    n += 1
                drawn += 1

        for some in hand.points.chunks():
            # A block's outline and rows stand before its points; exclusions come before corners.
            lines_up_to(block_of(hand, int(some.owner[0])) + 1)
            for piece in self._point_features(some):
                file.write(piece)
            done += len(some)
            if progress:
                progress(done / len(hand.points))
        lines_up_to(len(self._rows) + 1)
        return n + done

    def _point_features(self, some: Points) -> Iterator[memoryview]:
        kind = int(some.kind[0]) if (some.kind == some.kind[0]).all() else -1
        if kind not in self._records:
            told = ["kind"] if kind < 0 else [KIND_NAMES[kind].encode()]
            self._records[kind] = self._point_records(told)
        records, names = self._records[kind]
        yield from records.encoded(self._values(some, names))

    def _point_records(self, kind: list[bytes | str]) -> tuple[Records, list[str]]:
        """Records of points of one kind, or of any, and the columns of `PointTexts` they have."""
        more: list[bytes | str] = []
        columns: dict = {}
        if self._is_numbered:
            template = self._hand.hand.table.description
            more = [b',"point":', "number", b',"description":"']
            more += [*template_parts(template, _inside_quotes), b'"']
            if self._has_heights:
                more += [b',"elevation":', "elevation", "unknown"]
                columns["elevation"] = DecimalOrBlank(self._hand.hand.table.decimals)
                columns["unknown"] = Chosen([b"", b"null"])
        parts = [
            *(b',\n{"type":"Feature","properties":{"kind":"', *kind, b'","block":', "place"),
            *(b',"index":', "index", *(["no index"] if self._has_zero else [])),
            *(b',"code":"', "owner", "tail", b'"', *more),
            *(b'},"geometry":{"type":"Point","coordinates":[', "longitude", b",", "latitude"),
            b"]}}",
        ]
        names = columns_in([*kind, "index", "owner", "tail", *more])
        names = [name for name in names if name not in columns]
        columns |= self._texts.columns(names)
        columns["place"] = self._places
        if self._has_zero:
            columns["no index"] = Chosen([b"", b"null"])
        columns |= dict.fromkeys(("longitude", "latitude"), Decimal(DECIMALS))
        return Records(parts, columns), names

    def _values(self, some: Points, names: list[str]) -> dict:
        degrees = self._on_wgs84(some.xy_m)
        values = self._texts.values(some, names)
        values |= {
            "place": some.owner,
            "longitude": degrees[:, 0],
            "latitude": degrees[:, 1],
        }
        if self._has_zero:
            values["no index"] = (some.index == 0).astype(np.intp)
        if self._has_heights:
            values["elevation"] = self._hand.elevations(some.xy_m)
            values["unknown"] = np.isnan(values["elevation"]).astype(np.intp)
        return values

    def _row_features(self, rows: BlockRows) -> Iterator[bytes | memoryview]:
        if not len(rows.line):
            return
        if not rows.is_straight:
            for line in rows.line.tolist():
                yield b",\n" + self._bent_row(line)
            return
        records = self._row_records()
        lines, owner = self._hand.lines, rows.owner
        ends_m = lines.xy_m[lines.first[rows.line][:, None] + np.arange(2)]
        for begin in range(0, len(owner), RECORDS):
            run = slice(begin, begin + RECORDS)
            x0, y0, x1, y1 = self._on_wgs84(ends_m[run].reshape(-1, 2)).reshape(-1, 4).T
            cut = np.abs(x1 - x0) > 180
            for i in np.flatnonzero(cut).tolist():
                yield b",\n" + self._bent_row(int(rows.line[begin + i]))
            keep = ~cut
            yield from records.encoded(
                {
                    **dict.fromkeys(("place", "owner"), owner[run][keep]),
                    "x0": x0[keep],
                    "y0": y0[keep],
                    "x1": x1[keep],
                    "y1": y1[keep],
                }
            )

    def _row_records(self) -> Records:
        return Records(
            [
                *(b',\n{"type":"Feature","properties":{"kind":"row","block":', "place"),
                *(b',"index":null,"code":"', "owner"),
                b'"},"geometry":{"type":"LineString","coordinates":[[',
                *("x0", b",", "y0", b"],[", "x1", b",", "y1", b"]]}}"),
            ],
            {
                "place": self._places,
                **self._texts.columns(["owner"]),
                **dict.fromkeys(("x0", "y0", "x1", "y1"), Decimal(DECIMALS)),
            },
        )

    def _bent_row(self, line: int) -> bytes:
        """A row with all its places, parted where it crosses the antimeridian."""
        lines = self._hand.lines
        xy_m = lines.xy_m[lines.first[line] : lines.first[line + 1]]
        row = _parted(shapely.LineString(self._on_wgs84(xy_m)))
        properties = _properties(
            *("row", lines.block[line], int(lines.row[line]), lines.letter[line], None),
            lines.code[line],
        )
        return _feature(properties, "LineString", [_rounded(p) for p in shapely.get_parts(row)])

    def _exclusion_features(self) -> Iterator[bytes]:
        from ..core.staking.points import exclusion_names

        exclusions = self._hand.project.exclusions
        for name, exclusion in zip(exclusion_names(exclusions), exclusions, strict=True):
            properties = _properties("exclusion", None, None, None, None, name)
            yield from _shape_features(exclusion.shape, properties, self._on_wgs84)


def _checked(to_wgs84):
    def placed(xy_m):
        degrees = to_wgs84(xy_m)
        if not np.isfinite(degrees).all():
            raise InputProblem(
                "The site has no place on WGS 84: check the coordinate system of the outline."
            )
        return degrees

    return placed


def _about(hand: HandOffSet) -> dict:
    survey = hand.placing.grid
    return {
        "statement": hand.statement,
        "wgs84_shift": hand.wgs84_shift,
        "revision": hand.revision,
        "survey_crs": survey.crs,
        "survey_name": survey.name,
        "survey_unit": survey.unit,
        "combined_factor": survey.combined_factor,
        "convergence_deg": survey.convergence_deg,
    }


def _more_about(hand: HandOffSet) -> dict:
    return {
        "project": hand.project.name,
        "plan": hand.plan,
        "day": hand.day.isoformat(),
        "elevation_unit": hand.placing.unit,
        "elevation_unit_m": hand.placing.unit_m,
        "vertical_datum": hand.hand.vertical_datum,
        "heights": hand.heights_said,
    }


def _json(value) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


def _inside_quotes(text: str) -> str:
    """A text as it stands between the quotes of JSON."""
    return _json(text)[1:-1]


def _properties(kind: str, block, row, segment, index, code: str) -> dict:
    keys = ("kind", "block", "row", "segment", "index", "code")
    return dict(zip(keys, (kind, block, row, segment, index, code), strict=True))


def _outline_feature(plan, to_wgs84) -> bytes:
    name = plan.block.name
    properties = _properties("outline", name, None, None, None, name)
    return next(_shape_features(plan.block.outline, properties, to_wgs84))


def _shape_features(shape, properties: dict, to_wgs84) -> Iterator[bytes]:
    """A feature of any shape; one for each kind of geometry in a collection."""
    shape = shapely.transform(shape, to_wgs84)
    parts = [p for p in _flat(shape) if not p.is_empty]
    for kind in dict.fromkeys(p.geom_type for p in parts):
        own = [q for p in parts if p.geom_type == kind for q in shapely.get_parts(_parted(p))]
        if kind == "Polygon":
            own = [shapely.geometry.polygon.orient(p, 1.0) for p in own]  # shell anticlockwise
            places = [[_rounded(ring) for ring in (p.exterior, *p.interiors)] for p in own]
        elif kind == "Point":
            places = [_rounded(p)[0] for p in own]
        else:
            places = [_rounded(p) for p in own]
        yield _feature(properties, "LineString" if kind == "LinearRing" else kind, places)


def _flat(shape) -> list:
    if shape.geom_type == "GeometryCollection" or shape.geom_type.startswith("Multi"):
        return [q for p in shapely.get_parts(shape).tolist() for q in _flat(p)]
    return [shape]


def _feature(properties: dict, geometry_type: str, parts: list) -> bytes:
    """A feature of one part, or a Multi of several; what is no character becomes a question mark."""
    if len(parts) == 1:
        geometry = {"type": geometry_type, "coordinates": parts[0]}
    else:
        geometry = {"type": f"Multi{geometry_type}", "coordinates": parts}
    feature = {"type": "Feature", "properties": properties, "geometry": geometry}
    return _json(feature).encode("utf-8", "replace")


def _rounded(line) -> list:
    return (np.round(shapely.get_coordinates(line), DECIMALS) + 0.0).tolist()


def _parted(shape):
    """The shape itself, or its parts on both sides of the antimeridian (RFC 7946, 3.1.9)."""
    west, _, east, _ = shape.bounds
    if east - west <= 180:
        return shape
    turned = shapely.transform(shape, lambda q: np.where([True, False] & (q < 0), q + [360, 0], q))
    before = shapely.intersection(turned, shapely.box(0, -90, 180, 90))
    after = shapely.intersection(turned, shapely.box(180, -90, 360, 90))
    after = shapely.transform(after, lambda q: q - [360, 0])
    kind = shape.geom_type
    parts = [
        p for p in shapely.get_parts([before, after]) if p.geom_type == kind and not p.is_empty
    ]
    return (shapely.multipolygons if kind == "Polygon" else shapely.multilinestrings)(parts)
