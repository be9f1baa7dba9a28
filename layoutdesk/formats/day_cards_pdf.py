"""day-cards.pdf: one card a day of planting, for the crew in the field; all days at a glance before them."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from .day_plan_pdf import LEGEND_MM, DayPicture, draw_day_plan, draw_mark, lot_letter
from .orders_pdf_flow import Column, Flow, broken, leading_mm
from .pdf_ground import box
from .pdf_heads import PageHead, set_heading
from .pdf_pen import Pen

_FOOT_WORDS = "The supervisor on site, the employer's and local rules go before this card."
_LIST_PT = 7.5
_LEAST_MM = 15.0
"""A plant's name with less room is left out beside a lot's long name."""


@dataclass(frozen=True)
class LotRow:
    """What is brought of a lot, in words; `brought` is trays, or plants where nobody said what one holds."""

    name: str
    plant: str
    vines: str
    brought: str


@dataclass(frozen=True)
class RunRow:
    """A piece of row to plant: its code, vines "001–096", how many, the lot's letter, trays and to which end."""

    code: str
    vines: str
    count: str
    lot: int
    trays: str


@dataclass(frozen=True, eq=False)
class DayCard:
    """One day of planting, all texts prepared.

    Attributes
    ----------
    title : str
        "Day 3 of 24: Monday 5 April 2027".
    summary : str
        Rows, vines, people, hours.
    waits : tuple of str
        What has to be done before anything is planted.
    before : str
        What is wetted, and when.
    picture : DayPicture or None
    lots : tuple of LotRow
        In the order of their letters.
    ends : str
        What the row ends of the list are.
    runs : tuple of RunRow
    hours : tuple of (str, str, str)
        Task, hours of one person, people all day long.
    steps, checks, cautions : tuple of str
    """

    title: str
    summary: str
    waits: tuple[str, ...]
    before: str
    picture: DayPicture | None
    lots: tuple[LotRow, ...]
    ends: str
    runs: tuple[RunRow, ...]
    hours: tuple[tuple[str, str, str], ...]
    steps: tuple[str, ...]
    checks: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class DayCardSet:
    """All cards, and what stands before them.

    Attributes
    ----------
    name : str
        Of the site.
    said_of : str
        Plan mark, revision and day.
    day : datetime.date or None
        The file's own.
    summary : tuple of str
        All days together.
    days : tuple of tuple of str
        A line a day: number, day, rows, lots, vines, trays, hours, sets to wet.
    notes : tuple of str
        How it is meant, and findings.
    cards : tuple of DayCard
    missing : str
        Why there are no cards; empty where there are.
    """

    name: str
    said_of: str
    day: datetime.date | None
    summary: tuple[str, ...]
    days: tuple[tuple[str, ...], ...]
    notes: tuple[str, ...]
    cards: tuple[DayCard, ...]
    missing: str = ""


def write_day_cards_pdf(
    path, found: DayCardSet, size_mm: tuple[float, float], fonts: Path, progress=None
) -> int:
    """Write the cards as vectors, with typefaces embedded; returns how many pages there are.

    Where there are no days there is one page that says why.

    Parameters
    ----------
    path : path
    found : DayCardSet
    size_mm : (float, float)
        Width and height of pages, upright. [mm]
    fonts : Path
        Folder of the program's typefaces.
    progress : function of (share done, what is written), optional
        May raise to cancel.
    """
    pen = Pen(path, *size_mm, fonts)
    pen.named(f"{found.name}: day cards", found.said_of)
    head = PageHead(found.name, found.said_of, _FOOT_WORDS)
    parts = [("All days at a glance", lambda flow: _set_glance(flow, found))]
    if not found.cards:
        parts = [("Day cards", lambda flow: flow.text(found.missing, "serif", 11))]
    parts += [(c.title, lambda flow, c=c: _set_card(flow, c)) for c in found.cards]
    pages = []
    for title, fill in parts:
        flow = head.flow(pen)
        fill(flow)
        pages += [(title, i, draws) for i, draws in enumerate(flow.pages)]
    say = progress or (lambda share, what: None)
    for number, (title, of_part, draws) in enumerate(pages, 1):
        say((number - 1) / len(pages), title)
        if not of_part:
            pen.marked(title)
        head.draw(pen, title, f"page {number} of {len(pages)}")
        for draw in draws:
            draw()
        pen.end_page()
    pen.save(found.day or datetime.date(2000, 1, 1))
    return len(pages)


def _set_glance(flow: Flow, found: DayCardSet) -> None:
    """All days as a table, and how they came about."""
    for text in found.summary:
        flow.text(text, "serif", 10.5)
        flow.gap(1.2)
    flow.gap(1)
    columns = (
        *(Column("Day", "left", strong=True), Column("Date", "left")),
        *(Column("Rows", "left", wraps=True), Column("Lots", "left"), Column("Vines")),
        *(Column("Trays"), Column("Crew works"), Column("Wet the day before", "left")),
    )
    flow.table(columns, found.days, 8)
    set_heading(flow, "How it is meant", gap_mm=3.5, keep_mm=8.0)
    for text in found.notes:
        flow.text(text, size=8)
        flow.gap(0.8)


def _set_card(flow: Flow, card: DayCard) -> None:
    flow.text(card.summary, "serif", 10.5)
    for text in card.waits:
        flow.gap(1)
        flow.text(f"Waits: {text}", "sans strong", 8.5, "accent")
    flow.gap(1.2)
    flow.text(card.before, "sans strong", 8.5)
    if card.picture is not None:
        _set_picture(flow, card.picture)
    _set_lots(flow, card)
    _set_runs(flow, card)
    set_heading(flow, "How each vine is planted", gap_mm=3.5, keep_mm=_steps_mm(flow, card.steps))
    for number, text in enumerate(card.steps, 1):
        _numbered(flow, f"{number}", text)
    _set_checks_and_hours(flow, card)
    set_heading(flow, "Cautions", gap_mm=3.5, keep_mm=8.0)
    for text in card.cautions:
        flow.text(text, size=7.5)
        flow.gap(0.5)
    flow.gap(1)
    flow.room_for(28)
    flow.fields(("Vines planted", "Plants refused, and why", "Left over, by lot"))
    flow.fields(("Crew led by", "Date", "Signature"))


def _set_picture(flow: Flow, picture: DayPicture) -> None:
    flow.gap(2)
    flow.room_for(picture.height_mm + LEGEND_MM)
    x, y = flow.left_mm, flow.y_mm
    flow.draw(lambda: draw_day_plan(flow.pen, picture, x, y))
    flow.y_mm += picture.height_mm + LEGEND_MM


def _set_lots(flow: Flow, card: DayCard) -> None:
    """Letter and stroke of every lot as on the plan, and what is brought of it."""
    set_heading(flow, "Brought that morning", gap_mm=3.5, keep_mm=10.0)
    leading = leading_mm(8.5)
    for at, lot in enumerate(card.lots):
        flow.room_for(leading + 1.2)
        flow.draw(partial(_draw_lot, flow, at, lot, flow.y_mm + 0.75 * leading))
        flow.y_mm += leading + 1.2


def _draw_lot(flow: Flow, at: int, lot: LotRow, y: float) -> None:
    pen, x, right = flow.pen, flow.left_mm, flow.right_mm
    brought = f"{lot.brought} for {lot.vines}"
    pen.text(x, y, lot_letter(at), "sans strong", 8.5)
    draw_mark(pen, at, x + 4.5, y - 1.0)
    named = x + 16
    room = right - named - pen.width_of_mm(brought, "sans strong", 8.5) - 4
    pen.text_within(named, y, lot.name, "sans strong", 8.5, room)
    after = pen.width_of_mm(lot.name, "sans strong", 8.5) + 3
    if room - after > _LEAST_MM:
        pen.text_within(named + after, y, lot.plant, "sans", 8.5, room - after)
    pen.text(right, y, brought, "sans strong", 8.5, "right")
    pen.line(x, y + 1.5, right, y + 1.5, "hairline", 0.15)


def _set_runs(flow: Flow, card: DayCard) -> None:
    """Pieces of row in the order they are planted, in columns side by side."""
    set_heading(flow, "Rows in the order they are planted", gap_mm=3.5, keep_mm=20.0)
    flow.text(card.ends, size=8, colour="soft")
    pen, leading = flow.pen, leading_mm(_LIST_PT)
    heads = ("row", "vines", "", "lot", "trays to")
    cells = [(r.code, r.vines, r.count, lot_letter(r.lot), r.trays) for r in card.runs]
    widths = [
        max(
            pen.width_of_mm(heads[k], "sans", 7),
            *(pen.width_of_mm(c[k], "sans strong", _LIST_PT) for c in cells),
        )
        + 2.5
        for k in range(len(heads))
    ]
    cell = sum(widths) + 5
    across = max(1, int((flow.wide_mm + 5) / cell))
    done = 0
    while done < len(cells):
        if flow.y_mm + 4 * leading > flow.bottom_mm:
            flow.turn()
        flow.y_mm += 1
        high = int((flow.bottom_mm - flow.y_mm - 1.4 * leading) / leading)
        left = cells[done:]
        down = min(high, -(-len(left) // across))
        for column in range(across):
            part = left[column * down : (column + 1) * down]
            if part:
                x = flow.left_mm + column * cell
                _set_column(flow, x, heads, widths, part)
        done += down * across
        flow.y_mm += (down + 1.4) * leading


def _set_column(flow: Flow, x: float, heads, widths, part) -> None:
    pen, top, leading = flow.pen, flow.y_mm, leading_mm(_LIST_PT)

    def draw():
        at = x
        for k, (head, wide) in enumerate(zip(heads, widths, strict=True)):
            right = k == 2
            place, align = (at + wide - 2.5, "right") if right else (at, "left")
            pen.text(place, top + 0.8 * leading, head, "sans", 7, align, "soft")
            face = "sans strong" if k in (0, 4) else "sans"
            for i, line in enumerate(part):
                y = top + (i + 2) * leading
                pen.text(place, y, line[k], face, _LIST_PT, align)
            at += wide
        foot = top + 1.1 * leading
        pen.line(x, foot, x + sum(widths), foot, "soft", 0.2)

    flow.draw(draw)


_STEP_PT, _INDENT_MM, _STEP_GAP_MM = 8.5, 6.0, 0.6


def _steps_mm(flow: Flow, steps: tuple[str, ...]) -> float:
    """How high all steps are together: they are not parted. [mm]"""
    wide, leading = flow.wide_mm - _INDENT_MM, leading_mm(_STEP_PT)
    lines = [broken(flow.pen, text, "sans", _STEP_PT, wide) for text in steps]
    return sum(leading * len(one) + _STEP_GAP_MM for one in lines) + 2.0


def _numbered(flow: Flow, number: str, text: str) -> None:
    """A step with its number before it, its lines under one another."""
    pen, leading = flow.pen, leading_mm(_STEP_PT)
    lines = broken(pen, text, "sans", _STEP_PT, flow.wide_mm - _INDENT_MM)
    flow.room_for(leading * len(lines) + _STEP_GAP_MM)
    y = flow.y_mm + 0.72 * leading

    def draw():
        pen.text(flow.left_mm + 3.5, y, number, "sans strong", _STEP_PT, "right")
        pen.text_lines(flow.left_mm + _INDENT_MM, y, lines, "sans", _STEP_PT, leading)

    flow.draw(draw)
    flow.y_mm += leading * len(lines) + _STEP_GAP_MM


def _set_checks_and_hours(flow: Flow, card: DayCard) -> None:
    """What is looked at on every vine at the left, boxes for the eye alone; hours at the right."""
    pen, leading, half = flow.pen, leading_mm(8.5), flow.wide_mm / 2
    flow.gap(3.5)
    lines = 2 + max(len(card.checks), len(card.hours) + 1)
    flow.room_for(lines * leading)
    top, x, right = flow.y_mm + leading, flow.left_mm, flow.left_mm + half - 2

    def draw():
        pen.text(x, top, "Right on each vine before the next one", "serif strong", 10.5)
        for i, text in enumerate(card.checks, 1):
            y = top + (i + 0.3) * leading
            pen.area(box(x + 0.4, y - 2.0, 2.2, 2.2), None, "soft", 0.2)
            pen.text_within(x + 6.0, y, text, "sans", 8.5, half - 12)
        pen.text(right, top, "Hours", "serif strong", 10.5)
        columns = flow.right_mm - 22, flow.right_mm
        for place, text in zip(columns, ("one person", "people, all day"), strict=True):
            pen.text(place, top + 0.3 * leading, text, "sans", 7, "right", "soft")
        for i, (task, *figures) in enumerate(card.hours, 1):
            y = top + (i + 0.3) * leading
            pen.text_within(right, y, task, "sans", 8, columns[0] - right - 12)
            for place, text in zip(columns, figures, strict=True):
                pen.text(place, y, text, "sans", 8, "right")

    flow.draw(draw)
    flow.y_mm += lines * leading
