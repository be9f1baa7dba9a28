"""as-staked.pdf: what was measured against the plan: words, histogram, map, the farthest points, rows."""

from __future__ import annotations

from pathlib import Path

from .orders_pdf_flow import Column, Flow, leading_mm
from .pdf_ground import box
from .pdf_heads import PageHead, set_heading
from .pdf_pen import Pen
from .staked_pdf_map import draw_staked_map
from .stakedset import StakedSet

_FOOT_WORDS = (
    "What was measured counts as far as it was measured; boundaries are a licensed surveyor's."
)
_BAR_MM, _BAR_STEP_MM = 3.0, 4.4


def write_staked_pdf(
    path, staked: StakedSet, size_mm: tuple[float, float], fonts: Path, progress=None
) -> int:
    """Write the sheet as vectors, with typefaces embedded; returns how many pages it has.

    Parameters
    ----------
    path : path
    staked : StakedSet
    size_mm : (float, float)
        Width and height of pages with text, upright; the map has its own size. [mm]
    fonts : Path
        Folder of the program's typefaces.
    progress : function of (share done, what is written), optional
        May raise to cancel.
    """
    pen = Pen(path, *size_mm, fonts)
    said_of = f"Revision {staked.revision}, {staked.day.isoformat()}"
    pen.named(f"{staked.project.name}: as staked", said_of)
    head = PageHead(staked.project.name, said_of, _FOOT_WORDS)
    words = _pages(head, pen, _set_words, staked)
    lists = _pages(head, pen, _set_lists, staked)
    page = staked.map
    pages = [("As staked", size_mm, draws) for draws in words]
    pages.append(("Map", (page.width_mm, page.height_mm), [lambda: draw_staked_map(pen, staked)]))
    pages += [("Points and rows", size_mm, draws) for draws in lists]
    say = progress or (lambda share, what: None)
    marked = set()
    for number, (title, size, draws) in enumerate(pages, 1):
        say((number - 1) / len(pages), title)
        pen.sized(*size)
        if title not in marked:
            pen.marked(title)
            marked.add(title)
        told = title if title == "As staked" else f"As staked: {title.lower()}"
        head.draw(pen, f"{told}, {staked.file}", f"page {number} of {len(pages)}")
        for draw in draws:
            draw()
        pen.end_page()
    pen.save(staked.day)
    return len(pages)


def _pages(head: PageHead, pen: Pen, fill, staked: StakedSet):
    flow = head.flow(pen, 5.0)
    fill(flow, staked)
    return flow.pages


def _set_words(flow: Flow, staked: StakedSet) -> None:
    words = staked.words
    verdict, *rest = words.sentences
    flow.text(verdict, "serif strong", 11.5)
    flow.gap(2.0)
    if words.explanations:
        set_heading(flow, "What it looks like", gap_mm=2.0)
        for text, where, amount in words.explanations:
            flow.text(text, "serif", 10.5, keep_mm=6)
            told = ", ".join(t for t in (where, amount) if t)
            flow.text(f"About: {told}", size=8, colour="soft")
            flow.gap(1.5)
    set_heading(flow, "Figures", gap_mm=3.0)
    for text in rest:
        if text not in {e[0] for e in words.explanations}:
            flow.text(text, "serif", 10)
            flow.gap(1.0)
    set_heading(flow, "Points by their distance from the plan", keep_mm=30.0)
    _set_bars(flow, words.bars)
    if words.checks:
        set_heading(flow, "Decided before", keep_mm=8.0)
        for text in words.checks:
            flow.text(text, size=8.5)
            flow.gap(0.6)
    set_heading(flow, "How it was read, and cautions", keep_mm=10.0)
    for text in (*words.notes, f"Coordinates: {staked.placing.statement}."):
        flow.text(text, size=8)
        flow.gap(0.8)
    flow.fields(("Checked by", "Date", "Signature"))


def _set_bars(flow: Flow, bars) -> None:
    """A bar a step: label, bar, count; hatched by its outline alone where it is within the tolerance."""
    pen = flow.pen
    most = max((n for _, n, _ in bars), default=0) or 1
    names = max(pen.width_of_mm(label, "sans", 7.5) for label, _, _ in bars) + 3
    room = flow.wide_mm - names - 24
    high = _BAR_STEP_MM * len(bars) + 2 + leading_mm(7.5)
    flow.room_for(high)
    top = flow.y_mm + 1

    def draw():
        for i, (label, n, is_off) in enumerate(bars):
            y = top + i * _BAR_STEP_MM
            foot = y + 0.8 * _BAR_MM
            pen.text(flow.left_mm + names - 3, foot, label, "sans", 7.5, "right")
            wide = room * n / most
            x = flow.left_mm + names
            if n:
                fill, edge = ("accent", None) if is_off else (None, "row")
                pen.area(box(x, y, max(wide, 0.4), _BAR_MM), fill, edge, 0.3)
            pen.text(x + wide + 1.5, foot, f"{n:,}".replace(",", "\u202f"), "sans", 7.5)
        y = top + len(bars) * _BAR_STEP_MM + 2.6
        told = "Full bars: farther off than is asked for at posts."
        pen.text(flow.left_mm + names, y, told, "sans", 7.5, colour="soft")

    flow.draw(draw)
    flow.y_mm = top + high


def _set_lists(flow: Flow, staked: StakedSet) -> None:
    words = staked.words
    set_heading(flow, "Points beyond tolerance, the farthest first", gap_mm=0.0, keep_mm=16.0)
    if words.worst:
        raised = any(row[3] for row in words.worst)
        columns = (
            *(Column("Point", "left", strong=True, wraps=True), Column("Along the row")),
            Column("Across, right is plus"),
            *((Column("In height"),) if raised else ()),
            Column("Off", strong=True),
        )
        flow.table(columns, [row if raised else (*row[:3], row[4]) for row in words.worst], 8)
        more = words.n_worst - len(words.worst)
        if more:
            flow.gap(1)
            flow.text(
                f"And {more:,} more: all of them stand in as-staked.csv.", size=8, colour="soft"
            )
    else:
        flow.text("None: every point that was measured stands within its tolerance.", size=9)
    if not words.rows:
        return
    set_heading(flow, "Rows", keep_mm=16.0)
    flow.text(
        "Means of the points of each row; rows with points beyond tolerance first.",
        size=8,
        colour="soft",
    )
    columns = (
        *(Column("Row", "left", strong=True, wraps=True), Column("Points")),
        *(Column("Across, right is plus"), Column("Along"), Column("Farthest off")),
    )
    flow.table(columns, words.rows, 8)
