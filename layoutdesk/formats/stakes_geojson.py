"""Stake-out as GeoJSON: outlines, rows, posts, anchors and vines on WGS 84.

Source: RFC 7946, The GeoJSON Format, IETF 2016.
"""

from __future__ import annotations

import json

import numpy as np
import shapely

from ..core.layout.numbering import INDEX_DIGITS, segment_letter
from ..core.model import RowPlan
from .digits import RECORDS, Chosen, Decimal, Records, Whole
from .stakes_csv import Progress, code_stems, marks_by_kind, n_marks, segment_codes
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
    ValueError
        Where a point has no place on WGS 84.
    """
    total, done, features = max(n_marks(stakes), 1), 0, 0
    with open(path, "wb", buffering=0) as file:
        file.write(
            b'{"type":"FeatureCollection",\n"layoutdesk":%b,\n"features":[' % _text(_about(stakes))
        )
        for plan in stakes.plans:
            file.write((b",\n" if features else b"\n") + _outline_feature(plan, stakes.to_wgs84))
            for piece in _row_features(plan, stakes.to_wgs84):
                file.write(piece)
            features += 1 + plan.n_segments
            for kind, chunks in marks_by_kind(plan):
                records = _mark_records(plan, kind)
                for first_segment, marks in chunks:
                    degrees = stakes.to_wgs84(marks.xy_m)
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
    outline = shapely.transform(plan.block.outline, to_wgs84)
    outline = shapely.orient_polygons(outline)  # the outer ring counter-clockwise
    rings = [
        np.round(shapely.get_coordinates(ring), DECIMALS).tolist()
        for ring in (outline.exterior, *outline.interiors)
    ]
    name = plan.block.name
    properties = {
        "kind": "outline",
        "block": name,
        "row": None,
        "segment": None,
        "index": None,
        "code": name,
    }
    return _text(
        {
            "type": "Feature",
            "properties": properties,
            "geometry": {"type": "Polygon", "coordinates": rings},
        }
    )


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


def _row_features(plan: RowPlan, to_wgs84):
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
            "place": _places(plan),
            "code": Chosen([_text(code)[1:-1] for code in segment_codes(plan)]),
            **dict.fromkeys(("x0", "y0", "x1", "y1"), coordinate),
        },
    )
    ends_m = plan.segment_ends_m.reshape(-1, 2)
    for begin in range(0, plan.n_segments, RECORDS):
        end = min(begin + RECORDS, plan.n_segments)
        x0, y0, x1, y1 = to_wgs84(ends_m[2 * begin : 2 * end]).reshape(-1, 4).T
        segment = np.arange(begin, end)
        yield from records.encoded(
            {"place": segment, "code": segment, "x0": x0, "y0": y0, "x1": x1, "y1": y1}
        )


def _mark_records(plan: RowPlan, kind: str) -> Records:
    return Records(
        [
            _head(plan, kind),
            *("place", b',"index":', "index", b',"code":"', "code", "number"),
            b'"},"geometry":{"type":"Point","coordinates":[',
            *("longitude", b",", "latitude"),
            b"]}}",
        ],
        {
            "place": _places(plan),
            "index": Whole(),
            "code": Chosen([_text(code)[1:-1] for code in code_stems(plan, kind)]),
            "number": Whole(INDEX_DIGITS[kind]),
            "longitude": Decimal(DECIMALS),
            "latitude": Decimal(DECIMALS),
        },
    )
