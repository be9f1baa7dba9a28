"""first-years.pdf: what is to be done year by year, the crop to expect, labour, and what must be known."""

from __future__ import annotations

import datetime
from pathlib import Path

from .first_years_charts import chart_mm, draw_months, draw_ramp
from .orders_pdf_flow import Column, Flow, broken, leading_mm
from .pdf_heads import PageHead, set_heading
from .pdf_pen import Pen
from .yearset import DutyRow, FirstYearsSet

_TITLE = "The first years"
_FOOT_WORDS = "Days, rates and the crop are common practice, and no forecast: the site decides."
_YEARS_A_TABLE = 6
_WHEN_MM = 50.0
"""Kept for days and hours."""
_LEAST_OF_A_YEAR_MM = 40.0
"""Of its table, beside the bars: a year begins on a new page where there is less room."""


def write_first_years_pdf(
    path, found: FirstYearsSet, size_mm: tuple[float, float], fonts: Path
) -> int:
    """Write the calendar as vectors, with typefaces embedded; returns how many pages there are.

    Where no planting day is known there is one page that says so.

    Parameters
    ----------
    path : path
    found : FirstYearsSet
    size_mm : (float, float)
        Width and height of pages, upright. [mm]
    fonts : Path
        Folder of the program's typefaces.
    """
    pen = Pen(path, *size_mm, fonts)
    pen.named(f"{found.project.name}: the first years", f"Revision {found.revision}")
    head = PageHead(found.project.name, found.said_of, _FOOT_WORDS)
    parts = [(_TITLE, _set_missing)]
    if found.years is not None:
        parts = [
            ("At a glance", _set_glance),
            ("Year by year", _set_years),
            ("Labour and what must be known", _set_words),
        ]
    pages = []
    for title, fill in parts:
        flow = head.flow(pen, 5.0)
        fill(flow, found)
        pages += [(title, draws) for draws in flow.pages]
    marked = set()
    for number, (title, draws) in enumerate(pages, 1):
        if title not in marked:
            pen.marked(title)
            marked.add(title)
        head.draw(pen, _said(title), f"page {number} of {len(pages)}")
        for draw in draws:
            draw()
        pen.end_page()
    pen.save(found.day or datetime.date(2000, 1, 1))
    return len(pages)


def _said(title: str) -> str:
    """A page's title as its head has it."""
    return _TITLE if title == _TITLE else f"{_TITLE}: {title[0].lower()}{title[1:]}"


def _set_missing(flow: Flow, found: FirstYearsSet) -> None:
    flow.text(found.missing, "serif", 11)


def _set_glance(flow: Flow, found: FirstYearsSet) -> None:
    """All years on one page: what is done when, what is picked, and how it is counted."""
    years = found.years
    flow.text(found.summary, "serif", 10.5)
    for text in years.cautions:
        flow.gap(1.5)
        flow.text(text, "sans strong", 8.5, "accent")
    set_heading(flow, "What is done when")
    flow.gap(1)
    bands = tuple((f"Year {n}", *span) for n, span in enumerate(years.spans, 1))
    begins, ends = years.spans[0][0], years.spans[-1][1]
    draw_months(flow, list(years.duties), begins, ends, found.task_names, bands)
    flow.text(
        "Filled bars are work, red ones the picking. Bars of one round of ties or checks are a few days.",
        size=7.5,
        colour="soft",
    )
    set_heading(flow, "The crop to expect", keep_mm=50.0)
    flow.text(
        f"Share of a mature crop, and mass of all vines, losses not taken off. {found.decided[-1]}",
        size=8,
        colour="soft",
    )
    draw_ramp(flow, found)
    set_heading(flow, "Two ways of counting to the first small crop")
    for text in found.counting:
        flow.text(text, size=8.5)
        flow.gap(0.8)


def _set_years(flow: Flow, found: FirstYearsSet) -> None:
    """Every growing year with its bars over months and its table."""
    for number, (title, span) in enumerate(
        zip(found.year_titles, found.years.spans, strict=True), 1
    ):
        duties = [d for d in found.years.duties if d.year == number]
        if number > 1:
            flow.gap(5)
        flow.room_for(8.0 + chart_mm(duties) + _LEAST_OF_A_YEAR_MM)
        flow.text(title, "serif strong", 12)
        flow.gap(1.5)
        draw_months(flow, duties, *span)
        if number == 1:
            flow.text(
                "Outlined bars: no hours are counted, as they follow from what is found.",
                size=7.5,
                colour="soft",
            )
            flow.gap(1)
        for row in found.duty_rows:
            if row.year == number:
                _set_duty(flow, row)


def _set_duty(flow: Flow, row: DutyRow) -> None:
    """Days and hours on the left, what and how beside them, a hairline under both."""
    pen, right = flow.pen, flow.left_mm + _WHEN_MM
    leading = leading_mm(8)
    when = broken(pen, row.when, "sans", 8, _WHEN_MM - 4.0)
    titles = broken(pen, row.what, "sans strong", 8, flow.right_mm - right)
    words = broken(pen, row.words, "sans", 8, flow.right_mm - right)
    hours = [f"{row.hours} of work"] if row.hours else []
    high = leading * max(len(when) + len(hours), len(titles) + len(words)) + 2.0
    flow.room_for(high)
    y = flow.y_mm + leading

    def draw() -> None:
        pen.text_lines(flow.left_mm, y, when, "sans", 8, leading)
        pen.text_lines(flow.left_mm, y + len(when) * leading, hours, "sans", 8, leading, "soft")
        pen.text_lines(right, y, titles, "sans strong", 8, leading)
        pen.text_lines(right, y + len(titles) * leading, words, "sans", 8, leading)
        foot = y - leading + high
        pen.line(flow.left_mm, foot, flow.right_mm, foot, "hairline", 0.15)

    flow.draw(draw)
    flow.y_mm += high


def _set_words(flow: Flow, found: FirstYearsSet) -> None:
    set_heading(flow, "Hours of work", keep_mm=40.0)
    numbers = list(range(1, len(found.years.spans) + 1))
    for i in range(0, len(numbers), _YEARS_A_TABLE):
        _set_labour(flow, found, numbers[i : i + _YEARS_A_TABLE])
        flow.gap(2)
    for heading, texts in found.about_sections:
        if heading.startswith("Two ways"):
            continue  # stands on the first page
        set_heading(flow, heading, keep_mm=8.0)
        for text in texts:
            flow.text(text, size=8.5)
            flow.gap(0.8)


def _set_labour(flow: Flow, found: FirstYearsSet, numbers: list[int]) -> None:
    years = found.years
    hours = {(year, task): h for year, task, h in years.labour}
    tasks = [t for t in found.task_names if any((n, t) in hours for n in numbers)]
    columns = (
        *(Column("", "left", wraps=True), Column("Vines a person and hour")),
        *(Column(f"Year\u00a0{n}") for n in numbers),
    )
    rows = [
        (
            found.task_names[task],
            f"{years.settings.rate_per_h(task):g}",
            *(_hours(hours.get((n, task))) for n in numbers),
        )
        for task in tasks
    ]
    sums = [sum(h for (year, _), h in hours.items() if year == n) for n in numbers]
    flow.table(columns, rows, 8, ("Together", "", *map(_hours, sums)))


def _hours(hours: float | None) -> str:
    if hours is None:
        return "–"
    return f"{hours:,.{0 if hours >= 9.95 else 1}f}".replace(",", "\u202f")
