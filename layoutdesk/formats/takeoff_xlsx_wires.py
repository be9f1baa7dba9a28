"""The sheets Cuts, Roll plan and Mechanics of takeoff.xlsx: wires from rolls, and what they bear."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..core.layout.numbering import segment_letter
from ..core.materials.cautions import DEFERENCE
from ..core.materials.takeoff import TakeOff
from .takeoff_xlsx import HEAD_ROW, Heading, Pages
from .takeoffset import OrderRow, item_name
from .xlsx_looks import SOFT

_PIECES_AT_MOST = 200_000
"""On the sheet Roll plan: more make a workbook that opens slowly."""


@dataclass(frozen=True, eq=False)
class WirePlaces:
    """Where every cut of a product belongs, in the order of its need's cuts, shape (c,).

    Attributes
    ----------
    segment : int array
        Of the take-off.
    item : tuple of str
        Of the take-off: what the wire is for.
    """

    segment: np.ndarray
    item: tuple[str, ...]


def wire_places(take_off: TakeOff, row: OrderRow) -> WirePlaces:
    """Which segment each cut of a wire belongs to, and what it is for.

    Raises
    ------
    ValueError
        Where the cuts are not those of this take-off.
    """
    product = row.order.need.product
    segments: list[np.ndarray] = []
    items: list[str] = []
    for b, trellis in enumerate(take_off.trellises):
        mine = np.flatnonzero(take_off.block == b)
        for run in trellis.wires:
            if run.wire.size == product.size:
                segments.append(np.tile(mine, run.lines))
                items += [run.item] * (len(mine) * run.lines)
        if take_off.tie_m[b] and trellis.tie_wire.size == product.size:
            segments.append(np.repeat(mine, 2))
            items += ["tie_wire_m"] * (2 * len(mine))
    segment = np.concatenate([np.empty(0, np.intp), *segments])
    tie = np.array([i == "tie_wire_m" for i in items], dtype=bool)
    wrap = np.array([t.wrap_m for t in take_off.trellises])[take_off.block[segment]]
    tied = take_off.tie_m[take_off.block[segment]]
    length = np.where(tie, tied, take_off.lengths.length_m[segment] + 2 * wrap)
    cuts = row.order.need.cuts_m
    if len(cuts) != len(length) or not np.allclose(cuts, length, rtol=0, atol=1e-6):
        raise ValueError(f"row: the cuts of {row.name} are not those of this take-off")
    return WirePlaces(segment, tuple(items))


def write_cuts(pages: Pages) -> None:
    """One line a wire: rolls, the proven least, joins, and what is left over."""
    units = pages.take_off.units
    headings = [
        Heading("Wire", 34, False),
        Heading("Size", 20, False),
        Heading(f"Roll, {units.length}", 10),
        Heading("Wires and ties", 10),
        Heading(f"Shortest, {units.length}", 10),
        Heading(f"Longest, {units.length}", 10),
        Heading("Rolls", 8),
        Heading("No way takes fewer than", 12),
        Heading("Joins", 8),
        Heading("Most in one wire", 10),
        Heading("Need more joins than allowed", 14),
        Heading(f"Left over, {units.length}", 11),
        Heading(f"Longest left, {units.length}", 11),
        Heading("In words", 110, False),
    ]
    words = "Cut from rolls so that no wire is joined more often than allowed."
    sheet = pages.sheet("Cuts", "wire from rolls", words, headings)
    for row, line in enumerate(pages.take_off.wires, HEAD_ROW + 1):
        order, cutting = line.order, line.order.cutting
        cuts, left = order.need.cuts_m, cutting.left_m
        figures = (
            (order.sold.holds / units.length_m, 1),
            (len(cuts), 0),
            (float(cuts.min()) / units.length_m, 2),
            (float(cuts.max()) / units.length_m, 2),
            (cutting.n_rolls, 0),
            (cutting.bound, 0),
            (cutting.n_joins, 0),
            (int(cutting.joins.max(initial=0)), 0),
            (order.over_joined, 0),
            (float(left.sum()) / units.length_m, 1),
            (float(left.max(initial=0)) / units.length_m, 1),
        )
        sheet.write_string(row, 0, line.name, pages.looks())
        sheet.write_string(row, 1, line.size, pages.looks())
        for column, (value, decimals) in enumerate(figures, 2):
            sheet.write_number(row, column, value, pages.looks.number(decimals))
        sheet.write_string(row, len(figures) + 2, line.note, pages.looks.soft)


def write_roll_plan(pages: Pages) -> None:
    """Roll by roll, which pieces come from it; ties of one length in a block stand together."""
    t, units = pages.take_off, pages.take_off.units
    headings = [
        Heading("Wire", 34, False),
        Heading("Roll", 8),
        Heading("Block", 14, False),
        Heading("Row", 8),
        Heading("Segment", 9, False),
        Heading("For", 24, False),
        Heading("Pieces", 8),
        Heading(f"Length of each, {units.length}", 14),
        Heading("Part of a joined wire", 18, False),
    ]
    words = "One way of cutting that takes the rolls ordered; an overlap is in a joined piece."
    sheet = pages.sheet("Roll plan", "which wire comes from which roll", words, headings, 2)
    row = HEAD_ROW
    words_look, figure, length = pages.looks(), pages.looks.number(0), pages.looks.number(2)
    for line in t.wires:
        left_over = _PIECES_AT_MOST - (row - HEAD_ROW)
        for record in _roll_records(pages, line, left_over):
            row += 1
            for column, value in enumerate(record):
                if isinstance(value, str):
                    if value:
                        sheet.write_string(row, column, value, words_look)
                elif value is not None:
                    sheet.write_number(row, column, value, length if column == 7 else figure)
    if row - HEAD_ROW >= _PIECES_AT_MOST:
        words = f"Only the first {_PIECES_AT_MOST:,} pieces are listed."
        sheet.write_string(row + 1, 0, words, pages.looks(font_color=SOFT))


def _roll_records(pages: Pages, line: OrderRow, most: int) -> list[tuple]:
    """Lines of the roll plan for one wire, in order of roll, then of row."""
    t, cutting, length_m = (
        pages.take_off.take_off,
        line.order.cutting,
        pages.take_off.units.length_m,
    )
    places = wire_places(t, line)
    tie = np.array([i == "tie_wire_m" for i in places.item], dtype=bool)[cutting.piece_cut]
    segment = places.segment[cutting.piece_cut]
    first = np.r_[True, np.diff(cutting.piece_cut) != 0] if len(segment) else np.empty(0, bool)
    starts = np.flatnonzero(first)
    part = np.arange(len(segment)) - starts[np.cumsum(first) - 1] + 1
    parts = cutting.joins[cutting.piece_cut] + 1
    key = np.where(tie, t.block[segment], segment)
    order = np.lexsort((key, tie, cutting.piece_roll))
    records: list[tuple] = []
    at = 0
    while at < len(order) and len(records) < most:
        k = int(order[at])
        end = at + 1
        if tie[k] and parts[k] == 1:
            while end < len(order) and _alike(t, cutting, tie, segment, parts, k, int(order[end])):
                end += 1
        s = int(segment[k])
        item = places.item[int(cutting.piece_cut[k])]
        joined = f"{part[k]} of {parts[k]}" if parts[k] > 1 else ""
        where = (None, "") if tie[k] else (int(t.number[s]), segment_letter(int(t.letter[s])))
        piece = float(cutting.piece_m[k]) / length_m
        roll = int(cutting.piece_roll[k]) + 1
        head = (line.told, roll, t.blocks[t.block[s]], *where)
        records.append((*head, item_name(item), end - at, piece, joined))
        at = end
    return records


def _alike(t, cutting, tie, segment, parts, k: int, other: int) -> bool:
    """Whether a tie is like another of the same roll and block."""
    return bool(
        tie[other]
        and parts[other] == 1
        and cutting.piece_roll[other] == cutting.piece_roll[k]
        and t.block[segment[other]] == t.block[segment[k]]
    )


def write_mechanics(pages: Pages) -> None:
    """Every wire of every trellis by simple mechanics, then the ends."""
    t, units = pages.take_off, pages.take_off.units
    force, length = units.force, units.length
    line_mass = f"{units.mass}/{length}"
    headings = [
        Heading("Blocks", 20, False),
        Heading("Wire", 24, False),
        Heading(f"Height, {length}", 9),
        Heading("Wires", 7),
        Heading("Diameter, mm", 10),
        Heading("Strength, MPa", 10),
        Heading(f"Mass, {line_mass}", 10),
        Heading(f"Breaks at, {force}", 10),
        Heading(f"Drawn to, {force}", 10),
        Heading(f"In the cold, {force}", 10),
        Heading("Of breaking, %", 10),
        Heading(f"In the heat, {force}", 10),
        Heading(f"Post to post, {length}", 10),
        Heading(f"Sag, {length}", 9),
    ]
    sheet = pages.sheet("Mechanics", "what wires and ends bear", DEFERENCE, headings, 2)
    row = HEAD_ROW
    for check in t.checks:
        for wire in check.wires:
            row += 1
            run = wire.run
            mass = wire.mass_kg_m / units.mass_kg * units.length_m
            figures = (
                (run.height_m / units.length_m, 2),
                (run.lines, 0),
                (run.wire.diameter_mm, 2),
                (run.wire.strength_mpa, 0),
                (mass, 4),
                (wire.breaking_n / units.force_n, 0),
                (wire.drawn_n / units.force_n, 0),
                (wire.cold_n / units.force_n, 0),
                (wire.cold_share_pct, 0),
                (wire.warm_n / units.force_n, 0),
                (check.span_m / units.length_m, 2),
                (wire.sag_m / units.length_m, 3),
            )
            sheet.write_string(row, 0, ", ".join(check.blocks), pages.looks())
            sheet.write_string(row, 1, item_name(run.item), pages.looks())
            _write_figures(pages, sheet, row, figures)
    row = _write_ends(pages, sheet, row + 2)
    sheet.write_string(row + 1, 0, DEFERENCE, pages.looks(bold=True))


def _write_ends(pages: Pages, sheet, row: int) -> int:
    """Pull of all wires on one end, and what holds it; the row of the last line."""
    units = pages.take_off.units
    force, length = units.force, units.length
    heads = (
        "Blocks",
        "Ends",
        f"Anchor out, {length}",
        "Tie or brace to level, °",
        f"Lever, {length}",
        f"Pull as drawn, {force}",
        f"In tie or brace, {force}",
        f"Upwards, {force}",
        f"Pull in the cold, {force}",
        f"In tie or brace in the cold, {force}",
        f"Upwards in the cold, {force}",
    )
    for column, words in enumerate(heads):
        look = pages.looks.head if column < 2 else pages.looks.head_of_number
        sheet.write_string(row, column, words, look)
    t = pages.take_off.take_off
    for check in pages.take_off.checks:
        row += 1
        trellis = t.trellises[t.blocks.index(check.blocks[0])]
        shape = check.shape
        figures = (
            (check.anchor_m / units.length_m, 2),
            (shape.angle_deg if shape else math.nan, 0),
            (shape.lever_m / units.length_m if shape else math.nan, 2),
            *(
                (value / units.force_n, 0)
                for pull in (check.pull, check.cold)
                for value in (pull.pull_n, pull.member_n, pull.uplift_n)
            ),
        )
        sheet.write_string(row, 0, ", ".join(check.blocks), pages.looks())
        sheet.write_string(row, 1, trellis.ends, pages.looks())
        _write_figures(pages, sheet, row, figures)
    return row


def _write_figures(pages: Pages, sheet, row: int, figures) -> None:
    for column, (value, decimals) in enumerate(figures, 2):
        if math.isfinite(value):
            sheet.write_number(row, column, value, pages.looks.number(decimals))
