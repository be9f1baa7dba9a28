"""Stake-out as GeoJSON: outlines, rows, posts, anchors and vines on WGS 84.

Source: RFC 7946, The GeoJSON Format, IETF 2016.
"""

from __future__ import annotations

import json

import numpy as np
import shapely

from ..core.layout.numbering import INDEX_DIGITS, segment_code, segment_letter
from ..core.model import InputProblem, RowPlan
from .digits import RECORDS, Chosen, Decimal, Records, Whole
from .stake_chunks import Progress, mark_infix, marks_by_kind, n_marks, segment_codes
from .stakeset import StakeSet

DECIMALS = 9
"""Of degrees: a tenth of a millimetre."""


def write_stakes_geojson(path, stakes: StakeSet, *, progress: Progress | None = None) -> int:
    """Number of features written, in longitude and latitude on WGS 84.

    Per block: its outline, the rows, then end posts, line posts, anchors and vines. The statement
    on the survey system and the datum shift used stand in the foreign member `layoutdesk`.
    Not atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    stakes : StakeSet
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place on WGS 84.
    """
    on_wgs84 = _checked(stakes.to_wgs84)
    total, done, features = max(n_marks(stakes), 1), 0, 0
    with open(path, "wb") as file:
        file.write(
            b'{"type":"FeatureCollection",\n"layoutdesk":%b,\n"features":[' % _text(_about(stakes))
        )
        for plan in stakes.plans:
            file.write((b",\n" if features else b"\n") + _outline_feature(plan, on_wgs84))
            places = _places(plan)
            codes = Chosen(
                segment_codes(plan, json.dumps(plan.block.name, ensure_ascii=False)[1:-1])
            )
            for piece in _row_features(plan, places, codes, on_wgs84):
                file.write(piece)
            features += 1 + plan.n_segments
            for kind, chunks in marks_by_kind(plan):
                records = _mark_records(plan, kind, places, codes)
                for first_segment, marks in chunks:
                    degrees = on_wgs84(marks.xy_m)
                    segment = first_segment + marks.segment
                    values = {
                        "place": segment,
                        "index": marks.index,
                        "code": segment,
                        "number": marks.index,
                        "longitude": degrees[:, 0],
                        "latitude": degrees[:, 1],
                    }
                    for piece in records.encoded(values):
                        file.write(piece)
                    done += len(marks)
                    if progress:
                        progress(done / total)
        file.write(b"\n]}\n")
    return features + done


def _checked(to_wgs84):
    def placed(xy_m):
        degrees = to_wgs84(xy_m)
        if not np.isfinite(degrees).all():
            raise InputProblem(
                "The site has no place on WGS 84: check the coordinate system of the outline."
            )
        return degrees

    return placed


def _about(stakes: StakeSet) -> dict:
    survey = stakes.survey
    return {
        "statement": stakes.statement,
        "wgs84_shift": stakes.wgs84_shift,
        "revision": stakes.revision,
        "survey_crs": survey.crs,
        "survey_name": survey.name,
        "survey_unit": survey.unit,
        "combined_factor": survey.combined_factor,
        "convergence_deg": survey.convergence_deg,
    }


def _text(value) -> bytes:
    """JSON in UTF-8; what is no character becomes a question mark."""
    return json.dumps(value, ensure_ascii=False, allow_nan=False).encode("utf-8", "replace")


def _outline_feature(plan: RowPlan, to_wgs84) -> bytes:
    outline = _parted(shapely.transform(plan.block.outline, to_wgs84))
    parts = shapely.get_parts(outline)
    parts = [shapely.geometry.polygon.orient(part, 1.0) for part in parts]  # shell anticlockwise
    rings = [[_rounded(ring) for ring in (p.exterior, *p.interiors)] for p in parts]
    name = plan.block.name
    properties = dict.fromkeys(("kind", "block", "row", "segment", "index", "code"))
    properties |= {"kind": "outline", "block": name, "code": name}
    return _feature(properties, "Polygon", rings)


def _feature(properties: dict, geometry_type: str, parts: list) -> bytes:
    """A feature of one part, or a Multi of several."""
    if len(parts) == 1:
        geometry = {"type": geometry_type, "coordinates": parts[0]}
    else:
        geometry = {"type": f"Multi{geometry_type}", "coordinates": parts}
    return _text({"type": "Feature", "properties": properties, "geometry": geometry})


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


def _head(plan: RowPlan, kind: str) -> bytes:
    return b',\n{"type":"Feature","properties":{"kind":"%b","block":%b,"row":' % (
        kind.encode(),
        _text(plan.block.name),
    )


def _places(plan: RowPlan) -> Chosen:
    """Row number and segment letter of every segment, as they stand in the properties."""
    s = plan.segments
    pairs = zip(s.number.tolist(), s.letter.tolist(), strict=True)
    return Chosen([b'%d,"segment":"%b"' % (n, segment_letter(i).encode()) for n, i in pairs])


def _curved_features(plan: RowPlan, to_wgs84):
    """Rows that bend, with all their places."""
    for i, row in enumerate(plan.shapes):
        line = _parted(shapely.transform(row, to_wgs84))
        lines = [_rounded(part) for part in shapely.get_parts(line)]
        yield b",\n" + _feature(_row_properties(plan, i), "LineString", lines)


def _row_features(plan: RowPlan, places: Chosen, codes: Chosen, to_wgs84):
    if plan.course is not None:
        yield from _curved_features(plan, to_wgs84)
        return
    coordinate = Decimal(DECIMALS)
    records = Records(
        [
            _head(plan, "row"),
            "place",
            b',"index":null,"code":"',
            "code",
            b'"},"geometry":{"type":"LineString","coordinates":[[',
            *("x0", b",", "y0", b"],[", "x1", b",", "y1"),
            b"]]}}",
        ],
        {
            "place": places,
            "code": codes,
            **dict.fromkeys(("x0", "y0", "x1", "y1"), coordinate),
        },
    )
    ends_m = plan.segment_ends_m.reshape(-1, 2)
    for begin in range(0, plan.n_segments, RECORDS):
        end = min(begin + RECORDS, plan.n_segments)
        x0, y0, x1, y1 = to_wgs84(ends_m[2 * begin : 2 * end]).reshape(-1, 4).T
        cut = np.abs(x1 - x0) > 180
        for i in np.flatnonzero(cut):
            line = _parted(shapely.LineString([(x0[i], y0[i]), (x1[i], y1[i])]))
            yield b",\n" + _feature(
                _row_properties(plan, begin + int(i)), "LineString", [*map(_rounded, line.geoms)]
            )
        segment, keep = np.arange(begin, end), ~cut
        yield from records.encoded(
            {
                **dict.fromkeys(("place", "code"), segment[keep]),
                "x0": x0[keep],
                "y0": y0[keep],
                "x1": x1[keep],
                "y1": y1[keep],
            }
        )


def _row_properties(plan: RowPlan, segment: int) -> dict:
    name, s = plan.block.name, plan.segments
    number, letter = int(s.number[segment]), int(s.letter[segment])
    return {
        "kind": "row",
        "block": name,
        "row": number,
        "segment": segment_letter(letter),
        "index": None,
        "code": segment_code(name, number, letter),
    }


def _mark_records(plan: RowPlan, kind: str, places: Chosen, codes: Chosen) -> Records:
    return Records(
        [
            _head(plan, kind),
            *("place", b',"index":', "index", b',"code":"', "code", mark_infix(kind), "number"),
            b'"},"geometry":{"type":"Point","coordinates":[',
            *("longitude", b",", "latitude"),
            b"]}}",
        ],
        {
            "place": places,
            "index": Whole(),
            "code": codes,
            "number": Whole(INDEX_DIGITS[kind]),
            "longitude": Decimal(DECIMALS),
            "latitude": Decimal(DECIMALS),
        },
    )
