"""lots.pdf: the register of lots and the tag ledger on paper."""

from __future__ import annotations

import datetime
from pathlib import Path

from ..core.model.planting import Tag
from ..core.planting.needs import LotUse
from .compareset import shown_number
from .lots_csv import LotRegister
from .orders_pdf_flow import Column, Flow, leading_mm
from .pdf_heads import PageHead, set_heading
from .pdf_pen import Pen

_FACT_PT = 8.5
_FACTS_ACROSS = 3
_FOOT_WORDS = "What a tag says is written down before the tag comes off; a wrong entry is struck, not taken out."
_NO_LOTS = "No lot is in the register yet: put in what is ordered, and what comes, before anything is planted."
_NO_TAGS = "No tag is recorded of this lot."


def write_lots_pdf(path, lots: LotRegister, fonts: Path) -> int:
    """Write the register, with typefaces embedded; returns how many pages there are.

    Parameters
    ----------
    path : path
    lots : LotRegister
    fonts : Path
        Folder of the program's typefaces.
    """
    pen = Pen(path, *lots.upright_mm, fonts)
    pen.named(f"{lots.name}: lots and tags", lots.said_of)
    head = PageHead(lots.name, lots.said_of, _FOOT_WORDS)
    flow = head.flow(pen)
    _set_all(flow, lots)
    for i, use in enumerate(lots.uses):
        _set_lot(flow, lots, i, use)
    _set_others(flow, lots)
    for number, draws in enumerate(flow.pages, 1):
        head.draw(pen, "Lots and their tags", f"page {number} of {len(flow.pages)}")
        for draw in draws:
            draw()
        pen.end_page()
    pen.save(lots.day or datetime.date(2000, 1, 1))
    return len(flow.pages)


def _set_all(flow: Flow, lots: LotRegister) -> None:
    """What is needed, and all lots at a glance."""
    if not lots.uses:
        flow.text(_NO_LOTS, "serif", 11)
        return
    for text in lots.summary:
        flow.text(text, "serif", 10.5)
        flow.gap(1.0)
    if lots.needs:
        set_heading(flow, "Plants that are needed", gap_mm=4.5)
        columns = (
            *(Column("Plant", "left", strong=True, wraps=True), Column("Vines"), Column("Spares")),
            *(Column("There"), Column("On order"), Column("Short"), Column("Over")),
            Column("Order short ones by"),
        )
        flow.table(columns, lots.needs, 8)
    set_heading(flow, "Lots at a glance", gap_mm=4.5)
    columns = (
        *(Column("Lot", "left", strong=True), Column("Plant", "left", wraps=True)),
        *(Column("Came", "left"), Column("Usable"), Column("Vines it is for"), Column("Left")),
        Column("Tags recorded", "left"),
    )
    rows = [
        (
            *(use.lot.name, str(use.lot.plant), _day(use.lot.came), _count_said(use.lot.usable)),
            *(_count_said(use.vines), _count_said(use.left), _tags_said(use)),
        )
        for use in lots.uses
    ]
    flow.table(columns, rows, 8)
    for text in lots.notes:
        flow.gap(1)
        flow.text(text, size=7.5, colour="soft")


def _set_lot(flow: Flow, lots: LotRegister, i: int, use: LotUse) -> None:
    """Everything of one lot, and its tags."""
    lot = use.lot
    set_heading(flow, f"Lot {lot.name}: {lot.plant}", gap_mm=4.5, keep_mm=40.0)
    stands = "none yet" if lots.standing is None else _count_said(lots.standing[i])
    tray = _count_said(lot.tray) if lot.tray else ""
    facts = (
        *(("Grown", lot.grown), ("In a tray or bundle", tray), ("Came", _day(lot.came))),
        *(("Grafted", _day(lot.grafted)), ("Potted", _day(lot.potted))),
        *(("Ordered", _count_said(lot.ordered)), ("Delivered", _count_said(lot.delivered))),
        *(("Rejected", _count_said(lot.rejected)), ("Vines it is for", _count_said(use.vines))),
        *(("Left", _count_said(use.left)), ("Standing by the record", stands)),
    )
    _set_facts(flow, facts)
    for name, text in (
        ("Nursery", lot.nursery),
        ("Certificates and tests", lot.references),
        ("Photos and scans", "; ".join(lot.attachments)),
    ):
        if text:
            flow.text(f"{name}: {text}", size=8)
    for text in use.contradictions:
        flow.gap(0.6)
        flow.text(f"May be mixed: {text}.", "sans strong", 8.5, "accent")
    flow.gap(0.8)
    flow.text(f"Tags: {_tags_said(use)}.", "sans strong", 8.5, keep_mm=8.0)
    tags = [tag for tag in lots.tags if tag.lot.casefold() == lot.name.casefold()]
    if not tags:
        flow.text(_NO_TAGS, size=8, colour="soft")
        return
    columns = (
        *(Column("Text of the tag", "left", wraps=True), Column("Variety", "left")),
        *(Column("Clone", "left"), Column("Rootstock", "left"), Column("Grafted", "left")),
        *(Column("Potted", "left"), Column("Plants"), Column("Read", "left")),
    )
    flow.table(columns, [_tag_row(tag) for tag in tags], 7.5)


def _set_facts(flow: Flow, facts) -> None:
    """Names and values, several side by side; what nobody said is a line to write on."""
    pen, leading = flow.pen, leading_mm(_FACT_PT) + 1.0
    wide = flow.wide_mm / _FACTS_ACROSS
    for begin in range(0, len(facts), _FACTS_ACROSS):
        flow.room_for(leading)
        y = flow.y_mm + 0.72 * leading
        for k, (name, text) in enumerate(facts[begin : begin + _FACTS_ACROSS]):
            flow.draw(
                lambda name=name, text=text, x=flow.left_mm + k * wide, y=y: _draw_fact(
                    pen, name, text, x, y, wide - 5
                )
            )
        flow.y_mm += leading
    flow.gap(0.8)


_FACT_NAME_MM = 28.0


def _draw_fact(pen: Pen, name: str, text: str, x: float, y: float, wide: float) -> None:
    pen.text(x, y, name, "sans", 7, colour="soft")
    if text:
        pen.text_within(x + _FACT_NAME_MM, y, text, "sans strong", _FACT_PT, wide - _FACT_NAME_MM)
    else:
        pen.line(x + _FACT_NAME_MM, y + 0.6, x + wide, y + 0.6, "hairline", 0.2)


def _set_others(flow: Flow, lots: LotRegister) -> None:
    """Lots that vines are on record of, and that the register has lost."""
    if not lots.others:
        return
    set_heading(flow, "On record at the vines, and in no list of lots any more", gap_mm=4.5)
    columns = (
        *(Column("Lot", "left", strong=True), Column("Plant", "left", wraps=True)),
        Column("Vines that stand"),
    )
    flow.table(columns, [(name, plant, _count_said(n)) for name, plant, n in lots.others], 8)


def _tag_row(tag: Tag) -> tuple[str, ...]:
    text = tag.text
    if tag.struck:
        text = f"{text} (does not count: {tag.struck})".strip()
    read = " ".join(t for t in (_day(tag.recorded), tag.by) if t)
    return (
        *(text, tag.variety, tag.clone, tag.rootstock, _day(tag.grafted), _day(tag.potted)),
        *(_count_said(tag.plants), read),
    )


def _tags_said(use: LotUse) -> str:
    recorded = f"{_count_said(use.tags)} recorded"
    return f"{recorded}, all of them" if use.lot.tags_recorded else f"{recorded}, not all yet"


def _count_said(n: int) -> str:
    return shown_number(n, 0)


def _day(day: datetime.date | None) -> str:
    return day.isoformat() if day else ""
