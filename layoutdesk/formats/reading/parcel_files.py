"""The files that parcels are read from: which they are, how many parcels they hold, their digest."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from layoutdesk.core.model.findings import InputProblem

from .archive import SHAPEFILE_PARTS
from .recognise import BY_SUFFIX, READABLE, format_of
from .vector import quiet_ogr


@dataclass(frozen=True)
class ParcelFile:
    """One file to read.

    Attributes
    ----------
    path : Path
    shown : str
        Its name below the folder that was given, with forward slashes.
    """

    path: Path
    shown: str

    @property
    def stem(self) -> str:
        """The name without its ending: what its parcel is called."""
        return self.shown.rpartition(".")[0] or self.shown

    @property
    def parts(self) -> list[Path]:
        """All files that belong to it: a Shapefile is several."""
        if self.path.suffix.lower() != ".shp":
            return [self.path]
        beside = self.path.parent.iterdir()
        stem = self.path.stem.lower()
        return sorted(
            p for p in beside if p.stem.lower() == stem and p.suffix.lower() in SHAPEFILE_PARTS
        )


def parcel_files(path, leave_out=None) -> tuple[ParcelFile, ...]:
    """The file itself, or those of a folder and all below it that may hold outlines, by name.

    Parameters
    ----------
    path : path
    leave_out : path, optional
        A folder whose files are results, none of the parcels.

    Raises
    ------
    InputProblem
        Where there is none.
    """
    path = Path(path)
    if format_of(path) != "folder":
        return (ParcelFile(path, path.name),)
    left = None if leave_out is None else Path(os.path.realpath(leave_out))
    found = []
    for folder, below, names in os.walk(path):
        folder = Path(folder)
        below[:] = [
            b for b in below if not b.startswith(".") and Path(os.path.realpath(folder / b)) != left
        ]
        found += [
            folder / name
            for name in names
            if not name.startswith(".") and Path(name).suffix.lower() in BY_SUFFIX
        ]
    if not found:
        raise InputProblem(f"{path} holds no outline file ({READABLE}): give the folder that does.")
    named = sorted((f.relative_to(path).as_posix(), f) for f in found)
    return tuple(ParcelFile(f, shown.encode("utf-8", "replace").decode()) for shown, f in named)


def expected_parcels(files, layer: str | None = None) -> int:
    """About how many parcels the files hold; only what shows progress is counted by it."""
    return sum(_expected(file, layer) for file in files)


def _expected(file: ParcelFile, layer: str | None) -> int:
    import pyogrio

    kind = BY_SUFFIX.get(file.path.suffix.lower())
    if kind not in ("gpkg", "geojson", "shp"):
        return 1
    with quiet_ogr():
        try:
            info = pyogrio.read_info(
                file.path, layer=layer if kind == "gpkg" else None, force_feature_count=True
            )
            return max(int(info["features"]), 1)
        except Exception:  # what is wrong is said when it is read
            return 1


def digest_of_files(files) -> str:
    """SHA-256 of what the files hold and are called: it changes with any of them."""
    whole = hashlib.sha256()
    for file in files:
        for path in file.parts:
            with path.open("rb") as stream:
                content = hashlib.file_digest(stream, "sha256").hexdigest()
            whole.update(f"{file.shown}\n{path.suffix.lower()}\n{content}\n".encode())
    return whole.hexdigest()
