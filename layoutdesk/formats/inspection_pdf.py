"""inspection.pdf: a sheet for every inspector, to be filled by hand on the way through the rows."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path

from .orders_pdf_flow import Column, Flow, leading_mm
from .pdf_ground import box
from .pdf_heads import PageHead, set_heading
from .pdf_pen import Pen

_FOOT_WORDS = "Sheets are paper: what was seen counts when it is recorded, by form or by hand."
_LINE_MM = 6.0
"""From vine to vine on the list: room for a pencil. [mm]"""
_BOX_MM = 3.6
_LEAST_BOXES_MM = 9.0
"""From box to box, at most. [mm]"""
_REMARK_MM = 34.0
_SIGNED_MM, _KEPT = 30.0, 3
"""Who signs stands below three vines at least, not on a page alone."""


@dataclass(frozen=True)
class VineLine:
    """A vine to look at: its row's code, its own number there, its lot, and what is on record of it."""

    row: str
    vine: str
    lot: str
    known: str


@dataclass(frozen=True, eq=False)
class InspectionSheet:
    """What one inspector takes along.

    Attributes
    ----------
    title : str
        "Inspection sheet 1 of 2".
    summary : str
        How many vines in which rows.
    vines : tuple of VineLine
        In the order they are walked by.
    """

    title: str
    summary: str
    vines: tuple[VineLine, ...]


@dataclass(frozen=True, eq=False)
class InspectionSet:
    """All sheets, and what stands on each of them.

    Attributes
    ----------
    name : str
        Of the site.
    said_of : str
        Plan mark and day.
    day : datetime.date or None
        The file's own.
    lots : tuple of tuple of str
        A line a lot: lot, plant, vines, to look at, accepted, found out, what the printed table takes.
    how : tuple of str
        How the sample came about, before the lists.
    checks : tuple of (str, str)
        Short head of the column, and what is right.
    fill : str
        How boxes are filled.
    exceeded : tuple of str
        What to do with faults, and when more are faulty than are accepted.
    cautions : tuple of str
    sheets : tuple of InspectionSheet
    missing : str
        Why there are no sheets; empty where there are.
    """

    name: str
    said_of: str
    day: datetime.date | None
    lots: tuple[tuple[str, ...], ...]
    how: tuple[str, ...]
    checks: tuple[tuple[str, str], ...]
    fill: str
    exceeded: tuple[str, ...]
    cautions: tuple[str, ...]
    sheets: tuple[InspectionSheet, ...]
    missing: str = ""


def write_inspection_pdf(
    path, found: InspectionSet, size_mm: tuple[float, float], fonts: Path, progress=None
) -> int:
    """Write the sheets as vectors, with typefaces embedded; returns how many pages there are.

    Where there is nothing to look at there is one page that says why.

    Parameters
    ----------
    path : path
    found : InspectionSet
    size_mm : (float, float)
        Width and height of pages, upright. [mm]
    fonts : Path
        Folder of the program's typefaces.
    progress : function of (share done, what is written), optional
        May raise to cancel.
    """
    pen = Pen(path, *size_mm, fonts)
    pen.named(f"{found.name}: inspection sheets", found.said_of)
    head = PageHead(found.name, found.said_of, _FOOT_WORDS)
    parts = [("Inspection sheets", lambda flow: flow.text(found.missing, "serif", 11))]
    if found.sheets:
        parts = [(s.title, lambda flow, s=s: _set_sheet(flow, found, s)) for s in found.sheets]
    pages = []
    for title, fill in parts:
        flow = head.flow(pen)
        fill(flow)
        of_part = len(flow.pages)
        pages += [(title, i, of_part, draws) for i, draws in enumerate(flow.pages)]
    say = progress or (lambda share, what: None)
    for number, (title, at, of_part, draws) in enumerate(pages):
        say(number / len(pages), title)
        if not at:
            pen.marked(title)
        head.draw(pen, title, f"page {at + 1} of {of_part} of this sheet")
        for draw in draws:
            draw()
        pen.end_page()
    pen.save(found.day or datetime.date(2000, 1, 1))
    return len(pages)


def _set_sheet(flow: Flow, found: InspectionSet, sheet: InspectionSheet) -> None:
    flow.text(sheet.summary, "serif", 10.5)
    flow.gap(1.5)
    columns = (
        *(Column("Lot", "left", strong=True), Column("Plant", "left", wraps=True)),
        *(
            Column("Vines of it"),
            Column("To look at, all sheets"),
            Column("Faulty, accepted up to"),
        ),
        *(Column("Found out with"), Column("Printed table takes, accepts")),
    )
    flow.table(columns, found.lots, 8)
    for text in found.how:
        flow.gap(1)
        flow.text(text, size=7.5, colour="soft")
    set_heading(flow, "What is right", gap_mm=3.0, keep_mm=30.0)
    _set_checks(flow, found)
    set_heading(flow, "What is done with what is found", gap_mm=3.0, keep_mm=8.0)
    for text in found.exceeded:
        flow.text(text, size=8.5)
        flow.gap(0.6)
    set_heading(flow, "Cautions", gap_mm=3.0, keep_mm=8.0)
    for text in found.cautions:
        flow.text(text, size=7.5)
        flow.gap(0.5)
    set_heading(flow, "Vines in the order they are walked by", gap_mm=3.0, keep_mm=3 * _LINE_MM)
    flow.text(found.fill, size=8, colour="soft")
    _set_vines(flow, found, sheet)
    flow.fields(("Vines looked at", "Faulty vines, by lot", "Put right at once"))
    flow.fields(("Inspector", "Date", "Signature"))


def _set_checks(flow: Flow, found: InspectionSet) -> None:
    """Numbers of the boxes and what is right, in two columns."""
    pen, leading, half = flow.pen, leading_mm(8.5), flow.wide_mm / 2
    down = -(-len(found.checks) // 2)
    flow.room_for(down * leading + 1)
    top = flow.y_mm

    def draw():
        for i, (head, words) in enumerate(found.checks):
            x = flow.left_mm + (i // down) * half
            y = top + (i % down + 0.8) * leading
            pen.text(x, y, f"{i + 1}", "sans strong", 8.5)
            told = f"{head}: {words}" if head.lower() not in words.lower() else words
            pen.text_within(x + 5, y, f"{told[:1].upper()}{told[1:]}", "sans", 8.5, half - 8)

    flow.draw(draw)
    flow.y_mm += down * leading + 1


@dataclass(frozen=True)
class _Places:
    """Where the columns of the list begin. [mm]"""

    vine: float
    lot: float
    boxes: tuple[float, ...]
    reworked: float
    known: float


def _set_vines(flow: Flow, found: InspectionSet, sheet: InspectionSheet) -> None:
    """A line a vine: its code, its lot, a box for every check, and room for a remark."""
    pen = flow.pen
    at = _places(flow, found, sheet)
    room = flow.bottom_mm - flow.y_mm
    if room < 4 * _LINE_MM:
        flow.turn()
    _list_head(flow, found, at)
    before = ""
    last = len(sheet.vines) - _KEPT
    for i, line in enumerate(sheet.vines):
        if flow.room_for(_LINE_MM if i != last else _KEPT * _LINE_MM + 1 + _SIGNED_MM):
            _list_head(flow, found, at)
            before = ""
        flow.draw(lambda line=line, y=flow.y_mm, new=line.row != before: _draw_vine(flow, at, line, y, new))  # fmt: skip
        before = line.row
        flow.y_mm += _LINE_MM
    y = flow.y_mm
    flow.draw(lambda: pen.line(flow.left_mm, y, flow.right_mm, y, "soft", 0.2))
    flow.y_mm += 1


def _places(flow: Flow, found: InspectionSet, sheet: InspectionSheet) -> _Places:
    pen = flow.pen

    def widest(texts, face="sans", size=8.5) -> float:
        return max((pen.width_of_mm(t, face, size) for t in texts), default=0.0)

    vine = flow.left_mm + widest({v.row for v in sheet.vines}, "sans strong") + 3
    lot = vine + widest({v.vine for v in sheet.vines}) + 4
    boxes = lot + min(widest({v.lot for v in sheet.vines}, size=8) + 3, 30)
    n = len(found.checks) + 1
    step = min(_LEAST_BOXES_MM, (flow.right_mm - _REMARK_MM - boxes) / n)
    starts = tuple(boxes + k * step for k in range(n))
    return _Places(vine, lot, starts[:-1], starts[-1] + 1, starts[-1] + step + 1)


def _list_head(flow: Flow, found: InspectionSet, at: _Places) -> None:
    pen, y = flow.pen, flow.y_mm + 4

    def draw():
        heads = [(flow.left_mm, "row"), (at.vine, "vine"), (at.lot, "lot"), (at.known, "remark")]
        for x, text in heads:
            pen.text(x, y, text, "sans", 7, colour="soft")
        for k, x in enumerate(at.boxes, 1):
            pen.text(x + _BOX_MM / 2, y, f"{k}", "sans strong", 8, "centre")
        pen.text(at.reworked + _BOX_MM / 2, y, "R", "sans strong", 8, "centre")

    flow.draw(draw)
    flow.y_mm += 5


def _draw_vine(flow: Flow, at: _Places, line: VineLine, top: float, new_row: bool) -> None:
    pen, y = flow.pen, top + 0.7 * _LINE_MM
    pen.line(flow.left_mm, top, flow.right_mm, top, "soft" if new_row else "hairline", 0.2)
    if new_row:
        pen.text(flow.left_mm, y, line.row, "sans strong", 8.5)
    pen.text(at.vine, y, line.vine, "sans strong", 8.5)
    pen.text_within(at.lot, y, line.lot, "sans", 8, at.boxes[0] - at.lot - 2)
    for x in (*at.boxes, at.reworked):
        pen.area(box(x, top + (_LINE_MM - _BOX_MM) / 2, _BOX_MM, _BOX_MM), None, "ink", 0.2)
    if line.known:
        pen.text_within(at.known, y, line.known, "sans", 7, flow.right_mm - at.known, "soft")
