"""The files of a drip system: tables, the network for EPANET, the irrigation sheet and water.json."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from ..core.model import InputProblem
from ..formats.waterset import WaterFiles
from .file_sets import refuse_format, write_alone, write_together
from .water_set import water_set

FILES = (
    *("emitters.csv", "laterals.csv", "sets.csv"),
    *("network.inp", "irrigation.pdf", "water.json"),
)
"""Of a set."""


def write_water_set(
    folder,
    answer,
    unit: str = "m",
    *,
    day: datetime.date | None = None,
    progress: Callable[[float, str], None] | None = None,
    **said,
) -> WaterFiles:
    """Write FILES into a folder, all of them or none, and give back what they were written from.

    Parameters
    ----------
    folder : path
    answer : WaterAnswer
        One made in haste is completed first.
    unit : str
        Of lengths for people.
    day : datetime.date, optional
        Printed on the files.
    progress : function of (share done, what is written), optional
        May raise to cancel.
    **said
        As `water_set` takes it: terrain_read, revision.

    Raises
    ------
    InputProblem
        Where there is nothing to water, or the folder cannot be written.
    """
    found = _found(answer, unit, day, said)
    write_together(folder, _WRITERS, found, progress)
    return found


def write_water_file(
    path, answer, unit: str = "m", day: datetime.date | None = None, **said
) -> None:
    """Write one file of a drip system, whole or not at all; the end of its name says which.

    A name that ends in .csv is the table of vines, unless it has "laterals" or "sets" in it.

    Raises
    ------
    InputProblem
        Where the name ends in none of .csv, .inp, .pdf and .json, or the file cannot be written.
    """
    path = Path(path)
    write = _WRITERS.get(_kind_of(path))
    if write is None:
        refuse_format(path, (".pdf", ".csv", ".inp", ".json"))
    write_alone(path, write, _found(answer, unit, day, said))


def _kind_of(path: Path) -> str:
    """Which of FILES a file is."""
    suffix, name = path.suffix.lower(), path.stem.lower()
    if suffix == ".csv":
        return next((f"{w}.csv" for w in ("laterals", "sets") if name.endswith(w)), "emitters.csv")
    return next((f for f in FILES if f.endswith(suffix) and suffix), "")


def _found(answer, unit: str, day, said: dict) -> WaterFiles:
    if not answer.design.sets:
        raise InputProblem(f"{answer.project.name} has no vine to water: lay out a block first.")
    return water_set(_whole(answer), unit, day, **said)


def _whole(answer):
    """An answer with advice and parts."""
    if not answer.haste:
        return answer
    from ..core.water.judgement import judged
    from ..core.water.parts import water_parts

    return replace(
        answer,
        judgement=judged(answer.design, answer.plans),
        parts=water_parts(answer.design, answer.plans),
        haste=False,
    )


def _write_emitters(path: Path, found: WaterFiles) -> None:
    from ..formats.water_csv import write_emitters_csv

    write_emitters_csv(path, found)


def _write_laterals(path: Path, found: WaterFiles) -> None:
    from ..formats.water_csv import write_laterals_csv

    write_laterals_csv(path, found)


def _write_sets(path: Path, found: WaterFiles) -> None:
    from ..formats.water_csv import write_sets_csv

    write_sets_csv(path, found)


def _write_inp(path: Path, found: WaterFiles) -> None:
    from ..formats.water_inp import write_network_inp

    write_network_inp(path, found)


def _write_json(path: Path, found: WaterFiles) -> None:
    from ..formats.water_json import write_water_json

    write_water_json(path, found)


def _write_pdf(path: Path, found: WaterFiles) -> None:
    from ..formats.water_pdf import write_irrigation_pdf
    from .places import resource
    from .sheet import paper_named

    paper = paper_named("A4" if found.unit == "m" else "Letter", landscape=False)
    write_irrigation_pdf(path, found, (paper.width_mm, paper.height_mm), resource("fonts"))


_WRITERS = {
    "emitters.csv": _write_emitters,
    "laterals.csv": _write_laterals,
    "sets.csv": _write_sets,
    "network.inp": _write_inp,
    "irrigation.pdf": _write_pdf,
    "water.json": _write_json,
}
