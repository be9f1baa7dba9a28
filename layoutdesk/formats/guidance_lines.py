"""Guidance lines for machines as plain lines on WGS 84: GeoJSON and a Shapefile in one zip."""

from __future__ import annotations

import json
import tempfile
import zipfile
from pathlib import Path

import numpy as np
import shapely

from ..core.staking.steering import SteeringLines, steering_lines
from .handoffset import HandOffSet, Progress
from .point_stream import DEGREE_DECIMALS, on_wgs84
from .seal import Seal, seal_archive

STEERING_CAUTION = (
    "Guidance lines steer machines: the operator is responsible, keeps people clear, takes the wheel at row ends, and "
    "checks the first pass against the staked ends. Posts, anchors, poles and slopes are not in the lines."
)
"""Goes with every file of guidance lines."""
STEM = "guidance"


def block_lines(hand: HandOffSet) -> list[tuple[int, SteeringLines]]:
    """Lines of every block that has any of the rows that are handed off, with the block's place among the plans."""
    wanted = set(
        zip(
            [b for b, k in zip(hand.lines.block, hand.lines.kind.tolist(), strict=True) if k == 0],
            hand.lines.row[hand.lines.kind == 0].tolist(),
            [c for c, k in zip(hand.lines.letter, hand.lines.kind.tolist(), strict=True) if k == 0],
            strict=True,
        )
    )
    from ..core.layout.numbering import segment_letter

    found = []
    for i, plan in enumerate(hand.plans):
        s, name = plan.segments, plan.block.name
        pairs = zip(s.number.tolist(), s.letter.tolist(), strict=True)
        some = np.array([(name, n, segment_letter(a)) in wanted for n, a in pairs], bool)
        if some.any():
            found.append((i, steering_lines(plan, some)))
    return found


def write_guidance_lines(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of lines written: rows, and the paths between them.

    Every line has its name, its block, and `line`, which is "row" or "path". Not atomic: the caller swaps the
    file in.

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
        Where a line has no place on WGS 84.
    """
    import pyogrio.raw

    names, blocks, kinds, shapes = [], [], [], []
    found = block_lines(hand)
    for done, (i, lines) in enumerate(found):
        for kind, name, places in zip(lines.kind, lines.name, lines.places_m, strict=True):
            names.append(name)
            blocks.append(hand.plans[i].block.name)
            kinds.append(kind)
            shapes.append(on_wgs84(hand, places))
        if progress:
            progress(0.7 * (done + 1) / len(found))
    features = [
        {
            "type": "Feature",
            "properties": {"name": n, "block": b, "line": k},
            "geometry": {
                "type": "LineString",
                "coordinates": np.round(xy, DEGREE_DECIMALS).tolist(),
            },
        }
        for n, b, k, xy in zip(names, blocks, kinds, shapes, strict=True)
    ]
    about = {
        "statement": hand.statement,
        "wgs84_shift": hand.wgs84_shift,
        "caution": STEERING_CAUTION,
    }
    text = json.dumps(
        {"type": "FeatureCollection", "layoutdesk": about, "features": features},
        ensure_ascii=False,
        allow_nan=False,
    )
    path = Path(path)
    with tempfile.TemporaryDirectory(dir=path.parent, prefix=".layoutdesk-lines-") as folder:
        if shapes:
            lines = [shapely.LineString(xy) for xy in shapes]
            pyogrio.raw.write(
                Path(folder) / f"{STEM}.shp",
                shapely.to_wkb(np.array(lines, dtype=object)),
                [np.array(column, dtype=object) for column in (names, blocks, kinds)],
                ["name", "block", "line"],
                driver="ESRI Shapefile",
                geometry_type="LineString",
                crs="EPSG:4326",
                encoding="UTF-8",
            )
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            archive.writestr(f"{STEM}.geojson", text)
            for part in sorted(Path(folder).iterdir()):
                archive.write(part, part.name)
    seal_archive(path, seal, f"{hand.statement}\n{STEERING_CAUTION}")
    return len(shapes)
