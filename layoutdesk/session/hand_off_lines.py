"""What the window lists of a hand-off: the files it will be written as."""

from __future__ import annotations

from dataclasses import dataclass

from ..core.model.handoff import FORMATS
from ..formats.handoffset import HandOffSet
from .point_words import KIND_WORDS
from .tally import grouped

FILE_NAMES: dict[str, str] = {
    "csv": "points.csv",
    "txt": "points.txt",
    "dxf": "plan.dxf",
    "dxf-3d": "plan-3d.dxf",
    "landxml": "plan.xml",
    "kml": "plan.kml",
    "kmz": "plan.kmz",
    "gpx": "points.gpx",
    "gpkg": "plan.gpkg",
    "shp": "shapefiles.zip",
    "geojson": "plan.geojson",
    "lines": "guidance-lines.zip",
    "taskdata": "taskdata.zip",
}
"""Name of the file of each format; tables that are split have a number behind their name."""
SHEET, LIST = "hand-off.pdf", "hand-off.json"
"""The sheet, and the list of all files with their checksums; both are of every hand-off."""
WGS84_FORMATS = ("kml", "kmz", "gpx", "geojson", "lines", "taskdata")
_WGS84 = "WGS 84, longitude and latitude in degrees"
_ROWS_ALONE = ("lines", "taskdata")


@dataclass(frozen=True)
class FileLine:
    """One file: its name, what is in it, and in which system; `key` is its format."""

    name: str
    holds: str
    system: str
    key: str


@dataclass(frozen=True)
class WrittenFile:
    """One file that was written; `checksum` is the SHA-256 of all of it, `n_points` 0 where it holds none."""

    name: str
    key: str
    holds: str
    system: str
    n_points: int
    size_bytes: int
    checksum: str


def file_lines(hand: HandOffSet) -> tuple[FileLine, ...]:
    """The files of a hand-off as they would be written now."""
    lines = [
        FileLine(
            FILE_NAMES[key], f"{FORMATS[key]}: {holding(hand, key)}", system_of(hand, key), key
        )
        for key in hand.hand.formats
    ]
    lines.append(FileLine(SHEET, "what is in each file, check distances, cautions", "paper", "pdf"))
    lines.append(FileLine(LIST, "all files with their checksums, for programs", "text", "json"))
    return tuple(lines)


def system_of(hand: HandOffSet, key: str) -> str:
    """In which system the coordinates of a format stand."""
    if key not in FILE_NAMES:
        return "paper"
    if key in WGS84_FORMATS:
        return _WGS84
    placing = hand.placing
    code = placing.grid.crs if len(placing.grid.crs) < 40 else "own definition"
    return f"{placing.grid.name} ({code}), {placing.unit}, {placing.coordinates} coordinates"


def holding(hand: HandOffSet, key: str) -> str:
    """What a file of a format holds, counted."""
    rows = int((hand.lines.kind == 0).sum())
    if key in _ROWS_ALONE:
        return f"lines of {_counted(rows, 'row segment')}, and of the paths between rows"
    counts = ", ".join(f"{grouped(n)} {KIND_WORDS[kind]}" for kind, n in hand.points.counts.items())
    points = counts or "no points"
    if key in ("csv", "txt"):
        return points
    shapes = len(hand.lines) - rows
    return f"{points}, {_counted(rows, 'row segment')}, {_counted(shapes, 'outline or exclusion line')}"


def _counted(n: int, word: str) -> str:
    return f"{n} {word}" if n == 1 else f"{grouped(n)} {word}s"
