"""The seal of a handed-off file: which project and plan it is of, in which coordinates, and a checksum of the rest.

It is one run of text without blanks, commas, quotes or markup, so that it stands unchanged in a table, a comment
of XML, a drawing or a text in an archive:

    Layout-Desk-seal|revision=1a2b3c4d5e|plan=p0123456789|…|sha256=…

The checksum is SHA-256 of all bytes of the file before the seal, so that anybody can reckon it. In an archive it is
of its other members, in the order of their names, each name and content one after the other; what a database
holds is sealed as its writer says.
"""

from __future__ import annotations

import contextlib
import hashlib
import queue
import re
import threading
from dataclasses import dataclass, fields
from pathlib import Path
from urllib.parse import quote, unquote

BEGINS = "Layout-Desk-seal|"
SEAL_MEMBER = "seal.txt"
"""Name of the member of an archive that holds its seal."""
_FOUND = re.compile(rb"Layout-Desk-seal\|([^\s,;\"'<>&]*?\|sha256=[0-9a-f]{64})")
_TAIL_BYTES = 65_536
_PIECES = 16
_SHORT = 4096
_PLAIN = ":/.+"


@dataclass(frozen=True)
class Seal:
    """What a file says of itself.

    Attributes
    ----------
    project, revision, plan, day : str
        Name of the project, marks of its state and of its plan, day of writing.
    crs : str
        Of the survey grid.
    coordinates : str
        Of COORDINATES, or "wgs84" for longitude and latitude.
    unit : str
    unit_m : float
        Of written coordinates. [m]
    matrix : tuple of 6 float
        Row after row: from the grid to written coordinates, both in the grid's unit.
    heights : tuple of 5 float
        As `Placing.height_plane`.
    order : str
        Mark of the choice of points, so that numbers can be told to be of it.
    """

    project: str
    revision: str
    plan: str
    day: str
    crs: str
    coordinates: str
    unit: str
    unit_m: float
    matrix: tuple[float, ...] = (1.0, 0.0, 0.0, 0.0, 1.0, 0.0)
    heights: tuple[float, ...] = (0.0, 0.0, 0.0, 0.0, 0.0)
    order: str = ""

    def text(self, checksum: str) -> str:
        """The seal as it stands in a file.

        Examples
        --------
        >>> seal = Seal("Two; Gums", "r1", "p1", "2026-11-28", "EPSG:32754", "grid", "metre", 1.0)
        >>> seal.text("0" * 64)[:56]
        'Layout-Desk-seal|project=Two%3B%20Gums|revision=r1|plan='
        """
        said = [f"{f.name}={_said(getattr(self, f.name))}" for f in fields(self)]
        return BEGINS + "|".join([*said, f"sha256={checksum}"])


def _said(value) -> str:
    if isinstance(value, tuple):
        return "/".join(repr(float(v)) for v in value)
    if isinstance(value, float):
        return repr(value)
    # Two hyphens in a row would end a comment of XML.
    return quote(value, safe=_PLAIN).replace("--", "%2D%2D")


def _seal_of(text: str) -> tuple[Seal, str] | None:
    pairs = dict(part.partition("=")[::2] for part in text.split("|"))
    try:
        values = {f.name: _value(f.name, pairs[f.name]) for f in fields(Seal) if f.name in pairs}
        return Seal(**values), pairs["sha256"]
    except (KeyError, TypeError, ValueError):
        return None


def _value(name: str, text: str):
    if name in ("matrix", "heights"):
        return tuple(float(v) for v in text.split("/"))
    return float(text) if name == "unit_m" else unquote(text)


@dataclass(frozen=True)
class SealRead:
    """A seal that was found: what it says, the checksum in it, and whether the rest of the file still has it.

    `is_whole` is None where that cannot be told by the bytes alone (databases).
    """

    seal: Seal
    checksum: str
    is_whole: bool | None


def read_seal(path) -> SealRead | None:
    """The seal of a file or an archive, None where there is none.

    For a GeoPackage its own reader finds it: `seal_in_text` reads what is kept there.
    """
    path = Path(path)
    with contextlib.suppress(OSError), path.open("rb") as file:
        if file.read(4) == b"PK\x03\x04":
            return _archive_seal(path)
        size = file.seek(0, 2)
        file.seek(max(0, size - _TAIL_BYTES))
        tail = file.read()
        hits = list(_FOUND.finditer(tail))
        if not hits:
            return None
        found = _seal_of(hits[-1][1].decode("ascii", "replace"))
        if found is None:
            return None
        before = size - len(tail) + hits[-1].start()
        file.seek(0)
        return SealRead(*found, _checksum(file, before) == found[1])
    return None


def seal_in_text(text: str) -> SealRead | None:
    """The seal in a text that stands by itself; whether the rest is whole is not told."""
    hit = _FOUND.search(text.encode())
    found = _seal_of(hit[1].decode()) if hit else None
    return None if found is None else SealRead(*found, None)


def _checksum(file, n_bytes: int) -> str:
    digest = hashlib.sha256()
    while n_bytes > 0:
        piece = file.read(min(n_bytes, 1 << 20))
        if not piece:
            break
        digest.update(piece)
        n_bytes -= len(piece)
    return digest.hexdigest()


def _archive_seal(path: Path) -> SealRead | None:
    import zipfile
    import zlib

    try:
        with zipfile.ZipFile(path) as archive:
            names = archive.namelist()
            if SEAL_MEMBER not in names:
                return None
            told = seal_in_text(archive.read(SEAL_MEMBER).decode("utf-8", "replace"))
            if told is None:
                return None
            whole = archive_checksum(archive) == told.checksum
            return SealRead(told.seal, told.checksum, whole)
    except (zipfile.BadZipFile, OSError, EOFError, RuntimeError, NotImplementedError, zlib.error):
        return None


def archive_checksum(archive) -> str:
    """SHA-256 of an open zip file's members but its seal: names and contents, in the order of names."""
    digest = hashlib.sha256()
    for name in sorted(n for n in archive.namelist() if n != SEAL_MEMBER):
        digest.update(name.encode())
        with archive.open(name) as member:
            while piece := member.read(1 << 20):
                digest.update(piece)
    return digest.hexdigest()


def seal_archive(path, seal: Seal, words: str = "") -> None:
    """Put a seal into a finished zip file, with words for people before it."""
    import zipfile

    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        text = seal.text(archive_checksum(archive))
        archive.writestr(SEAL_MEMBER, f"{words}\n{text}\n" if words else f"{text}\n")


class SealedFile:
    """A file that is written once, from its beginning, and knows the checksum of what was written.

    Long files are summed up beside the writing, by a thread of their own.

    Examples
    --------
    >>> import tempfile
    >>> seal = Seal("Bench", "r1", "p1", "2026-11-28", "EPSG:32754", "grid", "metre", 1.0)
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with SealedFile(Path(folder) / "points.csv") as file:
    ...         _ = file.write(b"point,northing")
    ...         _ = file.write(f"# {file.seal_text(seal)}".encode())
    ...     read_seal(Path(folder) / "points.csv").is_whole
    False
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     with SealedFile(Path(folder) / "points.csv") as file:
    ...         _ = file.write(b"point,northing")
    ...         _ = file.write(b"# ")
    ...         _ = file.write(file.seal_text(seal).encode())
    ...     read_seal(Path(folder) / "points.csv").is_whole
    True
    """

    def __init__(self, path):
        self._file = open(path, "wb")  # noqa: SIM115 - closed by __exit__
        self._digest = hashlib.sha256()
        self._pieces: queue.Queue | None = None
        self._summing: threading.Thread | None = None

    def __enter__(self) -> SealedFile:
        return self

    def __exit__(self, *_) -> None:
        self._settle()
        self._file.close()

    def write(self, piece) -> int:
        """Write bytes, or anything that shows bytes."""
        if len(piece) < _SHORT and self._pieces is None:
            self._digest.update(piece)
        else:
            self._hand_on(bytes(piece))
        return self._file.write(piece)

    def seal_text(self, seal: Seal) -> str:
        """The seal over all that was written so far; it is to be written next, at once."""
        self._settle()
        return seal.text(self._digest.hexdigest())

    def _hand_on(self, piece: bytes) -> None:
        if self._pieces is None:
            self._pieces = queue.Queue(_PIECES)
            self._summing = threading.Thread(
                target=_sum_up, args=(self._pieces, self._digest), name="checksum", daemon=True
            )
            self._summing.start()
        self._pieces.put(piece)

    def _settle(self) -> None:
        """Wait until all that was written is summed up."""
        if self._pieces is not None:
            self._pieces.put(None)
            self._summing.join()
            self._pieces = self._summing = None


def _sum_up(pieces: queue.Queue, digest) -> None:
    while (piece := pieces.get()) is not None:
        digest.update(piece)
