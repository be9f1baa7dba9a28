"""hand-off.pdf: what is in each file, where its coordinates stand, what to check, and a small plan.

The seal stands in a comment at the end, over all bytes before it, with the place of the cross-reference table
once more after it, so that readers that look for it in the last kilobyte find it.

Source: ISO 32000-1 (2008), 7.2.3 for comments and 7.5.5 for the end of a file.
"""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

from .hand_off_pdf_plan import draw_check_plan
from .handoffsheet import HandOffSheet, SheetPart
from .orders_pdf_flow import Column, Flow, broken, leading_mm
from .pdf_heads import PageHead, set_heading
from .pdf_pen import Pen
from .seal import Seal

_FOOT_WORDS = (
    "Every file is for this revision alone; boundaries and monuments are a licensed surveyor's."
)
_TEXT_PT, _TABLE_PT, _NAMES_MM = 8.5, 7.5, 30.0
_KEEP_MM, _ROW_MM, _MOST_KEPT_MM = 14.0, 5.0, 80.0


def write_hand_off_pdf(path, sheet: HandOffSheet, fonts: Path) -> int:
    """Write the sheet as vectors, with typefaces embedded; returns how many pages it has.

    Parameters
    ----------
    path : path
    sheet : HandOffSheet
    fonts : Path
        Folder of the program's typefaces.
    """
    pen = Pen(path, *sheet.size_mm, fonts)
    said_of = f"Revision {sheet.revision}, {sheet.day.isoformat()}"
    pen.named(f"{sheet.name}: hand-off sheet", said_of)
    head = PageHead(sheet.name, said_of, _FOOT_WORDS)
    flow = head.flow(pen, 5.0)
    flow.text(sheet.first, "serif strong", 11)
    for part in sheet.parts:
        _set_part(flow, part)
    plan = sheet.plan
    pages = [("Hand-off sheet", sheet.size_mm, draws) for draws in flow.pages]
    over = ("Check plan", (plan.width_mm, plan.height_mm), [lambda: draw_check_plan(pen, sheet)])
    pages.append(over)
    for number, (title, size, draws) in enumerate(pages, 1):
        pen.sized(*size)
        if title not in {t for t, _, _ in pages[: number - 1]}:
            pen.marked(title)
        head.draw(pen, title, f"page {number} of {len(pages)}")
        for draw in draws:
            draw()
        pen.end_page()
    pen.save(sheet.day)
    _put_seal(Path(path), sheet.seal)
    return len(pages)


def _set_part(flow: Flow, part: SheetPart) -> None:
    n_rows = 0 if part.table is None else len(part.table.rows)
    set_heading(flow, part.title, keep_mm=min(_KEEP_MM + n_rows * _ROW_MM, _MOST_KEPT_MM))
    for name, words in part.facts:
        _set_fact(flow, name, words)
    if part.table is not None:
        table = part.table
        columns = tuple(
            Column(title, align, strong=k == 0, wraps=k == table.wrapping)
            for k, (title, align) in enumerate(table.columns)
        )
        flow.table(columns, table.rows, _TABLE_PT)
        for words in table.under:
            flow.gap(0.8)
            flow.text(words, size=_TABLE_PT, colour="soft")
    if part.fields:
        for k in range(0, len(part.fields), 2):
            flow.fields(part.fields[k : k + 2])


def _set_fact(flow: Flow, name: str, words: str) -> None:
    """A name at the left, what is said of it beside; across the sheet where there is no name."""
    if not name:
        flow.text(words, size=_TEXT_PT)
        flow.gap(1.0)
        return
    pen, leading = flow.pen, leading_mm(_TEXT_PT)
    names = broken(pen, name, "sans strong", _TEXT_PT, _NAMES_MM - 3)
    lines = broken(pen, words, "sans", _TEXT_PT, flow.wide_mm - _NAMES_MM)
    flow.room_for(leading * min(max(len(lines), len(names)), 4))
    top = flow.y_mm
    for k, line in enumerate(lines):
        if flow.room_for(leading):
            top = flow.y_mm - k * leading
        flow.y_mm += leading
        y = flow.y_mm - 0.28 * leading
        if k < len(names):
            _text(flow, flow.left_mm, y, names[k], "sans strong")
        _text(flow, flow.left_mm + _NAMES_MM, y, line, "sans")
    for k, rest in enumerate(names[len(lines) :], len(lines)):
        flow.y_mm += leading
        _text(flow, flow.left_mm, top + (k + 1) * leading - 0.28 * leading, rest, "sans strong")
    flow.gap(1.0)


def _text(flow: Flow, x: float, y: float, text: str, face: str) -> None:
    flow.draw(lambda: flow.pen.text(x, y, text, face, _TEXT_PT))


_START = re.compile(rb"startxref\s+(\d+)\s+%%EOF\s*$")


def _put_seal(path: Path, seal: Seal) -> None:
    """Append the seal to a finished file."""
    with path.open("rb+") as file:
        written = file.read()
        start = _START.search(written)
        before = b"" if written.endswith(b"\n") else b"\n"
        before += b"%"
        checksum = hashlib.sha256(written + before).hexdigest()
        file.write(before + seal.text(checksum).encode("ascii"))
        file.write(b"\nstartxref\n" + start[1] + b"\n%%EOF\n")
