"""Writing a hand-off: the files that were asked for, the sheet, and a list of all with their checksums."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Callable
from pathlib import Path

from ..core.model import InputProblem
from ..formats.handoffset import HandOffSet
from ..formats.seal import Seal
from .hand_off_lines import FILE_NAMES, LIST, SHEET, WGS84_FORMATS, WrittenFile, holding, system_of
from .hand_off_set import seal_of
from .wording import listed

Progress = Callable[[float, str], None]
_STOPS = ("points-none", "stated-elsewhere", "calibration-refused")
"""Findings that keep a hand-off from being written: what would be staked is not what was meant."""
_LAST_SHARE = 0.97


def write_hand_off(
    folder,
    hand: HandOffSet,
    unit: str = "m",
    *,
    progress: Progress | None = None,
) -> tuple[str, ...]:
    """Write the files of a hand-off into a folder, all of them or none; gives back their names.

    Files of an earlier hand-off in the folder that this one does not write are taken away, unless they were
    changed since: two revisions side by side would be mixed up.

    Parameters
    ----------
    folder : path
    hand : HandOffSet
    unit : str
        Of lengths for people, on the sheet.
    progress : function of (share done, what is written), optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where the folder cannot be written, or what would be written is not what was meant.
    """
    from ..formats.atomic import replacing_set

    refuse_unfit(hand)
    say = progress or (lambda share, what: None)
    folder = Path(folder)
    formats = hand.hand.formats
    written: list[WrittenFile] = []
    before = _listed_in(folder)
    with replacing_set(folder) as stage:
        for i, key in enumerate(formats):
            name = FILE_NAMES[key]
            begin, step = _LAST_SHARE * i / len(formats), _LAST_SHARE / len(formats)
            say(begin, name)

            def inside(share: float, begin=begin, step=step, name=name) -> None:
                say(min(begin + share * step, _LAST_SHARE), name)

            for made in write_one(stage, hand, key, inside):
                written.append(_written(stage / made, hand, key))
        say(_LAST_SHARE, SHEET)
        _write_sheet(stage / SHEET, hand, tuple(written), unit)
        written.append(_written(stage / SHEET, hand, "pdf"))
        _write_list(stage / LIST, hand, written)
        say(1.0, "done")  # the last moment to stop
    names = (*(f.name for f in written), LIST)
    _take_away(folder, before, names)
    return names


def refuse_unfit(hand: HandOffSet) -> None:
    """InputProblem where what would be written is not what was meant."""
    stops = [f for f in hand.findings if f.code in _STOPS and f.severity == "wrong"]
    if stops:
        raise InputProblem(stops[0].message)


def write_one(folder: Path, hand: HandOffSet, key: str, progress=None) -> tuple[str, ...]:
    """Write one format into a folder, not atomically; names of its files."""
    name = FILE_NAMES[key]
    path = Path(folder) / name
    seal = seal_of(hand, "wgs84" if key in WGS84_FORMATS else "")
    if key in ("csv", "txt"):
        from ..formats.points_csv import write_points_tables

        return write_points_tables(
            folder, path.stem, hand, seal, fixed=key == "txt", progress=progress
        )
    _writer(key)(path, hand, seal, progress)
    return (name,)


def _writer(key: str) -> Callable[[Path, HandOffSet, Seal, object], object]:
    if key in ("dxf", "dxf-3d"):
        from ..formats.points_dxf import write_points_dxf

        return lambda path, hand, seal, say: write_points_dxf(
            path, hand, seal, raised=key == "dxf-3d", progress=say
        )
    if key in ("kml", "kmz"):
        from ..formats.points_kml import write_points_kml

        return lambda path, hand, seal, say: write_points_kml(
            path, hand, seal, zipped=key == "kmz", progress=say
        )
    if key == "landxml":
        from ..formats.points_landxml import write_points_landxml as write
    elif key == "gpx":
        from ..formats.points_gpx import write_points_gpx as write
    elif key == "gpkg":
        from ..formats.points_gpkg import write_points_gpkg as write
    elif key == "shp":
        from ..formats.points_shp import write_points_shp as write
    elif key == "geojson":
        from ..formats.points_geojson import write_points_geojson as write
    elif key == "lines":
        from ..formats.guidance_lines import write_guidance_lines as write
    elif key == "taskdata":
        from ..formats.guidance_taskdata import write_guidance_taskdata as write
    else:
        raise ValueError(f"key: {key!r} is no format")
    return lambda path, hand, seal, say: write(path, hand, seal, progress=say)


def _written(path: Path, hand: HandOffSet, key: str) -> WrittenFile:
    holds = holding(hand, key) if key in FILE_NAMES else "what is in each file, check distances"
    n_points = len(hand.points) if key in FILE_NAMES and key not in ("lines", "taskdata") else 0
    return WrittenFile(
        path.name,
        key,
        holds,
        system_of(hand, key),
        n_points,
        path.stat().st_size,
        checksum_of(path),
    )


def checksum_of(path) -> str:
    """SHA-256 of a whole file, in hexadecimal digits."""
    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _write_sheet(path: Path, hand: HandOffSet, files: tuple[WrittenFile, ...], unit: str) -> None:
    from ..formats.hand_off_pdf import write_hand_off_pdf
    from .hand_off_sheet import hand_off_sheet
    from .places import resource

    write_hand_off_pdf(path, hand_off_sheet(hand, files, unit), resource("fonts"))


def hand_off_facts(hand: HandOffSet) -> dict:
    """What a hand-off is, for programs."""
    import dataclasses

    from ..formats.summary import finding_facts, frame_facts, survey_facts

    placing, said = hand.placing, hand.hand
    return {
        "project": hand.project.name,
        "revision": hand.revision,
        "plan": hand.plan,
        "day": hand.day.isoformat(),
        "statement": hand.statement,
        "coordinates": placing.coordinates,
        "unit": placing.unit,
        "unit_m": placing.unit_m,
        "from_grid": placing.matrix.tolist(),
        "vertical_datum": said.vertical_datum,
        "heights": hand.heights_said,
        "survey": survey_facts(placing.grid) | {"coordinates": placing.coordinates},
        "frame": frame_facts(hand.project.site.frame),
        "wgs84_shift": hand.wgs84_shift,
        "points": len(hand.points),
        "points_by_kind": hand.points.counts,
        "numbers_passed": list(hand.points.passed),
        "choice": dataclasses.asdict(said.points),
        "table": dataclasses.asdict(said.table),
        "tolerance_m": said.tolerance_m,
        "vine_tolerance_m": said.vine_tolerance_m,
        "height_tolerance_m": said.height_tolerance_m,
        "findings": [finding_facts(f) for f in hand.findings],
    }


def _write_list(path: Path, hand: HandOffSet, written: list[WrittenFile]) -> None:
    import dataclasses

    facts = hand_off_facts(hand) | {"files": [dataclasses.asdict(f) for f in written]}
    text = json.dumps(facts, ensure_ascii=False, indent=2, allow_nan=False)
    path.write_text(text + "\n", encoding="utf-8")


def _listed_in(folder: Path) -> dict[str, str]:
    """Files of the hand-off that lies in a folder, with their checksums."""
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        said = json.loads((folder / LIST).read_text(encoding="utf-8"))
        return {str(f["name"]): str(f["checksum"]) for f in said["files"]}
    return {}


def _take_away(folder: Path, before: dict[str, str], names: tuple[str, ...]) -> None:
    known = {*FILE_NAMES.values(), SHEET}
    for name, checksum in before.items():
        path = folder / name
        ours = name in known or _is_split(name)
        if name in names or not ours or path.parent != folder:
            continue
        with contextlib.suppress(OSError):
            if checksum_of(path) == checksum:
                path.unlink()


def _is_split(name: str) -> bool:
    import re

    return re.fullmatch(r"points-\d+\.(csv|txt)", name) is not None


def hand_off_in(folder: Path) -> str:
    """What hand-off lies in a folder, as a clause; empty where there is none."""
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        said = json.loads((Path(folder) / LIST).read_text(encoding="utf-8"))
        return f"a hand-off of {said['project']}, revision {said['revision']}, of {said['day']}"
    return ""


def written_words(folder, names: tuple[str, ...]) -> str:
    """Where files are, as a sentence."""
    return f"Written to {folder}: {listed(names)}"
