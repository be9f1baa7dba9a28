"""lots.csv: the register of lots, and under it the tag ledger, for people and programs.

A line is of a lot or of a tag, as its first column says. Columns of lots have the names that a table of lots is
read by.
"""

from __future__ import annotations

import csv
import datetime
from dataclasses import dataclass

from ..core.model.planting import Tag
from ..core.planting.needs import LotUse
from .csv_cells import csv_cell

LOT_LINE, TAG_LINE = "lot", "tag"
LOTS_COLUMNS = (
    *("line", "name", "variety", "clone", "rootstock", "nursery", "grown", "grafted", "potted", "came"),
    *("tray", "ordered", "delivered", "rejected", "references", "attachments", "all_tags_recorded"),
    *("usable", "assigned_vines", "left", "standing_vines", "tags", "tagged_plants", "contradictions"),
    *("tag_text", "tag_plants", "tag_recorded", "tag_by", "tag_struck"),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class LotRegister:
    """All lots of a site and their tags.

    Attributes
    ----------
    name : str
        Of the site.
    said_of : str
        Plan mark, revision and day.
    day : datetime.date or None
        The file's own.
    upright_mm : (float, float)
        Width and height of printed pages. [mm]
    uses : tuple of LotUse
    standing : tuple of int, or None
        Vines of each lot that stand by the register; None where nothing is recorded.
    others : tuple of (str, str, int)
        Lots that are on record and in no list any more: name, plant, vines that stand.
    tags : tuple of Tag
        In the order they were recorded.
    needs : tuple of tuple of str
        A line a plant, in words: plant, vines, spares, there, on order, short, over, last day to order.
    summary, notes : tuple of str
    """

    name: str
    said_of: str
    day: datetime.date | None
    upright_mm: tuple[float, float]
    uses: tuple[LotUse, ...]
    standing: tuple[int, ...] | None
    others: tuple[tuple[str, str, int], ...]
    tags: tuple[Tag, ...]
    needs: tuple[tuple[str, ...], ...]
    summary: tuple[str, ...]
    notes: tuple[str, ...]


def write_lots_csv(path, lots: LotRegister) -> int:
    """Write lots, then tags, lot by lot; returns how many lines there are."""
    lines = [_lot_line(lots, i, use) for i, use in enumerate(lots.uses)]
    order = {use.lot.name.casefold(): i for i, use in enumerate(lots.uses)}
    tags = sorted(lots.tags, key=lambda tag: order.get(tag.lot.casefold(), len(order)))
    lines += [_tag_line(tag) for tag in tags]
    with open(path, "w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(LOTS_COLUMNS)
        for line in lines:
            writer.writerow([csv_cell(line.get(column, "")) for column in LOTS_COLUMNS])
    return len(lines)


def _lot_line(lots: LotRegister, i: int, use: LotUse) -> dict:
    lot = use.lot
    return {
        "line": LOT_LINE,
        "name": lot.name,
        **_plant(lot.plant),
        "nursery": lot.nursery,
        "grown": lot.grown,
        "grafted": _day(lot.grafted),
        "potted": _day(lot.potted),
        "came": _day(lot.came),
        "tray": lot.tray or "",
        "ordered": lot.ordered,
        "delivered": lot.delivered,
        "rejected": lot.rejected,
        "references": lot.references,
        "attachments": "; ".join(lot.attachments),
        "all_tags_recorded": "yes" if lot.tags_recorded else "no",
        "usable": lot.usable,
        "assigned_vines": use.vines,
        "left": use.left,
        "standing_vines": "" if lots.standing is None else lots.standing[i],
        "tags": use.tags,
        "tagged_plants": use.tagged_plants,
        "contradictions": "; ".join(use.contradictions),
    }


def _tag_line(tag: Tag) -> dict:
    return {
        "line": TAG_LINE,
        "name": tag.lot,
        **_plant(tag),
        "grafted": _day(tag.grafted),
        "potted": _day(tag.potted),
        "tag_text": tag.text,
        "tag_plants": tag.plants,
        "tag_recorded": _day(tag.recorded),
        "tag_by": tag.by,
        "tag_struck": tag.struck,
    }


def _plant(said) -> dict:
    return {"variety": said.variety, "clone": said.clone, "rootstock": said.rootstock}


def _day(day: datetime.date | None) -> str:
    return day.isoformat() if day else ""
