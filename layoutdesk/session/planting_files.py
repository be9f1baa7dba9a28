"""The files of a site's planting: sheets, cards, forms, tables, calendar, first years and planting.json."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from .file_sets import refuse_format, write_alone, write_together
from .planted import PlantingAnswer
from .planting_set import planting_set
from .wording import listed

FILES = (
    *("plan-sheet.pdf", "row-table.csv", "lots.csv", "day-cards.pdf", "inspection.csv"),
    *("calendar.ics", "first-years.xlsx", "planting.json"),
    *("lots.pdf", "inspection.pdf", "inspection.gpkg", "first-years.pdf"),
)
"""Of a set."""
FORM_FILES = ("as-planted.csv", "as-planted.gpkg")
"""Forms to record what is planted in; of a set where vines are named for them."""


@dataclass(eq=False)
class _Wanted:
    """What files are written from."""

    answer: PlantingAnswer
    unit: str
    day: datetime.date | None
    when: datetime.datetime
    notes: tuple[str, ...] = ()
    paper: str | None = None
    scale: str | None = None
    which: str = "sample"
    form_vines: object = None
    inside: Callable[[float, str], None] | None = field(default=None)


def write_planting_set(
    folder,
    answer: PlantingAnswer,
    unit: str = "m",
    *,
    day: datetime.date | None = None,
    progress: Callable[[float, str], None] | None = None,
    when: datetime.datetime | None = None,
    notes: tuple[str, ...] = (),
    paper: str | None = None,
    scale: str | None = None,
    which: str = "sample",
    form_vines=None,
) -> tuple[str, ...]:
    """Write FILES into a folder, all of them or none; gives back their names.

    Where no planting day is known, cards, calendar and years are there and say so.

    Parameters
    ----------
    folder : path
    answer : PlantingAnswer
    unit : str
        Of lengths for people.
    day : datetime.date, optional
        Printed on the files; the project's own where it is left out.
    progress : function of (share done, what is written), optional
        May raise to cancel.
    when : datetime.datetime, optional
        The moment of writing, with its zone; now where it is left out.
    notes : tuple of str
        What is to be told of files that were read.
    paper : str, optional
        Of the plan sheet: a name of `sheet.PAPERS`.
    scale : str, optional
        Of the plan sheet, as `sheet_tiles.typed_scale` reads it.
    which : str
        Vines of the inspection: "sample", or "again" for those to look at once more.
    form_vines : int array, optional
        Vines of the as-planted form, counted as in `Assigned`; FORM_FILES are written too then.

    Raises
    ------
    InputProblem
        Where the folder cannot be written.
    """
    wanted = _wanted(answer, unit, day, when, notes, paper, scale, which, form_vines)
    names = FILES + (FORM_FILES if form_vines is not None else ())
    writers = {name: _WRITERS[name] for name in names}
    write_together(folder, writers, wanted, _Shares(progress, len(writers), wanted))
    return names


def write_planting_file(
    path,
    answer: PlantingAnswer,
    unit: str = "m",
    day: datetime.date | None = None,
    *,
    kind: str = "",
    when: datetime.datetime | None = None,
    paper: str | None = None,
    scale: str | None = None,
    which: str = "sample",
    form_vines=None,
) -> None:
    """Write one file, whole or not at all.

    Parameters
    ----------
    kind : str
        Of FILES or FORM_FILES; where it is left out the file's name says which.
    **
        The others as `write_planting_set` has them.

    Raises
    ------
    InputProblem
        Where the name says none of them, or the file cannot be written.
    """
    path = Path(path)
    write = _WRITERS.get(kind or kind_of(path))
    if write is None:
        refuse_format(path, (".pdf", ".csv", ".ics", ".xlsx", ".gpkg", ".json"))
    wanted = _wanted(answer, unit, day, when, (), paper, scale, which, form_vines)
    write_alone(path, write, wanted)


_TOLD_BY = {
    # ending: words in a file's name and which of the files it is then; the last one stands for the ending alone
    ".pdf": {"card": "day-cards.pdf", "inspect": "inspection.pdf", "year": "first-years.pdf",
             "lot": "lots.pdf", "": "plan-sheet.pdf"},
    ".csv": {"lot": "lots.csv", "inspect": "inspection.csv", "planted": "as-planted.csv",
             "": "row-table.csv"},
    ".gpkg": {"planted": "as-planted.gpkg", "": "inspection.gpkg"},
    ".ics": {"": "calendar.ics"},
    ".xlsx": {"": "first-years.xlsx"},
    ".json": {"": "planting.json"},
}  # fmt: skip


def kind_of(path: Path) -> str:
    """Which of the files a name says; empty where its ending says none.

    Examples
    --------
    >>> kind_of(Path("Day cards, Two Gums.pdf")), kind_of(Path("rows.csv")), kind_of(Path("x.doc"))
    ('day-cards.pdf', 'row-table.csv', '')
    """
    words, stem = _TOLD_BY.get(path.suffix.lower(), {}), path.stem.lower()
    return next((kind for word, kind in words.items() if word in stem), "")


def written_words(folder, names: tuple[str, ...]) -> str:
    """Where files are, as a sentence."""
    return f"Written to {folder}: {listed(names)}"


def _wanted(answer, unit, day, when, notes, paper, scale, which, form_vines) -> _Wanted:
    when = when or datetime.datetime.now(datetime.UTC)
    return _Wanted(answer, unit, day, when, tuple(notes), paper, scale, which, form_vines)


class _Shares:
    """How far a set is, with what a long file says of itself."""

    def __init__(self, say, count: int, wanted: _Wanted):
        self._say, self._step, self._at = say, 1 / count, 0.0
        if say is not None:
            wanted.inside = self._inside

    def __call__(self, share: float, what: str) -> None:
        self._at = share
        if self._say is not None:
            self._say(share, what)

    def _inside(self, share: float, what: str) -> None:
        self._say(min(self._at + share * self._step, 1.0), what)


def _fonts() -> Path:
    from .places import resource

    return resource("fonts")


def _write_plan_sheet(path: Path, wanted: _Wanted) -> None:
    from ..formats.plan_sheet_pdf import write_plan_sheet_pdf
    from .plan_sheet import plan_sheet

    sheet = plan_sheet(wanted.answer, wanted.unit, wanted.paper, wanted.scale, day=wanted.day)
    write_plan_sheet_pdf(path, sheet, _fonts(), wanted.inside)


def _write_row_table(path: Path, wanted: _Wanted) -> None:
    from ..formats.row_table_csv import write_row_table_csv
    from .row_table import row_table

    write_row_table_csv(path, row_table(wanted.answer, wanted.unit))


def _write_lots_csv(path: Path, wanted: _Wanted) -> None:
    from ..formats.lots_csv import write_lots_csv
    from .row_table import lot_register

    write_lots_csv(path, lot_register(wanted.answer, wanted.unit, wanted.day))


def _write_lots_pdf(path: Path, wanted: _Wanted) -> None:
    from ..formats.lots_pdf import write_lots_pdf
    from .row_table import lot_register

    write_lots_pdf(path, lot_register(wanted.answer, wanted.unit, wanted.day), _fonts())


def _write_day_cards(path: Path, wanted: _Wanted) -> None:
    from .day_cards import write_day_cards

    write_day_cards(path, wanted.answer, wanted.unit, wanted.day, wanted.inside)


def _write_inspection_csv(path: Path, wanted: _Wanted) -> None:
    from ..formats.field_form import write_inspection_csv
    from .field_forms import inspection_form

    write_inspection_csv(path, inspection_form(wanted.answer, wanted.which))


def _write_inspection_gpkg(path: Path, wanted: _Wanted) -> None:
    from ..formats.field_form_gpkg import write_form_gpkg
    from .field_forms import inspection_form

    lines = inspection_form(wanted.answer, wanted.which)
    write_form_gpkg(path, lines, "inspection", wanted.when)


def _write_inspection_pdf(path: Path, wanted: _Wanted) -> None:
    from .inspection_sheets import write_inspection_sheets

    write_inspection_sheets(
        path, wanted.answer, wanted.unit, wanted.day, wanted.which, progress=wanted.inside
    )


def _write_planted_csv(path: Path, wanted: _Wanted) -> None:
    from ..formats.field_form import write_planted_csv
    from .field_forms import planted_form

    write_planted_csv(path, planted_form(wanted.answer, wanted.form_vines))


def _write_planted_gpkg(path: Path, wanted: _Wanted) -> None:
    from ..formats.field_form_gpkg import write_form_gpkg
    from .field_forms import planted_form

    lines = planted_form(wanted.answer, wanted.form_vines)
    write_form_gpkg(path, lines, "as_planted", wanted.when)


def _write_calendar(path: Path, wanted: _Wanted) -> None:
    from .planting_calendar import write_planting_calendar

    write_planting_calendar(path, wanted.answer, wanted.unit, wanted.when)


def _write_years_xlsx(path: Path, wanted: _Wanted) -> None:
    from ..formats.first_years_xlsx import write_first_years_xlsx
    from .first_year_lines import first_years_set

    write_first_years_xlsx(path, first_years_set(wanted.answer, wanted.unit, wanted.day))


def _write_years_pdf(path: Path, wanted: _Wanted) -> None:
    from ..formats.first_years_pdf import write_first_years_pdf
    from .day_cards import paper_of
    from .first_year_lines import first_years_set

    paper = paper_of(wanted.unit)
    found = first_years_set(wanted.answer, wanted.unit, wanted.day)
    write_first_years_pdf(path, found, (paper.width_mm, paper.height_mm), _fonts())


def _write_json(path: Path, wanted: _Wanted) -> None:
    from ..formats.planting_json import write_planting_json

    found = planting_set(wanted.answer, wanted.unit, wanted.day, notes=wanted.notes)
    write_planting_json(path, found)


_WRITERS = {
    "plan-sheet.pdf": _write_plan_sheet,
    "row-table.csv": _write_row_table,
    "lots.csv": _write_lots_csv,
    "day-cards.pdf": _write_day_cards,
    "inspection.csv": _write_inspection_csv,
    "calendar.ics": _write_calendar,
    "first-years.xlsx": _write_years_xlsx,
    "planting.json": _write_json,
    "lots.pdf": _write_lots_pdf,
    "inspection.pdf": _write_inspection_pdf,
    "inspection.gpkg": _write_inspection_gpkg,
    "first-years.pdf": _write_years_pdf,
    "as-planted.csv": _write_planted_csv,
    "as-planted.gpkg": _write_planted_gpkg,
}
