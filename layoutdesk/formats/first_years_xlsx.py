"""first-years.xlsx: calendar, crop and labour; a changed rate, share or number of vines moves them all."""

from __future__ import annotations

import datetime

from ..core.model.planting import YEAR_TASKS
from ..core.planting.duties import MILESTONE
from .takeoff_xlsx import HEAD_ROW, Heading, cell
from .xlsx_looks import PAPER, SOFT, Looks
from .yearset import FirstYearsSet

_VALUE = 1
"""Column of the values on the sheet Assumptions."""
_VINES, _MATURE, _DAY_HOURS = HEAD_ROW + 1, HEAD_ROW + 2, HEAD_ROW + 3
_FIRST_RATE = HEAD_ROW + 5
_RATE = {task: _FIRST_RATE + i for i, task in enumerate(YEAR_TASKS)}
"""Row of every task's rate there."""
_FIRST_SHARE = _FIRST_RATE + len(YEAR_TASKS) + 1
_OF_PROJECT = "Set in the project; the usual value is common practice"
_PAPERS = {"m": 9}
"""A4; 1 is Letter. Source: ECMA-376 part 1 (2016), 18.3.1.63, paperSize."""


def write_first_years_xlsx(path, found: FirstYearsSet) -> None:
    """Write the workbook, in people's units; where no planting day is known it has one sheet that says so.

    Everything that is reckoned with stands on the sheet Assumptions, in framed cells. Days follow from the
    planting day and are no formulas.
    """
    import xlsxwriter

    day = found.day or datetime.date(2000, 1, 1)
    book = xlsxwriter.Workbook(str(path), {"strings_to_formulas": False, "strings_to_urls": False})
    try:
        book.set_properties(
            {
                "title": f"{found.project.name}: the first years",
                "comments": f"Revision {found.revision}",
                "created": datetime.datetime.combine(day, datetime.time()),
            }
        )
        pages = _Pages(book, found, Looks(book))
        if found.years is None:
            pages.sheet("Calendar", "the first years", found.missing, [Heading("", 100, False)])
            return
        _write_calendar(pages)
        _write_crop(pages)
        _write_labour(pages)
        _write_assumptions(pages)
        _write_about(pages)
    finally:
        book.close()


class _Pages:
    """The workbook's sheets."""

    def __init__(self, book, found: FirstYearsSet, looks: Looks):
        self.book, self.found, self.looks = book, found, looks

    def sheet(self, name: str, title: str, words: str, headings: list[Heading], still: int = 1):
        """A sheet with its head: title, words, and a table's headings, its first columns standing still."""
        found, sheet = self.found, self.book.add_worksheet(name)
        sheet.hide_gridlines(2)
        sheet.write_string(0, 0, f"{found.project.name}: {title}", self.looks.title)
        sheet.write_string(1, 0, f"{found.said_of}. {words}", self.looks.soft)
        for column, heading in enumerate(headings):
            sheet.set_column(column, column, heading.width)
            look = self.looks.head_of_number if heading.figures else self.looks.head
            sheet.write_string(HEAD_ROW, column, heading.words, look)
        sheet.freeze_panes(HEAD_ROW + 1, still)
        sheet.repeat_rows(HEAD_ROW)
        if len(headings) > 5:
            sheet.set_landscape()
        sheet.set_paper(_PAPERS.get(found.units.unit, 1))
        sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
        sheet.fit_to_pages(1, 0)
        foot = f"{found.project.name[:80]}, revision {found.revision}".replace("&", "&&")
        sheet.set_footer(f"&L{foot}&C&A&R&P / &N")
        return sheet

    @property
    def date(self):
        return self.looks(num_format="yyyy-mm-dd", align="left", valign="top")

    @property
    def words(self):
        return self.looks(text_wrap=True, valign="top")

    def figure(self, decimals: int, **how):
        digits = self.looks.digits(decimals)
        return self.looks(num_format=digits, align="right", valign="top", **how)


def _set(row: int) -> str:
    """A value of the sheet Assumptions."""
    return f"Assumptions!{cell(row, _VALUE, fixed=True)}"


def _round_hours(task: str, year: int) -> str:
    """Hours of one round of a task as a formula, without its sign of equality; empty where the rate is."""
    of_full = f"*{_set(_FIRST_SHARE + year - 1)}/100" if task == "picking" else ""
    return f"{_set(_VINES)}/{_set(_RATE[task])}{of_full}"


def _guarded(task: str, formula: str) -> str:
    return f'=IF(N({_set(_RATE[task])})>0,{formula},"")'


def _write_calendar(pages: _Pages) -> None:
    headings = [
        Heading("From", 12, False),
        Heading("To", 12, False),
        Heading("Year", 6),
        Heading("Season", 18, False),
        Heading("What", 46, False),
        Heading("How", 90, False),
        Heading("Hours", 10),
    ]
    words = "Days are common practice. Hours are one person's, for all vines, by Assumptions."
    sheet = pages.sheet("Calendar", "what is to be done when", words, headings)
    for row, duty in enumerate(pages.found.years.duties, HEAD_ROW + 1):
        sheet.write_datetime(row, 0, _midnight(duty.begins), pages.date)
        sheet.write_datetime(row, 1, _midnight(duty.ends), pages.date)
        sheet.write_number(row, 2, duty.year, pages.figure(0))
        sheet.write_string(row, 3, duty.season, pages.words)
        sheet.write_string(row, 4, duty.title, pages.words)
        sheet.write_string(row, 5, pages.found.how[duty.name], pages.words)
        if duty.task != MILESTONE:
            formula = _guarded(duty.task, _round_hours(duty.task, duty.year))
            sheet.write_formula(row, 6, formula, pages.figure(1), duty.hours)
    sheet.autofilter(HEAD_ROW, 0, HEAD_ROW + len(pages.found.years.duties), len(headings) - 1)


def _midnight(day: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(day, datetime.time())


def _write_crop(pages: _Pages) -> None:
    found = pages.found
    units, (heavy, heavy_kg) = found.units, found.heavy
    per_heavy = heavy_kg / units.mass_kg
    headings = [
        Heading("Leaf", 7),
        Heading("Harvest", 9),
        Heading("From", 12, False),
        Heading("To", 12, False),
        Heading("Of a mature crop, %", 12),
        Heading(f"Crop, {units.mass}", 14),
        Heading(f"Crop, {heavy}", 12),
        Heading("Counted as", 34, False),
    ]
    words = "Share, times crop of a mature vine, times vines, by Assumptions. No forecast."
    sheet = pages.sheet("Crop by year", "the crop to expect", words, headings, 2)
    rows = zip(found.years.crops, found.crop_rows, strict=True)
    for i, (crop, said) in enumerate(rows):
        row = HEAD_ROW + 1 + i
        strong = {"bold": True} if crop.is_first_small else {}
        sheet.write_number(row, 0, crop.leaf, pages.figure(0))
        sheet.write_number(row, 1, crop.number, pages.figure(0))
        sheet.write_datetime(row, 2, _midnight(crop.harvest), pages.date)
        sheet.write_datetime(row, 3, _midnight(crop.harvest_ends), pages.date)
        share = cell(row, 4)
        sheet.write_formula(
            row, 4, f"={_set(_FIRST_SHARE + i)}", pages.figure(1), found.years.crops[i].share_pct
        )
        mass = crop.crop_kg / units.mass_kg
        formula = f"={share}/100*{_set(_MATURE)}*{_set(_VINES)}"
        sheet.write_formula(row, 5, formula, pages.figure(0, **strong), mass)
        formula = f"={cell(row, 5)}/{per_heavy:.10g}"
        sheet.write_formula(row, 6, formula, pages.figure(2, **strong), mass / per_heavy)
        sheet.write_string(row, 7, said.counted, pages.words)
    row = HEAD_ROW + 2 + len(found.years.crops)
    for i, text in enumerate(found.counting):
        sheet.write_string(row + i, 0, text, pages.looks(font_color=SOFT))


def _write_labour(pages: _Pages) -> None:
    """A line a year and task, sums of years, and of all."""
    found, years = pages.found, pages.found.years
    headings = [
        Heading("Year", 7),
        Heading("Task", 46, False),
        Heading("Rounds", 9),
        Heading("Vines a person and hour", 12),
        Heading("Hours", 12),
        Heading("Days of one person", 12),
    ]
    words = (
        "Rounds times vines over the rate, by Assumptions; picking by the share of a mature crop."
    )
    sheet = pages.sheet("Labour", "hours by year and task", words, headings, 2)
    row, sums = HEAD_ROW, []
    numbers = dict.fromkeys(year for year, *_ in years.labour)
    for number in numbers:
        first = row + 1
        mine = [(task, hours) for year, task, hours in years.labour if year == number]
        for task, hours in mine:
            row += 1
            rounds = sum((d.task, d.year) == (task, number) for d in years.duties)
            sheet.write_number(row, 0, number, pages.figure(0))
            sheet.write_string(row, 1, found.task_names[task], pages.words)
            sheet.write_number(row, 2, rounds, pages.figure(0))
            rate = years.settings.rate_per_h(task)
            sheet.write_formula(row, 3, f"={_set(_RATE[task])}", pages.figure(0), rate)
            formula = _guarded(task, f"{cell(row, 2)}*{_round_hours(task, number)}")
            sheet.write_formula(row, 4, formula, pages.figure(1), hours)
            _write_days(pages, sheet, row, hours)
        row += 1
        sums.append(row)
        _write_sum(
            pages,
            sheet,
            row,
            f"Year {number}, together",
            f"=SUM({cell(first, 4)}:{cell(row - 1, 4)})",
            sum(h for _, h in mine),
        )
    formula = f"=SUM({','.join(cell(s, 4) for s in sums)})"
    total = sum(h for *_, h in years.labour)
    _write_sum(pages, sheet, row + 2, "All years", formula, total)


def _write_sum(pages: _Pages, sheet, row: int, words: str, formula: str, hours: float) -> None:
    sheet.write_string(row, 1, words, pages.looks(bold=True, top=1))
    sheet.write_formula(row, 4, formula, pages.figure(1, bold=True, top=1), hours)
    _write_days(pages, sheet, row, hours, bold=True, top=1)


def _write_days(pages: _Pages, sheet, row: int, hours: float, **how) -> None:
    at, a_day = cell(row, 4), _set(_DAY_HOURS)
    formula = f'=IF(N({a_day})>0,N({at})/{a_day},"")'
    sheet.write_formula(row, 5, formula, pages.figure(1, **how), hours / pages.found.hours_a_day)


def _write_assumptions(pages: _Pages) -> None:
    found, years = pages.found, pages.found.years
    units, settings = found.units, years.settings
    headings = [
        Heading("Assumed", 52, False),
        Heading("Value", 12),
        Heading("Unit", 24, False),
        Heading("Where it comes from", 60, False),
    ]
    words = "Framed cells can be changed: calendar, crop and labour follow."
    sheet = pages.sheet("Assumptions", "what is reckoned with", words, headings)

    def line(row: int, name: str, value: float, unit: str, whence: str, decimals: int) -> None:
        sheet.write_string(row, 0, name, pages.words)
        look = pages.figure(decimals, border=1, bg_color=PAPER)
        sheet.write_number(row, _VALUE, value, look)
        sheet.write_string(row, 2, unit, pages.looks.soft)
        sheet.write_string(row, 3, whence, pages.looks.soft)

    line(_VINES, "Vines", years.vines, "each", "Counted on the plan", 0)
    mature = settings.mature_kg_vine / units.mass_kg
    line(_MATURE, "Crop of a mature vine", mature, units.mass, _OF_PROJECT, 2)
    line(_DAY_HOURS, "Work in a day", found.hours_a_day, "h", "Set for the planting crew", 1)
    for task, (_, usual) in YEAR_TASKS.items():
        rate = settings.rate_per_h(task)
        whence = "Common practice" if rate == usual else f"Set; common practice is {usual:g}"
        name = found.task_names[task]
        line(_RATE[task], name, rate, "vines a person and hour", whence, 0)
    for i, share in enumerate(settings.shares_pct):
        name = f"Crop of year {i + 1}, of a mature one"
        line(_FIRST_SHARE + i, name, share, "%", "Set; the usual ramp is common practice", 1)


def _write_about(pages: _Pages) -> None:
    """Everything that must be known to read the other sheets, in words."""
    sheet = pages.sheet("About", "how it is meant", "", [Heading("", 120, False)])
    row = HEAD_ROW + 1
    for heading, texts in pages.found.about_sections:
        sheet.write_string(row, 0, heading, pages.looks(bold=True))
        for text in texts:
            row += 1
            sheet.write_string(row, 0, text, pages.words)
        row += 2
