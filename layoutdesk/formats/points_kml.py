"""Points and lines of a hand-off for a map or a phone: KML and KMZ, on WGS 84.

Source: OGC 07-147r2, KML 2.2, Open Geospatial Consortium, 2008.
"""

from __future__ import annotations

import numpy as np

from .handoffset import HandOffSet, Progress
from .point_stream import DEGREE_DECIMALS, PointStream, description_parts, escaped, on_wgs84
from .seal import Seal, SealedFile, seal_archive

PHONE_POINTS = 20_000
"""With more points than these a phone's map grows slow (common practice)."""
_STYLES = {
    # name: colour of the line or mark as alpha, blue, green, red; width or scale
    "row": ("ff626f4b", 1.5),
    "outline": ("ff2b3022", 2.0),
    "exclusion": ("ff2b3ba3", 1.5),
}
_KIND_NAMES = {
    "end_post": "End posts",
    "line_post": "Line posts",
    "anchor": "Anchors",
    "vine": "Vines",
    "outline": "Outline corners",
    "exclusion": "Exclusion corners",
    "control": "Control points",
}
_LINE_NAMES = ("Rows", "Outlines", "Exclusions")


def write_points_kml(
    path, hand: HandOffSet, seal: Seal, *, zipped: bool = False, progress: Progress | None = None
) -> int:
    """Number of points written, in longitude and latitude, clamped to the ground.

    Folders for outlines, exclusions, rows and each kind of point. There are no altitudes: the standard counts
    them from a geoid of its own. The datum shift used is told in the document. A KMZ is the same, zipped. Not
    atomic: the caller swaps the file in.

    Parameters
    ----------
    path : path
    hand : HandOffSet
    seal : Seal
    zipped : bool
    progress : function of the share done, optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where a point has no place on WGS 84.
    """
    if zipped:
        import zipfile

        with (
            zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=4) as archive,
            archive.open("doc.kml", "w", force_zip64=True) as member,
        ):
            n = _write(member, hand, progress)
            member.write(b"</kml>\n")
        seal_archive(path, seal, hand.statement)
        return n
    with SealedFile(path) as file:
        n = _write(file, hand, progress)
        file.write(b"</kml>\n<!-- ")
        file.write(file.seal_text(seal).encode())
        file.write(b" -->\n")
    return n


def _write(file, hand: HandOffSet, progress: Progress | None) -> int:
    file.write(_head(hand).encode())
    _write_lines(file, hand)
    parts = [
        *(b"<Placemark><name>", "owner", "tail", b"</name><description>", "number", b": "),
        *(*description_parts(hand), b"</description><styleUrl>#point</styleUrl>"),
        *(b"<Point><coordinates>", "x", b",", "y", b"</coordinates></Point></Placemark>\n"),
    ]
    stream, n, kinds = PointStream(hand, parts, is_wgs84=True), 0, list(hand.points.counts)
    for i, kind in enumerate(kinds):

        def inside(share: float, i=i) -> None:
            progress((i + share) / len(kinds))

        file.write(f"<Folder><name>{_KIND_NAMES[kind]}</name>\n".encode())
        n += stream.write(file, inside if progress else None, kind)
        file.write(b"</Folder>\n")
    file.write(b"</Document>\n")
    return n


def _head(hand: HandOffSet) -> str:
    styles = "".join(
        f'<Style id="{name}"><LineStyle><color>{colour}</color><width>{width}</width></LineStyle></Style>\n'
        for name, (colour, width) in _STYLES.items()
    )
    about = f"{hand.statement}. Here WGS 84, datum shift: {hand.wgs84_shift}."
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<kml xmlns="http://www.opengis.net/kml/2.2">\n<Document>\n'
        f"<name>{escaped(hand.project.name)}</name>\n<description>{escaped(about)}</description>\n{styles}"
        '<Style id="point"><IconStyle><scale>0.5</scale></IconStyle>'
        "<LabelStyle><scale>0.6</scale></LabelStyle></Style>\n"
    )


def _write_lines(file, hand: HandOffSet) -> None:
    """Outlines, exclusions and rows, a folder each; a single place is a point."""
    lines = hand.lines
    if not len(lines.xy_m):
        return
    degrees, first = on_wgs84(hand, lines.xy_m).tolist(), lines.first.tolist()
    texts = [f"{x:.{DEGREE_DECIMALS}f},{y:.{DEGREE_DECIMALS}f}" for x, y in degrees]
    for kind, style in ((1, "outline"), (2, "exclusion"), (0, "row")):
        which = np.flatnonzero(lines.kind == kind).tolist()
        if not which:
            continue
        file.write(f"<Folder><name>{_LINE_NAMES[kind]}</name>\n".encode())
        for i in which:
            some = texts[first[i] : first[i + 1]]
            some += some[:1] if lines.closed[i] else []
            tag = "LineString" if len(some) > 1 else "Point"
            tessellate = "<tessellate>1</tessellate>" if len(some) > 1 else ""
            url = f"<styleUrl>#{style if len(some) > 1 else 'point'}</styleUrl>"
            file.write(
                f"<Placemark><name>{escaped(lines.code[i])}</name>{url}<{tag}>{tessellate}"
                f"<coordinates>{' '.join(some)}</coordinates></{tag}></Placemark>\n".encode()
            )
        file.write(b"</Folder>\n")
