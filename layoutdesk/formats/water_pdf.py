"""irrigation.pdf: the plan to scale, sets and uniformity, run times, parts, assumptions and cautions."""

from __future__ import annotations

import datetime
from pathlib import Path

from .orders_pdf_flow import Column, Flow
from .pdf_heads import PageHead, set_heading
from .pdf_pen import Pen
from .water_pdf_plan import draw_water_plan, share_runs
from .waterset import WaterFiles

HEAD_MM = 16.0
"""Of site, title, revision and day at the top of a plan. [mm]"""
_FOOT_WORDS = (
    "A proposal for a licensed irrigation designer to check and approve; no certified design."
)


def write_irrigation_pdf(path, water: WaterFiles, size_mm: tuple[float, float], fonts: Path) -> int:
    """Write the sheet as vectors, with typefaces embedded; returns how many pages there are.

    Parameters
    ----------
    path : path
    water : WaterFiles
    size_mm : (float, float)
        Width and height of pages with text, upright; plans have pages of their own size. [mm]
    fonts : Path
        Folder of the program's typefaces.
    """
    first = water.plan_pages[0] if water.plan_pages else None
    pen = Pen(path, *((first.width_mm, first.height_mm) if first else size_mm), fonts)
    pen.named(f"{water.project.name}: irrigation sheet", f"Revision {water.revision}")
    head = PageHead(water.project.name, water.said_of, _FOOT_WORDS)
    runs = share_runs(water) if water.plan_pages else None
    pages = [
        ("Plans", plan.title, (plan.width_mm, plan.height_mm), [_plan(pen, water, plan, runs)])
        for plan in water.plan_pages
    ]
    for title, fill in (
        ("Sets and uniformity", _set_sets),
        ("Run times", _set_run_times),
        ("Pipes and fittings", _set_parts),
        ("What was decided and assumed, findings and cautions", _set_words),
    ):
        pen.width_mm, pen.height_mm = size_mm
        flow = head.flow(pen, 5.0)
        fill(flow, water)
        pages += [(title, title, size_mm, page) for page in flow.pages]
    marked = set()
    for number, (mark, title, size, draws) in enumerate(pages, 1):
        pen.sized(*size)
        if mark not in marked:
            pen.marked(mark)
            marked.add(mark)
        head.draw(pen, f"Irrigation sheet: {title}", f"page {number} of {len(pages)}")
        for draw in draws:
            draw()
        pen.end_page()
    pen.save(water.day or datetime.date(2000, 1, 1))
    return len(pages)


def _plan(pen: Pen, water: WaterFiles, page, runs):
    return lambda: draw_water_plan(pen, water, page, runs)


def _set_sets(flow: Flow, water: WaterFiles) -> None:
    """What is to be said first, the figures, and the sets as tables."""
    for text in water.sentences:
        flow.text(text, "serif", 10.5)
        flow.gap(1.2)
    if not water.set_rows:
        return
    set_heading(flow, "Figures")
    flow.table(
        (Column("", "left"), Column("", "left", strong=True), Column("", "left", wraps=True)),
        water.figures,
        8,
    )
    for text in water.classes:
        flow.gap(1)
        flow.text(text, size=7.5, colour="soft")
    set_heading(flow, "Sets: rows that are watered together")
    columns = (
        *(Column("Set", "left", strong=True), Column("Rows", "left", wraps=True), Column("Vines")),
        *(Column("Flow"), Column("Asks of the source"), Column("Source has then")),
        *(Column("Emission uniformity"), Column("Distribution uniformity")),
    )
    rows = [
        (s.number, s.rows, s.vines, s.flow, s.head, s.available, s.eu, s.du) for s in water.set_rows
    ]
    flow.table(columns, rows, 8)
    set_heading(flow, "Pipes of the sets, from the valve outward and from the source to the valve")
    flow.table(
        (Column("Set", "left", strong=True), Column("Pipes", "left", wraps=True)),
        [(s.number, s.pipes) for s in water.set_rows],
        8,
    )


def _set_run_times(flow: Flow, water: WaterFiles) -> None:
    """Before planting, months by set, weeks of the site."""
    if not water.set_rows:
        flow.text("There are no vines to water.")
        return
    set_heading(flow, "Before planting and right after it")
    flow.text(water.before, "serif", 10)
    flow.gap(1.5)
    columns = (
        *(Column("Set", "left", strong=True), Column("Rows", "left", wraps=True)),
        *(Column("Wetting run, the day before"), Column("First watering"), Column("Fullest week")),
    )
    flow.table(columns, [(s.number, s.rows, s.wetting, s.first, s.week) for s in water.set_rows], 8)
    set_heading(flow, "Month by month")
    flow.text(
        "Hours that a set runs in a week, on average over the weeks of the month; litres or gallons are "
        f"what a vine gets. Watered on {water.run_times.days_a_week} days a week.",
        size=8,
        colour="soft",
    )
    for table in water.months:
        flow.gap(2)
        flow.text(table.title, "sans strong", 8.5, keep_mm=14)
        columns = (Column("", "left", wraps=True), *(Column(m) for m in table.months))
        flow.table(columns, table.lines, 7.5)
    set_heading(flow, "Week by week, the whole site")
    if water.weeks:
        first, *others = water.week_titles
        columns = (Column(first, "left", wraps=True), *(Column(t) for t in others))
        flow.table(columns, water.weeks, 7.5)
    flow.gap(1)
    flow.text("Weeks that are not listed need no water.", size=7.5, colour="soft")
    set_heading(flow, "Where these times come from")
    flow.text(water.run_times.statement, size=8.5)


def _set_parts(flow: Flow, water: WaterFiles) -> None:
    flow.text(
        "Net lengths: nothing is added for bends, depth of trenches or offcuts. The same parts stand in the "
        "take-off, where they are rounded up to what is sold.",
        size=8,
        colour="soft",
    )
    flow.gap(1.5)
    columns = (
        *(Column("What", "left", wraps=True), Column("Size", "left")),
        *(Column("Block", "left"), Column("Amount", strong=True)),
    )
    flow.table(columns, [(p.name, p.size, p.block, p.amount) for p in water.part_rows], 8.5)


def _set_words(flow: Flow, water: WaterFiles) -> None:
    for heading, texts in about_sections(water):
        set_heading(flow, heading, keep_mm=8.0)
        for text in texts:
            flow.text(text, size=8.5)
            flow.gap(0.8)


def about_sections(water: WaterFiles) -> list[tuple[str, tuple[str, ...]]]:
    """What every reader of the sheet must know, under headings; no heading without words."""
    sections = [
        ("Cautions", water.cautions),
        ("Assumed, since nobody said", water.assumed),
        *((heading, tuple(text.split("\n"))) for heading, text in water.paragraphs),
        ("Findings", water.found),
        (
            "Heights, lengths and coordinates",
            (water.heights_said, f"Survey grid: {water.survey.statement}."),
        ),
        ("The network for EPANET", water.notes),
    ]
    return [(heading, texts) for heading, texts in sections if texts]
