"""Every bearing of every parcel in a layer or a folder of files, into tables that a run can go on with."""

from __future__ import annotations

import zipfile
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path

from .. import __version__
from ..core.compare.catalogue import MEASURES
from ..core.model import Exclusion, Finding, InputProblem
from ..formats.reading import read_exclusions
from ..formats.reading.entry import shortened
from ..formats.reading.parcel_files import (
    ParcelFile,
    digest_of_files,
    expected_parcels,
    parcel_files,
)
from ..formats.reading.parcels import ParcelReader, crs_as_text
from ..formats.terrain import described_terrain
from .parcels_asked import with_clearances
from .parcels_crew import LocalCrew, results
from .parcels_near import Neighbours
from .parcels_parts import BEST, FACTS, ROWS, WorkFolder
from .parcels_table import BEST_COLUMNS, columns, head
from .parcels_work import BEST_STEP_M, SUN_STEP_DEG, ParcelSettings, PartResult, Task

_MOST_A_PART = 32
_PARTS_AT_LEAST = 64
"""Parts hold so many parcels at most, fewer where that would make too few parts to share out."""

_LAYERED = (".gpkg", ".kml")
"""Files whose layers can be named; a project is one, too."""

_FORM = 1
"""Changes with what the parts hold, beside the program's version."""


@dataclass(frozen=True)
class ParcelsRequest:
    """What is asked for.

    Attributes
    ----------
    path : path
        A file or a folder.
    out : path
        The folder for the results.
    settings : ParcelSettings
    layer, id_field, crs, unit : str or None
    exclusions : tuple of (path, clearance_m or None)
        Of all parcels.
    keep_from : tuple of str
        Clearances of exclusions by kind or name, as typed: "pond=6".
    n_processes : int
    scheduler : str or None
        Address of a Dask cluster that works instead of this machine.
    anew : bool
        Whether a run with other options is dropped.
    """

    path: str | Path
    out: str | Path
    settings: ParcelSettings
    layer: str | None = None
    id_field: str | None = None
    crs: str | None = None
    unit: str | None = None
    exclusions: tuple = ()
    keep_from: tuple[str, ...] = ()
    n_processes: int = 1
    scheduler: str | None = None
    anew: bool = False


@dataclass
class Going:
    """How far a run is; handed to whoever shows it."""

    done: int = 0
    expected: int = 0
    taken_up: int = 0
    ended: bool = False
    facts: dict = field(default_factory=dict)


def compare_parcels(request: ParcelsRequest, shown: Callable[[Going], None] | None = None) -> dict:
    """Compare all parcels; the facts that are written beside the tables.

    A run that was stopped, by whatever, goes on where it was when it is asked for again. The
    results do not depend on where, in what order and how often the work was begun.

    Raises
    ------
    InputProblem
    KeyboardInterrupt
        Where it was stopped; what is done stays.
    """
    if request.settings.terrain is not None:
        described_terrain(request.settings.terrain.path)  # refuses what holds no heights
    files = parcel_files(request.path, leave_out=request.out)
    _refuse_layer(files, request.layer)
    reader = ParcelReader(files, request.layer, request.id_field, request.crs, request.unit)
    excluded, said = _exclusions(request, reader)
    going = Going(expected=expected_parcels(files, request.layer))
    size = max(1, min(_MOST_A_PART, going.expected // _PARTS_AT_LEAST))
    manifest = {
        "program": f"layoutdesk {__version__}, form {_FORM}",
        "input": digest_of_files(files),
        "options": {**options_facts(request), "parcels_a_part": size},
    }
    with WorkFolder(request.out, manifest, request.anew) as work:
        going.done = going.taken_up = sum(work.done.values())
        _show(shown, going)
        count = _Counted()
        try:
            tasks = _tasks(reader, Neighbours(excluded), size, work, count)
            with _crew(request) as crew:
                for index, result in results(crew, tasks):
                    work.write(index, result)
                    going.done += result.n_parcels
                    going.expected = max(going.expected, going.done)
                    _show(shown, going)
            _refuse_gap(work, count, request)
            _refuse_nothing(work)
        except InputProblem:
            if not work.done:  # nothing to go on with
                work.drop()
            raise
        going.facts = work.finish(
            head(columns(request.settings.measures)),
            head(BEST_COLUMNS),
            lambda whole: _facts(request, manifest, files, (*said, *reader.findings), whole),
        )
    going.ended = True
    _show(shown, going)
    return going.facts


def _refuse_layer(files: tuple[ParcelFile, ...], layer: str | None) -> None:
    """Where the one file is of a kind that has no layers to choose from, its name is no help."""
    if layer is None or len(files) > 1:
        return
    path = files[0].path
    held = [path.name]
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as archive:
            held = archive.namelist()
    if not any(name.lower().endswith(_LAYERED) for name in held):
        raise InputProblem(
            f"--layer {layer!r} is for a GeoPackage, and {files[0].shown} is none: leave it out."
        )


def _show(shown, going: Going) -> None:
    if shown is not None:
        shown(going)


@dataclass
class _Counted:
    parts: int = 0


def _tasks(
    reader: ParcelReader, neighbours: Neighbours, size: int, work: WorkFolder, count: _Counted
) -> Iterator[tuple[int, Task]]:
    """Parts that are still to be made, in order; parcels are read as they are asked for."""
    held: list = []

    def part():
        parcels = tuple(held)
        held.clear()
        index = count.parts
        count.parts += 1
        if index not in work.done:
            yield index, Task(parcels, neighbours.near(parcels))

    for parcel in reader:
        held.append(parcel)
        if len(held) == size:
            yield from part()
    if held:
        yield from part()


def _crew(request: ParcelsRequest):
    if request.scheduler is None:
        return LocalCrew(request.settings, request.n_processes)
    from .parcels_cluster import ClusterCrew

    return ClusterCrew(request.settings, request.scheduler)


def _refuse_gap(work: WorkFolder, count: _Counted, request: ParcelsRequest) -> None:
    """The parts that are there must be those of the input, every one and no other."""
    if sorted(work.done) != list(range(count.parts)):
        raise InputProblem(
            f"The results in {request.out} are not those of this input any more, which seems to have "
            "changed meanwhile: add --anew to begin again."
        )


def _refuse_nothing(work: WorkFolder) -> None:
    first = None
    for part in work.parts():
        if part.n_compared:
            return
        first = first or next(iter(part.refused), None)
    work.drop()
    if first is None:
        raise InputProblem("There is no parcel to compare: give a layer or a folder that has some.")
    raise InputProblem(f"No parcel could be compared; of the first ({first.parcel}): {first.why}")


def _exclusions(
    request: ParcelsRequest, reader: ParcelReader
) -> tuple[list[tuple[Exclusion, str]], list[Finding]]:
    """Exclusions in their own coordinate systems, with those systems' texts, and what is said."""
    shapes, texts, said = [], [], []
    site_crs = next((p.crs for p in reader if p.crs), None) if request.exclusions else None
    for path, clearance_m in request.exclusions:
        read = read_exclusions(path, unit=request.unit, site_crs=site_crs)
        said += read.findings
        for shape in read.shapes:
            clearance = clearance_m if clearance_m is not None else shape.clearance_m
            shapes.append(
                Exclusion(shape.geometry, float(clearance or 0.0), shape.name, shape.kind)
            )
            texts.append(crs_as_text(read.crs))
    if request.keep_from:
        shapes = list(with_clearances(tuple(shapes), request.keep_from))
    return list(zip(shapes, texts, strict=True)), said


def options_facts(request: ParcelsRequest) -> dict:
    """All options that results depend on, as plain values."""
    settings = request.settings
    rules = asdict(settings.rules)
    rules.pop("bearing_deg")
    study = asdict(settings.study)
    for name in ("candidates", "base", "blocks", "chosen"):  # of one site
        study.pop(name)
    terrain = None
    if settings.terrain is not None:
        terrain = {
            "file": Path(settings.terrain.path).name,
            "sha256": _digest(settings.terrain.path),
            "unit": settings.terrain.unit,
            "datum": settings.terrain.datum,
            "crs": settings.terrain.crs,
        }
    return {
        "bearings_deg": list(settings.bearings_deg),
        "rules": rules,
        "study": study,
        "height_m": settings.height_m,
        "sun": settings.sun,
        "terrain": terrain,
        "layer": request.layer,
        "id": request.id_field,
        "crs": request.crs,
        "unit": request.unit,
        "exclusions": [
            {"file": Path(path).name, "sha256": _digest(path), "clearance_m": clearance_m}
            for path, clearance_m in request.exclusions
        ],
        "keep_from": list(request.keep_from),
    }


def _digest(path) -> str:
    path = Path(path)
    return digest_of_files([ParcelFile(path, path.name)]) if path.is_file() else ""


def _facts(request: ParcelsRequest, manifest: dict, files, said, whole: PartResult) -> dict:
    """What is written beside the tables."""
    measures = request.settings.measures
    facts = {
        "program": manifest["program"].partition(",")[0],
        "input": {
            "name": Path(request.path).name,
            "files": len(files),
            "sha256": manifest["input"],
        },
        "options": {k: v for k, v in manifest["options"].items() if k != "parcels_a_part"},
        "counts": {
            "parcels": whole.n_parcels,
            "compared": whole.n_compared,
            "refused": len(whole.refused),
            "without_rows": whole.n_empty,
            "bearings": len(request.settings.bearings_deg),
            "rows": whole.n_rows,
        },
        "refused": [asdict(one) for one in whole.refused],
        "findings": {
            "counts": whole.found,
            "first": [
                {"code": code, "parcel": parcel, "message": text}
                for code, parcel, text in whole.told
            ],
            "of_files": [
                {"code": f.code, "where": f.where, "severity": f.severity, "message": f.message}
                for f in shortened(list(said))
            ],
        },
        "measures": {
            name: {
                "label": MEASURES[name].label,
                "unit": MEASURES[name].unit,
                "better": MEASURES[name].better or None,
                "definition": MEASURES[name].definition,
            }
            for name in measures
        },
        "notes": _notes(request.settings),
        "files": {"bearings": ROWS, "best": BEST, "facts": FACTS},
    }
    return facts


def _notes(settings: ParcelSettings) -> list[str]:
    notes = [
        "Each parcel is laid in a site frame of its own, with its origin at the parcel's middle: "
        "metres on the ground, bearings true.",
        "A parcel's parts are blocks of one parcel: counts add up, and first_row_m is that of the "
        "first part.",
    ]
    if settings.rules.first_row_m == "best":
        notes.append(
            f"The best place of row 1 was looked for every {100 * BEST_STEP_M:g} cm; with the first_row_m "
            "of a row the layout is that of the row."
        )
    if settings.sun:
        notes.append(
            f"The sun's path is that of the nearest {SUN_STEP_DEG:g} degree of latitude and longitude."
        )
    return notes
