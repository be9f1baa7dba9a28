"""The files of a take-off: takeoff.csv, takeoff.xlsx and orders.pdf."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path

from ..core.model import InputProblem
from ..formats.takeoffset import TakeOffSet
from .file_sets import refuse_format, write_alone, write_together
from .take_off_set import take_off_set

FILES = ("takeoff.csv", "takeoff.xlsx", "orders.pdf")
"""Of a set."""


def write_take_off_set(
    folder,
    answer,
    unit: str = "m",
    *,
    day: datetime.date | None = None,
    progress: Callable[[float, str], None] | None = None,
    **said,
) -> TakeOffSet:
    """Write FILES into a folder, all of them or none, and give back what they were written from.

    Parameters
    ----------
    folder : path
    answer : TakeOffAnswer
    unit : str
        Of lengths for people.
    day : datetime.date, optional
        Printed on the files.
    progress : function of (share done, what is written), optional
        May raise to cancel.
    **said
        As `take_off_set` takes it: terrain, revision, changed_from, notes.

    Raises
    ------
    InputProblem
        Where there is nothing to order, or the folder cannot be written.
    """
    found = take_off_set(answer, unit, day, **said)
    _refuse_nothing(found)
    writers = {name: _WRITERS[Path(name).suffix] for name in FILES}
    write_together(folder, writers, found, progress)
    return found


def write_take_off_file(
    path, answer, unit: str = "m", day: datetime.date | None = None, **said
) -> None:
    """Write one file of a take-off, whole or not at all; the end of its name says which.

    Raises
    ------
    InputProblem
        Where the name ends in none of .csv, .xlsx, .pdf and .json, or the file cannot be written.
    """
    path = Path(path)
    suffix = path.suffix.lower()
    if suffix not in _WRITERS:
        refuse_format(path, (".pdf", ".xlsx", ".csv", ".json"))
    found = take_off_set(answer, unit, day, **said)
    _refuse_nothing(found)
    write_alone(path, _WRITERS[suffix], found)


def _refuse_nothing(found: TakeOffSet) -> None:
    if not found.items:
        raise InputProblem(
            f"{found.project.name} has no row to take materials for: lay out a block first."
        )


def _write_csv(path: Path, found: TakeOffSet) -> None:
    from ..formats.takeoff_csv import write_take_off_csv

    write_take_off_csv(path, found)


def _write_xlsx(path: Path, found: TakeOffSet) -> None:
    from ..formats.takeoff_xlsx import write_take_off_xlsx

    write_take_off_xlsx(path, found)


def _write_pdf(path: Path, found: TakeOffSet) -> None:
    from ..formats.orders_pdf import write_orders_pdf
    from .places import resource
    from .sheet import paper_named

    paper = paper_named("A4" if found.units.unit == "m" else "Letter", landscape=False)
    write_orders_pdf(path, found, (paper.width_mm, paper.height_mm), resource("fonts"))


def _write_json(path: Path, found: TakeOffSet) -> None:
    from ..formats.takeoff_json import write_take_off_json

    write_take_off_json(path, found)


_WRITERS = {".json": _write_json, ".csv": _write_csv, ".xlsx": _write_xlsx, ".pdf": _write_pdf}
