"""The files of a comparison: compare.json, compare.csv, compare.xlsx and compare.pdf."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from functools import partial
from pathlib import Path

from ..core.model import InputProblem
from ..formats.compareset import CompareSet
from .compare_set import compare_set
from .file_sets import refuse_format, write_alone, write_together

FILES = ("compare.json", "compare.csv", "compare.xlsx", "compare.pdf")
"""Of a set."""


def write_compare_set(
    folder,
    answer,
    terrain_read=None,
    unit: str = "m",
    *,
    day: datetime.date | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> dict:
    """Write FILES into a folder, all of them or none, and give back what compare.json says.

    Parameters
    ----------
    folder : path
    answer : CompareAnswer
    terrain_read : TerrainRead or None
    unit : str
        Of lengths for people.
    day : datetime.date, optional
        Printed on the files.
    progress : function of (share done, what is written), optional
        May raise to cancel.

    Raises
    ------
    InputProblem
        Where there is nothing to compare, or the folder cannot be written.
    """
    from ..formats.compare_json import compare_facts

    compare = compare_set(answer, terrain_read, unit, day)
    _refuse_nothing(compare)
    writers = {name: partial(_write, unit=unit, suffix=Path(name).suffix) for name in FILES}
    write_together(folder, writers, compare, progress)
    return compare_facts(compare)


def write_compare_file(
    path, answer, terrain_read=None, unit: str = "m", *, day: datetime.date | None = None
) -> None:
    """Write one file of a comparison, whole or not at all; the end of its name says which.

    Raises
    ------
    InputProblem
        Where the name ends in none of .json, .csv, .xlsx and .pdf, or the file cannot be written.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in _WRITERS:
        refuse_format(path, (".pdf", ".xlsx", ".csv", ".json"))
    compare = compare_set(answer, terrain_read, unit, day)
    _refuse_nothing(compare)
    write_alone(path, partial(_write, unit=unit, suffix=suffix), compare)


def _refuse_nothing(compare: CompareSet) -> None:
    if not len(compare):
        raise InputProblem(
            f"{compare.project.name} has no candidate to compare: add bearings to compare first."
        )


def _write(path: Path, compare: CompareSet, unit: str, suffix: str) -> None:
    _WRITERS[suffix](path, compare, unit)


def _write_json(path: Path, compare: CompareSet, unit: str) -> None:
    from ..formats.compare_json import write_compare_json

    write_compare_json(path, compare)


def _write_csv(path: Path, compare: CompareSet, unit: str) -> None:
    from ..formats.compare_csv import write_compare_csv

    write_compare_csv(path, compare)


def _write_xlsx(path: Path, compare: CompareSet, unit: str) -> None:
    from ..formats.compare_xlsx import write_compare_xlsx

    write_compare_xlsx(path, compare)


def _write_pdf(path: Path, compare: CompareSet, unit: str) -> None:
    from ..formats.compare_pdf import write_compare_pdf
    from .compare_sheet import compare_paper
    from .places import resource

    write_compare_pdf(path, compare, compare_paper(compare, unit), resource("fonts"))


_WRITERS = {".json": _write_json, ".csv": _write_csv, ".xlsx": _write_xlsx, ".pdf": _write_pdf}
