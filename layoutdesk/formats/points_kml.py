"""Points and lines of a hand-off for a map or a phone: KML and KMZ, on WGS 84.

Source: OGC 07-147r2, KML 2.2, Open Geospatial Consortium, 2008.
"""

from __future__ import annotations

import contextlib
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ..core.model.handoff import POINT_KINDS
from .handoffset import HandOffSet, Progress
from .point_records import taken
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
_ROWS, _OUTLINE, _EXCLUSIONS = (0, "Rows"), (1, "Outline"), (2, "Exclusions")
_STYLE_OF = ("row", "outline", "exclusion")
_COPIED = 1 << 20


def write_points_kml(
    path, hand: HandOffSet, seal: Seal, *, zipped: bool = False, progress: Progress | None = None
) -> int:
    """Number of points written, in longitude and latitude, clamped to the ground.

    A folder a block, with its outline, rows and a folder for each kind of point, in their order; then exclusions,
    corners and control points. A point is named by its code; its number and description stand beside it. There
    are no altitudes: the standard counts them from a geoid of its own. The datum shift used is told in the
    document. A KMZ is the same, zipped. Not atomic: the caller swaps the file in.

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
            zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
            archive.open("doc.kml", "w", force_zip64=True) as member,
        ):
            n = _write(member, hand, Path(path).parent, progress)
            member.write(b"</kml>\n")
        seal_archive(path, seal, hand.statement)
        return n
    with SealedFile(path) as file:
        n = _write(file, hand, Path(path).parent, progress)
        file.write(b"</kml>\n<!-- ")
        file.write(file.seal_text(seal).encode())
        file.write(b" -->\n")
    return n


def _write(file, hand: HandOffSet, beside: Path, progress: Progress | None) -> int:
    file.write(_head(hand).encode())
    lines = _Lines(hand)
    parts = [
        *(b"<Placemark><name>", "owner", "tail", b"</name><description>", "number", b": "),
        *(*description_parts(hand), b"</description><styleUrl>#point</styleUrl>"),
        *(b"<Point><coordinates>", "x", b",", "y", b"</coordinates></Point></Placemark>\n"),
    ]
    stream, done, total = PointStream(hand, parts, is_wgs84=True), 0, len(hand.points)
    ends = np.cumsum([plan.n_segments for plan in hand.plans])
    spooled = hand.hand.points.order != "by kind"
    blocks, folders = iter(hand.plans), None
    at = -1

    def begin(block: int) -> None:
        """Open the folder of a block, or of what is in none, and those before it."""
        nonlocal at, folders
        while at < block:
            if folders is not None:
                folders.close()
                if at < len(ends):
                    file.write(b"</Folder>\n")
            at += 1
            if at < len(ends):
                name = next(blocks).block.name
                file.write(f"<Folder><name>{escaped(name)}</name>\n".encode())
                lines.write(file, _OUTLINE, name)
                lines.write(file, _ROWS, name)
            else:
                lines.write(file, _EXCLUSIONS, "")
            folders = _KindFolders(file, beside if spooled and at < len(ends) else None)

    try:
        for some in hand.points.chunks():
            block = np.searchsorted(ends, some.owner, side="right")
            for number in np.unique(block).tolist():
                begin(number)
                of_block = taken(some, block == number)
                for kind in np.flatnonzero(np.bincount(of_block.kind)).tolist():
                    own = taken(of_block, of_block.kind == kind)
                    folders.write(kind, stream.encoded(own))
            done += len(some)
            if progress:
                progress(done / total)
        begin(len(ends))
    finally:
        if folders is not None:
            folders.close()
    file.write(b"</Document>\n")
    return done


class _KindFolders:
    """Folders of points by kind; those whose points come mixed wait in files of their own.

    Parameters
    ----------
    file
    beside : path or None
        Folder for the files they wait in; None where each kind comes at once.
    """

    def __init__(self, file, beside: Path | None):
        self._file, self._beside, self._open = file, beside, -1
        self._waiting: dict[int, object] = {}

    def write(self, kind: int, pieces: Iterator) -> None:
        target = self._file
        if self._beside is not None:
            if kind not in self._waiting:
                self._waiting[kind] = tempfile.TemporaryFile(dir=self._beside)  # noqa: SIM115
            target = self._waiting[kind]
        elif kind != self._open:
            self._end()
            self._begin(kind)
        for piece in pieces:
            target.write(piece)

    def _begin(self, kind: int) -> None:
        self._file.write(f"<Folder><name>{_KIND_NAMES[POINT_KINDS[kind]]}</name>\n".encode())
        self._open = kind

    def _end(self) -> None:
        if self._open >= 0:
            self._file.write(b"</Folder>\n")
        self._open = -1

    def close(self) -> None:
        waiting, self._waiting = self._waiting, {}
        with contextlib.ExitStack() as stack:
            for kind in sorted(waiting):
                waited = stack.enter_context(waiting[kind])
                waited.seek(0)
                self._begin(kind)
                shutil.copyfileobj(waited, self._file, _COPIED)
                self._end()
        self._end()


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


class _Lines:
    """Rows, outlines and exclusions by block, as records."""

    def __init__(self, hand: HandOffSet):
        lines = self._lines = hand.lines
        degrees = on_wgs84(hand, lines.xy_m).tolist() if len(lines.xy_m) else []
        self._texts = [f"{x:.{DEGREE_DECIMALS}f},{y:.{DEGREE_DECIMALS}f}" for x, y in degrees]
        self._which: dict[tuple[int, str], list[int]] = {}
        for i, key in enumerate(zip(lines.kind.tolist(), lines.block, strict=True)):
            self._which.setdefault(key, []).append(i)

    def write(self, file, kind: tuple[int, str], block: str) -> None:
        """A folder of one kind of lines of a block; a single place is a point."""
        number, name = kind
        which, first = self._which.get((number, block), []), self._lines.first
        if not which:
            return
        file.write(f"<Folder><name>{name}</name>\n".encode())
        for i in which:
            some = self._texts[first[i] : first[i + 1]]
            some += some[:1] if self._lines.closed[i] else []
            tag = "LineString" if len(some) > 1 else "Point"
            tessellate = "<tessellate>1</tessellate>" if len(some) > 1 else ""
            style = _STYLE_OF[number] if len(some) > 1 else "point"
            file.write(
                f"<Placemark><name>{escaped(self._lines.code[i])}</name><styleUrl>#{style}</styleUrl><{tag}>"
                f"{tessellate}<coordinates>{' '.join(some)}</coordinates></{tag}></Placemark>\n".encode()
            )
        file.write(b"</Folder>\n")
