"""Wire by row on paper: how long every wire of a row is cut, so that rolls go where they are used."""

from __future__ import annotations

import numpy as np

from ..core.layout.numbering import segment_code
from .compareset import shown_number
from .orders_pdf_flow import Flow, leading_mm
from .takeoffset import TakeOffSet, item_name, many

_SIZE_PT = 7.5
_CELL_MM = 56.0
"""Row, length and wire need so much beside one another."""
_PAGES_AT_MOST = 8


def set_wire_by_row(flow: Flow, take_off: TakeOffSet) -> None:
    """Block by block: which wires there are, then every segment's length and its wires'.

    After `_PAGES_AT_MOST` pages the rest is left to the workbook.
    """
    t, units = take_off.take_off, take_off.units
    flow.text(
        "Row is its length along the ground where heights are known, else in plan; wire is one wire "
        f"with its wraps at both ends; drip is one drip line. All in {units.length}.",
        size=8,
        colour="soft",
    )
    told = 0
    for b, block in enumerate(t.blocks):
        mine = np.flatnonzero(t.block == b)
        if not len(mine):
            continue
        trellis = t.trellises[b]
        flow.gap(3)
        flow.text(f"Block {block}", "serif strong", 10.5, keep_mm=14)
        flow.text(_wires_said(take_off, b), size=8)
        rows = [
            (
                segment_code(block, int(t.number[s]), int(t.letter[s])),
                float(t.lengths.length_m[s]),
                float(t.lengths.length_m[s]) + 2 * trellis.wrap_m,
                float(t.lengths.length_m[s]) + 2 * trellis.drip_line_end_m
                if trellis.drip_line
                else None,
            )
            for s in mine.tolist()
        ]
        told += _set_columns(flow, rows, units.length_m)
        if len(flow.pages) >= _PAGES_AT_MOST and told < len(t.block):
            flow.gap(2)
            flow.text(
                f"{shown_number(len(t.block) - told, 0)} more pieces of row are in takeoff.xlsx, on the "
                "sheets Rows and Roll plan.",
                size=8,
            )
            return


def _wires_said(take_off: TakeOffSet, b: int) -> str:
    """Wires of a row of a block, from the lowest, and the ties of its ends."""
    t, units = take_off.take_off, take_off.units
    trellis = t.trellises[b]
    lines: dict[tuple, int] = {}
    for run in trellis.wires:
        key = run.item, run.wire.diameter_mm
        lines[key] = lines.get(key, 0) + run.lines
    said = [f"{many(n, item_name(item).lower())} of {d:g} mm" for (item, d), n in lines.items()]
    tie = float(t.tie_m[b])
    if tie:
        length = f"{shown_number(tie / units.length_m, 2)} {units.length}"
        said.append(f"2 ties or loops of {length}, {trellis.tie_wire.diameter_mm:g} mm")
    return f"Each piece of row has {', '.join(said)}."


def _set_columns(flow: Flow, rows, length_m: float) -> int:
    """Rows in columns side by side, down each and then the next; how many are set."""
    pen = flow.pen
    leading = leading_mm(_SIZE_PT)
    code_mm = max(pen.width_of_mm(code, "sans", _SIZE_PT) for code, *_ in rows)
    number_mm = 13.5
    drip = rows[0][3] is not None
    cell = max(code_mm + (3 if drip else 2) * number_mm, _CELL_MM) + 4
    across = max(1, int((flow.wide_mm + 4) / cell))
    cell = (flow.wide_mm + 4) / across
    done = 0
    while done < len(rows):
        if flow.y_mm + 4 * leading > flow.bottom_mm:
            if len(flow.pages) >= _PAGES_AT_MOST:
                return done
            flow.turn()
        flow.y_mm += 1
        high = int((flow.bottom_mm - flow.y_mm - 1.4 * leading) / leading)
        left = rows[done:]
        down = min(high, -(-len(left) // across))
        part = left[: down * across]
        _draw_part(flow, part, down, cell, number_mm, length_m)
        done += len(part)
        flow.y_mm += (down + 1.4) * leading
    return done


def _draw_part(flow: Flow, part, down: int, cell: float, number_mm: float, length_m: float) -> None:
    leading, top = leading_mm(_SIZE_PT), flow.y_mm
    for column in range(-(-len(part) // down)):
        x = flow.left_mm + column * cell
        right = x + cell - 4
        drip = part[0][3] is not None
        heads = ("row", "wire", "drip") if drip else ("row", "wire")
        for k, words in enumerate(reversed(heads)):
            at = right - k * number_mm
            flow.draw(
                lambda at=at, words=words: flow.pen.text(
                    at, top + 0.8 * leading, words, "sans", 7.0, "right", "soft"
                )
            )
        y = top + 1.1 * leading
        flow.draw(lambda x=x, y=y, right=right: flow.pen.line(x, y, right, y, "soft", 0.2))
        for i, (code, *lengths) in enumerate(part[column * down : (column + 1) * down]):
            y = top + (i + 2) * leading
            flow.draw(lambda x=x, y=y, code=code: flow.pen.text(x, y, code, "sans", _SIZE_PT))
            values = [v for v in lengths if v is not None]
            for k, value in enumerate(reversed(values)):
                at, text = right - k * number_mm, shown_number(value / length_m, 2)
                flow.draw(
                    lambda at=at, y=y, text=text: flow.pen.text(
                        at, y, text, "sans", _SIZE_PT, "right"
                    )
                )
