"""Zips, KMZs and Shapefile sets, unpacked into a temporary directory under names of our own.

A member's path is only read, never written to, so an archive cannot place a file elsewhere; and
the parts of a Shapefile get one clean lower-case name, which OGR needs to find them.
"""

from __future__ import annotations

import shutil
import zipfile
import zlib
from collections.abc import Callable, Iterable
from pathlib import Path, PurePosixPath

from layoutdesk.core.model.findings import InputProblem

SHAPEFILE_PARTS = {".shp", ".shx", ".dbf", ".prj", ".cpg"}
SINGLE_FILES = {".kml", ".geojson", ".json", ".gpkg", ".dxf", ".csv", ".gpx"}

MAX_UNPACKED_BYTES = 4 * 1024**3
"""Most that is unpacked from one archive, so that a crafted one cannot fill the disk."""


def staged_zip(path: Path, into: Path) -> list[tuple[Path, str]]:
    """Usable files of an archive: (file in `into`, its name in the archive).

    Shapefiles first and alone if there are any; else other files a reader knows; a KMZ's main
    document (`doc.kml`, else its first KML) alone.

    Raises
    ------
    InputProblem
        For an archive that is damaged, locked, too large, or holds nothing usable.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            members = [m for m in archive.infolist() if not m.is_dir() and not _is_litter(m)]
            used = _usable([PurePosixPath(m.filename.replace("\\", "/")) for m in members])
            by_name = {m.filename.replace("\\", "/"): m for m in members}
            wanted = [by_name[str(n)] for n in used if str(n) in by_name]
            if any(m.flag_bits & 1 for m in wanted):
                raise InputProblem(
                    f"{path.name} is locked with a password; unpack it and give the file inside."
                )
            if sum(m.file_size for m in wanted) > MAX_UNPACKED_BYTES:
                raise InputProblem(
                    f"{path.name} unpacks to more than 4 GB; unpack it and give the file inside."
                )
            staged = _stage(used, lambda name: archive.open(by_name[str(name)]), into)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, KeyError) as trouble:
        raise InputProblem(
            f"{path.name} is a damaged or incomplete zip archive; get a fresh copy of it."
        ) from trouble
    if not staged:
        raise InputProblem(
            f"{path.name} holds no Shapefile, KML, GeoJSON, GeoPackage, DXF, CSV or GPX file; "
            "give an archive with one of those inside."
        )
    return staged


def staged_folder(folder: Path, into: Path) -> list[tuple[Path, str]]:
    """Shapefiles of a folder and two levels below it, copied under clean names.

    Raises
    ------
    InputProblem
        When there is none.
    """
    near = (p for depth in ("*", "*/*", "*/*/*") for p in folder.glob(depth))
    files = sorted(p for p in near if p.suffix.lower() in SHAPEFILE_PARTS and p.is_file())
    staged = _stage_files(files, into, folder)
    if not staged:
        raise InputProblem(
            f"{folder.name} is a folder without a Shapefile (.shp); give the outline's file."
        )
    return staged


def staged_shapefile(path: Path, into: Path) -> list[tuple[Path, str]]:
    """One Shapefile with whatever of its parts lie beside it, in any mix of upper and lower case."""
    parts = [
        p
        for p in path.parent.iterdir()
        if p.stem.lower() == path.stem.lower()
        and p.suffix.lower() in SHAPEFILE_PARTS - {".shp"}
        and p.is_file()
    ]
    return _stage_files([path, *sorted(parts)], into, path.parent)


def _stage_files(files: Iterable[Path], into: Path, root: Path):
    return _stage(
        [PurePosixPath(p.relative_to(root).as_posix()) for p in files],
        lambda name: (root / name).open("rb"),
        into,
    )


def _is_litter(member: zipfile.ZipInfo) -> bool:
    name = PurePosixPath(member.filename.replace("\\", "/"))
    return "__MACOSX" in name.parts or name.name.startswith("._")


def _usable(names: list[PurePosixPath]) -> list[PurePosixPath]:
    if any(n.suffix.lower() == ".shp" for n in names):
        return [n for n in names if n.suffix.lower() in SHAPEFILE_PARTS]
    kmls = [n for n in names if n.suffix.lower() == ".kml"]
    if kmls:
        main = [n for n in kmls if n.name.lower() == "doc.kml"] or kmls
        return [min(main, key=lambda n: len(n.parts))]
    return [n for n in names if n.suffix.lower() in SINGLE_FILES]


def _stage(names: list[PurePosixPath], opened: Callable, into: Path) -> list[tuple[Path, str]]:
    """Copy each file to `into` as <number><suffix>; Shapefile parts of one stem share a number."""
    number: dict[tuple, int] = {}
    staged = []
    for name in names:
        suffix = name.suffix.lower()
        together = (
            (*name.parts[:-1], name.stem.lower()) if suffix in SHAPEFILE_PARTS else name.parts
        )
        target = into / f"part{number.setdefault(together, len(number))}{suffix}"
        if target.exists():  # "A.SHP" beside "a.shp": the first one counts
            continue
        with opened(name) as source, target.open("wb") as copy:
            shutil.copyfileobj(source, copy)
        if suffix == ".shp" or suffix in SINGLE_FILES:
            staged.append((target, name.name))
    return staged
