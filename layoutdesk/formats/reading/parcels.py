"""Parcels one after another from a layer, a file or a folder of files, a few held at a time."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path

import numpy as np

from layoutdesk.core.model.findings import Finding, InputProblem

from ..project_file import is_project
from .attributes import field_roles, text_of
from .entry import outlines_in, read_outlines
from .parcel_files import ParcelFile
from .shapes import Piece, Shape, Source
from .vector import AREA_TYPES, FORMAT_NAMES, first_words, obey_crs_member, quiet_ogr
from .wkb import UnknownGeometry, parts_of_wkb

SLICE = 1024
"""Features read at a time where a format lets a reader begin in the middle."""

_FROM_THE_MIDDLE = ("gpkg", "shp")
_A_FEATURE_EACH = ("geojson", "gpkg", "shp", "kml")
_LOOKED_AT = 20
"""Features whose numbers tell whether a file's coordinate system can be right."""


@dataclass(frozen=True)
class Parcel:
    """One feature as it was found: nothing checked, nothing mended; small enough to travel.

    Attributes
    ----------
    number : int
        1, 2, … over all that is read.
    parcel : str
        What tells it apart: of the field asked for, else its number or its file.
    source : str
        Its file, below the folder that was given.
    name : str
    where : str
        Its place in the file in words.
    format : str
        As in `Source`.
    crs : str
        A code or WKT.
    wkb : bytes
        All its parts.
    problem : str
        Why there is nothing to read, a sentence; empty where there is.
    """

    number: int
    parcel: str
    source: str
    name: str = ""
    where: str = ""
    format: str = ""
    crs: str = ""
    wkb: bytes = field(default=b"", repr=False)
    problem: str = ""


@dataclass
class ParcelReader:
    """Parcels of some files in order.

    Attributes
    ----------
    files : tuple of ParcelFile
    layer, id_field : str or None
    crs, unit : str or None
        What the files do not say, as in `read_outlines`.
    findings : list of Finding
        What is said of files as a whole; grows while they are read.
    """

    files: tuple[ParcelFile, ...]
    layer: str | None = None
    id_field: str | None = None
    crs: str | None = None
    unit: str | None = None
    findings: list[Finding] = field(default_factory=list)

    def __iter__(self) -> Iterator[Parcel]:
        """Parcels in the order of files, layers and features.

        Where several files are read, one that cannot be is a parcel with a problem.

        Raises
        ------
        InputProblem
            Where the one file cannot be read.
        """
        self.findings.clear()
        seen: dict[str, int] = {}
        number = 0
        for file in self.files:
            found = self._of_file(file)
            while True:
                number += 1
                try:
                    parcel = next(found)
                except StopIteration:
                    number -= 1
                    break
                except InputProblem as problem:
                    if len(self.files) == 1:
                        raise
                    parcel = Parcel(0, file.stem, file.shown, problem=str(problem))
                yield self._told_apart(parcel, number, seen)

    def _told_apart(self, parcel: Parcel, number: int, seen: dict[str, int]) -> Parcel:
        """The parcel with its number, and with another id where its own is taken."""
        own = parcel.parcel or str(number)
        if own in seen:
            text = f"The id {own!r} is that of parcel number {seen[own]} already; here it has its number behind."
            self.findings.append(
                Finding("parcel-id-twice", text, where=f"{parcel.where or parcel.source}")
            )
            own = f"{own} #{number}"
        seen[own] = number
        return replace(parcel, number=number, parcel=own)

    def _of_file(self, file: ParcelFile) -> Iterator[Parcel]:
        if is_project(file.path):
            raise InputProblem(
                f"{file.shown} is a project, not a file of parcels; compare it by itself, without "
                "--parcels."
            )
        with _staged(file) as staged:
            one = len(staged) == 1
            for path, shown, kind in staged:
                shown = file.shown if one else f"{file.shown}/{shown}"
                if kind in _A_FEATURE_EACH:
                    yield from self._of_layers(file, path, shown, kind)
                else:
                    yield from self._of_outlines(file, path, shown)

    def _of_outlines(self, file: ParcelFile, path: Path, shown: str) -> Iterator[Parcel]:
        """Drawings, corner lists and tracks: each outline they come to is a parcel."""
        import shapely

        read = read_outlines(path, crs=self.crs, unit=self.unit)
        self.findings += [_at(f, shown) for f in read.findings]
        text = crs_as_text(read.crs)
        for k, shape in enumerate(read.shapes, 1):
            yield Parcel(
                0, self._own_id(file, k, len(read.shapes)), shown, shape.name,
                f"outline {k} of {shown}", "", text, shapely.to_wkb(shape.geometry),
            )  # fmt: skip

    def _of_layers(self, file: ParcelFile, path: Path, shown: str, kind: str) -> Iterator[Parcel]:
        """Files of features: each feature is a parcel."""
        layers = _layers(path, kind, shown, self.layer)
        n = 0
        only = None
        for layer in layers:
            text = None
            for begin, meta, geometries, columns in _slices(
                path, kind, layer, self.id_field, shown
            ):
                if only is None:
                    only = len(layers) == 1 and begin == 0 and len(geometries) == 1
                if text is None:
                    text = self._settled(path, kind, shown, meta, geometries)
                values = dict(zip(meta["fields"], columns, strict=True))
                named = field_roles(meta["fields"]).get("name")
                for row, data in enumerate(geometries):
                    n += 1
                    own = None if self.id_field is None else id_text(values[self.id_field][row])
                    yield Parcel(
                        0, own or self._own_id(file, n, 1 if only else 2), shown,
                        text_of(values[named][row]) if named in values else "",
                        f"feature {begin + row + 1} of {shown}", FORMAT_NAMES[kind], text,
                        data or b"",
                    )  # fmt: skip
        if not n:
            raise InputProblem(
                f"{shown} is a {FORMAT_NAMES[kind]} file without any feature; export it again with "
                "its shapes."
            )

    def _own_id(self, file: ParcelFile, k: int, of: int) -> str:
        """Where no field is asked for: by number in one file, by file in a folder."""
        if len(self.files) == 1:
            return ""
        return file.stem if of == 1 else f"{file.stem}-{k}"

    def _settled(self, path: Path, kind: str, shown: str, meta, geometries) -> str:
        """The layer's coordinate system in words, by what it says and the first features' numbers."""
        from .plausible import check_numbers, place_findings
        from .reference import crs_as_file_says, settle_reference

        said = Source(FORMAT_NAMES[kind], crs=crs_as_file_says(meta["crs"]))
        if kind == "geojson":
            obey_crs_member(path, shown, said)
        looked_at = [p for p in map(_pieces_of, geometries[:_LOOKED_AT]) if p]
        said.pieces = [piece for pieces in looked_at for piece in pieces]
        crs, _ = settle_reference(said, shown, self.crs, self.unit)
        trouble = []
        for pieces in looked_at:
            try:
                check_numbers(pieces, crs, shown)
            except InputProblem as problem:
                trouble.append(problem)
        if looked_at and len(trouble) == len(looked_at):
            raise trouble[0]
        self.findings += [_at(f, shown) for f in said.findings]
        with np.errstate(all="ignore"):
            boxes = [_box(p) for p in looked_at]
            shapes = [Shape(b) for b in boxes if b is not None]
            self.findings += place_findings(shapes, crs, shown) if shapes else []
        return crs_as_text(crs)


def outlines_of(parcel: Parcel) -> tuple[list[Shape], list[Finding]]:
    """The parcel's parts as valid outlines in its own coordinate system, and what was mended.

    Raises
    ------
    InputProblem
        Where there is none to use.
    """
    if parcel.problem:
        raise InputProblem(parcel.problem)
    shown = f"{parcel.where[0].upper()}{parcel.where[1:]}"
    if not parcel.wkb:
        raise InputProblem(f"{shown} has no geometry; draw it or leave it out.")
    source = Source(parcel.format, shell_direction=parcel.format in ("GeoJSON", "KML"))
    try:
        source.pieces = _pieces_of(parcel.wkb)
    except (UnknownGeometry, ValueError, IndexError):
        raise InputProblem(
            f"{shown} has a geometry that cannot be used (curves); save it with straight edges."
        ) from None
    if not source.pieces:
        raise InputProblem(f"{shown} has an empty geometry; draw it or leave it out.")
    several = len(source.pieces) > 1
    for k, piece in enumerate(source.pieces, 1):
        piece.where = f"parcel {parcel.parcel}" + (f", part {k}" if several else "")
    return outlines_in(source, crs_of_text(parcel.crs), shown)


def crs_as_text(crs) -> str:
    """A code where the system has one, else WKT."""
    from ..crs import crs_text

    return crs_text(crs)


@lru_cache(maxsize=64)
def crs_of_text(text: str):
    """The coordinate system, kept: parcels of one file are in the same."""
    import pyproj

    return pyproj.CRS.from_user_input(text)


def id_text(value) -> str:
    """An attribute as an id; whole numbers without decimals.

    Examples
    --------
    >>> id_text(12.0), id_text(" A7 "), id_text(None)
    ('12', 'A7', '')
    """
    if isinstance(value, float | np.floating) and float(value).is_integer():
        return str(int(value))
    return text_of(value)


def _at(finding: Finding, shown: str) -> Finding:
    return finding if finding.where else replace(finding, where=shown)


def _pieces_of(data) -> list[Piece]:
    if not data:
        return []
    return [Piece(form, [ring[:, :2] for ring in rings]) for form, rings in parts_of_wkb(data)]


def _box(pieces: list[Piece]):
    import shapely

    xy = np.vstack([ring for piece in pieces for ring in piece.rings])
    xy = xy[np.isfinite(xy).all(axis=1)]
    return shapely.box(*xy.min(axis=0), *xy.max(axis=0)) if len(xy) else None


@contextlib.contextmanager
def _staged(file: ParcelFile):
    """Files to read for one that was given: (path, its name, its format)."""
    from .archive import staged_shapefile, staged_zip
    from .recognise import format_of

    kind = format_of(file.path)
    if kind not in ("zip", "shp"):
        yield [(file.path, file.shown, kind)]
        return
    with tempfile.TemporaryDirectory(prefix="layoutdesk-", ignore_cleanup_errors=True) as folder:
        stage = staged_zip if kind == "zip" else staged_shapefile
        try:
            staged = stage(file.path, Path(folder))
        except OSError as trouble:
            raise InputProblem(
                f"{file.shown} cannot be unpacked or copied ({trouble.strerror or trouble}); check "
                "the disk's free space and that you may read it."
            ) from trouble
        yield [(path, name, format_of(path)) for path, name in staged]


def _layers(path: Path, kind: str, shown: str, wanted: str | None) -> list[str | None]:
    """Layers to read: the one asked for, else those that can hold areas."""
    import pyogrio

    if kind == "geojson":  # one layer always; OGR would parse the file once more to say so
        return [None]
    with _ogr(path, kind, shown):
        there = [(str(name), str(form)) for name, form in pyogrio.list_layers(path)]
    if wanted is not None and kind != "shp":
        names = [name for name, _ in there]
        if wanted not in names:
            raise InputProblem(
                f"--layer {wanted!r} is not in {shown}: its layers are {', '.join(names)}."
            )
        return [wanted]
    some = [n for n, form in there if any(t in form for t in AREA_TYPES)]
    layers = some or [n for n, form in there if form != "None"]
    if kind == "gpkg" and len(layers) > 1:
        raise InputProblem(
            f"{shown} has several layers that may hold parcels ({', '.join(layers)}): name one with "
            "--layer."
        )
    return layers


@contextlib.contextmanager
def _ogr(path: Path, kind: str, shown: str):
    """OGR kept quiet, its errors as one sentence, and a missing index rebuilt in a staged copy."""
    import pyogrio

    rebuilt = kind == "shp" and not path.with_suffix(".shx").exists()
    if rebuilt:
        pyogrio.set_gdal_config_options({"SHAPE_RESTORE_SHX": True})
    try:
        with quiet_ogr():
            yield
    except (InputProblem, UnicodeDecodeError):
        raise
    except Exception as trouble:  # pyogrio's errors, and what OGR's text trips in it
        raise InputProblem(
            f"{shown} cannot be read as {FORMAT_NAMES[kind]} ({first_words(trouble, path, shown)}); "
            "get a fresh copy or save it again."
        ) from trouble
    finally:
        if rebuilt:
            pyogrio.set_gdal_config_options({"SHAPE_RESTORE_SHX": None})


def _slices(path: Path, kind: str, layer: str | None, id_field: str | None, shown: str):
    """(first feature, meta, geometries, columns) of some features after another."""
    import pyogrio
    import pyogrio.raw

    with _ogr(path, kind, shown):
        fields = [str(f) for f in pyogrio.read_info(path, layer=layer)["fields"]]
    if id_field is not None and id_field not in fields:
        there = ", ".join(fields) if fields else "none"
        raise InputProblem(f"--id {id_field!r} is no field of {shown}: its fields are {there}.")
    named = field_roles(fields).get("name")
    asked = {"layer": layer, "columns": [f for f in fields if f in (named, id_field)]}
    most = SLICE if kind in _FROM_THE_MIDDLE else None
    begin = 0
    while True:
        try:
            with _ogr(path, kind, shown):
                read = pyogrio.raw.read(path, skip_features=begin, max_features=most, **asked)
        except UnicodeDecodeError:
            asked["encoding"] = "cp1252"
            continue
        meta, _, geometries, columns = read
        n = 0 if geometries is None else len(geometries)
        if n:
            yield begin, meta, geometries, columns
        if most is None or n < most:
            return
        begin += n
