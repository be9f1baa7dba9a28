"""Points and rows of a hand-off for a hand-held receiver: GPX, on WGS 84.

Source: GPX 1.1 schema, Topografix, 2004.
"""

from __future__ import annotations

import numpy as np

from .handoffset import HandOffSet, Progress
from .point_stream import DEGREE_DECIMALS, PointStream, description_parts, escaped, on_wgs84
from .seal import Seal, SealedFile


def write_points_gpx(
    path, hand: HandOffSet, seal: Seal, *, progress: Progress | None = None
) -> int:
    """Number of points written as waypoints; rows are routes from end to end.

    Elevations are in metres, above the vertical datum that the description states, and left out where they are
    not known. Not atomic: the caller swaps the file in.

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
    parts = [
        *(b'<wpt lat="', "y", b'" lon="', "x", b'">', "elevation", b"<name>", "owner", "tail"),
        *(b"</name><cmt>", "number", b"</cmt><desc>", *description_parts(hand)),
        *(b"</desc><type>", "kind", b"</type></wpt>\n"),
    ]
    around = (b"<ele>", b"</ele>")
    stream = PointStream(hand, parts, is_wgs84=True, elevation=around, elevation_m=True)
    with SealedFile(path) as file:
        file.write(_head(hand).encode())
        n = stream.write(file, progress)
        _write_rows(file, hand)
        file.write(b"</gpx>\n<!-- ")
        file.write(file.seal_text(seal).encode())
        file.write(b" -->\n")
    return n


def _head(hand: HandOffSet) -> str:
    about = f"{hand.statement}. Written {hand.day.isoformat()}. Here WGS 84, datum shift: {hand.wgs84_shift}."
    if hand.heights is not None:
        datum = hand.hand.vertical_datum or "a datum that is not stated"
        about += f" Elevations in metres above {datum}: {hand.heights_said}."
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="Layout Desk">\n'
        f"<metadata><name>{escaped(hand.project.name)}</name><desc>{escaped(about)}</desc>"
        "</metadata>\n"
    )


def _write_rows(file, hand: HandOffSet) -> None:
    lines = hand.lines
    rows = np.flatnonzero(lines.kind == 0).tolist()
    if not rows:
        return
    first = lines.first.tolist()
    degrees = on_wgs84(hand, lines.xy_m[: first[rows[-1] + 1]]).tolist()
    for i in rows:
        places = "".join(
            f'<rtept lat="{y:.{DEGREE_DECIMALS}f}" lon="{x:.{DEGREE_DECIMALS}f}"/>'
            for x, y in degrees[first[i] : first[i + 1]]
        )
        file.write(f"<rte><name>{escaped(lines.code[i])}</name>{places}</rte>\n".encode())
