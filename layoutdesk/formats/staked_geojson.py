"""as-staked.geojson: measured points on WGS 84, each with how far off it stands.

Source: RFC 7946, The GeoJSON Format, IETF 2016.
"""

from __future__ import annotations

import json

import numpy as np

from ..core.model import InputProblem
from .stakedset import StakedSet

DECIMALS = 9
"""Of degrees: a tenth of a millimetre."""


def write_staked_geojson(path, staked: StakedSet) -> int:
    """Number of features: a point where each matched one was measured.

    Raises
    ------
    InputProblem
        Where a point has no place on WGS 84.
    """
    off, owners = staked.off, staked.points.owners
    degrees = staked.to_wgs84(staked.some.xy_m + off.offset_m)
    if not np.isfinite(degrees).all():
        raise InputProblem(
            "A measured point has no place on WGS 84: check the file's unit and system."
        )
    block = [owners.block[w] for w in staked.some.owner.tolist()]
    row = owners.row[staked.some.owner].tolist()
    letter = [owners.letter[w] for w in staked.some.owner.tolist()]
    columns = {
        "code": staked.code,
        "kind": staked.kind,
        "block": block,
        "row": [r or None for r in row],
        "segment": letter,
        "index": staked.some.index.tolist(),
        "along_m": _metres(off.along_m),
        "across_m": _metres(off.across_m),
        "height_m": _metres(off.height_m),
        "distance_m": _metres(off.distance_m),
        "tolerance_m": _metres(staked.tolerance_m),
        "verdict": staked.verdict,
        "measured_as": [staked.measured.name[i] for i in staked.pair.tolist()],
        "line": staked.measured.line[staked.pair].tolist(),
    }
    names = tuple(columns)
    places = np.round(degrees, DECIMALS).tolist()
    with open(path, "w", encoding="utf-8", errors="replace") as file:
        about = json.dumps(_about(staked), ensure_ascii=False)
        file.write(f'{{"type":"FeatureCollection",\n"layoutdesk":{about},\n"features":[')
        for i, (place, values) in enumerate(
            zip(places, zip(*columns.values(), strict=True), strict=True)
        ):
            feature = {
                "type": "Feature",
                "properties": dict(zip(names, values, strict=True)),
                "geometry": {"type": "Point", "coordinates": place},
            }
            file.write(",\n" if i else "\n")
            file.write(json.dumps(feature, ensure_ascii=False, separators=(",", ":")))
        file.write("\n]}\n")
    return len(places)


def _metres(values: np.ndarray) -> list:
    """Numbers to a tenth of a millimetre; None where not known."""
    rounded = (np.round(values, 4) + 0.0).tolist()
    return [v if v == v else None for v in rounded]


def _about(staked: StakedSet) -> dict:
    return {
        "statement": staked.placing.statement,
        "wgs84_shift": staked.wgs84_shift,
        "revision": staked.revision,
        "plan": staked.plan,
        "day": staked.day.isoformat(),
        "file": staked.file,
        "file_sha256_begins": staked.checksum,
        "said": "ground less plan: along with the row's bearing, across to its right; north and east outside rows",
    }
